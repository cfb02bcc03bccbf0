"""Ids as words, and the colours and lines in which things are drawn.

Colours mean systems and come from Okabe and Ito's palette, made to be told apart by colour-blind people (Okabe and Ito
2008, "Color Universal Design"; values as tabulated there). Certainty is shown by the line, never by colour alone.
"""

from __future__ import annotations

#: System → (what it is called, colour). The order is that of every table. "" is what was given no system.
SYSTEMS: dict[str, tuple[str, str]] = {
    "suspension": ("Suspension", "#56B4E9"),
    "cooling": ("Cooling", "#E69F00"),
    "aero": ("Aerodynamics", "#009E73"),
    "structure": ("Structure", "#CC79A7"),
    "running": ("Wheels, brakes and running", "#F0E442"),
    "": ("Of no named system", "#E8E6E1"),
}
SUSPECT = "#D55E00"

#: Certainty → (class name, dashes in screen pixels).
LINES: dict[str, tuple[str, str]] = {
    "seen": ("seen", "none"),
    "partly seen": ("partly", "6 4"),
    "inferred": ("inferred", "1.5 4"),
}


def words(id: str) -> str:
    """``left.front.upper_wishbone@hanging`` → ``left front upper wishbone (hanging)``."""
    name, _, stance = id.partition("@")
    said = " ".join(name.replace("_", " ").replace(".", " ").split())
    return f"{said} ({stance})" if stance else said


def counted(n: int, one: str, many: str = "") -> str:
    """``1 mark``, ``2 marks``."""
    return f"{n} {one if n == 1 else many or one + 's'}"
