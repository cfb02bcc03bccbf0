"""The numbers of one axle for all draws: what the sheet's steps compute, as plain functions on corners with draws
(N,)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from longlens.systems.sheet import Refusal
from longlens.systems.suspension import forces, geometry, rates, ratios, rods
from longlens.systems.suspension.axle import axle
from longlens.systems.suspension.beam import BeamAxle
from longlens.systems.suspension.checks import PAIRS
from longlens.systems.suspension.corner import LINKS, REQUIRED, Corner, spin_axis
from longlens.systems.suspension.identify import actuation, as_five_link, carried_by, identify
from longlens.systems.suspension.kinematics import Motion, solve
from longlens.systems.suspension.pressed import force_over_travel
from longlens.systems.suspension.readings import Hardpoints, LoadCase, RodSize, Springing
from longlens.systems.suspension.stances import Joined, join, split_stances
from longlens.systems.suspension.vectors import Array
from longlens.systems.suspension.velocity import twists
from longlens.systems.suspension.wheel_loads import Car, elastic_moment, wheel_loads

Values = dict[str, Any]

NO_SPRING = "no spring is marked on the {end} axle"
SPRING_NEEDS = "left.{end}.spring.outer and .spring.inner, or rocker and torsion bar"


def build(
    hardpoints: Hardpoints,
    end: str,
    layout: str,
    mounts: Mapping[str, str],
    camber: Array,
    toe: Array,
    radius: Array,
    rim_offset: Array,
) -> tuple[Corner | Refusal, list[Any], Joined | None]:
    """The corner of an axle, the layouts that its marks allow, and how its stances were coupled.

    ``layout`` "" takes the likeliest complete one.
    """
    points = hardpoints.corners.get(end)
    if not points:
        need = f"left.{end}.wheel.centre, left.{end}.lower_wishbone.outer and the other ends of its rods"
        return Refusal(f"no hardpoints of the {end} axle are known", (need,)), [], None
    points = with_wheel(points, spin_axis(camber, toe), rim_offset)
    candidates = identify(points)
    chosen = layout or next((c.layout for c in candidates if c.complete), candidates[0].layout)
    if chosen == "five_link":
        points = as_five_link(points)
    missing = [p for p in REQUIRED[chosen] if p not in points]
    if missing:
        why = f"the {end} axle as {chosen.replace('_', ' ')} lacks {len(missing)} of its points"
        return Refusal(why, tuple(f"left.{end}.{p}" for p in missing)), candidates, None
    known = dict(mounts)
    for part in ("pushrod", "spring", "damper", "bar_link"):
        name = f"{part}.outer"
        rocker = "pushrod.outer" in points and part != "pushrod"
        if part not in known and name in points and not rocker and chosen != "five_link":
            known[part] = max((shares := carried_by(points, name)), key=lambda k: shares[k])
    joined = None
    if hardpoints.stances.get(end) and chosen != "five_link":
        fixed, stances = split_stances({**points, **hardpoints.stances[end]})
        joined = join(fixed, stances, chosen, known)
        points = {**points, **joined.points[""], **joined.points["static"]}
    return Corner(chosen, points, spin_axis(camber, toe), radius, known), candidates, joined  # type: ignore[arg-type]


def with_wheel(points: Mapping[str, Array], spin: Array, rim_offset: Array) -> dict[str, Array]:
    """The points with the wheel centre, from the rim's outer face in along the wheel's axle where it was not seen."""
    if "wheel.centre" in points or "rim_centre" not in points:
        return dict(points)
    return {**points, "wheel.centre": points["rim_centre"] - rim_offset[..., None] * spin}


def over_travel(c: Corner, travel: Array) -> tuple[Motion, Values]:
    """Curves over wheel travel (N, M)."""
    m = solve(c.over_travel(), travel)
    t, by_rack = twists(m)
    at = geometry.contact(m)
    still = int(np.argmin(np.abs(travel)))
    steering = geometry.steering_axis(m, by_rack)
    scrub, trail = geometry.at_ground(m, steering)
    out: Values = {
        "camber_curve": geometry.camber(m),
        "toe_curve": geometry.toe(m),
        "roll_centre_curve": geometry.roll_centre_height(m, t),
        "track_curve": 2 * (at[..., 1] - at[:, still : still + 1, 1]),
        "wheelbase_curve": m.point("wheel.centre")[..., 0] - m.point("wheel.centre")[:, still : still + 1, 0],
        "scrub_radius": scrub[:, still],
        "mechanical_trail": trail[:, still],
        "caster": geometry.axes.caster(steering.direction)[:, still],
        "kingpin_inclination": geometry.axes.kingpin_inclination(steering.direction)[:, still],
    }
    out["roll_centre"] = out["roll_centre_curve"][:, still]
    out["camber_gain"] = _camber_rate(m, t)[:, still]
    out["bump_steer"] = _toe_rate(m, t)[:, still]
    direction, place, _ = geometry.screw(t)
    with np.errstate(divide="ignore", invalid="ignore"):
        out["front_swing_arm"] = _front_swing_arm(at, t)[:, still]
        out["side_swing_arm"] = _side_swing_arm(at, t)[:, still]
    out["_screw"] = (direction[:, still], place[:, still])
    out["_reached"] = m.reached
    return m, out


def _camber_rate(m: Motion, t: Any) -> Array:
    """d(camber)/dz, exact: −d/dz asin(sz)."""
    s = m.spin
    return -np.cross(t.omega, s)[..., 2] / np.sqrt(1 - s[..., 2] ** 2)


def _toe_rate(m: Motion, t: Any) -> Array:
    """d(toe)/dz, exact: −d/dz atan2(−sx, sy)."""
    s = m.spin
    ds = np.cross(t.omega, s)
    return (ds[..., 0] * s[..., 1] - s[..., 0] * ds[..., 1]) / (s[..., 0] ** 2 + s[..., 1] ** 2)


def _front_swing_arm(contact: Array, t: Any) -> Array:
    """Lateral distance from the contact centre to the instant centre in the front view, m, positive inboard (NaN:
    parallel)."""
    u = t.at(contact)
    w = t.omega[..., 0]
    return np.where(np.abs(w) > 1e-6, u[..., 2] / np.where(np.abs(w) > 1e-6, w, 1.0), np.nan)


def _side_swing_arm(contact: Array, t: Any) -> Array:
    """Lengthwise distance from the contact centre to the instant centre in the side view, m, positive: the centre lies
    behind the wheel (NaN: parallel)."""
    u, w = t.at(contact), t.omega[..., 1]
    return np.where(np.abs(w) > 1e-6, -u[..., 2] / np.where(np.abs(w) > 1e-6, w, 1.0), np.nan)


def springs_over_travel(c: Corner, m: Motion, travel: Array, end: str) -> Values:
    """Motion ratios over travel (N, M) and at ride height; refusals where a part is not marked."""
    t = twists(m)[0]
    still = int(np.argmin(np.abs(travel)))
    out: Values = {}
    none = Refusal(NO_SPRING.format(end=end), (SPRING_NEEDS.format(end=end),))
    try:
        curve = ratios.spring_per_wheel(t)
        length = ratios.spring_length(m)
        out |= {
            "spring_ratio_curve": curve,
            "spring_per_wheel": curve[:, still],
            "wheel_per_spring": 1.0 / curve[:, still],
            "spring_per_wheel_bump": curve[:, -1],
            "progression": ratios.slope_over_travel(ratios.spring_per_wheel, c, 0.0),
            "_compression": length[:, still : still + 1] - length,
        }
    except KeyError:
        out |= dict.fromkeys(
            ("spring_ratio_curve", "spring_per_wheel", "wheel_per_spring", "spring_per_wheel_bump", "progression"), none
        )
        out["_compression"] = None
    if "damper.outer" in c.points and "damper.inner" in c.points:
        out["damper_per_wheel"] = ratios.damper_per_wheel(t)[:, still]
    else:
        why = f"no damper apart from the spring is marked on the {end} axle"
        out["damper_per_wheel"] = Refusal(why, (f"left.{end}.damper.outer and .damper.inner",))
    rotary = (
        "rocker" if c.has_rocker else None if "spring.outer" in c.points or c.layout != "double_wishbone" else "arm"
    )
    if rotary is None:
        out["rocker_per_wheel"] = Refusal(f"the {end} axle has no rocker marked", (f"left.{end}.rocker.pivot",))
        out["_torsion_ratio"] = None
    else:
        ratio = ratios.rocker_per_wheel if rotary == "rocker" else ratios.wishbone_per_wheel
        turn = ratio(t)
        out["rocker_per_wheel"] = np.abs(turn[:, still])
        angle = m.angles["rocker" if rotary == "rocker" else "lower_wishbone"]
        out["_torsion_ratio"] = (turn, np.broadcast_to(angle, turn.shape), ratios.slope_over_travel(ratio, c, 0.0))
    if c.has_bar:
        out["bar_per_wheel"] = np.abs(ratios.bar_arm_per_wheel(t)[:, still])
    else:
        out["bar_per_wheel"] = Refusal(
            f"the {end} anti-roll bar is not marked",
            (f"left.{end}.bar_link.outer, .bar_link.inner and anti_roll_bar.pivot",),
        )
    if c.has_rocker and "heave.outer" in c.points:
        out["heave_per_wheel"] = ratios.heave_per_wheel(t)[:, still]
    else:
        out["heave_per_wheel"] = Refusal(
            f"no element between the {end} rockers is marked", (f"left.{end}.heave.outer and .rocker.pivot",)
        )
    return out


def stiffness(
    ratio: Values, springing: Springing, travel: Array, sprung: Array, unsprung: Array, tyre: Array, softer: Array,
    track: Array, end: str,
) -> Values:  # fmt: skip
    """Wheel rate, frequencies and roll stiffness. ``sprung``, ``unsprung``: kg per wheel; ``softer``: share of the
    rigid rate that the real installation keeps; ``sprung`` None: not known."""
    still = int(np.argmin(np.abs(travel)))
    need = (f'springs: {{"{end}": {{"spring": …}}}} or its torsion bar',)
    out: Values = {}
    curve: Any = 0.0
    load = sprung * rates.GRAVITY
    single: Any = 0.0  # what counts in roll: the heave element does not
    if springing.coil is not None and ratio["_compression"] is not None:
        i = ratio["spring_ratio_curve"]
        k = springing.coil[:, None]
        preload = load[:, None] / i[:, still : still + 1]
        force = preload + k * ratio["_compression"]
        slope = np.gradient(i, travel, axis=1)
        curve = curve + rates.wheel_rate(k, i, force, slope)
        single = single + rates.wheel_rate(springing.coil, i[:, still], preload[:, 0], ratio["progression"])
    if springing.torsion is not None and ratio["_torsion_ratio"] is not None:
        turn, angle, slope_0 = ratio["_torsion_ratio"]
        k = springing.torsion[:, None]
        share = load[:, None] if springing.coil is None else 0.0 * load[:, None]
        preload = share / turn[:, still : still + 1]
        curve = curve + rates.wheel_rate(
            k, turn, preload + k * (angle - angle[:, still : still + 1]), np.gradient(turn, travel, axis=1)
        )
        single = single + rates.wheel_rate(springing.torsion, turn[:, still], preload[:, 0], slope_0)
    rate = single
    if springing.heave is not None and not isinstance(ratio["heave_per_wheel"], Refusal):
        # Both wheels' energy ½ k (i z)² shared between two wheels; its preload counts with the springs'.
        extra = 0.5 * springing.heave * ratio["heave_per_wheel"] ** 2
        curve, rate = curve + extra[:, None], rate + extra
    if np.ndim(curve) == 0:
        why = (
            f"the {end} springs' rate is not known" if ratio["_compression"] is not None else NO_SPRING.format(end=end)
        )
        names = ("wheel_rate", "wheel_rate_curve", "ride_frequency", "body_frequency", "hop_frequency", "spring_roll")
        return dict.fromkeys((*names, "ride_height_drop_curve"), Refusal(why, need)) | {"_single": None}
    out["wheel_rate_curve"] = curve * softer[:, None]
    out["wheel_rate"] = rate * softer
    out["ride_frequency"] = rates.frequency(rates.in_series(out["wheel_rate"], tyre), sprung)
    modes = rates.two_mass_modes(sprung, unsprung, out["wheel_rate"], tyre)
    out["body_frequency"], out["hop_frequency"] = modes.body, modes.wheel_hop
    out["spring_roll"] = rates.roll_stiffness_of_springs(single * softer, track)
    out["_single"] = single
    return out


def under_downforce(
    c: Corner, travel: Array, rate_curve: Array, downforce: Array, tyre: Array, camber_curve: Array, toe_curve: Array
) -> Values:
    """What an axle's downforce (N,) does: the wheel's travel, the body's drop with the tyres, camber and toe then.

    The wheel force is the integral of the wheel rate over travel from ride height.
    """
    moved = rates.travel_at_load(travel, force_over_travel(travel, rate_curve), 0.5 * downforce)
    return {
        "downforce_travel": moved,
        "downforce_drop": moved + 0.5 * downforce / tyre,
        "downforce_camber": _at(travel, camber_curve, moved),
        "downforce_toe": _at(travel, toe_curve, moved),
    }


def _at(x: Array, curve: Array, where: Array) -> Array:
    """Curves (N, M) over x (M,) at a place (N,) each, linear; NaN outside."""
    k = np.clip(np.searchsorted(x, np.nan_to_num(where)) - 1, 0, len(x) - 2)
    f = (where - x[k]) / (x[k + 1] - x[k])
    rows = np.arange(len(curve))
    return curve[rows, k] * (1 - f) + curve[rows, k + 1] * f


def antis(m: Motion, travel: Array, end: str, wheelbase: Array, cg: Array, brake: Array, drive: Array) -> Values:
    """Anti-dive or anti-lift in braking (outboard brakes), anti-squat or anti-lift in driving (through half-shafts)."""
    t = twists(m)[0]
    still = int(np.argmin(np.abs(travel)))
    braking = geometry.side_slope(m, t, torque_on_chassis=False)[:, still]
    driving = geometry.side_slope(m, t, torque_on_chassis=True)[:, still]
    if end == "front":
        return {
            "anti_braking": geometry.anti_dive(braking, wheelbase, cg, brake),
            "anti_driving": geometry.anti_lift_driving(driving, wheelbase, cg, drive),
        }
    return {
        "anti_braking": geometry.anti_lift(braking, wheelbase, cg, 1 - brake),
        "anti_driving": geometry.anti_squat(driving, wheelbase, cg, 1 - drive),
    }


def steering(c: Corner, rack: Array, wheelbase: Array) -> Values:
    """Steer of the left wheel over rack travel (N, K), steer per rack travel at the middle, Ackermann error (N, K)."""
    wide = _wheel_only(c).over_travel()
    left, right = solve(wide, 0.0, rack), solve(wide, 0.0, -rack)
    dl, dr = geometry.steer(left), -geometry.steer(right)
    straight = solve(_wheel_only(c))
    by_rack = twists(straight)[1]
    axis = geometry.steering_axis(straight, by_rack)
    scrub, _ = geometry.at_ground(straight, axis)
    track = 2 * (geometry.contact(straight)[..., 1] - scrub)
    zero = geometry.steer(straight)[:, None]
    error = geometry.ackermann_error(dl - zero, dr + zero, track[:, None], wheelbase[:, None])
    rate = -_toe_rate(straight, by_rack)
    return {"steer_curve": dl, "ackermann_curve": error, "steer_per_rack": rate}


def _wheel_only(c: Corner) -> Corner:
    """The corner without rocker, springs and bar: what decides where the wheel goes."""
    return replace(c, points={k: c.points[k] for k in REQUIRED[c.layout]})


def in_roll(c: Corner, roll: Array) -> Values:
    """Over body roll (N, R): camber of the outer wheel against the ground, roll centre's place and height."""
    a = axle(_wheel_only(c).over_travel(), 0.0, roll)
    sideways, height = a.roll_centre_over_ground()
    return {"roll_camber_curve": a.camber[1], "roll_centre_roll_height": height, "roll_centre_roll_side": sideways}


