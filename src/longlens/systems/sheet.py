"""The one pattern of every system: a sheet declares what goes in, what comes out, and the steps between.

Everything here is declaration; :mod:`longlens.systems.given` reads the inputs, :mod:`longlens.systems.run`
runs the sheet. Units of declarations are SI throughout; ``shown`` names the unit in which people read and
type.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from longlens.numbers import units
from longlens.numbers.distributions import Distribution, model_factor

if TYPE_CHECKING:
    from longlens.systems.given import Reading
    from longlens.systems.run import Outcome

Severity = Literal["note", "caution", "limit"]


@dataclass(frozen=True)
class Input:
    """A quantity that goes in.

    Parameters
    ----------
    name : as in files and in the step functions.
    unit : SI unit of the array that the steps get.
    meaning : in the user's words.
    shown : the people's unit.
    assumption : distribution, in SI, used when nothing is known; None: outputs that need it are refused.
    reason : why that assumption is fair, with its source.
    plausible : (low, high), SI: a central value outside is taken for a mixed-up unit and refused.
    shape : () for a plain quantity, (3,) for a place, None for whatever is given.
    linked : ``AREA.OUTPUT`` of a sheet that runs earlier on the same dossier; taken where nothing else is known.
    """

    name: str
    unit: str
    meaning: str
    shown: str = ""
    assumption: Distribution | None = None
    reason: str = ""
    plausible: tuple[float, float] | None = None
    shape: tuple[int, ...] | None = ()
    linked: str = ""

    def __post_init__(self) -> None:
        _check_si(self.name, self.unit)
        if self.shown and not units.same_quantity(self.shown, self.unit):
            raise ValueError(f"{self.name}: {self.shown} is no unit of {self.unit}")
        if self.assumption is not None and not self.reason:
            raise ValueError(f"{self.name}: an assumption needs its reason")


def scatter(name: str, meaning: str, within: float, source: str, *, share: float = 0.95, bias: float = 1.0) -> Input:
    """The model error of a correlation, as one more input: a factor about 1 that its step multiplies in.

    Parameters
    ----------
    within : published relative scatter, 0.15 for ±15 %.
    share : share of the data within it.
    source : where the scatter was published, or ``common practice, no source``.
    """
    how = f"{share:.0%} of the data within ±{within:.0%}: {source}"
    return Input(name, "1", meaning, assumption=model_factor(within, share, bias), reason=how, plausible=(0.05, 20))


@dataclass(frozen=True)
class Choice:
    """A word that goes in: a layout, an arrangement. ``options`` maps each word to its meaning; empty: any
    text."""

    name: str
    meaning: str
    options: Mapping[str, str] = field(default_factory=dict)
    assumption: str | None = None
    reason: str = ""


@dataclass(frozen=True)
class Structure:
    """Structured input: a network, a table of hardpoints.

    Parameters
    ----------
    read : turns the plain JSON value into whatever the steps want. Uncertain figures inside are read with
        :meth:`~longlens.systems.given.Reading.number`, which gives their draws and keeps their trail.
    assumption : plain JSON value when nothing is given; None: outputs that need it are refused.
    """

    name: str
    meaning: str
    read: Callable[[Any, Reading], Any]
    assumption: Any = None
    reason: str = ""


@dataclass(frozen=True)
class Axis:
    """What a curve runs along. Its values come from a step of that name: SI floats (k,), or texts if unit is
    None."""

    name: str
    unit: str | None
    meaning: str
    shown: str = ""

    def __post_init__(self) -> None:
        if self.unit is not None:
            _check_si(self.name, self.unit)


@dataclass(frozen=True)
class Output:
    """A quantity that comes out.

    Parameters
    ----------
    model, source : the relation it is computed by, and where that is published.
    limits : limits of validity, in words.
    along : names of the axes after the axis of draws; () for a plain quantity.
    """

    name: str
    unit: str
    meaning: str
    model: str
    source: str
    limits: str = ""
    shown: str = ""
    along: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _check_si(self.name, self.unit)
        if isinstance(self.along, str):
            raise ValueError(f"{self.name}: along is a tuple of names")


@dataclass(frozen=True)
class Step:
    """One plain function in the chain.

    Parameters
    ----------
    function : takes one mapping with exactly the needed names: input arrays (N,) or (N, ...), texts,
        structures, and what earlier steps gave; returns a mapping with the given names. A value may be an
        array with the draws on axis 0, a float, a :class:`Refusal`, or any object (for later steps only).
    needs, gives : names; ``needs`` empty: all inputs of the sheet; ``gives`` empty: all outputs and axes.
    version : raise it when the function changes, for results kept on disk.
    """

    name: str
    function: Callable[[Mapping[str, Any]], Mapping[str, Any]]
    needs: tuple[str, ...] = ()
    gives: tuple[str, ...] = ()
    version: int = 1


@dataclass(frozen=True)
class Validity:
    """Range in which the models hold; ``of`` is an input or output. What leaves it becomes a finding."""

    of: str
    low: float | None
    high: float | None
    text: str


@dataclass(frozen=True)
class Finding:
    """A sentence computed from the numbers. ``limit``: the models do not hold here; ``caution``: mind it."""

    severity: Severity
    text: str
    of: tuple[str, ...] = ()


@dataclass(frozen=True)
class Refusal:
    """Why an output is not given, and what would be needed."""

    why: str
    needs: tuple[str, ...] = ()


#: Stands under everything that is shown of a sheet.
CAUTION = (
    "Estimates from photographs are for understanding and discussion. They are no basis for building, "
    "repairing, certifying or driving a vehicle: for that, the maker's data, local rules and licensed "
    "engineers decide."
)


@dataclass(frozen=True)
class Sheet:
    """A system's sheet.

    Parameters
    ----------
    area : suspension, cooling, aero, structure or running.
    steps : in order; each may need what earlier ones give.
    findings : functions of the outcome that give findings.
    cautions : beside the general one.

    Raises ValueError when the declaration does not hold together.
    """

    area: str
    title: str
    inputs: tuple[Input | Choice | Structure, ...]
    outputs: tuple[Output, ...]
    steps: tuple[Step, ...]
    axes: tuple[Axis, ...] = ()
    validity: tuple[Validity, ...] = ()
    findings: tuple[Callable[[Outcome], Iterable[Finding]], ...] = ()
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        promised = [*(o.name for o in self.outputs), *(a.name for a in self.axes)]
        names = [*(x.name for x in self.inputs), *promised]
        twice = {n for n in names if names.count(n) > 1}
        if twice:
            raise ValueError(f"{self.area}: declared twice: {', '.join(sorted(twice))}")
        object.__setattr__(self, "steps", tuple(self._filled(step) for step in self.steps))
        known = {x.name for x in self.inputs}
        for step in self.steps:
            missing = set(step.needs) - known
            if missing:
                raise ValueError(f"step {step.name}: nothing gives {', '.join(sorted(missing))}")
            again = set(step.gives) & known
            if again:
                raise ValueError(f"step {step.name}: {', '.join(sorted(again))} is there already")
            known |= set(step.gives)
        lacking = set(promised) - known
        if lacking:
            raise ValueError(f"{self.area}: no step gives {', '.join(sorted(lacking))}")
        axes = {a.name for a in self.axes}
        for output in self.outputs:
            if set(output.along) - axes:
                raise ValueError(f"{output.name}: no axis {', '.join(sorted(set(output.along) - axes))}")
        for v in self.validity:
            if v.of not in known:
                raise ValueError(f"validity of {v.of}: no such input or output")

    def _filled(self, step: Step) -> Step:
        needs = step.needs or tuple(x.name for x in self.inputs)
        gives = step.gives or (*(o.name for o in self.outputs), *(a.name for a in self.axes))
        return Step(step.name, step.function, needs, gives, step.version)

    def input(self, name: str) -> Input | Choice | Structure:
        """The declaration of an input; KeyError if there is none."""
        return {x.name: x for x in self.inputs}[name]

    def output(self, name: str) -> Output:
        """The declaration of an output; KeyError if there is none."""
        return {x.name: x for x in self.outputs}[name]

    def axis(self, name: str) -> Axis:
        """The declaration of an axis; KeyError if there is none."""
        return {x.name: x for x in self.axes}[name]


def _check_si(name: str, unit: str) -> None:
    c = units.conversion(unit)
    if c.factor != 1 or c.offset or c.si != unit:
        raise ValueError(f"{name}: {unit!r} is not the SI name of a unit; write {c.si!r}")
