"""What is done on the board, written to the dossier: each call is one undo step.

Points and circles are made when first named. ``left.`` and ``right.`` in front of a name make twins across the car; in a
stance other than the first, what a wheel carries gets the stance's name behind an ``@``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Shot
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.names import counted, words

Pixel = tuple[float, float]
#: How well a point and a rim's edge are usually marked by hand, px (common practice, no source).
SD_POINT, SD_RIM = 2.0, 1.5
#: Usual camber and toe of a wheel, degrees (common practice, no source).
SD_AXIS = 1.5
SIDES = {"left": "right", "right": "left"}


@dataclass(frozen=True)
class Known:
    """What the vocabulary knows of a name: filled into the record when it is first used."""

    part: str = ""
    system: Any = None
    on: Any = None
    carried_by: Any = None


Describe = Callable[[str], Known]


def plain_id(name: str) -> str:
    """``Left front upper wishbone`` as an id: ``left.front.upper_wishbone``. An id stays as it is."""
    name = " ".join(name.split())
    if re.fullmatch(r"[a-z0-9_]+(\.[a-z0-9_]+)*(@[\w-]+)?", name):
        return name
    found = re.findall(r"[a-z0-9]+", name.lower())
    if not found:
        raise UnusableInput("that is no name", fix="write a word, such as: left front hub nut")
    head: list[str] = []
    for group in (SIDES, ("front", "rear")):
        for word in found:
            if word in group:
                head.append(word)
                found.remove(word)
                break
    return ".".join([*head, "_".join(found)] if found else head)[:180]


def twin_of(id: str) -> str | None:
    """The name across the car: ``left.front.hub`` → ``right.front.hub``; None for what has no side."""
    side, dot, rest = id.partition(".")
    return f"{SIDES[side]}.{rest}" if dot and side in SIDES else None


def place(
    dossier: Dossier,
    shot: str,
    form: str,
    name: str,
    path: Sequence[Pixel],
    *,
    certainty: str = "seen",
    width: float | None = None,
    describe: Describe = lambda id: Known(),
) -> Mark:
    """Put a mark where somebody clicked. A point or circle that is marked on this shot already is moved there."""
    id = in_stance(dossier, plain_id(name), dossier.get(Shot, shot).stance, describe)
    fields: dict[str, Any] = {"shot": shot, "form": form, "certainty": certainty}
    if form == "point":
        ensure_point(dossier, id, describe)
        fields |= {"point": id, "x": path[0][0], "y": path[0][1], "sd_px": SD_POINT}
    elif form == "rim":
        ensure_circle(dossier, id, describe)
        fields |= {"circle": id, "edge": list(path), "sd_px": SD_RIM}
    else:
        fields |= {"path": list(path)} | ({"width_px": width or 10.0} if form == "pipe" else {})
    known = describe(id)
    fields |= {"part": known.part or words(id), "system": known.system}
    standing = _standing(dossier, shot, form, id)
    mark = Mark(id=standing.id if standing else _free(dossier, f"{shot}:{form}:{id}"), **fields)
    dossier.put(mark)
    return mark


def in_stance(dossier: Dossier, id: str, stance: str, describe: Describe) -> str:
    """The name in a shot's stance: what a wheel carries has another place in each, ``left.front.rim@hanging``."""
    if stance == "static" or "@" in id:
        return id
    record = dossier.find(Point, id)
    carried = (record.carried_by if record else None) or describe(id).carried_by
    return f"{id}@{stance}" if carried == "wheel" else id


def ensure_point(dossier: Dossier, id: str, describe: Describe = lambda id: Known()) -> Point:
    """The point of that name, made and tied to its twin when it is new."""
    found = dossier.find(Point, id)
    if found is not None:
        return found
    known = describe(id)
    twin = twin_of(id)
    other = dossier.find(Point, twin) if twin else None
    mirror = twin if other is not None and other.mirror is None else None
    _, _, stance = id.partition("@")
    made = Point(
        id=id,
        mirror=mirror,
        on=known.on if twin is None or known.on == "ground" else None,
        part=known.part,
        system=known.system,
        carried_by=known.carried_by,
        stance=stance or None,
    )
    dossier.put(made)
    return made