@dataclass(frozen=True)
class RollSprings:
    """What resists roll on an axle, each (N,): springs and anti-roll bar together, N m per rad of roll of the body on
    its wheels, and the bar's torque per that roll, N m/rad."""

    stiffness: Array
    torque_per_roll: Array


def rod_loads(
    c: Corner, cases: list[LoadCase], car: Car, end: str, roll: RollSprings | None = None
) -> tuple[list[str], Values]:
    """Axial forces of every rod of the left (outer) corner over the load cases, (N, rods, cases), and spring forces.

    With ``roll`` the anti-roll bar is twisted by the axle's share of the roll moment; its link (``bar_link``) is then one
    of the rods and its pull is in the balance of the part it sits on. The inner wheel's link has the opposite force.
    ``_bar_torque``: (N, cases), N m. Lever arms are those at ride height.
    """
    m = solve(c)
    with_bar = roll is not None and c.has_bar
    turn = np.sign(ratios.bar_arm_per_wheel(twists(m)[0])) if with_bar else 0.0
    names: list[str] = []
    columns, springs, chassis, bending, torques = [], [], [], [], []
    for case in cases:
        # The left wheel is the outer one in a right-hand bend: acceleration to the right is −y.
        to_left = -np.asarray(case.cornering)
        load = wheel_loads(car, case.forward, to_left, case.downforce["front"], case.downforce["rear"])
        link: Any = 0.0
        if roll is not None and with_bar:
            torque = roll.torque_per_roll * -elastic_moment(car, to_left, load, end) / roll.stiffness
            link = forces.bar_link_tension(m, turn * torque)  # the link turns the arm, the bar holds against it
            torques.append(np.broadcast_to(torque, m.shape))
        road = load.at("left", end)
        driving = np.asarray(case.forward) > 0
        at_contact = np.where(driving[..., None] & np.array([True, False, False]), 0.0, road)
        found = forces.corner_forces(m, at_contact, road - at_contact, bar_link=link)
        names = [n for n in found.tension if n != "bar_link" or with_bar]  # else what the bar carries is not known
        columns.append(np.stack([found.tension[n] for n in names], axis=-1))
        springs.append(found.spring if found.spring is not None else np.full(m.shape, np.nan))
        chassis.append({k: np.linalg.norm(f, axis=-1) for k, f in found.on_chassis.items()})
        bending.append(found.bending)
    points = [p for p in chassis[0] if p != forces.BEARING or with_bar]
    return names, {
        "rod_force": np.stack(columns, axis=-1),
        "_spring_force": np.stack(springs, axis=-1),
        "chassis_points": points,
        "chassis_force": np.stack([np.stack([x[p] for p in points], axis=-1) for x in chassis], axis=-1),
        "_bending": bending,
        "_bar_torque": np.stack(torques, axis=-1) if torques else None,
    }


