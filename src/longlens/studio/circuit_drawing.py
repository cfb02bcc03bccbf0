"""A cooling circuit as SVG: in plan and from the side to one scale, or over a photograph. Text only, no page.

Flow is the line's width, temperature its colour (with numbers beside it), certainty the line: solid seen, dashed partly
seen, dotted inferred. The palette is ColorBrewer's RdYlBu, seven classes, turned round (Brewer 2003; safe for the
colour-blind).
"""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.studio.look import PAGE, QUIET, TEXT
from longlens.systems.cooling.drawing import Drawing, Outline, Run, heat_share, width_share

Array = Any
#: Cold to hot.
PALETTE = ("#4575b4", "#91bfdb", "#e0f3f8", "#ffffbf", "#fee090", "#fc8d59", "#d73027")
UNKNOWN = "#80878d"
THIN, THICK = 2.2, 10.0
#: m: half a tyre's width, for the wheels drawn thin.
WIDE = 0.11
#: Dash and gap in line widths, at least so many pixels.
DASHES = {"seen": "", "partly": "7 4", "inferred": "0.1 5"}
WORD = {"seen": "seen", "partly": "partly seen", "inferred": "inferred"}

Project = Callable[[Array], Array]
e = html.escape


def colour(share: float) -> str:
    """The palette at 0 (coldest) to 1 (hottest)."""
    if not np.isfinite(share):
        return UNKNOWN
    place = float(np.clip(share, 0.0, 1.0)) * (len(PALETTE) - 1)
    low = min(int(place), len(PALETTE) - 2)
    mixed = [
        round(a + (place - low) * (b - a)) for a, b in zip(_rgb(PALETTE[low]), _rgb(PALETTE[low + 1]), strict=True)
    ]
    return "#" + "".join(f"{value:02x}" for value in mixed)


def _rgb(text: str) -> tuple[int, int, int]:
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def celsius(kelvin: float) -> str:
    """``62 °C``; a dash where there is none."""
    return f"{kelvin - 273.15:.0f} °C" if np.isfinite(kelvin) else "–"


@dataclass(frozen=True)
class View:
    """One projection of the car onto the page: ``name`` stands beside it."""

    name: str
    project: Project


def _plan(points: Array) -> Array:
    """From above, front to the left: the car's left side lies below."""
    p = np.asarray(points, float)
    return np.stack([-p[..., 0], p[..., 1]], axis=-1)


def _side(points: Array) -> Array:
    """From the left, front to the left."""
    p = np.asarray(points, float)
    return np.stack([-p[..., 0], -p[..., 2]], axis=-1)


PLAN = View("from above, front to the left", _plan)
SIDE = View("from the left, without what lies on the right", _side)


def numbered(drawing: Drawing) -> dict[str, int]:
    """The number that stands for each part in drawings and tables."""
    return {run.name: k + 1 for k, run in enumerate(drawing.runs)}


def plan_and_side(drawing: Drawing, wheels: Mapping[str, Array] | None = None, radius: float = 0.29) -> str:
    """Both views under each other, to one scale, as one SVG with its palette.

    Parameters
    ----------
    wheels : middles of wheels (3,), m, drawn thin, so that one sees where in the car it is.
    radius : of the wheels, m.
    """
    width, pad, gap = 1400.0, 20.0, 56.0
    every = np.concatenate([run.points for run in drawing.runs] + [o.points for o in drawing.outlines])
    near = _near_wheels(wheels or {}, every, radius)
    reach = np.array([radius, WIDE, radius])
    extent = np.concatenate([every, *[np.array([w - reach, w + reach]) for w in near]])
    boxes = [view.project(extent) for view in (PLAN, SIDE)]
    spans = [np.ptp(box, axis=0) for box in boxes]
    scale = (width - 2 * pad - gap) / max(sum(span[0] for span in spans), 0.4)
    tallest = max(span[1] for span in spans) * scale
    top, x, parts = pad + 24.0, pad, []
    for view, box, span in zip((PLAN, SIDE), boxes, spans, strict=True):
        origin = box.min(axis=0)
        shift = np.array([x, top + (tallest - span[1] * scale if view is SIDE else 0.0)])

        def to_page(points: Array, view: View = view, origin: Array = origin, shift: Array = shift) -> Array:
            return (view.project(points) - origin) * scale + shift

        parts.append(f'<text class="cd-view" x="{x:.0f}" y="{pad:.0f}">{view.name}</text>')
        parts += [_wheel(to_page, wheel, radius, view) for wheel in near if view is PLAN or wheel[1] > 0.0]
        parts += [_outline(to_page, outline) for outline in drawing.outlines if _shown(outline, view)]
        parts.append(runs(drawing, to_page, names=True, of=[run.name for run in drawing.runs if _shown(run, view)]))
        x += float(span[0]) * scale + gap
    parts.append(_legend(drawing, pad, top + tallest + 26.0, width, scale))
    height = top + tallest + 26.0 + 42.0
    return (
        f'<svg class="cd" viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="{e(spoken(drawing))}">'
        f"{''.join(parts)}</svg>"
    )


