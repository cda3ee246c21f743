"""Measured curves as laws at the wheel: against interpolation, textbook linearisations, and the laws they stand for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from builders import at_rest_under, half_car, quarter_car
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.elements import Points, speed_law, travel_law
from ridefront.vehicle.laws import Law
from ridefront.vehicle.static import GRAVITY, at_rest

Array = NDArray[np.float64]
FRONT = ("front",)


def points(x: Array, force: Array) -> Points:
    return Points(tuple(float(value) for value in x), tuple(float(value) for value in force))


def spring_law(table: Points, scale: float = 1.0, ratio: float = 1.0) -> Law:
    return travel_law(quarter_car(spring_scale=scale, spring_ratio=ratio), FRONT, {"front.spring_table": table})


def damper_law(table: Points, scale: float = 1.0, ratio: float = 1.0) -> Law:
    return speed_law(quarter_car(damper_scale=scale, damper_ratio=ratio), FRONT, {"front.damper_table": table})


def at(law: Law, x: Array) -> Array:
    """Force of a law of one design and corner at many x."""
    return np.array([law.force(np.array([[value]]))[0, 0] for value in x])


def interpolated(table: Points, x: Array) -> Array:
    """The slow twin: straight between points, beyond the ends on the line through the two nearest, less the force
    at 0.
    """
    along, force = np.array(table.x), np.array(table.force)
    slopes = np.diff(force) / np.diff(along)
    inside = np.interp(x, along, force)
    below = force[0] + slopes[0] * (x - along[0])
    above = force[-1] + slopes[-1] * (x - along[-1])
    whole = np.where(x < along[0], below, np.where(x > along[-1], above, inside))
    return np.asarray(whole - np.interp(0.0, along, force))


@st.composite
def tables(draw: st.DrawFn, least_rise: float = 0.0) -> Points:
    """Points a millimetre to 40 mm apart around 0, which may be one of them, the first or the last."""
    count = draw(st.integers(2, 14))
    steps = [draw(st.floats(1e-3, 0.04)) for _ in range(count - 1)]
    rises = [draw(st.floats(least_rise, 1500.0)) for _ in range(count - 1)]
    x = np.concatenate([[0.0], np.cumsum(steps)])
    zero = draw(st.one_of(st.sampled_from(list(x)), st.floats(0.0, float(x[-1]))))
    return points(x - zero, draw(st.floats(-2000.0, 4000.0)) + np.concatenate([[0.0], np.cumsum(rises)]))


@given(tables(), st.floats(0.5, 2.0), st.floats(0.4, 1.3))
def test_law_is_the_interpolation_through_ratio_and_scale(table: Points, scale: float, ratio: float) -> None:
    along = np.array(table.x)
    x = np.linspace(along[0] - 0.03, along[-1] + 0.03, 41) / ratio
    expected = scale * ratio * interpolated(table, x * ratio)
    steepest = float(np.max(np.diff(table.force) / np.diff(along))) * scale * ratio**2
    for law in (spring_law(table, scale, ratio), damper_law(table, scale, ratio)):
        assert at(law, x) == pytest.approx(expected, rel=1e-12, abs=1e-12 * steepest * float(np.ptp(x)) + 1e-12)


@given(tables())
def test_slope_is_that_of_the_span_and_the_mean_of_two_where_they_meet(table: Points) -> None:
    along, law = np.array(table.x), spring_law(table)
    spans = np.diff(table.force) / np.diff(along)
    middles = 0.5 * (along[1:] + along[:-1])
    slope = [law.slope_at(np.array([[x]]))[0, 0] for x in middles]
    assert slope == pytest.approx(list(spans), rel=1e-9, abs=1e-9 * float(np.max(spans)))
    if 0.0 in table.x[1:-1]:
        k = table.x.index(0.0)
        both = 0.5 * (spans[k - 1] + spans[k])
        assert law.slope_at(np.zeros((1, 1)))[0, 0] == pytest.approx(both, rel=1e-9, abs=1e-9 * float(np.max(spans)))


@given(tables(least_rise=1.0), st.lists(st.floats(-6000.0, 6000.0), min_size=1, max_size=5))
def test_inverse_of_any_rising_table_is_interpolation_the_other_way(table: Points, forces: list[float]) -> None:
    """Tables that stiffen, soften, and do both; each force alone and beside others, to the last bit."""
    law = spring_law(table)
    car = quarter_car(spring_scale=np.ones(len(forces)))
    together = travel_law(car, FRONT, {"front.spring_table": table}).inverse(np.array(forces)[:, np.newaxis])
    for force, found in zip(forces, together[:, 0], strict=True):
        alone = float(law.inverse(np.array([[force]]))[0, 0])
        assert alone == found
        assert float(interpolated(table, np.array([alone]))[0]) == pytest.approx(force, rel=1e-8, abs=1e-8)


def soft_beyond(stiff: float = 1.0) -> Points:
    """Ten times as stiff within a millimetre of 0 as beyond: plain Newton's method goes to and fro for ever."""
    return Points((-0.1, -0.001, 0.001, 0.1), (-1990.0 * stiff, -200.0 * stiff, 200.0 * stiff, 1990.0 * stiff))


@pytest.mark.parametrize("force", [-1500.0, -30.0, 150.0, 199.999, 200.0, 1800.0, 1e5])
def test_stiff_middle_is_inverted(force: float) -> None:
    law = spring_law(soft_beyond())
    x = law.inverse(np.array([[force]]))
    assert at(law, x[0]) == pytest.approx([force], rel=1e-9)
    for sigma in (1e-4, 1e-3, 0.02):
        for guess in (-0.05, 0.0, 0.05):
            mean = law.mean_inverse(np.array([[force]]), np.full((1, 1), sigma), np.full((1, 1), guess))
            found = law.mean_force(np.full((1, 1), sigma), mean)[0, 0]
            assert found == pytest.approx(force, rel=1e-8)


