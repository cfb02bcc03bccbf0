"""A solution as bytes is the same solution: bit for bit where it is used, and nothing else than a solution is read."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from longlens.dossier.exchange import ExchangeDocument, read_exchange
from longlens.survey.answer import Solution, solve
from longlens.survey.draws import Draws
from longlens.survey.live import Live
from longlens.survey.packed import Unpackable, pack, unpack
from longlens.survey.planner import plan
from tests.survey.cars import small


def document(**how: object) -> ExchangeDocument:
    return read_exchange(small(1, shots=4, **how).document)[0]


def exchanged_facts() -> ExchangeDocument:
    """Two facts of one length that contradict each other: a solution with a rival."""
    doc = small(3, shots=3).document
    first = next(f for f in doc["facts"] if "distance" in f)
    doc["facts"] = [first, {**first, "id": "other", "value": 1.03 * first["value"]}]
    return read_exchange(doc)[0]


@pytest.fixture(scope="module", params=["plain", "one shot", "rival"])
def solution(request: pytest.FixtureRequest) -> Solution:
    if request.param == "plain":
        return solve(document(), draws=400)
    if request.param == "one shot":
        return solve(read_exchange(small(5, shots=1, pairs=14).document)[0], draws=400)
    found = solve(exchanged_facts(), draws=400)
    assert found.rivals and found.drawn.method == "rivals"
    return found


def test_the_answer_and_every_draw_come_back_bit_for_bit(solution: Solution) -> None:
    data = pack(solution)
    back = unpack(data, solution.net.document)
    assert json.dumps(back.answer()) == json.dumps(solution.answer())
    assert list(back.values) == list(solution.values)
    for m in solution.values:
        assert back.draws(m).tobytes() == solution.draws(m).tobytes()
    for p, places in solution.places().items():
        assert back.places()[p].tobytes() == places.tobytes()
    assert pack(back) == data
    assert back.screened.fit is back.fit  # what was one thing is one thing again


def test_what_is_worked_out_from_it_is_the_same(solution: Solution) -> None:
    back = unpack(pack(solution), solution.net.document)
    first = next(iter(solution.values))
    assert repr(plan(back, first)) == repr(plan(solution, first))
    doc = solution.net.document
    i = next(i for i, m in enumerate(doc.marks) if m.point is not None)
    marks = [*doc.marks]
    marks[i] = marks[i].model_copy(update={"x": marks[i].x + 0.2})
    changed = doc.model_copy(update={"marks": marks})
    here, there = Live(solution).update(changed), Live(back).update(changed)
    assert here.why == there.why and here.moved == there.moved
    if here.solution is not None and there.solution is not None:
        assert pack(here.solution) == pack(there.solution)


@given(
    a=st.sampled_from([np.float64, np.float32, np.int64, np.bool_, np.uint8]).flatmap(
        lambda kind: arrays(kind, array_shapes(min_dims=0, max_dims=4, min_side=0, max_side=4))
    ),
    turn=st.randoms(use_true_random=False),
)
@settings(max_examples=60, deadline=None)
def test_arrays_keep_their_bytes_and_lie_as_they_lay(a: np.ndarray, turn) -> None:
    axes = list(range(a.ndim))
    turn.shuffle(axes)
    a = a.transpose(axes)
    (back, again), end = unpack(pack([(a, a), 1.5]), None)
    assert back is again and end == 1.5
    assert back.dtype == a.dtype and back.shape == a.shape and back.tobytes() == a.tobytes()
    if a.size and min(a.shape, default=2) > 1:
        assert back.strides == a.strides
    assert back.flags.writeable


def test_not_a_number_and_infinity_come_back() -> None:
    back = unpack(pack({"a": float("inf"), 3: np.array([np.nan, -0.0]), (1, "b"): np.float64(2.5)}), None)
    assert back["a"] == np.inf and np.isnan(back[3][0]) and np.signbit(back[3][1])
    assert type(back[(1, "b")]) is np.float64


@pytest.mark.parametrize("thing", [object(), Path("x"), np.array([object()]), b"bytes", lambda: 0, np.array(["text"])])
def test_what_is_no_part_of_a_solution_is_not_packed(thing: object) -> None:
    with pytest.raises(Unpackable):
        pack([thing])


def head(tree: object, arrays: object = ()) -> bytes:
    text = json.dumps({"tree": tree, "arrays": arrays}).encode()
    return len(text).to_bytes(8, "big") + text + bytes(64)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff" * 40,
        bytes(8),
        head(["made", "os.system", []]),
        head(["made", "answer.solve", []]),
        head(["made", "answer.np", []]),
        head(["made", "..answer.Solution", []]),
        head(["made", "packed.Unpackable", []]),
        head(["what", 1]),
        head(["again", 7]),
        head(["array", 0], [["|O", [1], [0], 0]]),
        head(["array", 0], [["<f8", [1000], [0], 0]]),
        head(["array", 0], [["<f8", [-1], [0], 0]]),
        head(["array", 0], [["<f8", [2], [0], -8]]),
        head(["array", 0], [["<f8", [2, 2], [0, 0], 0]]),
        head(["array", 0], [["<f8", [2**40, 2**40], [0, 1], 0]]),
    ],
)
def test_other_bytes_are_refused(data: bytes) -> None:
    with pytest.raises(Unpackable):
        unpack(data, None)


@given(at=st.integers(0, 3000), to=st.integers(0, 255))
@settings(max_examples=150, deadline=None)
def test_a_changed_byte_never_does_more_than_change_a_value(at: int, to: int) -> None:
    data = bytearray(pack(Draws(None, "gaussian", 1.0)) + bytes(8))  # type: ignore[arg-type]
    data[at % len(data)] = to
    with contextlib.suppress(Unpackable):
        unpack(bytes(data), None)
