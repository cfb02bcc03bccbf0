"""The aero sheet's steps: wings, floor and obstacles at rest, then heights, forces and balance over speed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from longlens.errors import NotSolvable
from longlens.numbers.streams import Array
from longlens.systems.aero import floor, lifting_line, obstacles, ride, streams, wings
from longlens.systems.aero.streams import Ahead
from longlens.systems.aero.wings import Errors, Wing
from longlens.systems.cooling.air import standard_atmosphere
from longlens.systems.running.steps import SPEEDS
from longlens.systems.sheet import Refusal

#: Speed at which plain figures are given, m/s.
AT = 200 / 3.6
_REF = int(np.argmin(np.abs(SPEEDS - AT)))
#: Drops of a wing (share of its height) at which it is solved; between them a polynomial.
_DROPS = np.array([-0.25, 0.0, 0.25, 0.5, 0.75])
#: Least height of the floor over the road, m.
TOUCH = 0.008
#: Drag coefficient of the body without its wings, on the frontal area.
BODIES = {
    "open_wheels": (0.62, 0.08, "open wheels: 0.45 to 0.8 without wings: common practice, no source"),
    "open_cockpit": (0.45, 0.05, "covered wheels, open cockpit: 0.35 to 0.55: common practice, no source"),
    "closed": (0.34, 0.04, "closed sporting cars: 0.28 to 0.42 (Hucho 1987, from memory)"),
}


@dataclass(frozen=True)
class Part:
    """Something that makes force: lift area m², where it acts behind the front axle m, drag area m²."""

    name: str
    lift: Array
    behind: Array
    drag: Array


def _errors(g: Mapping[str, Any]) -> Errors:
    return Errors(g["slope_error"], g["flap_error"], g["ground_error"], g["limit_error"], g["profile_error"])


def solve_wings(g: Mapping[str, Any]) -> dict[str, Any]:
    """Every wing at rest and at five drops, front to back in the stream that those ahead leave; its positions; what obstacles
    leave of it."""
    errors: Errors = _errors(g)
    every: list[Wing] = g["wings"]
    ahead = Ahead(tuple(g["bodies"]), (), g["wake_error"], g["upwash_error"])
    if not every:
        why = Refusal("no wing is known", ("wings: span, height, place and elements of each",))
        plain = ("wing", "wing_lift_coefficient", "wing_use", "wing_angle", "wing_drag_share", "station", "wing_loading",
                 "position", "position_lift_area", "position_drag_area", "wing_stream", "wing_turn")  # fmt: skip
        return {**dict.fromkeys(plain, why), "tables": [], "left": {}, "ahead": ahead, "wing_streams": {}}
    made: dict[str, tuple[Wing, list[wings.Loads], Array]] = {}
    left: dict[str, Array] = {}
    met: dict[str, streams.Stream] = {}
    for wing in sorted(every, key=lambda w: float(np.median(w.behind))):
        at = met[wing.name] = ahead.at(streams.place_of(wing))
        found = [wings.loads(wing, errors, wing.height * d, None, at.pressure, at.turn) for d in _DROPS]
        share = left[wing.name] = _left(g["obstacles"], wing.name, wing.area)
        made[wing.name] = (wing, found, share)
        whole = replace(found[1], lift_area=found[1].lift_area * share)
        ahead = replace(ahead, wings=(*ahead.wings, (wing, whole)))
    tables = [made[w.name] for w in every]
    rest = [found[1] for _, found, _ in tables]
    labels, lifts, drags = _positions(every, errors, left, met)
    none = Refusal("no wing has positions", ("wings: positions (name → angles)",))
    count = len(g["slope_error"])

    def wide(x: Array) -> Array:
        return np.broadcast_to(x, (count, *np.shape(x)[1:]) if np.ndim(x) > 1 else (count,))

    return {
        "tables": tables, "left": left, "wing": [w.name for w in every], "ahead": ahead, "wing_streams": met,
        "wing_lift_coefficient": np.stack([wide(r.coefficient) for r in rest], 1),
        "wing_use": np.stack([wide(r.use) for r in rest], 1),
        "wing_angle": np.stack([wide(wings.section_angle(w, errors) - met[w.name].turn) for w in every], 1),
        "wing_drag_share": np.stack([wide(r.induced_area / r.drag_area) for r in rest], 1),
        "wing_stream": np.stack([wide(met[w.name].pressure) for w in every], 1),
        "wing_turn": np.stack([wide(met[w.name].turn) for w in every], 1),
        "station": np.cos(lifting_line.stations()),
        "wing_loading": np.stack(
            [wide(r.loading * (r.lift_area * left[w.name] / w.span)[:, None]) for w, r in zip(every, rest, strict=True)], 1
        ),
        "position": labels or none,
        "position_lift_area": np.stack([wide(x) for x in lifts], 1) if labels else none,
        "position_drag_area": np.stack([wide(x) for x in drags], 1) if labels else none,
    }  # fmt: skip


def _positions(
    every: list[Wing], errors: Errors, left: Mapping[str, Array], met: Mapping[str, streams.Stream]
) -> tuple[list[str], list[Array], list[Array]]:
    labels, lifts, drags = [], [], []
    for wing in every:
        at = met[wing.name]
        for label, angles in wing.positions.items():
            found = wings.loads(wing, errors, 0.0, angles, at.pressure, at.turn)
            labels.append(f"{wing.name}: {label}")
            lifts.append(found.lift_area * left[wing.name])
            drags.append(found.drag_area)
    return labels, lifts, drags


def open_ducts(g: Mapping[str, Any]) -> dict[str, Any]:
    """Total pressure before each duct's inlet and pressure at its outlet; what each body ahead takes from openings and wings."""
    every, ahead = g["openings"], g["ahead"]
    names = ("opening_stream", "opening_turn", "inlet_recovery", "outlet_pressure")
    found = streams.at_openings(every, ahead, AT)
    met = {**g["wing_streams"], **{n: i.stream for n, i in found.items()}}
    order = [b.name for b in ahead.bodies] + [w.name for w, _ in ahead.wings]
    there, taken = streams.shares(met, order) if met else ([], None)
    out: dict[str, Any] = {"inlets": found}
    none = Refusal(
        "nothing is known to lie ahead of a wing or an opening", ("bodies: what leaves a wake, with its place",)
    )
    out |= {"lies_ahead": there or none, "reached": list(met) if there else none, "taken": taken if there else none}
    if not found:
        why = Refusal("no opening of a duct is known", ("openings: inlet, outlet and place of each duct",))
        return out | dict.fromkeys((*names, "opening"), why)
    count = len(ahead.wake_error)

    def rows(of: Callable[[streams.Inlet], Array]) -> Array:
        return np.stack([np.broadcast_to(of(i), (count,)) for i in found.values()], axis=1)

    return out | {
        "opening": list(found), "opening_stream": rows(lambda i: i.stream.pressure),
        "opening_turn": rows(lambda i: i.stream.turn),
        "inlet_recovery": rows(lambda i: i.total), "outlet_pressure": rows(lambda i: i.outlet_cp),
    }  # fmt: skip


