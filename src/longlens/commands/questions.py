"""``longlens questions``: explanations weighed, what would turn them, and what would settle them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from longlens.commands.console import CAUTION, DossierFile, Json, emit, opened, say, table, tell

if TYPE_CHECKING:
    from longlens.claims.weigh import Weighed

Which = Annotated[str, typer.Argument(metavar="QUESTION", help="The question's id.", show_default=False)]
MAX_BYTES = 4_000_000


def list_(path: DossierFile, as_json: Json = False) -> None:
    """List the questions: what leads, how strongly the evidence supports it, how probable it is."""
    from longlens.claims.weigh import percent, weigh_all

    with opened(path) as dossier:
        found = weigh_all(dossier)
    if as_json:
        emit({"questions": [w.as_json() for w in found]})
    elif not found:
        tell("no questions yet")
    else:
        rows = [(w.question.id, w.question.text, w.lead.text, percent(w.belief[w.lead.id]), w.strength) for w in found]
        table("Questions", ("id", "question", "leads", "probability", "evidence"), rows)


def show(path: DossierFile, which: Which, as_json: Json = False) -> None:
    """Show one question: every item of evidence, what depends on what, what would turn the answer."""
    from longlens.claims.records import Question
    from longlens.claims.weigh import weigh_in

    with opened(path) as dossier:
        found = weigh_in(dossier, dossier.get(Question, which))
    if as_json:
        emit(found.as_json())
    else:
        _show(found)


def put(
    path: DossierFile,
    source: Annotated[
        Path, typer.Argument(metavar="FILE", help="A question with its evidence, JSON.", show_default=False)
    ],
    as_json: Json = False,
) -> None:
    """Write a question with its evidence into the dossier; what has the same id is replaced."""
    from longlens.claims.put import put as put_
    from longlens.claims.weigh import weigh_in

    data = _read(source)
    with opened(path) as dossier:
        question = put_(dossier, data, source.name)
        found = weigh_in(dossier, question)
    if as_json:
        emit(found.as_json())
    else:
        tell(found.sentence())


def settle(
    path: DossierFile,
    which: Which,
    positions: Annotated[
        bool, typer.Option("--positions/--no-positions", help="Ask the survey from where to photograph.")
    ] = True,
    as_json: Json = False,
) -> None:
    """Say what would settle a question, as a list for a photographer."""
    from longlens.claims.records import Question
    from longlens.claims.settle import candidates, list_for_photographer, standpoints_of
    from longlens.claims.weigh import weigh_in

    with opened(path) as dossier:
        question = dossier.get(Question, which)
        found = weigh_in(dossier, question)
        stand = None
        if positions and any(look.at for look in question.looks):
            solution = _solution(dossier, question.stage)
            stand = standpoints_of(solution) if solution is not None else None
    made = candidates(found, stand)
    if as_json:
        emit({"id": which, "candidates": [c.as_json() for c in made]})
    elif not made:
        tell("no observations to come are written down for this question (field looks)")
    else:
        tell(list_for_photographer(found, made))


def _solution(dossier: Any, stage: str | None) -> Any:
    from longlens.dossier.to_exchange import stages_with_marks, to_exchange
    from longlens.errors import NotSolvable
    from longlens.numbers.number import DRAWS
    from longlens.systems.survey_numbers import solution_of

    stages = stages_with_marks(dossier)
    if not stages:
        return None
    try:
        return solution_of(to_exchange(dossier, stage=stage if stage is not None else stages[-1]), DRAWS)
    except NotSolvable as e:
        say(f"no positions: {e}")
        return None


def _read(source: Path) -> Any:
    from longlens.errors import UnusableInput

    try:
        if source.stat().st_size > MAX_BYTES:
            raise UnusableInput("is too large for a question", where=source.name)
        return json.loads(source.read_text(encoding="utf-8"))
    except OSError as e:
        raise UnusableInput(f"cannot be read ({e.strerror})", where=source.name, fix="check the path") from None
    except (ValueError, RecursionError):
        raise UnusableInput("is not JSON", where=source.name, fix="check the file") from None


def _show(w: Weighed) -> None:
    from longlens.claims.verbal import figure
    from longlens.claims.weigh import percent

    tell(w.question.text, w.sentence(), "")
    table("Alternatives", ("alternative", "prior", "why", "now"),
          [(a.text, f"{100 * a.prior:.0f} %", a.why, percent(w.belief[a.id])) for a in w.order], right=(1,))  # fmt: skip
    texts = {i.evidence.id: i for i in w.items}
    rows = []
    for g in w.groups:
        at = texts[g.speaks]
        also = f" (with {', '.join(i for i in g.items if i != g.speaks)})" if len(g.items) > 1 else ""
        span = [figure(10**x) for x in (g.contribution, g.low, g.high)]
        rows.append((at.evidence.text + also, at.how, f"{span[0]} ({span[1]} to {span[2]})", "yes" if g.turns else ""))
    if rows:
        over = f"{w.lead.text} over {w.order[1].text}"
        table("Evidence", ("item", "how", f"ratio, {over}", "turns it alone"), rows)
    if w.turn:
        tell("Another answer would lead without: " + "; ".join(texts[i].evidence.text for i in w.turn))
    for what, then in w.assumptions:
        tell(f"If {what} does not hold, {next(a.text for a in w.question.alternatives if a.id == then)} leads.")
    for s in w.shared:
        tell(f"{s.first} and {s.second} rest on {', '.join(s.on[:4])}" + (": they count once" if s.once else ""))
    tell("", *w.remarks, "", CAUTION)


def attach(app: typer.Typer) -> None:
    group = typer.Typer(help="Weigh explanations, and see what would settle them.", no_args_is_help=True)
    group.command("list")(list_)
    group.command("show")(show)
    group.command("put")(put)
    group.command("settle")(settle)
    app.add_typer(group, name="questions")
