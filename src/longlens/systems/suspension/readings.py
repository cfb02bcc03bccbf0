"""What stands in a file or a dossier, read into draws: hardpoints, rod lengths, springs, bars, rods, load cases."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from longlens.numbers.distributions import LogNormal, Normal, TruncatedNormal
from longlens.systems.given import Reading
from longlens.systems.suspension import names, unseen
from longlens.systems.suspension.axes import mirror
from longlens.systems.suspension.checks import check_corner, check_length, check_name
from longlens.systems.suspension.conditioning import Knowledge, Places, condition
from longlens.systems.suspension.rates import GRAVITY
from longlens.systems.suspension.rods import MATERIALS
from longlens.systems.suspension.vectors import Array

PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Hardpoints:
    """Left corners by axle: point → (N, 3) draws, m; a right corner reflected stands in where the left one was not
    seen.

    ``other``: the right corner reflected, where both sides were seen. ``stretched``: rods whose stated length the marks
    contradict (tests in standard deviations). ``middle``: points without a side (a Panhard rod). ``stances``: by
    axle, places in other stances as ``point@stance``, of the same side as the corner.
    """

    corners: Mapping[str, Mapping[str, Array]]
    other: Mapping[str, Mapping[str, Array]]
    middle: Mapping[str, Mapping[str, Array]]
    stances: Mapping[str, Mapping[str, Array]] = field(default_factory=dict)
    #: By axle, joints that were not seen and are assumed: point → where such a joint sits.
    assumed: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def wheel(self, end: str) -> Array | None:
        mine = self.corners.get(end, {})
        return mine.get("wheel.centre", mine.get("rim_centre"))


def read_hardpoints(raw: Any, reading: Reading) -> Hardpoints:
    """``{"left.front.wheel.centre": {"value": [x, y, z], "sd": 2, "unit": "mm"}, …}``.

    ``"lengths": {"left.front.pushrod": {…}}`` inside it states rod lengths. Without points of its own it takes the
    survey's, by their names. Raises UnusableInput for what cannot be right.
    """
    raw = dict(raw)
    lengths = raw.pop("lengths", {})
    where = f"{reading.where} {reading.name}".strip()
    points: dict[str, Array] = {}
    for name, figure in raw.items():
        check_name(name.partition("@")[0], where)
        points[name] = reading.number(figure, name, "m", shown="mm", shape=(3,))
    if not points:
        points = _surveyed(reading)
    elsewhere = names.by_corner({k: p for k, p in points.items() if "@" in k})
    grouped = names.by_corner({k: p for k, p in points.items() if "@" not in k})
    for (side, end), mine in grouped.items():
        if side:
            check_corner(mine, f"{side}.{end}", where)
    corners, other, stances = {}, {}, {}
    for end in names.ENDS:
        left, right = grouped.get(("left", end)), grouped.get(("right", end))
        reflected = {k: mirror(p) for k, p in right.items()} if right else None
        if left or reflected:
            corners[end] = {**(reflected or {}), **(left or {})}
        if left and reflected:
            other[end] = {**left, **reflected}
        side = "left" if left else "right"
        seen = elsewhere.get((side, end), {})
        if seen:
            stances[end] = {k: p if left else mirror(p) for k, p in seen.items()}
    assumed = {end: _assumed(mine, end, reading) for end, mine in corners.items()}
    corners = _with_lengths(corners, lengths, reading, where)
    middle = {end: p for (side, end), p in grouped.items() if not side}
    return Hardpoints(corners, other, middle, stances, assumed)


def _assumed(mine: dict[str, Array], end: str, reading: Reading) -> dict[str, str]:
    """Put joints that were not seen where such joints sit, as assumptions; which, and where that is."""
    told = {}
    for p, seat in unseen.to_assume(set(mine)).items():
        base = seat.base[0]
        away = [
            reading.number(
                None, f"assumed {end}.{p}.{way}", "m", shown="mm", assumption=Normal(x, sd),
                reason=f"{seat.why}: {PRACTICE}",
            )
            for way, x, sd in zip("xyz", seat.offset, seat.sd, strict=True)
        ]  # fmt: skip
        mine[p] = mine[base] + np.stack(away, axis=-1)
        told[p] = seat.why
    return told


def _surveyed(reading: Reading) -> dict[str, Array]:
    """Points of the dossier whose names are hardpoints'."""
    from longlens.errors import UnusableInput

    out = {}
    for key, number in reading.known.items():
        kind, _, name = key.partition(":")
        if kind != "point" or number.shape != (3,):
            continue
        try:
            check_name(name.partition("@")[0])
        except UnusableInput:
            continue  # a point of something else
        out[name] = number.draws
        reading.numbers[f"{reading.name}.{name}"] = number
    return out