def _left(every: list[dict[str, Any]], name: str, passage: Array, without: str = "") -> Array:
    """Share of a device's downforce that all obstacles in its flow leave together."""
    share: Array = np.asarray(1.0)
    for o in every:
        if o["of"] == name and o["name"] != without:
            share = share * obstacles.flow_left(o["area"], passage, o["strength"])
    return share * np.ones(np.shape(passage))


def _wing_at(found: list[wings.Loads], field: str, share: Array) -> Array:
    """(N, ...) quantity at a drop as a share of the height: straight lines between the drops solved."""
    values = np.stack([np.asarray(getattr(f, field)) for f in found], axis=-1)
    x = np.clip(np.interp(share, _DROPS, np.arange(len(_DROPS))), 0, len(_DROPS) - 1 - 1e-9)
    i = x.astype(int)
    flat = values[..., None, :] if share.ndim > values.ndim - 1 else values
    low = np.take_along_axis(np.broadcast_to(flat, (*share.shape, len(_DROPS))), i[..., None], -1)[..., 0]
    high = np.take_along_axis(np.broadcast_to(flat, (*share.shape, len(_DROPS))), i[..., None] + 1, -1)[..., 0]
    return low + (x - i) * (high - low)


@dataclass(frozen=True)
class Body:
    """All that makes force, of every draw, ready for any height and speed; arrays (N, 1)."""

    tables: list[Any]
    under: dict[str, Any] | None
    left_floor: Array
    fixed: list[Part]
    wheelbase: Array
    floor_error: Array
    drag_height: Array

    def parts(self, front: Array, rear: Array, speed: Array) -> list[Part]:
        """Parts at drops of the axles (N, V) and speeds (V,)."""
        shape = np.broadcast_shapes(front.shape, np.shape(speed))
        out = []
        for wing, found, share in self.tables:
            x = np.asarray(wing.behind)[:, None]
            drop = front + (rear - front) * x / self.wheelbase
            at = np.clip(drop / np.asarray(wing.height)[:, None], _DROPS[0], _DROPS[-1])
            lift = _wing_at(found, "lift_area", at) * share[:, None]
            out.append(Part(wing.name, lift, x, _wing_at(found, "drag_area", at)))
        if self.under is not None:
            out += self._under(front, rear, speed)
        for p in self.fixed:
            out.append(Part(p.name, np.broadcast_to(p.lift, shape), p.behind, np.broadcast_to(p.drag, shape)))
        return out

    def _under(self, front: Array, rear: Array, speed: Array) -> list[Part]:
        out: list[Part] = []
        if self.under is None:
            return out
        f = self.under["floor"]
        if f is not None:
            c = {k: np.asarray(v)[:, None] for k, v in f.items()}
            start, end = c["inlet_behind"], c["inlet_behind"] + c["length"]

            def height(key: str, x: Array) -> Array:
                drop = front + (rear - front) * x / self.wheelbase
                return np.maximum(c[key] - drop, TOUCH)

            last = end + c["diffuser_length"]
            made = floor.floor_lift(
                c["length"], c["width"], height("inlet_height", start), height("throat_height", end), c["diffuser_length"],
                c["diffuser_width"], height("exit_height", last), c["recovery"], c["most_ratio"], c["base_pressure"],
                c["sealing"], speed,
            )  # fmt: skip
            e = self.floor_error * self.left_floor
            # a floor at an angle pays as a wing of its small span does: a tenth of its downforce, common practice
            out.append(Part("floor", made.flat * e, (start + 2 * end) / 3, 0.03 * np.maximum(made.flat, 0)))
            out.append(
                Part("diffuser", made.diffuser * e, end + c["diffuser_length"] / 3, 0.12 * np.maximum(made.diffuser, 0))
            )
        s = self.under["splitter"]
        if s is not None:
            lift = floor.splitter_lift(s["length"], s["width"], s["pressure"])[:, None] * np.ones(np.shape(front))
            out.append(Part("splitter", lift, (s["behind"])[:, None], 0.04 * lift))
        return out


