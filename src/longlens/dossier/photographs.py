"""Photographs coming in: checked before decoding, read, recognised when they come twice, kept to the byte.

A file is judged by its content, never by its name. Each bad file gets one clear line, and the rest goes on.
"""

from __future__ import annotations

import hashlib
import io
import logging
import re
import threading
import unicodedata
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from longlens.dossier.focal import focal_prior
from longlens.dossier.likeness import alike, likeness
from longlens.dossier.metadata import Metadata, read_metadata
from longlens.dossier.records import Photograph, Shot
from longlens.dossier.stages import make_stage
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput

if TYPE_CHECKING:
    from PIL.Image import Image

logging.getLogger("PIL").addHandler(logging.NullHandler())  # as with its warnings: see _quietly

MAX_BYTES = 120 * 1024 * 1024
MAX_PIXELS = 250_000_000
MAX_SIDE = 65_535
MIN_SIDE = 16
MEDIA_TYPES = {
    "JPEG": "image/jpeg",
    "PNG": "image/png",
    "WEBP": "image/webp",
    "TIFF": "image/tiff",
    "HEIF": "image/heic",
}
READ = "JPEG, PNG, WebP, TIFF and HEIC are read"


@dataclass(frozen=True)
class Arrival:
    """What became of one file: ``added``; ``same`` (its bytes were here already); ``refused``.

    ``line`` says it in one line; ``shot`` is the shot's id, unless refused; ``copy_of`` the shot that it
    looks like.
    """

    name: str
    outcome: Literal["added", "same", "refused"]
    line: str
    shot: str | None = None
    copy_of: str | None = None
    remarks: tuple[str, ...] = ()


def add_photographs(
    dossier: Dossier,
    files: Iterable[Path | tuple[str, bytes]],
    *,
    stage: str | None = None,
    stance: str = "static",
    source: str = "",
    progress: Callable[[int, str], None] | None = None,
) -> list[Arrival]:
    """Take photographs in, as one undo step.

    Parameters
    ----------
    files : paths, or (name, bytes) as an upload brings them.
    stage, stance, source : written into each new shot; a stage that is not there yet is made.
    progress : called with the count of files done and the present file's name.
    """
    intake = _Intake(dossier, stage, stance, source)
    for done, one in enumerate(files):
        name = safe_name(one.name if isinstance(one, Path) else one[0])
        if progress:
            progress(done, name)
        try:
            intake.take(name, read_file(one) if isinstance(one, Path) else one[1])
        except UnusableInput as e:
            intake.arrivals.append(Arrival(name, "refused", _one_line(str(e))))
    intake.write()
    return intake.arrivals


def read_file(path: Path) -> bytes:
    """The bytes of a plain file within the limit. Raises UnusableInput."""
    name = safe_name(path.name)
    try:
        if not path.is_file():  # no folder, pipe or device
            what = "is not a plain file" if path.exists() else "there is no such file"
            raise UnusableInput(what, where=name, fix="check the path")
        with path.open("rb") as f:
            data = f.read(MAX_BYTES + 1)
    except OSError as e:
        raise UnusableInput(f"cannot be read ({e.strerror})", where=name, fix="check its permissions") from None
    return data


def read_photograph(data: bytes, name: str = "") -> tuple[Photograph, Metadata]:
    """Check, decode once, and describe a photograph file. Raises UnusableInput with one clear line."""
    with _quietly(), _opened(data, name) as image:
        metadata = read_metadata(image)
        orientation = _orientation(image)
        upright = _upright(image, name)
        width, height = upright.size
        stored = (height, width) if orientation >= 5 else (width, height)
        photograph = Photograph(
            id=hashlib.sha256(data).hexdigest(),
            media_type=MEDIA_TYPES[_content(data, name)],
            size_bytes=len(data),
            stored_width=stored[0],
            stored_height=stored[1],
            orientation=orientation,
            width=width,
            height=height,
            name=name,
            likeness=likeness(upright),
            likeness_flipped=likeness(upright, flipped=True),
            metadata=metadata.found,
            remarks=metadata.remarks,
        )
    return photograph, metadata


