"""An edition: plates, brief, data and film in one folder, with a manifest; made again by one command.

Everything that could stop it is said before the work. Each file is written whole; the manifest comes last.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from longlens.dossier.records import Shot
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import stages_with_marks
from longlens.errors import UnusableInput
from longlens.publish.basis import Bases
from longlens.publish.plates import Plate, Sequence
from longlens.publish.reading import ToRead, to_read
from longlens.publish.rights import Hurdle, hurdles
from longlens.publish.styles import style_named
from longlens.publish.whole import folder, write_whole

PARTS = ("plates", "brief", "data", "film")
FORMATS = ("png", "svg", "pdf")
Progress = Callable[[str, float], None]


@dataclass
class Edition:
    """What was published: files, what somebody should read again, what to think of, what could not be drawn."""

    root: Path
    files: list[Path] = field(default_factory=list)
    to_read: list[ToRead] = field(default_factory=list)
    hurdles: list[Hurdle] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Wish:
    """What to publish. ``commercial``: the edition is to earn money. ``size``, ``fps``: of the film."""

    only: tuple[str, ...] = ("plates", "brief", "data")
    styles: tuple[str, ...] = ("wide",)
    formats: tuple[str, ...] = ("png",)
    scale: float = 1.0
    stages: tuple[str, ...] = ()
    plates: tuple[str, ...] = ()
    sequence: str = ""
    draft: bool = False
    commercial: bool = False
    size: str = "1080p"
    fps: int = 30


def check(dossier: Dossier, wish: Wish, bases: Bases) -> tuple[list[ToRead], list[Hurdle]]:
    """What stands against publishing, before any work. Raises UnusableInput for what stops it, unless it is a draft."""
    for name, known in (("only", PARTS), ("formats", FORMATS)):
        for one in getattr(wish, name):
            if one not in known:
                raise UnusableInput(f"{one!r} is not published", fix=f"choose from: {', '.join(known)}")
    for style in wish.styles:
        style_named(style)
    plates = chosen_plates(dossier, wish)
    reading = to_read(bases, plates) if {"plates", "brief", "film"} & set(wish.only) else []
    shots = {v.shot for p in plates for v in (p.view, p.beside, *(i.view for i in p.insets)) if v is not None}
    met = hurdles([s for s in dossier.all(Shot) if s.id in shots], commercial=wish.commercial)
    if not {"plates", "film"} & set(wish.only):
        met = [h for h in met if not h.stops]
    if wish.draft:
        return reading, met
    if stops := [r.line for r in reading if r.stops]:
        raise UnusableInput("; ".join(stops), fix="look at the words (studio, Publish), or make a draft (--draft)")
    if walls := [f"{h.shot}: {h.why}" for h in met if h.stops]:
        raise UnusableInput("; ".join(walls), fix="write down the rights (longlens rights), or make a draft (--draft)")
    return reading, met


def chosen_plates(dossier: Dossier, wish: Wish) -> list[Plate]:
    """The plates wished for. Raises UnusableInput where one is not there."""
    if wish.plates:
        return [dossier.get(Plate, p) for p in wish.plates]
    return [p for p in dossier.all(Plate) if not wish.stages or p.stage in wish.stages]


def publish(dossier: Dossier, to: Path, wish: Wish | None = None, progress: Progress | None = None) -> Edition:
    """Publish into a folder.

    Raises
    ------
    UnusableInput : a photograph may not be shown, words lost their basis, the folder cannot be written.
    """
    wish = wish or Wish()
    tell = progress or (lambda what, part: None)
    bases = Bases(dossier, lambda what, part: tell(what, 0.25 * part))
    reading, met = check(dossier, wish, bases)
    out = Edition(folder(to), to_read=reading, hurdles=met)
    stages = [s for s in stages_with_marks(dossier) if not wish.stages or s in wish.stages]
    makers: dict[str, Callable[[Progress], None]] = {
        "plates": lambda t: _plates(out, dossier, bases, wish, t),
        "brief": lambda t: _briefs(out, dossier, bases, stages, wish, t),
        "data": lambda t: _data(out, dossier, bases, stages, t),
        "film": lambda t: _films(out, dossier, bases, wish, t),
    }
    weights = {"plates": 3.0, "brief": 2.0, "data": 1.0, "film": 20.0}
    whole, done = sum(weights[p] for p in wish.only), 0.0
    for part in PARTS:
        if part in wish.only:
            start, share = 0.25 + 0.75 * done / whole, 0.75 * weights[part] / whole
            makers[part](lambda what, k, start=start, share=share: tell(what, start + share * k))  # type: ignore[misc]
            done += weights[part]
    _manifest(out, dossier, wish)
    tell("done", 1.0)
    return out


def _manifest(out: Edition, dossier: Dossier, wish: Wish) -> None:
    """Write it, and remove what an earlier edition in this folder had and this one has not; others' files stay."""
    from longlens.publish.data.manifest import NAME, check_edition, read_manifest, write_manifest

    earlier: set[Path] = set()
    if (out.root / NAME).exists():
        wrong = check_edition(out.root)
        bad = {w.partition(":")[0] for w in wrong}
        earlier = {out.root / f["path"] for f in read_manifest(out.root)["files"] if f["path"] not in bad}
    parts = {p.relative_to(out.root).parts[0] for p in out.files}
    for old in earlier - set(out.files):
        if old.relative_to(out.root).parts[0] in parts:
            old.unlink(missing_ok=True)
    kept = [p for p in earlier if p.exists()]
    more: dict[str, Any] = {"draft": wish.draft}
    write_manifest(dossier, out.root, [*out.files, *kept], **more)
    out.files.append(out.root / NAME)


