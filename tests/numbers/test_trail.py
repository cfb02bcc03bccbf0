import pytest

from longlens.numbers import Normal, Origin, assumed, stated


def test_a_result_leads_back_to_facts_and_assumptions():
    mass = stated("mass", Normal(650, 10), "kg", source="press sheet", record="fact:mass")
    grip = assumed("grip", Normal(9, 1), "m/s2", reason="common practice, no source")
    force = mass * grip
    whole = force / mass
    assert whole.origin.records() == ["fact:mass"]
    assert {leaf.name for leaf in whole.origin.leaves()} == {"mass", "grip"}
    told = "\n".join(whole.origin.lines())
    assert "mass (stated: press sheet)" in told and "grip (assumed: common practice, no source)" in told
    assert whole.origin.as_json()["rests_on"] == [
        "mass (stated: press sheet)", "grip (assumed: common practice, no source)"
    ]  # fmt: skip


def test_shared_branches_are_walked_once():
    x = stated("x", Normal(1, 0.1), "1")
    for _ in range(60):  # a tree walked branch by branch would have 2⁶⁰ leaves
        x = x + x
    assert len(list(x.origin.walk())) == 61
    assert len(x.origin.leaves()) == 1


def test_an_assumption_needs_its_reason_and_a_kind_is_one_of_four():
    with pytest.raises(ValueError, match="reason"):
        Origin("x", "assumed")
    with pytest.raises(ValueError, match="kind"):
        Origin("x", "guessed")  # type: ignore[arg-type]
