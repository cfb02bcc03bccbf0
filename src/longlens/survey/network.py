"""The network: an exchange document turned into arrays of unknowns and observations.

A *body* is a point that is solved for. Exact mirror twins are one body seen twice, with the sign of y turned; a point on
the centre plane or on the ground is a body with two free coordinates. Three *families* of bodies differ in how the
adjustment eliminates them: ``DENSE`` ones are tied to others by facts or circles and stay in the reduced system,
``SINGLE`` ones stand alone (3 unknowns), ``PAIR`` ones are twins that may differ a little (6 unknowns together).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from longlens.dossier.exchange import LENGTH_UNITS, ExchangeDocument, Fact
from longlens.survey.camera import Array
from longlens.survey.rigid import compile_equal
from longlens.survey.rigid import tied as equal_ties

DENSE, SINGLE, PAIR = 0, 1, 2
BLOCK = {SINGLE: 3, PAIR: 6}

#: Relative radial shift in the picture's corner (the exchange document's prior).
KAPPA_SD = 0.01
#: A focal length "free" by the exchange document still keeps this log-normal leash (a factor of 20 either way).
FREE_LOGF_SD = 3.0
#: Half the default knowledge of the principal point, as a part of the width.
PRINCIPAL_SD = 0.005
#: A "free" principal point's leash, as a part of the width.
FREE_PRINCIPAL_SD = 1.0
#: Constraints that are exact in the document but carried as observations (m or rad).
STIFF = 1e-5
#: Exact facts (sd 0) are held this well (m).
STIFF_FACT = 1e-6
#: Ride height (m), pitch and roll (rad) of another stance against the static one.
STANCE_GROUND_SD = (0.1, 0.05, 0.05)


@dataclass
class State:
    """Values of all unknowns; every array may carry leading axes (draws)."""

    R: Array  # (..., S, 3, 3) vehicle to camera
    C: Array  # (..., S, 3) m
    principal: Array  # (..., S, 2) px
    logf: Array  # (..., G)
    kappa: Array  # (..., G)
    X: Array  # (..., B, 3) bodies, m
    normal: Array  # (..., M, 3) circle axes, unit
    radius: Array  # (..., Q) m
    ground: Array  # (..., T, 3) height m, slopes along x and y, of the ground in each stance

    def copy(self) -> State:
        return State(**{k: v.copy() for k, v in self.__dict__.items()})

    def take(self, k: int) -> State:
        """Draw k."""
        return State(**{name: v[k] for name, v in self.__dict__.items()})


@dataclass
class Network:
    """Index arrays of one document. Lengths: S shots, G cameras, B bodies, M circles, Q radii, T stances."""

    document: ExchangeDocument
    shots: list[str]
    cameras: list[str]
    points: list[str]
    circles: list[str]
    stances: list[str]

    size: Array = field(init=False)  # (S, 2) width, height
    camera_of: np.ndarray = field(init=False)  # (S,)
    stance_of: np.ndarray = field(init=False)  # (S,)
    rho: Array = field(init=False)  # (G,) px
    principal0: Array = field(init=False)  # (S, 2)
    principal_sd: Array = field(init=False)  # (S,)
    cropped: np.ndarray = field(init=False)  # (S,) bool
    logf0: Array = field(init=False)  # (G,)
    logf_sd: Array = field(init=False)  # (G,)

    body_of: np.ndarray = field(init=False)  # (P,)
    sign: Array = field(init=False)  # (P,) of y
    free: np.ndarray = field(init=False)  # (B, 3) bool
    family: np.ndarray = field(init=False)  # (B,)
    slot: np.ndarray = field(init=False)  # (B,) place within the family
    part: np.ndarray = field(init=False)  # (B,) 0 or 1 within a pair
    soft: list = field(init=False)  # (body, body, sd) of twins that may differ
    soft_body: np.ndarray = field(init=False)  # (n, 2)
    soft_sd: Array = field(init=False)
    count: dict = field(init=False)  # blocks in each family
    circle_body: np.ndarray = field(init=False)  # (M,)
    circle_sign: Array = field(init=False)
    radius_of: np.ndarray = field(init=False)  # (M,) circles of one diameter share a radius
    radii: int = field(init=False)
    inferred: set = field(init=False)  # numbers of marks that are drawn, not fitted
    mark_id: np.ndarray = field(init=False)  # (n,) number of the mark in the document; point marks
    mark_shot: np.ndarray = field(init=False)
    mark_point: np.ndarray = field(init=False)
    mark_body: np.ndarray = field(init=False)
    mark_sign: Array = field(init=False)
    mark_xy: Array = field(init=False)
    mark_sd: Array = field(init=False)
    edge_id: np.ndarray = field(init=False)  # (n,) likewise; rim edge points
    edge_shot: np.ndarray = field(init=False)
    edge_circle: np.ndarray = field(init=False)
    edge_xy: Array = field(init=False)
    edge_sd: Array = field(init=False)
    distance_id: np.ndarray = field(init=False)  # (n,) number of the fact; lengths between points a and b
    distance_a: np.ndarray = field(init=False)
    distance_b: np.ndarray = field(init=False)
    distance_axis: np.ndarray = field(init=False)  # −1 straight, else 0, 1, 2
    distance_value: Array = field(init=False)
    distance_sd: Array = field(init=False)
    diameter_id: np.ndarray = field(init=False)
    diameter_radius: np.ndarray = field(init=False)
    diameter_value: Array = field(init=False)
    diameter_sd: Array = field(init=False)
    position_id: np.ndarray = field(init=False)
    position_point: np.ndarray = field(init=False)
    position_xyz: Array = field(init=False)
    position_sd: Array = field(init=False)
    lateral: np.ndarray = field(init=False)  # circles whose axis is lateral
    lateral_sd: Array = field(init=False)
    level: np.ndarray = field(init=False)  # pairs of bodies taken as equally high
    level_sd: Array = field(init=False)
    equal_id: np.ndarray = field(init=False)  # (n,) number of the equal length; its four points, see rigid
    equal_points: np.ndarray = field(init=False)
    equal_sd: Array = field(init=False)
    equal_on: bool = field(init=False)
    ground_bodies: dict = field(init=False)
    ground_body: np.ndarray = field(init=False)  # bodies on a ground whose place is to be found, and its stance
    ground_stance: np.ndarray = field(init=False)
    ground_used: np.ndarray = field(init=False)  # (T,) stances
    ground_sd: Array = field(init=False)
    at_shot: int = field(init=False)  # first columns of the reduced system
    at_camera: int = field(init=False)
    at_circle: int = field(init=False)
    at_radius: int = field(init=False)
    at_ground: int = field(init=False)
    at_body: int = field(init=False)
    columns: int = field(init=False)
    _shot_index: dict = field(init=False, repr=False)
    _point_index: dict = field(init=False, repr=False)
    _circle_index: dict = field(init=False, repr=False)
    #: A window on the focal lengths: direction (G,), centre (G,) of log f, shift along it, standard deviation.
    pin: tuple | None = None

    def point(self, pid: str) -> int:
        return self._point_index[pid]

    def shot(self, sid: str) -> int:
        return self._shot_index[sid]

    def circle(self, cid: str) -> int:
        return self._circle_index[cid]


def scale_of(fact: Fact) -> float:
    """Metres in the fact's unit."""
    return LENGTH_UNITS[fact.unit]


