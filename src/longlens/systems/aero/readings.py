"""Structured inputs of the aero sheet: wings, floor, obstacles, frontal area."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np

from longlens.numbers.distributions import Exact, LogNormal, Normal, TruncatedNormal, Uniform
from longlens.numbers.streams import Array
from longlens.systems.aero.obstacles import KINDS
from longlens.systems.aero.openings import INLETS, OUTLETS
from longlens.systems.aero.streams import Body, Opening, Place
from longlens.systems.aero.wakes import GROWTHS
from longlens.systems.aero.wings import Element, Wing
from longlens.systems.given import Reading

PRACTICE = "common practice, no source"
MAX_WINGS, MAX_ELEMENTS, MAX_OBSTACLES, MAX_POSITIONS, MAX_BODIES, MAX_OPENINGS = 6, 4, 60, 12, 20, 20
#: Which wake a kind of body leaves.
_WAKES = {"round_rod": "plane", "faired_rod": "plane", "smooth": "slender"}
_NAME = re.compile(r"[a-z][a-z0-9_ ]{0,40}")


def _named(raw: Any, reading: Reading, what: str, most: int) -> dict[str, Any]:
    if not isinstance(raw, dict) or len(raw) > most:
        raise reading.wrong("", f"must be an object of at most {most} {what}", '{"front_wing": {…}}')
    for name in raw:
        if not _NAME.fullmatch(name):
            raise reading.wrong(name, "is no name", "small letters, digits, underscores")
    return raw


def read_wings(raw: Any, reading: Reading) -> list[Wing]:
    """By name: ``span``, ``height`` (quarter chord of the front element over the road), ``behind`` (its place behind the front
    axle; ahead: negative), ``elements`` front to back; where known ``end_plate`` (height of the plates), ``positions`` (name →
    angles of the elements). An element has ``chord`` and ``angle``, or ``leading`` and ``trailing`` (places), and where known
    ``camber``, ``span_share``. Instead of ``elements``: ``edges``, places from the front edge over the slots to the last
    trailing edge."""
    out = []
    for name, one in _named(raw, reading, "wings", MAX_WINGS).items():
        one = reading.table(
            one,
            name,
            ("span", "height", "behind"),
            ("elements", "edges", "end_plate", "positions", "cambers", "span_shares"),
        )

        def length(key: str, low: float, high: float, one: Any = one, name: str = name) -> Array:
            return reading.number(one[key], f"{name}.{key}", "m", shown="mm", plausible=(low, high))

        elements = _elements(one, name, reading)
        span = length("span", 0.1, 3.0)
        plate = reading.number(
            one.get("end_plate"), f"{name}.end_plate", "m", shown="mm", assumption=Uniform(0.05, 0.25), plausible=(0.0, 0.8),
            reason=f"plates of 50 to 250 mm: {PRACTICE}",
        )  # fmt: skip
        positions = _positions(one.get("positions", {}), name, len(elements), reading)
        out.append(
            Wing(
                name, span, length("height", 0.01, 2.0), length("behind", -3.0, 7.0), plate, tuple(elements), positions
            )
        )
    return out


def _elements(one: dict[str, Any], name: str, reading: Reading) -> list[Element]:
    if "edges" in one:
        return _from_edges(one, name, reading)
    raw = one.get("elements")
    if not isinstance(raw, list) or not 1 <= len(raw) <= MAX_ELEMENTS:
        raise reading.wrong(f"{name}.elements", f"must be a list of 1 to {MAX_ELEMENTS}", "front to back")
    out = []
    for k, e in enumerate(raw):
        path = f"{name}.element {k + 1}"
        e = reading.table(e, path, (), ("chord", "angle", "leading", "trailing", "camber", "span_share", "gap"))
        if "leading" in e or "trailing" in e:
            ends = [
                reading.number(e.get(end), f"{path}.{end}", "m", shown="mm", shape=(3,))
                for end in ("leading", "trailing")
            ]
            chord, angle = _chord(ends[0], ends[1])
        else:
            chord = reading.number(e.get("chord"), f"{path}.chord", "m", shown="mm", plausible=(0.01, 1.5))
            angle = reading.number(e.get("angle"), f"{path}.angle", "rad", shown="deg", plausible=(-0.4, 1.3))
        camber, share, gap = _shape(e, path, reading)
        out.append(Element(f"element {k + 1}", chord, angle, camber, share, gap))
    return out


def _from_edges(one: dict[str, Any], name: str, reading: Reading) -> list[Element]:
    raw = one["edges"]
    if not isinstance(raw, list) or not 2 <= len(raw) <= MAX_ELEMENTS + 1:
        raise reading.wrong(f"{name}.edges", f"must be a list of 2 to {MAX_ELEMENTS + 1} places", "front to back")
    places = [reading.number(p, f"{name}.edge {k + 1}", "m", shown="mm", shape=(3,)) for k, p in enumerate(raw)]
    shares, cambers = one.get("span_shares", []), one.get("cambers", [])
    out = []
    for k, (a, b) in enumerate(pairwise(places)):
        e = {"span_share": shares[k]} if k < len(shares) else {}
        if k < len(cambers):
            e["camber"] = cambers[k]
        chord, angle = _chord(a, b)
        camber, share, gap = _shape(e, f"{name}.element {k + 1}", reading)
        out.append(Element(f"element {k + 1}", chord, angle, camber, share, gap))
    return out


def _chord(front: Array, back: Array) -> tuple[Array, Array]:
    """Length and angle of a chord in the car's side view."""
    d = np.asarray(back) - np.asarray(front)
    return np.hypot(d[:, 0], d[:, 2]), np.arctan2(d[:, 2], -d[:, 0])


