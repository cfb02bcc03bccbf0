"""Equal lengths as observations: their derivatives, what they gain, and what is refused."""

from __future__ import annotations

import copy

import numpy as np
import pytest
from tools.studies.hardpoint_cars import car

from longlens.dossier.exchange import read_exchange, write_exchange
from longlens.errors import UnusableInput
from longlens.survey.adjust import move
from longlens.survey.answer import solve
from longlens.survey.network import blank_state, compile_network
from longlens.survey.rigid import equal_rows
from longlens.systems.suspension.stances import couple


@pytest.fixture(scope="module")
def case():
    return car(41, shots=3, bump=0.02, bump_shots=2, rims=False)


@pytest.fixture(scope="module")
def document(case):
    return couple(read_exchange(case.document)[0])


def test_the_names_of_points_tell_which_lengths_are_equal(document):
    told = {(e.one, e.other) for e in document.equal_lengths}
    leg = ("left.rear.lower_wishbone.front_inner", "left.rear.lower_wishbone.outer")
    assert any(set(one) == set(leg) and set(other) == {leg[0], leg[1] + "@bump"} for one, other in told)
    upright = {"left.front.wheel_centre", "left.front.track_rod.outer"}
    assert any(set(one) == upright and set(other) == {p + "@bump" for p in upright} for one, other in told)
    # a front rack may have been moved between the stances; what carries the pushrod is not told by a name
    assert not any("left.front.track_rod.inner" in (*e.one, *e.other) for e in document.equal_lengths)
    assert any("left.rear.track_rod.inner" in e.one for e in document.equal_lengths)
    assert not any("pushrod.outer" in " ".join(e.one) for e in document.equal_lengths)
    assert couple(document).equal_lengths == document.equal_lengths


def test_one_stance_is_left_alone():
    plain = read_exchange(car(3, shots=3).document)[0]
    assert couple(plain) is plain


def test_twins_and_repeats_count_once(document):
    net = compile_network(document)
    left = [e for e in document.equal_lengths if e.one[0].startswith("left.")]
    assert len(net.equal_sd) == len(left) == len(document.equal_lengths) / 2


def test_derivatives_are_those_of_the_residuals(case, document):
    net = compile_network(document)
    st = blank_state(net)
    for i, name in enumerate(net.points):
        if net.sign[i] > 0:
            st.X[net.body_of[i]] = case.xyz[name]
    r, J, columns = equal_rows(net, st)
    assert np.max(np.abs(r)) < 1e-6  # the true linkage
    rng = np.random.default_rng(0)
    d = rng.standard_normal(net.columns)
    h = 1e-6
    up, down = (equal_rows(net, move(net, st, s * h * d, {}))[0] for s in (1, -1))
    slope = np.einsum("nmk,nk->nm", J, d[columns])
    np.testing.assert_allclose(slope, (up - down) / (2 * h), rtol=1e-5, atol=1e-2)


def test_the_coupled_answer_holds_the_lengths_and_is_narrower(case, document):
    apart = solve(read_exchange(case.document)[0], draws=600)
    coupled = solve(document, draws=600)
    assert coupled.redundancy > apart.redundancy + 10

    def lengths(places, stance):
        a, b = places[f"left.rear.track_rod.outer{stance}"], places[f"left.rear.lower_wishbone.outer{stance}"]
        return np.linalg.norm(a - b, axis=-1)

    p, q = coupled.places(), apart.places()
    assert np.std(lengths(p, "") - lengths(p, "@bump")) < 1e-3 < np.std(lengths(q, "") - lengths(q, "@bump"))
    assert np.std(lengths(p, "@bump")) < 0.85 * np.std(lengths(q, "@bump"))
    true = np.linalg.norm(case.xyz["left.rear.track_rod.outer"] - case.xyz["left.rear.lower_wishbone.outer"])
    assert abs(lengths(p, "").mean() - true) < 4 * lengths(p, "").std()


def test_a_point_that_is_not_there_is_refused_with_its_place(document):
    raw = copy.deepcopy(write_exchange(document))
    raw["equal_lengths"][2]["other"][1] = "left.front.nothing"
    with pytest.raises(UnusableInput, match=r"equal_lengths\[2\].other\[1\]: no point has the id"):
        read_exchange(raw)
    raw["equal_lengths"][2]["other"] = ["ground0", "ground0"]
    with pytest.raises(UnusableInput, match="two different points"):
        read_exchange(raw)


def test_every_road_to_a_survey_couples_the_stances(case):
    from longlens.systems.surveying import solve as survey

    net = survey(read_exchange(case.document)[0], draws=50).net
    assert net.equal_on and len(net.equal_sd)


@pytest.mark.parametrize("seed", [301, 303])
def test_a_point_marked_once_is_placed_by_its_equal_lengths(seed):
    """One ray and the lengths known from the other stance: the wrong meeting of ray and length lies 0.1 to 0.3 m away."""
    made = car(seed, shots=4, bump=0.02, bump_shots=2, rims=False)
    name = "left.rear.track_rod.outer@bump"
    raw = copy.deepcopy(made.document)
    mine = [m for m in raw["marks"] if m.get("point", "").endswith(name.removeprefix("left"))]
    raw["marks"] = [m for m in raw["marks"] if m not in mine[1:]]
    plain = read_exchange(raw)[0]
    assert name not in solve(plain, draws=200).places()
    places = solve(couple(plain), draws=600).places()
    beside = "left.rear.lower_wishbone.rear_inner"
    reach = np.linalg.norm(places[name] - places[beside], axis=-1)
    true = np.linalg.norm(made.xyz[name] - made.xyz[beside])
    assert abs(reach.mean() - true) < 4 * reach.std() + 1e-3
    assert reach.std() < 0.01


def test_one_equal_length_alone_leaves_a_single_mark_open(case):
    from longlens.survey.determine import count_out

    name = "left.rear.track_rod.outer@bump"
    raw = copy.deepcopy(case.document)
    mine = [m for m in raw["marks"] if m.get("point", "").endswith(name.removeprefix("left"))]
    raw["marks"] = [m for m in raw["marks"] if m not in mine[1:]]
    whole = couple(read_exchange(raw)[0])
    assert name not in count_out(whole).points
    one = next(e for e in whole.equal_lengths if name in (*e.one, *e.other))
    assert name in count_out(whole.model_copy(update={"equal_lengths": [one]})).points
