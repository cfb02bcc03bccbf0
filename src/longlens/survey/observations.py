"""Observations: whitened residuals of a state, and their derivatives by the unknowns.

Each function returns a :class:`Rows`: residuals over their standard deviation, derivatives by columns of the reduced
system, and by the block of a body that is eliminated. Every array may carry leading axes (draws) before the rows' axis.
Turning unknowns: a shot's rotation by ``R ← exp(ω) R``, a circle's axis about its own two basis vectors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.survey.camera import Array, cross, image, image_with_derivatives
from longlens.survey.circle import COARSE, basis
from longlens.survey.network import (
    BLOCK,
    DENSE,
    PAIR,
    SINGLE,
    STIFF,
    Network,
    State,
    body_columns,
    shot_columns,
)
from longlens.survey.rigid import equal_rows

TINY_DEPTH = 1e-6


@dataclass
class Rows:
    """A group of observations of one shape.

    r : (..., n, m) residuals / sd. Jd : (..., n, m, k) derivatives by reduced columns ``columns`` (n, k).
    family, block : the eliminated family and (n,) its blocks, with Jb : (..., n, m, 3 or 6).
    which : (n,) row numbers in the group's own table (marks, edges, facts …), kind : the table's name.
    """

    kind: str
    which: np.ndarray
    r: Array
    Jd: Array
    columns: np.ndarray
    family: int = DENSE
    block: np.ndarray | None = None
    Jb: Array | None = None


def point_marks(net: Network, st: State, rows: np.ndarray | None = None, derivatives: bool = True):
    """Residuals (..., n, 2) of point marks; with derivatives also (Jshot (..., n, 2, 10), Jbody (..., n, 2, 3)), and
    the mask of marks whose point lies behind its camera."""
    rows = np.arange(len(net.mark_xy)) if rows is None else rows
    s, b = net.mark_shot[rows], net.mark_body[rows]
    X = st.X[..., b, :].copy()
    X[..., 1] *= net.mark_sign[rows]
    x, behind, J = _see(net, st, s, X, derivatives)
    sd = net.mark_sd[rows]
    r = (x - net.mark_xy[rows]) / sd[:, None]
    if not derivatives:
        return r, behind
    Jshot, Jx = J
    Jx = Jx * (net.free[b] / sd[:, None])[:, None, :]
    Jx[..., 1] *= net.mark_sign[rows][:, None]
    return r, behind, Jshot / sd[:, None, None], Jx


def _see(net: Network, st: State, s: np.ndarray, X: Array, derivatives: bool):
    """Pixels of points X (..., n, 3) on shots s (n,)."""
    g = net.camera_of[s]
    R = st.R[..., s, :, :]
    d = X - st.C[..., s, :]
    Xc = np.einsum("...ij,...j->...i", R, d)
    behind = Xc[..., 2] < TINY_DEPTH
    if behind.any():
        Xc[..., 2] = np.maximum(Xc[..., 2], TINY_DEPTH)
    f, kappa, rho = np.exp(st.logf[..., g]), st.kappa[..., g], net.rho[g]
    pp = st.principal[..., s, :]
    if not derivatives:
        return image(Xc, f, kappa, rho, pp), behind, None
    x, dXc, dlogf, dkappa = image_with_derivatives(Xc, f, kappa, rho, pp)
    J = np.empty((*x.shape, 10))
    # d(Xc)/dω = −[Xc]×, so dx/dω rows are Xc × (dx/dXc)
    J[..., 0:3] = cross(Xc[..., None, :], dXc)
    Jx = dXc @ R
    J[..., 3:6] = -Jx
    J[..., 6:8] = np.eye(2) + J[..., 0:2] @ principal_turn(net, st)[..., s, :, :]
    J[..., 8], J[..., 9] = dlogf, dkappa
    return x, behind, (J, Jx)


def principal_turn(net: Network, st: State) -> Array:
    """(..., S, 2, 2) turn about the camera's x and y that goes with a shift of the principal point.

    A shifted principal point looks almost like a turned camera. The unknown is therefore carried as a shift *with* the
    turn that keeps the picture's middle in place: what is left is small and bends little, and the adjustment does not
    crawl along the valley between the two.
    """
    f = np.exp(st.logf[..., net.camera_of])
    p = (net.size - 1) / 2 - st.principal
    p0, p1 = p[..., 0], p[..., 1]
    size2 = f**2 + p0**2 + p1**2
    M = np.empty((*f.shape, 2, 2))  # minus the inverse of [[−p0 p1, f² + p0²], [−f² − p1², p0 p1]] / f
    M[..., 0, 0], M[..., 0, 1] = -p0 * p1 / size2 / f, (f**2 + p0**2) / size2 / f
    M[..., 1, 0], M[..., 1, 1] = -(f**2 + p1**2) / size2 / f, p0 * p1 / size2 / f
    return M


def _on_circle(net: Network, st: State, m: np.ndarray, theta: Array):
    """Spokes (..., n, 3) from the centre at angle theta, unit; and the two basis vectors."""
    a, b = basis(st.normal)
    a, b = a[..., m, :], b[..., m, :]
    return np.cos(theta)[..., None] * a + np.sin(theta)[..., None] * b, a, b


def _centres(net: Network, st: State, m: np.ndarray) -> Array:
    c = st.X[..., net.circle_body[m], :].copy()
    c[..., 1] *= net.circle_sign[m]
    return c


def edge_angles(net: Network, st: State, theta: Array | None = None, steps: int = 6) -> Array:
    """Angles (..., n) of the curve's nearest points to the observed edge pixels.

    Without a start the curve is sampled coarsely first; then Newton steps on the squared distance, by differences.
    """
    s, m = net.edge_shot, net.edge_circle
    if len(s) == 0:
        return np.zeros((*st.radius.shape[:-1], 0))

    # the rim in the camera's frame, once: what is left is an ellipse in one angle
    g = net.camera_of[s]
    R = st.R[..., s, :, :]
    a, b = basis(st.normal)
    radius = st.radius[..., net.radius_of[m]][..., None]
    middle = np.einsum("...ij,...j->...i", R, _centres(net, st, m) - st.C[..., s, :])
    A = np.einsum("...ij,...j->...i", R, a[..., m, :]) * radius
    B = np.einsum("...ij,...j->...i", R, b[..., m, :]) * radius
    f, kappa, rho, pp = np.exp(st.logf[..., g]), st.kappa[..., g], net.rho[g], st.principal[..., s, :]

    def pixels(t: Array) -> Array:
        Xc = middle + np.cos(t)[..., None] * A + np.sin(t)[..., None] * B
        np.maximum(Xc[..., 2], TINY_DEPTH, out=Xc[..., 2])
        return image(Xc, f, kappa, rho, pp)

    if theta is None:
        grid = np.arange(COARSE) * (2 * np.pi / COARSE)
        best, theta = None, np.zeros((*st.radius.shape[:-1], len(s)))
        for t in grid:
            d = np.sum((pixels(np.broadcast_to(t, theta.shape)) - net.edge_xy) ** 2, axis=-1)
            if best is None:
                best, theta = d, np.full_like(theta, t)
            else:
                closer = d < best
                best, theta = np.where(closer, d, best), np.where(closer, t, theta)
    h = 1e-4
    for _ in range(steps):
        e0 = pixels(theta) - net.edge_xy
        ep, em = pixels(theta + h) - net.edge_xy, pixels(theta - h) - net.edge_xy
        d1 = (ep - em) / (2 * h)
        d2 = (ep - 2 * e0 + em) / (h * h)
        slope = np.sum(e0 * d1, axis=-1)
        gauss = np.sum(d1 * d1, axis=-1)
        bend = gauss + np.sum(e0 * d2, axis=-1)
        bend = np.where(bend > 0.3 * gauss, bend, gauss)
        step = np.clip(slope / np.maximum(bend, 1e-30), -0.2, 0.2)
        theta = theta - step
        if np.max(np.abs(step), initial=0.0) < 1e-9:
            break
    return theta


def edge_marks(net: Network, st: State, theta: Array, derivatives: bool = True):
    """Residuals (..., n, 1) of rim edge points across the projected curve; with derivatives (Jshot (..., n, 1, 10),
    Jcentre (..., n, 1, 3), Jaxis (..., n, 1, 2), Jradius (..., n, 1, 1))."""
    s, m = net.edge_shot, net.edge_circle
    spoke, a, b = _on_circle(net, st, m, theta)
    radius = st.radius[..., net.radius_of[m]][..., None]
    arm = radius * spoke
    X = _centres(net, st, m) + arm
    # the curve's direction in the picture, from the spoke's turn
    x, behind, (Jshot, Jx) = _see(net, st, s, X, True)
    _, _, normal = a, b, st.normal[..., m, :]
    tangent = np.einsum("...ij,...j->...i", Jx, cross(normal, spoke))
    n = np.stack([-tangent[..., 1], tangent[..., 0]], axis=-1)
    n /= np.maximum(np.linalg.norm(n, axis=-1, keepdims=True), 1e-12)
    out = np.einsum("...ij,...j->...i", Jx, spoke)  # outward is positive, so that the sign never flips with theta
    n *= np.where(np.sum(n * out, axis=-1, keepdims=True) < 0, -1.0, 1.0)
    sd = net.edge_sd
    r = np.sum(n * (x - net.edge_xy), axis=-1) / sd
    if not derivatives:
        return r[..., None], behind
    across = n / sd[:, None]
    nJx = np.einsum("...i,...ij->...j", across, Jx)
    Jc = nJx * net.free[net.circle_body[m]]
    Jc[..., 1] *= net.circle_sign[m]
    Jaxis = np.stack([np.sum(nJx * cross(a, arm), axis=-1), np.sum(nJx * cross(b, arm), axis=-1)], axis=-1)
    Jr = np.sum(nJx * spoke, axis=-1)
    nJs = np.einsum("...i,...ij->...j", across, Jshot)
    e = (..., None, slice(None))
    return r[..., None], behind, nJs[e], Jc[e], Jaxis[e], Jr[..., None, None]


def distances(net: Network, st: State):
    """Residuals (..., n, 1) of length facts and their derivatives by both bodies (..., n, 1, 3)."""
    a, b = net.body_of[net.distance_a], net.body_of[net.distance_b]
    sa, sb = net.sign[net.distance_a], net.sign[net.distance_b]
    A, B = st.X[..., a, :].copy(), st.X[..., b, :].copy()
    A[..., 1] *= sa
    B[..., 1] *= sb
    d = B - A
    axis = net.distance_axis
    pick = np.eye(3)[np.maximum(axis, 0)] * (axis >= 0)[:, None]
    along = np.sum(d * pick, axis=-1)
    straight = np.linalg.norm(d, axis=-1)
    length = np.where(axis >= 0, np.abs(along), straight)
    unit = np.where(
        (axis >= 0)[:, None],
        pick * np.where(along < 0, -1.0, 1.0)[..., None],
        d / np.maximum(straight, 1e-12)[..., None],
    )
    sd = net.distance_sd
    Jb, Ja = unit / sd[:, None] * net.free[b], -unit / sd[:, None] * net.free[a]
    Ja[..., 1] *= sa
    Jb[..., 1] *= sb
    return ((length - net.distance_value) / sd)[..., None], Ja[..., None, :], Jb[..., None, :]


def all_rows(net: Network, st: State, theta: Array, weights: dict[str, Array] | None = None) -> tuple[list[Rows], bool]:
    """Every observation with derivatives, and whether anything marked lies behind its camera.

    ``weights`` (for "mark", "edge", "distance", "diameter", "position": (n,) factors on the residuals, 1 = full) serve the
    robust passes.
    """
    w = weights or {}
    out: list[Rows] = []
    bad = False
    if len(net.mark_xy):
        r, behind, Js, Jx = point_marks(net, st)
        bad |= bool((behind & (w["mark"] > 0) if "mark" in w else behind).any())
        if "mark" in w:
            f = w["mark"][:, None]
            r, Js, Jx = r * f, Js * f[..., None], Jx * f[..., None]
        out += _split(net, "mark", net.mark_body, r, Js, shot_columns(net, net.mark_shot), Jx)
    if len(net.edge_xy):
        r, behind, Js, Jc, Ja, Jr = edge_marks(net, st, theta)
        bad |= bool((behind & (w["edge"] > 0) if "edge" in w else behind).any())
        m = net.edge_circle
        J = np.concatenate([Js, Jc, Ja, Jr], axis=-1)
        if "edge" in w:
            f = w["edge"][:, None]
            r, J = r * f, J * f[..., None]
        columns = np.concatenate(
            [
                shot_columns(net, net.edge_shot),
                body_columns(net, net.circle_body[m]),
                net.at_circle + 2 * m[:, None] + np.arange(2),
                net.at_radius + net.radius_of[m][:, None],
            ],
            axis=1,
        )
        out.append(Rows("edge", np.arange(len(m)), r, J, columns))
    out += _fact_rows(net, st, w)
    out += prior_rows(net, st)
    return out, bad


def _split(net: Network, kind, body, r, Jd, columns, Jx) -> list[Rows]:
    """Rows that touch one body each, parted by the body's family."""
    out = []
    family = net.family[body]
    for fam in (DENSE, SINGLE, PAIR):
        k = np.flatnonzero(family == fam)
        if len(k) == 0:
            continue
        rk, Jk, ck, xk, bk = r[..., k, :], Jd[..., k, :, :], columns[k], Jx[..., k, :, :], body[k]
        if fam == DENSE:
            out.append(Rows(kind, k, rk, np.concatenate([Jk, xk], -1), np.concatenate([ck, body_columns(net, bk)], 1)))
        else:
            out.append(Rows(kind, k, rk, Jk, ck, fam, net.slot[bk], _in_block(net, fam, bk, xk)))
    return out