def _with_lengths(
    corners: dict[str, dict[str, Array]], lengths: Any, reading: Reading, where: str
) -> dict[str, dict[str, Array]]:
    """Condition the points on stated rod lengths; refuse a length at which the rod cannot meet both points."""
    known: dict[str, list[tuple[tuple[str, str], float, float]]] = {}
    for name, figure in dict(lengths).items():
        _, end, part = names.split(f"{name}.outer")
        rod = part.removesuffix(".outer")
        pair = _ends_of(rod)
        mine = corners.get(end, {})
        for p in pair:
            if p not in mine:
                raise reading.wrong(
                    f"lengths.{name}", f"{p} is not among the points", "mark it, or leave the length out"
                )
        value = reading.number(figure, f"lengths.{name}", "m", shown="mm", plausible=(0.01, 3.0))
        length, sd = float(np.median(value)), max(float(np.std(value)), 1e-4)
        check_length(mine, pair, length, sd, where)
        known.setdefault(end, []).append((pair, length, sd))
    for end, rods in known.items():
        mine = corners[end]
        places = Places(tuple(dict.fromkeys(p for pair, _, _ in rods for p in pair)))
        what = [Knowledge(f"{a} to {b}", places.distance(a, b), v, s, (a, b)) for (a, b), v, s in rods]
        state = places.state({k: mine[k] for k in places.names})
        if np.all(np.ptp(state, axis=0) == 0):
            continue
        corners[end] = {**mine, **places.points(condition(state, what).draws)}
    return corners


def _ends_of(rod: str) -> tuple[str, str]:
    part, _, leg = rod.partition(".")
    if leg.endswith("_leg"):
        return f"{part}.{leg.removesuffix('_leg')}_inner", f"{part}.outer"
    return f"{rod}.inner", f"{rod}.outer"


@dataclass(frozen=True)
class Springing:
    """Springs of an axle, each (N,) or None: coil (N/m), torsion bar (N m/rad), heave element (N/m), anti-roll bar
    (N m per rad between its arms), and whether that is a T-bar."""

    coil: Array | None = None
    torsion: Array | None = None
    heave: Array | None = None
    bar: Array | None = None


#: Shear modulus of spring steel, Pa.
SPRING_STEEL = (Normal(79.3e9, 1.0e9), "spring steel, Shigley table of wire moduli: 77–81 GPa (from memory)")


def read_air(raw: Any, reading: Reading) -> dict[str, Array] | None:
    """What the air presses on each axle: ``speed`` (list), ``downforce_front``, ``downforce_rear`` and where known
    ``ride_height_front``, ``ride_height_rear``, ``front_drop``, ``rear_drop`` over it (``front_held``, ``rear_held``: 1 where the
    road holds the car up at that drop). In a dossier from the aero sheet."""
    loads = ("downforce_front", "downforce_rear")
    heights = ("ride_height_front", "ride_height_rear", "front_drop", "rear_drop")
    shares = ("front_held", "rear_held")
    raw = dict(reading.table(raw, "", (), ("speed", *loads, *heights, *shares)))
    if not raw:
        links = {k: f"aero.{k}_curve" for k in ("speed", *loads, *heights, *shares)}
        known = [reading.known.get(f"output:{link}") for link in links.values()]
        if not all(n is not None and n.n == reading.draws and np.all(np.isfinite(n.draws)) for n in known):
            return None
        raw = {k: {"output": link} for k, link in links.items()}
    for key in ("speed", *loads):
        if key not in raw:
            raise reading.wrong(key, "is missing", "give speed and the downforce of both axles over it")
    speed = reading.number(raw["speed"], "speed", "m/s", shown="km/h", shape=None)
    out = {"speed": np.median(np.atleast_2d(speed), axis=0)}
    for key in (*loads, *heights, *shares):
        if key in raw:
            unit, shown = ("N", "") if key in loads else ("m", "mm") if key in heights else ("1", "")
            out[key] = reading.number(raw[key], key, unit, shown=shown, shape=None)
            if out[key].ndim != 2 or out[key].shape[1] != out["speed"].size:
                raise reading.wrong(key, "needs one figure for each speed", "lists of the same length")
    if np.any(np.diff(out["speed"]) <= 0):
        raise reading.wrong("speed", "must rise", "from slow to fast")
    return out


