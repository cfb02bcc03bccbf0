"""The brief as PDF, set by Typst with the package's own fonts: summary, plates, numbers, claims, forecasts, facts, method and
limits, sources and credits, and an appendix with every number's trail.

Texts go in as string literals, so nothing of a dossier becomes markup.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence

from longlens.dossier.records import Fact
from longlens.publish import page_numbers
from longlens.publish.answers import findings, rows
from longlens.publish.brief import Brief, Line
from longlens.publish.names import SYSTEMS, counted, words
from longlens.publish.page import CAUTION, LIMITS, METHOD, summary
from longlens.publish.typefaces import FALLBACK, FAMILY
from longlens.publish.typeset import compile_pdf, string

_HEAD = f"""
#set page(paper: "a4", margin: (x: 22mm, top: 20mm, bottom: 22mm), numbering: "1", footer: context [
  #set text(8pt, fill: luma(35%))
  #short-title #h(1fr) #counter(page).display("1 / 1", both: true)
])
#set text(font: ("{FAMILY}", "{FALLBACK}"), size: 10pt, lang: "en", hyphenate: true)
#set par(leading: 0.62em, justify: false)
#show heading.where(level: 1): it => block(above: 1.6em, below: 0.8em, sticky: true, text(17pt, weight: 600, it.body))
#show heading.where(level: 2): it => block(above: 1.3em, below: 0.55em, sticky: true, text(11.5pt, weight: 600, it.body))
#set table(stroke: (x, y) => if y > 0 {{ (top: 0.4pt + luma(78%)) }}, inset: (x: 5pt, y: 3.4pt), align: left + top)
#show table.cell.where(y: 0): set text(fill: luma(35%), size: 8.5pt)
#let quiet(body) = text(fill: luma(35%), size: 8.5pt, body)
#let swatch(c) = box(width: 7pt, height: 7pt, radius: 1pt, fill: c, baseline: 0pt)
#let plate(file, title, body, credit, alt) = block(breakable: false, width: 100%, above: 1.2em, below: 1.4em, {{
  image(file, width: 100%, alt: alt)
  v(-0.4em)
  text(11.5pt, weight: 600, title)
  if body != "" {{ linebreak(); body }}
  linebreak()
  quiet(credit)
}})
"""


def brief_pdf(brief: Brief) -> bytes:
    """The PDF's bytes; the same brief gives the same bytes."""
    files: dict[str, bytes] = {}
    title = f"{brief.vehicle.maker} {brief.vehicle.name}".strip()
    stage = (brief.stage.name or brief.stage.id) if brief.stage else ""
    parts = [
        f"#let short-title = {string(f'{title}, {stage}' if stage else title)}",
        _HEAD,
        _cover(brief, title, stage, files),
        _plates(brief, files),
        _numbers(brief),
        _answers(brief),
        _held(brief),
        _unsure(brief),
        _facts(brief),
        _method(brief),
        _sources(brief),
        _trails(brief),
    ]
    return compile_pdf("\n".join(parts), files, title=f"{title}: {stage}" if stage else title)


def _s(text: object) -> str:
    """Text as a Typst expression in markup."""
    return f"#{string(text)}"


def _table(columns: str, heads: Sequence[str], body: Iterable[Sequence[str]]) -> str:
    cells = "".join(f"[{c}], " for row in body for c in row)
    head = ", ".join(f"[{_s(h)}]" for h in heads)
    return f"#table(columns: {columns}, table.header({head}), {cells})\n"


def _picture(data: bytes, name: str, files: dict[str, bytes]) -> str:
    files[name] = data
    return name


def _cover(brief: Brief, title: str, stage: str, files: dict[str, bytes]) -> str:
    out = [f"#text(9.5pt, fill: luma(35%), {string(brief.vehicle.maker)})\n\n"]
    stage_text = f" #h(0.3em) #text(weight: 400, fill: luma(35%), {string(stage)})" if stage else ""
    out.append(f"#block(below: 0.9em, text(30pt, weight: 600)[{_s(brief.vehicle.name)}{stage_text}])\n")
    if brief.vehicle.note:
        note = f"text(10pt, {string(brief.vehicle.note)})"
        out.append(f'#block(fill: rgb("#fbf6d3"), inset: 8pt, radius: 3pt, width: 100%, {note})\n')
    out.append(f"#text(12pt, {string(summary(brief))})\n\n")
    lead = max((p for p in brief.pictures if not p.withheld), key=lambda p: len(p.marks), default=None)
    if brief.figures:
        f = brief.figures[0]
        out.append(_lead_picture(f.jpeg, f.alt, f.credit, files))
    elif lead is not None and lead.jpeg:
        credit = f"Photograph: {lead.shot.credit} · {lead.shot.licence}"
        out.append(_lead_picture(base64.b64decode(lead.jpeg), lead.shot.note or lead.shot.id, credit, files))
    for f in brief.figures[1:7]:
        if f.text:
            out.append(f"#block(above: 0.9em, below: 0pt)[#strong({string(f.title)}) {_s(f.text)}]\n")
    out.append(f"\n#block(above: 1.6em, quiet({string(CAUTION)}))\n")
    return "".join(out)


def _lead_picture(data: bytes, alt: str, credit: str, files: dict[str, bytes]) -> str:
    name = string(_picture(data, "lead.jpg", files))
    return f"#image({name}, width: 100%, alt: {string(alt)})\n#quiet({string(credit)})\n"


def _plates(brief: Brief, files: dict[str, bytes]) -> str:
    if len(brief.figures) < 2:
        return ""
    out = ["#pagebreak()\n= Plates\n"]
    for i, f in enumerate(brief.figures[1:], 1):
        name = _picture(f.jpeg, f"plate{i}.jpg", files)
        out.append(f"#plate({', '.join(string(x) for x in (name, f.title, f.text, f.credit, f.alt))})\n")
    return "".join(out)


