"""The brief's tables: numbers, what is unsure, facts, and the trail of every number."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from longlens.dossier.records import Fact, Mark
from longlens.numbers.display import format_interval
from longlens.publish.brief import Brief, Line
from longlens.publish.markup import e
from longlens.publish.names import SYSTEMS, counted, words


def table(caption: str, heads: Sequence[str], body: str) -> str:
    """A table of rows that are HTML already; ``caption`` and ``heads`` are our own words."""
    head = "".join(f'<th scope="col">{name}</th>' for name in heads)
    return f"<table><caption>{caption}</caption><thead><tr>{head}</tr></thead>{body}</table>"


def value_text(line: Line) -> str:
    """A line's value with its interval, for people."""
    v = line.value
    return format_interval(v["value"], v["low95"], v["high95"], v["unit"]) if v else "not determined"


def numbers(brief: Brief) -> str:
    """Every measure that was given, by system."""
    given = [(i, line) for i, line in enumerate(brief.lines) if line.value]
    if not given:
        return '<section id="numbers"><h2>Numbers</h2><p>None could be determined yet.</p></section>'
    bodies = []
    for key, (name, _) in SYSTEMS.items():
        rows = [_row(i, line) for i, line in given if line.system == key]
        if rows:
            swatch = f'<span class="swatch s-{key or "none"}"></span>'
            head = f'<tr><th colspan="4" scope="rowgroup">{swatch}{e(name)}</th></tr>'
            bodies.append(f"<tbody>{head}{''.join(rows)}</tbody>")
    caption = (
        "In brackets the interval that holds the truth 95 times in 100. The trail leads to the marks that a number "
        "stands on."
    )
    shown = table(caption, ("What", "Value and interval", "Kind", "Trail"), "".join(bodies))
    return f'<section id="numbers"><h2>Numbers</h2>{shown}</section>'


def _row(i: int, line: Line) -> str:
    trail = f"{counted(len(line.trail.marks), 'mark')} on {counted(len(line.trail.shots), 'photograph')}"
    return (
        f'<tr id="n{i}"><th scope="row">{e(words(line.measure.id))}</th>'
        f'<td class="value" data-label="value">{e(value_text(line))}</td><td data-label="kind">measured</td>'
        f'<td data-label="trail"><a href="#t{i}">{e(trail)}</a></td></tr>'
    )


def unsure(brief: Brief) -> str:
    """Warnings, suspects and refusals. What the survey says of single points is folded away."""
    answer = brief.answer or {}
    said = answer.get("warnings") or []
    points = [w for w in said if w.startswith(("point ", "circle "))]
    plain = [
        w for w in said if not w.startswith(("point ", "circle ", "measure "))
    ]  # a refused measure has its row below
    out = [_unsolved(brief), _listed(plain), _suspects(answer.get("suspect_marks") or [])]
    for fact in answer.get("suspect_facts") or []:
        out.append(f"<p>The published {e(words(str(fact.get('fact', ''))))} contradicts the photographs.</p>")
    out.append(_refused([line for line in brief.lines if line.refused]))
    if brief.not_asked:
        out.append(f"<p>{e(counted(brief.not_asked, 'measure'))} of the dossier: nothing of it is marked here.</p>")
    if points:
        head = f"{counted(len(points), 'point or circle', 'points or circles')} not placed"
        out.append(f"<details><summary>{e(head)}</summary>{_listed(points)}</details>")
    body = "".join(out) or "<p>The survey has no warning.</p>"
    return f'<section id="unsure"><h2>What is unsure</h2>{body}</section>'


def _listed(texts: Sequence[str]) -> str:
    return f"<ul>{''.join(f'<li>{e(_sentence(t))}</li>' for t in texts)}</ul>" if texts else ""


def _unsolved(brief: Brief) -> str:
    if brief.unsolved is None:
        return ""
    return f"<p>Not solvable: {e(brief.unsolved.what)}. What would help:</p>{_listed(brief.unsolved.needs)}"


def _refused(lines: Sequence[Line]) -> str:
    rows = []
    for line in lines:
        why = line.refused or {}
        needs = _sentence("; ".join(why.get("needs", [])))
        name = words(line.measure.id)
        rows.append(f'<tr><th scope="row">{e(name)}</th><td>{e(_sentence(why["reason"]))}</td><td>{e(needs)}</td></tr>')
    if not rows:
        return ""
    caption = "A number that the marks do not carry is not given."
    shown = table(caption, ("What", "Why not", "What would help"), f"<tbody>{''.join(rows)}</tbody>")
    return f"<h3>Asked, and not determined</h3>{shown}"