def _shown(thing: Run | Outline, view: View) -> bool:
    """From the left, the right half would only cover the left one."""
    return view is PLAN or float(np.mean(thing.points[:, 1])) > -0.06


def _near_wheels(wheels: Mapping[str, Array], points: Array, radius: float) -> list[Array]:
    """Those wheels that stand within half a metre of the circuit: the others would only make it small."""
    low, high = points[:, 0].min() - radius - 0.35, points[:, 0].max() + radius + 0.35
    return [np.asarray(w, float) for w in wheels.values() if low < float(w[0]) < high]


def runs(
    drawing: Drawing, to_page: Project, *, thick: float = 1.0, names: bool = False, of: Sequence[str] | None = None
) -> str:
    """All parts (or those named in ``of``) as lines with arrows and numbers; ``thick`` scales the widths, ``names`` adds
    words and temperatures."""
    chosen = [run for run in drawing.runs if of is None or run.name in of]
    order = sorted(chosen, key=lambda run: -width_share(run, drawing))
    lines = [_run(drawing, run, to_page, thick) for run in order]
    lines.append(_badges(drawing, chosen, to_page, thick, names))
    return "".join(lines)


def _run(drawing: Drawing, run: Run, to_page: Project, thick: float) -> str:
    pixels = np.asarray(to_page(run.points), float)
    if not np.all(np.isfinite(pixels)):
        pixels = pixels[np.all(np.isfinite(pixels), axis=-1)]
    if len(pixels) < 2:
        return ""
    width = thick * (THIN + (THICK - THIN) * width_share(run, drawing))
    inlet, outlet = (colour(heat_share(t, drawing)) for t in (run.inlet.median, run.outlet.median))
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in pixels)
    name = f"g{abs(hash((run.name, run.circuit, pixels.tobytes()))):x}"
    ink, defined = inlet, ""
    if inlet != outlet and np.linalg.norm(pixels[-1] - pixels[0]) > 3.0:
        (x1, y1), (x2, y2) = pixels[0], pixels[-1]
        ends = f'<stop offset="0" stop-color="{inlet}"/><stop offset="1" stop-color="{outlet}"/>'
        defined = (
            f'<linearGradient id="{name}" gradientUnits="userSpaceOnUse" x1="{x1:.1f}" y1="{y1:.1f}" '
            f'x2="{x2:.1f}" y2="{y2:.1f}">{ends}</linearGradient>'
        )
        ink = f"url(#{name})"
    dash = " ".join(f"{float(d) * max(0.42 * width, 1.4):.1f}" for d in DASHES[run.certainty].split())
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    edge = f'<path class="cd-edge" d="{path}" stroke-width="{width + 3.0 * thick:.1f}"/>' if not dash else ""
    told = f"<title>{e(run.label())}, {WORD[run.certainty]}</title>"
    line = f'<path class="cd-run" d="{path}" stroke="{ink}" stroke-width="{width:.1f}"{dashed}/>'
    return f"<g>{told}{defined}{edge}{line}{_arrow(pixels, width, run.still)}</g>"


def _arrow(pixels: Array, width: float, still: bool) -> str:
    """A head on the longest stretch, pointing with the flow."""
    step = np.diff(pixels, axis=0)
    lengths = np.linalg.norm(step, axis=1)
    k = int(np.argmax(lengths))
    size = max(0.95 * width, 6.0)
    if still or lengths[k] < 2.5 * size:
        return ""
    u = step[k] / lengths[k]
    across = np.array([-u[1], u[0]])
    middle = pixels[k] + 0.72 * step[k]
    tip, one, other = middle + size * u, middle - size * u + size * across, middle - size * u - size * across
    d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in (one, tip, other)) + "Z"
    return f'<path class="cd-arrow" stroke-width="{0.22 * size:.1f}" d="{d}"/>'


