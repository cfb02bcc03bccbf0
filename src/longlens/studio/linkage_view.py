"""The linkage as SVG: in a view of its own that turns, and in a photograph's perspective. Pure: places in, markup out."""

from __future__ import annotations

import html
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from longlens.publish.names import LINES
from longlens.systems.suspension.drawing import Segment

Array = NDArray[np.float64]

#: Azimuth and elevation of the views one asks for by name, degrees: from where one looks, 0 is from ahead.
VIEWS: Mapping[str, tuple[float, float]] = {
    "three-quarter": (38.0, 18.0),
    "from the front": (0.0, 0.0),
    "from the left": (90.0, 0.0),
    "from above": (0.0, 90.0),
}
#: Size of the view's own drawing.
WIDE, HIGH = 1000.0, 620.0
#: What is drawn as a body, what thin.
BODIES = ("upright", "rocker")
THIN = ("tyre", "rocker_axis", "beam")


@dataclass(frozen=True)
class View:
    """A parallel projection of vehicle axes to the drawing: (..., 3) m → (..., 2)."""

    azimuth: float
    elevation: float
    middle: Array
    scale: float

    def __call__(self, xyz: Array) -> Array:
        right, up = self.axes()
        d = np.asarray(xyz, float) - self.middle
        return np.stack([WIDE / 2 + self.scale * (d @ right), HIGH / 2 - self.scale * (d @ up)], axis=-1)

    def axes(self) -> tuple[Array, Array]:
        """Unit vectors of the drawing's right and up in vehicle axes."""
        a, e = np.radians(self.azimuth), np.radians(self.elevation)
        right = np.array([-np.sin(a), np.cos(a), 0.0])
        back = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])  # towards the one who looks
        return right, np.cross(back, right)


def view_of(segments: Sequence[Segment], azimuth: float, elevation: float) -> View:
    """A view that holds all segments, whichever way it is turned."""
    every = np.concatenate([s.points.reshape(-1, 3) for s in segments])
    every = every[np.all(np.isfinite(every), axis=1)]
    low, high = every.min(axis=0), every.max(axis=0)
    size = np.linalg.norm((high - low)[:2]), (high - low)[2] + 0.3 * (high - low)[0]
    scale = 0.9 * min(WIDE / float(size[0]), HIGH / float(size[1]))
    view = View(azimuth, elevation, (low + high) / 2, scale)
    reach = np.abs(view(every) - [WIDE / 2, HIGH / 2]).max(axis=0) / [WIDE / 2, HIGH / 2]
    # Only what would leave the drawing makes it smaller: turning must not breathe.
    return view if reach.max() < 0.98 else replace(view, scale=scale * 0.98 / float(reach.max()))


def path(pixels: Array) -> str:
    """An SVG path; broken where a place is not finite."""
    parts, pen = [], "M"
    for x, y in np.asarray(pixels, float):
        if np.isfinite(x) and np.isfinite(y):
            parts.append(f"{pen}{x:.1f} {y:.1f}")
            pen = "L"
        else:
            pen = "M"
    return "".join(parts)


def drawn(
    segments: Iterable[Segment],
    project: Callable[[Array], Array],
    *,
    inferred: Collection[str] = (),
    faint: bool = False,
    labels: Mapping[str, str] | None = None,
    size: float = 22.0,
) -> str:
    """Markup of the segments.

    Parameters
    ----------
    project : (n, 3) m → (n, 2) of the drawing.
    inferred : names of parts that rest on joints nobody saw: dotted.
    faint : where the linkage stood before it was moved.
    labels : name → words beside the part's middle; size: of the letters.
    """
    out = []
    for s in segments:
        pixels = project(s.points)
        d = path(pixels)
        if not d:
            continue
        certainty = "inferred" if s.name in inferred else "partly seen" if s.kind in THIN else "seen"
        opacity = ' style="opacity:.38"' if faint else ""
        out.append(f'<g class="s-suspension {LINES[certainty][0]}"{opacity}>')
        out.append(f"<title>{html.escape(s.name.replace('.', ' ').replace('_', ' '))}</title>")
        if s.kind in BODIES and not faint:
            out.append(f'<path class="fill" d="{d}"/>')
        if not faint:
            out.append(f'<path class="edge" d="{d}" style="stroke-width:.32rem"/>')
        width = ".09rem" if s.kind in THIN or faint else ".15rem"
        out.append(f'<path class="ink" d="{d}" style="stroke-width:{width}"/>')
        words = (labels or {}).get(s.name, "")
        if words and not faint:
            x, y = np.nanmean(pixels, axis=0)
            out.append(
                f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:.0f}" dx=".4em" dy="-.3em">{html.escape(words)}</text>'
            )
        out.append("</g>")
    return "".join(out)


def ground(view: View, segments: Sequence[Segment]) -> str:
    """A grid of 0.2 m on the road under the tyres, and the direction of travel."""
    tyres = [s.points for s in segments if s.kind == "tyre"]
    if not tyres:
        return ""
    every = np.concatenate([t.reshape(-1, 3) for t in tyres])
    every = every[np.all(np.isfinite(every), axis=1)]
    if not len(every):
        return ""
    z = every[:, 2].min()
    x0, x1 = np.floor(every[:, 0].min() / 0.2) * 0.2, np.ceil(every[:, 0].max() / 0.2) * 0.2
    y0, y1 = np.floor(every[:, 1].min() / 0.2) * 0.2, np.ceil(every[:, 1].max() / 0.2) * 0.2
    d = []
    for x in np.arange(x0, x1 + 0.01, 0.2):
        d.append(path(view(np.array([[x, y0, z], [x, y1, z]]))))
    for y in np.arange(y0, y1 + 0.01, 0.2):
        d.append(path(view(np.array([[x0, y, z], [x1, y, z]]))))
    ahead = view(
        np.array([[x1, 0, z], [x1 + 0.22, 0, z], [x1 + 0.17, 0.03, z], [x1 + 0.22, 0, z], [x1 + 0.17, -0.03, z]])
    )
    lines = f'<path d="{"".join(d)}" style="stroke:#343a41;stroke-width:1px"/>'
    return lines + f'<path d="{path(ahead)}" style="stroke:#8b9298;stroke-width:1.5px"/>'
