"""The panel beside the board: what is chosen, what is known and asked of it, the numbers that hang on it, suspects."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui

from longlens.dossier.records import Mark, Measure, Point
from longlens.errors import UnusableInput
from longlens.numbers import display
from longlens.publish.names import counted, words
from longlens.studio.board import edits
from longlens.studio.elements import dimension_line, show_trail
from longlens.studio.frame import say, text
from longlens.studio.look import name_of
from longlens.survey.provisional import NotYet, Provisional, measure_provisionally

if TYPE_CHECKING:
    from longlens.studio.pages.board import Board

CERTAINTIES = ("seen", "partly seen", "inferred")
MOST = 14
#: Marks of a provisional place that miss each other by more standard deviations than this are told of.
MISFIT = 3.0


def fill_side(board: Board) -> None:
    """Build the panel anew; but a form that is being filled in stays while the same things are chosen: an answer of the survey
    comes when it comes, and nothing that was typed may be lost by it."""
    marks = board.chosen_marks()
    key = _key(board, marks)
    if board.choice is None or board.numbers is None or key is None or key != board.choice_key:
        board.side.clear()
        with board.side:
            board.choice, board.numbers = ui.element("div"), ui.element("div")
        with board.choice:
            if marks:
                _chosen(board, marks)
                _known_and_asked(board, marks)
            else:
                _shot(board)
        board.choice_key = key
    board.numbers.clear()
    with board.numbers:
        _place(board, marks)
        _numbers(board, marks)
        _suspects(board)


def _key(board: Board, marks: list[Mark]) -> str | None:
    """What the upper part of the panel shows, as text; None where nothing is chosen."""
    if not marks:
        return None
    dossier = board.desk.dossier
    points = sorted({m.point for m in marks if m.point})
    shown: list[Any] = [m.model_dump_json() for m in marks]
    for id in points:
        point = dossier.find(Point, id)
        shots = {m.shot for m in board.desk.marks() if m.point == id}
        shown += [point.model_dump_json() if point else "", sorted(shots)]
    shown += [(a.name, a.words, bool(a.stated)) for a in edits.asks_of(dossier, marks)]
    return repr(shown)


def _shot(board: Board) -> None:
    shot = board._record()
    if shot is None:
        text("h2", "No photograph")
        ui.link("Bring some in", "/shots")
        return
    text("h2", shot.name or shot.id)
    number = sum(m.shot == shot.id for m in board.desk.marks())
    camera = ((board.desk.solved().answer or {}).get("shots") or {}).get(shot.id)
    text("p", f"{counted(number, 'mark')}, {shot.width} × {shot.height} pixels, stance {shot.stance}.")
    if camera:
        half = 1.96 * camera["focal_sd_px"]
        f = camera["focal_px"]
        focal = display.format_interval(f, f - half, f + half, "px", shown="px")
        text("p", f"Focal length {focal}; residuals {camera['residual_rms_px']:.1f} px (root mean square).")
    text(
        "p",
        f"Photograph: {shot.credit}" if shot.credit else "The credit is missing.",
        "ll-quiet" if shot.credit else "ll-bad",
    )
    solved = board.desk.solved()
    if solved.needs:
        text("h2", "What the survey needs")
        with ui.element("ul"):
            for need in solved.needs:
                text("li", need)


def _chosen(board: Board, marks: list[Mark]) -> None:
    one = marks[0] if len(marks) == 1 else None
    with ui.element("h2"):
        text("span", words(one.point or one.circle or "") or one.part if one else counted(len(marks), "mark"))
        text("small", one.form if one else "chosen")
    if one is not None:
        system = name_of(one.system)
        where = (
            f"at {one.x:.2f}, {one.y:.2f} px"
            if one.form == "point"
            else counted(len(one.edge or one.path or []), "place")
        )
        text("p", f"{system}; {where}, ±{one.sd_px:g} px", "ll-quiet")
    with ui.element("div").classes("ll-choice").props('role="group" aria-label="Certainty"'):
        for certainty in CERTAINTIES:
            on = all(m.certainty == certainty for m in marks)
            _choice(certainty, on, lambda c=certainty: _change(board, marks, c, certainty=c))
        aside = all(m.set_aside for m in marks)
        _choice("set aside", aside, lambda: board.do_aside({"ids": [m.id for m in marks]}))
    if one is not None and one.point:
        _point(board, one.point)


def _point(board: Board, id: str) -> None:
    point = board.desk.dossier.find(Point, id)
    if point is None:
        return
    with ui.element("div").classes("ll-choice").props('role="group" aria-label="Where it lies"'):
        for name, on in (("on the centre plane", "centre_plane"), ("on the ground", "ground")):
            if on == "centre_plane" and edits.twin_of(id):
                continue
            is_on = point.on == on
            _choice(name, is_on, lambda on=on, is_on=is_on: _lies(board, id, None if is_on else on))
    told = []
    if point.mirror:
        told.append(f"twin of {words(point.mirror)}")
    elif edits.twin_of(id):
        told.append("its twin: press t")
    shots = {m.shot for m in board.desk.marks() if m.point == id}
    told.append(f"marked on {counted(len(shots), 'photograph')}")
    text("p", "; ".join(told), "ll-quiet")


def _lies(board: Board, id: str, on: str | None) -> None:
    with board.desk.batch(f"where {words(id)} lies") as dossier:
        body = dossier.get(Point, id).model_dump(exclude_none=True)
        dossier.put(Point.model_validate({**body, "on": on}))


def _choice(name: str, on: bool, do: Any) -> None:
    button = text("button", name, "ll-plain" + (" ll-on" if on else "")).props("type=button")
    button.props["aria-pressed"] = str(on).lower()
    button.on("click", do)


def _change(board: Board, marks: list[Mark], what: str, **fields: Any) -> None:
    with board.desk.batch(edits.label(f"{what}:", marks)) as dossier:
        edits.change_marks(dossier, [m.id for m in marks], **fields)


# Known and asked -------------------------------------------------------------------------------------------


def _known_and_asked(board: Board, marks: list[Mark]) -> None:
    asks = edits.asks_of(board.desk.dossier, marks)
    if not asks:
        return
    with ui.element("div").classes("ll-choice"):
        for ask in asks[:3]:
            button = text("button", f"Ask the {ask.words}", "ll-button").props("type=button")
            button.on("click", lambda ask=ask: _ask(board, ask))
    stated = [a for a in asks if a.stated]
    if not stated:
        return
    with ui.element("details"):
        text("summary", "State a published figure")
        with ui.element("div").classes("ll-form"):
            of = ui.element("select").classes("ll-field ll-boxed").props('aria-label="Of what" autocomplete="off"')
            with of:
                for i, ask in enumerate(stated):
                    text("option", ask.words).props(f"value={i}")
            chosen = {"at": 0}
            of.on("change", lambda e: chosen.update(at=int(e.args)), js_handler="(e) => emit(e.target.value)")
            value = ui.number("Value, mm", format="%.6g").props("dense outlined").style("width:45%")
            sd = ui.number("± (sd), mm", value=2.0, format="%.6g").props("dense outlined").style("width:45%")
            source = ui.input("Source").props("dense outlined").style("width:60%")
            keep = text("button", "Keep it", "ll-button").props("type=button")
        keep.on("click", lambda: _state(board, stated[chosen["at"]], value.value, sd.value, source.value))


def _ask(board: Board, ask: edits.Ask) -> None:
    with board.desk.batch(f"ask {words(ask.name)}") as dossier:
        made = edits.ask_measure(dossier, ask)
    say(f"asked: {words(made.id)}")


def _state(board: Board, ask: edits.Ask, value: float | None, sd: float | None, source: str | None) -> None:
    if not value or value <= 0:
        raise UnusableInput("the figure has no value", fix="write it in millimetres")
    board.choice_key = None  # the form has done its work: an empty one takes its place
    with board.desk.batch(f"state {words(ask.name)}") as dossier:
        edits.state_length(dossier, ask, float(value), float(sd or 0.0), "mm", source or "", board.desk.stage)
    say("kept; the survey takes it up")


# Numbers ---------------------------------------------------------------------------------------------------


def hanging(board: Board, marks: list[Mark]) -> list[Measure]:
    """The measures that rest on what is chosen, on its twin, or on a rim's centre; without choice all."""
    every = board.desk.records.all(Measure)
    if not marks:
        return every
    from longlens.survey.measures import points_of

    names = {n for m in marks for n in (m.point, m.circle) if n}
    names |= {t for n in list(names) if (t := edits.twin_of(n))}
    table: dict[str, Any] = {m.id: m for m in every}
    out = []
    for m in every:
        parts = [table[k] for k in m.ratio if k in table] if m.ratio else [m]
        on = set(points_of(m, table)) | {p.diameter for p in parts if isinstance(p.diameter, str)}
        if on & names:
            out.append(m)
    return out


