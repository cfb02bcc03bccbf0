"""Tyre designations read as facts with a tolerance.

>>> tyre = read_tyre("205/55 R 16 91V")
>>> print(tyre.facts["overall_diameter"])
overall diameter 631.9 ± 3.9 mm
>>> print(tyre.facts["rim_flange_diameter"])
rim flange diameter 440.2 ± 1.3 mm

Forms: metric (``205/55 R 16``, ``P215/65R15``, ``LT235/85R16``, ``155 R 13``), overall diameter first in inches
(``31x10.50R15``, and for racing ``24.0x7.0-13``), and the race forms ``245/640-18`` (width and overall diameter, mm),
``30/65-18`` (the same in cm) and ``8.2/22.0-13`` (the same in inches).

What is seen on a photograph is not the designation: the rim's number is the bead seat under the tyre, the visible
edge of the flange is larger by two flange heights; a tyre under load is flatter at the bottom, so mark its free part.
Sources: ISO 4000-1 and UN Regulation 30 (tyres; limits and formulas from memory), ISO 4000-2 (rims; table from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from longlens.errors import UnusableInput
from longlens.numbers.distributions import Normal
from longlens.numbers.number import DRAWS, Number
from longlens.numbers.streams import Array, stratified
from longlens.numbers.trail import Origin

INCH = 0.0254
#: Section height over nominal width where the designation gives none ("155 R 13").
FULL_PROFILE = 0.82
#: Height of the J flange over the bead seat, m (ISO 4000-2, from memory; 17.5 mm in older editions).
J_FLANGE = 0.0173
#: Rolling circumference of a radial over its overall diameter (Directive 75/443/EEC as amended, from memory).
ROLLING = 3.05
_FORMS = "write it like 205/55 R 16, 31x10.50R15, 24.0x7.0-13, 245/640-18 or 30/65-18"


@dataclass(frozen=True)
class TyreFact:
    """One length that a designation states: value and standard deviation in m, and why that spread."""

    name: str
    value: float
    sd: float
    reason: str

    def __str__(self) -> str:
        return f"{self.name.replace('_', ' ')} {1e3 * self.value:.1f} ± {1e3 * self.sd:.1f} mm"

    @property
    def distribution(self) -> Normal:
        """In m."""
        return Normal(self.value, self.sd)


@dataclass(frozen=True)
class Tyre:
    """A designation as read.

    Parameters
    ----------
    designation : as typed, with spaces put right.
    form : ``metric``, ``diameter first`` or ``race``.
    width : nominal section width, m.
    aspect : section height over width; None where the designation gives the overall diameter itself.
    rim_code : nominal rim diameter code (inches; from 100 on, mm).
    construction : ``R`` radial, ``D`` or ``-`` diagonal, ``B`` belted.
    facts : by name: overall_diameter, section_width, section_height, rim_diameter, rim_flange_diameter, loaded_radius,
        rolling_radius.
    """

    designation: str
    form: str
    width: float
    aspect: float | None
    rim_code: float
    construction: str
    load_index: int | None = None
    speed_symbol: str = ""
    remarks: tuple[str, ...] = ()
    facts: dict[str, TyreFact] = field(default_factory=dict)

    def numbers(self, *, source: str = "", identity: str = "", draws: int = DRAWS) -> dict[str, Number]:
        """The facts as joint numbers, kind *stated*: one tyre's diameter, height and radii move together.

        ``identity`` names the streams; default the size, so that the same size draws the same everywhere.
        """
        f = self.facts
        size = f"{self.width:.4f} {f['overall_diameter'].value:.4f} {self.rim_code:g}"
        z = {key: _normal(f"tyre:{identity or size}:{key}", draws) for key in _SPREADS}
        overall = f["overall_diameter"].value + f["overall_diameter"].sd * z["height"]
        seat = f["rim_diameter"].value + f["rim_diameter"].sd * z["seat"]
        flange = seat - f["rim_diameter"].value + f["rim_flange_diameter"].value
        flange = flange + np.sqrt(f["rim_flange_diameter"].sd ** 2 - f["rim_diameter"].sd ** 2) * z["flange"]
        deflection, its_sd = _deflection(self.form)
        height = (overall - _nominal_rim(self.rim_code)) / 2
        made = {
            "overall_diameter": overall,
            "section_width": f["section_width"].value + f["section_width"].sd * z["width"],
            "section_height": height,
            "rim_diameter": seat,
            "rim_flange_diameter": flange,
            "loaded_radius": overall / 2 - height * np.maximum(0.02, deflection + its_sd * z["load"]),
            "rolling_radius": ROLLING / (2 * np.pi) * overall * (1 + 0.01 * z["rolling"]),
        }
        return {name: self._number(name, a, source) for name, a in made.items()}

    def _number(self, name: str, draws: Array, source: str) -> Number:
        told = f"{self.designation}: {self.facts[name].reason}"
        origin = Origin(name, "stated", source=f"{source}, {told}" if source else told)
        return Number(draws, "m", origin, self.facts[name].value, shown="mm")

    def section_width_on(self, rim_width: float) -> TyreFact:
        """Section width on a rim of known width (m): 0.4 of the difference to the theoretical rim is added.

        UN Regulation 30, S = S₁ + 0.4 (A − A₁); theoretical rim A₁ = 0.70 S₁, from aspect 45 down 0.85 S₁ (from
        memory). Only for metric sizes. Raises UnusableInput for a rim that cannot carry the tyre.
        """
        if self.aspect is None:
            raise UnusableInput(f"{self.designation} states its width on no standard rim", fix="use its section width")
        theoretical = (0.70 if self.aspect >= 0.475 else 0.85) * self.width
        if not 0.6 * theoretical < rim_width < 1.5 * theoretical:
            raise UnusableInput(
                f"a rim of {1e3 * rim_width:.0f} mm cannot carry {self.designation}",
                fix="give the rim's width in m",
            )
        value = self.width + 0.4 * (rim_width - theoretical)
        return TyreFact("section_width", value, 0.02 * value, "UN R30 allows 4 % over the design width: two sd")

    def as_json(self) -> dict[str, Any]:
        """Plain types, lengths in m."""
        return {
            "designation": self.designation,
            "form": self.form,
            "facts": {
                n: {"value": f.value, "sd": f.sd, "unit": "m", "reason": f.reason} for n, f in self.facts.items()
            },
            "remarks": list(self.remarks),
        }


_SPREADS = ("height", "width", "seat", "flange", "load", "rolling")


def _normal(identity: str, n: int) -> Array:
    return Normal(0.0, 1.0).quantile(stratified(identity, n))


def bead_seat_diameter(rim_code: float) -> float:
    """Specified rim diameter of 5° drop-centre rims, m, by nominal code (inches; from 100 on, mm).

    ISO 4000-2, table of specified rim diameters (from memory): 16 → 405.6, 17 → 436.6, 18 → 462.0 mm: up to code 16 a
    little under the inch value, from 17 on 4.8 mm over it. Half codes and mm codes: as named.
    """
    if rim_code >= 100:
        return rim_code * 1e-3
    if rim_code != int(rim_code):
        return rim_code * INCH
    return rim_code * INCH + (-0.8e-3 if rim_code <= 16 else 4.8e-3)


def _nominal_rim(rim_code: float) -> float:
    return rim_code * 1e-3 if rim_code >= 100 else rim_code * INCH


# Reading ------------------------------------------------------------------------------------------

_NUM = r"(\d{1,3}(?:\.\d{1,2})?)"
#: Load index and speed symbol, among what else stands on a sidewall.
_SERVICE = r"(?:XL|RF|SL|LT|C)*\(?(?:(\d{2,3})(?:/\d{2,3})?([A-Z]\d?))?\)?(?:XL|RF|M\+S|TL|TT|C)*"
_BUILD = r"(ZRF|ZR|RF|R|B|D|-)"
#: Two figures are inches; three, ending in 0 or 5, are mm.
_RIM = r"(\d{2}(?:\.5)?|[1-6]\d[05])"
_METRIC = re.compile(rf"(?:P|LT|ST|T|S)?(\d{{3}})/(\d{{2,3}})[A-Z]?{_BUILD}F?{_RIM}{_SERVICE}")
_FULL = re.compile(rf"(\d{{3}})[A-Z]?{_BUILD}(\d{{2}}){_SERVICE}")
_FIRST = re.compile(rf"{_NUM}X{_NUM}{_BUILD}(\d{{1,2}}(?:\.5)?){_SERVICE}")
_RACE_MM = re.compile(rf"(\d{{3}})/(\d{{3}}){_BUILD}(\d{{2}}){_SERVICE}")
_RACE_CM = re.compile(rf"(\d{{2}}(?:\.\d)?)/(\d{{2}}(?:\.\d)?){_BUILD}(\d{{2}}){_SERVICE}")
_RACE_IN = re.compile(rf"(\d{{1,2}}\.\d{{1,2}})/(\d{{2}}(?:\.\d{{1,2}})?){_BUILD}(\d{{2}}){_SERVICE}")


def read_tyre(text: str) -> Tyre:
    """Read a designation. Raises UnusableInput, with what is wrong and how to write it, for what cannot be read."""
    if not isinstance(text, str) or not text.strip() or len(text) > 60:
        raise UnusableInput("this is no tyre designation", fix=_FORMS)
    tight = _tight(text)
    for reader in (_race_mm, _metric, _race_inches, _race_cm, _diameter_first, _full_profile):
        tyre = reader(tight, " ".join(text.split()))
        if tyre is not None:
            return tyre
    raise UnusableInput(f"{text.strip()!r} is no tyre designation that can be read", fix=_FORMS)


def _tight(text: str) -> str:
    out = text.upper().replace("×", "X").replace(",", ".").replace("−", "-").replace("–", "-").replace('"', "")
    return re.sub(r"\s+", "", out)


def _metric(tight: str, typed: str) -> Tyre | None:
    m = _METRIC.fullmatch(tight)
    if m is None:
        return None
    width, aspect, build, rim, index, speed = m.groups()
    a = int(aspect) / 100
    if not 0.2 <= a <= 1.05:
        raise UnusableInput(f"a section height of {aspect} % of the width cannot be", where=typed, fix=_FORMS)
    remarks: tuple[str, ...] = ()
    if build == "-":
        remarks = (f"read as {aspect} % of the width; if {aspect} means cm of overall diameter, write both in cm",)
    return _metric_tyre(typed, int(width) * 1e-3, a, rim, build, index, speed, remarks)


def _full_profile(tight: str, typed: str) -> Tyre | None:
    m = _FULL.fullmatch(tight)
    if m is None:
        return None
    width, build, rim, index, speed = m.groups()
    remark = "no section height is given: 82 % of the width, as the standard has it"
    return _metric_tyre(typed, int(width) * 1e-3, FULL_PROFILE, rim, build, index, speed, (remark,))


def _metric_tyre(
    typed: str,
    width: float,
    aspect: float,
    rim: str,
    build: str,
    index: str,
    speed: str,
    remarks: tuple[str, ...],
) -> Tyre:
    code = _rim_code(rim, typed)
    height = width * aspect
    overall = TyreFact(
        "overall_diameter",
        _nominal_rim(code) + 2 * height,
        0.035 * height,
        "UN R30 holds a new tyre within 2 × −3 % and +4 % of its section height: taken as two sd; worn treads are up "
        "to 13 mm smaller; free of load and at rest",
    )
    section = TyreFact(
        "section_width",
        width,
        0.035 * width,
        "nominal, on the theoretical rim; wider rims add 0.4 of their extra width (UN R30), so the rim decides",
    )
    return _built("metric", typed, width, aspect, code, build, index, speed, overall, section, 1.3e-3, remarks)


def _diameter_first(tight: str, typed: str) -> Tyre | None:
    m = _FIRST.fullmatch(tight)
    if m is None:
        return None
    diameter, width, build, rim, index, speed = m.groups()
    race = build in ("-", "D") and "LT" not in tight
    d, w = float(diameter) * INCH, float(width) * INCH
    why = "racing sizes are nominal: makers round to half an inch and differ; common practice, no source"
    if not race:
        # 31x10.50 R15 LT is 775 mm, 33x12.50 R15 LT 826 mm in UN Regulation 54's table (from memory)
        d -= 12.7e-3
        why = "design diameter, half an inch under the nominal one (UN R54, from memory), ± 1.5 % as two sd"
    overall = TyreFact("overall_diameter", d, (0.008 if race else 0.0075) * d, f"{why}; free of load and at rest")
    section = TyreFact("section_width", w, (0.05 if race else 0.03) * w, _race_width(race))
    form = "race" if race else "diameter first"
    return _built(form, typed, w, None, _rim_code(rim, typed), build, index, speed, overall, section, _flange_sd(race))


def _race_mm(tight: str, typed: str) -> Tyre | None:
    m = _RACE_MM.fullmatch(tight)
    if m is None or int(m[2]) <= 105:
        return None
    return _race(m, typed, 1e-3)


def _race_cm(tight: str, typed: str) -> Tyre | None:
    m = _RACE_CM.fullmatch(tight)
    return None if m is None else _race(m, typed, 1e-2)


def _race_inches(tight: str, typed: str) -> Tyre | None:
    m = _RACE_IN.fullmatch(tight)
    # 30.5/65-18 is in cm: no race tyre is 65 inches tall
    return None if m is None or float(m[2]) > 40 else _race(m, typed, INCH)


def _race(m: re.Match[str], typed: str, unit: float) -> Tyre:
    width, diameter, build, rim, index, speed = m.groups()
    w, d = float(width) * unit, float(diameter) * unit
    overall = TyreFact(
        "overall_diameter",
        d,
        0.008 * d,
        "racing sizes are nominal: makers round and differ; a diagonal tyre grows by some per cent at speed; common "
        "practice, no source; free of load and at rest",
    )
    section = TyreFact("section_width", w, 0.05 * w, _race_width(True))
    return _built(
        "race", typed, w, None, _rim_code(rim, typed), build, index, speed, overall, section, _flange_sd(True)
    )


def _race_width(race: bool) -> str:
    if race:
        return "some makers mean the tread, others the section, and the rim decides; common practice, no source"
    return "nominal inches on the measuring rim; common practice, no source"


def _flange_sd(race: bool) -> float:
    return 2.5e-3 if race else 1.3e-3


def _rim_code(text: str, typed: str) -> float:
    code = float(text)
    if 8 <= code <= 30 or 190 <= code <= 700:
        return code
    raise UnusableInput(
        f"a rim of {text} cannot be", where=typed, fix="rims run from 8 to 30 inches, or in mm from 190"
    )


def _deflection(form: str) -> tuple[float, float]:
    """Share of the section height by which a tyre is flattened under its car at rest, and its sd."""
    return (0.12, 0.04) if form == "race" else (0.18, 0.04)


def _built(
    form: str,
    typed: str,
    width: float,
    aspect: float | None,
    code: float,
    build: str,
    index: str | None,
    speed: str | None,
    overall: TyreFact,
    section: TyreFact,
    flange_sd: float,
    remarks: tuple[str, ...] = (),
) -> Tyre:
    height = (overall.value - _nominal_rim(code)) / 2
    if not 0.015 <= height <= 0.25 or not 0.05 <= width <= 0.5:
        raise UnusableInput(
            f"this would be a tyre {1e3 * width:.0f} mm wide with a sidewall of {1e3 * height:.0f} mm",
            where=typed,
            fix=f"check the figures; {_FORMS}",
        )
    seat = bead_seat_diameter(code)
    share, its_sd = _deflection(form)
    facts = (
        overall,
        section,
        TyreFact("section_height", height, overall.sd / 2, f"half of overall less rim diameter; {overall.reason}"),
        TyreFact("rim_diameter", seat, 0.3e-3, "bead seat, hidden by the tyre: ISO 4000-2, from memory; ± 0.4 mm"),
        TyreFact(
            "rim_flange_diameter",
            seat + 2 * J_FLANGE,
            flange_sd,
            "bead seat and two J flanges of 17.3 mm (ISO 4000-2, from memory); the edge is round, a rim protector may "
            "cover it, and a styled wheel may hide it",
        ),
        TyreFact(
            "loaded_radius",
            overall.value / 2 - share * height,
            float(np.hypot(overall.sd / 2 * (1 - share), its_sd * height)),
            f"centre to road at rest: {share:.0%} ± {its_sd:.0%} of the section height is pressed flat; common "
            "practice, no source",
        ),
        TyreFact(
            "rolling_radius",
            ROLLING * overall.value / (2 * np.pi),
            float(np.hypot(ROLLING / (2 * np.pi) * overall.sd, 0.01 * ROLLING * overall.value / (2 * np.pi))),
            "circumference 3.05 times the overall diameter (Directive 75/443/EEC, from memory), ± 1 %",
        ),
    )
    kind = {"-": "-", "D": "D", "B": "B"}.get(build, "R")
    table = {f.name: f for f in facts}
    load = int(index) if index else None
    return Tyre(typed, form, width, aspect, code, kind, load, speed or "", remarks, table)
