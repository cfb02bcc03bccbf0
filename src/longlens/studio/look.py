"""The studio's looks: one palette for pages, charts and drawings.

Colours mean systems (those of the published plates, :mod:`longlens.publish.names`); the page itself has none. Certainty is
told by the line. An interval is drawn as a dimension line: two ticks and what lies between.
"""

from __future__ import annotations

from typing import Any

from longlens.publish.names import LINES, SUSPECT, SYSTEMS

PAGE, RAISED, RULE, TEXT, QUIET = "#15181b", "#1d2125", "#363c42", "#e8e6e1", "#b3b6b8"
FONT = 'system-ui, "Noto Sans", "DejaVu Sans", sans-serif'
#: For curves that belong to no system, in this order: Okabe and Ito's palette.
SERIES = ("#56B4E9", "#E69F00", "#009E73", "#CC79A7", "#F0E442", "#E8E6E1", "#D55E00", "#0072B2")
#: For plotly: certainty → dash.
DASH = {"seen": "solid", "partly seen": "dash", "inferred": "dot"}


def colour_of(system: str | None) -> str:
    """A system's colour; the neutral one for none."""
    return SYSTEMS.get(system or "", SYSTEMS[""])[1]


def name_of(system: str | None) -> str:
    return SYSTEMS.get(system or "", SYSTEMS[""])[0]


def veil(colour: str, part: float) -> str:
    """A colour let through: ``rgba`` of a ``#rrggbb``."""
    r, g, b = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({r},{g},{b},{part:g})"


def css_variables() -> str:
    """The palette as CSS, for the pages."""
    systems = "".join(f".s-{name or 'none'}{{--ink:{colour}}}" for name, (_, colour) in SYSTEMS.items())
    lines = "".join(f".{name}{{--dash:{dash}}}" for name, dash in LINES.values())
    base = (
        f"--page:{PAGE};--raised:{RAISED};--rule:{RULE};--text:{TEXT};--quiet:{QUIET};--suspect:{SUSPECT};--ink:{TEXT}"
    )
    return f":root{{{base}}}{systems}{lines}"


def chart_layout() -> dict[str, Any]:
    """Layout of a plotly figure in this look."""
    axis = {
        "gridcolor": "#2a2f34",
        "linecolor": RULE,
        "zerolinecolor": "#4a5158",
        "ticks": "outside",
        "ticklen": 5,
        "tickcolor": RULE,
        "showline": True,
        "title": {"font": {"size": 13, "color": QUIET}},
    }
    return {
        "paper_bgcolor": PAGE,
        "plot_bgcolor": PAGE,
        "font": {"family": FONT, "size": 13, "color": TEXT},
        "colorway": list(SERIES),
        "margin": {"l": 64, "r": 16, "t": 16, "b": 52},
        "xaxis": axis,
        "yaxis": axis,
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0, "font": {"color": TEXT}},
        "hoverlabel": {"bgcolor": RAISED, "bordercolor": RULE, "font": {"family": FONT, "color": TEXT}},
        "hovermode": "x unified",
    }