def _place(board: Board, marks: list[Mark]) -> None:
    """Where the chosen point lies: by the survey; until that has placed it, by its marks and the cameras as they stand."""
    point = marks[0].point if len(marks) == 1 else None
    solved = board.desk.solved()
    if point is None or solved.solution is None:
        return
    place = board.desk.provisional(point)
    if isinstance(place, NotYet):
        text("p", f"Not placed yet: {place.why}.", "ll-quiet")
        return
    with ui.element("h2"):
        text("span", "Where it lies")
        if place is not None:
            text("small", "provisional")
        elif not solved.current:
            text("small", "being worked out")
    if place is None:
        net = solved.solution.net
        i = net.point(point)
        turn = np.array([1.0, float(net.sign[i]), 1.0])
        best, draws = (
            st.X[..., net.body_of[i], :] * turn for st in (solved.solution.fit.state, solved.solution.drawn.state)
        )
    else:
        best, draws = place.xyz, place.draws
    with ui.element("div").classes("ll-provisional" if place is not None else ""):
        for k, name in enumerate(("x, forward", "y, to the left", "z, up")):
            low, high = np.percentile(draws[:, k], [2.5, 97.5])
            if high > low:
                _value(name, (float(best[k]), float(low), float(high)), provisional=place is not None)
        if place is not None:
            told = f"{place.how}, with the cameras as they stand; the survey is asked"
            if place.misfit > MISFIT:
                told += f". The marks miss each other by {place.misfit:.0f} standard deviations: one may be wrong"
            text("p", f"{told}.", "ll-quiet")


