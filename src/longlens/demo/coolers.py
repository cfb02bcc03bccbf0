"""Coolers: flat-tube cores with fins, bent or flat, their collectors and connectors, fans, tanks and pipes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from longlens.demo import details as d
from longlens.demo.model import Model
from longlens.demo.solids import Array, Mesh, box, frame, grid, lathe, merge, rod, tube, unit


@dataclass(frozen=True)
class Core:
    """A core whose tubes run level along a line in plan from ``start`` to ``end`` (x, y), bulging by ``sagitta``
    to the left of the way; from ``bottom`` to ``top``. Collectors stand at both ends and
    taper (diameters at foot and head). A core that leans moves ``lean`` m to the left of the way for each metre of
    height; its measures along the slope are longer than its rise.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    sagitta: float
    bottom: float
    top: float
    thick: float = 0.040
    tube_pitch: float = 0.0105
    tube_height: float = 0.0021
    collector_start: tuple[float, float] = (0.050, 0.034)
    collector_end: tuple[float, float] = (0.034, 0.050)
    lean: float = 0.0

    def line(self, n: int = 41) -> tuple[Array, Array]:
        """Points (n, 2) along the middle line in plan and the directions (n, 2) across it (to the left of the way)."""
        a, b = np.array(self.start), np.array(self.end)
        t = np.linspace(0, 1, n)[:, None]
        e = (b - a) / np.linalg.norm(b - a)
        left = np.array([-e[1], e[0]])
        if abs(self.sagitta) < 1e-6:
            return a + t * (b - a), np.broadcast_to(left, (n, 2)).copy()
        half = float(np.linalg.norm(b - a)) / 2
        R = (half**2 + self.sagitta**2) / (2 * abs(self.sagitta))
        phi = np.arcsin(half / R)
        s = np.sign(self.sagitta)
        centre = (a + b) / 2 + left * (self.sagitta - s * R)
        w = np.linspace(-phi, phi, n)[:, None]
        across = np.cos(w) * left * s + np.sin(w) * e
        return centre + R * across, across * s

    def at(self, share: ArrayLike, height: ArrayLike, depth: float = 0.0) -> Array:
        """A point of the core: share along the tubes, share of its height, depth across from its middle (m, left)."""
        q, nrm = self.line(201)
        s = np.asarray(share, float) * 200
        i = np.clip(s.astype(int), 0, 199)
        f = (s - i)[..., None]
        p = q[i] + f * (q[i + 1] - q[i])
        nn = nrm[i] + f * (nrm[i + 1] - nrm[i])
        z = self.bottom + np.asarray(height, float) * (self.top - self.bottom)
        # depth stands square on a face that leans
        p = p + nn * (depth / self.slant + self.lean * (z - self.bottom))[..., None]
        return np.concatenate([p, (z - depth * self.lean / self.slant)[..., None]], -1)

    @property
    def slant(self) -> float:
        """Length along the slope for each metre of rise."""
        return float(np.hypot(1.0, self.lean))

    @property
    def tall(self) -> float:
        """Height along the slope (m)."""
        return (self.top - self.bottom) * self.slant

    @property
    def length(self) -> float:
        q, _ = self.line(401)
        return float(np.linalg.norm(np.diff(q, axis=0), axis=1).sum())


def add_core(m: Model, name: str, c: Core, face: float) -> None:
    """The core's solids and points. ``face``: +1 or −1, the side that is marked (left or right of the way)."""
    rows, low = _tube_rows(c)
    _add_tubes(m, name, c, rows, low)
    _add_fins(m, name, c, low)
    ends = {"start": (c.collector_start, 0.0), "end": (c.collector_end, 1.0)}
    for key, (diameters, share) in ends.items():
        _add_collector(m, f"{name}.collector_{key}", c, diameters, share)
    rails = _add_face_points(m, name, c, face)
    m.cores[m.named(name)] = {
        "area_m2": _ruled_area(c, face),
        "tube_length_m": c.length,
        "height_m": c.tall,
        "thickness_m": c.thick,
        "tube_pitch_m": c.tube_pitch,
        "tube_height_m": c.tube_height,
        "tubes": rows + 1,
        "bend_sagitta_m": c.sagitta,
        "rails": rails,
        "collectors": {key: {"diameter_m": list(v[0])} for key, v in ends.items()},
    }


def _tube_rows(c: Core) -> tuple[int, float]:
    """Number of gaps between tubes, and how far along the slope the lowest tube lies."""
    room = c.tall - 0.012
    rows = int(room / c.tube_pitch)
    return rows, 0.006 + (room - rows * c.tube_pitch) / 2


