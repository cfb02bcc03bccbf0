"""What was seen of a part's surface, and what that suggests of its material and making.

The rules are common practice in the trade, without a published source; the ratios are this project's judgement and are marked
so. A reading that was not made says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from longlens.systems.cooling.readings import COMMON_PRACTICE, Evidence

#: What may be seen → (favours, over, ratio, low, high, rule).
SIGNS: Mapping[str, tuple[str, str, float, float, float, str]] = {
    "even weld beads": ("welded steel or titanium tube", "bonded or cast part", 20.0, 8.0, 60.0,
                        "a bead of even ripples is laid by hand between tubes or sheets"),
    "wide weld beads": ("welded aluminium", "welded steel", 4.0, 2.0, 10.0, "aluminium takes wider and flatter beads than steel"),
    "blue and straw colours at welds": ("titanium or stainless steel", "aluminium", 15.0, 5.0, 50.0,
                                        "heat tints come on titanium and steel, not on aluminium"),
    "weave": ("laminate of woven carbon or its imitation", "metal", 30.0, 8.0, 100.0,
              "a weave shows under clear resin; printed film and overwraps imitate it"),
    "tape with one direction": ("laid-up structure that carries load", "cover for looks", 3.0, 1.5, 6.0,
                                "fibres in one direction are laid where loads have one"),
    "turning or milling marks": ("machined from the solid", "cast or forged", 12.0, 4.0, 40.0,
                                 "cutters leave even rows; castings keep them on their faces only"),
    "grainy skin and parting line": ("cast", "machined from the solid", 15.0, 5.0, 50.0,
                                     "a sand or shell mould leaves grain and a seam where its halves meet"),
    "smooth skin and flash line": ("forged", "cast", 5.0, 2.0, 15.0, "dies leave a smooth skin and a trimmed seam"),
    "layers as of stairs": ("printed in layers", "cast", 10.0, 3.0, 30.0, "layers show on faces that lean a little"),
    "bright colour with metal shine": ("anodised aluminium", "painted steel", 8.0, 3.0, 25.0,
                                       "dyed oxide lets the metal shine through"),
    "rivets in rows": ("bonded and riveted sheet", "one moulded piece", 10.0, 4.0, 30.0, "sheet is joined, mouldings are not"),
    "honeycomb at a cut edge": ("sandwich panel", "solid laminate", 30.0, 10.0, 100.0, "the core shows where a panel is cut"),
}  # fmt: skip


def read_signs(part: str, seen: Sequence[str]) -> list[Evidence]:
    """Evidence from what was seen of a part. KeyError for a sign that has no rule."""
    out = []
    for sign in seen:
        favours, over, ratio, low, high, rule = SIGNS[sign]
        out.append(Evidence(part, favours, over, ratio, low, high, sign, rule, COMMON_PRACTICE))
    return out
