"""What pages are made of: numbers with their intervals and trails, tables, charts, photographs with drawings on them."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal
from urllib.parse import quote

import numpy as np
from nicegui import ui

from longlens.dossier.records import Shot
from longlens.errors import LonglensError
from longlens.numbers import display
from longlens.numbers.number import Number
from longlens.numbers.trail import Origin
from longlens.publish.names import LINES, words
from longlens.studio.desk import Desk
from longlens.studio.frame import refuse, text
from longlens.studio.look import DASH, TEXT, chart_layout, colour_of, veil

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from longlens.survey.camera import Array

e = html.escape

# Numbers ---------------------------------------------------------------------------------------------------


def number(
    desk: Desk,
    what: Number,
    *,
    shown: str | None = None,
    span: tuple[float, float] | None = None,
    was: tuple[float, float, float] | None = None,
    system: str | None = None,
    label: str = "",
) -> ui.element:
    """A number with its interval as text and as a dimension line; a click opens its trail.

    Parameters
    ----------
    what : a plain number (no curve).
    shown : the unit for people; default: the number's own, else by size.
    span : (low, high) SI that the line's whole width stands for; default: half as wide again as the interval.
    was : (value, low, high) SI before the last change, drawn thin below.
    label : said to screen readers before the value; default: the number's name.
    """
    i = what.interval
    told = display.format_interval(i.value, i.low, i.high, what.unit, shown=shown or what.shown)
    label = label or what.name
    button = ui.element("button").classes(f"ll-number s-{system or 'none'}").props("type=button")
    button.props["aria-label"] = f"{label}: {told}, {what.kind}. Show the trail"
    with button:
        ui.html(
            _told(told) + dimension_line((i.value, i.low, i.high), span=span, was=was), sanitize=False, tag="span"
        ).classes("ll-number")
    button.on("click", lambda: show_trail(desk, what, told))
    return button


def dimension_line(
    now: tuple[float, float, float],
    *,
    span: tuple[float, float] | None = None,
    was: tuple[float, float, float] | None = None,
    provisional: bool = False,
) -> str:
    """SVG of (value, low, high) as a dimension line, with what it was before thin below it; a provisional one is broken."""
    every = [x for x in (*now, *(was or ())) if np.isfinite(x)]
    if not every or not all(map(np.isfinite, now)):
        return ""
    if span is None:
        low, high = min(every), max(every)
        pad = 0.25 * (high - low) or 0.05 * abs(low) or 1.0
        span = (low - pad, high + pad)
    a, b = span

    def x(v: float) -> float:
        return float(np.clip(100 * (v - a) / (b - a), 0, 100)) if b > a else 50.0

    def line(t: tuple[float, float, float], y: float, name: str) -> str:
        lo, hi = x(t[1]), x(t[2])
        return f'<path class="{name}" d="M{lo:.1f} {y - 4:g}V{y + 4:g}M{hi:.1f} {y - 4:g}V{y + 4:g}M{lo:.1f} {y:g}H{hi:.1f}"/>'

    drawn = line(now, 6, "now") + f'<ellipse cx="{x(now[0]):.1f}" cy="6" rx="2.4" ry="2.4" fill="currentColor"/>'
    if was is not None:
        drawn = line(was, 13, "was") + drawn
    height = 18 if was is not None else 12
    kind = "ll-dimension provisional" if provisional else "ll-dimension"
    return f'<svg class="{kind}" viewBox="0 0 100 {height}" preserveAspectRatio="none" aria-hidden="true">{drawn}</svg>'


def named_numbers(desk: Desk, rows: Sequence[tuple[str, Number | None]], *, system: str | None = None) -> None:
    """Numbers under each other with their names; None says that there is no value."""
    with ui.element("dl").classes("ll-named"):
        for name, what in rows:
            text("dt", name)
            with ui.element("dd"):
                if what is None:
                    text("span", "not known", "ll-quiet")
                else:
                    number(desk, what, label=name, system=system)


def _told(told: str) -> str:
    value, paren, rest = told.partition(" (")
    return f"<b>{e(value)}</b><i>{e((paren + rest).strip())}</i>" if paren else f"<b>{e(told)}</b>"


# Trails ----------------------------------------------------------------------------------------------------


def show_trail(desk: Desk, what: Number, told: str = "") -> None:
    """Where a number comes from, down to the marks; each opens on its photograph."""
    with ui.dialog() as dialog, ui.element("div").classes("q-pa-md").style("min-width:min(44rem,90vw)"):
        text("h2", words(what.name)).style("margin-top:0")
        text("p", f"{told or display.show(what)} · {what.kind}")
        trail(desk, what.origin)
        text("button", "Close", "ll-button").props("type=button autofocus").on("click", dialog.close)
    dialog.on("hide", dialog.delete)
    dialog.open()


def trail(desk: Desk, origin: Origin, *, depth: int = 5) -> None:
    """A trail as a list in the page."""
    marks = {m.id: m for m in desk.marks()}
    seen: set[int] = set()

    def one(at: Origin, level: int) -> None:
        with ui.element("li"):
            text("span", at.kind, "ll-kind")
            kind, _, id = at.record.partition(":")
            if kind == "mark" and id in marks:
                mark = marks[id]
                ui.link(
                    f"{words(mark.point or mark.circle or mark.part)} on {mark.shot}",
                    f"/board?mark={quote(id, safe='')}",
                )
            else:
                text("span", words(at.name))
            why = at.reason or at.source or at.model
            if why and kind != "mark":
                text("span", f" — {why}", "ll-quiet")
            if at.inputs and id_of(at) not in seen and level < depth:
                seen.add(id_of(at))
                with ui.element("ul").classes("ll-trail"):
                    for below in at.inputs[:60]:
                        one(below, level + 1)
                    if len(at.inputs) > 60:
                        text("li", f"and {len(at.inputs) - 60} more", "ll-quiet")

    with ui.element("ul").classes("ll-trail ll-root"):
        one(origin, 0)


def id_of(origin: Origin) -> int:
    return id(origin)


# Tables ----------------------------------------------------------------------------------------------------

Cell = str | Number | Callable[[], Any] | None


def table(
    desk: Desk,
    columns: Sequence[str],
    rows: Sequence[Sequence[Cell]],
    *,
    caption: str = "",
    right: Sequence[int] = (),
    system: str | None = None,
) -> ui.element:
    """A table. A cell is a text, a Number (with its interval and trail), a function that builds it, or None.

    ``right``: the columns set to the right.
    """
    with ui.element("div").classes("ll-scroll").props('tabindex=0 role="region"') as box:
        box.props["aria-label"] = caption or ", ".join(columns)
        with ui.element("table").classes("ll-table"):
            if caption:
                text("caption", caption)
            with ui.element("thead"), ui.element("tr"):
                for i, name in enumerate(columns):
                    text("th", name, "ll-right" if i in right else "").props('scope="col"')
            with ui.element("tbody"):
                for row in rows:
                    with ui.element("tr"):
                        for i, cell in enumerate(row):
                            _cell(desk, cell, "ll-right" if i in right else "", system)
    return box


def _cell(desk: Desk, cell: Cell, classes: str, system: str | None) -> None:
    if cell is None or isinstance(cell, str):
        text("td", cell if cell else "—", classes)
        return
    with ui.element("td").classes(classes):
        if isinstance(cell, Number):
            number(desk, cell, system=system)
        else:
            cell()


# Charts ----------------------------------------------------------------------------------------------------


def figure(x: str, y: str, **layout: Any) -> go.Figure:
    """An empty plotly figure in the studio's look; ``x`` and ``y`` are the axes' words with units."""
    import plotly.graph_objects as go

    fig = go.Figure()
    fig.update_layout(**chart_layout())
    fig.update_xaxes(title_text=x)
    fig.update_yaxes(title_text=y)
    if layout:
        fig.update_layout(**layout)
    return fig


def band(
    fig: go.Figure,
    x: Array,
    value: Array,
    low: Array | None = None,
    high: Array | None = None,
    *,
    name: str = "",
    system: str | None = None,
    colour: str = "",
    certainty: Literal["seen", "partly seen", "inferred"] = "seen",
) -> None:
    """A curve with its 95 % band, in the units of the axes. The line's dash tells the certainty."""
    ink = colour or colour_of(system)
    if low is not None and high is not None:
        both_x = np.concatenate([np.asarray(x), np.asarray(x)[::-1]])
        both_y = np.concatenate([np.asarray(high), np.asarray(low)[::-1]])
        fig.add_scatter(
            x=both_x,
            y=both_y,
            fill="toself",
            fillcolor=veil(ink, 0.2),
            mode="lines",
            line={"width": 0},
            hoverinfo="skip",
            showlegend=False,
        )
    line = {"color": ink, "width": 2, "dash": DASH[certainty]}
    fig.add_scatter(x=x, y=value, mode="lines", name=name, line=line, showlegend=bool(name))