def ensure_circle(dossier: Dossier, id: str, describe: Describe = lambda id: Known()) -> Circle:
    """The circle of that name. A new one at a wheel turns about an axis across the car and has a centre of its own."""
    found = dossier.find(Circle, id)
    if found is not None:
        return found
    known = describe(id)
    base, at, stance = id.partition("@")
    centre = f"{base}_centre{at}{stance}" if base.endswith("rim") else None
    if centre:
        ensure_point(dossier, centre, describe)
    made = Circle(id=id, centre=centre, axis="lateral", axis_sd_deg=SD_AXIS, part=known.part, system=known.system)
    dossier.put(made)
    return made


def move(dossier: Dossier, ids: Iterable[str], dx: float, dy: float, vertex: int | None = None) -> None:
    """Shift marks, or one corner of one mark, by pixels."""
    for mark in _marks(dossier, ids):
        if mark.form == "point":
            dossier.change(Mark, mark.id, x=(mark.x or 0.0) + dx, y=(mark.y or 0.0) + dy)
            continue
        name, path = _path(mark)
        moved = [(x + dx, y + dy) if vertex in (None, i) else (x, y) for i, (x, y) in enumerate(path)]
        dossier.change(Mark, mark.id, **_fields(name, moved))


def remove(dossier: Dossier, ids: Iterable[str], vertex: int | None = None) -> int:
    """Remove marks, or one corner of one. What was named stays named. Returns how many marks went."""
    gone = 0
    for mark in _marks(dossier, ids):
        if vertex is not None and mark.form != "point":
            name, path = _path(mark)
            left = [p for i, p in enumerate(path) if i != vertex]
            least = {"outline": 3, "rim": 1}.get(mark.form, 2)
            if len(left) >= least:
                dossier.change(Mark, mark.id, **_fields(name, left))
                continue
        dossier.remove(Mark, mark.id)
        gone += 1
    return gone


def change_marks(dossier: Dossier, ids: Iterable[str], **fields: Any) -> None:
    """Give marks the same certainty, standard deviation, note …"""
    for mark in _marks(dossier, ids):
        dossier.change(Mark, mark.id, **fields)


def set_aside(dossier: Dossier, ids: Iterable[str]) -> bool:
    """Keep marks from the survey, or give them back when all of them were kept from it. Returns what they are now."""
    marks = _marks(dossier, ids)
    aside = not all(m.set_aside for m in marks)
    for mark in marks:
        dossier.change(Mark, mark.id, set_aside=aside)
    return aside


def put_at(dossier: Dossier, places: Iterable[tuple[str, list[Pixel]]]) -> None:
    """Put marks at new places (snapped ones)."""
    for id, path in places:
        mark = dossier.get(Mark, id)
        if mark.form == "point":
            dossier.change(Mark, id, x=path[0][0], y=path[0][1])
        else:
            dossier.change(Mark, id, **_fields(_path(mark)[0], path))


# What is known and what is asked of chosen marks -----------------------------------------------------------


@dataclass(frozen=True)
class Ask:
    """A thing that can be known or asked of what is chosen: its words, its fields in a record, a name for it.

    ``stated``: it can be a published figure (a length), not only a measure.
    """

    words: str
    fields: dict[str, Any]
    name: str
    stated: bool = True


def asks_of(dossier: Dossier, marks: Sequence[Mark]) -> list[Ask]:
    """What can be known or asked of chosen marks; empty when nothing can.

    Two points or rims (their centres): a length, straight or along an axis of the car. Rims: their common diameter. Three
    points: an angle, its corner the second one chosen. Four and more: the area of the polygon in the order of choosing.
    """
    if not marks or any(not (m.point or m.circle) for m in marks):
        return []
    circles = [m.circle for m in marks if m.circle]
    places = [m.point or _centre(dossier, m.circle) for m in marks]
    out: list[Ask] = []
    if len(circles) == len(marks):
        out.append(Ask("diameter", {"diameter": circles}, f"{circles[0]}.diameter"))
    if any(p is None for p in places):
        return out
    ends = [str(p) for p in places]
    if len(set(ends)) < len(ends):
        return out
    if len(ends) == 2:
        name = _between(ends[0], ends[1])
        pair = {"distance": (ends[0], ends[1])}
        out.append(Ask("length, straight", pair, name))
        for said, axis in (("along the car", "x"), ("across the car", "y"), ("in height", "z")):
            out.append(Ask(f"length {said}", {**pair, "along": axis}, f"{name}.{said.split()[0]}"))
    elif len(ends) == 3:
        out.append(Ask("angle", {"angle": tuple(ends)}, f"{_between(ends[0], ends[2])}.angle", stated=False))
    elif len(ends) > 3:
        out.append(Ask("area", {"area": ends}, f"{_common(ends)}area", stated=False))
    elif len(ends) == 1 and not circles:
        out.append(Ask("height over the ground", {"height": ends[0]}, f"{ends[0]}.height", stated=False))
    return out