def read_springs(raw: Any, reading: Reading) -> dict[str, Springing]:
    """``{"front": {"spring": {…}, "torsion_bar": {…}, "heave": {…}, "anti_roll_bar": {…}}, "rear": …}``.

    A spring is a figure in N/m, or a coil ``{"wire", "mean_diameter", "coils"}``. A torsion bar is a figure in N
    m/rad, or ``{"outside", "length"}`` with optional ``inside``, ``shear_modulus``. An anti-roll bar is a figure in N
    m/rad of twist between its arms, or ``{"outside", "length", "arm"}`` with optional ``inside``, ``shear_modulus``
    and ``blade`` (``{"length", "width", "thickness", "angle"}``), or ``{"tee": {"outside", "length", "half_width"},
    …}`` for a T-bar.
    """
    from longlens.systems.suspension import bars

    out = {}
    for end, mine in dict(raw).items():
        if end not in names.ENDS:
            raise reading.wrong(str(end), "is no axle", "front or rear")
        t = reading.table(mine, end, (), ("spring", "torsion_bar", "heave", "anti_roll_bar"))

        def figure(r: Any, name: str, unit: str, shown: str, low: float, high: float, end: str = end) -> Array:
            return reading.number(r, f"{end}.{name}", unit, shown=shown, plausible=(low, high))

        def size(r: Any, name: str, end: str = end) -> Array:
            return reading.number(r, f"{end}.{name}", "m", shown="mm", plausible=(5e-4, 3.0))

        def shear(r: Any, name: str, end: str = end) -> Array:
            return reading.number(
                r, f"{end}.{name}", "Pa", shown="GPa", plausible=(1e10, 1e11), assumption=SPRING_STEEL[0],
                reason=SPRING_STEEL[1],
            )  # fmt: skip

        def tube(r: dict[str, Any], name: str, size: Any = size, shear: Any = shear) -> Array:
            inside = size(r["inside"], f"{name}.inside") if r.get("inside") is not None else 0.0
            return bars.torsion_rate(
                shear(r.get("shear_modulus"), f"{name}.shear_modulus"),
                size(r["length"], f"{name}.length"), size(r["outside"], f"{name}.outside"), inside,
            )  # fmt: skip

        coil = torsion = heave = bar = None
        if (r := t.get("spring")) is not None:
            if isinstance(r, dict) and "wire" in r:
                r = reading.table(r, f"{end}.spring", ("wire", "mean_diameter", "coils"), ("shear_modulus",))
                coil = bars.coil_rate(
                    shear(r.get("shear_modulus"), "spring.shear_modulus"), size(r["wire"], "spring.wire"),
                    size(r["mean_diameter"], "spring.mean_diameter"),
                    figure(r["coils"], "spring.coils", "1", "", 1, 60),
                )  # fmt: skip
            else:
                coil = figure(r, "spring", "N/m", "N/mm", 2e3, 2e6)
        if (r := t.get("torsion_bar")) is not None:
            if isinstance(r, dict) and "outside" in r:
                r = reading.table(r, f"{end}.torsion_bar", ("outside", "length"), ("inside", "shear_modulus"))
                torsion = tube(r, "torsion_bar")
            else:
                torsion = figure(r, "torsion_bar", "N*m/rad", "", 10, 1e6)
        if (r := t.get("heave")) is not None:
            heave = figure(r, "heave", "N/m", "N/mm", 2e3, 5e6)
        if (r := t.get("anti_roll_bar")) is not None:
            bar = _bar(r, end, reading, tube, size)
        out[end] = Springing(coil, torsion, heave, bar)
    return out


def _bar(r: Any, end: str, reading: Reading, tube: Any, size: Any) -> Array:
    from longlens.systems.suspension import bars

    name = f"{end}.anti_roll_bar"
    if not isinstance(r, dict) or ("outside" not in r and "tee" not in r):
        return reading.number(r, name, "N*m/rad", plausible=(10.0, 1e6))
    blade = None
    if r.get("blade") is not None:
        b = reading.table(r["blade"], f"{name}.blade", ("length", "width", "thickness"), ("angle", "youngs_modulus"))
        youngs = reading.number(
            b.get("youngs_modulus"), f"{name}.blade.youngs_modulus", "Pa", shown="GPa", plausible=(3e10, 3e11),
            assumption=Normal(205e9, 3e9), reason="steel: Shigley (from memory)",
        )  # fmt: skip
        angle: Any = 0.0
        if b.get("angle") is not None:
            angle = reading.number(b["angle"], f"{name}.blade.angle", "rad", shown="deg", plausible=(-1.6, 1.6))
        long, wide, thick = (size(b[k], f"anti_roll_bar.blade.{k}") for k in ("length", "width", "thickness"))
        blade = bars.blade_rate(youngs, long, wide, thick, angle)
    tip = np.inf if blade is None else blade
    if "tee" in r:
        r = reading.table(r, name, ("tee",), ("blade",))
        tee = reading.table(r["tee"], f"{name}.tee", ("outside", "length", "half_width"), ("inside", "shear_modulus"))
        # Per twist between the arms, as of a U-bar: the head turns by half the twist that two arms of its width would.
        return 0.25 * bars.t_bar_rate(
            tube(tee, "anti_roll_bar.tee"), size(tee["half_width"], "anti_roll_bar.tee.half_width"), tip
        )
    r = reading.table(r, name, ("outside", "length", "arm"), ("inside", "shear_modulus", "blade"))
    return bars.u_bar_rate(tube(r, "anti_roll_bar"), size(r["arm"], "anti_roll_bar.arm"), tip)