def curve(fig: go.Figure, x: Array, what: Number, *, to: Callable[[Array], Array] | None = None, **how: Any) -> None:
    """A Number along one axis as a band. ``to`` turns SI into the unit of the axis."""
    i, convert = what.interval, to or (lambda v: v)
    band(fig, x, convert(i.value), convert(i.low), convert(i.high), **how)


def chart(fig: go.Figure, says: str, *, height: str = "22rem") -> ui.plotly:
    """Put a figure on the page; ``says`` tells in a sentence what it shows, for those who do not see it."""
    fig.update_layout(autosize=True)
    fig.update_layout({"modebar": {"remove": ["select", "lasso"]}})
    shown = ui.plotly({**fig.to_dict(), "config": {"displayModeBar": False, "responsive": True}})
    shown.classes("ll-chart").style(f"height:{height}").props('role="img"')
    shown.props["aria-label"] = says
    return shown


# Photographs with drawings ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Shape:
    """A line, an area or a name to draw over a photograph.

    Give either ``xyz`` (m, vehicle axes: projected by the survey's camera of the shot) or ``pixels``.

    Parameters
    ----------
    xyz : (n, 3), or (n, 3) of the best solution with ``draws`` (N, n, 3) to show the spread.
    pixels : (n, 2) of the upright picture.
    """

    xyz: Any = None
    pixels: Any = None
    draws: Any = None
    system: str | None = None
    certainty: Literal["seen", "partly seen", "inferred"] = "seen"
    label: str = ""
    closed: bool = False
    filled: bool = False
    colour: str = field(default="", kw_only=True)