def test_straight_table_is_the_plain_spring() -> None:
    """Rows on one line leave no hinge behind, whatever their rounding."""
    x = np.array([-0.07, -0.033, -0.01, 0.013, 0.05, 0.09])
    law = spring_law(points(x, 22e3 * x + 3127.3), ratio=0.7)
    plain = travel_law(quarter_car(spring_rate=22e3, spring_ratio=0.7), FRONT)
    assert law.hinges == ()
    assert law.slope == pytest.approx(plain.slope, rel=1e-12)


def test_table_of_a_damper_with_knees_is_that_damper() -> None:
    knees = {"damping_bump": 900.0, "damping_rebound": 2700.0, "damper_ratio": 0.85}
    knees |= {"knee_speed_bump": 0.12, "knee_share_bump": 0.4, "knee_speed_rebound": 0.2, "knee_share_rebound": 0.6}
    plain = speed_law(quarter_car(**knees), FRONT)
    x = np.array([-1.0, -0.2, 0.0, 0.12, 0.5])
    table = points(x, at(speed_law(quarter_car(**(knees | {"damper_ratio": 1.0})), FRONT), x))
    law = damper_law(table, ratio=0.85)
    w = np.linspace(-2, 2, 101)
    assert at(law, w) == pytest.approx(at(plain, w), rel=1e-12)
    for sigma in (0.01, 0.1, 0.5):
        one = np.full((1, 1), sigma)
        assert law.mean_slope(one) == pytest.approx(plain.mean_slope(one), rel=1e-12)
        assert law.mean_force(one) == pytest.approx(plain.mean_force(one), rel=1e-10)
    assert law.slope_at(np.zeros((1, 1))) == pytest.approx(plain.slope_at(np.zeros((1, 1))), rel=1e-12)


@pytest.mark.parametrize("sigma", [0.2, 0.3, 0.4])
def test_table_of_a_quadratic_damper_has_the_textbooks_equivalent(sigma: float) -> None:
    """F = c w|w| is a damper of c σ √(8/π) under Gaussian speed.

    Roberts and Spanos, Random Vibration and Statistical Linearization, Wiley 1990 (from memory).
    """
    w = np.linspace(-2.0, 2.0, 199)
    law = damper_law(points(w, 1500.0 * w * np.abs(w)))
    equivalent = law.mean_slope(np.full((1, 1), sigma))[0, 0]
    assert equivalent == pytest.approx(1500.0 * sigma * np.sqrt(8 / np.pi), rel=2e-3)


@pytest.mark.parametrize("sigma", [0.01, 0.02, 0.03])
def test_table_of_a_cubic_spring_has_the_textbooks_equivalent(sigma: float) -> None:
    """F = k (s + ε s³) is a spring of k (1 + 3 ε σ²) under Gaussian travel.

    T.K. Caughey, Equivalent linearization techniques, J. Acoust. Soc. Am. 35 (1963) 1706 (from memory).
    """
    s = np.linspace(-0.2, 0.2, 199)
    law = spring_law(points(s, 20e3 * (s + 200.0 * s**3)))
    equivalent = law.mean_slope(np.full((1, 1), sigma))[0, 0]
    assert equivalent == pytest.approx(20e3 * (1 + 3 * 200.0 * sigma**2), rel=2e-3)


def test_axles_with_and_without_tables_do_not_mix() -> None:
    front = Points((-0.2, 0.0, 0.1, 0.4), (-500.0, 0.0, 120.0, 300.0))
    rear = Points((-0.3, -0.1, 0.1, 0.2), (-700.0, -300.0, 300.0, 500.0))
    scales = {f"{axle}.damper_scale": scale for axle, scale in (("front", 1.3), ("rear", 0.8))}
    car, axles = half_car(scales | {"rear.knee_speed": 0.1, "rear.knee_share": 0.5}), ("front", "rear")
    given = {"front.damper_table": front, "rear.damper_table": rear}
    for used in ({"front.damper_table": front}, given):
        both = speed_law(car, axles, used)
        for c, axle in enumerate(axles):
            alone = speed_law(car, (axle,), used)
            for w in (-0.5, -0.15, -0.05, 0.05, 0.15, 0.5):
                assert both.force(np.full((1, 2), w))[0, c] == pytest.approx(alone.force(np.full((1, 1), w))[0, 0])


def test_load_on_a_progressive_table_by_hand() -> None:
    """100 kg more on a corner: 980.665 N, of which the first 800 N take 40 mm and the rest 40 N/mm."""
    table = Points((-0.1, 0.0, 0.04, 0.1), (1500.0, 3000.0, 3800.0, 6200.0))
    loads = (Load("as given", reference=True), Load("laden", (LoadMass(200.0, 0.0),)))
    car = quarter_car(spring_scale=1.0) | {"wheelbase": np.array([2.5])}
    state = at_rest(car, model_of("quarter-car"), loads, 0, {"front.spring_table": table})[1]
    assert state.travel[0, 0] == pytest.approx(0.04 + (100 * GRAVITY - 800.0) / 40e3, rel=1e-12)
    assert state.wheel_rate[0, 0] == pytest.approx(40e3)
    assert at_rest_under(quarter_car()).wheel_rate[0, 0] == 25e3  # without tables as ever
