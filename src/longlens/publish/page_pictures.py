"""The brief's photographs with their marks, the legend, and the list of those withheld."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from longlens.dossier.records import Mark
from longlens.numbers.display import format_interval
from longlens.publish.brief import Brief, Picture
from longlens.publish.markup import e
from longlens.publish.names import LINES, SYSTEMS, counted, words
from longlens.publish.overlay import overlay


def legend(brief: Brief) -> str:
    """Which colour is which system and which line which certainty, as far as the pictures use them."""
    used = {m.system or "" for p in brief.pictures for m in p.marks}
    sure = {m.certainty for p in brief.pictures for m in p.marks}
    systems = [
        _key(f"line seen s-{key or 'none'}", "M2 5H38", name) for key, (name, _) in SYSTEMS.items() if key in used
    ]
    lines = [_key(f"line s-none {line}", "M2 5H38", said) for said, (line, _) in LINES.items() if said in sure]
    if any(p.suspects for p in brief.pictures):
        lines.append(_key("suspect", "M15 5L20 0.5L25 5L20 9.5Z", "suspect mark"))
    return (
        f'<ul class="legend" aria-label="Colours are systems">{"".join(systems)}</ul>'
        f'<ul class="legend" aria-label="Lines are certainty">{"".join(lines)}</ul>'
    )


def _key(classes: str, path: str, name: str) -> str:
    drawn = f'<g class="mark {classes}"><path class="ink" d="{path}"/></g>'
    return f'<li><svg viewBox="0 0 40 10" aria-hidden="true">{drawn}</svg>{e(name)}</li>'


def lead(brief: Brief) -> str:
    """The picture that stands at the top: the one with the most marks."""
    first = _first(brief)
    return _figure(brief, first, "h2") if first else ""


def _first(brief: Brief) -> Picture | None:
    return max((p for p in brief.pictures if not p.withheld), key=lambda p: len(p.marks), default=None)


def pictures(brief: Brief) -> str:
    """The section of photographs."""
    first = _first(brief)
    shown = "".join(_figure(brief, p) for p in brief.pictures if not p.withheld and p is not first)
    kept = brief.withheld
    note = ""
    if kept:
        items = "".join(f"<li><strong>{e(words(p.shot.id))}</strong>: {e(p.withheld)}.</li>" for p in kept)
        note = (
            "<h3>Withheld</h3><p>These photographs were used for measuring but are not shown:</p>"
            f'<ul class="withheld">{items}</ul>'
        )
    return f'<section id="pictures"><h2>Photographs and their marks</h2>{shown}{note}</section>'


def _figure(brief: Brief, picture: Picture, heading: str = "h3") -> str:
    number = brief.pictures.index(picture)
    shot = picture.shot
    title = shot.note or words(shot.name or shot.id)
    return (
        f'<figure id="p{number}"><{heading}>{e(title)}</{heading}>{_plate(brief, picture)}{_caption(picture)}'
        f"{_camera(brief, shot.id)}{_named(picture.marks)}</figure>"
    )


def _plate(brief: Brief, picture: Picture) -> str:
    shot = picture.shot
    by = Counter(SYSTEMS[m.system or ""][0].lower() for m in picture.marks)
    alt = f"Photograph {words(shot.id)}: {shot.note or 'the vehicle'}. "
    alt += f"{counted(len(picture.marks), 'mark')} drawn over it"
    alt += f" ({', '.join(f'{n} {name}' for name, n in by.most_common())})." if by else "."
    drawn = overlay(shot, picture.marks, picture.suspects, lambda m: brief.anchors[m.id])
    return (
        f'<div class="plate" style="aspect-ratio:{shot.width}/{shot.height}">'
        f'<img src="data:image/jpeg;base64,{picture.jpeg}" width="{shot.width}" height="{shot.height}" alt="{e(alt)}">'
        f"{drawn}</div>"
    )


def _caption(picture: Picture) -> str:
    shot = picture.shot
    said = [f"Photograph: {shot.credit}", f"licence: {shot.licence}"]
    said += [shot.date[:10]] if shot.date else []
    said += [shot.source] if shot.source else []
    return f"<figcaption>{e(' · '.join(said))}. Marks added.</figcaption>"


def _camera(brief: Brief, shot: str) -> str:
    got = (brief.answer or {}).get("shots", {}).get(shot)
    if not got:
        return ""
    half = 1.96 * (got.get("focal_sd_px") or 0.0)
    focal = format_interval(got["focal_px"], got["focal_px"] - half, got["focal_px"] + half, "px", shown="px")
    text = f"Camera found from the marks: focal length {focal}"
    if got.get("residual_rms_px") is not None:
        text += f"; the marks fit to {got['residual_rms_px']:.1f} px"
    return f'<p class="camera">{e(text)}.</p>'


def _named(marks: Iterable[Mark]) -> str:
    """The parts drawn on a picture, each with its certainty: the text that goes with the drawing."""
    rank = list(LINES)
    best: dict[tuple[str, str], str] = {}
    for m in marks:
        part = m.part or words(m.point or m.circle or "")
        key = (m.system or "", part)
        if part and (key not in best or rank.index(m.certainty) < rank.index(best[key])):
            best[key] = m.certainty
    items = [
        f'<li><span class="swatch s-{system or "none"}"></span>{e(part)}'
        + (f" <em>({e(certainty)})</em>" if certainty != "seen" else "")
        + "</li>"
        for (system, part), certainty in sorted(best.items(), key=lambda kv: (list(SYSTEMS).index(kv[0][0]), kv[0][1]))
    ]
    if not items:
        return ""
    head = f"{counted(len(items), 'part')} named here"
    return f'<details><summary>{e(head)}</summary><ul class="parts">{"".join(items)}</ul></details>'