def project(desk: Desk, shot: str, xyz: Any, stage: str | Literal["here"] | None = "here") -> Array:
    """Pixels (..., 2) of points (..., 3), m, vehicle axes, by the survey's camera of a shot; NaN behind it.

    Raises LonglensError while the shot is not solved.
    """
    from longlens.survey.camera import project as pinhole

    answer = desk.solved(stage).answer or {}
    camera = (answer.get("shots") or {}).get(shot)
    if camera is None or "rotation" not in camera:
        raise LonglensError(f"the shot {shot} is not solved yet", fix="mark more on it, or wait for the survey")
    return pinhole(
        np.asarray(xyz, float),
        np.asarray(camera["rotation"]),
        np.asarray(camera["position_m"]),
        camera["focal_px"],
        camera["k1"],
        np.asarray(camera["principal_px"]),
    )


def photograph(
    desk: Desk, shot: str, shapes: Sequence[Shape] = (), *, caption: str = "", width: str = "100%"
) -> ui.element:
    """A photograph with shapes drawn in its perspective, its credit below."""
    found = desk.dossier.get(Shot, shot)
    size = max(found.width, found.height)
    drawn: list[str] = []
    with ui.element("figure").classes("ll-plate").style(f"width:{width}") as plate:
        try:
            drawn = [_drawn(desk, found, shape) for shape in shapes]
        except LonglensError as error:
            refuse(error)
        image = f'<img src="{picture_address(found)}" alt="{e(_alt(found))}">'
        box = f"-0.5 -0.5 {found.width} {found.height}"
        svg = f'<svg viewBox="{box}" font-size="{size / 70:.0f}" stroke-width="{size / 400:.1f}" aria-hidden="true">'
        ui.html(
            f'<div style="position:relative;aspect-ratio:{found.width}/{found.height}">{image}{svg}{"".join(drawn)}</svg></div>',
            sanitize=False,
        )
        told = " · ".join(
            t for t in (caption, f"Photograph: {found.credit}" if found.credit else "credit missing") if t
        )
        text("figcaption", told)
    return plate


