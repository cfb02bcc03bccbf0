"""A small contact sheet of all pictures and crops of the places to search, into docs/pictures/."""

from __future__ import annotations

from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from longlens.demo.shots import FULMAR, GANNET
from longlens.demo.truth import PICTURES

DOCS = Path(__file__).parents[2] / "docs" / "pictures"
#: Picture, and the part of it (shares of width and height) that is worth a close look.
CROPS = {
    "demo_front_suspension": ("fulmar_shown_s3_front_suspension.jpg", (0.30, 0.22, 0.68, 0.60)),
    "demo_coolers": ("fulmar_shown_s4_left_pod.jpg", (0.28, 0.28, 0.72, 0.78)),
    "demo_pipes": ("fulmar_shown_s9_left_pod_rear.jpg", (0.26, 0.22, 0.78, 0.76)),
    "demo_pullrod": ("gannet_shown_s1_studio_nose_off.jpg", (0.44, 0.44, 0.70, 0.76)),
}


def sheet(width: int = 360, columns: int = 3) -> Image.Image:
    """All pictures that are there, named."""
    tiles = []
    for s in (*FULMAR, *GANNET):
        if (PICTURES / s.file).exists():
            im = Image.open(PICTURES / s.file).convert("RGB")
            im.thumbnail((width, width * 2 // 3))
            tiles.append((s.file.removesuffix(".jpg"), im))
    h = width * 2 // 3 + 18
    out = Image.new("RGB", (width * columns, h * -(-len(tiles) // columns)), (24, 25, 27))
    pen, face = ImageDraw.Draw(out), ImageFont.load_default(12)
    for i, (name, im) in enumerate(tiles):
        x, y = (i % columns) * width, (i // columns) * h
        out.paste(im, (x + (width - im.width) // 2, y))
        pen.text((x + 6, y + h - 17), name, font=face, fill=(200, 202, 205))
    return out


def main() -> None:
    DOCS.mkdir(parents=True, exist_ok=True)
    sheet().save(DOCS / "demo_contact_sheet.jpg", quality=82)
    for name, (file, (x0, y0, x1, y1)) in CROPS.items():
        if not (PICTURES / file).exists():
            continue
        im = Image.open(PICTURES / file)
        w, h = im.size
        part = im.crop((round(x0 * w), round(y0 * h), round(x1 * w), round(y1 * h)))
        part.thumbnail((1000, 800))
        part.save(DOCS / f"{name}.jpg", quality=84)


if __name__ == "__main__":
    main()
