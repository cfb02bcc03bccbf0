"""From lens and sensor figures to a prior on the focal length in pixels.

Two roads:

* sensor: f_px = f_mm · (pixels per mm on the sensor) · (present width / width as taken);
* 35 mm figure: f_px = f_35 · (diagonal in pixels) / 43.27 mm. Exif does not say whether the figure keeps the
angle of
  the diagonal or of the width; for a 3:2 frame both agree, for others half the difference is added to the
  spread.

Spread, one standard deviation, relative. Common practice, no source, unless said otherwise:

* 3 %: engraved against real focal length, and what focusing near does to it;
* the 35 mm figure is rounded to whole mm: ±0.5 mm rectangular, 0.29 mm / f_35 (a rectangular distribution's
standard
  deviation, JCGM 101:2008 6.4.2);
* 8 % more where the picture was resized, or its size as taken is not told: it may also have been cropped to
the same
  shape.

Where the picture was cropped, the prior is dropped and the principal point set free: a crop changes neither
the focal length nor the pixel pitch, but cropped pictures are nearly always resized too, by an amount nobody
tells.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from longlens.dossier.metadata import Optics

FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
SPREAD_LENS = 0.03
SPREAD_RESIZED = 0.08
SENSOR_SHAPES = (3 / 2, 4 / 3)
# Shapes that cameras cut from such a sensor, with the spread this puts on the 35 mm figure (which may count
# it or not).
CUT_SHAPES = {16 / 9: 0.05, 5 / 4: 0.12, 1.0: 0.12}
SHAPE_TOLERANCE = 0.012  # 4288 × 2848 and the like are meant as 3:2
DROPPED_ABOVE = 0.35


@dataclass(frozen=True)
class FocalPrior:
    """Focal length and standard deviation in pixels, or None; ``cropped``: principal point not known."""

    focal_px: float | None
    sd_px: float | None
    cropped: bool
    reason: str


def focal_prior(width: int, height: int, optics: Optics) -> FocalPrior:
    """The prior for a picture of this size (pixels, upright or not), from what its file says.

    Never raises: what is missing, contradictory or out of all proportion gives no prior, with the reason.
    """
    size = _Size.of(width, height, optics)
    if size.cropped:
        return FocalPrior(None, None, True, size.why)
    if optics.focal_mm is None and optics.focal_35mm is None:
        return FocalPrior(None, None, False, "the file tells no focal length")
    roads = [r for r in (_by_sensor(size, optics), _by_35mm(size, optics)) if r is not None]
    if not roads:
        return FocalPrior(None, None, False, f"a focal length without a usable sensor or 35 mm figure; {size.why}")
    if len(roads) == 2:
        return _joined(size, *roads)
    return _told(roads[0], size)


@dataclass(frozen=True)
class _Road:
    focal_px: float
    spread: float
    how: str


@dataclass(frozen=True)
class _Size:
    """How the picture's size relates to the size as taken."""

    long: float
    short: float
    scale: float | None  # present over as taken; None when not told
    cropped: bool
    cut_spread: float  # on the 35 mm figure, for a shape cut in the camera
    why: str

    @property
    def spread(self) -> float:
        return 0.0 if self.scale == 1.0 else SPREAD_RESIZED

    @classmethod
    def of(cls, width: int, height: int, optics: Optics) -> _Size:
        long, short = float(max(width, height)), float(min(width, height))
        shape = long / short
        cut = next((s for c, s in CUT_SHAPES.items() if _same(shape, c)), None)
        whole = any(_same(shape, s) for s in SENSOR_SHAPES)

        def result(scale: float | None, cropped: bool, why: str) -> _Size:
            return cls(long, short, scale, cropped, 0.0 if whole else (cut or 0.0), why)

        if optics.cropped_by_editor:
            return result(None, True, "the file says that it was cropped")
        if optics.exif_width is not None and optics.exif_height is not None:
            taken = (
                float(max(optics.exif_width, optics.exif_height)),
                float(min(optics.exif_width, optics.exif_height)),
            )
            if not _same(shape, taken[0] / taken[1]):
                return result(None, True, f"cropped: taken as {taken[0]:.0f} × {taken[1]:.0f} pixels, another shape")
            if not whole and cut is None:
                return result(None, True, f"cropped: {shape:.2f} to 1 is no camera's shape")
            if abs(long - taken[0]) <= 2 and abs(short - taken[1]) <= 2:  # lossless turning trims to whole blocks
                return result(1.0, False, "size as taken")
            return result(long / taken[0], False, f"resized from {taken[0]:.0f} × {taken[1]:.0f} pixels")
        if not whole:
            # Without a size as taken, 16:9 and the like are more often a desk's crop than a camera's.
            return result(None, True, f"probably cropped: {shape:.2f} to 1, and the size as taken is not told")
        return result(None, False, "the size as taken is not told")


