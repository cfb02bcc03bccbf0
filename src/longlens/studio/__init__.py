"""The studio: the photo board, the survey and the numbers in the browser, for one person on one machine.

Start at :mod:`longlens.studio.serve` (the server and its guard), :mod:`longlens.studio.desk` (what is open) and
:mod:`longlens.studio.frame` (what every page stands in). A page is a module in :mod:`longlens.studio.pages`.
"""