def _in_block(net: Network, fam: int, body: np.ndarray, Jx: Array) -> Array:
    if fam == SINGLE:
        return Jx
    out = np.zeros((*Jx.shape[:-1], BLOCK[PAIR]))
    first = net.part[body] == 0
    out[..., first, :, 0:3] = Jx[..., first, :, :]
    out[..., ~first, :, 3:6] = Jx[..., ~first, :, :]
    return out


def _fact_rows(net: Network, st: State, w: dict[str, Array]) -> list[Rows]:
    out = []
    if len(net.distance_value):
        r, Ja, Jb = distances(net, st)
        f = w.get("distance", np.ones(len(net.distance_value)))[:, None]
        a, b = net.body_of[net.distance_a], net.body_of[net.distance_b]
        columns = np.concatenate([body_columns(net, a), body_columns(net, b)], axis=1)
        J = np.concatenate([Ja, Jb], -1)
        out.append(Rows("distance", np.arange(len(a)), r * f, J * f[..., None], columns))
    if len(net.diameter_value):
        q, sd = net.diameter_radius, net.diameter_sd
        f = w.get("diameter", np.ones(len(q)))
        r = ((2 * st.radius[..., q] - net.diameter_value) / sd * f)[..., None]
        J = np.broadcast_to((2 / sd * f)[:, None, None], (*r.shape, 1))
        out.append(Rows("diameter", np.arange(len(q)), r, J, (net.at_radius + q)[:, None]))
    if len(net.position_sd):
        body, sign = net.body_of[net.position_point], net.sign[net.position_point]
        f = (w.get("position", np.ones(len(body))) / net.position_sd)[:, None]
        X = st.X[..., body, :].copy()
        X[..., 1] *= sign
        r = (X - net.position_xyz) * f
        J = np.eye(3) * net.free[body][:, None, :]
        J[:, 1, 1] *= sign
        J = np.broadcast_to(J * f[..., None], (*r.shape, 3))
        empty = np.zeros((*r.shape, 0))
        out += _split(net, "position", body, r, empty, np.zeros((len(body), 0), int), J)
    return out


