"""Runs documents through the survey and sets its answer beside the truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from tools.check_real import chessboards, motorcycle, others


@dataclass
class Row:
    """One figure beside its truth, both in ``unit``."""

    name: str
    unit: str
    value: float
    low: float
    high: float
    truth: float

    @property
    def inside(self) -> bool:
        return bool(self.low <= self.truth <= self.high)

    @property
    def error(self) -> float:
        """Relative to the truth."""
        return abs(self.value - self.truth) / abs(self.truth)

    @property
    def half_width(self) -> float:
        """Half the 95 % interval, relative to the truth."""
        return (self.high - self.low) / 2 / abs(self.truth)


@dataclass
class Summary:
    """What counts over many rows."""

    count: int
    inside: int
    median_error: float
    median_half_width: float


def summary(rows: list[Row]) -> Summary:
    return Summary(
        len(rows),
        sum(r.inside for r in rows),
        float(np.median([r.error for r in rows])),
        float(np.median([r.half_width for r in rows])),
    )


def survey(document: dict[str, Any], seed: int = 0) -> dict[str, Any]:
    """The answer, as ``longlens survey FILE --json`` prints it."""
    from longlens.dossier.exchange import read_exchange
    from longlens.errors import NotSolvable
    from longlens.survey.answer import solve

    try:
        return solve(read_exchange(document)[0], seed=seed, draws=2000).answer()
    except NotSolvable as e:
        return {"solved": False, "reason": e.what, "needs": e.needs}


def lengths(answer: dict[str, Any], truth: Callable[[str, str], float]) -> list[Row]:
    """Rows, in mm, of all measures called "A to B"; refused ones are left out (the caller counts)."""
    rows = []
    for name, m in answer["measures"].items():
        if " to " in name and m.get("value") is not None:
            t = truth(*name.split(" to "))
            rows.append(Row(name, "mm", 1e3 * m["value"], 1e3 * m["low95"], 1e3 * m["high95"], 1e3 * t))
    return rows


def diameters(answer: dict[str, Any]) -> list[Row]:
    """Rows of the rims of the pair, truth by the calibration alone."""
    rows = []
    for name in motorcycle.marks()["circles"]:
        m = answer["measures"][f"{name} diameter"]
        t = motorcycle.true_circle(name)["diameter"]
        rows.append(Row(name, "mm", 1e3 * m["value"], 1e3 * m["low95"], 1e3 * m["high95"], 1e3 * float(t)))
    return rows


def focal(answer: dict[str, Any], shot: str, truth: float) -> Row:
    s = answer["shots"][shot]
    f, sd = s["focal_px"], s["focal_sd_px"]
    return Row(f"focal length, {shot}", "px", f, f - 1.96 * sd, f + 1.96 * sd, truth)


def vehicle_length(a: str, b: str) -> float:
    return motorcycle.true_length(a, b)[0]


def garage_length(a: str, b: str) -> float:
    places = others.garage_truth()
    return float(np.linalg.norm(places[a] - places[b]))


def board_length(a: str, b: str) -> float:
    return float(np.linalg.norm(others.board_place(a) - others.board_place(b)))


def left_shots() -> list[tuple[str, str]]:
    return [("left", n) for n in chessboards.SOME]


def cases() -> dict[str, tuple[dict[str, Any], Callable[[str, str], float]]]:
    """Every document, by a short title, with the truth of its lengths."""
    left = left_shots()
    straight, full = chessboards.straightened(left)
    k1 = chessboards.opencv_calibration(left)
    return {
        "pair, one length, read by eye": (motorcycle.pair("read"), vehicle_length),
        "pair, one length, matched": (motorcycle.pair("matched"), vehicle_length),
        "pair, eight places, read by eye": (motorcycle.pair("read", "positions"), vehicle_length),
        "pair, eight places, matched": (motorcycle.pair("matched", "positions"), vehicle_length),
        "pair, eight places, with wheels": (
            motorcycle.pair("matched", "positions", circles=True),
            vehicle_length,
        ),
        "one cropped picture": (motorcycle.single(), vehicle_length),
        "pair, focal length unknown": (motorcycle.pair(focal="free"), vehicle_length),
        "boxes on a shelf": (others.garage(), garage_length),
        "board on a table, one picture": (others.board(), board_length),
        "markers on a sheet, one picture": (others.markers(), others.marker_length),
        "chessboard, eight shots": (
            chessboards.document(left, {"left": k1["principal_px"]}),
            chessboards.true_length,
        ),
        "chessboard, eight shots, straightened": (
            chessboards.document(left, {"left": full["principal_px"]}, marks=straight),
            chessboards.true_length,
        ),
        "chessboard, one shot, mirrored": (chessboards.mirrored(), chessboards.true_length),
    }
