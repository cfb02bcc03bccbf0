"""The survey from end to end: an exchange document in, a solution with draws and the exchange answer out."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.special import chdtrc

from longlens.dossier.exchange import ExchangeDocument, Measure
from longlens.errors import NotSolvable
from longlens.survey.adjust import Covariance, Fit, adjust, covariance
from longlens.survey.camera import Array
from longlens.survey.datum import NAMES, Datum, find_datum, moved_state, scene_size
from longlens.survey.determine import Determined, count_out
from longlens.survey.draws import Draws, body_covariance, draw, mixed, states_of, unknowns_of
from longlens.survey.measures import POWER, evaluator, points_of, unit_of
from longlens.survey.network import FREE_LOGF_SD, KAPPA_SD, Network, compile_network, place_points
from longlens.survey.observations import edge_marks, point_marks
from longlens.survey.rigid import couple
from longlens.survey.rivals import Rival, find_rivals
from longlens.survey.screen import Screened, screen
from longlens.survey.sides import on_the_wrong_side
from longlens.survey.start import POOR, find_start, in_the_lens

Progress = Callable[[str, float], None]

#: A length known no better than this part of itself is refused rather than given.
HOPELESS = 0.6
#: The same for a focal length (standard deviation of its logarithm): it is reported, with a warning.
FOCAL_LOOSE = 0.15


#: A pitch known worse than this (rad) is helped by taking the wheel centres as level, and that is said.
LOOSE_PITCH = 0.03


@dataclass
class Refusal:
    """Why a measure is not given, and what would make it so."""

    reason: str
    needs: list[str]


@dataclass
class Solution:
    """What a survey found. ``values`` by measure: best value and (N,) draws; ``refused`` by measure."""

    net: Network
    fit: Fit
    cov: Covariance
    datum: Datum
    screened: Screened
    drawn: Draws
    sigma0: float
    redundancy: int
    inflate: float
    values: dict[str, tuple[float, Array]] = field(default_factory=dict)
    refused: dict[str, Refusal] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    left_out: Determined = field(default_factory=Determined)
    suspects: list[dict[str, Any]] = field(default_factory=list)
    suspect_facts: list[dict[str, Any]] = field(default_factory=list)
    rivals: list[Rival] = field(default_factory=list)
    wrong_side: dict[str, float] = field(default_factory=dict)

    def draws(self, measure_id: str) -> Array:
        """(N,) joint draws of a measure, SI; draw k of every measure belongs to the same car."""
        return self.values[measure_id][1]

    def places(self) -> dict[str, Array]:
        """(N, 3) joint draws of every point, m."""
        P = place_points(self.net, self.drawn.state)
        return {pid: P[:, i] for i, pid in enumerate(self.net.points)}

    def answer(self) -> dict[str, Any]:
        """The exchange answer, plain JSON types."""
        from longlens.survey.report import answer

        return answer(self)


def solve(
    document: ExchangeDocument, *, seed: int = 0, draws: int = 2000, progress: Progress | None = None
) -> Solution:
    """Survey a document.

    Parameters
    ----------
    document : checked by ``read_exchange``.
    seed, draws : of the joint draws; the same document and seed give the same draws.
    progress : called with a word and a part done, 0 to 1.

    Raises
    ------
    NotSolvable : with what would make it solvable.
    """
    tell = progress or (lambda word, part: None)
    left_out = _check_counts(document)
    net, fit, free_ground, notes = _start(document, left_out, tell)
    tell("adjusting", 0.5)
    if len(net.equal_sd):
        fit = adjust(net, couple(net, fit.state), robust=3.0, tolerance=1e-6) or fit
    datum = find_datum(net, fit.state, fit.normal)
    if _lay_origin(net, fit, datum):
        datum = find_datum(net, fit.state, fit.normal)
    notes += _lay_level(net, fit, datum)
    if len(net.level):
        fit = adjust(net, fit.state, robust=3.0, tolerance=1e-6) or fit
        datum = find_datum(net, fit.state, fit.normal)
    screened = screen(net, fit, datum.null)
    if screened is None:
        raise NotSolvable("the adjustment does not settle", needs=["marks of more points on two or more photographs"])
    if screened.weights["mark"].size and screened.weights["mark"].mean() < 0.5:
        raise NotSolvable(
            "more than half of the marks contradict each other",
            needs=["a check that the same names mean the same parts on all shots, and left and right are not swapped"],
        )
    fit = screened.fit
    if sunk := in_the_lens(net, fit.state):
        return _without_sunken(document, sunk, seed=seed, draws=draws, progress=progress)
    datum = find_datum(net, fit.state, fit.normal)
    cov = covariance(net, fit.normal, datum.null)
    assert cov is not None
    sigma0, redundancy, inflate = _variance_factor(net, screened, datum)
    tell("drawing", 0.7)
    rng = np.random.default_rng(_seed(document, seed))
    drawn = draw(net, fit, cov, screened.weights, rng, draws, inflate, progress)
    rivals = find_rivals(net, screened)
    drawn = _with_rivals(net, drawn, fit, rivals, rng, inflate, progress)
    out = Solution(net, fit, cov, datum, screened, drawn, sigma0, redundancy, inflate, left_out=left_out, rivals=rivals)
    out.warnings += notes
    _look_at_sides(out)
    _measure(out, rng)
    _name_suspects(out)
    _warn(out, free_ground)
    tell("done", 1.0)
    if not _anything(out):
        raise _why_nothing(out)
    return out


def _without_sunken(document: ExchangeDocument, sunk: list[str], **how: Any) -> Solution:
    """Solve again without the marks of points into which a camera has sunk: they do not say how high it stood."""
    reason = "its marks do not say how high the camera stood over what it lies on: the camera sinks into it"
    needs = "a mark of it on a second photograph, or three marks on the ground, well apart"
    slim = document.model_copy(update={"marks": [m for m in document.marks if m.point not in sunk]})
    try:
        out = solve(slim, **how)
    except NotSolvable as error:
        raise NotSolvable(f"{error.what} ({', '.join(sunk)}: {reason})", needs=[*error.needs, needs]) from None
    for point in sunk:
        out.left_out.points[point] = (f"point {point} was left out: {reason}", needs)
        out.warnings.append(f"point {point} was left out: {reason}; what would help: {needs}")
    return out


def _seed(document: ExchangeDocument, seed: int) -> int:
    fitted = sum(not m.inferred for m in document.marks)
    text = f"{seed}|{document.vehicle.name}|{fitted}|{sorted(s.id for s in document.shots)}"
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")


def _check_counts(doc: ExchangeDocument) -> Determined:
    if not doc.shots:
        raise NotSolvable("there is no photograph", needs=["one photograph with marks"])
    if not any(not m.inferred for m in doc.marks):
        raise NotSolvable("there are no marks to fit", needs=["marks of at least four points, or of two wheel circles"])
    out = count_out(doc)
    if len(out.shots) == len(doc.shots):
        reasons = "; ".join(sorted({r for r, _ in out.shots.values()})[:5])
        needs = [n for _, n in list(out.shots.values())[:5]]
        raise NotSolvable(reasons, needs=_ways_in(doc, needs))
    return out


def _ways_in(doc: ExchangeDocument, needs: list[str]) -> list[str]:
    if len(doc.shots) == 1:
        return [*needs, "or the twins across the car of three marked points", "or the edges of two wheels of one side"]
    return needs


def _compile(doc: ExchangeDocument, left: Determined, free_ground: bool = False) -> Network:
    return compile_network(
        doc,
        without_shots=frozenset(left.shots),
        without_points=frozenset(left.points),
        without_circles=frozenset(left.circles),
        free_ground=free_ground,
    )


def _start(doc: ExchangeDocument, left: Determined, tell: Progress) -> tuple[Network, Fit, bool, list[str]]:
    """Network and robust fit; shots that cannot be tied to the others are left out, one round after another."""
    for _ in range(len(doc.shots)):
        net = _compile(doc, left)
        got = find_start(net, tell)
        if got.fit is not None and got.quality == POOR and (misfits := _circles_that_misfit(net, got.fit)):
            left.circles.update(misfits)
            _recount(doc, left)
            net = _compile(doc, left)
            got = find_start(net, tell)
        if got.fit is not None:
            break
        unposed = [s for s, ok in zip(net.shots, got.posed, strict=True) if not ok]
        if not got.posed.any() or not unposed:
            needs = ["marks of the same points on more photographs", "or the twins across the car of marked points"]
            raise NotSolvable("no start could be found from these marks", needs=_ways_in(doc, needs))
        for s in unposed:
            left.shots[s] = (
                f"shot {s} could not be tied to the others",
                f"two more marks on shot {s} of points seen elsewhere",
            )
        _recount(doc, left)
        if len(left.shots) == len(doc.shots):
            raise NotSolvable("no start could be found from these marks", needs=[n for _, n in left.shots.values()][:5])
    else:
        raise NotSolvable(
            "no start could be found from these marks", needs=["more marks of points seen on several shots"]
        )
    fit, free_ground = _upright(net, got.fit), False
    notes = [] if got.quality < POOR else [
        "the marks fit worse than their stated errors: some marks or facts contradict each other, or the errors are larger"
    ]  # fmt: skip
    if len(net.position_sd) >= 3 and net.ground_bodies:
        net, fit, free_ground = _settle_ground(doc, left, net, fit)
    return net, fit, free_ground, notes


def _upright(net: Network, fit: Fit) -> Fit:
    """Half a turn about y changes no residual where only the centre plane and the ground are given; cameras are held upright,
    so of the two the one is taken in which they are."""
    st = fit.state
    if len(net.position_sd) or np.mean(st.R[:, 1, 2]) <= 0:  # the picture's down points down
        return fit
    half = np.array([-1.0, 1.0, -1.0])
    turned = st.copy()
    turned.X, turned.C, turned.R, turned.normal = st.X * half, st.C * half, st.R * half, st.normal * half
    turned.ground = st.ground * [-1.0, 1.0, -1.0]
    return adjust(net, turned, robust=3.0, tolerance=1e-6) or fit


def _circles_that_misfit(net: Network, fit: Fit) -> dict[str, tuple[str, str]]:
    """Circles whose edge points do not lie on any one ellipse that the rest allows: they must not spoil the rest."""
    r, _ = edge_marks(net, fit.state, fit.theta, derivatives=False) if len(net.edge_xy) else (np.zeros((0, 1)), None)
    out = {}
    for m, cid in enumerate(net.circles):
        mine = np.abs(r[net.edge_circle == m, 0])
        if len(mine) and np.median(mine) > 6:
            out[cid] = (
                f"the edge points of circle {cid} do not fit what else is known of it, and were left out",
                f"a look at the marks of {cid}, or its edge on a second photograph",
            )
    return out


def _recount(doc: ExchangeDocument, left: Determined) -> None:
    slim = doc.model_copy(
        update={
            "shots": [s for s in doc.shots if s.id not in left.shots],
            "marks": [m for m in doc.marks if m.shot not in left.shots and m.circle not in left.circles],
        }
    )
    again = count_out(slim)
    left.shots.update(again.shots)
    left.points.update(again.points)
    left.circles.update(again.circles)


def _settle_ground(doc, left, net: Network, fit: Fit) -> tuple[Network, Fit, bool]:
    """Positions may be given in a frame whose z = 0 is not the ground: if the marks say so clearly, its height is found."""
    loose = _compile(doc, left, free_ground=True)
    if not len(loose.ground_used) or loose.ground_used[0] != 0:
        return net, fit, False
    from longlens.survey.network import blank_state

    st = blank_state(loose)
    for name in ("R", "C", "principal", "logf", "kappa", "X", "normal", "radius"):
        setattr(st, name, getattr(fit.state, name).copy())
    heights = st.X[loose.ground_body, 2]
    st.ground[0, 0] = float(np.median(heights)) if len(heights) else 0.0
    free = adjust(loose, st, robust=3.0, tolerance=1e-6)
    if free is None or free.loss > fit.loss - 8 or abs(free.state.ground[0, 0]) < 0.005:
        return net, fit, False
    return loose, free, True


def _lay_origin(net: Network, fit: Fit, datum: Datum) -> bool:
    """Where the scene may be shifted freely, its origin is laid at the foremost of the circles, else in the points' middle: the
    start leaves it anywhere. No residual changes, so the fit stays what it is."""
    st = fit.state
    if not len(st.X) or not len(datum.motions):
        return False
    fore = st.X[net.circle_body] if len(np.unique(net.circle_body)) > 1 else np.zeros((0, 3))
    target = np.median(st.X, axis=0)
    if len(fore):
        target[0] = fore[:, 0].max()
    shift = np.zeros(3)
    for k in range(3):  # free to move along this axis by itself
        e = np.eye(7)[k]
        along = datum.motions.T @ np.linalg.lstsq(datum.motions.T, e, rcond=None)[0]
        if np.linalg.norm(along - e) < 1e-6:
            shift[k] = -target[k]
    if not shift.any():
        return False
    moved = moved_state(net, st, shift, np.zeros(3), 0.0)
    for name, value in moved.__dict__.items():
        setattr(st, name, value)
    return True


def _lay_level(net: Network, fit: Fit, datum: Datum) -> list[str]:
    """Where nothing, or hardly anything, fixes the pitch but something asks for it, wheel centres are taken as level.

    A length along x tells the pitch by its cosine only: a scale wrong by 0.2 % looks like a pitch of 3.6°. So a pitch that is
    known worse than ``LOOSE_PITCH`` is no knowledge to build heights on.
    """
    asked = [m for m in net.document.measures if m.along or m.kind in ("height", "rise", "least_rise")]
    along = [f for f in net.document.facts if f.along]
    if not (asked or along) or len(net.circles) < 2 or len(net.position_sd) >= 3:
        return []
    bodies = np.unique(net.circle_body)
    x = fit.state.X[bodies, 0]
    a, b = bodies[np.argmin(x)], bodies[np.argmax(x)]
    base = float(np.ptp(x))
    if a == b or base < 1e-6:
        return []
    if len(datum.motions) and np.any(np.abs(datum.motions[:, 4]) > 0.05):
        if not (along or any(m.along for m in asked)):
            return []  # heights over a ground that is not there are refused
        within, how = 0.01, "nothing marked fixes the pitch of the car"
    elif _pitch_sd(net, fit, datum, int(a), int(b), base) > LOOSE_PITCH:
        within, how = 0.02, "what is marked on the ground hardly fixes the pitch of the car"
    else:
        return []
    net.level, net.level_sd = np.array([[a, b]]), np.array([within * base])
    return [
        f"{how}: front and rear wheel centres are taken as equally high, within {100 * within:.0f} % of the wheelbase; three "
        f"marked points on the ground, well apart, would do without"
    ]


def _pitch_sd(net: Network, fit: Fit, datum: Datum, a: int, b: int, base: float) -> float:
    """Standard deviation of the line through two bodies against the level, rad, by the Gaussian."""
    cov = covariance(net, fit.normal, datum.null)
    if cov is None:
        return 0.0
    z = np.random.default_rng(0).standard_normal((200, unknowns_of(cov)))
    X = states_of(net, fit, cov, z).X
    return float(np.std(np.arctan2(X[:, b, 2] - X[:, a, 2], np.abs(X[:, b, 0] - X[:, a, 0]) + 1e-9 * base)))


def _variance_factor(net: Network, sc: Screened, datum: Datum) -> tuple[float, int, float]:
    """σ0, redundancy, and the factor on all standard deviations (1 unless σ0 is too large to be chance)."""
    w = sc.weights
    rows = 2 * int(w["mark"].sum()) + sum(int(w[k].sum()) for k in ("edge", "distance", "diameter"))
    rows += 3 * int(w["position"].sum()) + 3 * len(net.soft_sd) + 2 * len(net.lateral) + len(net.ground_body)
    rows += 2 * len(net.shots) + 2 * len(net.cameras) + 3 * len(net.ground_used) + len(net.level)
    rows += len(net.equal_sd)
    unknown = 8 * len(net.shots) + 2 * len(net.cameras) + 2 * len(net.circles) + net.radii + 3 * len(net.ground_used)
    unknown += int(net.free.sum()) - datum.null.shape[1]
    redundancy = rows - unknown
    if redundancy < 1:
        return 1.0, max(redundancy, 0), 1.0
    sigma0 = float(np.sqrt(2 * sc.fit.cost / redundancy))
    too_large = chdtrc(redundancy, 2 * sc.fit.cost) < 0.005
    return sigma0, redundancy, sigma0 if too_large else 1.0


def _with_rivals(net: Network, drawn: Draws, fit: Fit, rivals: list[Rival], rng, inflate: float, progress) -> Draws:
    """The draws shared out between the solution and its rivals by their likelihood."""
    n = len(drawn.state.logf)
    share = np.exp(-np.array([0.0] + [r.fit.cost - fit.cost for r in rivals]) / inflate**2)
    number = np.round(n * share / share.sum()).astype(int)
    parts = []
    for rival, k in zip(rivals, number[1:], strict=True):
        cov = covariance(net, rival.fit.normal, find_datum(net, rival.fit.state, rival.fit.normal).null)
        if k and cov is not None:
            parts.append(draw(net, rival.fit, cov, rival.weights, rng, int(k), inflate, progress).state)
    return mixed(drawn, parts, rng) if parts else drawn


def _measure(out: Solution, rng: np.random.Generator) -> None:
    """Values, draws and refusals of all measures."""
    net = out.net
    table = {m.id: m for m in net.document.measures}
    best, many = evaluator(net, out.fit.state), evaluator(net, out.drawn.state, rng)
    for m in net.document.measures:
        refusal = _missing_parts(out, m, table) or _hangs_on_side(out, m, table) or _hangs_on_datum(out, m, table)
        if refusal is None:
            value, draws = float(best(m)), np.asarray(many(m), float)
            refusal = _too_loose(m, value, draws)
        if refusal is not None:
            out.refused[m.id] = refusal
            continue
        if out.rivals:
            value = float(np.mean(draws))  # between solutions apart the middle draw may fall to either
        elif out.drawn.method != "gaussian":
            value = float(np.median(draws))
        out.values[m.id] = (value, draws)


def _parts(m: Measure, table: dict[str, Measure]) -> list[Measure]:
    return [table[k] for k in m.ratio] if m.ratio is not None else [m]


def _missing_parts(out: Solution, m: Measure, table: dict[str, Measure]) -> Refusal | None:
    reasons, needs = [], []
    for p in dict.fromkeys(points_of(m, table)):
        if p in out.left_out.points:
            reason, need = out.left_out.points[p]
            reasons.append(reason)
            needs.append(need)
    for part in _parts(m, table):
        if part.diameter is not None and part.diameter in out.left_out.circles:
            reason, need = out.left_out.circles[part.diameter]
            reasons.append(reason)
            needs.append(need)
        if part.rod_diameter is not None and part.rod_diameter.shot in out.left_out.shots:
            reason, need = out.left_out.shots[part.rod_diameter.shot]
            reasons.append(reason)
            needs.append(need)
    for p in dict.fromkeys(points_of(m, table)):
        if p in out.net._point_index and _all_marks_aside(out, p):
            reasons.append(f"all marks of {p} contradict the rest")
            needs.append(f"a mark of {p} on another photograph")
    return Refusal("; ".join(reasons), needs) if reasons else None


def _look_at_sides(out: Solution) -> None:
    """Points on the other side than their names say, where twins lay the centre plane."""
    net = out.net
    if not (np.any(net.sign < 0) or len(net.soft_sd)):
        return
    y = place_points(net, out.fit.state)[:, 1]
    out.wrong_side = on_the_wrong_side(net.points, y, np.sqrt(body_covariances(out)[:, 1, 1]))


def _hangs_on_side(out: Solution, m: Measure, table: dict[str, Measure]) -> Refusal | None:
    """A measure that would be another if the points that lie on the wrong side were where their names say."""
    net = out.net
    there = [p for p in points_of(m, table) if p in out.wrong_side]
    if not there:
        return None
    st = out.fit.state.copy()
    for body in {int(net.body_of[net.point(p)]) for p in there}:
        st.X[body, 1] *= -1
    here, other = float(evaluator(net, out.fit.state)(m)), float(evaluator(net, st)(m))
    if abs(here - other) < 1e-6 * max(abs(here), 1e-9):
        return None
    return Refusal(
        f"{there[0]} lies on the other side of the car than its name says", [f"a check of left and right of {there[0]}"]
    )


def _all_marks_aside(out: Solution, pid: str) -> bool:
    net = out.net
    body = net.body_of[net.point(pid)]
    rows = net.mark_body == body
    return bool(rows.any() and not out.screened.weights["mark"][rows].any() and body not in net.circle_body)


_DATUM_NEEDS = {
    "height": "three marked points on the ground, each on two photographs",
    "along": "what lies the axes: twins across the car and wheel circles or points on the ground, or positions",
    "pitch": "three marked points on the ground, each on two photographs, or the edges of front and rear wheel circles",
    "size": "one known length",
}
#: Turns about x, y and z that the marks may leave open.
_AXES_FREE = ("how it leans to the side", "which way is level from front to rear", "which way it points")


def _hangs_on_datum(out: Solution, m: Measure, table: dict[str, Measure]) -> Refusal | None:
    """A measure that changes when the whole scene is moved along a direction that the marks leave free."""
    net, st = out.net, out.fit.state
    here = float(evaluator(net, st)(m))
    size = scene_size(st)
    scale = max(abs(here), 1e-3 * size)
    for v in out.datum.motions:
        step = 1e-3 * v / max(np.abs(v).max(), 1e-12)
        there = float(evaluator(net, moved_state(net, st, step[:3] * size, step[3:6], step[6]))(m))
        if abs(there - here) > 1e-5 * scale:
            power = sum(POWER.get(p.kind, 1) for p in _parts(m, table)[:1]) if m.ratio is None else 0
            if abs(step[6]) > 1e-6 and power:
                return Refusal("no known length gives the scale", [_DATUM_NEEDS["size"]])
            kinds = {p.kind for p in _parts(m, table)}
            if kinds & {"height", "rise", "least_rise"}:
                return Refusal("nothing marked says where the ground lies", [_DATUM_NEEDS["height"]])
            big = np.abs(v[3:6]) > 0.1
            free = " and ".join(word for word, open_ in zip(_AXES_FREE, big, strict=True) if open_)
            need = _DATUM_NEEDS["pitch" if big[1] and not big[0] and not big[2] else "along"]
            return Refusal(f"nothing marked says {free or 'how the axes lie'}", [need])
    if {p.kind for p in _parts(m, table)} & {"height"} and not _ground_known(net):
        return Refusal("nothing marked says where the ground lies", [_DATUM_NEEDS["height"]])
    return None


def _ground_known(net: Network) -> bool:
    return bool(net.ground_bodies) or len(net.position_sd) > 0


def _too_loose(m: Measure, value: float, draws: Array) -> Refusal | None:
    ok = np.isfinite(draws)
    spread = float(np.std(draws[ok])) if ok.any() else np.inf
    kind = m.kind
    if ok.mean() < 0.999:
        return Refusal("the marks do not determine it", ["marks of its points on another photograph"])
    if kind == "angle":
        loose = spread > 0.6
    elif kind in ("height", "rise", "least_rise") or m.along:
        loose = spread > 1.0
    else:
        loose = spread > HOPELESS * abs(value)
    if loose:
        return Refusal(
            "the marks hardly determine it",
            [
                "a mark of its points on another photograph taken from well to the side",
                "or one more known length near it",
            ],
        )
    return None


def _name_suspects(out: Solution) -> None:
    """Suspect marks and facts in the user's terms, with what setting them aside changed."""
    net, sc, doc = out.net, out.screened, out.net.document
    for kind, ids, shots in (("mark", net.mark_id, net.mark_shot), ("edge", net.edge_id, net.edge_shot)):
        for i in sc.aside(kind):
            mark = doc.marks[ids[i]]
            x, y = (net.mark_xy if kind == "mark" else net.edge_xy)[i]
            entry: dict[str, Any] = {"shot": net.shots[shots[i]]}
            entry["point" if mark.point is not None else "circle"] = mark.point or mark.circle
            entry |= {"x": float(x), "y": float(y), "test": round(float(sc.tests[kind][i]), 2)}
            out.suspects.append(entry)
    named = {(s["shot"], s.get("point")) for s in out.suspects}
    for _, rows in sc.undecided:
        for i in rows[1:]:
            mark = doc.marks[net.mark_id[i]]
            if (mark.shot, mark.point) not in named:
                test = round(float(sc.tests["mark"][rows[0]]), 2)
                out.suspects.append(
                    {"shot": mark.shot, "point": mark.point, "x": mark.x, "y": mark.y, "test": test, "one_of_two": True}
                )
                out.warnings.append(
                    f"of the two marks of {mark.point} one is wrong, and the others cannot tell which: its place rests on "
                    f"one of them"
                )
    _name_wrong_sides(out)
    out.suspects.sort(key=lambda s: -s["test"])
    for kind, ids in (("distance", net.distance_id), ("diameter", net.diameter_id), ("position", net.position_id)):
        for i in sc.aside(kind):
            fact = doc.facts[ids[i]]
            out.suspect_facts.append({"fact": fact.id, "test": round(float(sc.tests[kind][i]), 2)})
            out.warnings.append(
                f"the fact {fact.id} contradicts the pictures (test {sc.tests[kind][i]:.1f}) and was set aside"
            )
    _name_rivals(out)
    _swapped(out)
    if out.suspects or out.suspect_facts:
        _effect(out)


