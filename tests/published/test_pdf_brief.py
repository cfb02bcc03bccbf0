"""The brief as PDF read by pypdf (PyPI): pages, title, every number of the survey in its text, tags for readers aloud."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest

from longlens.dossier.records import Fact, Vehicle
from longlens.dossier.store import Dossier
from longlens.publish.brief import gather
from longlens.publish.brief_pdf import brief_pdf
from longlens.publish.page_numbers import value_text

pytestmark = pytest.mark.published


def test_numbers_credits_and_cautions_are_in_its_text(opened: Callable[[], Dossier]) -> None:
    from pypdf import PdfReader

    brief = gather(opened())
    data = brief_pdf(brief)
    reader = PdfReader(io.BytesIO(data))
    text = " ".join(" ".join(p.extract_text().split()) for p in reader.pages)
    assert reader.metadata is not None and "Fulmar E4" in (reader.metadata.title or "")
    for line in brief.lines:
        if line.value:
            assert value_text(line).replace("\u202f", " ") in text.replace("\u202f", " ")
    known = (
        "620.0 (617–623) kg",
        "Ada Quill",
        "CC BY 4.0",
        "no basis for building",
        "Method and limits",
        "An invented car.",
    )
    for words in (*known, "Appendix: the trail of every number"):
        assert words in text, words
    assert "/StructTreeRoot" in reader.trailer["/Root"] and reader.trailer["/Root"]["/Lang"] == "en"
    assert brief_pdf(brief) == data


def test_a_strangers_words_stay_words(opened: Callable[[], Dossier]) -> None:
    from pypdf import PdfReader

    d = opened()
    bad = '#panic("x") $1/0$ `raw` [a] *b* _c_ @d \\ " #{ 1 } = heading'
    d.change(Vehicle, "vehicle", name=bad, maker=bad, note=bad)
    d.change(Fact, "mass", of=bad, source=bad)
    text = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(brief_pdf(gather(d)))).pages)
    assert "#panic" in text and "$1/0$" in text