def use(
    c: Corner | BeamAxle, force: Array, names: list[str], sizes: Mapping[str, RodSize], end: str
) -> tuple[list[str], Array, Array] | Refusal:
    """Utilisation (N, rods, cases) of the rods whose diameter is known, and whether buckling decides (N, rods)."""
    lengths = {name: _length(c, name) for name in names}
    mine = [n for n in names if f"{end}.{n}" in sizes and n in lengths]
    if not mine:
        return Refusal(f"no diameter of a {end} rod is known", (f'rods: {{"{end}.pushrod": {{"outside": …}}}}',))
    used, slender = [], []
    for n in mine:
        s = sizes[f"{end}.{n}"]
        section = rods.tube(s.outside, s.wall)
        wide = rods.Section(section.area[:, None], section.second[:, None])
        mine_force = force[:, names.index(n)]
        if n == "bar_link":  # one link pulls and the other pushes: the pushed one is used more
            mine_force = -np.abs(mine_force)
        used.append(rods.utilisation(mine_force, s.youngs[:, None], s.strength[:, None], wide, lengths[n][:, None]))
        slender.append(rods.buckles_first(s.youngs, s.strength, section, lengths[n]))
    return mine, np.stack(used, axis=1), np.stack(slender, axis=1)


def _length(c: Corner | BeamAxle, rod: str) -> Array:
    links = LINKS[c.layout] if isinstance(c, Corner) else ()
    alone = rod if f"{rod}.inner" in c.points else f"left.{rod}"  # a beam axle's points carry their side
    pair = next(((a, b) for n, a, b in links if n == rod), (f"{alone}.inner", f"{alone}.outer"))
    return np.linalg.norm(c.points[pair[0]] - c.points[pair[1]], axis=-1)


def how_actuated(points: Mapping[str, Array]) -> dict[str, float]:
    """Push- or pullrod or direct, with the share of the draws."""
    return actuation(points)


def unequal_rods(hardpoints: Hardpoints, end: str) -> list[tuple[str, float, float]]:
    """Rods whose lengths differ between left and right: name, difference (m), in its standard deviations (over 3
    only)."""
    left, right = hardpoints.corners.get(end, {}), hardpoints.other.get(end)
    out = []
    for a, b in PAIRS if right else ():
        if a in left and b in left and right is not None and a in right and b in right:
            d = np.linalg.norm(left[a] - left[b], axis=-1) - np.linalg.norm(right[a] - right[b], axis=-1)
            sd = float(np.std(d))
            mean = float(np.mean(d))
            if sd > 0 and abs(mean) > 3 * sd:
                out.append((f"{a} to {b}", mean, abs(mean) / sd))
    return out