def compile_network(
    doc: ExchangeDocument,
    *,
    without_shots: frozenset[str] = frozenset(),
    without_points: frozenset[str] = frozenset(),
    without_circles: frozenset[str] = frozenset(),
    without_facts: frozenset[str] = frozenset(),
    free_ground: bool = False,
) -> Network:
    """Turn a document into index arrays.

    Parameters
    ----------
    doc : a checked document.
    without_shots, without_points, without_circles, without_facts : ids to leave out (they are not determined, or wrong).
    free_ground : let the height of the static ground be found (positions were given in a frame whose z = 0 is elsewhere).
    """
    shots = [s for s in doc.shots if s.id not in without_shots]
    points = [p for p in doc.points if p.id not in without_points]
    circles = [c for c in doc.circles if c.id not in without_circles]
    net = Network(
        doc,
        [s.id for s in shots],
        list(dict.fromkeys(_camera_key(s) for s in shots)),
        [p.id for p in points],
        [c.id for c in circles],
        _stances(shots),
    )
    net._shot_index = {s: i for i, s in enumerate(net.shots)}
    net._point_index = {p: i for i, p in enumerate(net.points)}
    net._circle_index = {c: i for i, c in enumerate(net.circles)}
    _cameras(net, shots)
    _bodies(net, points, circles)
    _observations(net, points, circles, without_facts, free_ground)
    compile_equal(net)
    _families(net)
    _columns(net)
    return net


