"""The typesetter: a Typst source and its files to PDF, with the package's own fonts and nothing from the machine."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path


def compile_pdf(source: str, files: Mapping[str, bytes], *, title: str = "") -> bytes:
    """Set a document. ``files`` are what it names (pictures); nothing else can be read, no network is asked.

    The same source gives the same bytes: the date of making is left out.
    """
    import typst

    from longlens.publish.typefaces import folders

    head = f"#set document(title: {string(title)}, date: none)\n" if title else "#set document(date: none)\n"
    with tempfile.TemporaryDirectory(prefix="longlens-") as place:
        root = Path(place)
        for name, data in files.items():
            (root / name).write_bytes(data)
        (root / "main.typ").write_text(head + source, encoding="utf-8")
        made = typst.compile(
            str(root / "main.typ"), root=str(root), font_paths=[str(f) for f in folders()], ignore_system_fonts=True,
            format="pdf", timestamp=0,
        )  # fmt: skip
    assert isinstance(made, bytes)
    return made


def string(text: object) -> str:
    """A Typst string literal: whatever it says, it stays text."""
    plain = "".join(c if c >= " " or c == "\n" else "\ufffd" for c in str(text))
    plain = plain.encode("utf-8", "replace").decode()
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
