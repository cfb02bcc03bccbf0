"""Forces in every rod and on every chassis point, by equilibrium of the upright, the wishbones and the rocker.

Six unknowns hold the upright: the rods between it and the chassis (a wishbone's legs are two rods of it) and what
holds the car up. When that acts on a wishbone, the wishbone passes a force square to its plane through its ball
joint; its own balance of moments about its axis gives the pushrod's. Signs: rods in tension positive; springs in
compression positive.

Limits: quasi-static; weight and inertia of the parts left out unless given as loads; ideal joints. A wishbone with a
pushrod on it is bent too: ``bending`` says by how much, and utilisation of its legs by axial force alone is then too
low.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension import geometry
from longlens.systems.suspension import vectors as v
from longlens.systems.suspension.bodies import Hinged
from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.kinematics import Motion
from longlens.systems.suspension.newton import solve_batch
from longlens.systems.suspension.ratios import spring_ends
from longlens.systems.suspension.vectors import Array
from longlens.systems.suspension.velocity import rows


@dataclass(frozen=True)
class CornerForces:
    """Loads inside a corner, each (...) of the motion's shape; N, N m.

    ``tension``: rod → axial force. ``spring``: force of coil spring or strut, compression positive (None: none).
    ``torque``: of a torsion bar on rocker or wishbone, about its axis (None: none). ``on_chassis``: point → (..., 3)
    force that the corner puts on the chassis. ``bending``: wishbone → moment at the pushrod's foot.
    """

    tension: dict[str, Array]
    spring: Array | None
    torque: Array | None
    on_chassis: dict[str, Array]
    bending: dict[str, Array] = field(default_factory=dict)


#: Where a bar across the car is held on each side.
BEARING = "anti_roll_bar.pivot"


def bar_has_bearing(c: Corner) -> bool:
    """Whether the bar lies across the car, with a bearing beside each arm that takes what its link pulls.

    The stem of a T-bar takes the pull of both links, which cancel: it has no bearing of one side.
    """
    return c.has_bar and bool(np.median(np.abs(v.join(c.bar_axis)[..., 1])) > np.cos(np.radians(45)))


@dataclass(frozen=True)
class Support:
    """What holds the corner up, seen from the moving end: its name, ends and the body it pushes on."""

    name: str
    inner: str
    outer: str
    body: str


def support(m: Motion) -> Support | None:
    """Pushrod, spring or strut; None when a torsion bar on the lower wishbone's axis does it."""
    c = m.corner
    if c.has_rocker:
        return Support("pushrod", "pushrod.inner", "pushrod.outer", c.body_of("pushrod.outer"))
    if c.has_spring:
        return Support("spring", "spring.inner", "spring.outer", c.body_of("spring.outer"))
    if c.layout == "strut":
        return Support("strut", *spring_ends(c), "upright")
    return None


def corner_forces(
    m: Motion,
    at_contact: ArrayLike = 0.0,
    at_centre: ArrayLike = 0.0,
    *,
    bar_link: ArrayLike = 0.0,
    heave: ArrayLike = 0.0,
) -> CornerForces:
    """Solve a left corner.

    Parameters
    ----------
    at_contact : (..., 3) force of the road on the tyre; its moment about the axle is taken by the upright (outboard
        brake).
    at_centre : (..., 3) force on the upright at the wheel centre (driving force through a half-shaft; inboard brake;
        weight).
    bar_link : (...) tension of the anti-roll bar's link.
    heave : (...) compression of the element between the rockers.
    """
    wheel = m.point("wheel.centre")
    contact = geometry.contact(m)
    force = np.broadcast_to(np.asarray(at_contact, float), (*m.shape, 3))
    direct = np.broadcast_to(np.asarray(at_centre, float), (*m.shape, 3))
    load = np.concatenate([np.cross(contact - wheel, force), force + direct], axis=-1)
    link = np.broadcast_to(np.asarray(bar_link, float), m.shape)
    s = support(m)
    extra: dict[str, Array] = {}  # moments about wishbone axes from a bar link that sits there
    if m.corner.has_bar:
        load, extra = _bar_link_load(m, load, link, wheel)
    for body, moment in extra.items():
        if s is not None and s.body == body:
            continue
        if s is None and body == "lower_wishbone":
            continue
        normal, arm = _normal(m, body)
        n = moment / arm
        place = m.point(f"{body}.outer")
        load = load + np.concatenate([np.cross(place - wheel, n[..., None] * normal), n[..., None] * normal], axis=-1)
    return _balance(m, s, load, extra, wheel, link, np.broadcast_to(np.asarray(heave, float), m.shape))


