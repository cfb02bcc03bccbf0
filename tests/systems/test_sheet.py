"""The one pattern of every system, on a small invented sheet: a braked mass and how far it goes."""

import contextlib
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.errors import NotSolvable, UnusableInput
from longlens.numbers import Normal, Triangular, Uniform, joint, stated
from longlens.systems import registry
from longlens.systems.cache import Cache
from longlens.systems.compare import compare, compare_all
from longlens.systems.given import Given, Reading
from longlens.systems.run import outside, run, run_all
from longlens.systems.sheet import (
    Axis,
    Choice,
    Finding,
    Input,
    Output,
    Refusal,
    Sheet,
    Step,
    Structure,
    Validity,
    scatter,
)

MASS = {"value": 650, "sd": 10, "unit": "kg", "source": "press sheet"}
SPEED = {"value": 100, "sd": 1, "unit": "km/h"}


STOPPING = ("distance", "share", "left")


class Counted:
    """A step's function that counts its calls."""

    def __init__(self, function):
        self.function, self.calls = function, 0

    def __call__(self, g):
        self.calls += 1
        return self.function(g)


def energy(g):
    return {"energy": g["mass"] * g["speed"] ** 2 / 2}


def distance(g):
    grip = {"slick": 1.5, "road": 1.0}[g["tyre"]] * g["grip"] * g["grip_error"]
    at = np.linspace(0.2, 1.0, 5)
    return {
        "distance": g["speed"] ** 2 / (2 * 9.81 * grip),
        "share": at,
        "left": g["energy"][:, None] * (1 - at),
    }


def length(g):
    return {"total": sum(g["line"])}


def read_line(raw, reading: Reading):
    if not isinstance(raw, list) or not raw:
        raise reading.wrong("", "must be a list of lengths", "[{…}, …]")
    return [reading.number(x, f"part {i}", "m", shown="mm", plausible=(1e-3, 10)) for i, x in enumerate(raw)]


def sheet(energy=energy, distance=distance, length=length, **more):
    return Sheet(
        area="running",
        title="Stopping",
        inputs=(
            Input("mass", "kg", "all-up mass", plausible=(100, 3000)),
            Input("speed", "m/s", "speed", shown="km/h", plausible=(1, 120)),
            Input("grip", "1", "grip", assumption=Triangular(0.8, 1.0, 1.2), reason="common practice, no source"),
            scatter("grip_error", "error of the grip model", 0.1, "common practice, no source"),
            Choice("tyre", "kind of tyre", {"slick": "no tread", "road": "with tread"}, "road", "most cars"),
            Structure("line", "lengths of a line", read_line),
        ),
        axes=(Axis("share", "1", "share of the way"),),
        outputs=(
            Output("energy", "J", "energy to be taken up", "m v²/2", "any text"),
            Output("distance", "m", "stopping distance", "v²/2µg", "any text", shown="m"),
            Output("left", "J", "energy left over the way", "linear", "any text", along=("share",)),
            Output("total", "m", "length of the line", "sum", "none"),
        ),
        steps=(
            Step("energy", energy, ("mass", "speed"), ("energy",)),
            Step(
                "distance", distance, ("energy", "speed", "grip", "grip_error", "tyre"), ("distance", "share", "left")
            ),
            Step("length", length, ("line",), ("total",)),
        ),
        **more,
    )


def go(inputs, cache=None, declared=None, variant="", **more):
    return run(declared or sheet(), Given(inputs, **more), variant, cache=cache)


BOTH = {"mass": MASS, "speed": SPEED}


def test_outputs_are_numbers_with_interval_kind_and_trail():
    out = go(BOTH)
    e = out.number("energy")
    assert e.value == pytest.approx(650 * (100 / 3.6) ** 2 / 2, rel=2e-3)
    assert e.kind == "computed" and e.origin.model == "m v²/2"
    assert e.origin.records() == ["given:mass", "given:speed"]
    assert {x.name for x in out.number("distance").origin.leaves()} == {
        "mass", "speed", "grip", "grip_error", "tyre road"
    }  # fmt: skip
    # first order: 2 × 1 % of speed, 1.5 % of mass
    assert e.sd / e.value == pytest.approx(np.hypot(0.02, 10 / 650), rel=0.06)