def _shape(e: dict[str, Any], path: str, reading: Reading) -> tuple[Array, Array, Array | None]:
    camber = reading.number(
        e.get("camber"), f"{path}.camber", "1", shown="%", assumption=TruncatedNormal(0.075, 0.025, 0.0, 0.16),
        plausible=(0.0, 0.25), reason=f"sections of racing wings, 3 to 12 % of their chord: {PRACTICE}",
    )  # fmt: skip
    share = reading.number(e.get("span_share", 1.0), f"{path}.span_share", "1", shown="%", plausible=(0.1, 1.0))
    gap = None
    if "gap" in e:
        gap = reading.number(e["gap"], f"{path}.gap", "m", shown="mm", plausible=(0.0, 0.2))
    return camber, share, gap


def _positions(raw: Any, name: str, count: int, reading: Reading) -> dict[str, tuple[Array, ...]]:
    if not isinstance(raw, dict) or len(raw) > MAX_POSITIONS:
        raise reading.wrong(f"{name}.positions", f"must be an object of at most {MAX_POSITIONS}", '{"steep": [angles]}')
    out = {}
    for label, angles in raw.items():
        if not isinstance(angles, list) or len(angles) != count:
            raise reading.wrong(f"{name}.positions.{label}", f"needs {count} angles", "one per element")
        out[str(label)] = tuple(
            reading.number(a, f"{name}.positions.{label}.{k + 1}", "rad", shown="deg", plausible=(-0.4, 1.3))
            for k, a in enumerate(angles)
        )
    return out


def read_floor(raw: Any, reading: Reading) -> dict[str, Any] | None:
    """``length`` (inlet edge to where the diffuser begins), ``width``, ``inlet_behind`` (its front edge behind the front axle),
    ``inlet_height``, ``throat_height``, ``diffuser_length``, ``diffuser_width``, ``exit_height``; where known ``recovery``,
    ``most_ratio``, ``sealing``, ``base_pressure``; ``splitter``: ``length``, ``width``, ``behind``, ``pressure``."""
    fields = (
        "length",
        "width",
        "inlet_behind",
        "inlet_height",
        "throat_height",
        "diffuser_length",
        "diffuser_width",
        "exit_height",
    )
    soft = ("recovery", "most_ratio", "sealing", "base_pressure", "splitter")
    raw = reading.table(raw, "", (), (*fields, *soft))
    if not raw:
        return None
    out: dict[str, Any] = {
        "splitter": _splitter(raw["splitter"], reading) if "splitter" in raw else None,
        "floor": None,
    }
    if set(raw) <= {"splitter"}:
        return out
    raw = reading.table(raw, "", fields, soft)
    bounds = {"length": (0.2, 4), "width": (0.2, 2.5), "inlet_behind": (-2, 3), "diffuser_length": (0.05, 2.5),
              "diffuser_width": (0.1, 2.5), "exit_height": (0.01, 0.8)}  # fmt: skip
    floor = {f: reading.number(raw[f], f, "m", shown="mm", plausible=bounds.get(f, (0.005, 0.4))) for f in fields}
    for name, unit, dist, reason, plausible in (
        ("recovery", "1", TruncatedNormal(0.62, 0.10, 0.3, 0.85), "short diffusers regain 0.4 to 0.8 of the ideal: Reneau et al. "
         "1967 (from memory)", (0, 0.95)),
        ("most_ratio", "1", TruncatedNormal(2.8, 0.5, 1.8, 4.5),
             "more than 2 to 4 times the throat wins no more: Cooper et al. 1998 "
         "(from memory)", (1.2, 8)),
        ("sealing", "1", Uniform(0.25, 0.60), "a flat floor without skirts keeps a quarter to three fifths: " + PRACTICE, (0, 1)),
        ("base_pressure", "1", Uniform(-0.25, -0.05), "behind blunt cars, lower under a wing: " + PRACTICE, (-0.8, 0.2)),
    ):  # fmt: skip
        floor[name] = reading.number(raw.get(name), name, unit, assumption=dist, reason=reason, plausible=plausible)
    out["floor"] = floor
    return out


