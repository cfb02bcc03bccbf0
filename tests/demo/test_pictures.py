"""The committed photographs: size, metadata like a real one's, pixels where the truth says."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from PIL import Image, IptcImagePlugin

from longlens.demo.shots import FULMAR, GANNET, Shot, camera_of
from longlens.demo.truth import PICTURES

SHOTS = [*FULMAR, *GANNET]
BY_ID = pytest.mark.parametrize("shot", SHOTS, ids=[f"{s.car}-{s.stage}-{s.id}" for s in SHOTS])


def test_the_set_is_complete_and_small() -> None:
    files = sorted(p.name for p in PICTURES.glob("*.jpg"))
    assert files == sorted(s.file for s in SHOTS)
    assert sum(p.stat().st_size for p in PICTURES.glob("*.jpg")) < 60e6
    assert len(FULMAR) >= 9 and len(GANNET) >= 6
    assert {s.stage for s in FULMAR} == {s.stage for s in GANNET} == {"test", "shown"}


def test_the_set_has_its_special_cases() -> None:
    assert any(s.crop for s in SHOTS)
    assert any(s.resize for s in SHOTS)
    assert any(s.light == "backlit" for s in SHOTS)
    assert any(s.licence is None for s in SHOTS)
    assert any(s.stance != "static" for s in SHOTS)


@BY_ID
def test_size_is_the_cameras(shot: Shot) -> None:
    with Image.open(PICTURES / shot.file) as im:
        c = camera_of(shot)["published"]
        assert im.size == (c["width"], c["height"])
        if shot.resize is None and shot.crop is None:
            assert 12e6 <= im.width * im.height <= 24e6


@BY_ID
def test_metadata_is_like_a_real_ones(shot: Shot) -> None:
    with Image.open(PICTURES / shot.file) as im:
        e = im.getexif()
        iptc = IptcImagePlugin.getiptcinfo(im) or {}
        xmp = im.info.get("xmp", b"")
    sub = e.get_ifd(0x8769)
    if shot.resize is not None:  # the web site kept next to nothing
        assert 0x010F not in e and not sub and not iptc and not xmp
        return
    assert e[0x010F] == "Skua"
    assert float(sub[0x920A]) == shot.focal_mm
    assert sub[0xA405] == round(shot.focal_mm)
    assert sub[0x9003] == shot.date.replace("-", ":").replace("T", " ")
    assert float(sub[0x829A]) == pytest.approx(float(Fraction(shot.shutter)), rel=1e-3)
    assert shot.credit is not None
    assert iptc[(2, 110)].decode() == shot.credit[:32]
    assert shot.credit in xmp.decode()
    assert ((2, 116) in iptc) == (shot.licence is not None)
    assert (0x8298 in e) == (shot.licence is not None)


def test_the_backlit_one_has_deep_shadow() -> None:
    shot = next(s for s in SHOTS if s.light == "backlit")
    with Image.open(PICTURES / shot.file) as im:
        im.draft("L", (1064, 708))
        y = np.asarray(im.convert("L"))
    assert np.mean(y < 40) > 0.25
    assert np.mean(y > 180) > 0.003