def _camera_key(shot) -> str:
    return f"camera:{shot.camera}" if shot.camera is not None else f"shot:{shot.id}"


def _stances(shots) -> list[str]:
    """Stances, the one whose ground is z = 0 first: the one named static, else the most photographed."""
    count = Counter(s.stance for s in shots)
    return sorted(count, key=lambda s: (s != "static", -count[s]))


def _cameras(net: Network, shots) -> None:
    net.size = np.array([[s.width, s.height] for s in shots], float).reshape(-1, 2)
    net.camera_of = np.array([net.cameras.index(_camera_key(s)) for s in shots], int)
    net.stance_of = np.array([net.stances.index(s.stance) for s in shots], int)
    half_diagonal = np.hypot(*net.size.T) / 2
    G = len(net.cameras)
    net.rho = np.array([half_diagonal[net.camera_of == g].max() for g in range(G)])
    centre = (net.size - 1) / 2
    net.principal0, net.principal_sd = centre.copy(), np.empty(len(shots))
    net.cropped = np.array([s.cropped for s in shots], bool)
    for i, s in enumerate(shots):
        if s.principal_px is not None:
            net.principal0[i] = s.principal_px
        if s.principal_sd_px is not None:
            net.principal_sd[i] = s.principal_sd_px
        elif s.cropped and s.principal_px is None:
            net.principal_sd[i] = FREE_PRINCIPAL_SD * s.width
        else:
            net.principal_sd[i] = PRINCIPAL_SD * s.width
    net.logf0 = np.log([1.2 * net.size[net.camera_of == g].max() for g in range(G)])
    net.logf_sd = np.full(G, FREE_LOGF_SD)
    for g in range(G):
        given = {  # the same figure stated on several shots of one camera is one piece of knowledge
            (s.focal_px, s.focal_sd_px) for i, s in enumerate(shots) if net.camera_of[i] == g and s.focal_px is not None
        }
        if given:
            w = np.array([(f / sd) ** 2 for f, sd in given])
            net.logf0[g] = np.sum(w * np.log(np.array([f for f, _ in given]))) / w.sum()
            net.logf_sd[g] = w.sum() ** -0.5


def _bodies(net: Network, points, circles) -> None:
    index = {p.id: i for i, p in enumerate(points)}
    net.body_of = np.full(len(points), -1)
    net.sign = np.ones(len(points))
    twin: dict[int, tuple[int, float]] = {}
    for i, p in enumerate(points):
        if p.mirror is not None and p.mirror in index:
            j = index[p.mirror]
            sd = max(p.mirror_sd, points[j].mirror_sd if points[j].mirror == p.id else 0.0)
            twin[i], twin[j] = (j, sd), (i, sd)
    free: list[list[bool]] = []
    ground_bodies: dict[int, int] = {}
    net.soft = []  # (body, body, sd)
    for i, p in enumerate(points):
        if net.body_of[i] >= 0:
            continue
        b = len(free)
        free.append([True, p.on != "centre_plane", True])
        net.body_of[i] = b
        if i in twin:
            j, sd = twin[i]
            if sd == 0.0:
                net.body_of[j], net.sign[j] = b, -1.0
            else:
                free.append([True, True, True])
                net.body_of[j] = b + 1
                net.soft.append((b, b + 1, sd))
    for i, p in enumerate(points):
        if p.on == "ground":
            ground_bodies[int(net.body_of[i])] = i
    for _ in range(sum(c.centre is None or c.centre not in index for c in circles)):
        free.append([True, True, True])
    net.free = np.array(free, bool).reshape(-1, 3)
    own = iter(range(len(free) - sum(c.centre is None or c.centre not in index for c in circles), len(free)))
    net.circle_body = np.empty(len(circles), int)
    net.circle_sign = np.ones(len(circles))
    for m, c in enumerate(circles):
        if c.centre is not None and c.centre in index:
            net.circle_body[m] = net.body_of[index[c.centre]]
            net.circle_sign[m] = net.sign[index[c.centre]]
        else:
            net.circle_body[m] = next(own)
    net.ground_bodies = ground_bodies


