"""Where evidence gets its numbers: facts, the survey's measures, the sheets' outputs; asked for only when an item needs them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from longlens.dossier.reading import Reader
from longlens.errors import LonglensError
from longlens.numbers.number import DRAWS, Number


class Sources:
    """The numbers of one stage of a dossier (or of a frozen state of it).

    Parameters
    ----------
    known : numbers by reference where somebody has them already (the studio); else facts at once, the survey when needed.
    outcomes : area → runs by variant, likewise.
    """

    def __init__(
        self,
        reader: Reader,
        stage: str | None = None,
        *,
        known: Mapping[str, Number] | None = None,
        outcomes: Mapping[str, Mapping[str, Any]] | None = None,
        draws: int = DRAWS,
    ) -> None:
        self.reader, self.stage, self.draws = reader, stage, draws
        self._known: dict[str, Number] | None = dict(known) if known is not None else None
        self._surveyed = known is not None
        self._outcomes: dict[str, Mapping[str, Any]] = dict(outcomes or {})
        self.remarks: list[str] = []

    def number(self, ref: str) -> Number | None:
        """A number by ``fact:ID``, ``measure:ID``, ``point:ID`` or ``output:AREA.NAME``; None where there is none."""
        if ref.startswith("output:"):
            area, _, name = ref.removeprefix("output:").partition(".")
            return self.output(area, "", name)
        facts = self._facts()
        if ref in facts or ref.startswith("fact:"):
            return facts.get(ref)
        return self.known().get(ref)

    def output(self, area: str, variant: str, name: str, at: int | None = None) -> Number | None:
        """A sheet's output under a variant; of a curve the place ``at``. None where it was refused."""
        runs = self.outcomes(area)
        if variant not in runs:
            self.remarks.append(f"the {area} sheet has no variant {variant!r}")
            return None
        found: Number | None = runs[variant].get(name)
        if found is not None and found.shape:
            return found.at(at) if at is not None else None
        return found

    def outcomes(self, area: str) -> Mapping[str, Any]:
        """Runs of a sheet by variant; {} where it cannot be run (``remarks`` says why)."""
        if area not in self._outcomes:
            self._outcomes[area] = self._run(area)
        return self._outcomes[area]

    def known(self) -> Mapping[str, Number]:
        """Facts and, solved when first needed, the survey's measures and points."""
        known = self._facts()
        if not self._surveyed:
            self._surveyed = True
            from longlens.systems.from_dossier import known_numbers

            try:
                found, remarks = known_numbers(self.reader, self._stage(), self.draws)  # type: ignore[arg-type]
                known.update(found)
                self.remarks += remarks
            except LonglensError as e:
                self.remarks.append(str(e))
        return known

    def _facts(self) -> dict[str, Number]:
        if self._known is None:
            from longlens.systems.from_dossier import fact_numbers

            self._known = dict(fact_numbers(self.reader, self.stage, self.draws))
        return self._known

    def _stage(self) -> str | None:
        """The stage asked for, else the latest one with marks."""
        from longlens.dossier.to_exchange import stages_with_marks

        if self.stage is not None:
            return self.stage
        stages = stages_with_marks(self.reader)
        return stages[-1] if stages else None

    def _run(self, area: str) -> Mapping[str, Any]:
        from longlens.systems import chain, registry
        from longlens.systems.from_dossier import given_of
        from longlens.systems.run import run_all

        try:
            known, remarks = chain.handed_on(area, self.known(), lambda a, k: given_of(self.reader, a, k))
            self.remarks += remarks
            return run_all(registry.sheet(area), given_of(self.reader, area, known))
        except LonglensError as e:
            self.remarks.append(f"the {area} sheet cannot be run: {e}")
            return {}