def _plates(out: Edition, dossier: Dossier, bases: Bases, wish: Wish, tell: Progress) -> None:
    plates = chosen_plates(dossier, wish)
    if not plates:
        return
    root = folder(out.root / "plates")
    jobs = [(p, s) for p in plates for s in wish.styles]
    for i, (plate, style) in enumerate(jobs):
        tell(f"plate {plate.id}, {style}", i / len(jobs))
        out.files += write_plate(bases, plate, style, root, wish.formats, wish.scale, draft=wish.draft, notes=out.notes)


def write_plate(
    bases: Bases,
    plate: Plate,
    style: str,
    root: Path,
    formats: Iterable[str],
    scale: float = 1.0,
    *,
    draft: bool = False,
    notes: list[str] | None = None,
) -> list[Path]:
    """Write one plate in one style; returns its files."""
    from longlens.publish.compose import compose
    from longlens.publish.film.scenes import Scene, linkage, still
    from longlens.publish.raster import save_png
    from longlens.publish.vector import save_pdf, save_svg

    basis = bases.of(plate.stage)
    made = compose(plate, style_named(style), basis, draft=draft)
    moving = linkage(plate, made, basis)
    drawing = still(Scene(plate.id, "", made.drawing, 5.0, moving=moving)) if moving else made.drawing
    if notes is not None:
        notes += [f"plate {plate.id}, {style}: {n}" for n in made.notes]
    savers = {"png": save_png, "svg": save_svg, "pdf": save_pdf}
    files = []
    for form in formats:
        path = root / f"{file_name(plate.id)}.{style}.{form}"
        savers[form](drawing, path, scale)
        files.append(path)
    return files


def file_name(id: str) -> str:
    """An id as a file's name: letters, digits, dot, dash and underscore; it cannot lead anywhere else."""
    plain = "".join(c if c.isalnum() or c in "-_." else "_" for c in id).strip(".")[:100]
    return plain or "unnamed"


def _briefs(out: Edition, dossier: Dossier, bases: Bases, stages: list[str | None], wish: Wish, tell: Progress) -> None:
    from longlens.publish.brief import gather
    from longlens.publish.brief_pdf import brief_pdf
    from longlens.publish.page import page

    if not stages:
        return
    root = folder(out.root / "brief")
    for i, stage in enumerate(stages):
        own = lambda what, k, i=i: tell(what, (i + k) / len(stages))  # noqa: E731
        brief = gather(dossier, stage=stage, bases=bases, draft=wish.draft, progress=own)
        name = file_name(f"brief-{stage}" if stage else "brief")
        write_whole(root / f"{name}.html", page(brief))
        write_whole(root / f"{name}.pdf", brief_pdf(brief))
        out.files += [root / f"{name}.html", root / f"{name}.pdf"]


def _data(out: Edition, dossier: Dossier, bases: Bases, stages: list[str | None], tell: Progress) -> None:
    from longlens.publish.data import tables
    from longlens.publish.data.gltf import glb
    from longlens.publish.model import model_of

    for i, stage in enumerate(stages):
        tell(f"data of {stage or 'the dossier'}", i / len(stages))
        basis = bases.of(stage)
        root = folder(out.root / "data" / file_name(stage or "all"))
        found = tables.numbers(basis)
        vehicle = dossier.vehicle
        name = f"{vehicle.maker} {vehicle.name}".strip()
        files: dict[str, str | bytes] = {
            "numbers.csv": tables.numbers_csv(found),
            "numbers.json": tables.numbers_json(found, basis),
            "hardpoints.csv": tables.hardpoints_csv(basis),
            "exchange.json": tables.exchange_json(dossier, basis),
            "model.glb": glb(model_of(basis), name=name, note=vehicle.note),
        }
        for file, body in files.items():
            write_whole(root / file, body)
            out.files.append(root / file)


def _films(out: Edition, dossier: Dossier, bases: Bases, wish: Wish, tell: Progress) -> None:
    from longlens.publish.film.film import make_film

    sequences = [dossier.get(Sequence, wish.sequence)] if wish.sequence else dossier.all(Sequence)
    if not sequences:
        raise UnusableInput("there is no sequence to film", fix="put plates in order first (studio, Publish)")
    for i, sequence in enumerate(sequences):
        path = folder(out.root / "film") / f"{file_name(sequence.id)}.mp4"
        own = lambda what, k, i=i: tell(what, (i + k) / len(sequences))  # noqa: E731
        made = make_film(
            dossier, sequence.id, path, size=wish.size, fps=wish.fps, draft=wish.draft, bases=bases, progress=own
        )
        out.files += made.files
        out.notes += made.film.notes
