"""The picture of how belief moved: one layer per item of evidence, laid under each other like the beds of a cutting.

Each layer is as wide as certainty and cut by the alternatives in one order; between two layers the cuts are joined, so that the
eye sees where one item shifted them. Segments carry their letter and a pattern of their own; colour adds nothing to these.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from longlens.studio.look import SERIES

if TYPE_CHECKING:
    from longlens.claims.weigh import Weighed

WIDTH, LAYER, GAP = 1000, 30, 34
#: Direction and distance of the hatching of each alternative.
HATCH = ((0, 0), (45, 9), (-45, 9), (90, 8), (0, 8), (45, 5), (-45, 5), (90, 5))
STYLE = """
.ll-belief{width:100%;max-width:64rem;display:block;margin:.3rem 0 .6rem}
.ll-belief text{fill:var(--text);font:15px system-ui,"Noto Sans","DejaVu Sans",sans-serif}
.ll-belief .in{fill:#0c0e10;font-weight:600;paint-order:stroke;stroke:#ffffffb0;stroke-width:4px}
.ll-belief .quiet{fill:var(--quiet);paint-order:stroke;stroke:var(--page);stroke-width:6px}
.ll-letters{list-style:none;padding:0;margin:.2rem 0 .6rem;display:flex;flex-wrap:wrap;gap:.2rem 1.4rem}
.ll-letters svg{width:1.6rem;height:1.1rem;vertical-align:-.15rem;margin-right:.4rem}
.ll-evidence{display:grid;grid-template-columns:minmax(0,1fr) auto;gap:.2rem 1.6rem;align-items:start;
  border-top:1px solid var(--rule);
  padding:.7rem 0;max-width:76rem}
.ll-evidence p{margin:.1rem 0}
.ll-evidence .ll-field{width:100%}
.ll-evidence .ll-short{width:5.5rem}
.ll-evidence select.ll-field{width:auto}
.ll-crops{display:flex;flex-wrap:wrap;gap:.4rem;justify-content:flex-end;max-width:22rem}
.ll-crops a{display:block;color:var(--quiet);font-size:.78rem;line-height:1.2;width:6.6rem;text-decoration:none}
.ll-crops svg{display:block;width:6.6rem;height:6.6rem;background:#0c0e10}
.ll-away{border-left:3px dashed #80878d;padding-left:.7rem}
@media (max-width:900px){.ll-evidence{grid-template-columns:minmax(0,1fr)}.ll-crops{justify-content:flex-start}}
"""


def letter(k: int) -> str:
    """The letter of an alternative."""
    return "ABCDEFGHIJKL"[k]


def picture(w: Weighed, prefix: str = "belief") -> str:
    """SVG of the layers: the prior, then one per group of evidence."""
    names = ["the priors", *(_told(w, g.speaks) for g in w.groups)]
    rows = np.nan_to_num(w.path[: len(names)])
    height = len(rows) * (LAYER + GAP) + 6
    out = [
        f'<svg class="ll-belief" viewBox="0 0 {WIDTH} {height}" aria-hidden="true">',
        _patterns(rows.shape[1], prefix),
    ]
    edges = np.concatenate([np.zeros((len(rows), 1)), np.cumsum(rows, axis=1)], axis=1) * WIDTH
    for i in range(len(rows) - 1):  # the joins first, so that words stand over them
        y = i * (LAYER + GAP) + 22 + LAYER
        for a, b in zip(edges[i, 1:-1], edges[i + 1, 1:-1], strict=True):
            out.append(
                f'<path d="M{a:.1f} {y}L{b:.1f} {y + GAP}" stroke="#80878d" fill="none" stroke-dasharray="3 3"/>'
            )
    for i, (name, row) in enumerate(zip(names, rows, strict=True)):
        y = i * (LAYER + GAP) + 22
        out.append(
            f'<text x="0" y="{y - 8}" class="quiet">{html.escape(("after: " if i else "") + _short(name))}</text>'
        )
        for k, p in enumerate(row):
            x, wide = edges[i, k], p * WIDTH
            fill = f"url(#{prefix}{k})"
            out.append(
                f'<rect x="{x:.1f}" y="{y}" width="{wide:.1f}" height="{LAYER}" fill="{fill}" stroke="#15181b"/>'
            )
            if wide > 34:
                words = f"{letter(k)} {100 * p:.0f} %" if wide > 74 else letter(k)
                out.append(f'<text class="in" x="{x + wide / 2:.1f}" y="{y + 20}" text-anchor="middle">{words}</text>')
    return "".join(out) + "</svg>"


def swatch(k: int, prefix: str) -> str:
    """A little field in the pattern of an alternative."""
    return (
        f'<svg viewBox="0 0 32 22" aria-hidden="true">{_patterns(k + 1, prefix, k)}'
        f'<rect width="32" height="22" fill="url(#{prefix}{k})"/></svg>'
    )


def told(w: Weighed) -> str:
    """The picture in a sentence, for those who do not see it."""
    lead = w.question.ids.index(w.lead.id)
    steps = [f"{100 * row[lead]:.0f} %" for row in np.nan_to_num(w.path)]
    return f"Probability of {w.lead.text}, item by item: {', '.join(steps)}."


def _patterns(n: int, prefix: str, only: int | None = None) -> str:
    out = []
    for k in range(n) if only is None else [only]:
        turn, step = HATCH[k % len(HATCH)]
        ink = SERIES[k % len(SERIES)]
        size = step or 10
        line = f'<path d="M0 0V{size}" stroke="#0c0e10" stroke-opacity=".42" stroke-width="2"/>' if step else ""
        out.append(
            f'<pattern id="{prefix}{k}" width="{size}" height="{size}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate({turn})"><rect width="{size}" height="{size}" fill="{ink}"/>{line}</pattern>'
        )
    return f"<defs>{''.join(out)}</defs>"


def _told(w: Weighed, id: str) -> str:
    return next(i.evidence.text for i in w.items if i.evidence.id == id)


def _short(words: str, most: int = 110) -> str:
    return words if len(words) <= most else words[: most - 1].rsplit(" ", 1)[0] + " …"


def crop(address: str, width: int, height: int, at: Sequence[float], half: float) -> str:
    """SVG of a part of a photograph round a mark, with a ring at it; pixels of the upright picture."""
    x, y = at
    ring = half / 5
    ticks = "".join(
        f'<path d="M{x + dx * ring:.1f} {y + dy * ring:.1f}L{x + dx * 2 * ring:.1f} {y + dy * 2 * ring:.1f}"/>'
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))
    )
    return (
        f'<svg viewBox="{x - half:.1f} {y - half:.1f} {2 * half:.1f} {2 * half:.1f}" aria-hidden="true">'
        f'<image href="{html.escape(address)}" x="-0.5" y="-0.5" width="{width}" height="{height}"/>'
        f'<g fill="none" stroke="#000" stroke-opacity=".6" stroke-width="{half / 14:.2f}">{ticks}</g>'
        f'<g fill="none" stroke="#fff" stroke-width="{half / 32:.2f}">{ticks}</g></svg>'
    )