def _bar_link_load(m: Motion, load: Array, link: Array, wheel: Array) -> tuple[Array, dict[str, Array]]:
    body = m.corner.body_of("bar_link.outer")
    place = m.point("bar_link.outer")
    d = m.point("bar_link.inner") - place
    pull = link[..., None] * d / np.linalg.norm(d, axis=-1, keepdims=True)
    if body == "upright":
        return load + np.concatenate([np.cross(place - wheel, pull), pull], axis=-1), {}
    if body == "rocker":
        return load, {}
    hinge = m.bodies[body]
    assert isinstance(hinge, Hinged)
    return load, {body: np.sum(pull * v.join(hinge.lever(m.vec("bar_link.outer"))), axis=-1)}


def _normal(m: Motion, body: str) -> tuple[Array, Array]:
    """Unit normal of a wishbone's plane at its ball joint, and the joint's distance from the axis."""
    hinge = m.bodies[body]
    assert isinstance(hinge, Hinged)
    lever = np.broadcast_to(v.join(hinge.lever(m.vec(f"{body}.outer"))), (*m.shape, 3))
    arm = np.linalg.norm(lever, axis=-1)
    return lever / arm[..., None], arm


def _balance(
    m: Motion, s: Support | None, load: Array, extra: dict[str, Array], wheel: Array, link: Array, heave: Array
) -> CornerForces:
    on_wishbone = s is None or s.body in ("lower_wishbone", "upper_wishbone")
    body = "lower_wishbone" if s is None else s.body
    A = np.zeros((*m.shape, 6, 6))
    A[..., :, :5] = np.swapaxes(rows(m), -1, -2)
    u = _direction(m, s) if s is not None else None
    if on_wishbone:
        normal = _normal(m, body)[0]
        place = m.point(f"{body}.outer")
        A[..., :3, 5], A[..., 3:, 5] = np.cross(place - wheel, normal), normal
    else:
        assert s is not None and u is not None
        place = m.point("strut.top" if s.name == "strut" else s.outer)
        A[..., :3, 5], A[..., 3:, 5] = np.cross(place - wheel, u), u
    good = m.reached
    f = solve_batch(np.where(good[..., None, None], A, np.eye(6)), -load)
    f = np.where(good[..., None], f, np.nan)
    tension = {name: -f[..., k] for k, (name, _, _) in enumerate(m.links)}
    chassis: dict[str, Array] = {}
    for name, inner, outer in m.links:
        d = v.join(v.unit(v.sub(outer, inner)))
        chassis[_inner_of(m, name)] = chassis.get(_inner_of(m, name), 0.0) + tension[name][..., None] * d
    if m.corner.layout == "strut":
        body_now = m.bodies["upright"]
        square = [v.join(e) for e in body_now.basis[1:]]  # type: ignore[attr-defined]
        chassis["strut.top"] = -(f[..., 3, None] * square[0] + f[..., 4, None] * square[1])
    bending: dict[str, Array] = {}
    push, torque = f[..., 5], None
    if on_wishbone:
        push, torque, more, bend = _wishbone(m, s, body, f[..., 5], u, extra.get(body, 0.0 * f[..., 5]))
        for k, w in more.items():
            chassis[k] = chassis[k] + w
        bending = bend
    spring = None
    if s is not None:
        if s.name == "pushrod":
            tension["pushrod"] = -push
            spring, torque, at_pivot = _rocker(m, -push, link, heave)
            chassis["rocker.pivot"] = at_pivot
            if spring is not None:
                chassis["spring.inner"] = spring[..., None] * _along(m, "spring.outer", "spring.inner")
        else:
            spring = push
            assert u is not None
            chassis[s.inner] = chassis.get(s.inner, 0.0) - push[..., None] * u
    if m.corner.has_bar:
        tension["bar_link"] = np.where(good, link, np.nan)
        if bar_has_bearing(m.corner):
            chassis[BEARING] = tension["bar_link"][..., None] * _along(m, "bar_link.inner", "bar_link.outer")
    return CornerForces(tension, spring, torque, chassis, bending)


def _direction(m: Motion, s: Support) -> Array:
    """Unit vector in which the support pushes on its body; a strut pushes down its own axis."""
    if s.name == "strut":
        return np.broadcast_to(-v.join(m.bodies["upright"].basis[0]), (*m.shape, 3))  # type: ignore[attr-defined]
    return _along(m, s.inner, s.outer)


