"""The brief as HTML. Everything that comes from the dossier passes through :func:`longlens.publish.markup.e`."""

from __future__ import annotations

from importlib.resources import files

from longlens.publish.brief import Brief
from longlens.publish.markup import e
from longlens.publish.names import LINES, SUSPECT, SYSTEMS, counted
from longlens.publish.page_numbers import facts, numbers, trails, unsure
from longlens.publish.page_pictures import lead, legend, pictures
from longlens.publish.page_plates import answers, held, plates, sources

CAUTION = (
    "Estimates from photographs are for understanding and discussion. They are no basis for building, repairing, "
    "certifying or driving a vehicle: for that, the maker's data, local rules and licensed engineers decide."
)
METHOD = (
    "Points and rims were marked on the photographs. Cameras (place, direction, focal length, one term of lens "
    "distortion, the principal point of cropped pictures) and points are found together by least squares, with the "
    "published facts and the car's symmetry as observations and with a search for wrong marks. The intervals are "
    "taken from joint draws of everything that was adjusted."
)
LIMITS = (
    "Limits: an interval covers errors of marking, of the lens model and of the facts as stated. It does not cover a "
    "part that was taken for another one on every photograph, a car that differs left from right by more than was "
    "allowed for, or a published figure that is wrong in a way the photographs cannot contradict. Of what is drawn as "
    "inferred nothing is measured."
)
#: No script, no network, nothing but what is in the file.
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"


def page(brief: Brief) -> str:
    """The whole page."""
    parts = [
        _head(brief),
        _lead(brief),
        numbers(brief),
        answers(brief),
        held(brief),
        unsure(brief),
        pictures(brief),
        facts(brief),
        trails(brief),
        _method(brief),
        sources(brief),
    ]
    colours = "".join(f".s-{key or 'none'}{{--ink:{colour}}}" for key, (_, colour) in SYSTEMS.items())
    dashes = "".join(f".{name}{{--dash:{dash}}}" for name, dash in LINES.values())
    style = files("longlens.publish").joinpath("brief.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{e(POLICY)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{e(_title(brief))}</title>\n"
        f"<style>\n{style}{colours}{dashes}.suspect{{--ink:{SUSPECT};--dash:none}}\n</style>\n</head>\n<body>\n"
        + "\n".join(filter(None, parts))
        + "\n</main>\n</body>\n</html>\n"
    )


def _title(brief: Brief) -> str:
    return f"{brief.vehicle.name}: {_stage_name(brief)}" if brief.stage else brief.vehicle.name


def _stage_name(brief: Brief) -> str:
    return (brief.stage.name or brief.stage.id) if brief.stage else ""


def _head(brief: Brief) -> str:
    vehicle = brief.vehicle
    stage = f' <span class="stage">{e(_stage_name(brief))}</span>' if brief.stage else ""
    maker = f'<p class="maker">{e(vehicle.maker)}</p>' if vehicle.maker else ""
    note = f'<p class="note">{e(vehicle.note)}</p>' if vehicle.note else ""
    links = [("numbers", "Numbers"), ("unsure", "What is unsure"), ("pictures", "Photographs"), ("facts", "Facts"),
             ("trails", "Trails"), ("method", "Method and limits"), ("sources", "Sources")]  # fmt: skip
    if brief.held is not None:
        links.insert(1, ("held", "Claims"))
    if brief.answers:
        links.insert(1, ("answers", "What follows"))
    if brief.figures:
        links.insert(0, ("plates", "Plates"))
    nav = "".join(f'<a href="#{key}">{name}</a>' for key, name in links)
    return (
        f'<header>{maker}<h1>{e(vehicle.name)}{stage}</h1>{note}<p class="caution">{e(CAUTION)}</p>'
        f'<nav aria-label="Parts of this brief">{nav}</nav></header>\n<main>'
    )


def summary(brief: Brief) -> str:
    """What the brief says, in a few words."""
    fitted = sum(1 for m in brief.document.marks if not m.inferred)
    given = sum(1 for line in brief.lines if line.value)
    said = (
        f"Measured from {counted(fitted, 'mark')} on {counted(len(brief.document.shots), 'photograph')}, "
        f"scaled by {counted(len(brief.document.facts), 'published fact')}. "
        f"{counted(given, 'number')} came out, each with the interval that holds the truth 95 times in 100."
    )
    if brief.unsolved is not None:
        said = "The marks do not determine what is asked yet. Below stands what is missing."
    return said


def _lead(brief: Brief) -> str:
    said = summary(brief)
    return f'<p class="said">{e(said)}</p>\n{plates(brief)}\n{legend(brief)}\n{lead(brief)}'


def _method(brief: Brief) -> str:
    answer = brief.answer or {}
    fit = ""
    if answer.get("sigma0") is not None:
        fit = (
            f" Here the fit's variance factor σ₀ is {answer['sigma0']:.2f} at redundancy {answer['redundancy']}; "
            "near 1 means that the marks scatter as much as was stated for them."
        )
    return (
        f'<section id="method"><h2>Method and limits</h2><p>{e(METHOD)}{e(fit)}</p><p>{e(LIMITS)}</p>'
        f'<p class="caution">{e(CAUTION)}</p></section>'
    )