def prior_rows(net: Network, st: State) -> list[Rows]:
    """What is known beforehand: cameras, lateral axes, twins that may differ, grounds of other stances, levels."""
    from longlens.survey.network import KAPPA_SD

    out = []
    S, G = len(net.shots), len(net.cameras)
    lead = st.logf.shape[:-1]

    def simple(kind: str, r: Array, J: Array, columns: np.ndarray) -> None:
        out.append(Rows(kind, np.arange(r.shape[-2]), r, np.broadcast_to(J, (*r.shape, columns.shape[1])), columns))

    sd = net.principal_sd[:, None]
    J = np.broadcast_to(np.eye(2), (S, 2, 2)) / sd[..., None]
    columns = net.at_shot + 8 * np.arange(S)[:, None] + np.array([6, 7])
    simple("principal", (st.principal - net.principal0) / sd, J, columns)
    columns = net.at_camera + 2 * np.arange(G)[:, None]
    simple("focal", ((st.logf - net.logf0) / net.logf_sd)[..., None], (1 / net.logf_sd)[:, None, None], columns)
    simple("radial", (st.kappa / KAPPA_SD)[..., None], np.full((G, 1, 1), 1 / KAPPA_SD), columns + 1)
    if net.pin is not None:  # a window on the focal lengths (see draws)
        e, centre, shift, sd_pin = net.pin
        r = (((st.logf - centre) @ e - shift) / sd_pin)[..., None, None]
        simple("pin", r, (e / sd_pin)[None, None, :], columns.T)
    if len(net.lateral):
        m, sd = net.lateral, net.lateral_sd
        n = st.normal[..., m, :]
        a, b = basis(st.normal)
        a, b = a[..., m, :], b[..., m, :]
        r = n[..., [0, 2]] / sd[:, None]
        J = np.stack([np.cross(a, n)[..., [0, 2]], np.cross(b, n)[..., [0, 2]]], axis=-1) / sd[:, None, None]
        simple("lateral", r, J, net.at_circle + 2 * m[:, None] + np.arange(2))
    if len(net.soft_sd):
        out += _twin_rows(net, st)
    if len(net.ground_body):
        out += _ground_rows(net, st)
    if len(net.ground_used):
        T = len(net.ground_used)
        J = np.broadcast_to(np.eye(3), (T, 3, 3)) / net.ground_sd[..., None]
        columns = net.at_ground + 3 * np.arange(T)[:, None] + np.arange(3)
        simple("ground_prior", st.ground / net.ground_sd, J, columns)
    if len(net.level):
        a, b = net.level.T
        r = (st.X[..., b, 2] - st.X[..., a, 2]) / net.level_sd
        J = np.zeros((len(a), 1, 6))
        J[:, 0, 2], J[:, 0, 5] = -1.0 * net.free[a, 2] / net.level_sd, net.free[b, 2] / net.level_sd
        simple("level", r[..., None], J, np.concatenate([body_columns(net, a), body_columns(net, b)], axis=1))
    if net.equal_on:
        simple("equal", *equal_rows(net, st))
    del lead
    return out


