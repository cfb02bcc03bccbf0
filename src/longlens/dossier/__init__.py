"""What is known: records, the one file they live in, its journal, photographs coming in, the exchange form.

Start at :mod:`longlens.dossier.store` (the open file) and :mod:`longlens.dossier.records` (what is in it).
"""