@dataclass(frozen=True)
class RodSize:
    """A rod's measured outside diameter, wall, Young's modulus and strength, each (N,); m, Pa."""

    outside: Array
    wall: Array
    youngs: Array
    strength: Array
    material: str


def read_rods(raw: Any, reading: Reading) -> dict[str, RodSize]:
    """``{"front.pushrod": {"outside": {…}, "wall": {…}, "material": "steel"}, …}``; wall and material may be left out.

    A wall that is not known is assumed as a share of the outside diameter, a material as steel.
    """
    out = {}
    for name, mine in dict(raw).items():
        t = reading.table(mine, name, ("outside",), ("wall", "material"))
        outside = reading.number(t["outside"], f"{name}.outside", "m", shown="mm", plausible=(3e-3, 0.12))
        if t.get("wall") is not None:
            wall = reading.number(t["wall"], f"{name}.wall", "m", shown="mm", plausible=(2e-4, 0.06))
        else:
            wall = outside * reading.number(
                None, f"{name}.wall_share", "1", assumption=TruncatedNormal(0.09, 0.03, 0.04, 0.25),
                reason=f"wall of rods as a share of their diameter, 0.05–0.15: {PRACTICE}",
            )  # fmt: skip
        material = t.get("material", "steel")
        if material not in MATERIALS:
            raise reading.wrong(f"{name}.material", f"{material!r} is not known", f"one of: {', '.join(MATERIALS)}")
        m = MATERIALS[material]
        # One draw per material, not per rod: all rods of a car are of the same stuff.
        youngs = reading.number(
            None, f"{material}.youngs", "Pa", assumption=LogNormal(m.youngs, m.youngs_spread), reason=m.source
        )
        strength = reading.number(
            None, f"{material}.strength", "Pa", assumption=LogNormal(m.strength, m.strength_spread), reason=m.source
        )
        out[name] = RodSize(outside, np.minimum(wall, outside / 2), youngs, strength, material)
    return out


@dataclass(frozen=True)
class LoadCase:
    """What the car does: accelerations in m/s², downforce in N, each (N,) or a float. The left wheels are the outer
    ones."""

    name: str
    forward: Any = 0.0
    cornering: Any = 0.0
    downforce: Mapping[str, Any] = field(default_factory=lambda: {"front": 0.0, "rear": 0.0})


#: Load cases when none are given: steady limits of a track car on sticky tyres.
USUAL_CASES = [
    {"name": "standing"},
    {"name": "braking", "braking": 1.5},
    {"name": "cornering", "cornering": 1.6},
    {"name": "braking into a corner", "braking": 1.0, "cornering": 1.2},
]


def read_cases(raw: Any, reading: Reading) -> list[LoadCase]:
    """``[{"name": "braking", "braking": 1.5, "cornering": 0, "downforce_front": {…}, "downforce_rear": {…}}, …]``.

    ``braking``, ``accelerating`` and ``cornering`` in multiples of g, positive; downforce per axle.
    """
    if not isinstance(raw, list) or not raw or len(raw) > 20:
        raise reading.wrong("", "must be a list of one to twenty cases", '[{"name": "braking", "braking": 1.5}]')
    out = []
    for k, mine in enumerate(raw):
        optional = ("braking", "accelerating", "cornering", "downforce_front", "downforce_rear")
        t = reading.table(mine, f"[{k}]", ("name",), optional)
        label = str(t["name"])

        def g(key: str, t: dict[str, Any] = t, label: str = label) -> Any:
            if t.get(key) is None:
                return 0.0
            return GRAVITY * reading.number(t[key], f"{label}.{key}", "1", plausible=(0.0, 8.0))

        down = {}
        for end in names.ENDS:
            r = t.get(f"downforce_{end}")
            down[end] = 0.0 if r is None else reading.number(r, f"{label}.downforce_{end}", "N", plausible=(-2e4, 1e5))
        out.append(LoadCase(label, g("accelerating") - g("braking"), g("cornering"), down))
    return out
