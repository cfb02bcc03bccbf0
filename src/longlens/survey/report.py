"""The exchange answer of a solution: exactly the fields of the contract, plus optional ones of our own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from longlens.survey.measures import unit_of
from longlens.survey.network import place_points
from longlens.survey.observations import edge_marks, point_marks

if TYPE_CHECKING:
    from longlens.survey.answer import Solution


def answer(sol: Solution, *, covariances: bool = True) -> dict[str, Any]:
    """Plain JSON types; no NaN or infinity. Without ``covariances`` the points have their places only (half the time)."""
    from longlens.survey.answer import body_covariances

    net, st = sol.net, sol.fit.state
    places = place_points(net, st)
    points: dict[str, Any] = {pid: {"xyz_m": _list(places[i])} for i, pid in enumerate(net.points)}
    if covariances:
        cov = body_covariances(sol)
        for i, pid in enumerate(net.points):
            points[pid]["cov_m2"] = _list(cov[i])
    table = {m.id: m for m in net.document.measures}
    out: dict[str, Any] = {
        "solved": True,
        "sigma0": round(sol.sigma0, 4),
        "redundancy": int(sol.redundancy),
        "shots": _shots(sol),
        "points": points,
        "measures": {mid: _measure(*vd, unit_of(table[mid])) for mid, vd in sol.values.items()},
        "suspect_marks": sol.suspects,
        "warnings": sol.warnings,
        "draws": {"number": len(sol.drawn.state.logf), "method": sol.drawn.method},
        "circles": {
            cid: {
                "radius_m": float(st.radius[net.radius_of[m]]),
                "axis": _list(st.normal[m]),
                "centre_m": _list(st.X[net.circle_body[m]] * [1, net.circle_sign[m], 1]),
            }
            for m, cid in enumerate(net.circles)
        },
    }
    if sol.suspect_facts:
        out["suspect_facts"] = sol.suspect_facts
    if sol.refused:
        out["refused"] = {mid: {"reason": r.reason, "needs": r.needs} for mid, r in sol.refused.items()}
    return out


def _list(a) -> list:
    return np.asarray(a, float).tolist()


def _measure(value: float, draws, unit: str) -> dict[str, Any]:
    low, high = np.percentile(draws, [2.5, 97.5])
    return {
        "value": float(value),
        "sd": float(np.std(draws, ddof=1)),
        "low95": float(min(low, value)),
        "high95": float(max(high, value)),
        "unit": unit,
    }


def _shots(sol: Solution) -> dict[str, Any]:
    net, st, D = sol.net, sol.fit.state, sol.drawn.state
    square, number = np.zeros(len(net.shots)), np.zeros(len(net.shots))
    if len(net.mark_xy):
        r, _ = point_marks(net, st, derivatives=False)
        w = sol.screened.weights["mark"]
        np.add.at(square, net.mark_shot, np.sum((r * net.mark_sd[:, None]) ** 2, axis=1) * w)
        np.add.at(number, net.mark_shot, 2 * w)
    if len(net.edge_xy):
        r, _ = edge_marks(net, st, sol.fit.theta, derivatives=False)
        w = sol.screened.weights["edge"]
        np.add.at(square, net.edge_shot, (r[:, 0] * net.edge_sd) ** 2 * w)
        np.add.at(number, net.edge_shot, w)
    rms = np.sqrt(square / np.maximum(number, 1))
    out = {}
    for i, sid in enumerate(net.shots):
        g = net.camera_of[i]
        f = float(np.exp(st.logf[g]))
        out[sid] = {
            "focal_px": f,
            "focal_sd_px": float(np.std(np.exp(D.logf[:, g]))),
            "k1": float(st.kappa[g] * (f / net.rho[g]) ** 2),
            "k1_sd": float(np.std(D.kappa[:, g] * (np.exp(D.logf[:, g]) / net.rho[g]) ** 2)),
            "principal_px": _list(st.principal[i]),
            "principal_sd_px": _list(np.std(D.principal[:, i], axis=0)),
            "position_m": _list(st.C[i]),
            "position_sd_m": _list(np.std(D.C[:, i], axis=0)),
            "rotation": _list(st.R[i]),
            "residual_rms_px": float(rms[i]),
        }
    return out