def _add_tubes(m: Model, name: str, c: Core, rows: int, low: float) -> None:
    """Flat tubes with round noses, and the side plates over and under them."""
    n = 33 if c.sagitta else 2
    H = c.tall
    share = np.linspace(0.012, 0.988, n)
    half, tall = c.thick / 2 - c.tube_height / 2, c.tube_height / 2
    w = np.linspace(0, np.pi, 7)
    tubes = []
    for i in range(rows + 1):
        z = (low + i * c.tube_pitch) / H
        section = [(s * (half + tall * np.sin(a)), z - s * tall / H * np.cos(a)) for s in (1, -1) for a in w]
        tubes.append(_out(grid(np.stack([c.at(share, np.full(n, q), p) for p, q in section], 0), close_u=True)))
    m.add(f"{name}.tubes", merge(tubes), "core_tube")
    whole, h, d0 = np.linspace(0.0, 1.0, n), 0.0035 / H, c.thick / 2 + 0.001
    for key, z in (("lower", 0.0), ("upper", 1.0)):
        section = [(d0, z - h), (d0, z + h), (-d0, z + h), (-d0, z - h)]
        sheet = grid(np.stack([c.at(whole, np.full(n, q), p) for p, q in section], 0), close_u=True)
        m.add(f"{name}.side_plate_{key}", _out(sheet), "core_tube")


def _add_fins(m: Model, name: str, c: Core, low: float) -> None:
    """Fins as a wrapped picture on both faces, set back a little between the tubes."""
    H = c.tall
    t = np.linspace(0.012, 0.988, 65 if c.sagitta else 3)
    z = np.array([0.004 / H, 1 - 0.004 / H])
    u, v = (t * c.length / 0.064)[:, None], ((z * H - low) / c.tube_pitch)[None]
    uv = np.stack(np.broadcast_arrays(u, v), -1)
    one, half = np.array([0.02]), np.array([0.5])
    across = c.at(one, half, 0.01)[0] - c.at(one, half)[0]
    for s in (-1, 1):
        P = np.stack([c.at(t, np.full(len(t), q), s * (c.thick / 2 - 0.0016)) for q in z], 1)
        g = grid(P, uv=uv)
        n = np.cross(g.v[g.f[0, 1]] - g.v[g.f[0, 0]], g.v[g.f[0, 2]] - g.v[g.f[0, 0]])
        m.add(f"{name}.fins", g if n @ across * s > 0 else g.flipped(), "fins")


def _add_collector(m: Model, name: str, c: Core, diameters: tuple[float, float], share: float) -> None:
    """A tapering collector at one end of the tubes, with its header plate, welds and points."""
    at = np.array([share])
    foot, head = c.at(at, np.array([0.0]))[0], c.at(at, np.array([1.0]))[0]
    middle = c.at(at, np.array([0.5]))[0]
    e = unit(head - foot)
    L = float(np.linalg.norm(head - foot))
    q, _ = c.line(201)
    out = unit(q[0] - q[2]) if share == 0 else unit(q[-1] - q[-3])
    shift = np.array([*out, 0.0]) * (max(diameters) / 2 * 0.82)
    foot, head = foot + shift, head + shift
    z = np.linspace(-0.012, L + 0.012, 30)
    r = np.interp(z, [0, L], [diameters[0] / 2, diameters[1] / 2])
    profile = [
        (z[0] - 0.005, 0.0),
        (z[0] - 0.004, r[0] * 0.7),
        (z[0], r[0] * 0.97),
        *zip(z[1:-1], r[1:-1], strict=True),
        (z[-1], r[-1] * 0.97),
        (z[-1] + 0.004, r[-1] * 0.7),
        (z[-1] + 0.005, 0.0),
    ]
    m.add(name, lathe(profile, foot, e, 52), "cast")
    seams = ((-0.011, r[0]), (L + 0.011, r[-1]))
    m.add(f"{name}.welds", merge([d.weld(d.ring_path(foot + e * s, e, w), 0.0016) for s, w in seams]), "weld")
    size = (0.007, c.thick + 0.008, L + 0.01)
    m.add(f"{name}.header", box(middle + shift * 0.18, size, 0.002, _frame_along(out, e)), "cast")
    for tag, place, width in (("foot", foot, diameters[0]), ("head", head, diameters[1])):
        m.point(f"{name}.{tag}", place, width / 2 + 0.006, 0.6)
    m.rods[m.named(name)] = {
        "ends": [m.named(f"{name}.foot"), m.named(f"{name}.head")],
        "length_m": L,
        "diameter_m": list(diameters),
        "xyz_m": [m.placed(foot).tolist(), m.placed(head).tolist()],
    }


