"""What must hold for any wing, floor and outline."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.errors import NotSolvable
from longlens.systems.aero import aerofoil, floor, frontal_area, lifting_line, obstacles, openings, ride, wakes
from longlens.systems.aero.wings import Element, Errors, Wing, loads

few = settings(max_examples=40, deadline=None)


@few
@given(
    span=st.floats(0.5, 2.0),
    chord=st.floats(0.1, 0.4),
    angle=st.floats(0.0, 0.4),
    height=st.floats(0.03, 2.0),
    scale=st.floats(0.2, 5),
)
def test_a_wing_is_its_shape_not_its_size(span, chord, angle, height, scale):
    a = lifting_line.solve(span, chord, angle, 5.8, height)
    b = lifting_line.solve(span * scale, chord * scale, angle, 5.8, height * scale)
    assert b.lift == pytest.approx(float(a.lift), rel=1e-9)
    assert b.induced == pytest.approx(float(a.induced), rel=1e-9, abs=1e-12)


@few
@given(angle=st.floats(0.01, 0.4), factor=st.floats(1.1, 2.0), aspect=st.floats(2.0, 12.0))
def test_lift_is_linear_induced_drag_quadratic(angle, factor, aspect):
    a, b = (lifting_line.solve(aspect, 1.0, x, 6.0) for x in (angle, angle * factor))
    assert b.lift == pytest.approx(float(a.lift) * factor)
    assert b.induced == pytest.approx(float(a.induced) * factor**2)


@few
@given(aspect=st.floats(2.5, 10), low=st.floats(0.05, 0.4), more=st.floats(1.05, 3.0))
def test_nearer_the_ground_more_lift_and_less_induced_drag_per_lift(aspect, low, more):
    near, far = (lifting_line.solve(aspect, 1.0, 0.1, 6.0, h * aspect) for h in (low, low * more))
    assert near.lift > far.lift
    assert near.induced / near.lift**2 < far.induced / far.lift**2


@few
@given(split=st.floats(0.1, 0.9), angle=st.floats(-0.1, 0.5), camber=st.floats(0.0, 0.1))
def test_cutting_a_flat_element_in_two_changes_nothing(split, angle, camber):
    del camber
    one = aerofoil.absolute_angle([1.0], [angle], [0.0])
    two = aerofoil.absolute_angle([split, 1 - split], [angle, angle], [0.0, 0.0])
    assert two == pytest.approx(one, abs=1e-12)
    assert one == pytest.approx(angle, abs=1e-12)


@few
@given(lift=st.floats(0.0, 8.0), more=st.floats(0.01, 1.0), limit=st.floats(1.0, 4.0))
def test_the_limit_is_never_passed_and_lift_never_falls(lift, more, limit):
    a, b = aerofoil.limited(lift, limit), aerofoil.limited(lift + more, limit)
    assert a <= limit and b >= a - 1e-12
    if lift < 0.5 * limit:
        assert a == pytest.approx(lift, rel=0.003)


@few
@given(height=st.floats(0.2, 10.0), angle=st.floats(0.03, 0.6))
def test_ground_gain_is_the_plate_s(height, angle):
    want = min(aerofoil.plate_over_ground(height, angle), aerofoil.MOST_GROUND)
    assert aerofoil.ground_gain(height, 1.0, angle).gain == pytest.approx(want, rel=0.03)


@few
@given(
    throat=st.floats(0.03, 0.12), exit_=st.floats(0.0, 0.2), eta=st.floats(0.2, 0.8), seal=st.floats(0.1, 0.9),
    base=st.floats(-0.3, 0.0), most=st.floats(1.5, 4.0),
)  # fmt: skip
def test_a_floor_with_a_diffuser_is_bounded(throat, exit_, eta, seal, base, most):
    def made(height, seal=seal):
        return floor.floor_lift(1.5, 1.4, throat, throat, 0.7, 1.0, height, eta, most, base, seal, 50.0)

    flat, open_ = made(throat), made(throat + exit_)
    assert open_.flat >= flat.flat - 1e-12
    # never more than a loss-free duct of the greatest ratio that helps
    ideal = 1 - (1 - base) * most**2
    assert open_.throat >= ideal * seal - 1e-9
    assert made(throat + exit_, 0.0).flat == 0
    # without recovery the pressure is that behind the car
    none = floor.floor_lift(1.5, 1.4, 0.5, 0.5, 0.7, 1.0, 0.5, 0.0, most, base, 1.0, 50.0)
    assert none.throat == pytest.approx(base, abs=1e-9)


def test_a_floor_on_the_road_carries_nothing():
    made = floor.floor_lift(2.0, 1.4, 0.003, 0.003, 0.7, 1.0, 0.15, 0.6, 2.8, -0.1, 0.5, 50.0)
    assert made.flat == pytest.approx(0.0, abs=1e-9)


@few
@given(
    distance=st.floats(9, 60), side=st.floats(-0.4, 0.4), up=st.floats(0.2, 2.0), w=st.floats(0.5, 2.0), h=st.floats(0.5, 1.5),
    station=st.floats(-1.0, 1.0),
)  # fmt: skip
def test_frontal_area_takes_the_perspective_out(distance, side, up, w, h, station):
    """The outline of a known plate across the car, seen from any place ahead, gives its area."""
    corners = np.array(
        [[station, -w / 2, 0.1], [station, w / 2, 0.1], [station, w / 2, 0.1 + h], [station, -w / 2, 0.1 + h]]
    )
    centre = np.array([station + distance, side, up])
    area = frontal_area.frontal_area(centre[None], (corners - centre)[None], np.array([station]))
    assert area == pytest.approx(w * h)
    # a wrong station makes the area wrong by the square of the distances
    off = frontal_area.frontal_area(centre[None], (corners - centre)[None], np.array([station - 1.0]))
    assert off == pytest.approx(w * h * ((distance + 1) / distance) ** 2)


def test_an_oblique_picture_is_refused():
    rays = np.array([[[-1.0, 1.0, 0.0], [-1.0, 1.1, 0.0], [-1.0, 1.0, 0.1]]])
    with pytest.raises(NotSolvable, match="off its axis"):
        frontal_area.frontal_area(np.array([[5.0, 0, 1]]), rays, np.array([0.0]))
    assert frontal_area.crosses_itself(np.array([[0, 0], [1, 1], [1, 0], [0, 1]]))
    assert not frontal_area.crosses_itself(np.array([[0, 0], [1, 0], [1, 1], [0, 1]]))


@few
@given(area=st.floats(0, 1), more=st.floats(0, 1), strength=st.floats(0, 2))
def test_more_in_the_way_leaves_less(area, more, strength):
    a, b = (obstacles.flow_left(x, 1.0, strength) for x in (area, area + more))
    assert 0 < b <= a <= 1


@few
@given(force=st.floats(100, 6000), rate=st.floats(5e4, 1e6), gain=st.floats(0.0, 0.4))
def test_ride_settles_where_springs_balance_the_air(force, rate, gain):
    """A force that grows with the drop: z = F/(k − F g)."""
    slope = gain * rate
    made = ride.settle(
        lambda f, r: (force + slope * f, force + 0 * r),
        ride.Straight(np.array([[rate]])),
        ride.Straight(np.array([[rate]])),
        np.array([[1.0]]),
        np.array([[1.0]]),
        (1, 1),
    )
    assert made.front == pytest.approx(force / (rate - slope), rel=1e-3, abs=2 * ride.SETTLED)
    assert made.rear == pytest.approx(force / rate, rel=1e-6)
    assert not made.restless.any()


def test_axle_rate_is_springs_and_tyres_in_series():
    assert ride.axle_rate(50e3, 0.0, 200e3) == pytest.approx(80e3)
    assert ride.axle_rate(50e3, 1e12, 200e3) == pytest.approx(400e3, rel=1e-6)


def wing(n, **change):
    rng = np.random.default_rng(3)
    base = {"span": 1.2, "height": 0.2, "behind": 0.0, "end_plate": 0.1} | change
    parts = tuple(
        Element(str(k), rng.normal(0.2, 0.005, n), rng.normal(a, 0.02, n), np.full(n, 0.07))
        for k, a in enumerate((0.1, 0.4))
    )
    return Wing("w", **{k: np.full(n, v) for k, v in base.items()}, elements=parts)


def test_draws_are_independent_of_each_other():
    whole = loads(wing(50), Errors())
    single = wing(50)
    one = Wing("w", *(x[7:8] for x in (single.span, single.height, single.behind, single.end_plate)),
               elements=tuple(Element(e.name, e.chord[7:8], e.angle[7:8], e.camber[7:8]) for e in single.elements))  # fmt: skip
    assert loads(one, Errors()).lift_area[0] == pytest.approx(whole.lift_area[7], rel=1e-12)


def test_bigger_plates_less_induced_drag():
    small, large = (loads(wing(5, end_plate=p), Errors()) for p in (0.02, 0.3))
    assert np.all(large.induced_area / large.coefficient**2 < small.induced_area / small.coefficient**2)
    assert np.all(large.lift_area > small.lift_area)


def pretend_survey(centre, focal=4000.0, draws=400, sd=0.0):
    """What :func:`frontal_area.from_solution` needs of a survey: one shot that looks at the origin, wheels at 0 and −2.5 m."""
    from types import SimpleNamespace

    from longlens.survey.camera import look_at

    rng = np.random.default_rng(2)
    C = np.asarray(centre, float) + sd * rng.standard_normal((draws, 3))
    R = np.stack([look_at(c, np.array([-1.2, 0.0, 0.5])) for c in C])
    state = SimpleNamespace(
        logf=np.full((draws, 1), np.log(focal)), kappa=np.full((draws, 1), -0.01), R=R[:, None], C=C[:, None],
        principal=np.tile([3000.0, 2000.0], (draws, 1, 1)),
    )  # fmt: skip
    net = SimpleNamespace(shots=["s1"], camera_of=np.array([0]), rho=np.array([3600.0]))
    places = {
        "left.front.rim_centre": np.zeros((draws, 3)),
        "left.rear.rim_centre": np.tile([-2.5, 0.0, 0.0], (draws, 1)),
    }
    return SimpleNamespace(net=net, drawn=SimpleNamespace(state=state), places=lambda: places)


def outline(survey, corners, **more):
    """Pixels of corners (n, 3) by the pretended camera, as a mark."""
    from longlens.dossier.records import Mark
    from longlens.survey.camera import camera_frame, image

    st_ = survey.drawn.state
    seen = camera_frame(corners, st_.R[0, 0], st_.C[0, 0])
    pixels = image(seen, np.exp(st_.logf[0, 0]), st_.kappa[0, 0], 3600.0, st_.principal[0, 0])
    return Mark(
        id="front", shot="s1", form="outline", path=[tuple(map(float, p)) for p in pixels], part="frontal area", **more
    )


CORNERS = np.array([[-1.2, -0.9, 0.1], [-1.2, 0.9, 0.1], [-1.2, 0.7, 1.0], [-1.2, -0.7, 1.0]])
AREA = (1.8 + 1.4) / 2 * 0.9


def test_frontal_area_from_an_outline_on_a_photograph():
    survey = pretend_survey([14.0, 0.8, 1.2])
    found = frontal_area.from_solution(survey, [outline(survey, CORNERS)])
    assert found.low < AREA < found.high and found.kind == "measured"
    # the station between the axles is the model error: ±1.3 m of some 15 m, twice
    assert 0.04 < found.sd / AREA < 0.15
    assert found.origin.inputs[0].record == "mark:front"
    points = {f"p{k}": np.tile(c, (400, 1)) for k, c in enumerate(CORNERS)}
    survey.places().update(points)
    tied = frontal_area.from_solution(survey, [outline(survey, CORNERS, along=list(points))])
    assert tied.value == pytest.approx(AREA, rel=2e-3) and tied.sd < 0.2 * found.sd


def test_outlines_that_cannot_be_used():
    from longlens.errors import UnusableInput

    survey = pretend_survey([14.0, 0.8, 1.2])
    assert frontal_area.from_solution(survey, []) is None
    bow = CORNERS[[0, 2, 1, 3]]
    with pytest.raises(UnusableInput, match="crosses itself"):
        frontal_area.from_solution(survey, [outline(survey, bow)])
    aside = pretend_survey([9.0, 7.0, 1.2])
    with pytest.raises(NotSolvable, match="off its axis"):
        frontal_area.from_solution(aside, [outline(aside, CORNERS)])


@few
@given(
    width=st.floats(0.05, 1.5), tall=st.floats(0.05, 1.0), drag=st.floats(0.05, 1.2), behind=st.floats(0.01, 6.0),
    further=st.floats(0.1, 4.0), growth=st.floats(0.5, 6.0), side=st.floats(0.0, 2.0),
)  # fmt: skip
def test_a_wake_takes_less_further_back_and_further_aside(width, tall, drag, behind, further, growth, side):
    """Deficits fall with distance, widths grow; a part aside loses less than one in the middle; nothing is won."""
    near, far = (wakes.wake(drag * width * tall, width, tall, x, growth) for x in (behind, behind + further))
    assert far.deficit <= near.deficit < 1 and far.across >= near.across and far.up >= near.up
    middle, aside = (wakes.pressure_left(near, s, 0.0, 0.1, 0.1) for s in (0.0, side))
    assert 0 < middle <= aside + 1e-12 <= 1 + 1e-9
    assert wakes.wake(drag, width, tall, -behind).deficit == 0


@few
@given(st.floats(0.2, 2.0), st.floats(0.6, 2.0), st.floats(0.05, 0.6), st.floats(0.3, 5.0), st.floats(0.0, 1.0))
def test_a_wing_for_downforce_turns_the_stream_up_on_its_own_span(area, span, height, behind, at):
    turn = wakes.upwash(area, span, height, behind, 0.0, at * 1.0, 0.3 * span)
    assert turn >= -1e-9
    assert wakes.upwash(2 * area, span, height, behind, 0.0, at * 1.0, 0.3 * span) == pytest.approx(2 * turn)
    assert wakes.upwash(area, span, height, behind, 0.2, at, 0.1) == pytest.approx(
        wakes.upwash(area, span, height, behind, -0.2, at, 0.1), abs=1e-12
    )


@few
@given(st.floats(0.0, 0.3), st.floats(0.005, 0.5), st.floats(0.3, 1.0), st.floats(0.5, 1.0), st.floats(-0.4, 0.6))
def test_an_inlet_never_gets_more_than_the_stream_brings(layer, depth, stream, kept, local):
    left = openings.layer_left(layer, depth)
    assert 0 < left <= 1
    total = openings.total_at_inlet(stream, kept, left, local)
    assert min(local, stream) - 1e-12 <= total <= max(local, stream) + 1e-12
