"""The README's picture: the top of a brief as a browser shows it.

    python -m tools.brief_picture demo-out/fulmar-shown.html docs/pictures/brief.jpg

Needs Chromium (Debian's package of that name) on the path.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

WIDTH, HEIGHT, SHOWN = 1280, 1900, 1280


def picture(page: Path, to: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder) / "page.png"
        command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
        command += [f"--window-size={WIDTH},{HEIGHT}", f"--screenshot={raw}", page.resolve().as_uri()]
        subprocess.run(command, check=True, capture_output=True, timeout=120)
        with Image.open(raw) as image:
            small = image.convert("RGB").resize((SHOWN, HEIGHT * SHOWN // WIDTH), Image.Resampling.LANCZOS)
    small.save(to, quality=86, optimize=True)


if __name__ == "__main__":
    picture(Path(sys.argv[1]), Path(sys.argv[2]))