def _suspects(suspects: Sequence[dict[str, Any]]) -> str:
    """One row for each thing on each shot: of a rim many edge points may be off at once."""
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for s in suspects:
        groups.setdefault((str(s.get("point") or s.get("circle") or ""), str(s["shot"])), []).append(s)
    rows = []
    for (name, shot), found in groups.items():
        worst = max(found, key=lambda s: float(s["test"]))
        place = f"{float(worst['x']):.0f}, {float(worst['y']):.0f} px"
        place += f" and {len(found) - 1} more" if len(found) > 1 else ""
        rows.append(
            f'<tr><th scope="row">{e(words(name))}</th><td data-label="on">{e(words(shot))}</td>'
            f'<td data-label="at">{place}</td><td data-label="test value">{float(worst["test"]):.1f}</td></tr>'
        )
    if not rows:
        return ""
    caption = (
        "The test value says by how many of its own standard deviations a mark stands off. The adjustment set these "
        "aside: look at them again."
    )
    shown = table(caption, ("Mark of", "On shot", "At", "Test value"), f"<tbody>{''.join(rows)}</tbody>")
    return f"<h3>Marks that do not fit</h3>{shown}"


def _sentence(text: str) -> str:
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".") if text else ""


def facts(brief: Brief) -> str:
    """What was published, and what was assumed."""
    rows = "".join(_fact(f) for f in brief.facts)
    if not rows:
        return '<section id="facts"><h2>Facts</h2><p>None was given.</p></section>'
    caption = "As published, with the spread that rounding and tolerance allow."
    shown = table(caption, ("What", "Value", "Kind", "Source or reason"), f"<tbody>{rows}</tbody>")
    return f'<section id="facts"><h2>Facts</h2>{shown}</section>'


def _fact(fact: Fact) -> str:
    origin = fact.reason if fact.basis == "assumed" else fact.source
    use = "" if fact.surveyed else ' <span class="aside">not used by the survey</span>'
    return (
        f'<tr><th scope="row">{e(fact.of or words(fact.id))}{use}</th>'
        f'<td class="value" data-label="value">{e(fact_value(fact))}</td><td data-label="kind">{e(fact.basis)}</td>'
        f'<td data-label="source">{e(origin or "no source given")}</td></tr>'
    )


def fact_value(fact: Fact) -> str:
    """A fact's value with its interval, in its own unit; its words where it has no value."""
    if isinstance(fact.value, tuple):
        return f"({', '.join(f'{v:g}' for v in fact.value)}) {fact.unit}"
    if fact.value is None:
        return fact.text
    half = 1.96 * (fact.sd or 0.0)
    shown = None if fact.unit == "m" else fact.unit
    return format_interval(fact.value, fact.value - half, fact.value + half, fact.unit, shown=shown)


def trails(brief: Brief) -> str:
    """For every number the marks that place it."""
    items = "".join(_trail(brief, i, line) for i, line in enumerate(brief.lines) if line.value)
    scale = ", ".join(words(f.id) for f in brief.document.facts) or "no fact: only ratios and angles are known"
    return (
        '<section id="trails"><h2>Trails</h2><p>All marks are adjusted together, so every mark bears a little on every '
        "number. Listed are those that place a number's own points, their twins across the car, and its circles. "
        f'The scale comes from {e(scale)} (<a href="#facts">facts</a>).</p>{items}</section>'
    )


def _trail(brief: Brief, i: int, line: Line) -> str:
    shown = {p.shot.id: (k, not p.withheld) for k, p in enumerate(brief.pictures)}
    rows = []
    for shot in line.trail.shots:
        marks = [_place(brief, m, shown[shot][1]) for m in line.trail.marks if m.shot == shot]
        marks += ["two edges across the rod"] * line.trail.edges.count(shot)
        number, visible = shown[shot]
        name = f'<a href="#p{number}">{e(words(shot))}</a>' if visible else f"{e(words(shot))} (withheld)"
        rows.append(f"<li>{name}: {'; '.join(marks)}</li>")
    return (
        f'<details><summary>{e(words(line.measure.id))} <span class="value">{e(value_text(line))}</span></summary>'
        f'<ul id="t{i}">{"".join(rows)}</ul><p><a href="#n{i}">back to the number</a></p></details>'
    )


def _place(brief: Brief, mark: Mark, visible: bool) -> str:
    if mark.form == "point":
        text = f"{words(mark.point or '')} at ({mark.x:.0f}, {mark.y:.0f}) ± {mark.sd_px:g} px"
    else:
        text = f"{words(mark.circle or '')}, {counted(len(mark.edge or []), 'point')} on its rim ± {mark.sd_px:g} px"
    return f'<a href="#{brief.anchors[mark.id]}">{e(text)}</a>' if visible else e(text)
