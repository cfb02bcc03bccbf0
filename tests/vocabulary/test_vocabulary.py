"""The vocabulary: every entry is well formed, people find parts by what they call them, names compose and parse back."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.dossier import vocabulary
from longlens.dossier.reading import Reader
from longlens.dossier.records import System, Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.vocabulary.naming import part_of
from longlens.errors import UnusableInput

ENTRIES = list(vocabulary.parts().values())
WORD = re.compile(r"[a-z0-9]+(_[a-z0-9]+)*")
POINT = re.compile(r"[a-z0-9]+(_[a-z0-9]+)*(\.[a-z0-9]+(_[a-z0-9]+)*)*")


def test_there_are_at_least_150_parts_in_every_group() -> None:
    assert len(ENTRIES) >= 150
    assert {p.group for p in ENTRIES} == set(vocabulary.GROUPS)


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda p: p.id)
def test_every_entry_is_well_formed(entry: vocabulary.Part) -> None:
    assert WORD.fullmatch(entry.id)
    assert entry.system in (*get_args(System), None)
    assert 10 < len(entry.definition) < 130 and entry.definition.endswith(".") and "\n" not in entry.definition
    assert entry.synonyms and all(s.strip() == s and s for s in entry.synonyms)
    assert entry.place in ("corner", "side", "end", "one")
    assert entry.where.endswith(".") and entry.tells.endswith((".", "?"))
    marks = entry.to_mark()
    assert marks, "nothing to mark"
    for names in marks.values():
        assert len(set(names)) == len(names)
        assert all(n == "" or POINT.fullmatch(n) for n in names)
    assert set(entry.whole) <= {*entry.points, *entry.circles}


def test_a_term_stands_for_one_part_only() -> None:
    terms = [p.term for p in ENTRIES]
    assert len(set(terms)) == len(terms)
    own_terms = set(terms)
    for p in ENTRIES:
        for s in p.synonyms:
            assert s.lower() not in own_terms - {p.term}, f"{s}: of {p.id}, but a part by itself"


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda p: p.id)
def test_every_synonym_finds_its_part(entry: vocabulary.Part) -> None:
    for phrase in (entry.term, *entry.synonyms):
        assert entry.id in [f.part.id for f in vocabulary.search(phrase)[:6]], phrase


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("sway bar", "anti_roll_bar"),
        ("uper wishbon", "upper_wishbone"),
        ("belcrank", "rocker"),
        ("radaitor", "radiator"),
        ("intercoler", "charge_cooler"),
        ("wheelnut", "hub_nut"),
        ("push rod", "pushrod"),
        ("diffusor", "diffuser"),
    ],
)
def test_slips_of_the_keyboard_are_forgiven(typed: str, meant: str) -> None:
    assert vocabulary.search(typed)[0].part.id == meant


@given(st.sampled_from(ENTRIES), st.data())
def test_a_long_term_with_two_letters_exchanged_is_found(entry: vocabulary.Part, data: st.DataObject) -> None:
    word = max(entry.term.split(), key=len)
    if len(word) < 6:
        return
    k = data.draw(st.integers(1, len(word) - 3))
    slipped = word[:k] + word[k + 1] + word[k] + word[k + 2 :]
    asked = entry.term.replace(word, slipped)
    assert entry.id in [f.part.id for f in vocabulary.search(asked, limit=None)]


def test_a_search_for_nonsense_finds_nothing() -> None:
    assert vocabulary.search("zzqx") == []
    assert vocabulary.suggest("zzqx") == []


def test_search_keeps_to_a_system_or_group() -> None:
    assert {f.part.group for f in vocabulary.search("", system="steering", limit=None)} == {"steering"}
    assert {f.part.system for f in vocabulary.search("", system="cooling", limit=None)} == {"cooling"}


def demo_ids() -> list[str]:
    found = []
    for file in files("longlens.demo").joinpath("data").iterdir():
        if file.name.endswith(".exchange.json"):
            body = json.loads(file.read_text(encoding="utf-8"))
            found += [p["id"] for p in body["points"] + body["circles"]]
    return found


def test_the_demos_marks_are_named_in_its_words() -> None:
    ids = demo_ids()
    assert len(ids) > 300
    assert [i for i in ids if str(vocabulary.parse(i)) != i] == []
    unknown = [i for i in ids if part_of(vocabulary.parse(i).part) is None]
    assert unknown == []


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("left.front.upper_wishbone.outer", ("left", "front", "upper_wishbone", "outer", "")),
        ("right.rear.rim_centre@hanging", ("right", "rear", "rim", "rim_centre", "hanging")),
        ("left.front_wing.flap_1.inner_trailing", ("left", "", "front_wing", "flap_1.inner_trailing", "")),
        ("left.front.tyre", ("left", "front", "tyre", "", "")),
        ("roll_hoop.top", ("", "", "roll_hoop", "top", "")),
        ("left.lamp.rear.corner_upper", ("left", "", "lamp", "rear.corner_upper", "")),
    ],
)
def test_names_are_taken_apart(name: str, parts: tuple[str, ...]) -> None:
    got = vocabulary.parse(name)
    assert (got.side, got.end, got.part, got.point, got.stance) == parts


@given(
    st.sampled_from(ENTRIES),
    st.sampled_from(["", "left", "right"]),
    st.sampled_from(["", "front", "rear"]),
    st.sampled_from(["", "bump"]),
    st.data(),
)
def test_names_compose_and_parse_back(
    entry: vocabulary.Part, side: str, end: str, stance: str, data: st.DataObject
) -> None:
    every = [n for names in entry.to_mark().values() for n in names]
    point = data.draw(st.sampled_from(every))
    name = vocabulary.compose(entry.id, point, side=side, end=end, stance=stance)
    got = vocabulary.parse(name)
    assert str(got) == name
    assert (got.part, got.side, got.end, got.stance) == (entry.id, side, end, stance)
    assert got.point == point
    twin = vocabulary.twin(name)
    assert (twin is None) == (not side)
    if twin:
        assert twin != name and vocabulary.twin(twin) == name


@given(st.from_regex(r"[a-z0-9_]{1,8}(\.[a-z0-9_]{1,8}){0,4}(@[a-z]{1,6})?", fullmatch=True))
def test_any_name_survives(name: str) -> None:
    assert str(vocabulary.parse(name)) == name


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("lf upper wishbone out", "left.front.upper_wishbone.outer"),
        ("upper wishbone outer front left", "left.front.upper_wishbone.outer"),
        ("front wing end plate rear upper", "front_wing.end_plate.rear_upper"),
        ("rr toe link inner", "right.rear.toe_link.inner"),
        ("l f rim", "left.front.rim"),
        ("front crash bolt 1", "crash_structure.bolt_1"),
    ],
)
def test_whole_names_are_offered_while_typing(typed: str, first: str) -> None:
    assert vocabulary.suggest(typed)[0].id == first


def test_all_corners_are_offered_when_none_is_said() -> None:
    offered = {o.id for o in vocabulary.suggest("hub nut")}
    assert {f"{s}.{e}.hub_nut" for s in ("left", "right") for e in ("front", "rear")} <= offered


def test_offers_keep_to_the_form_asked() -> None:
    assert {o.form for o in vocabulary.suggest("left front rim", forms=("rim",))} == {"rim"}


def test_what_a_name_tells() -> None:
    outer = vocabulary.known("left.front.upper_wishbone.outer@bump")
    assert (outer.system, outer.carried_by, outer.on) == ("suspension", "wheel", None)
    assert vocabulary.known("left.front.upper_wishbone.front_inner").carried_by == "body"
    assert vocabulary.known("left.front.rim").carried_by == "wheel"
    assert vocabulary.known("ground.tape_3").on == "ground"
    assert vocabulary.known("something_else.corner").system is None


def test_own_parts_are_kept_found_and_undone(tmp_path) -> None:
    with Dossier.create(tmp_path / "a.longlens", Vehicle(name="Fulmar E4")) as dossier:
        dossier.add(
            vocabulary.OwnPart(id="heat_shield", definition="Foil over the exhaust.", synonyms=["foil"], place="side"),
            label="part",
        )
        own = vocabulary.own_parts(dossier)
        assert vocabulary.search("foil", own=own)[0].part.id == "heat_shield"
        assert vocabulary.known("left.heat_shield.corner", own).part == "left heat shield"
        dossier.undo()
        assert vocabulary.own_parts(dossier) == []


@pytest.mark.parametrize(
    ("term", "definition", "why"),
    [
        ("", "a line", "needs a letter"),
        ("42", "a line", "needs a letter"),
        ("heat shield", "  ", "needs a line"),
        ("<script>alert(1)</script>", "a line", "cannot stand in a name"),
        ("../../etc", "a line", "cannot stand in a name"),
        ("x" * 61, "a line", "too many"),
        ("heat shield", "y" * 301, "too many"),
        ("heat\u202eshield", "a line", "not seen"),
        ("heat shield", "a\x00line", "not seen"),
        ("Anti-roll bar", "a line", "the vocabulary has it already"),
        ("sway bar", "a line", "also called"),
    ],
)
def test_a_part_that_cannot_be_is_refused(tmp_path, term: str, definition: str, why: str) -> None:
    with (
        Dossier.create(tmp_path / "f.longlens", Vehicle(name="Fulmar E4")) as dossier,
        pytest.raises(UnusableInput, match=why),
    ):
        vocabulary.new_own_part(dossier, term, definition)


def test_a_new_part_is_unlike_all_others(tmp_path) -> None:
    with Dossier.create(tmp_path / "f.longlens", Vehicle(name="Fulmar E4")) as dossier:
        one = vocabulary.new_own_part(
            dossier,
            " Hitzeschild  à gauche ",
            "Foil.",
            synonyms=["foil", "", "foil"],
            points=["Front corner"],
            system="cooling",
        )
        assert (one.id, one.synonyms, one.points, one.system) == (
            "hitzeschild_a_gauche",
            ["foil"],
            ["front_corner"],
            "cooling",
        )
        dossier.add(one)
        for term, also in (
            ("Hitzeschild a gauche", []),
            ("foil", []),
            ("other", ["Foil"]),
            ("other", ["wishbone", "sway bar"]),
        ):
            with pytest.raises(UnusableInput, match="has it already"):
                vocabulary.new_own_part(dossier, term, "Another.", synonyms=also)
        again = vocabulary.new_own_part(
            dossier, "hitzeschild a gauche", "Foil over it.", synonyms=["foil"], instead_of=one.id
        )
        assert again.definition == "Foil over it."


@given(st.text(max_size=80), st.text(max_size=320))
def test_whatever_is_typed_is_a_safe_name_or_refused(term: str, definition: str) -> None:
    class Empty(Reader):
        def raw(self, kind: str, id: str) -> None:
            return None

        def raw_all(self, kind: str) -> list[tuple[str, str]]:
            return []

    try:
        made = vocabulary.new_own_part(Empty(), term, definition)
    except UnusableInput:
        return
    assert re.fullmatch(r"[a-z0-9]+(_[a-z0-9]+)*", made.id) and len(made.definition) <= 300
    assert made.definition.isprintable()


def test_parts_of_a_stranger_that_do_not_fit_are_passed_over(tmp_path) -> None:
    bad = '{"id": "a", "definition": "x", "points": ["<img src=x>"]}'
    with Dossier.create(tmp_path / "f.longlens", Vehicle(name="Fulmar E4")) as dossier:
        dossier.add(vocabulary.new_own_part(dossier, "good", "Good."))
        dossier.add(vocabulary.new_own_part(dossier, "other", "Other."))
        dossier._db.execute("UPDATE record SET body = ? WHERE kind = 'part' AND id = 'good'", [bad])
        assert [p.id for p in vocabulary.own_parts(dossier)] == ["other"]