def _name_wrong_sides(out: Solution) -> None:
    net = out.net
    named = {(s["shot"], s.get("point")) for s in out.suspects}
    for mark in (net.document.marks[i] for i in net.mark_id):
        if mark.point in out.wrong_side and (mark.shot, mark.point) not in named:
            test = round(out.wrong_side[mark.point], 2)
            out.suspects.append({"shot": mark.shot, "point": mark.point, "x": mark.x, "y": mark.y, "test": test})
    for p in out.wrong_side:
        out.warnings.append(
            f"{p} lies on the other side of the car than its name says: were left and right exchanged where it is marked?"
        )


def _name_rivals(out: Solution) -> None:
    """Which facts could each be the wrong one, and what has two places, with what would tell."""
    net, doc = out.net, out.net.document
    ids = {"distance": net.distance_id, "diameter": net.diameter_id, "position": net.position_id}
    named = {f["fact"] for f in out.suspect_facts}
    about = []
    for rival in out.rivals:
        if rival.marks:
            _name_exchange(out, rival)
            continue
        if rival.facts is None:
            about.append(rival.about)
            continue
        (k, i), (q, j) = rival.facts
        bad, other = doc.facts[ids[k][i]].id, doc.facts[ids[q][j]].id
        test = next((f["test"] for f in out.suspect_facts if f["fact"] == bad), 0.0)
        for f in out.suspect_facts:
            if f["fact"] == bad:
                f["one_of_two"] = True
        if other not in named:
            named.add(other)
            out.suspect_facts.append({"fact": other, "test": test, "one_of_two": True})
        out.warnings.append(
            f"the facts {bad} and {other} contradict each other, and the marks cannot tell which is wrong: the intervals hold "
            f"both; a third known length would decide"
        )
    for name in dict.fromkeys(about):
        out.warnings.append(
            f"{name} could be at two places, and the marks cannot tell which: the intervals hold both; a mark of it on another "
            f"photograph would decide"
        )