def _observations(net: Network, points, circles, without_facts, free_ground) -> None:
    doc = net.document
    pm, em = [], []
    net.inferred = set()
    for k, m in enumerate(doc.marks):
        if m.shot not in net._shot_index:
            continue
        if m.inferred:
            net.inferred.add(k)
            continue
        s = net.shot(m.shot)
        if m.point is not None and m.point in net._point_index:
            pm.append((k, s, net.point(m.point), m.x, m.y, m.sd_px))
        elif m.circle is not None and m.circle in net._circle_index:
            em += [(k, s, net.circle(m.circle), x, y, m.sd_px) for x, y in m.edge or ()]
    pm.sort(key=lambda row: (row[1], row[2]))
    em.sort(key=lambda row: (row[1], row[2]))
    table = np.array(pm, float).reshape(-1, 6)
    net.mark_id, net.mark_shot, net.mark_point = table[:, :3].astype(int).T
    net.mark_xy, net.mark_sd = table[:, 3:5].copy(), table[:, 5].copy()
    net.mark_body, net.mark_sign = net.body_of[net.mark_point], net.sign[net.mark_point]
    table = np.array(em, float).reshape(-1, 6)
    net.edge_id, net.edge_shot, net.edge_circle = table[:, :3].astype(int).T
    net.edge_xy, net.edge_sd = table[:, 3:5].copy(), table[:, 5].copy()
    _facts(net, points, circles, without_facts)
    _ground(net, free_ground)
    lateral = [(m, np.radians(c.axis_sd_deg)) for m, c in enumerate(circles) if c.axis == "lateral"]
    net.lateral = np.array([m for m, _ in lateral], int)
    net.lateral_sd = np.maximum(np.array([sd for _, sd in lateral], float), STIFF)


def _facts(net: Network, points, circles, without_facts) -> None:
    net.radius_of = np.arange(len(circles))
    distances, diameters, positions = [], [], []
    facts = [(k, f) for k, f in enumerate(net.document.facts) if f.id not in without_facts]
    for _, f in facts:  # circles of one diameter fact share one radius
        members = [net.circle(c) for c in f.diameter or () if c in net._circle_index]
        for m in members[1:]:
            old, new = net.radius_of[m], net.radius_of[members[0]]
            net.radius_of[net.radius_of == old] = new
    _, net.radius_of = np.unique(net.radius_of, return_inverse=True)
    for k, f in facts:
        unit, sd = scale_of(f), max(f.sd * scale_of(f), STIFF_FACT)
        if f.distance is not None and all(p in net._point_index for p in f.distance):
            a, b = (net.point(p) for p in f.distance)
            axis = {"x": 0, "y": 1, "z": 2, None: -1}[f.along]
            distances.append((k, a, b, axis, abs(_number(f)) * unit, sd))
        elif f.diameter is not None and any(c in net._circle_index for c in f.diameter):
            m = next(net.circle(c) for c in f.diameter if c in net._circle_index)
            diameters.append((k, net.radius_of[m], _number(f) * unit, sd))
        elif f.position is not None and f.position in net._point_index:
            positions.append((k, net.point(f.position), *(np.array(f.value) * unit), sd))
    t = np.array(distances, float).reshape(-1, 6)
    net.distance_id, net.distance_a, net.distance_b, net.distance_axis = t[:, :4].astype(int).T
    net.distance_value, net.distance_sd = t[:, 4].copy(), t[:, 5].copy()
    t = np.array(diameters, float).reshape(-1, 4)
    net.diameter_id, net.diameter_radius = t[:, :2].astype(int).T
    net.diameter_value, net.diameter_sd = t[:, 2].copy(), t[:, 3].copy()
    t = np.array(positions, float).reshape(-1, 6)
    net.position_id, net.position_point = t[:, :2].astype(int).T
    net.position_xyz, net.position_sd = t[:, 2:5].copy(), t[:, 5].copy()
    net.level = np.empty((0, 2), int)  # pairs of bodies taken as equally high, where nothing else fixes the pitch
    net.level_sd = np.empty(0)


def _number(fact: Fact) -> float:
    assert not isinstance(fact.value, tuple)  # the document's check has seen to it
    return fact.value