def upright_image(data: bytes, name: str = "") -> Image:
    """The decoded picture, upright, 8-bit RGB. Pixel (0, 0) is the top left one. Raises UnusableInput."""
    with _quietly(), _opened(data, name) as image:
        upright = _upright(image, name)
        return upright.copy() if upright is image else upright  # the file's own image is closed on leaving


def preview(dossier: Dossier, photograph: str, *, longest: int = 1600) -> bytes:
    """The upright picture as a JPEG with its longer side at most ``longest`` pixels; made once, then kept."""
    key = f"{photograph}:{longest}"
    known = dossier.derived("preview", key)
    if known is not None:
        return known
    image = upright_image(dossier.original(photograph))
    image.thumbnail((longest, longest), reducing_gap=3.0)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=88, optimize=True)
    dossier.keep_derived("preview", key, out.getvalue())
    return out.getvalue()


def safe_name(name: str) -> str:
    """A name from anywhere as a plain file name: no folders, no control characters, not too long."""
    name = re.split(r"[/\\]", name)[-1]
    name = "".join(c for c in unicodedata.normalize("NFC", name) if unicodedata.category(c)[0] != "C")
    name = re.sub(r'[<>:"|?*]', "_", name).strip(" .")
    stem, dot, ending = name.rpartition(".")
    name = f"{stem[:100]}.{ending[:10]}" if dot and stem else name[:100]
    return name or "photograph"


class _Intake:
    """One run of photographs: files are looked at one by one, their records written together at the end."""

    def __init__(self, dossier: Dossier, stage: str | None, stance: str, source: str) -> None:
        self.dossier, self.stage, self.stance, self.source = dossier, stage, stance, source
        self.arrivals: list[Arrival] = []
        self.new: list[tuple[Photograph, Shot]] = []
        self.photographs = {p.id: p for p in dossier.all(Photograph)}
        self.shots = {s.photograph: s.id for s in dossier.all(Shot) if s.photograph}
        self.taken = set(dossier.ids(Shot))

    def take(self, name: str, data: bytes) -> None:
        digest = hashlib.sha256(data).hexdigest()
        if digest in self.shots:
            known = self.shots[digest]
            line = f"{name}: the same file as shot {known!r}; not added again"
            self.arrivals.append(Arrival(name, "same", line, known))
            return
        photograph, metadata = read_photograph(data, name)
        original, flipped = self._looks_like(photograph)
        shot = self._shot(photograph, metadata, original)
        self.dossier.keep_original(data)
        self.photographs[digest] = photograph
        self.shots[digest] = shot.id
        self.new.append((photograph, shot))
        self.arrivals.append(self._arrival(name, photograph, shot, original, flipped))

    def write(self) -> None:
        if not self.new:
            return
        count = len(self.new)
        with self.dossier.batch(f"add {count} photograph{'s' if count > 1 else ''}"):
            make_stage(self.dossier, self.stage)
            for photograph, shot in self.new:
                self.dossier.put(photograph)
                self.dossier.add(shot)

    def _looks_like(self, new: Photograph) -> tuple[str | None, bool]:
        for old in self.photographs.values():
            shot = self.shots.get(old.id)
            if shot is None:
                continue
            if alike(new.likeness, old.likeness):
                return shot, False
            if alike(new.likeness_flipped, old.likeness):
                return shot, True
        return None, False

    def _shot(self, photograph: Photograph, metadata: Metadata, original: str | None) -> Shot:
        prior = focal_prior(photograph.width, photograph.height, metadata.optics)
        fields: dict[str, Any] = {
            "id": self._free_id(photograph.name),
            "width": photograph.width,
            "height": photograph.height,
            "stance": self.stance,
            "focal_px": prior.focal_px,
            "focal_sd_px": prior.sd_px,
            "cropped": prior.cropped,
            "focal_reason": prior.reason,
            "file": photograph.name,
            "credit": metadata.credit or metadata.creator or None,
            "licence": metadata.licence or None,
            "date": metadata.date or None,
            "photograph": photograph.id,
            "name": Path(photograph.name).stem,
            "stage": self.stage,
            "source": self.source or metadata.source,
            "creator": metadata.creator,
            "copyright": metadata.copyright,
            "copy_of": original,
        }
        return Shot(**fields)

    def _free_id(self, name: str) -> str:
        stem = re.sub(r"\s+", "-", Path(name).stem) or "shot"
        free, n = stem, 1
        while free in self.taken:
            n += 1
            free = f"{stem}-{n}"
        self.taken.add(free)
        return free

    def _arrival(self, name: str, photograph: Photograph, shot: Shot, original: str | None, flipped: bool) -> Arrival:
        line = f"{name}: shot {shot.id!r}, {photograph.width} × {photograph.height} pixels"
        if shot.focal_px is not None and shot.focal_sd_px is not None:
            line += f", focal length {shot.focal_px:.0f} ± {1.96 * shot.focal_sd_px:.0f} px"
        remarks = [*photograph.remarks]
        if original is not None:
            how = "turned left to right" if flipped else "resized or recompressed"
            line += f"; looks like shot {original!r} {how}"
        if shot.focal_reason:
            remarks.insert(0, f"focal length: {shot.focal_reason}")
        return Arrival(name, "added", line, shot.id, original, tuple(remarks))