def test_curves_have_their_axis():
    out = go(BOTH)
    assert out.axes["share"] == pytest.approx([0.2, 0.4, 0.6, 0.8, 1.0])
    assert out.number("left").shape == (5,)
    assert np.all(out.number("left").draws[:, -1] == 0)
    assert out.drivers("left", at=0)[0].name == "speed"


def test_what_is_not_known_refuses_only_what_hangs_on_it():
    out = go({"speed": SPEED})
    assert set(out.refused) == {"energy", "distance", "left", "total"}
    assert "mass (kg): all-up mass" in out.refused["distance"].needs
    out = go({"speed": SPEED, "mass": MASS})
    assert set(out.refused) == {"total"}
    with pytest.raises(NotSolvable) as e:
        out.number("total")
    assert e.value.needs == ["line: lengths of a line"]


def test_a_step_can_refuse_with_its_reason():
    def never(g):
        raise NotSolvable("the line is bent", needs=["a straight line"])

    out = go(BOTH | {"line": [{"value": 3, "unit": "mm"}]}, declared=sheet(length=never))
    assert out.refused["total"] == Refusal("the line is bent", ("a straight line",))
    out = go(
        BOTH | {"line": [{"value": 3, "unit": "mm"}]}, declared=sheet(length=lambda g: {"total": Refusal("no", ())})
    )
    assert out.refused["total"].why == "no"


def test_an_output_without_any_value_is_refused_and_some_lost_draws_are_told():
    out = go(BOTH, declared=sheet(energy=lambda g: {"energy": np.full(2000, np.inf)}))
    assert "no draw has a value" in out.refused["energy"].why
    out = go(BOTH, declared=sheet(energy=lambda g: {"energy": np.where(g["mass"] > 640, g["mass"], np.nan)}))
    assert any("energy has no value in" in f.text for f in out.findings)


def test_assumptions_are_used_and_marked():
    out = go(BOTH)
    grip = out.inputs["grip"]
    assert grip.kind == "assumed" and "common practice" in grip.origin.reason
    given = go(BOTH | {"grip": {"value": 1.0, "sd": 0.001}})
    assert given.inputs["grip"].kind == "stated"
    assert given.number("distance").sd < out.number("distance").sd


def test_every_correlation_brings_its_scatter():
    out = go(BOTH | {"grip": {"value": 1.0}, "speed": {"value": 100, "unit": "km/h"}})
    assert out.number("distance").sd / out.number("distance").value == pytest.approx(np.log(1.1) / 1.96, rel=0.05)
    assert out.drivers("distance")[0].name == "grip_error"


# Caching ------------------------------------------------------------------------------------------


def test_only_what_hangs_on_a_changed_input_is_computed_again():
    cache = Cache()
    e, d, n = Counted(energy), Counted(distance), Counted(length)
    declared = sheet(e, d, n)
    inputs = BOTH | {"line": [{"value": 3, "sd": 1, "unit": "mm"}]}
    go(inputs, cache, declared)
    assert (e.calls, d.calls, n.calls) == (1, 1, 1)
    go(inputs, cache, declared)
    assert (e.calls, d.calls, n.calls) == (1, 1, 1)
    go(inputs | {"line": [{"value": 4, "sd": 1, "unit": "mm"}]}, cache, declared)
    assert (e.calls, d.calls, n.calls) == (1, 1, 2)
    go(inputs | {"tyre": "slick"}, cache, declared)
    assert (e.calls, d.calls, n.calls) == (1, 2, 2)
    go(inputs | {"mass": MASS | {"value": 651}}, cache, declared)
    assert (e.calls, d.calls, n.calls) == (2, 3, 2)


def test_a_change_without_effect_stops_where_it_has_none():
    cache = Cache()
    d = Counted(distance)
    declared = sheet(energy=lambda g: {"energy": np.ones(2000)}, distance=d)
    go(BOTH, cache, declared)
    go(BOTH | {"mass": MASS | {"value": 700}}, cache, declared)
    assert d.calls == 1


def test_a_source_that_changed_recomputes_nothing_but_shows_in_the_trail():
    cache = Cache()
    e = Counted(energy)
    go(BOTH, cache, sheet(e))
    out = go(BOTH | {"mass": MASS | {"source": "a better sheet"}}, cache, sheet(e))
    assert e.calls == 1
    assert any("a better sheet" in leaf.line() for leaf in out.number("energy").origin.leaves())