def _name_exchange(out: Solution, rival: Rival) -> None:
    net, doc = out.net, out.net.document
    marks = [doc.marks[net.mark_id[i]] for i in rival.marks]
    points = {m.point for m in marks}
    mates = [s for s in out.suspects if s.get("point") in points]
    for s in mates:
        s["one_of_two"] = True
    test = max((s["test"] for s in mates), default=0.0)
    for m in marks:
        entry = {"shot": m.shot, "point": m.point, "x": m.x, "y": m.y, "test": test, "one_of_two": True}
        out.suspects.append(entry)
    other = mates[0]["shot"] if mates else "another shot"
    out.warnings.append(
        f"left and right of {rival.about} are exchanged on {other} or on {marks[0].shot}, and the marks cannot tell which: "
        f"the intervals hold both; a mark of it on a third photograph would decide"
    )


def _swapped(out: Solution) -> None:
    """Suspects that would fit if left and right were exchanged."""
    net, st = out.net, out.fit.state
    rows = out.screened.aside("mark")
    if not len(rows):
        return
    keep = net.mark_sign.copy()
    net.mark_sign = -keep
    try:
        r, _ = point_marks(net, st, rows, derivatives=False)
    finally:
        net.mark_sign = keep
    for i, size in zip(rows, np.linalg.norm(r, axis=1), strict=True):
        if size < 5 and (net.body_of == net.mark_body[i]).sum() > 1:
            mark = net.document.marks[net.mark_id[i]]
            out.warnings.append(
                f"shot {mark.shot}: the mark of {mark.point} fits its twin; were left and right swapped?"
            )