def _splitter(raw: Any, reading: Reading) -> dict[str, Array]:
    raw = reading.table(raw, "splitter", ("length", "width", "behind"), ("pressure",))
    bounds = {"length": (0.01, 1.0), "width": (0.2, 2.5), "behind": (-2.5, 1.0)}
    out = {k: reading.number(raw[k], f"splitter.{k}", "m", shown="mm", plausible=b) for k, b in bounds.items()}
    out["pressure"] = reading.number(
        raw.get("pressure"), "splitter.pressure", "1", assumption=Uniform(0.3, 1.0), plausible=(0, 3),
        reason=f"0.3 to 1.0 of the dynamic pressure between top and bottom: {PRACTICE}",
    )  # fmt: skip
    return out


def read_springing(raw: Any, reading: Reading) -> dict[str, dict[str, Array]]:
    """Force over wheel travel of each axle: ``front``, ``rear``, each ``travel`` (of a wheel from rest, rising, the last one the
    bump stop's), ``force`` (of both wheels) and ``rate`` (of one wheel at rest). In a dossier the suspension's own."""
    raw = dict(reading.table(raw, "", (), ("front", "rear")))
    out = {}
    for end in ("front", "rear"):
        links = {k: f"suspension.{k}_curve_{end}" for k in ("travel", "force")} | {
            "rate": f"suspension.wheel_rate_{end}"
        }
        known = [reading.known.get(f"output:{link}") for link in links.values()]
        if end not in raw and all(
            n is not None and n.n == reading.draws and np.all(np.isfinite(n.draws)) for n in known
        ):
            raw[end] = {k: {"output": link} for k, link in links.items()}
        if end in raw:
            out[end] = _spring_curve(raw[end], end, reading)
    return out


def _spring_curve(raw: Any, end: str, reading: Reading) -> dict[str, Array]:
    one = reading.table(raw, end, ("travel", "force", "rate"))
    travel = reading.number(one["travel"], f"{end}.travel", "m", shown="mm", shape=None)
    force = reading.number(one["force"], f"{end}.force", "N", shape=None)
    rate = reading.number(one["rate"], f"{end}.rate", "N/m", shown="N/mm", plausible=(1e3, 1e7))
    grid = np.median(np.atleast_2d(travel), axis=0)
    if force.ndim != 2 or force.shape[1] != grid.size or grid.size < 3 or np.any(np.diff(grid) <= 0):
        raise reading.wrong(
            end, "needs as many forces as travels, at least three, rising", "travel from rebound to bump"
        )
    return {"travel": grid, "force": force, "rate": rate}