# Opening files from strangers.

_LIMITS = threading.Lock()  # Pillow keeps its pixel limit in one place for all threads


@contextmanager
def _quietly() -> Iterator[None]:
    """The decoders' own warnings are not for the user: what matters ends in an error or a remark of ours."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


class _opened:
    """Open a photograph without decoding it: content, size in bytes and pixels are checked first."""

    def __init__(self, data: bytes, name: str) -> None:
        self.data, self.name = data, name

    def __enter__(self) -> Image:
        kind = _content(self.data, self.name)
        if len(self.data) > MAX_BYTES:
            raise UnusableInput(
                f"larger than {MAX_BYTES // 2**20} MB", where=self.name, fix="export it with a smaller size"
            )
        if kind == "WEBP":  # its decoder sets memory aside on opening
            _check_size(*_webp_size(self.data), self.name)
        try:
            self.image = _open(self.data, kind)
        except Exception as e:
            raise _broken(e, self.name) from None
        if kind == "TIFF":
            _check_not_raw(self.image, self.name)
        _check_size(*self.image.size, self.name)
        if kind == "PNG":
            self._check_sums()
        return self.image

    def _check_sums(self) -> None:
        # Decoding itself passes over wrong check sums, and shows what happens to come out.
        try:
            _open(self.data, "PNG").verify()
        except Exception as e:
            raise _broken(e, self.name) from None

    def __exit__(self, *_: object) -> None:
        self.image.close()


def _open(data: bytes, kind: str) -> Image:
    from PIL import Image as Pillow

    if kind == "HEIF":
        from pillow_heif import register_heif_opener

        register_heif_opener(thumbnails=False)
    with _LIMITS:
        before, Pillow.MAX_IMAGE_PIXELS = Pillow.MAX_IMAGE_PIXELS, None  # the limit is ours, right after this
        try:
            return Pillow.open(io.BytesIO(data), formats=[kind])
        finally:
            Pillow.MAX_IMAGE_PIXELS = before


def _content(data: bytes, name: str) -> str:
    """The image format by its first bytes; anything else is named and refused."""
    if data[:3] == b"\xff\xd8\xff":
        return "JPEG"
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        return "PNG"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WEBP"
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "TIFF"
    if data[4:8] == b"ftyp":
        brands = {
            data[8:12],
            *(data[i : i + 4] for i in range(16, min(int.from_bytes(data[:4], "big"), 256), 4)),
        }
        if brands & {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx"}:
            return "HEIF"
        what = "an AVIF picture" if b"avif" in brands else "a film or sound file"
    elif not data:
        what = "an empty file"
    else:
        what = next((w for sign, w in _OTHERS if data[:64].lstrip().lower().startswith(sign)), "of an unknown kind")
    raise UnusableInput(f"not a photograph but {what}", where=name, fix=READ)


_OTHERS = (
    (b"gif8", "a GIF picture"),
    (b"%pdf", "a PDF document"),
    (b"pk\x03\x04", "a ZIP archive"),
    (b"<svg", "an SVG drawing"),
    (b"<?xml", "an XML document"),
    (b"<!doctype", "a web page"),
    (b"<html", "a web page"),
    (b"bm", "a BMP picture"),
    (b"\x7felf", "a program"),
    (b"mz", "a program"),
    (b"sqlite format 3", "a database"),
)


def _check_size(width: int, height: int, name: str) -> None:
    if max(width, height) > MAX_SIDE or width * height > MAX_PIXELS:
        raise UnusableInput(
            f"{width} × {height} pixels: more than {MAX_PIXELS // 10**6} megapixels or {MAX_SIDE} on a side",
            where=name,
            fix="export it with a smaller size",
        )
    if min(width, height) < MIN_SIDE:
        raise UnusableInput(f"{width} × {height} pixels: too small to mark", where=name, fix="find a larger one")


def _webp_size(data: bytes) -> tuple[int, int]:
    """The canvas size from the first chunk (RFC 9649); (1, 1), which is refused, when there is none."""
    chunk = data[12:16]
    if chunk == b"VP8X" and len(data) >= 30:
        return 1 + int.from_bytes(data[24:27], "little"), 1 + int.from_bytes(data[27:30], "little")
    if chunk == b"VP8L" and len(data) >= 25:
        bits = int.from_bytes(data[21:25], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    if chunk == b"VP8 " and len(data) >= 30:
        return int.from_bytes(data[26:28], "little") & 0x3FFF, int.from_bytes(data[28:30], "little") & 0x3FFF
    return 1, 1


def _check_not_raw(image: Image, name: str) -> None:
    tags = getattr(image, "tag_v2", {})
    # A camera's raw file is a TIFF too, with a small preview first: marks on that would be worthless.
    if 50706 in tags or int(tags.get(254, 0) or 0) & 1:
        raise UnusableInput("a camera's raw file", where=name, fix="develop it to a TIFF or JPEG first")


def _orientation(image: Image) -> int:
    try:
        value = image.getexif().get(0x0112, 1)
    except Exception:  # a broken EXIF block has its remark already
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _upright(image: Image, name: str) -> Image:
    """Decode fully, so that truncation shows; turn by the EXIF orientation; bring to 8-bit RGB."""
    from PIL import Image as Pillow

    turns = {
        2: Pillow.Transpose.FLIP_LEFT_RIGHT,
        3: Pillow.Transpose.ROTATE_180,
        4: Pillow.Transpose.FLIP_TOP_BOTTOM,
        5: Pillow.Transpose.TRANSPOSE,
        6: Pillow.Transpose.ROTATE_270,
        7: Pillow.Transpose.TRANSVERSE,
        8: Pillow.Transpose.ROTATE_90,
    }
    try:
        image.load()
        out = _eight_bit(image)
    except Exception as e:
        raise _broken(e, name) from None
    orientation = _orientation(image)  # after decoding: for TIFF the library turns the picture itself
    return out.transpose(turns[orientation]) if orientation in turns else out


def _eight_bit(image: Image) -> Image:
    if image.mode in ("I", "F") or image.mode.startswith("I;16"):  # 16-bit and float grey: stretch to what is there
        import numpy as np
        from PIL import Image as Pillow

        grey = np.nan_to_num(np.asarray(image, dtype=float))
        low, high = float(grey.min()), float(grey.max())
        grey = (grey - low) / (high - low or 1.0) * 255.0
        return Pillow.fromarray(grey.round().astype(np.uint8)).convert("RGB")
    return image if image.mode == "RGB" else image.convert("RGB")  # no copy: it may be large


def _broken(error: Exception, name: str) -> UnusableInput:
    text = str(error)
    if isinstance(error, MemoryError):
        return UnusableInput("needs more memory than there is", where=name, fix="export it with a smaller size")
    if any(sign in text.lower() for sign in ("truncated", "not processed", "unexpected end", "too short")):
        return UnusableInput("ends too early (an unfinished download?)", where=name, fix="fetch it again")
    return UnusableInput(
        f"cannot be decoded ({_one_line(text)[:120] or type(error).__name__})",
        where=name,
        fix="save it anew as JPEG or PNG",
    )


def _one_line(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
