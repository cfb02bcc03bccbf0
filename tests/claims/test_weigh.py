"""Questions weighed: calibration, double counting, lost marks, what would turn the answer."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from longlens.claims import bayes
from longlens.claims.calibration import calibration
from longlens.claims.density import density_at, expected_bits, log_likelihoods, tried
from longlens.claims.put import put
from longlens.claims.records import Evidence, Question
from longlens.claims.settle import candidates, list_for_photographer
from longlens.claims.sources import Sources
from longlens.claims.weigh import Weighed, weigh, weigh_in
from longlens.dossier.links import remove_whole
from longlens.dossier.records import Fact, Mark, Point, Shot, Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.numbers.number import Normal, Number, joint, stated
from longlens.numbers.trail import Origin


def question(priors: tuple[float, ...] = (0.5, 0.5), rest: bool = False, **more: Any) -> Question:
    names = "abcdefgh"[: len(priors)]
    alternatives = [
        {"id": n, "text": n, "prior": p, "why": "invented", "rest": rest and n == names[-1]}
        for n, p in zip(names, priors, strict=True)
    ]
    return Question.model_validate({"id": "q", "text": "Which?", "alternatives": alternatives, **more})


def judged(id: str, favours: str, ratio: float, low: float = 0, high: float = 0, on: str = "", **more: Any) -> Evidence:
    j = {"favours": [favours], "ratio": ratio, "low": low or ratio, "high": high or ratio}
    return Evidence.model_validate(
        {"id": id, "question": "q", "kind": "observation", "text": id, "on": [f"mark:{on or id}"], "judged": j, **more}
    )


def weighed(q: Question, items: list[Evidence], **how: Any) -> Weighed:
    return weigh(q, items, there={r for e in items for r in e.on}, **how)


def test_independent_items_multiply() -> None:
    found = weighed(question(), [judged("x", "a", 3), judged("y", "a", 5), judged("z", "b", 5)])
    assert found.belief["a"][0] == pytest.approx(3 / 4) and found.support[0] == pytest.approx(3)
    assert [g.contribution for g in found.groups] == pytest.approx([np.log10(3), np.log10(5), -np.log10(5)])
    assert found.path[-1] == pytest.approx([0.75, 0.25]) and len(found.path) == 4


@given(st.lists(st.tuples(st.sampled_from("abc"), st.floats(1, 1e6)), max_size=7))
def test_probabilities_add_up_and_order_does_not_matter(items: list[tuple[str, float]]) -> None:
    evidence = [judged(f"e{k}", a, r) for k, (a, r) in enumerate(items)]
    one, other = (weighed(question((0.2, 0.3, 0.5)), e) for e in (evidence, evidence[::-1]))
    assert sum(b[0] for b in one.belief.values()) == pytest.approx(1)
    for a, b in one.belief.items():
        assert b[0] == pytest.approx(other.belief[a][0], abs=1e-9)
        assert b[1] - 1e-9 <= b[0] <= b[2] + 1e-9


def test_posteriors_are_calibrated_over_2000_invented_questions() -> None:
    """Truth from the prior, evidence from the stated likelihoods: what is given so many per cent happens so often."""
    rng = np.random.default_rng(3)
    prior = np.array([0.5, 0.3, 0.2])
    given_, came = [], []
    for _ in range(2000):
        truth = int(rng.choice(3, p=prior))
        items = []
        for k in range(3):  # each seen with probability s under its own alternative, (1 - s)/2 under the others
            s = (0.6, 0.7, 0.5)[k]
            hit = int(rng.choice(3, p=[s if j == truth else (1 - s) / 2 for j in range(3)]))
            items.append(judged(f"e{k}", "abc"[hit], s / ((1 - s) / 2)))
        found = weighed(question((0.5, 0.3, 0.2)), items)
        given_ += [found.belief[a][0] for a in "abc"]
        came += [truth == j for j in range(3)]
    for b in calibration(given_, came, np.linspace(0, 1, 11)):
        sd = np.sqrt(b.given * (1 - b.given) / b.count)
        assert abs(b.happened.value - b.given) < 3.3 * sd + 1e-9, b


def test_numbers_from_draws_are_calibrated() -> None:
    """The same with a measured number: predictions 1 and 2 with their scatter, measured with an error, surprises as stated."""
    rng = np.random.default_rng(4)
    draws = {"a": rng.normal(1.0, 0.4, 1000), "b": rng.normal(2.0, 0.6, 1000)}
    given_, came = [], []
    for _ in range(2000):
        truth = rng.random() < 0.5
        value = rng.normal(1.0, 0.4) if truth else rng.normal(2.0, 0.6)
        measured = value + rng.normal(0, 0.3)
        logs = log_likelihoods(draws, measured + 0.3 * rng.standard_normal(1000))
        given_.append(float(bayes.posterior([0.5, 0.5], [logs["a"][0], logs["b"][0]])[0]))
        came.append(truth)
    for b in calibration(given_, came, np.linspace(0, 1, 6)):
        sd = np.sqrt(max(b.given * (1 - b.given), 0.01) / b.count)
        assert abs(b.happened.value - b.given) < 3.3 * sd + 0.02, b  # 2 % of surprises that did not come


def test_density_of_draws_against_the_normal() -> None:
    x = np.random.default_rng(1).normal(0, 2, 20000)
    assert density_at(x, 1.0) == pytest.approx(np.exp(-0.125) / (2 * np.sqrt(2 * np.pi)), rel=0.05)
    assert density_at(np.array([np.nan])) == 0 and density_at(np.full(5, 3.0), 3.0) == np.inf


def test_no_single_number_settles_a_question() -> None:
    far = {"a": np.random.default_rng(0).normal(0, 1, 2000), "b": np.random.default_rng(1).normal(500, 1, 2000)}
    logs = log_likelihoods(far, np.random.default_rng(2).normal(0, 1, 2000))
    assert 10 < np.exp(logs["a"][0] - logs["b"][0]) < 1e200
    same = log_likelihoods({"a": far["a"], "rest": np.array([])}, np.random.default_rng(2).normal(0, 1, 2000))
    assert same["a"][0] > same["rest"][0], "something else predicts nothing and gains nothing by that"


def test_the_range_of_a_computed_ratio_holds_doubt_about_the_spread() -> None:
    """Against the normal density in closed form: predicted 0 and 3, both with sd 1; exactly 0 seen; doubts drawn as stated."""
    rng = np.random.default_rng(5)
    draws = {n: m + rng.normal(0, 1, 4000) for n, m in (("a", 0.0), ("b", 3.0))}
    got = tried(draws, np.zeros(4000), tries=400)
    low, likely, high = np.quantile(got[:, 0] - got[:, 1], (0.025, 0.5, 0.975))
    f = 2 ** (rng.standard_normal((2, 100_000)) / 1.96)
    z = rng.standard_normal(100_000) / 1.96
    s = np.exp(np.log(0.02) + np.where(z > 0, z * np.log(5), z * np.log(4)))
    wide = np.exp(-0.5 * (1.5 / 10) ** 2) / 10
    a, b = (np.exp(-0.5 * (m / f[k]) ** 2) / f[k] for k, m in enumerate((0.0, 3.0)))
    want = np.log((1 - s) * a + s * wide) - np.log((1 - s) * b + s * wide)
    for x, q in ((low, 0.025), (likely, 0.5), (high, 0.975)):
        assert x == pytest.approx(np.quantile(want, q), abs=0.35)
    assert (
        high - low > 2
    )  # a factor of more than seven between the ends, where the spreads as given would leave one of two


def test_a_computed_ratio_is_never_sharper_than_its_doubts(dossier: Dossier) -> None:
    found = weigh_in(dossier, put(dossier, data()))
    (mass,) = (g for g in found.groups if g.speaks == "its mass")
    assert mass.low < mass.contribution < mass.high and mass.high - mass.low > 0.2
    item = next(i for i in found.items if i.evidence.id == "its mass")
    assert "1/2 to 2 times what was given (assumed)" in item.how
    for now, low, high in found.belief.values():
        assert low <= now <= high


# Double counting -----------------------------------------------------------------------------------------------


def test_the_same_mark_through_two_numbers_counts_once() -> None:
    mark = Origin("mark on s1", "measured", record="mark:m1")
    rng = np.random.default_rng(0)
    base = rng.normal(0.3, 0.002, 2000)
    known = {}
    for name, factor in (("length", 1.0), ("ratio", 2.0)):
        known |= {f"measure:{name}": joint({name: base * factor}, "m", rests_on=[mark])[name]}
    items = [
        Evidence.model_validate(
            {"id": name, "question": "q", "kind": "measure", "text": name, "of": f"measure:{name}", "on": [f"measure:{name}"],
             "predicted": {n: {"value": v * f, "sd": 0.01 * f, "unit": "m"} for n, v in (("a", 0.3), ("b", 0.33))}}
        )
        for name, f in (("length", 1.0), ("ratio", 2.0))
    ]  # fmt: skip
    there = {"measure:length", "measure:ratio"}
    sources = Sources(_Empty(), known=known)
    alone = weigh(question(), items[:1], sources, there)
    both = weigh(question(), items, sources, there)
    assert both.belief["a"][0] == pytest.approx(alone.belief["a"][0], rel=0.02) and len(both.groups) == 1
    assert both.shared[0].once and both.shared[0].on == ("mark:m1",)
    assert "count once" in " ".join(both.remarks)
    apart = [items[0], items[1].model_copy(update={"apart": "the mark is only the scale of both"})]
    twice = weigh(question(), apart, sources, there)
    assert len(twice.groups) == 2 and twice.belief["a"][0] > both.belief["a"][0]


class _Empty:
    def all(self, model: Any) -> list[Any]:
        return []

    def raw(self, kind: str, id: str) -> None:
        return None


def test_a_group_named_by_the_user_counts_once() -> None:
    items = [judged("x", "a", 10, group="pump"), judged("y", "a", 8, group="pump")]
    found = weighed(question(), items)
    assert found.support[0] == pytest.approx(10) and found.groups[0].items == ("x", "y")


def test_members_that_contradict_each_other_weaken_the_group() -> None:
    found = weighed(question(), [judged("x", "a", 10, group="g"), judged("y", "b", 8, group="g")])
    assert found.belief["a"][1] < 0.75 < found.belief["a"][0]


def test_an_assumption_in_common_is_flagged_and_counts_twice() -> None:
    air = Origin("air density", "assumed", reason="a usual day")
    known = {
        f"measure:{n}": Number(np.random.default_rng(k).normal(1, 0.1, 2000), "m", Origin(n, "computed", inputs=(air,)))
        for k, n in enumerate("xy")
    }
    items = [
        Evidence.model_validate(
            {"id": n, "question": "q", "kind": "measure", "text": n, "of": f"measure:{n}",
             "predicted": {"a": {"value": 1, "sd": 0.1, "unit": "m"}, "b": {"value": 1.5, "sd": 0.1, "unit": "m"}}}
        ) for n in "xy"
    ]  # fmt: skip
    found = weigh(question((0.2, 0.8)), items, Sources(_Empty(), known=known), {"measure:x", "measure:y"})
    assert len(found.groups) == 2 and not found.shared[0].once
    assert found.lead.id == "a" and ("air density (assumed: a usual day)", "b") in found.assumptions


# What turns it -------------------------------------------------------------------------------------------------


def test_drop_one_and_the_fewest_that_turn_it() -> None:
    found = weighed(question(), [judged("x", "a", 30), judged("y", "a", 2), judged("z", "b", 10)])
    turns = {g.speaks: g.turns for g in found.groups}
    assert turns == {"x": True, "y": False, "z": False} and found.turn == ["x"]
    assert bayes.fewest_to_turn([0.5, 0.5], np.log([[4.0, 1.0], [4.0, 1.0], [1.0, 3.0]])) == [0, 1]
    assert bayes.fewest_to_turn([0.9, 0.1], np.log([[4.0, 1.0]])) is None


def test_ranges_of_judgements_become_a_range_of_belief() -> None:
    found = weighed(question(), [judged("x", "a", 9, 3, 27)])
    p, low, high = found.belief["a"]
    assert p == pytest.approx(0.9) and (low, high) == pytest.approx((0.75, 27 / 28), abs=0.01)
    words = Evidence.model_validate(
        {
            **judged("x", "a", 9).model_dump(exclude={"judged"}),
            "judged": {"favours": ["a"], "words": "moderate support"},
        }
    )
    assert weighed(question(), [words]).support == pytest.approx((31.6, 10, 100), rel=0.05)


def test_words_are_careful() -> None:
    strong = weighed(question(), [judged("x", "a", 5000)])
    assert (
        "strong support" in strong.sentence()
        and "proved" not in strong.sentence()
        and "probability" in strong.sentence()
    )
    assert "hardly tells" in weighed(question(), [judged("x", "a", 1.4)]).sentence()
    against = weighed(question((0.9, 0.1)), [judged("x", "b", 4)])
    assert against.lead.id == "a" and "prior" in against.sentence()
    assert "prior alone" in weighed(question((0.6, 0.4)), []).sentence()
    assert "something else" in " ".join(weighed(question(), []).remarks)


# Bad input -----------------------------------------------------------------------------------------------------


def test_priors_that_do_not_add_up() -> None:
    with pytest.raises(ValidationError, match=r"add up to 0\.8"):
        question((0.5, 0.3))
    with pytest.raises(ValidationError, match="why"):
        Question.model_validate(
            {"id": "q", "text": "?", "alternatives": [{"id": "a", "text": "a", "prior": 0.5, "why": " "}] * 2}
        )
    with pytest.raises(ValidationError, match="same id"):
        Question.model_validate(
            {"id": "q", "text": "?", "alternatives": [{"id": "a", "text": "a", "prior": 0.5, "why": "x"}] * 2}
        )


def test_a_zero_prior_against_the_evidence_is_told() -> None:
    found = weighed(question((1.0, 0.0)), [judged("x", "b", 1000)])
    assert found.belief["b"][0] == 0 and any("no evidence can raise" in r for r in found.remarks)


def test_everything_excluded_is_told() -> None:
    assert np.all(np.isnan(bayes.posterior([1.0, 0.0], [-np.inf, 0.0])))


def test_chances_of_a_look_must_add_up() -> None:
    look = {"id": "l", "text": "look", "sights": [{"text": "yes", "chances": {"a": 0.9, "b": 0.2}}]}
    with pytest.raises(ValidationError, match="adds up"):
        question(looks=[look])


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        ({"judged": None}, "either judged"),
        ({"on": []}, "needs the marks"),
        ({"judged": {"favours": ["a"], "words": "proved"}}, "verbal scale"),
        ({"judged": {"favours": ["a"], "ratio": 5, "low": 6, "high": 7}}, "between low and high"),
    ],
)
def test_evidence_that_does_not_fit(bad: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        Evidence.model_validate({**judged("x", "a", 2).model_dump(), **bad})


def test_a_prediction_in_another_unit_is_refused() -> None:
    e = Evidence.model_validate({"id": "e", "question": "q", "kind": "fact", "text": "t", "of": "fact:m",
                                 "predicted": {"a": {"value": 1, "sd": 1, "unit": "kg"}}})  # fmt: skip
    known = {"fact:m": stated("m", Normal(1.0, 0.1), "m")}
    with pytest.raises(UnusableInput, match="a predicts kg"):
        weigh(question(), [e], Sources(_Empty(), known=known), {"fact:m"})


# In a dossier --------------------------------------------------------------------------------------------------


@pytest.fixture
def dossier(tmp_path: Path) -> Any:
    with Dossier.create(tmp_path / "f.longlens", Vehicle(name="Fulmar E4")) as one:
        one.put(Shot(id="s1", width=600, height=400))
        one.put(Point(id="pump"))
        one.put(Mark(id="m1", shot="s1", form="point", point="pump", x=1, y=2))
        one.put(Fact(id="mass", of="mass", value=620, sd=5, unit="kg", source="press sheet"))
        yield one


def data() -> dict[str, Any]:
    return {
        "question": question((0.4, 0.4, 0.2), rest=True).model_dump(exclude_none=True),
        "evidence": [
            {"id": "one pump", "kind": "observation", "text": "one pump", "on": ["mark:m1"],
             "judged": {"favours": ["a"], "words": "weak support"}},
            {"id": "its mass", "kind": "fact", "text": "mass", "of": "fact:mass",
             "predicted": {"a": {"value": 600, "sd": 20, "unit": "kg"}, "b": {"value": 700, "sd": 20, "unit": "kg"}}},
        ],
    }  # fmt: skip


def test_a_removed_mark_loses_nothing_and_is_told(dossier: Dossier) -> None:
    q = put(dossier, data())
    before = weigh_in(dossier, q)
    assert before.lead.id == "a" and len(before.groups) == 2
    remove_whole(dossier, Mark, "m1")
    after = weigh_in(dossier, q)
    assert len(after.items) == 2 and len(after.groups) == 1 and after.items[0].lost == ("mark:m1",)
    assert any("mark:m1, which is no longer there" in r for r in after.remarks)
    dossier.undo()
    assert weigh_in(dossier, q).belief == before.belief


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d["evidence"][0].update(on=["mark:zz"]), "no mark 'zz'"),
        (lambda d: d["evidence"][0]["judged"].update(favours=["z"]), "no alternative 'z'"),
        (lambda d: d["question"]["alternatives"][0].update(prior=0.9), "add up to"),
        (lambda d: d.update(more=1), "not known"),
        (lambda d: d.update(question=None), "no question"),
        (lambda d: d.update(evidence="x"), "a list"),
        (lambda d: d["evidence"].append(3), "evidence 3"),
    ],
)
def test_what_does_not_fit_is_refused_whole(dossier: Dossier, change: Any, words: str) -> None:
    bad = data()
    change(bad)
    before = dossier.revision
    with pytest.raises(UnusableInput, match=words):
        put(dossier, bad, "q.json")
    assert dossier.revision == before


# What would settle it ------------------------------------------------------------------------------------------


def test_the_most_telling_look_comes_first() -> None:
    def look(id: str, yes: float, no: float) -> dict[str, Any]:
        return {"id": id, "text": id, "at": ["left.pump"], "sights": [
            {"text": "yes", "chances": {"a": yes, "b": no}}, {"text": "no", "chances": {"a": 1 - yes, "b": 1 - no}}]}  # fmt: skip

    found = weighed(question(looks=[look("dull", 0.5, 0.5), look("sharp", 0.95, 0.05)]), [])
    got = candidates(found, lambda points: [f"from the left, to see {points[0]}"])
    assert [c.look for c in got] == ["sharp", "dull"] and got[1].bits == pytest.approx(0, abs=1e-12)
    assert got[0].bits == pytest.approx(1 - bayes.entropy([0.95, 0.05]), abs=1e-9)
    assert sum(p for _, p, _ in got[0].then) == pytest.approx(1)
    text = list_for_photographer(found, got)
    assert "1. sharp" in text and "Stand: from the left" in text and "left pump" in text


@given(st.lists(st.floats(0.01, 1), min_size=2, max_size=4), st.integers(2, 4), st.integers(0, 10**6))
def test_information_is_never_negative_nor_more_than_is_open(belief: list[float], n: int, seed: int) -> None:
    b = np.array(belief) / np.sum(belief)
    chances = np.random.default_rng(seed).dirichlet(np.ones(n), len(b)).T
    assert -1e-12 <= bayes.expected_information(b, chances) <= bayes.entropy(b) + 1e-9
    assert 0 <= bayes.chance_of_turning(b, chances) <= 1


def test_a_measurement_that_would_tell_is_worth_a_bit() -> None:
    rng = np.random.default_rng(0)
    apart = [rng.normal(0, 1, 2000), rng.normal(20, 1, 2000)]
    assert expected_bits([0.5, 0.5], apart, 0.5) == pytest.approx(1, abs=0.02)
    assert expected_bits([0.5, 0.5], [apart[0], rng.normal(0, 1, 2000)], 0.5) < 0.03