def ask_measure(dossier: Dossier, ask: Ask) -> Measure:
    """Ask the survey for it; what is asked already is given back."""
    fields = dict(ask.fields)
    if "diameter" in fields:
        fields["diameter"] = fields["diameter"][0]
    for standing in dossier.all(Measure):
        if all(getattr(standing, k) == v for k, v in fields.items()) and standing.along == fields.get("along"):
            return standing
    made = Measure(id=_free_of(dossier, Measure, ask.name), **fields)
    dossier.put(made)
    return made


def state_length(
    dossier: Dossier, ask: Ask, value: float, sd: float, unit: str, source: str, stage: str | None
) -> Fact:
    """A published length. ``sd`` is its standard deviation, in the same unit. Raises UnusableInput without a source."""
    if not ask.stated:
        raise UnusableInput(f"a published {ask.words} is of no use to the survey", fix="state a length or a diameter")
    if not source.strip():
        raise UnusableInput("the figure has no source", fix="say where it was published")
    made = Fact(
        id=_free_of(dossier, Fact, ask.name),
        of=words(ask.name),
        value=value,
        sd=sd,
        unit=unit,
        source=source.strip(),
        stage=stage,
        **ask.fields,
    )
    dossier.put(made)
    return made


def _centre(dossier: Dossier, circle: str | None) -> str | None:
    found = dossier.find(Circle, circle) if circle else None
    return found.centre if found else None


def _between(a: str, b: str) -> str:
    head = _common([a, b])
    return f"{head}{_rest(a, head)}_to_{_rest(b, head)}"


def _rest(id: str, head: str) -> str:
    return id[len(head) :].replace(".", "_")


def _common(ids: Sequence[str]) -> str:
    """What all names begin with, in whole parts, with its dot."""
    parts = [i.split(".")[:-1] for i in ids]
    head: list[str] = []
    for column in zip(*parts, strict=False):
        if len(set(column)) > 1:
            break
        head.append(column[0])
    return ".".join(head) + "." if head else ""


# Inside ----------------------------------------------------------------------------------------------------


def _marks(dossier: Dossier, ids: Iterable[str]) -> list[Mark]:
    found = [dossier.find(Mark, i) for i in ids]
    return [m for m in found if m is not None]  # another tab may have removed one meanwhile


def _path(mark: Mark) -> tuple[str, Any]:
    return ("edge", list(mark.edge or [])) if mark.form == "rim" else ("path", list(mark.path or []))


def _fields(name: str, value: Any) -> dict[str, Any]:
    return {name: value}


def _standing(dossier: Dossier, shot: str, form: str, id: str) -> Mark | None:
    if form not in ("point", "rim"):
        return None
    return next((m for m in dossier.all(Mark) if m.shot == shot and m.form == form and id in (m.point, m.circle)), None)


def _free(dossier: Dossier, id: str) -> str:
    return _free_of(dossier, Mark, id)


def _free_of(dossier: Dossier, model: Any, id: str) -> str:
    id, n = id[:185], 1
    free = id
    while dossier.find(model, free) is not None:
        n += 1
        free = f"{id}-{n}"
    return free


def label(what: str, marks: Sequence[Mark]) -> str:
    """What the undo step is called."""
    if len(marks) == 1:
        one = marks[0]
        return f"{what} {words(one.point or one.circle or one.part)} on {one.shot}"
    return f"{what} {counted(len(marks), 'mark')}"
