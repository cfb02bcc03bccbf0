"""A wheel with what sits inside it at its solved place: tyre, rim, brake, hub, upright."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.demo import details as d
from longlens.demo.brakes import caliper_meshes, disc_meshes
from longlens.demo.mechanics import CornerState
from longlens.demo.model import Model
from longlens.demo.rims import rim_meshes
from longlens.demo.solids import (
    Array,
    Mesh,
    box,
    frame,
    lathe,
    merge,
    outline_round,
    plate,
    rod,
    unit,
)
from longlens.demo.tyres import Tyre, tyre_meshes


@dataclass(frozen=True)
class WheelSpec:
    """How a wheel and its brake look."""

    tyre: Tyre
    disc_radius: float
    disc_thick: float
    caliper_angle: float
    spokes: int = 8
    twin: bool = True
    dish: float = 0.075
    treaded: bool = True
    blocks: int = 60
    grooves: int = 3
    rim: str = "rim_graphite"
    nut: str = "nut"
    caliper: str = "caliper"
    lettering: str = "sidewall"


def add_wheel(
    m: Model,
    where: str,
    spec: WheelSpec,
    s: CornerState,
    spin: float,
    ground: tuple[float, float],
    moves: bool = True,
) -> None:
    """Wheel, brake and hub of one corner at its solved place. ``ground``: its height and slope dz/dx."""
    c, axis = s.joints["wheel_centre"], s.wheel_axis
    up = s.R @ np.array([0, 0, 1.0])
    F = frame(axis, up)  # rows e1, e2, e3 = axis
    G = np.stack([np.cos(spin) * F[0] + np.sin(spin) * F[1], -np.sin(spin) * F[0] + np.cos(spin) * F[1], F[2]])

    def put(mesh: Mesh, turning: bool = True) -> Mesh:
        return mesh.moved((G if turning else F).T, c)

    t = spec.tyre
    tread, outer, inner = tyre_meshes(t, spec.blocks, spec.grooves, spec.treaded)
    if m._side < 0 and outer.uv is not None:
        outer = Mesh(outer.v, outer.f, np.stack([1 - outer.uv[:, 0], outer.uv[:, 1]], 1))

    def squashed(mesh: Mesh) -> Mesh:
        v = mesh.v.copy()
        floor = ground[0] + ground[1] * v[:, 0] + 0.0004
        v[:, 2] = np.maximum(v[:, 2], floor)
        return Mesh(v, mesh.f, mesh.uv)

    m.add(f"{where}.tyre.tread", squashed(put(tread)), "tread")
    m.add(f"{where}.tyre.sidewall", squashed(put(outer)), spec.lettering)
    m.add(f"{where}.tyre.inner", squashed(put(inner)), "rubber")
    for key, mesh in rim_meshes(t, spec.spokes, spec.dish, spec.twin).items():
        mat = {"rim": spec.rim, "nut": spec.nut, "steel": "steel", "valve": "black", "lead": "aluminium"}[key]
        m.add(f"{where}.rim.{key}", put(mesh), mat)
    z = t.face_offset - spec.dish - 0.075
    for key, mesh in disc_meshes(spec.disc_radius, spec.disc_thick, z).items():
        m.add(f"{where}.disc.{key}", put(mesh), {"disc": "disc", "bell": "anodised", "steel": "steel"}[key])
    for key, mesh in caliper_meshes(spec.disc_radius, spec.disc_thick, z, spec.caliper_angle).items():
        m.add(
            f"{where}.caliper.{key}",
            put(mesh, False),
            {"caliper": spec.caliper, "steel": "steel", "pad": "pad"}[key],
        )
    hub = lathe(
        [
            (z - 0.085, 0.0),
            (z - 0.085, 0.030),
            (z - 0.075, 0.046),
            (z - 0.012, 0.050),
            (z + 0.002, 0.062),
            (z + 0.034, 0.062),
            (z + 0.034, 0),
        ],
        (0, 0, 0),
        (0, 0, 1),
        48,
        hint=(0, 1, 0),
    )
    m.add(f"{where}.hub", put(hub), "steel_dark")
    # markable: the rim's outer flange circle, the tyre's outer tread edge, the disc
    face = c + axis * (t.face_offset - 0.002)  # the crest of the outer flange
    m.circle(f"{where}.rim", face, axis, t.flange_diameter / 2, moves)
    m.circle(f"{where}.tyre", c + axis * t.width * 0.43, axis, t.diameter / 2 - 0.0045, moves)
    m.circle(f"{where}.disc", c + axis * (z + spec.disc_thick / 2), axis, spec.disc_radius - 0.0005, moves)
    m.point(f"{where}.wheel_centre", c, 0.02, 0.2, moves=moves, buried=True)
    m.point(f"{where}.rim_centre", face, 0.03, 0.2, moves=moves, buried=True)
    z_nut = t.face_offset - spec.dish - 0.008 + 0.032
    m.point(f"{where}.hub_nut", c + axis * z_nut, 0.022, 0.7, moves=moves)


def add_upright(m: Model, where: str, s: CornerState, spec: WheelSpec) -> None:
    """Upright with its bearing housing, ears to the ball joints and arm to the track rod."""
    j = s.joints
    c, axis = j["wheel_centre"], s.wheel_axis
    z = spec.tyre.face_offset - spec.dish - 0.075
    back = c + axis * (z - 0.052)
    up = s.R @ np.array([0, 0, 1.0])
    e2 = unit(up - axis * (up @ axis))
    e1 = np.cross(e2, axis)

    def flat(p: Array) -> Array:
        q = p - back
        return np.array([q @ e1, q @ e2])

    U, L, T = flat(j["upper_outer"]), flat(j["lower_outer"]), flat(j["tie_outer"])
    solid = []
    side = np.array([0.030, 0.0])
    for sgn in (-1, 1):  # two webs, so that one sees between them
        o = outline_round([U + sgn * side * 0.75, sgn * side * 1.35, L + sgn * side * 0.8], [0.010, 0.014, 0.011])
        solid.append(plate(o, back, e1, e2, 0.020, 0.003))
    solid.append(plate(outline_round([np.zeros(2)], [0.062]), back, e1, e2, 0.030, 0.004))
    solid.append(lathe([(-0.030, 0.0), (-0.030, 0.044), (-0.024, 0.052), (0.034, 0.054), (0.034, 0.0)], back, axis, 48))
    o = outline_round([T, T * 0.45 + U * 0.1], [0.013, 0.022])
    solid.append(plate(o, back - axis * 0.002, e1, e2, 0.014, 0.003))
    for key, q, p in (
        ("upper", U, j["upper_outer"]),
        ("lower", L, j["lower_outer"]),
        ("tie", T, j["tie_outer"]),
    ):
        foot = back + e1 * q[0] + e2 * q[1]
        size = (0.026, 0.052 if key != "tie" else 0.026, float(np.linalg.norm(p - foot)) + 0.018)
        block = box((foot + p) / 2, size, 0.005, frame(p - foot, e1))
        solid.append(block)
        for k in (-1, 1):
            if key != "tie":
                solid.append(d.bolt(foot + e1 * 0.018 * k - axis * 0.012, -axis, 0.006))
    m.add(f"{where}.upright", merge(solid), "machined")
    for name, p in (("upper", j["upper_outer"]), ("lower", j["lower_outer"])):
        dirn = e2 if name == "upper" else -e2
        ball = merge(
            [
                rod(p - dirn * 0.020, p + dirn * 0.020, 0.0075, 20, 0.001),
                lathe([(-0.0085, 0.0), (-0.0085, 0.0165), (0.0085, 0.0165), (0.0085, 0.0)], p, dirn, 36),
                d.bolt(p + dirn * 0.019, dirn, 0.008),
            ]
        )
        m.add(f"{where}.{name}_ball_joint", ball, "steel")
        lugs = merge([box(p + dirn * k * 0.0155, (0.030, 0.030, 0.006), 0.003, frame(dirn, e1)) for k in (-1, 1)])
        m.add(f"{where}.{name}_ball_joint.lugs", lugs, "machined")


def add_contact(m: Model, where: str, centre: Array, t: Tyre) -> None:
    """The outer edge of the contact patch, under the wheel centre: only where the ground is the frame's own."""
    if m.ground == (0.0, 0.0):
        m.point(f"{where}.contact_outer", [centre[0], centre[1] + t.width * 0.455, 0.0], 0.012, 0.25, on="ground")
