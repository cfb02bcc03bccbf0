"""The brief's plates, what follows from the numbers, claims and forecasts, sources and credits."""

from __future__ import annotations

import base64

from longlens.publish.answers import findings, rows
from longlens.publish.brief import Brief
from longlens.publish.markup import e
from longlens.publish.names import SYSTEMS, words
from longlens.publish.page_numbers import table


def plates(brief: Brief) -> str:
    """The plates as figures."""
    if not brief.figures:
        return ""
    out = []
    for i, f in enumerate(brief.figures):
        image = base64.b64encode(f.jpeg).decode()
        text = f'<p class="plate-text">{e(f.text)}</p>' if f.text else ""
        size = f'width="{f.width}" height="{f.height}"'
        picture = f'<img class="whole" src="data:image/jpeg;base64,{image}" {size} alt="{e(f.alt)}">'
        words_of = f"<h3>{e(f.title)}</h3>{text}<figcaption>{e(f.credit)}.</figcaption>"
        out.append(f'<figure id="plate{i}">{picture}{words_of}</figure>')
    return f'<section id="plates"><h2>Plates</h2>{"".join(out)}</section>'


def answers(brief: Brief) -> str:
    """What the systems' sheets compute from the numbers."""
    out = []
    for answer in brief.answers:
        name = SYSTEMS[answer.area][0]
        body = "".join(
            f'<tr><th scope="row">{e(r.name)}</th><td class="value" data-label="value">{e(r.text)}</td>'
            f'<td data-label="by">{e(r.model)}</td></tr>'
            for r in rows(answer)
        )
        said = "".join(f"<li>{e(t)}</li>" for t in findings(answer))
        heads = ("What", "Value and interval", "By")
        shown = table(
            f"{e(name)}: computed, with the error of the model in the interval.", heads, f"<tbody>{body}</tbody>"
        )
        out.append(
            f'<h3><span class="swatch s-{answer.area}"></span>{e(name)}</h3>{shown if body else ""}'
            + (f"<ul>{said}</ul>" if said else "")
        )
    return f'<section id="answers"><h2>What follows from them</h2>{"".join(out)}</section>' if out else ""


def held(brief: Brief) -> str:
    """Claims with their strength, forecasts with their score."""
    if brief.held is None:
        return ""
    out = []
    if brief.held.claims:
        body = "".join(
            f'<tr><th scope="row">{e(c.text)}</th><td data-label="how strongly">{e(c.strength)}</td>'
            f'<td data-label="what speaks for it">{e(c.basis)}</td></tr>'
            for c in brief.held.claims
        )
        heads = ("Claim", "How strongly", "What speaks for it")
        out.append(table("How strongly each is held, and on what.", heads, f"<tbody>{body}</tbody>"))
    if brief.held.forecasts:
        body = "".join(
            f'<tr><th scope="row">{e(f.text)}</th><td data-label="chance given">{e(f.chance)}</td>'
            f'<td data-label="what happened">{e(f.outcome)}</td><td data-label="score">{e(f.score)}</td></tr>'
            for f in brief.held.forecasts
        )
        columns = ("Forecast", "Chance given", "What happened", "Score")
        shown = table(e(brief.held.score or "Not settled yet."), columns, f"<tbody>{body}</tbody>")
        out.append(f"<h3>Forecasts and how they came out</h3>{shown}")
    return f'<section id="held"><h2>Claims and forecasts</h2>{"".join(out)}</section>' if out else ""


def sources(brief: Brief) -> str:
    """Whose photographs these are, and where they were published."""
    body = "".join(
        f'<tr><th scope="row">{e(words(p.shot.id))}</th><td data-label="credit">{e(p.shot.credit or "")}</td>'
        f'<td data-label="licence">{e(p.shot.licence or "")}</td>'
        f'<td data-label="published">{e(", ".join(filter(None, [p.shot.source, (p.shot.date or "")[:10]])))}</td></tr>'
        for p in brief.pictures
        if not p.withheld
    )
    if not body:
        return '<section id="sources"><h2>Sources and credits</h2><p>No photograph is shown.</p></section>'
    shown = table(
        "The photographs shown here.", ("Photograph", "Credit", "Licence", "Published"), f"<tbody>{body}</tbody>"
    )
    return f'<section id="sources"><h2>Sources and credits</h2>{shown}</section>'