def _value(name: str, value: tuple[float, float, float], *, provisional: bool) -> None:
    """A length, m, and its interval with a dimension line: a broken one where it is provisional."""
    told = display.format_interval(value[0], min(value[1], value[0]), max(value[2], value[0]), "m")
    figure, _, rest = told.partition(" (")
    text("div", name, "ll-quiet")
    with ui.element("div").classes("ll-value"):
        with ui.element("span"):
            text("b", figure)
            text("i", f" ({rest}" if rest else "", "ll-quiet")
        ui.html(dimension_line(value, provisional=provisional), sanitize=False, tag="span")


def _by_provisional(board: Board, measure: Measure) -> tuple[float, float, float] | None:
    """A distance that rests on a point which is placed provisionally, m; None for every other measure."""
    solution = board.desk.solved().solution
    if solution is None or not measure.distance:
        return None
    places = {p: board.desk.provisional(p) for p in measure.distance}
    found = {p: x for p, x in places.items() if isinstance(x, Provisional)}
    got = measure_provisionally(solution, measure, found) if found else None
    if got is None:
        return None
    low, high = np.percentile(got[1], [2.5, 97.5])
    return float(got[0]), float(low), float(high)


def _numbers(board: Board, marks: list[Mark]) -> None:
    solved = board.desk.solved()
    found = hanging(board, marks)
    if not found:
        return
    answer, before = (solved.answer or {}).get("measures") or {}, (solved.before or {}).get("measures") or {}
    with ui.element("h2"):
        text("span", "What hangs on it" if marks else "Numbers")
        if not solved.current and solved.answer is not None:
            text("small", "being worked out")
    if not marks:
        moved = {m.id: _moved(answer.get(m.id), before.get(m.id)) for m in found}
        found = sorted(found, key=lambda m: (m.id not in answer, -moved[m.id]))
    with ui.element("ul").classes("ll-hang"):
        for measure in found[:MOST]:
            _measure(board, measure, answer.get(measure.id), before.get(measure.id))
    if len(found) > MOST:
        text("p", f"and {len(found) - MOST} more on the page Numbers", "ll-quiet")


def _measure(board: Board, measure: Measure, now: dict[str, Any] | None, was: dict[str, Any] | None) -> None:
    with ui.element("li").classes(f"s-{measure.system or 'none'}") as item:
        item.props["data-measure"] = measure.id
        text("span", words(measure.id))
        if now is None:
            if (early := _by_provisional(board, measure)) is not None:
                with ui.element("div").classes("ll-provisional"):
                    _value("provisional", early, provisional=True)
            else:
                text("i", "not determined yet", "ll-quiet")
            return
        told = display.format_interval(now["value"], now["low95"], now["high95"], now["unit"])
        value, _, rest = told.partition(" (")
        drawn = dimension_line(_triple(now), was=_triple(was) if was and _moved(now, was) > 0.01 else None)
        button = ui.element("button").classes("ll-number").props("type=button")
        button.props["aria-label"] = f"{words(measure.id)}: {told}. Show the trail"
        with button:
            interval = f"<i>({html.escape(rest)}</i>" if rest else ""
            ui.html(f"<b>{html.escape(value)}</b> {interval}", sanitize=False, tag="span")
            ui.html(drawn, sanitize=False, tag="span")
        button.on("click", lambda: _trail(board, measure.id, told))


def _trail(board: Board, measure: str, told: str) -> None:
    number = board.desk.numbers().get(f"measure:{measure}")
    if number is None:
        say("the trail is there as soon as the survey is solved again")
    else:
        show_trail(board.desk, number, told)


def _triple(m: dict[str, Any]) -> tuple[float, float, float]:
    return float(m["value"]), float(m["low95"]), float(m["high95"])


def _moved(now: dict[str, Any] | None, was: dict[str, Any] | None) -> float:
    """How far a number went, in its own half widths; 0 when one of them is missing."""
    if not now or not was:
        return 0.0
    half = max((now["high95"] - now["low95"]) / 2, 1e-12)
    ends = (now["value"] - was["value"], now["low95"] - was["low95"], now["high95"] - was["high95"])
    return max(map(abs, ends)) / half


# Suspects --------------------------------------------------------------------------------------------------


def _suspects(board: Board) -> None:
    suspects = board.suspects()
    if not suspects:
        return
    with ui.element("h2"):
        text("span", "Suspect marks, worst first")
        text("small", "w")
    with ui.element("ul").classes("ll-suspects"):
        for mark, test in suspects[:10]:
            with ui.element("li"):
                button = ui.element("button").classes("ll-plain").props("type=button")
                with button:
                    text("span", f"{words(mark.point or mark.circle or '')} on {mark.shot}")
                    text("span", f"◆ {test:.1f}")
                button.on("click", lambda m=mark: board.go_to(m))