def picture_address(shot: Shot, longest: int = 1600) -> str:
    """Where the studio serves a shot's photograph, scaled; "" when the shot has none."""
    return f"/photograph/{quote(shot.photograph, safe='')}/{longest}.jpg" if shot.photograph else ""


def _alt(shot: Shot) -> str:
    return f"Photograph {shot.name or shot.id}" + (f": {shot.note}" if shot.note else "")


def _drawn(desk: Desk, shot: Shot, shape: Shape) -> str:
    pixels = np.asarray(shape.pixels, float) if shape.pixels is not None else project(desk, shot.id, shape.xyz)
    pixels = pixels.reshape(-1, 2)
    if not np.any(np.isfinite(pixels)):
        return ""
    d = _path(pixels, shape.closed)
    ink = f' style="--ink:{e(shape.colour)}"' if shape.colour else ""
    out = [f'<g class="s-{shape.system or "none"} {LINES[shape.certainty][0]}"{ink}>']
    if shape.draws is not None:
        some = project(desk, shot.id, np.asarray(shape.draws)[:40])
        out += [
            f'<path class="ink" style="stroke-opacity:.12;stroke-dasharray:none" d="{_path(p, shape.closed)}"/>'
            for p in some
        ]
    if shape.filled:
        out.append(f'<path class="fill" d="{d}"/>')
    if len(pixels) > 1:
        out.append(f'<path class="edge" d="{d}"/><path class="ink" d="{d}"/>')
    else:
        x, y = (float(v) for v in pixels[0])
        r = max(shot.width, shot.height) / 180
        ring = f"M{x - r:.1f} {y:.1f}a{r:.1f} {r:.1f} 0 1 0 {2 * r:.1f} 0a{r:.1f} {r:.1f} 0 1 0 {-2 * r:.1f} 0"
        out.append(f'<path class="edge" d="{ring}"/><path class="ink" d="{ring}"/>')
    if shape.label:
        x, y = np.nanmean(pixels, axis=0)
        out.append(f'<text x="{x:.1f}" y="{y:.1f}" dx=".5em" dy="-.5em">{e(shape.label)}</text>')
    return "".join(out) + "</g>"


def _path(pixels: Array, closed: bool) -> str:
    parts, pen = [], "M"
    for x, y in pixels:
        if not (np.isfinite(x) and np.isfinite(y)):
            pen = "M"
            continue
        parts.append(f"{pen}{x:.1f} {y:.1f}")
        pen = "L"
    return "".join(parts) + ("Z" if closed and parts else "")


__all__ = [
    "TEXT",
    "Cell",
    "Shape",
    "band",
    "chart",
    "curve",
    "dimension_line",
    "figure",
    "named_numbers",
    "number",
    "photograph",
    "picture_address",
    "project",
    "show_trail",
    "table",
    "trail",
]
