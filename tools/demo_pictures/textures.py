"""The pictures wrapped on the invented cars: lettering, camouflage, weave, fins, tarmac; drawn here, from seeds."""

from __future__ import annotations

import itertools

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont


def _font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.load_default(size)  # the face that ships inside Pillow


def sidewall(designation: str, seed: int) -> np.ndarray:
    """Reflectance (h, w, 3) of a sidewall, unrolled: x clockwise seen from outside, y from shoulder to bead."""
    w, h = 12288, 512
    rng = np.random.default_rng(seed)
    base = np.full((h, w, 3), 0.030, np.float32)
    base += (0.006 * cv2.GaussianBlur(rng.standard_normal((h, w)).astype(np.float32), (0, 0), 3))[..., None]
    ink = Image.new("L", (w, h), 0)
    faint = Image.new("L", (w, h), 0)
    d, df = ImageDraw.Draw(ink), ImageDraw.Draw(faint)
    for k in range(2):
        x = int(w * (0.25 + 0.5 * k))
        d.text((x - 1500, 190), "HARROW", font=_font(190), fill=255, anchor="lm")
        d.text((x + 120, 215), "tarn", font=_font(150), fill=255, anchor="lm")
        df.text((x + 1750, 235), designation, font=_font(120), fill=255, anchor="lm")
        df.text((x + 2500, 330), "HILL COMPOUND 2 · INVENTED · NOT FOR SALE", font=_font(52), fill=255, anchor="lm")
        df.text(
            (x - 1500, 390),
            "INFLATE TO MAKER'S SHEET · MADE UP IN SKERRY · TUBELESS",
            font=_font(48),
            fill=255,
            anchor="lm",
        )
    for x in range(0, w, 96):  # fine radial marks near the shoulder
        df.rectangle([x, 24, x + 8, 64], fill=200)
    a = np.asarray(ink, np.float32)[..., None] / 255
    b = np.asarray(faint, np.float32)[..., None] / 255
    paint = np.array([0.72, 0.66, 0.42], np.float32)
    out = base * (1 - a) + paint * a
    out = out * (1 - b) + np.array([0.085, 0.085, 0.088], np.float32) * b
    return out[:, ::-1].copy()  # u runs the other way round


def camouflage(seed: int = 5) -> np.ndarray:
    """A wrap of broken chevrons in three greys and a teal, its own pattern; repeats."""
    n = 2048
    rng = np.random.default_rng(seed)
    tone = np.array([[0.60, 0.61, 0.60], [0.035, 0.040, 0.045], [0.22, 0.25, 0.26], [0.05, 0.24, 0.25]], np.float32)
    img = np.zeros((n, n, 3), np.float32) + tone[0]
    for _ in range(420):
        c = rng.choice(4, p=[0.34, 0.36, 0.18, 0.12])
        x, y = rng.uniform(0, n, 2)
        s, t = rng.uniform(50, 150), rng.uniform(28, 75)
        k = int(rng.integers(1, 4))
        up = [(x + i * s, y + (s * 0.55 if i % 2 else 0)) for i in range(k + 2)]
        pts = up + [(px, py + t) for px, py in up[::-1]]
        for ox in (-n, 0, n):
            for oy in (-n, 0, n):
                cv2.fillPoly(
                    img, [np.array([(px + ox, py + oy) for px, py in pts], np.int32)], tone[c].tolist(), cv2.LINE_AA
                )
    return img


def weave(n: int = 256) -> np.ndarray:
    """One repeat of a 2×2 twill: reflectance that turns with the tow."""
    t = 8
    c = n // t
    y, x = np.mgrid[0:n, 0:n]
    i, j = x // c, y // c
    warp = ((i + j) % 4) < 2
    across = np.where(warp, (x % c) / c, (y % c) / c)
    tone = 0.018 + 0.045 * np.sin(np.pi * across) ** 0.7 * np.where(warp, 1.0, 0.45)
    return np.repeat(tone[..., None], 3, 2).astype(np.float32)


def fins(n: int = 1024) -> np.ndarray:
    """Corrugated fins between two tubes: one tube pitch high (v), 64 mm wide (u): crests, gaps, louvre slits."""
    h, w = 192, n * 2
    x = np.arange(w)[None] / w
    y = np.arange(h)[:, None] / h
    k = 46
    phase = x * k + 0.5 * np.abs(((y * 2) % 2) - 1) * 0.9
    crest = 0.5 + 0.5 * np.cos(2 * np.pi * phase)
    slit = 0.5 + 0.5 * np.cos(2 * np.pi * y * 7)
    tone = 0.05 + 0.42 * crest**3 + 0.06 * slit * crest
    edge = np.clip(np.minimum(y, 1 - y) / 0.10, 0, 1)
    tone = tone * (0.55 + 0.45 * edge)
    return np.repeat(tone[..., None], 3, 2).astype(np.float32)