def test_cached_and_computed_are_the_same():
    cache = Cache()
    a, b, c = go(BOTH, cache), go(BOTH, cache), go(BOTH, None)
    for name in a.numbers:
        assert np.array_equal(a.number(name).draws, b.number(name).draws)
        assert np.array_equal(a.number(name).draws, c.number(name).draws)


def test_the_cache_drops_the_least_used_and_stays_within_its_size():
    cache = Cache(max_bytes=3 * 8000)
    for i in range(5):
        cache.put(str(i), {"x": np.zeros(1000)})
    assert cache.get("0") is None and cache.get("4") is not None
    cache.put("large", {"x": np.zeros(10_000)})
    assert cache.get("large") is None


# Variants -----------------------------------------------------------------------------------------


def test_variants_override_and_share_their_draws():
    given = Given(BOTH, {"slicks": {"tyre": "slick"}, "light": {"mass": MASS | {"value": 600}}})
    runs = run_all(sheet(), given, cache=None)
    assert list(runs) == ["", "slicks", "light"]
    c = compare(runs[""], runs["slicks"], "distance")
    ratio = runs["slicks"].number("distance") / runs[""].number("distance")
    assert ratio.sd == pytest.approx(0, abs=1e-12)  # the same car on other tyres: nothing but the factor differs
    assert ratio.value == pytest.approx(1 / 1.5)
    assert c.greater.value == 0 and c.greater.high < 0.003
    assert "slicks is the smaller" in c.sentence()
    assert {x.output for x in compare_all(runs)} == {"energy", "distance"}


def test_an_unknown_variant_is_told_with_those_there_are():
    with pytest.raises(UnusableInput, match="slicks"):
        go(BOTH, variant="rain", variants={"slicks": {"tyre": "slick"}})


# Findings -----------------------------------------------------------------------------------------


def test_findings_are_computed_and_refused_ones_skipped():
    def say(out):
        yield Finding("note", f"it stops in {out.number('distance')}", ("distance",))

    def say_total(out):
        yield Finding("note", f"the line is {out.number('total')}")

    out = go(BOTH, declared=sheet(findings=(say, say_total)))
    told = [f.text for f in out.findings]
    assert told[-1].startswith("it stops in 39") and told[-1].endswith(" m")


def test_leaving_the_limits_of_validity_is_a_finding():
    limit = Validity("speed", None, 27.0, "the grip model holds up to 97 km/h")
    out = go(BOTH, declared=sheet(validity=(limit,)))
    assert [f.text[:20] for f in out.findings if f.severity == "limit"] == ["the grip model holds"]
    out = go(BOTH | {"speed": SPEED | {"value": 60}}, declared=sheet(validity=(limit,)))
    assert not [f for f in out.findings if f.severity == "limit"]


def test_a_figure_without_spread_is_named():
    out = go({"mass": {"value": 650, "unit": "kg"}, "speed": SPEED})
    assert any("taken as exact" in f.text and "mass" in f.text for f in out.findings)


def test_share_outside():
    x = stated("x", Uniform(0, 1), "1")
    assert outside(x, 0.1, 0.8) == pytest.approx(0.3, abs=0.001)
    assert outside(x, None, None) == 0


# Reading ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("raw", "centre", "sd"),
    [
        ({"value": 650, "unit": "kg"}, 650, 0),
        ({"value": 650, "relative_sd": 0.02, "unit": "kg"}, 650, 13),
        ({"low": 600, "high": 700, "unit": "kg"}, 650, 100 / np.sqrt(12)),
        ({"value": 650, "low": 600, "high": 700, "unit": "kg"}, 650, 100 / np.sqrt(24)),
        ({"low": 600, "high": 700, "shape": "normal", "unit": "kg"}, 650, 100 / 3.92),
        ({"value": 0.65, "sd": 0.01, "unit": "t"}, 650, 10),
        ({"value": 650, "sd": 10, "unit": "kg", "shape": "lognormal"}, 650, 10),
        ({"value": 650, "sd": 10, "low": 600, "high": 700, "unit": "kg", "shape": "truncated normal"}, 650, 10),
        ({"value": 1433, "sd": 22, "unit": "lb"}, 650, 10),
    ],
)
def test_figures(raw, centre, sd):
    x = go({"mass": raw}).inputs["mass"]
    assert x.value == pytest.approx(centre, rel=2e-4)
    assert x.sd == pytest.approx(sd, rel=0.02, abs=1e-9)


