"""The tour for the first time: the demo's own dossier, one thing at a time, each done by the person."""

from __future__ import annotations

#: (page, what to look at there as a CSS selector, what is said). Words only of what is really there.
STEPS: tuple[tuple[str, str, str], ...] = (
    (
        "/shots",
        ".ll-shots tbody tr",
        "This is the demo: an invented car in two stages. Each photograph keeps its date, source, credit and licence; "
        "what is missing is marked. Files and whole folders can be dropped here.",
    ),
    (
        "/board?shot=s1_studio_front",
        ".ll-stage",
        "The board. Turn the wheel to go close, drag to move, press f for the whole photograph. Colours are systems; "
        "a solid line is seen, a dashed one partly seen, a dotted one inferred.",
    ),
    (
        "/board?shot=s1_studio_front",
        ".ll-tools-row",
        "Press m and click to mark a point, then type a few letters of its name. Arrows move it by a quarter of a pixel, "
        "x takes it to the edge or corner under it, ctrl+z takes everything back.",
    ),
    (
        "/board?point=left.front.hub_nut",
        ".ll-side",
        "Choose a mark: here stands what hangs on it, each number with the interval that holds the truth 95 times in 100. "
        "Move the mark and see them move.",
    ),
    (
        "/board?shot=s3_front_suspension",
        ".ll-stage",
        "Once a photograph is solved the survey helps: p proposes marks where points must lie, Enter confirms one; "
        "e shows the residuals; w goes to the worst suspect mark.",
    ),
    ("/survey", "h1", "The survey: how well each thing is known, the cameras in space, and what would help most."),
    ("/numbers", "h1", "All numbers. Click one to see its trail down to the marks on the photographs."),
    (
        "/cooling",
        "h1",
        "Each system has its page: its physics, fed by the same numbers, under each explanation. The question of this car "
        "is how its two coolers are plumbed.",
    ),
    ("/claims", "h1", "What speaks for each explanation, how strongly, and which photograph would settle it."),
    (
        "/start",
        "h1",
        "That is all. Press ? on any page for its keys and ctrl+k to search. Make a dossier of your own here; this one "
        "stays to play with.",
    ),
)


def steps(paths: set[str]) -> list[dict[str, str]]:
    """The steps whose pages there are."""
    return [{"to": to, "at": at, "say": say} for to, at, say in STEPS if to.partition("?")[0] in paths]
