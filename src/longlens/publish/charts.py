"""Small charts for plates and film: bars with their intervals, curves with their bands. They build up series by series."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.errors import UnusableInput
from longlens.numbers import units
from longlens.numbers.display import people_unit, pretty
from longlens.publish import typefaces
from longlens.publish.basis import Basis, LostBasis
from longlens.publish.drawing import Array, Drawing, Fill, Stroke, Words, box_path
from longlens.publish.names import SYSTEMS
from longlens.publish.plates import Chart, Series
from longlens.publish.styles import Box

PANEL, PANEL_ALPHA = "#101316", 0.93
WHITE, SOFT, RULE = "#ffffff", "#c3c7ca", "#565d63"


def chart_height(chart: Chart, width: float, size: float) -> float:
    """How high a chart wants to be at a width."""
    if chart.kind == "bars":
        return 2 * 20 + len(chart.series) * 2.75 * size + 1.9 * size
    return 0.66 * width


def put_chart(drawing: Drawing, chart: Chart, box: Box, basis: Basis, size: float, step: int) -> tuple[int, list[str]]:
    """Draw a chart into a box; the first series comes with ``step``, each further one a step later.

    Returns the last step used, and what could not be drawn.
    """
    drawing.add(Fill(box_path(box), PANEL, PANEL_ALPHA, step, round=6))
    if chart.kind == "bars":
        return _bars(drawing, chart, box, basis, size, step)
    return _curves(drawing, chart, box, basis, size, step)


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round figures over a range: steps of 1, 2 or 5 times a power of ten."""
    if not high > low:
        return [low]
    raw = (high - low) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(k * power for k in (1, 2, 5, 10) if k * power >= raw * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [k * step for k in range(first, math.floor(high / step + 1e-9) + 1)]


def _colour(series: Series, system: str, n: int) -> str:
    if series.system is not None:
        return SYSTEMS[series.system][1]
    return SYSTEMS.get(system, SYSTEMS[""])[1] if n == 0 or system else WHITE


def _bars(drawing: Drawing, chart: Chart, box: Box, basis: Basis, size: float, step: int) -> tuple[int, list[str]]:
    notes: list[str] = []
    rows = []
    for s in chart.series:
        try:
            n = basis.number(s.of)
        except LostBasis as error:
            notes.append(error.what)
            continue
        if n.value is None or n.low is None or n.high is None:
            notes.append(f"{s.of} is no single number")
            continue
        rows.append((s, n))
    if not rows:
        return step, notes
    shown = chart.unit or people_unit(rows[0][1].unit, max(abs(n.high or 0.0) for _, n in rows))
    x0, y0, x1, y1 = box
    left, right = x0 + 24, x1 - 24
    values = [tuple(_people(v, n.unit, shown) for v in (n.value, n.low, n.high)) for _, n in rows]
    low, high = min(0.0, *(v[1] for v in values)), max(0.0, *(v[2] for v in values))
    scale = (right - left) / ((high - low) or 1.0)

    def at(v: float) -> float:
        return left + (v - low) * scale

    foot = y1 - 20 - 1.2 * size * 0.8
    for t in ticks(low, high, 4):
        drawing.add(Stroke(np.array([(at(t), y0 + 20), (at(t), foot)]), RULE, 1.0, edge=0, step=step))
        anchor = "start" if at(t) < left + 8 else "end" if at(t) > right - 20 else "middle"
        drawing.add(Words(at(t), y1 - 18, _figure(t) + (f" {pretty(shown)}" if t == 0 else ""), 0.78 * size, SOFT,
                          anchor=anchor, step=step))  # type: ignore[arg-type]  # fmt: skip
    for k, ((s, n), (v, lo, hi)) in enumerate(zip(rows, values, strict=True)):
        y = y0 + 20 + k * 2.75 * size
        colour = _colour(s, n.system, k)
        label = s.label or n.name
        drawing.add(Words(left, y + 0.95 * size, label, 0.9 * size, WHITE, "strong", step=step + k))
        drawing.add(Words(right, y + 0.95 * size, n.text, 0.9 * size, WHITE, anchor="end", step=step + k))
        a, b = sorted((at(0.0), at(v)))
        bar = box_path((a, y + 1.3 * size, max(b, a + 2), y + 2.05 * size))
        drawing.add(Fill(bar, colour, 0.85, step + k))
        mid = y + 1.675 * size
        drawing.add(Stroke(np.array([(at(lo), mid), (at(hi), mid)]), WHITE, 2.5, edge=1.5, step=step + k))
        for end in (lo, hi):
            drawing.add(Stroke(np.array([(at(end), mid - 7), (at(end), mid + 7)]), WHITE, 2.5, edge=1.5, step=step + k))
    return step + len(rows) - 1, notes


@dataclass(frozen=True)
class _Curve:
    x: Array
    y: Array
    low: Array
    high: Array
    axis: str
    x_unit: str
    unit: str
    colour: str
    label: str


def _people(value: Any, si: str, shown: str) -> Any:
    plain = {"°": "deg", "m²": "m2", "m³": "m3", "cm²": "cm2", "mm²": "mm2", "Nm": "N*m", "l": "litre"}.get(
        shown, shown
    )
    if not plain or plain == si or si == "1":
        return np.asarray(value, float) if np.ndim(value) else float(value)
    try:
        return units.from_si(units.to_si(np.asarray(value, float), si), plain)
    except (UnusableInput, ValueError):
        return np.asarray(value, float)


def _curve(s: Series, basis: Basis, chart: Chart, n: int) -> _Curve:
    head, _, name = s.of.partition(":")
    area, _, variant = head.partition("/")
    basis.number(s.of)  # raises when it has no basis
    run = basis.sheet(area)[variant]
    got = run["outputs"][name]
    along = (got.get("along") or [""])[0]
    axis = run["axes"].get(along)
    if axis is None or axis.get("unit") is None or np.ndim(got["value"]) != 1:
        raise LostBasis(f"{s.of} is no curve over one axis", fix="take an output along one axis of figures")
    size = max((abs(v) for v in [*got["low95"], *got["high95"]] if v is not None), default=0.0)
    unit = chart.unit or people_unit(got["unit"], size)
    y, low, high = (
        _people([np.nan if v is None else v for v in got[k]], got["unit"], unit) for k in ("value", "low95", "high95")
    )
    shown = axis.get("shown") or people_unit(axis["unit"], 0.1)
    x = _people(axis["values"], axis["unit"], pretty(shown))
    label = s.label or name.replace("_", " ")
    return _Curve(
        x, y, low, high, chart.axis or axis["meaning"], pretty(shown), pretty(unit), _colour(s, area, n), label
    )


def _curves(drawing: Drawing, chart: Chart, box: Box, basis: Basis, size: float, step: int) -> tuple[int, list[str]]:
    curves, notes = [], []
    for n, s in enumerate(chart.series):
        try:
            curves.append(_curve(s, basis, chart, n))
        except LostBasis as error:
            notes.append(error.what)
    if not curves:
        return step, notes
    x0, y0, x1, y1 = box
    small = 0.78 * size
    frame = (x0 + 30 + 2.4 * size, y0 + 2.2 * size, x1 - 28, y1 - 2.9 * size)
    xs = np.concatenate([c.x for c in curves])
    ys = np.concatenate([np.concatenate([c.low, c.high]) for c in curves])
    ys = ys[np.isfinite(ys)]
    xlow, xhigh, ylow, yhigh = float(xs.min()), float(xs.max()), float(ys.min()), float(ys.max())
    pad = 0.06 * ((yhigh - ylow) or 1.0)
    ylow, yhigh = ylow - pad, yhigh + pad

    def at(x: Any, y: Any) -> Array:
        px = frame[0] + (np.asarray(x) - xlow) / ((xhigh - xlow) or 1) * (frame[2] - frame[0])
        py = frame[3] - (np.asarray(y) - ylow) / (yhigh - ylow) * (frame[3] - frame[1])
        return np.stack(np.broadcast_arrays(px, py), axis=-1)

    for t in ticks(ylow, yhigh):
        drawing.add(Stroke(at([xlow, xhigh], [t, t]), RULE, 1.0, edge=0, step=step))
        drawing.add(
            Words(frame[0] - 10, at(xlow, t)[1] + 0.3 * small, _figure(t), small, SOFT, anchor="end", step=step)
        )
    for t in ticks(xlow, xhigh):
        drawing.add(Words(at(t, ylow)[0], frame[3] + 1.3 * small, _figure(t), small, SOFT, anchor="middle", step=step))
    c = curves[0]
    head = ", ".join(filter(None, [c.label if len(curves) == 1 else "", c.unit]))
    drawing.add(Words(x0 + 24, y0 + 1.5 * size, head, 0.9 * size, WHITE, "strong", step=step))
    drawing.add(Words(frame[2], y1 - 16, f"{c.axis}, {c.x_unit}".rstrip(", "), small, SOFT, anchor="end", step=step))
    for k, c in enumerate(curves):
        ok = np.isfinite(c.y) & np.isfinite(c.low) & np.isfinite(c.high)
        if ok.sum() < 2:
            continue
        band = np.vstack([at(c.x[ok], c.low[ok]), at(c.x[ok], c.high[ok])[::-1]])
        drawing.add(Fill(band, c.colour, 0.3, step + k))
        drawing.add(Stroke(at(c.x[ok], c.y[ok]), c.colour, 3.0, edge=0, step=step + k))
        if len(curves) > 1:
            px, py = at(c.x[ok][-1], c.y[ok][-1])
            shift = -10 if k % 2 == 0 else 1.2 * size
            drawing.add(Words(px, py + shift, typefaces.cut(c.label, 0.85 * size, "strong", 300), 0.85 * size, c.colour,
                              "strong", "end", step + k, halo=2))  # fmt: skip
    return step + len(curves) - 1, notes


def _figure(v: float) -> str:
    text = f"{v:.6g}"
    return text.replace("-", "\u2212") if v else "0"