def assemble(g: Mapping[str, Any]) -> dict[str, Any]:
    """Body, obstacles and cooling as fixed parts; everything together."""
    area = g["frontal"]
    count = len(g["slope_error"])
    if area is None:
        raise NotSolvable(
            "the frontal area is not known",
            needs=[
                "frontal: area (m²), or width and height (mm)",
                "or an outline named frontal area on a photograph from ahead",
            ],
        )
    one = np.ones((count, 1))
    x = np.asarray(g["wheelbase"])[:, None]
    body, spread, _ = BODIES[g["body"]]
    cd = body * np.exp((spread / body) * np.asarray(g["body_rank"]))
    fixed = [Part("body", -(np.asarray(g["body_lift"]) * area)[:, None], 0.5 * x, (cd * area)[:, None])]
    drag = sum((obstacles.drag_area(o["area"], o["coefficient"]) for o in g["obstacles"]), np.zeros(count))
    fixed.append(Part("what stands in the flow", 0 * one, 0.5 * x, np.asarray(drag)[:, None] * one))
    fixed.append(Part("cooling", 0 * one, 0.5 * x, np.asarray(g["cooling_drag_area"])[:, None]))
    under = g["floor"]
    left = np.ones((count, 1))
    if under is not None and under["floor"] is not None:
        mouth = under["floor"]["width"] * under["floor"]["inlet_height"]
        left = _left(g["obstacles"], "floor", mouth)[:, None]
    whole = Body(
        g["tables"], under, left, fixed, x, np.asarray(g["floor_error"])[:, None], np.asarray(g["drag_height"])[:, None]
    )
    air = standard_atmosphere(np.asarray(g["altitude"]), g["temperature_offset"])
    return {"whole": whole, "density": np.asarray(air.density)[:, None], "frontal_area": area}


def _axles(parts: list[Part], body: Body) -> tuple[Array, Array, Array]:
    """Lift areas on front and rear axle and the drag area; the drag's moment moves load to the rear."""
    lift = sum(p.lift for p in parts)
    drag = np.asarray(sum(p.drag for p in parts))
    rear = sum(p.lift * p.behind for p in parts) / body.wheelbase + drag * body.drag_height / body.wheelbase
    return lift - rear, rear, drag


def _springs(g: Mapping[str, Any], end: str) -> ride.Springs:
    """The suspension's curve of force over travel where it handed one on, as stiff as the wheel rate says; else a line."""
    body = 2 * np.asarray(g[f"wheel_rate_{end}"]) + np.asarray(g[f"heave_rate_{end}"])
    curve = g["springing"].get(end)
    if curve is None:
        rate = ride.axle_rate(g[f"wheel_rate_{end}"], g[f"heave_rate_{end}"], g[f"tyre_rate_{end}"])
        return ride.Straight(rate[:, None])
    # a wheel rate given for this run (a variant without the heave element) keeps the curve's shape, not its size
    size = body / (2 * curve["rate"])
    tyres = 2 * np.asarray(g[f"tyre_rate_{end}"])[:, None]
    return ride.Curve(curve["travel"], np.maximum.accumulate(curve["force"] * size[:, None], axis=1), tyres)