def _value(line: Line) -> str:
    return page_numbers.value_text(line)


def _numbers(brief: Brief) -> str:
    given = [line for line in brief.lines if line.value]
    if not given:
        return "= Numbers\nNone could be determined yet.\n"
    out = ["= Numbers\n", f"#quiet({string('In brackets the interval that holds the truth 95 times in 100.')})\n"]
    for key, (name, colour) in SYSTEMS.items():
        mine = [line for line in given if line.system == key]
        if mine:
            out.append(f'== #swatch(rgb("{colour}")) {_s(name)}\n')
            trail = [
                f"{counted(len(x.trail.marks), 'mark')} on {counted(len(x.trail.shots), 'photograph')}" for x in mine
            ]
            body = [(_s(words(x.measure.id)), _s(_value(x)), _s(t)) for x, t in zip(mine, trail, strict=True)]
            out.append(_table("(1fr, auto, auto)", ("What", "Value and interval", "Stands on"), body))
    return "".join(out)


def _answers(brief: Brief) -> str:
    out = []
    for answer in brief.answers:
        out.append(f"== {_s(SYSTEMS[answer.area][0])}\n")
        body = [(_s(r.name), _s(r.text), _s(r.model)) for r in rows(answer)]
        if body:
            out.append(_table("(1fr, auto, 1.2fr)", ("What", "Value and interval", "By"), body))
        for said in findings(answer):
            out.append(f"- {_s(said)}\n")
    return "= What follows from them\n" + "".join(out) if out else ""


def _held(brief: Brief) -> str:
    held = brief.held
    if held is None or not (held.claims or held.forecasts):
        return ""
    out = []
    if held.claims:
        out.append("= Claims\n")
        body = [(_s(c.text), _s(c.strength), _s(c.basis)) for c in held.claims]
        out.append(_table("(1.4fr, 1fr, 1fr)", ("Claim", "How strongly", "What speaks for it"), body))
    if held.forecasts:
        out.append("= Forecasts and how they came out\n")
        lines = [(_s(f.text), _s(f.chance), _s(f.outcome), _s(f.score)) for f in held.forecasts]
        out.append(_table("(1.4fr, auto, 1fr, auto)", ("Forecast", "Given chance", "What happened", "Score"), lines))
        if held.score:
            out.append(f"#quiet({string(held.score)})\n")
    return "".join(out)


def _unsure(brief: Brief) -> str:
    answer = brief.answer or {}
    said = [w for w in answer.get("warnings") or [] if not w.startswith(("point ", "circle ", "measure "))]
    if brief.unsolved is not None:
        said = [f"Not solvable: {brief.unsolved.what}", *brief.unsolved.needs, *said]
    said += [f"{words(x.measure.id)} is not determined: {x.refused['reason']}" for x in brief.lines if x.refused]
    body = "".join(f"- {_s(s)}\n" for s in said) or "The survey has no warning.\n"
    return f"= What is unsure\n{body}"


def _facts(brief: Brief) -> str:
    if not brief.facts:
        return ""

    def row(f: Fact) -> tuple[str, str, str, str]:
        origin = f.reason if f.basis == "assumed" else f.source
        return _s(f.of or words(f.id)), _s(page_numbers.fact_value(f)), _s(f.basis), _s(origin or "no source given")

    return "= Facts\n" + _table(
        "(1fr, auto, auto, 1.2fr)", ("What", "Value", "Kind", "Source or reason"), map(row, brief.facts)
    )


def _method(brief: Brief) -> str:
    return f"= Method and limits\n{_s(METHOD)}\n\n{_s(LIMITS)}\n\n#quiet({string(CAUTION)})\n"


def _sources(brief: Brief) -> str:
    shown = [p.shot for p in brief.pictures if not p.withheld]
    withheld = [(p.shot.id, p.withheld) for p in brief.pictures if p.withheld]
    body = [
        (
            _s(words(s.id)),
            _s(s.credit or ""),
            _s(s.licence or ""),
            _s(", ".join(filter(None, [s.source, (s.date or "")[:10]]))),
        )
        for s in shown
    ]
    out = "= Sources and credits\n"
    if body:
        out += _table("(1fr, 1.2fr, 1fr, 1.2fr)", ("Photograph", "Credit", "Licence", "Published"), body)
    if withheld:
        out += "\nMeasured from, and not shown:\n" + "".join(f"- {_s(f'{words(i)}: {why}')}\n" for i, why in withheld)
    return out


def _trails(brief: Brief) -> str:
    given = [line for line in brief.lines if line.value]
    if not given:
        return ""
    out = ["#pagebreak()\n= Appendix: the trail of every number\n#set text(7.5pt)\n#set par(leading: 0.5em)\n"]
    said = (
        "All marks are adjusted together, so every mark bears a little on every number. Listed are those that place a number's "
        "own points, their twins across the car, and its circles."
    )
    out.append(f"{_s(said)}\n\n#columns(2, gutter: 8mm)[\n")
    for line in given:
        places = []
        for shot in line.trail.shots:
            marks = [m for m in line.trail.marks if m.shot == shot]
            named = ", ".join(
                f"{words(m.point or m.circle or '')}" + (f" ({m.x:.0f}, {m.y:.0f})" if m.form == "point" else "")
                for m in marks
            )
            places.append(f"{shot}: {named or 'two edges across the rod'}")
        head = f"#strong({string(words(line.measure.id))}) {_s(_value(line))}"
        out.append(f"#block(below: 0.7em)[{head}#linebreak(){_s('; '.join(places))}]\n")
    out.append("]\n")
    return "".join(out)