def _badges(drawing: Drawing, chosen: Sequence[Run], to_page: Project, thick: float, names: bool) -> str:
    """A number beside every part, moved apart where they would cover one another; words and temperatures beside it."""
    radius = 10.0 * thick
    taken: list[Array] = []
    out = []
    number = numbered(drawing)
    for run in chosen:
        pixels = np.asarray(to_page(run.points), float)
        pixels = pixels[np.all(np.isfinite(pixels), axis=-1)]
        if not len(pixels):
            continue
        words = _beside(run) if names else ""
        long = 0.62 * 1.25 * radius * len(words) + 1.4 * radius if words else 0.0
        at = _free_place(pixels, taken, radius, long)
        taken += [at + np.array([shift, 0.0]) for shift in np.arange(0.0, long + radius, radius)]
        told = f'<text class="cd-name" x="{at[0] + 1.5 * radius:.1f}" y="{at[1] + 0.42 * radius:.1f}">{e(words)}</text>'
        out.append(
            f'<g class="cd-badge"><circle cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="{radius:.1f}"/>'
            f'<text class="cd-number" x="{at[0]:.1f}" y="{at[1] + 0.38 * radius:.1f}" '
            f'font-size="{1.15 * radius:.1f}">{number[run.name]}</text>{told if words else ""}</g>'
        )
    return "".join(out)


def _beside(run: Run) -> str:
    """A pipe's temperature; the name of any other part, of a core both temperatures."""
    if run.kind == "pipe":
        return celsius(run.inlet.median)
    if run.kind in ("core", "charge core"):
        return f"{run.name}, {run.inlet.median - 273.15:.0f} to {celsius(run.outlet.median)}"
    return run.name


def _free_place(pixels: Array, taken: Sequence[Array], radius: float, long: float = 0.0) -> Array:
    """Along the line from its middle outward, then beside it: the first place clear of what was set before."""
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(pixels, axis=0), axis=1))])
    best, most = pixels[len(pixels) // 2], -1.0
    for aside in (0.0, 2.4, -2.4, 4.8, -4.8, 7.2, -7.2):
        for share in (0.5, 0.38, 0.62, 0.25, 0.75, 0.12, 0.88):
            at = np.array([np.interp(share * steps[-1], steps, pixels[:, k]) for k in (0, 1)])
            at = at + np.array([0.0, aside * radius])
            own = [at + np.array([shift, 0.0]) for shift in np.arange(0.0, long + radius, radius)]
            clear = min((float(np.linalg.norm(a - b)) for a in own for b in taken), default=np.inf)
            if clear > 2.1 * radius:
                return at
            if clear > most:
                best, most = at, clear
    return best


def _outline(to_page: Project, outline: Outline) -> str:
    pixels = np.asarray(to_page(outline.points), float)
    if not np.all(np.isfinite(pixels)):
        return ""
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in pixels)
    told = f"<title>{e(outline.name)}</title>"
    if outline.kind == "core":
        return f'<path class="cd-core" d="{path}Z">{told}</path>'
    return f'<path class="cd-thin" d="{path}">{told}</path>'


def _wheel(to_page: Project, middle: Array, radius: float, view: View) -> str:
    turn = np.linspace(0.0, 2.0 * np.pi, 73)[:, None]
    if view is SIDE:
        ring = middle + radius * (np.cos(turn) * [1.0, 0.0, 0.0] + np.sin(turn) * [0.0, 0.0, 1.0])
    else:
        half = 0.11
        ring = middle + np.array(
            [
                [radius, half, 0.0],
                [-radius, half, 0.0],
                [-radius, -half, 0.0],
                [radius, -half, 0.0],
                [radius, half, 0.0],
            ]
        )
    pixels = to_page(ring)
    return '<path class="cd-wheel" d="M' + "L".join(f"{x:.1f} {y:.1f}" for x, y in pixels) + 'Z"/>'


