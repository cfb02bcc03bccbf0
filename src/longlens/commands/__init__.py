"""The commands of ``longlens``, one module each; :mod:`longlens.cli` puts them together.

A command module imports typer and the standard library only; all else is imported inside the command, so that
``longlens --help`` is quick. It offers ``attach(app)``.
"""