def _effect(out: Solution) -> None:
    """How the measures would stand with the suspects left in."""
    net = out.net
    with_all = adjust(net, out.fit.state, iterations=30)
    if with_all is None:
        return
    value = evaluator(net, with_all.state)
    table = {m.id: m for m in net.document.measures}
    moved = []
    for mid, (v, draws) in out.values.items():
        other = float(value(table[mid]))
        sd = float(np.std(draws))
        if sd > 0 and abs(other - v) > sd:
            moved.append((abs(other - v) / sd, mid, other, v))
    moved.sort(reverse=True)
    what = f"{len(out.suspects)} suspect mark(s)" if out.suspects else "the suspect fact(s)"
    if moved:
        rows = "; ".join(f"{mid} from {a:.4g} to {b:.4g} {unit_of(table[mid])}" for _, mid, a, b in moved[:6])
        out.warnings.append(f"setting {what} aside moved: {rows}" + (" …" if len(moved) > 6 else ""))
    else:
        out.warnings.append(f"setting {what} aside moved no measure by more than its standard deviation")


def _warn(out: Solution, free_ground: bool) -> None:
    net, st, w = out.net, out.fit.state, out.warnings
    for table in (out.left_out.shots, out.left_out.circles, out.left_out.points):
        for reason, need in list(table.values())[:20]:
            w.append(f"{reason}; what would help: {need}")
    sd = np.std(out.drawn.state.logf, axis=0)
    loose = [g for g in range(len(net.cameras)) if sd[g] > FOCAL_LOOSE]
    if loose:
        names = ", ".join(s for i, s in enumerate(net.shots) if net.camera_of[i] in loose)
        w.append(
            f"the focal length of {names} is hardly determined ({100 * sd[loose].max():.0f} % standard deviation): depth and "
            f"focal length trade off; a known focal length, a known length in depth or a photograph from another side would help"
        )
    _warn_parallel(out)
    for g, key in enumerate(net.cameras):
        if abs(st.kappa[g]) > 4 * KAPPA_SD:
            w.append(
                f"the lens of {key.split(':', 1)[1]} bends the picture's corner by {100 * st.kappa[g]:.0f} %, more than a "
                f"usual lens (0 ± 1 %): one radial term may be too plain for it"
            )
    if out.inflate > 1:
        w.append(
            f"the marks scatter {out.sigma0:.2f} times as much as their stated errors: all intervals are widened by that"
        )
    if out.drawn.method not in ("gaussian", "rivals"):  # rivals are named where they are found
        how = {"weighted": "weighted by the true fit", "mixture": "made by fitting again along the focal length"}
        w.append(f"the geometry is too curved for a Gaussian: draws were {how[out.drawn.method]}")
    if free_ground:
        w.append(f"the positions put the ground at z = {st.ground[0, 0]:.3f} m: heights are over that")
    if len(out.datum.motions):
        free = np.abs(out.datum.motions).max(axis=0)
        names = ", ".join(n for n, x in zip(NAMES, free, strict=True) if x > 0.05)
        w.append(f"datum chosen: the marks leave the frame free to be {names}; measures do not depend on it")
    if out.datum.scale_free:
        w.append("no known length: sizes are not determined, only angles and ratios")
    for mid, refusal in out.refused.items():
        w.append(f"measure {mid} is not given: {refusal.reason}; what would help: {', '.join(refusal.needs)}")