def tarmac(seed: int = 3, n: int = 2048) -> np.ndarray:
    """Old tarmac, 4 m square: stones, patches, stains, a crack."""
    rng = np.random.default_rng(seed)
    out = np.full((n, n), 0.115, np.float32)
    for s, a in ((1.0, 0.035), (2.2, 0.030), (24, 0.010), (120, 0.016)):
        g = rng.standard_normal((n, n)).astype(np.float32)
        f = np.fft.rfft2(g)
        ky = np.fft.fftfreq(n)[:, None]
        kx = np.fft.rfftfreq(n)[None]
        g = np.fft.irfft2(f * np.exp(-2 * (np.pi * s) ** 2 * (kx**2 + ky**2)), s=(n, n)).astype(np.float32)
        out += a * g / g.std()
    p = np.cumsum(rng.standard_normal((400, 2)) * 4 + [5.2, 0.6], axis=0).astype(np.int32) % n
    for a_, b_ in itertools.pairwise(p):
        if np.abs(a_ - b_).max() < 60:
            cv2.line(out, tuple(int(v) for v in a_), tuple(int(v) for v in b_), 0.05, 2, cv2.LINE_AA)
    warm = np.array([1.03, 1.0, 0.96], np.float32)
    return np.clip(out, 0.02, 0.4)[..., None] * warm


def concrete(seed: int = 9, n: int = 1024) -> np.ndarray:
    """A plain rendered wall with faint staining."""
    rng = np.random.default_rng(seed)
    out = np.full((n, n), 0.46, np.float32)
    for s, a in ((1.2, 0.010), (30, 0.012), (160, 0.030)):
        g = cv2.GaussianBlur(rng.standard_normal((n, n)).astype(np.float32), (0, 0), s, borderType=cv2.BORDER_REFLECT)
        out += a * g / g.std()
    return np.clip(out, 0.05, 0.8)[..., None] * np.array([1.0, 0.985, 0.95], np.float32)


def label() -> np.ndarray:
    """The battery's warning label."""
    im = Image.new("RGB", (512, 360), (222, 186, 38))
    d = ImageDraw.Draw(im)
    d.polygon([(80, 300), (180, 90), (280, 300)], outline=(20, 20, 20), width=14)
    d.line([(190, 130), (160, 210), (200, 205), (172, 280)], fill=(20, 20, 20), width=12)
    d.text((310, 120), "E4", font=_font(110), fill=(20, 20, 20))
    d.text((310, 240), "DC LINK", font=_font(40), fill=(20, 20, 20))
    return (np.asarray(im, np.float32) / 255) ** 2.2


#: Printed sheets by name: ground and ink (sRGB), a word in large, lines in small. All of it is invented.
STICKERS = {
    "coolant": (
        (226, 228, 224),
        (24, 60, 64),
        "COOLANT",
        ("ethylene glycol and water 1 : 1", "hot: open only when cold"),
    ),
    "inverter": (
        (198, 200, 200),
        (26, 28, 30),
        "SK-INV 7",
        ("made up in Skerry · no. 0007 · 2031", "DC 640 V    AC 3 ~    300 kW"),
    ),
    "high_voltage": (
        (236, 176, 40),
        (20, 20, 20),
        "HIGH VOLTAGE",
        ("trained persons only", "wait 5 min after switching off"),
    ),
    "bars": ((30, 34, 38), (214, 178, 60), "BARS", ("front  L  I  II  III", "note the setting in the book")),
    "engine": (
        (36, 30, 16),
        (232, 224, 206),
        "skerry 2.0 t",
        ("oil 5 W-40 · 98 RON · invented", "firing order 1 3 4 2"),
    ),
    "intake": ((226, 228, 224), (40, 40, 44), "FILTER", ("clean every five hours", "this side out")),
}


def sticker(name: str, w: int = 1024, h: int = 512) -> np.ndarray:
    """Reflectance (h, w, 3) of a printed sheet: a frame, a word and two lines."""
    ground, ink, word, lines = STICKERS[name]
    im = Image.new("RGB", (w, h), ground)
    d = ImageDraw.Draw(im)
    d.rectangle([14, 14, w - 15, h - 15], outline=ink, width=10)
    d.text((52, 150), word, font=_font(148 if len(word) < 10 else 112), fill=ink, anchor="lm")
    d.line([(52, 258), (w - 52, 258)], fill=ink, width=6)
    for i, line in enumerate(lines):
        d.text((52, 325 + 92 * i), line, font=_font(58), fill=ink, anchor="lm")
    return ((np.asarray(im, np.float32) / 255) ** 2.2).astype(np.float32)
