"""Questions, alternatives, evidence, forecasts, what a revision moved.

``records`` what the dossier keeps · ``weigh`` a question weighed · ``settle`` what would settle it ·
``forecasts`` made, resolved, scored ·
``revisions`` what moved between editions · ``summary`` all of it in the few words that a brief prints. The mathematics stand by
themselves in ``bayes``, ``density``, ``dependence``, ``verbal``, ``scores`` and ``calibration``.
"""

from longlens.claims import records as _records  # registers the kinds

__all__: list[str] = []
del _records