def _warn_parallel(out: Solution) -> None:
    """Cameras that all look the same way cannot tell the focal length by themselves."""
    net, st = out.net, out.fit.state
    free = [i for i in range(len(net.shots)) if net.logf_sd[net.camera_of[i]] > 0.5 * FREE_LOGF_SD]
    if len(net.shots) < 2 or not free or len(net.position_sd):
        return
    axes = st.R[:, 2, :]
    turn = np.degrees(np.arccos(np.clip(axes @ axes.T, -1, 1)).max())
    if turn < 3:
        out.warnings.append(
            f"the cameras look the same way (within {turn:.1f}°): such pictures alone cannot tell the focal length; it "
            f"rests on the facts; give a focal length, or a picture turned by 10° or more"
        )


def _anything(out: Solution) -> bool:
    if out.values:
        return True
    return not out.net.document.measures and not out.datum.scale_free


def _why_nothing(out: Solution) -> NotSolvable:
    reasons = list(dict.fromkeys(r.reason for r in out.refused.values())) or ["no known length gives the scale"]
    needs = list(dict.fromkeys(n for r in out.refused.values() for n in r.needs)) or ["one known length"]
    if np.std(out.drawn.state.logf, axis=0).max() > FOCAL_LOOSE:
        reasons.append("the focal length is not determined by these marks")
        needs.insert(0, "a known focal length, or a photograph turned by 10° or more against the others")
    return NotSolvable("; ".join(reasons), needs=needs)


def body_covariances(out: Solution) -> Array:
    """(P, 3, 3) covariance of every point, m²: by the Gaussian, or from the draws where those were corrected."""
    net = out.net
    if out.drawn.method == "gaussian":
        C = body_covariance(net, out.cov, net.body_of) * out.inflate**2
        turn = np.ones((len(net.points), 3))
        turn[:, 1] = net.sign
        return C * turn[:, :, None] * turn[:, None, :]
    P = place_points(net, out.drawn.state)
    d = P - P.mean(0)
    return np.einsum("kpi,kpj->pij", d, d) / (len(P) - 1)