def _along(m: Motion, a: str, b: str) -> Array:
    d = m.point(b) - m.point(a)
    return d / np.linalg.norm(d, axis=-1, keepdims=True)


def _inner_of(m: Motion, rod: str) -> str:
    from longlens.systems.suspension.corner import LINKS

    return next(a for n, a, _ in LINKS[m.corner.layout] if n == rod)


def _wishbone(
    m: Motion, s: Support | None, body: str, n: Array, u: Array | None, extra: Array
) -> tuple[Array, Array | None, dict[str, Array], dict[str, Array]]:
    """Balance of the wishbone that carries the support, loaded by −n square to its plane at the ball joint."""
    normal, arm = _normal(m, body)
    hinge = m.bodies[body]
    assert isinstance(hinge, Hinged)
    front, rear = m.point(f"{body}.front_inner"), m.point(f"{body}.rear_inner")
    joint = m.point(f"{body}.outer")
    loads = [(joint, -n[..., None] * normal)]
    torque, push, bend = None, np.zeros_like(n), {}
    if s is None or u is None:
        torque = n * arm - extra
    else:
        lever = v.join(hinge.lever(m.vec(s.outer)))
        push = (n * arm - extra) / np.sum(u * lever, axis=-1)
        loads.append((m.point(s.outer), push[..., None] * u))
        bend[body] = np.abs(n) * np.linalg.norm(m.point(s.outer) - joint, axis=-1)
    if m.corner.has_bar and m.corner.body_of("bar_link.outer") == body:
        d = _along(m, "bar_link.outer", "bar_link.inner")
        pull = extra / np.sum(d * v.join(hinge.lever(m.vec("bar_link.outer"))), axis=-1)
        loads.append((m.point("bar_link.outer"), pull[..., None] * d))
    axis = v.join(hinge.axis)
    span = np.linalg.norm(rear - front, axis=-1)[..., None]
    total = sum(w for _, w in loads)
    moment = sum(np.cross(p - front, w) for p, w in loads)
    # Square to the axis the bearings' shares follow from moments; along it they cannot be told apart and are halved.
    at_rear = np.cross(moment, axis) / span
    lengthwise = np.sum(total * axis, axis=-1, keepdims=True) * axis
    at_rear = at_rear - np.sum(at_rear * axis, axis=-1, keepdims=True) * axis + 0.5 * lengthwise
    return push, torque, {f"{body}.front_inner": total - at_rear, f"{body}.rear_inner": at_rear}, bend


def _rocker(m: Motion, rod: Array, link: Array, heave: Array) -> tuple[Array | None, Array | None, Array]:
    """Spring force or torsion-bar torque that balances the rocker, and the force on its pivot."""
    c = m.corner
    hinge = m.bodies["rocker"]
    assert isinstance(hinge, Hinged)
    pulls = [("pushrod.inner", rod[..., None] * _along(m, "pushrod.inner", "pushrod.outer"))]
    if c.has_bar and c.body_of("bar_link.outer") == "rocker":
        pulls.append(("bar_link.outer", link[..., None] * _along(m, "bar_link.outer", "bar_link.inner")))
    if "heave.outer" in c.points:
        side = np.sign(m.point("heave.outer")[..., 1])
        pulls.append(("heave.outer", (heave * side)[..., None] * np.array([0.0, 1.0, 0.0])))
    moment = sum(np.sum(w * v.join(hinge.lever(m.vec(k))), axis=-1) for k, w in pulls)
    spring = torque = None
    if c.has_spring and c.body_of("spring.outer") == "rocker":
        d = _along(m, "spring.inner", "spring.outer")  # a compressed spring pushes outwards on the rocker
        spring = -moment / np.sum(d * v.join(hinge.lever(m.vec("spring.outer"))), axis=-1)
        pulls.append(("spring.outer", spring[..., None] * d))
    else:
        torque = -moment
    return spring, torque, sum(w for _, w in pulls)  # type: ignore[return-value]


def bar_link_tension(m: Motion, bar_torque: ArrayLike) -> Array:
    """Tension of the link that a bar's torque on its arm (about the bar's axis, N m) puts into it, N (...)."""
    hinge = m.bodies["bar"]
    assert isinstance(hinge, Hinged)
    d = _along(m, "bar_link.inner", "bar_link.outer")
    return np.asarray(bar_torque, float) / np.sum(d * v.join(hinge.lever(m.vec("bar_link.inner"))), axis=-1)