def read_obstacles(raw: Any, reading: Reading) -> list[dict[str, Any]]:
    """By name: ``kind`` (round_rod, faired_rod, core, box, wheel, smooth), ``area`` (seen from the front) or ``diameter`` with
    ``length``; ``count``; ``of``: the wing or ``floor`` whose flow it stands in; where known ``strength`` and ``coefficient``."""
    out = []
    for name, one in _named(raw, reading, "obstacles", MAX_OBSTACLES).items():
        one = reading.table(
            one, name, ("kind",), ("area", "diameter", "length", "count", "of", "strength", "coefficient")
        )
        kind = KINDS.get(str(one["kind"]))
        if kind is None:
            raise reading.wrong(f"{name}.kind", f"{one['kind']!r} is not known", f"one of {', '.join(KINDS)}")
        if "area" in one:
            area = reading.number(one["area"], f"{name}.area", "m2", shown="cm2", plausible=(1e-5, 2.0))
        else:
            d = reading.number(one.get("diameter"), f"{name}.diameter", "m", shown="mm", plausible=(0.002, 0.4))
            area = d * reading.number(one.get("length"), f"{name}.length", "m", shown="mm", plausible=(0.01, 3.0))
        count = one.get("count", 1)
        if not isinstance(count, int) or isinstance(count, bool) or not 1 <= count <= 40:
            raise reading.wrong(f"{name}.count", "must be a whole number from 1 to 40", "how many alike")
        out.append({
            "name": name, "of": str(one.get("of", "")), "area": area * count,
            "coefficient": reading.number(
                one.get("coefficient"), f"{name}.coefficient", "1",
                assumption=TruncatedNormal(kind.drag, kind.drag * kind.spread, 0.02, 2.0), plausible=(0.0, 3.0),
                reason=f"{kind.meaning}: Hoerner 1965 (from memory)",
            ),
            "strength": reading.number(
                one.get("strength"), f"{name}.strength", "1", assumption=Uniform(*kind.strength), plausible=(0.0, 4.0),
                reason=f"{kind.meaning}, at the edge or in the middle of the stream: {PRACTICE}",
            ),
        })  # fmt: skip
    return out


def read_bodies(raw: Any, reading: Reading) -> tuple[Body, ...]:
    """Bodies whose wakes reach parts behind them, by name: ``kind`` (as of obstacles), ``behind`` (its rear behind the
    front axle), ``width``, ``tall``; ``height`` of its middle (left out: it stands on the road), ``side`` (0), ``both_sides``;
    where known ``coefficient`` (drag on width times tall), ``growth``."""
    out = []
    for name, one in _named(raw, reading, "bodies", MAX_BODIES).items():
        one = reading.table(
            one, name, ("kind", "behind", "width", "tall"), ("height", "side", "both_sides", "coefficient", "growth")
        )
        kind = KINDS.get(str(one["kind"]))
        if kind is None:
            raise reading.wrong(f"{name}.kind", f"{one['kind']!r} is not known", f"one of {', '.join(KINDS)}")
        growth = GROWTHS[_WAKES.get(str(one["kind"]), "blunt")]
        size = {
            k: reading.number(one[k], f"{name}.{k}", "m", shown="mm", plausible=b)
            for k, b in (("width", (0.005, 3.0)), ("tall", (0.005, 2.0)), ("behind", (-3.0, 7.0)))
        }
        drag = reading.number(
            one.get("coefficient"), f"{name}.coefficient", "1", plausible=(0.0, 2.0),
            assumption=TruncatedNormal(kind.drag, kind.drag * kind.spread, 0.02, 2.0), reason=f"{kind.meaning}: Hoerner 1965",
        )  # fmt: skip
        out.append(
            Body(
                name, drag * size["width"] * size["tall"], size["width"], size["tall"], size["behind"],
                _zero_or(one, "side", name, (-1.5, 1.5), reading),
                _zero_or(one, "height", name, (0.0, 2.0), reading),
                reading.number(one.get("growth"), f"{name}.growth", "1", assumption=LogNormal(growth.middle, growth.spread),
                               reason=growth.why, plausible=(0.2, 20.0)),
                on_road="height" not in one, twin=_truth(one, "both_sides", name, reading),
            )
        )  # fmt: skip
    return tuple(out)


def _zero_or(one: dict[str, Any], key: str, name: str, plausible: tuple[float, float], reading: Reading) -> Array:
    """A length, or zero where it is left out."""
    if key not in one:
        return np.zeros(reading.draws)
    return reading.number(one[key], f"{name}.{key}", "m", shown="mm", plausible=plausible)


def _truth(one: dict[str, Any], key: str, name: str, reading: Reading) -> bool:
    value = one.get(key, False)
    if not isinstance(value, bool):
        raise reading.wrong(f"{name}.{key}", "must be true or false", "write true or false")
    return value