def _twin_rows(net: Network, st: State) -> list[Rows]:
    a, b = net.soft_body.T
    turn = np.array([1.0, -1.0, 1.0])
    sd = net.soft_sd[:, None]
    r = (st.X[..., b, :] - turn * st.X[..., a, :]) / sd
    Ja = np.broadcast_to(-np.diag(turn) / sd[..., None] * net.free[a][:, None, :], (*r.shape, 3))
    Jb = np.broadcast_to(np.eye(3) / sd[..., None] * net.free[b][:, None, :], (*r.shape, 3))
    J = np.concatenate([Ja, Jb], -1)
    pair = net.family[a] == PAIR
    out = []
    none = np.zeros((len(a), 0), int)
    k = np.flatnonzero(pair)
    if len(k):
        out.append(
            Rows(
                "twin",
                k,
                r[..., k, :],
                J[..., k, :, :][..., :0],
                none[k],
                PAIR,
                net.slot[a[k]],
                J[..., k, :, :],
            )
        )
    k = np.flatnonzero(~pair)
    if len(k):
        columns = np.concatenate([body_columns(net, a[k]), body_columns(net, b[k])], 1)
        out.append(Rows("twin", k, r[..., k, :], J[..., k, :, :], columns))
    return out


def _ground_rows(net: Network, st: State) -> list[Rows]:
    body = net.ground_body
    t = np.searchsorted(net.ground_used, net.ground_stance)
    X, g = st.X[..., body, :], st.ground[..., t, :]
    r = (X[..., 2] - g[..., 0] - g[..., 1] * X[..., 0] - g[..., 2] * X[..., 1])[..., None] / STIFF
    Jd = np.stack([-np.ones_like(X[..., 0]), -X[..., 0], -X[..., 1]], -1)[..., None, :] / STIFF
    Jx = np.stack([-g[..., 1], -g[..., 2], np.ones_like(g[..., 0])], -1)[..., None, :] / STIFF
    Jx = Jx * net.free[body][:, None, :]
    return _split(net, "ground", body, r, Jd, net.at_ground + 3 * t[:, None] + np.arange(3), Jx)


def cost(net: Network, st: State, theta: Array) -> Array:
    """Half the sum of squared residuals, (...); infinite where something marked lies behind its camera."""
    total = np.zeros(st.logf.shape[:-1])
    if len(net.mark_xy):
        r, behind = point_marks(net, st, derivatives=False)
        total = total + np.sum(r * r, axis=(-1, -2)) + np.where(behind.any(-1), np.inf, 0)
    if len(net.edge_xy):
        r, behind = edge_marks(net, st, theta, derivatives=False)
        total = total + np.sum(r * r, axis=(-1, -2)) + np.where(behind.any(-1), np.inf, 0)
    for rows in _fact_rows(net, st, {}) + prior_rows(net, st):
        total = total + np.sum(rows.r**2, axis=(-1, -2))
    return total / 2