def over_speed(g: Mapping[str, Any]) -> dict[str, Any]:
    """Heights and forces over speed, in balance with the springs."""
    body: Body = g["whole"]
    springs = {e: _springs(g, e) for e in ("front", "rear")}
    v = SPEEDS
    q = 0.5 * g["density"] * v**2

    def force(front: Array, rear: Array) -> tuple[Array, Array]:
        f, r, _ = _axles(body.parts(front, rear, v), body)
        return f * q, r * q

    # The floor's own height bounds the drop; without a floor, the lowest wing.
    low_f, low_r = (np.maximum(np.asarray(g[f"ride_{e}"])[:, None] - TOUCH, 1e-3) for e in ("front", "rear"))
    shape = (len(low_f), len(v))
    made = ride.settle(force, springs["front"], springs["rear"], low_f, low_r, shape)
    parts = body.parts(made.front, made.rear, v)
    f, r, drag = _axles(parts, body)
    k = _REF
    names = [p.name for p in parts]
    rows_l = np.stack([np.broadcast_to(p.lift, f.shape)[:, k] for p in parts], 1) * q[:, k : k + 1]
    rows_d = np.stack([np.broadcast_to(p.drag, f.shape)[:, k] for p in parts], 1) * q[:, k : k + 1]
    held = {"front": made.front >= low_f * 0.999, "rear": made.rear >= low_r * 0.999}
    touching = np.mean(held["front"] | held["rear"], axis=0)
    still_f, still_r, _ = _axles(body.parts(0 * made.front, 0 * made.rear, v), body)
    return {
        "speed": v, "downforce": (f + r) * q, "downforce_front": f * q, "downforce_rear": r * q, "drag": drag * q,
        "drag_power": drag * q * v,
        "front_drop": made.front, "rear_drop": made.rear, "part": names, "part_downforce": rows_l, "part_drag": rows_d,
        "lift_area_front": f[:, k], "lift_area_rear": r[:, k], "lift_area": (f + r)[:, k], "drag_area": drag[:, k],
        "balance": (f / (f + r))[:, k], "balance_curve": f / (f + r), "lift_over_drag": ((f + r) / drag)[:, k],
        "won_by_dropping": ((f + r) / (still_f + still_r) - 1)[:, k],
        "restless": made.restless, "touching": touching, "unsettled": made.left,
        "ride_height_front": np.asarray(g["ride_front"])[:, None] - made.front,
        "ride_height_rear": np.asarray(g["ride_rear"])[:, None] - made.rear,
        "on_stops": {e: np.mean(springs[e].stopped(x * q), axis=0) for e, x in (("front", f), ("rear", r))},
        "held": held,
        "curves": {"lift_front": f, "lift_rear": r, "drag": drag},
        "places": {p.name: np.broadcast_to(p.behind, (len(f), 1))[:, 0] for p in parts},
    }  # fmt: skip


def freed(g: Mapping[str, Any]) -> dict[str, Any]:
    """What each obstacle takes: downforce that its removal would give at 200 km/h, at the heights of rest, and its drag."""
    every = g["obstacles"]
    if not every:
        why = Refusal("nothing stands in the flow", ("obstacles: what stands before or behind wings and floor",))
        return {"obstacle": why, "obstacle_downforce": why, "obstacle_drag": why, "obstacle_front": why}
    body: Body = g["whole"]
    q = (0.5 * g["density"] * AT**2)[:, 0]
    zero = np.zeros((len(q), 1))
    parts = {p.name: p for p in body.parts(zero, zero, np.array([AT]))}
    won, front, cost = [], [], []
    for o in every:
        share = np.ones(len(q))
        gain, gain_front = np.zeros(len(q)), np.zeros(len(q))
        target = [o["of"]] if o["of"] != "floor" else ["floor", "diffuser"]
        passage = next((w.area for w, _, _ in g["tables"] if w.name == o["of"]), None)
        if o["of"] == "floor" and body.under is not None and body.under["floor"] is not None:
            passage = body.under["floor"]["width"] * body.under["floor"]["inlet_height"]
        if passage is not None:
            share = obstacles.flow_left(o["area"], passage, o["strength"])
            for name in target:
                p = parts[name]
                more = p.lift[:, 0] * (1 / share - 1)
                gain = gain + more
                gain_front = gain_front + more * (1 - (p.behind / body.wheelbase)[:, 0])
        won.append(gain * q)
        front.append(gain_front * q)
        cost.append(obstacles.drag_area(o["area"], o["coefficient"]) * q)
    return {
        "obstacle": [o["name"] for o in every], "obstacle_downforce": np.stack(won, 1), "obstacle_front": np.stack(front, 1),
        "obstacle_drag": np.stack(cost, 1),
    }  # fmt: skip
