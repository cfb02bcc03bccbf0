"""`python -m tools.check_real`: surveys real pictures, prints tables, writes marked pictures to `scratch/`."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

from tools.check_real import chessboards, motorcycle, others, pictures, report, results


def main() -> int:
    from rich.console import Console

    console = Console(width=120)
    scratch = Path("scratch") / "check-real"
    scratch.mkdir(parents=True, exist_ok=True)
    totals: list[tuple[str, list[results.Row], float, dict[str, Any]]] = []
    for title, (document, truth) in results.cases().items():
        started = time.perf_counter()
        try:
            answer = results.survey(document)
        except Exception as e:  # one case that breaks must not hide the others; it stands in the table
            answer = {"solved": False, "reason": f"broke: {type(e).__name__}: {e}", "needs": []}
        seconds = time.perf_counter() - started
        rows = results.lengths(answer, truth) if answer["solved"] else []
        if "circles" in document and document["circles"] and answer["solved"]:
            rows += results.diameters(answer)
        rows += _cameras(title, answer)
        _table(console, title, rows, answer)
        totals.append((title, rows, seconds, answer))
        _pictures(scratch, title, document, answer)
    _summary(console, totals)
    console.print(f"Marked pictures: {scratch}")
    if "--docs" in sys.argv[1:]:
        console.print(f"Page: {report.write(totals)}")
    return 0


def _cameras(title: str, answer: dict[str, Any]) -> list[results.Row]:
    """Focal lengths against the calibrations, where the case is about them."""
    if not answer["solved"]:
        return []
    if title == "one cropped picture":
        return [results.focal(answer, "right", motorcycle.right_camera()["focal_px"])]
    if title.startswith("board"):
        return [results.focal(answer, "board", others.board_by_opencv()["focal_px"])]
    if title.startswith("chessboard, eight"):
        left = results.left_shots()
        result = chessboards.straightened(left)[1] if "straightened" in title else chessboards.opencv_calibration(left)
        return [results.focal(answer, "left01", result["focal_px"])]
    return []


def _table(console: Any, title: str, rows: list[results.Row], answer: dict[str, Any]) -> None:
    from rich.table import Table

    table = Table(title=title, title_justify="left")
    for name in ("what", "unit", "survey", "95 %", "truth", "error", "± half"):
        table.add_column(name, justify="left" if name in ("what", "unit") else "right")
    for r in rows:
        table.add_row(
            r.name,
            r.unit,
            f"{r.value:.1f}",
            f"{r.low:.1f} … {r.high:.1f}",
            f"{r.truth:.1f}",
            f"{100 * r.error:.1f} %",
            f"{100 * r.half_width:.1f} %",
            style=None if r.inside else "bold red",
        )
    console.print(table)
    if not answer["solved"]:
        console.print(f"  not solved: {answer['reason']}; needs {answer['needs']}")
    for w in answer.get("warnings", []):
        console.print(f"  warning: {w}", highlight=False)
    for s in answer.get("suspect_marks", []):
        console.print(f"  suspect: {s}", highlight=False)


def _summary(console: Any, totals: list[tuple[str, list[results.Row], float, dict[str, Any]]]) -> None:
    from rich.table import Table

    table = Table(title="All cases", title_justify="left")
    for name in ("case", "inside 95 %", "median error", "median ±", "σ0", "redundancy", "suspects", "s"):
        table.add_column(name, justify="left" if name == "case" else "right")
    for title, rows, seconds, answer in totals:
        s = results.summary(rows) if rows else None
        if not answer["solved"]:
            table.add_row(title, "not solved", "", "", "", "", "", f"{seconds:.1f}", style="bold red")
            continue
        table.add_row(
            title,
            f"{s.inside} of {s.count}" if s else "refused",
            f"{100 * s.median_error:.1f} %" if s else "",
            f"{100 * s.median_half_width:.1f} %" if s else "",
            f"{answer['sigma0']:.2f}",
            str(answer["redundancy"]),
            str(len(answer["suspect_marks"])),
            f"{seconds:.1f}",
        )
    console.print(table)


def _pictures(scratch: Path, title: str, document: dict[str, Any], answer: dict[str, Any]) -> None:
    import cv2

    pair = pictures.motorcycle()
    for shot in [s["id"] for s in document["shots"]][:2]:
        image = pair[shot] if pair and shot in pair else pictures.opencv_doc(shot)
        if image is None or "straightened" in title:
            continue
        name = title.replace(",", "").replace(" ", "-")
        cv2.imwrite(str(scratch / f"{name}-{shot}.png"), pictures.mark(image, document, answer, shot))


if __name__ == "__main__":
    sys.exit(main())