def _by_sensor(size: _Size, optics: Optics) -> _Road | None:
    if optics.focal_mm is None or optics.sensor_px_per_mm is None or size.scale is None:
        return None
    if optics.digital_zoom is not None and abs(optics.digital_zoom - 1) > 0.01:
        return None  # the camera enlarged a part: the sensor figure no longer belongs to these pixels
    across, down = optics.sensor_px_per_mm
    diagonal_mm = math.hypot(size.long, size.short) / size.scale / math.sqrt(across * down)
    # From the smallest telephone sensors to the largest backs; pixels that are far from square are a false
    # figure.
    if not 2.0 < diagonal_mm < 90.0 or not 0.97 < across / down < 1.03:
        return None
    focal = optics.focal_mm * math.sqrt(across * down) * size.scale
    spread = math.hypot(SPREAD_LENS, size.spread)
    return _Road(focal, spread, f"{optics.focal_mm:g} mm and the sensor's {across:.0f} pixels per mm")


def _by_35mm(size: _Size, optics: Optics) -> _Road | None:
    if optics.focal_35mm is None:
        return None
    by_diagonal = optics.focal_35mm * math.hypot(size.long, size.short) / FULL_FRAME_DIAGONAL_MM
    by_width = optics.focal_35mm * size.long / 36.0
    meaning = max(abs(math.log(by_diagonal / by_width)) / 2, size.cut_spread)
    zoom = optics.digital_zoom or 1.0
    zoomed = abs(math.log(zoom)) / 2 if abs(zoom - 1) > 0.01 else 0.0  # the figure may count the zoom or not
    parts = (SPREAD_LENS, size.spread, 0.29 / optics.focal_35mm, meaning, zoomed)
    return _Road(by_diagonal, math.sqrt(sum(p * p for p in parts)), f"{optics.focal_35mm:g} mm in 35 mm terms")


def _joined(size: _Size, sensor: _Road, figure: _Road) -> FocalPrior:
    apart = abs(math.log(sensor.focal_px / figure.focal_px))
    if apart <= 2 * math.hypot(sensor.spread, figure.spread):
        return _told(min(sensor, figure, key=lambda r: r.spread), size)
    # One figure belongs to another size of the picture: resized or cropped, with the size as taken
    # overwritten.
    middle = math.sqrt(sensor.focal_px * figure.focal_px)
    spread = math.hypot(apart / 2, max(sensor.spread, figure.spread))
    why = f"{sensor.how} and {figure.how} disagree by {100 * math.expm1(apart):.0f} %: resized or cropped"
    if spread > DROPPED_ABOVE:
        return FocalPrior(None, None, True, why)
    return FocalPrior(middle, middle * spread, True, why)


def _told(road: _Road, size: _Size) -> FocalPrior:
    why = f"from {road.how}; {size.why}"
    if road.spread > DROPPED_ABOVE or not 0.2 * size.long < road.focal_px < 200 * size.long:
        return FocalPrior(None, None, False, f"{why}; too uncertain to use")
    return FocalPrior(road.focal_px, road.focal_px * road.spread, False, why)


def _same(a: float, b: float) -> bool:
    return abs(math.log(a / b)) < SHAPE_TOLERANCE
