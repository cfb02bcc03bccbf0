"""The prior on the focal length: right where the figures are whole, wide or gone where they are not.

The truth is the pinhole's own: f in pixels = f in mm × pixels across / sensor width in mm.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.dossier.focal import SPREAD_LENS, focal_prior
from longlens.dossier.metadata import Optics
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Shot
from longlens.dossier.store import Dossier
from tests.dossier.pictures import encode, exif, scene, xmp


def taken(focal: float, sensor: tuple[float, float], pixels: tuple[int, int], **more: object) -> Optics:
    """What a camera with that sensor (mm) would write into a frame of that size."""
    pitch = pixels[0] / sensor[0]
    fields: dict = {
        "focal_mm": focal,
        "focal_35mm": round(focal * math.hypot(36, 24) / math.hypot(*sensor)),
        "sensor_px_per_mm": (pitch, pitch),
        "exif_width": pixels[0],
        "exif_height": pixels[1],
    }
    return Optics(**(fields | more))


LEAST = SPREAD_LENS * (1 - 1e-9)
FULL = (36.0, 24.0), (6000, 4000)
SMALL = (17.3, 13.0), (4608, 3456)


@pytest.mark.parametrize(("sensor", "pixels"), [FULL, SMALL])
@pytest.mark.parametrize("focal", [14, 35, 85, 200])
@pytest.mark.parametrize("road", ["both", "sensor", "35 mm"])
def test_an_untouched_frame_gives_the_pinhole_s_focal_length(
    sensor: tuple[float, float], pixels: tuple[int, int], focal: float, road: str
) -> None:
    dropped = {"both": {}, "sensor": {"focal_35mm": None}, "35 mm": {"sensor_px_per_mm": None}}[road]
    prior = focal_prior(*pixels, taken(focal, sensor, pixels, **dropped))
    truth = focal * pixels[0] / sensor[0]
    assert prior.focal_px is not None and prior.sd_px is not None and not prior.cropped
    assert abs(prior.focal_px - truth) < 2 * prior.sd_px
    assert LEAST <= prior.sd_px / prior.focal_px < 0.05
    turned = focal_prior(pixels[1], pixels[0], taken(focal, sensor, pixels, **dropped))
    assert turned == prior


def test_a_resized_picture_scales_and_widens() -> None:
    prior = focal_prior(1500, 1000, taken(50, *FULL))
    assert prior.focal_px == pytest.approx(50 / 36 * 1500)
    assert prior.sd_px is not None and prior.sd_px / prior.focal_px > 0.08
    assert "resized from 6000 × 4000" in prior.reason


@pytest.mark.parametrize(
    ("size", "optics", "told"),
    [
        ((3000, 3000), taken(50, *FULL), "another shape"),
        ((5000, 4000), taken(50, *FULL), "another shape"),
        ((2000, 700), taken(50, FULL[0], (2000, 700)), "no camera's shape"),
        ((6000, 4000), taken(50, *FULL, cropped_by_editor=True), "says that it was cropped"),
        ((1920, 1080), Optics(focal_mm=50, focal_35mm=50), "probably cropped"),
        ((1920, 1080), Optics(), "probably cropped"),
    ],
)
def test_a_cropped_picture_has_no_prior_and_a_free_principal_point(
    size: tuple[int, int], optics: Optics, told: str
) -> None:
    prior = focal_prior(*size, optics)
    assert prior.focal_px is None and prior.sd_px is None and prior.cropped
    assert told in prior.reason


def test_figures_that_contradict_each_other_widen_or_drop() -> None:
    # Cropped by 1.4 to the same shape, the size as taken overwritten: pixel pitch true, 35 mm figure not.
    prior = focal_prior(4286, 2857, taken(50, *FULL, exif_width=4286, exif_height=2857))
    truth = 50 / 36 * 6000
    assert prior.cropped and prior.focal_px is not None and prior.sd_px is not None
    assert abs(prior.focal_px - truth) < 2 * prior.sd_px and prior.sd_px / prior.focal_px > 0.15
    # By 3: too far apart for any use.
    dropped = focal_prior(2000, 1333, taken(50, *FULL, exif_width=2000, exif_height=1333))
    assert dropped.focal_px is None and dropped.cropped and "disagree by 200 %" in dropped.reason


def test_what_is_not_told_is_not_made_up() -> None:
    assert focal_prior(6000, 4000, Optics()).focal_px is None
    assert focal_prior(6000, 4000, Optics(focal_mm=50)).focal_px is None
    only = focal_prior(6000, 4000, Optics(focal_35mm=50))  # the size as taken is not told
    assert only.sd_px is not None and only.focal_px is not None and only.sd_px / only.focal_px > 0.08
    zoomed = focal_prior(6000, 4000, taken(50, *FULL, digital_zoom=2.0))
    assert zoomed.focal_px is None or zoomed.sd_px / zoomed.focal_px > 0.3  # type: ignore[operator]


ANY = st.one_of(st.none(), st.floats(1e-6, 1e9))


@given(
    st.integers(16, 65535),
    st.integers(16, 65535),
    st.builds(
        Optics,
        focal_mm=ANY,
        focal_35mm=ANY,
        sensor_px_per_mm=st.one_of(st.none(), st.tuples(st.floats(1e-6, 1e9), st.floats(1e-6, 1e9))),
        exif_width=st.one_of(st.none(), st.integers(1, 2**31 - 1)),
        exif_height=st.one_of(st.none(), st.integers(1, 2**31 - 1)),
        digital_zoom=ANY,
        cropped_by_editor=st.booleans(),
    ),
)
def test_any_figures_give_a_prior_in_proportion_or_none(width: int, height: int, optics: Optics) -> None:
    prior = focal_prior(width, height, optics)
    assert prior.reason
    if prior.focal_px is not None:
        assert prior.sd_px is not None and LEAST <= prior.sd_px / prior.focal_px <= 0.36
        assert 0.2 * max(width, height) < prior.focal_px < 200 * max(width, height)


def test_the_prior_comes_in_with_the_photograph(dossier: Dossier) -> None:
    tags = exif({}, {0x920A: 50.0, 0xA405: 50, 0xA002: 600, 0xA003: 400})
    add_photographs(
        dossier,
        [
            ("whole.jpg", encode(scene(600, 400, 1), exif=tags)),
            ("cut.jpg", encode(scene(500, 400, 2), exif=tags)),
            ("said.jpg", encode(scene(600, 400, 3), exif=tags, xmp=xmp(attributes='crs:HasCrop="True"'))),
        ],
    )
    whole, cut, said = dossier.all(Shot)
    assert whole.focal_px == pytest.approx(833.3, abs=0.1) and not whole.cropped
    assert cut.focal_px is None and cut.cropped and said.focal_px is None and said.cropped