def _add_face_points(m: Model, name: str, c: Core, face: float) -> list[list[str]]:
    """Corners of the finned face and, on a bent core, points along its two long edges; returns those two rails."""

    def put(tag: str, share: float, z: float, radius: float, sharp: float) -> None:
        place = c.at(np.array([share]), np.array([z]), face * c.thick / 2)[0]
        m.point(f"{name}.{tag}", place, radius, sharp)

    rails = []
    for tag, z in (("lower", 0.0), ("upper", 1.0)):
        put(f"corner.start_{tag}", EDGE, z, 0.010, 0.75)
        put(f"corner.end_{tag}", 1 - EDGE, z, 0.010, 0.75)
        if c.sagitta:
            inner = [f"edge.{tag}_{i + 1}" for i in range(3)]
            for share, one in zip((0.25, 0.5, 0.75), inner, strict=True):
                put(one, share, z, 0.007, 0.5)
            rails.append([m.named(f"{name}.{p}") for p in (f"corner.start_{tag}", *inner, f"corner.end_{tag}")])
    return rails


#: Where the finned face begins and ends beside its collectors, as a share of the tubes' length.
EDGE = 0.03


def _ruled_area(c: Core, face: float) -> float:
    """Area of the face that shows between the collectors: the developed length of its edge times its height."""
    p = c.at(np.linspace(EDGE, 1 - EDGE, 801), np.zeros(801), face * c.thick / 2)
    return float(np.linalg.norm(np.diff(p, axis=0), axis=1).sum() * c.tall)


def _out(g: Mesh) -> Mesh:
    c = g.v.mean(0)
    a, b, e = (g.v[g.f[:, k]] - c for k in range(3))
    return g if float(np.einsum("ij,ij->", a, np.cross(b, e))) > 0 else g.flipped()


def _frame_along(out2: Array, up: Array) -> Array:
    """A frame whose first axis looks out of the collector and whose third runs along it."""
    x = np.array([*out2, 0.0])
    return np.stack([x, np.cross(up, x), up])


def add_fan(m: Model, name: str, centre: Array, axis: Array, radius: float, blades: int = 9, spin: float = 0.4) -> None:
    """An axial fan in its shroud: blades, hub with motor, struts. ``axis`` points downstream."""
    F = frame(axis)
    n = F[2]
    shroud = lathe(
        [
            (0.030, radius + 0.004),
            (-0.006, radius + 0.004),
            (-0.008, radius + 0.002),
            (-0.006, radius),
            (0.030, radius),
            (0.030, radius + 0.004),
        ][::-1],
        centre,
        n,
        80,
    )
    flange = lathe(
        [
            (-0.006, radius + 0.002),
            (-0.006, radius + 0.014),
            (-0.002, radius + 0.014),
            (-0.002, radius + 0.002),
        ],
        centre,
        n,
        80,
    )
    m.add(f"{name}.shroud", merge([shroud, flange]), "plastic")
    hub = lathe([(0.0, 0.0), (0.0, 0.030), (0.004, 0.034), (0.024, 0.034), (0.024, 0.0)], centre, n, 48)
    motor = lathe([(0.024, 0.0), (0.024, 0.029), (0.046, 0.027), (0.048, 0.020), (0.048, 0.0)], centre, n, 40)
    vanes = []
    for k in range(blades):
        w0 = spin + 2 * np.pi * k / blades
        r = np.linspace(0.033, radius - 0.0025, 8)
        sweep = w0 + 0.35 * ((r - 0.033) / (radius - 0.033)) ** 1.4
        half = np.linspace(0.34, 0.20, 8)
        for s in (1,):
            t = np.linspace(-1, 1, 7)
            ang = sweep[:, None] + half[:, None] * t[None]
            z = 0.012 + 0.0085 * t[None] * np.linspace(1.25, 0.75, 8)[:, None] - 0.002 * t[None] ** 2
            P = (
                centre
                + (r[:, None] * np.cos(ang))[..., None] * F[0]
                + (r[:, None] * np.sin(ang))[..., None] * F[1]
                + z[..., None] * n
            )
            from longlens.demo.panels import shell

            vanes.append(shell(P, P + n * 0.0016 * s))
    m.add(f"{name}.blades", merge([hub, *vanes]), "plastic")
    m.add(f"{name}.motor", motor, "steel_dark")
    struts = [
        rod(
            centre + n * 0.036 + (np.cos(w) * F[0] + np.sin(w) * F[1]) * 0.024,
            centre + n * 0.026 + (np.cos(w) * F[0] + np.sin(w) * F[1]) * (radius + 0.002),
            0.0035,
            12,
        )
        for w in np.linspace(0, 2 * np.pi, 4, endpoint=False) + 0.3
    ]
    m.add(f"{name}.struts", merge(struts), "plastic")
    m.point(f"{name}.hub", centre + n * 0.048, 0.014, 0.6)
    m.circle(f"{name}.shroud", centre + n * 0.030, n, radius + 0.004)