def read_openings(raw: Any, reading: Reading) -> tuple[Opening, ...]:
    """Inlet and outlet of cooling ducts, by the ducts' names in cooling: ``inlet`` (facing, nose, ramp, flank), ``outlet`` (base,
    flank, top, before_wing, wheel_house, underneath, open), ``behind`` (the inlet behind the front axle), ``side``, ``height``,
    ``width``, ``tall``; where known ``way`` of wall ahead of the inlet with the inlet's ``depth`` square to it (else its width),
    ``kept``, ``local_pressure``, ``outlet_pressure``. ``{"like": "left pod"}`` is the same on the other side."""
    out: dict[str, Opening] = {}
    table = _named(raw, reading, "openings", MAX_OPENINGS)
    for name in sorted(table, key=lambda n: "like" in table[n] if isinstance(table[n], dict) else False):
        one = table[name]
        if isinstance(one, dict) and "like" in one:
            other = out.get(str(reading.table(one, name, ("like",))["like"]))
            if other is None:
                raise reading.wrong(
                    f"{name}.like", f"there is no opening {one['like']!r}", "name one that is written out"
                )
            p = other.place
            out[name] = replace(other, name=name, place=replace(p, side=-np.asarray(p.side)))
        else:
            out[name] = _opening(one, name, reading)
    return tuple(out[name] for name in table)


def _opening(one: Any, name: str, reading: Reading) -> Opening:
    places = ("behind", "side", "height", "width", "tall")
    bounds = {"behind": (-3, 7), "side": (-1.5, 1.5), "height": (0.0, 2.0), "width": (0.01, 2.5), "tall": (0.01, 1.5)}
    more = ("way", "depth", "kept", "local_pressure", "outlet_pressure")
    one = reading.table(one, name, ("inlet", "outlet", *places), more)
    kinds = (str(one["inlet"]), str(one["outlet"]))
    for key, known in (("inlet", INLETS), ("outlet", OUTLETS)):
        if one[key] not in known:
            raise reading.wrong(f"{name}.{key}", f"{one[key]!r} is not known", f"one of {', '.join(known)}")
    at = {
        k: reading.number(one[k], f"{name}.{k}", "m", shown="mm", plausible=(float(bounds[k][0]), float(bounds[k][1])))
        for k in places
    }
    inlet, outlet = INLETS[kinds[0]], OUTLETS[kinds[1]]

    def figure(key: str, unit: str, band: Any, reason: str, plausible: tuple[float, float]) -> Array:
        return reading.number(
            one.get(key), f"{name}.{key}", unit, shown="mm" if unit == "m" else "", assumption=band, reason=reason,
            plausible=plausible,
        )  # fmt: skip

    depth = at["width"]
    if "depth" in one:
        depth = reading.number(one["depth"], f"{name}.depth", "m", shown="mm", plausible=(0.005, 1.5))
    return Opening(
        name, Place(*(at[k] for k in places)),
        figure("kept", "1", inlet.band, inlet.meaning, (-0.2, 1.05)),
        figure("way", "m", Exact(0.0), "no wall ahead of the inlet", (0.0, 5.0)), depth,
        figure("outlet_pressure", "1", outlet.band, outlet.meaning, (-1.5, 1.0)),
        figure("local_pressure", "1", Exact(0.0), "static pressure of the open stream", (-1.0, 1.0)), kinds,
    )  # fmt: skip


def read_frontal(raw: Any, reading: Reading) -> Array | None:
    """``area``; or ``width``, ``height`` and where known ``fill`` (share of the rectangle)."""
    raw = reading.table(raw, "", (), ("area", "width", "height", "fill"))
    known = "measure:frontal_area" if "measure:frontal_area" in reading.known else None
    if "area" in raw or (known and not raw):
        area = raw.get("area", {"measure": "frontal_area"})
        return reading.number(area, "area", "m2", shown="m2", plausible=(0.3, 5.0))
    if not raw:
        return None
    raw = reading.table(raw, "", ("width", "height"), ("fill",))
    width = reading.number(raw["width"], "width", "m", shown="mm", plausible=(0.5, 3.0))
    height = reading.number(raw["height"], "height", "m", shown="mm", plausible=(0.4, 3.0))
    fill = reading.number(
        raw.get("fill"), "fill", "1", shown="%", assumption=Normal(0.78, 0.05), plausible=(0.3, 1.0),
        reason=f"closed cars fill 0.80 to 0.86 of width times height, open wheels 0.65 to 0.8: {PRACTICE}",
    )  # fmt: skip
    return width * height * fill