BAD = [
    ({"mas": MASS}, "did you mean mass"),
    ({"mass": 650}, "has no unit"),
    ({"mass": "heavy"}, "is no figure"),
    ({"mass": True}, "is no figure"),
    ({"mass": {"value": 650, "unit": "mm"}}, "no unit for it"),
    ({"mass": {"value": 650, "unit": "wheel"}}, "is no unit"),
    ({"mass": {"value": 650, "unit": 3}}, "no unit for it"),
    ({"mass": {"value": "650", "unit": "kg"}}, "no finite number"),
    ({"mass": {"value": float("nan"), "unit": "kg"}}, "no finite number"),
    ({"mass": {"value": [1, 2], "unit": "kg"}}, "shape"),
    ({"mass": {"value": [], "unit": "kg"}}, "no finite number"),
    ({"mass": {"unit": "kg"}}, "needs a value"),
    ({"mass": {"value": 650, "sd": -1, "unit": "kg"}}, "negative"),
    ({"mass": {"value": 650, "sd": 1, "low": 1, "high": 2, "unit": "kg"}}, "either sd"),
    ({"mass": {"value": 650, "low": 1, "unit": "kg"}}, "go together"),
    ({"mass": {"low": 700, "high": 600, "unit": "kg"}}, "must not lie above"),
    ({"mass": {"value": 500, "low": 600, "high": 700, "unit": "kg"}}, "must lie between"),
    ({"mass": {"value": 650, "spread": 1, "unit": "kg"}}, "no field 'spread'"),
    ({"mass": {"value": 650, "unit": "kg", "shape": "round"}}, "is no shape"),
    ({"mass": {"value": 650, "unit": "kg", "kind": "guessed"}}, "no kind of input"),
    ({"mass": {"value": 650, "unit": "kg", "kind": "assumed"}}, "needs its reason"),
    ({"mass": {"value": 0.65, "unit": "kg"}}, "were t meant"),
    ({"speed": {"value": 200, "unit": "m/s"}}, "were km/h or mph meant"),
    ({"tyre": "wooden"}, "choose one of: slick, road"),
    ({"tyre": 3}, "must be a text"),
    ({"mass": {"fact": "f1"}}, "there is no fact"),
    ({"line": {}}, "must be a list"),
    ({"line": [{"value": 3, "unit": "m"}, {"value": 3}]}, "line.part 1: has no unit"),
    ({"line": [{"value": 3000, "unit": "m"}]}, "1 to 10000 mm) — were mm meant"),
]


@pytest.mark.parametrize(("inputs", "told"), BAD)
def test_what_does_not_fit_is_told_with_place_and_way_out(inputs, told):
    with pytest.raises(UnusableInput) as e:
        go(inputs, where="car.json")
    assert told in str(e.value)
    assert e.value.where.startswith("car.json") or not e.value.where
    assert e.value.fix


FIELDS = ["value", "sd", "low", "high", "unit", "shape", "kind", "fact"]
json_values = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=True) | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["value", "sd", "low", "high", "unit", "shape", "kind", "fact"]), inner, max_size=4
        )
    ),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(["mass", "speed", "tyre", "line", "grip"]), json_values)
def test_any_value_is_used_or_refused_never_a_crash(name, value):
    with contextlib.suppress(UnusableInput):
        go({name: value}, draws=100)


def test_a_reader_that_stumbles_blames_the_file():
    def clumsy(raw, reading):
        return [float(x) for x in raw]

    declared = Sheet(
        "running", "", (Structure("table", "a table", clumsy),), (Output("n", "1", "a", "b", "c"),),
        (Step("n", lambda g: {"n": 1.0}),),
    )  # fmt: skip
    for bad in (["x"], 3, [None]):
        with pytest.raises(UnusableInput, match="table: does not have the expected form"):
            go({"table": bad}, declared=declared)


def test_too_many_figures_for_memory_are_refused():
    declared = Sheet(
        "running", "", (Input("x", "1", "any", shape=None),), (Output("n", "1", "a", "b", "c"),),
        (Step("n", lambda g: {"n": 1.0}),),
    )  # fmt: skip
    with pytest.raises(UnusableInput, match="too many"):
        go({"x": {"value": [1.0] * 9000}}, declared=declared, draws=100_000)