def _legend(drawing: Drawing, x: float, y: float, width: float, scale: float) -> str:
    """Palette with numbers, widths with numbers, the three lines, and half a metre."""
    out = []
    bar, count = 210.0, 42
    for k in range(count):
        ink = colour((k + 0.5) / count)
        out.append(
            f'<rect x="{x + k * bar / count:.1f}" y="{y:.1f}" width="{bar / count + 0.6:.1f}" height="12" fill="{ink}"/>'
        )
    for share in (0.0, 0.5, 1.0):
        kelvin = drawing.lowest + share * (drawing.highest - drawing.lowest)
        anchor = {0.0: "start", 0.5: "middle", 1.0: "end"}[share]
        out.append(
            f'<text class="cd-told" text-anchor="{anchor}" x="{x + share * bar:.0f}" y="{y + 30:.0f}">{celsius(kelvin)}</text>'
        )
    at = x + bar + 50.0
    largest = max((run.flow.median for run in drawing.runs), default=0.0)
    for share in (1.0, 0.5):
        thick = THIN + (THICK - THIN) * share
        out.append(f'<path class="cd-run" stroke="{QUIET}" stroke-width="{thick:.1f}" d="M{at:.0f} {y + 6:.0f}h44"/>')
        out.append(f'<text class="cd-told" x="{at:.0f}" y="{y + 30:.0f}">{share * largest:.2f} kg/s</text>')
        at += 96.0
    at += 6.0
    for certainty, dash in DASHES.items():
        dashed = " ".join(f"{float(d) * 2.1:.1f}" for d in dash.split())
        style = f' stroke-dasharray="{dashed}"' if dash else ""
        out.append(f'<path class="cd-run" stroke="{TEXT}" stroke-width="4" d="M{at:.0f} {y + 6:.0f}h64"{style}/>')
        out.append(f'<text class="cd-told" x="{at:.0f}" y="{y + 30:.0f}">{WORD[certainty]}</text>')
        at += 106.0
    half = 0.5 * scale
    x2 = width - x
    ends = f"M{x2 - half:.1f} {y + 1:.0f}v10M{x2:.1f} {y + 1:.0f}v10M{x2 - half:.1f} {y + 6:.0f}H{x2:.1f}"
    out.append(f'<path class="cd-scale" d="{ends}"/>')
    out.append(f'<text class="cd-told" text-anchor="end" x="{x2:.0f}" y="{y + 30:.0f}">0.5 m</text>')
    return "".join(out)


def spoken(drawing: Drawing) -> str:
    """The drawing in a sentence, for those who do not see it."""
    cores = [run for run in drawing.runs if run.kind == "core"]
    told = ", ".join(f"{c.name} {celsius(c.inlet.median)} in and {celsius(c.outlet.median)} out" for c in cores)
    return f"The circuit from above and from the left; {len(drawing.runs)} parts. {told}."


#: Rules for the drawing's classes; put once on a page.
STYLE = (
    ".cd{display:block;width:100%;height:auto}"
    ".cd text,.cd-over text{font-family:system-ui,'Noto Sans','DejaVu Sans',sans-serif}"
    f".cd-view,.cd-told{{fill:{QUIET};font-size:15px}}"
    ".cd-run,.cd-edge,.cd-thin,.cd-wheel,.cd-scale{fill:none;stroke-linecap:round;stroke-linejoin:round}"
    f".cd-edge{{stroke:{PAGE}}}"
    f".ll-plate .cd-over path{{vector-effect:none}}.ll-plate .cd-over .cd-arrow{{fill:{TEXT}}}"
    f".cd-core{{fill:#ffffff14;stroke:#8b9299;stroke-width:1.2}}"
    f".cd-thin{{stroke:{QUIET};stroke-width:1.8}}"
    ".cd-wheel{stroke:#555d64;stroke-width:1.3}"
    f".cd-scale{{stroke:{TEXT};stroke-width:1.4}}"
    f".cd-arrow{{fill:{TEXT};stroke:{PAGE}}}"
    f".cd-badge circle{{fill:{PAGE};stroke:{TEXT};stroke-width:1.2}}"
    f".cd-number{{fill:{TEXT};text-anchor:middle;font-weight:600}}"
    f".cd-name{{fill:{TEXT};font-size:15px;paint-order:stroke;stroke:{PAGE};stroke-width:4px;stroke-linejoin:round}}"
)
