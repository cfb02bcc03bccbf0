"""Claims in published words and pages: how strongly they are held, and what happens when nothing speaks for them any more."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest

from longlens.claims.records import Alternative, Evidence, Judgement, Question
from longlens.dossier.records import Mark
from longlens.dossier.store import Dossier
from longlens.publish.basis import Bases
from longlens.publish.brief import gather
from longlens.publish.brief_pdf import brief_pdf
from longlens.publish.page import page
from longlens.publish.plates import Plate
from longlens.publish.reading import mark_read, to_read
from longlens.publish.references import read


@pytest.fixture
def asked(opened: Callable[[], Dossier]) -> Dossier:
    """The little car with one question, answered by one observation."""
    d = opened()
    texts = {"one": "One loop.", "two": "Two loops."}
    two = [Alternative(id=k, text=t, prior=0.5, why="usual") for k, t in texts.items()]
    d.add(Question(id="loops", text="How many loops?", alternatives=two))
    judged = Judgement(favours=["one"], ratio=20.0, low=10.0, high=40.0, why="seen")
    said = "The pipe passes both coolers."
    d.add(Evidence(id="pipe", question="loops", kind="observation", text=said, on=["mark:sill"], judged=judged))
    return d


def test_a_claim_stands_in_words_page_and_pdf(asked: Dossier) -> None:
    from pypdf import PdfReader

    got = read("We say: {claim:loops}", Bases(asked).of(None))
    assert got.lost == () and "One loop." in got.text and "probability" in got.text
    brief = gather(asked)
    html = page(brief)
    assert "How many loops? One loop." in html and "The pipe passes both coolers." in html
    text = " ".join(" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(brief_pdf(brief))).pages)
    assert "How many loops?" in text and "The pipe passes both" in text


def test_a_claim_that_moved_is_read_again_and_one_that_is_gone_stops(asked: Dossier) -> None:
    asked.change(Plate, "track", text="{claim:loops}")
    mark_read(Bases(asked))
    assert to_read(Bases(asked)) == []
    asked.remove(Mark, "sill")  # what the evidence rests on: it does not count until somebody has looked
    (moved,) = [r for r in to_read(Bases(asked)) if r.reference == "claim:loops"]
    assert not moved.stops and moved.before != moved.now
    asked.remove(Question, "loops")
    assert any(r.stops and r.reference == "claim:loops" for r in to_read(Bases(asked)))
    assert read("{forecast:none}", Bases(asked).of(None)).lost