def add_pipe(
    m: Model,
    name: str,
    path: Array,
    diameter: float,
    material: str,
    hoses: bool = True,
    brackets: tuple[tuple[float, ArrayLike], ...] = (),
    carries: str = "",
    tape: float | None = None,
) -> None:
    """A pipe along its centre line, with hose ends in clamps and brackets at shares of its length (share, foot).

    ``tape``: the share of its length, on a straight stretch, where two bands of tape show what it carries; between
    them its outline can be marked and its diameter read.
    """
    m.add(f"{name}.wall", tube(path, diameter / 2, 36), material)
    if hoses:
        for lo, hi in ((0.0, 0.10), (0.90, 1.0)):
            q = np.array([d.along(path, s)[0] for s in np.linspace(lo, hi, 14)])
            m.add(f"{name}.hose", tube(q, diameter / 2 + 0.0042, 36), "hose")
        for s in (0.015, 0.085, 0.915, 0.985):
            p, e = d.along(path, s)
            m.add(f"{name}.clamp", d.hose_clamp(p, e, diameter / 2 + 0.0042), "steel")
    for k, (s, foot) in enumerate(brackets):
        p, e = d.along(path, s)
        metal, liner = d.p_clip(p, e, diameter / 2, foot)
        m.add(f"{name}.bracket_{k + 1}", metal, "steel")
        m.add(f"{name}.bracket_{k + 1}.liner", liner, "rubber")
        m.point(f"{name}.bracket_{k + 1}", foot, 0.008, 0.7)
    if tape is not None:
        p, e = d.along(path, tape)
        ends = [p + e * (s * TAPE) for s in (-1, 1)]
        r = diameter / 2
        ring = [(-0.006, r), (-0.006, r + 0.0005), (0.006, r + 0.0005), (0.006, r)]
        m.add(f"{name}.tape", merge([lathe(ring, q, e, 40) for q in ends]), "mustard")
        for k, q in enumerate(ends):
            m.point(f"{name}.tape_{k + 1}", q, r + 0.002, 0.7)
        m.rod(name, f"{name}.tape_1", f"{name}.tape_2", diameter, *ends)
    m.pipe(name, path, diameter, carries=carries)


#: Half the distance between a pipe's two bands of tape, m.
TAPE = 0.022


def add_header_tank(m: Model, name: str, centre: ArrayLike, size: tuple[float, float, float]) -> Array:
    """A header tank with cap, level tube and lugs; returns the place of its bleed union."""
    c = np.asarray(centre, float)
    m.add(f"{name}.body", box(c, size, 0.016, k=6), "tank")
    r = np.array(size) / 2
    seam = [(r[0], r[1]), (-r[0], r[1]), (-r[0], -r[1]), (r[0], -r[1])]
    from longlens.demo.solids import rounded_outline

    q = rounded_outline(np.array(seam), 0.016, 6)
    q = np.vstack([q, q[:1]])
    m.add(
        f"{name}.seam",
        d.weld(np.concatenate([q + c[:2], np.full((len(q), 1), c[2] + r[2] * 0.2)], 1), 0.0018),
        "weld",
    )
    top = c + np.array([0, 0, r[2]])
    m.add(
        f"{name}.cap",
        merge(
            [
                lathe(
                    [(-0.002, 0), (-0.002, 0.024), (0.010, 0.024), (0.010, 0.020), (0.014, 0.020), (0.014, 0)],
                    top + np.array([0.02, 0, 0]),
                    (0, 0, 1),
                    44,
                ),
                box(top + np.array([0.02, 0, 0.016]), (0.050, 0.010, 0.006), 0.002),
            ]
        ),
        "anodised",
    )
    m.point(f"{name}.cap", top + np.array([0.02, 0, 0.016]), 0.014, 0.6)
    union = c + np.array([r[0] * 0.2, r[1] + 0.004, r[2] * 0.55])
    m.add(
        f"{name}.union",
        lathe(
            [(-0.006, 0), (-0.006, 0.009), (0.006, 0.009), (0.010, 0.006), (0.018, 0.006)],
            union,
            (0, 1, 0),
            6,
        ),
        "anodised",
    )
    m.other[m.named(name)] = {"centre_m": m.placed(c).tolist(), "size_m": list(size)}
    return union