def _ground(net: Network, free_ground: bool) -> None:
    """Ground bodies of the static stance lie on z = 0 exactly; those of other stances on a plane of their own."""
    seen: dict[int, Counter] = {}
    for b, s in zip(net.mark_body, net.mark_shot, strict=True):
        if int(b) in net.ground_bodies:
            seen.setdefault(int(b), Counter())[int(net.stance_of[s])] += 1
    rows = []
    for b in net.ground_bodies:
        stance = seen[b].most_common(1)[0][0] if b in seen else 0
        if stance == 0 and not free_ground:
            net.free[b, 2] = False
        else:
            rows.append((b, stance))
    net.ground_body = np.array([b for b, _ in rows], int)
    net.ground_stance = np.array([t for _, t in rows], int)
    used = sorted(set(net.ground_stance.tolist()))
    net.ground_used = np.array(used, int)
    sd = np.array([STANCE_GROUND_SD] * len(used), float).reshape(-1, 3)
    if free_ground and used and used[0] == 0:
        sd[0] = (100.0, STIFF, STIFF)  # only its height is asked
    net.ground_sd = sd


def _families(net: Network) -> None:
    B = len(net.free)
    net.family = np.full(B, SINGLE)
    net.part = np.zeros(B, int)
    for a, b, _ in net.soft:
        net.family[[a, b]] = PAIR
        net.part[b] = 1
    tied = set(net.circle_body.tolist())
    for table in (net.distance_a, net.distance_b):
        tied |= set(net.body_of[table].tolist())
    tied |= set(net.level.ravel().tolist()) | equal_ties(net)
    for a, b, _ in net.soft:  # if one of a pair is tied, both stay in the reduced system
        if a in tied or b in tied:
            tied |= {a, b}
    net.family[list(tied)] = DENSE
    net.slot = np.zeros(B, int)
    for fam in (DENSE, SINGLE):
        members = np.flatnonzero(net.family == fam)
        net.slot[members] = np.arange(len(members))
    pairs = [(a, b) for a, b, _ in net.soft if net.family[a] == PAIR]
    for k, (a, b) in enumerate(pairs):
        net.slot[[a, b]] = k
    net.count = {
        DENSE: int((net.family == DENSE).sum()),
        SINGLE: int((net.family == SINGLE).sum()),
        PAIR: len(pairs),
    }
    soft = np.array([(a, b) for a, b, _ in net.soft], int).reshape(-1, 2)
    net.soft_body, net.soft_sd = soft, np.array([sd for *_, sd in net.soft], float)


def _columns(net: Network) -> None:
    """Columns of the reduced system: shots 8 each, cameras 2, circles 2, radii 1, grounds 3, tied bodies 3."""
    S, G, M = len(net.shots), len(net.cameras), len(net.circles)
    Q, T = int(net.radius_of.max() + 1) if M else 0, len(net.ground_used)
    start = np.cumsum([0, 8 * S, 2 * G, 2 * M, Q, 3 * T, 3 * net.count[DENSE]])
    net.at_shot, net.at_camera, net.at_circle, net.at_radius, net.at_ground, net.at_body = (int(x) for x in start[:6])
    net.columns = int(start[6])
    net.radii = Q


def shot_columns(net: Network, shot: np.ndarray) -> np.ndarray:
    """(n, 10): rotation 3, place 3, principal point 2, log f, kappa."""
    first = net.at_shot + 8 * shot[:, None] + np.arange(8)
    second = net.at_camera + 2 * net.camera_of[shot][:, None] + np.arange(2)
    return np.concatenate([first, second], axis=1)


def body_columns(net: Network, body: np.ndarray) -> np.ndarray:
    """(n, 3) columns of tied bodies."""
    return net.at_body + 3 * net.slot[body][:, None] + np.arange(3)


def blank_state(net: Network) -> State:
    """A state with the priors' values and everything else at the origin."""
    S, B, M = len(net.shots), len(net.free), len(net.circles)
    normal = np.zeros((M, 3))
    normal[:, 1] = 1.0
    return State(
        R=np.tile(np.eye(3), (S, 1, 1)),
        C=np.zeros((S, 3)),
        principal=net.principal0.copy(),
        logf=net.logf0.copy(),
        kappa=np.zeros(len(net.cameras)),
        X=np.zeros((B, 3)),
        normal=normal,
        radius=np.ones(net.radii),
        ground=np.zeros((len(net.ground_used), 3)),
    )


def place_points(net: Network, state: State) -> Array:
    """(..., P, 3) places of all points of the document that are in the network."""
    X = state.X[..., net.body_of, :].copy()
    X[..., 1] *= net.sign
    return X


def circle_centres(net: Network, state: State) -> Array:
    """(..., M, 3)."""
    X = state.X[..., net.circle_body, :].copy()
    X[..., 1] *= net.circle_sign
    return X
