"""Every key of the board, in one place: the board itself, its buttons and the help sheet all read this."""

from __future__ import annotations

from typing import Any

_ROWS: tuple[tuple[str, str, str, str, str], ...] = (
    # keys, what it does in the board, group, button, words
    ("v", "look", "tool", "Look", "Choose and move marks, drag the photograph"),
    ("m", "point", "tool", "Point", "Mark a point"),
    ("r", "rim", "tool", "Rim", "Mark a rim by points on its edge"),
    ("l", "line", "tool", "Line", "Draw a line"),
    ("o", "outline", "tool", "Outline", "Draw an outline"),
    ("i", "pipe", "tool", "Pipe", "Draw a pipe along its middle"),
    ("1", "seen", "certainty", "seen", "What is marked or chosen is seen (solid line)"),
    ("2", "partly seen", "certainty", "partly", "… partly seen (dashed)"),
    ("3", "inferred", "certainty", "inferred", "… inferred (dotted): drawn, not fitted"),
    ("s", "shadows:1", "light", "Shadows", "Lift the shadows on the screen"),
    ("shift+s", "shadows:-1", "", "", "Lift them less"),
    ("d", "contrast:1", "light", "Contrast", "More contrast on the screen"),
    ("shift+d", "contrast:-1", "", "", "Less contrast"),
    ("b", "channel:0", "light", "Channel", "Single channels: red, green, blue, grey, all"),
    ("shift+b", "plain:0", "", "", "The photograph as it is"),
    ("n", "names", "show", "Names", "Names of all marks"),
    ("e", "residuals", "show", "Residuals", "Residuals, larger each time"),
    ("h", "hide", "", "", "Hide the marks, or show them again"),
    ("p", "propose", "help", "Propose", "Propose marks here from the survey"),
    ("x", "snap", "help", "Snap", "Move the chosen marks to the corner or edge under them"),
    ("enter", "finish", "", "", "End a line, rim or outline; confirm a proposal"),
    ("shift+enter", "confirm all", "", "", "Confirm all proposals"),
    ("j", "proposal:1", "", "", "Next proposal"),
    ("shift+j", "proposal:-1", "", "", "Proposal before"),
    ("t", "twin", "", "", "Mark the twin across the car"),
    ("c", "copy", "", "", "Propose the chosen marks on the next photograph"),
    ("w", "worst", "", "", "Go to the worst suspect mark, then the next"),
    ("y", "aside", "", "", "Set the chosen marks aside, or take them back"),
    ("delete", "remove", "", "", "Remove the chosen marks"),
    ("backspace", "remove", "", "", "Remove the chosen marks; reject a proposal"),
    ("arrowleft", "nudge:-0.25,0", "", "", "A quarter of a pixel to the left (without choice: move the photograph)"),
    ("arrowright", "nudge:0.25,0", "", "", "… to the right"),
    ("arrowup", "nudge:0,-0.25", "", "", "… up"),
    ("arrowdown", "nudge:0,0.25", "", "", "… down"),
    ("shift+arrowleft", "nudge:-2.5,0", "", "", "Two and a half pixels to the left"),
    ("shift+arrowright", "nudge:2.5,0", "", "", "… to the right"),
    ("shift+arrowup", "nudge:0,-2.5", "", "", "… up"),
    ("shift+arrowdown", "nudge:0,2.5", "", "", "… down"),
    ("k", "next mark:1", "", "", "Choose the next mark"),
    ("shift+k", "next mark:-1", "", "", "Choose the mark before"),
    ("ctrl+a", "all", "", "", "Choose all marks"),
    ("+", "zoom:1.5", "", "", "Closer"),
    ("=", "zoom:1.5", "", "", "Closer"),
    ("-", "zoom:0.6667", "", "", "Farther"),
    ("f", "fit", "", "", "The whole photograph"),
    ("z", "pixel", "", "", "One pixel of the photograph on one of the screen"),
    (".", "shot:1", "", "", "Next photograph"),
    (",", "shot:-1", "", "", "Photograph before"),
    ("escape", "up", "", "", "Give up what is begun; let go of the choice"),
)  # fmt: skip

KEYS: list[dict[str, Any]] = [
    {"keys": keys, "do": do, "group": group, "button": button, "what": what} for keys, do, group, button, what in _ROWS
]