def test_survey_numbers_stay_joint():
    rng = np.random.default_rng(3)
    m = rng.normal(650, 10, 2000)
    numbers = joint({"mass": m, "speed": 30 - (m - 650) / 20}, {"mass": "kg", "speed": "m/s"})
    out = go(dict(numbers))
    assert np.array_equal(out.inputs["mass"].draws, m)
    known = {f"measure:{n}": x for n, x in numbers.items()}
    assert np.array_equal(go({}, known=known).number("energy").draws, out.number("energy").draws)
    assert out.number("energy").kind == "computed"
    named = go({"mass": {"measure": "weight"}, "speed": SPEED}, known={"measure:weight": numbers["mass"]})
    assert np.array_equal(named.inputs["mass"].draws, m)


def test_one_fact_given_twice_is_one_fact():
    one = {"value": 3, "sd": 0.1, "unit": "mm", "id": "pipe"}
    out = go(BOTH | {"line": [one, one]})
    assert out.number("total").sd == pytest.approx(0.2e-3, rel=0.05)
    apart = go(BOTH | {"line": [one, one | {"id": "other pipe"}]})
    assert apart.number("total").sd == pytest.approx(0.2e-3 / np.sqrt(2), rel=0.07)


def test_two_cars_have_facts_of_their_own():
    a, b = (go({"mass": MASS}, scope=s).inputs["mass"] for s in ("Fulmar E4", "Gannet"))
    assert abs(np.corrcoef(a.draws, b.draws)[0, 1]) < 0.1


def test_json_is_plain_and_whole():
    out = go(BOTH | {"line": [{"value": 3, "sd": 1, "unit": "mm"}]})
    told = json.loads(json.dumps(out.as_json(), allow_nan=False))
    assert set(told["outputs"]) == {"energy", "distance", "left", "total"}
    e = told["outputs"]["energy"]
    assert e["low95"] < e["value"] < e["high95"] and e["unit"] == "J" and e["drivers"][0]["input"] == "speed"
    assert "licensed engineers" in told["cautions"][0]
    assert told["inputs"]["line"]["figures"]["line.part 0"]["unit"] == "m"


# Declarations -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "make",
    [
        lambda: Input("x", "mm", "a length not in SI"),
        lambda: Input("x", "m", "no reason", assumption=Normal(1, 1)),
        lambda: Input("x", "m", "another quantity", shown="kg"),
        lambda: Output("x", "km/h", "not SI", "m", "s"),
        lambda: Output("x", "m", "a bare name", "m", "s", along="speed"),  # type: ignore[arg-type]
        lambda: Axis("x", "km/h", "not SI"),
        lambda: Sheet("running", "", (), (Output("x", "m", "", "", ""),), ()),
        lambda: Sheet("running", "", (), (Output("x", "m", "", "", ""),), (Step("a", energy, ("y",), ("x",)),)),
        lambda: sheet(validity=(Validity("nothing", 0, 1, ""),)),
        lambda: sheet(axes=()),
    ],
)
def test_a_declaration_that_does_not_hold_together_is_refused(make):
    with pytest.raises((ValueError, TypeError)):
        make()


def test_a_step_that_breaks_its_promise_is_our_fault():
    with pytest.raises(RuntimeError, match="did not give"):
        go(BOTH, declared=sheet(energy=lambda g: {}))
    with pytest.raises(RuntimeError, match="shape"):
        go(BOTH, declared=sheet(energy=lambda g: {"energy": np.ones((2000, 3))}))


# Registry -----------------------------------------------------------------------------------------


def test_an_area_that_is_none_is_told():
    with pytest.raises(UnusableInput, match="suspension, cooling, aero, structure, running"):
        registry.sheet("gearbox")


@pytest.mark.parametrize("area", registry.areas())
def test_every_sheet_there_is_declares_itself_whole(area):
    found = registry.sheet(area)
    assert found.area == area
    for x in found.inputs:
        assert x.meaning
        if isinstance(x, Input) and x.assumption is not None:
            low, high = x.plausible or (-np.inf, np.inf)
            assert low <= x.assumption.centre <= high, x.name
    for o in found.outputs:
        assert o.meaning and o.model and o.source, o.name
