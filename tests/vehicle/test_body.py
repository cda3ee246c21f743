"""Masses, loads and shares of the body: the ways in which a study may give them agree, and loads move the body."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builders import half_car, quarter_car, spread
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.body import body_under, unladen_masses

HALF = model_of("half-car")
EMPTY = Load("empty")
WHEELBASE = 2.7  # of the builders' half car, m

masses = st.builds(LoadMass, st.floats(1.0, 500.0), st.floats(-1.0, 4.0), st.floats(0.0, 2.0))
once = settings(max_examples=60, deadline=None, derandomize=True)


def test_models() -> None:
    assert HALF.motions == ("z", "pitch")
    assert HALF.axles == ("front", "rear")
    assert model_of("quarter-car").axles == ("front",)
    assert model_of("quarter-car", "rear").axles == ("rear",)
    assert model_of("quarter-car").motions == ("z",)


def test_half_car_is_half_of_the_vehicle() -> None:
    """1400 kg with 52 % in front, dynamic index 0.92."""
    body = body_under(half_car(), HALF, EMPTY)
    a, b = 0.48 * WHEELBASE, 0.52 * WHEELBASE
    assert body.mass[0] == 700.0
    np.testing.assert_allclose(body.x[0], [a, -b])
    np.testing.assert_allclose(body.corner_mass[0], [700 * 0.52, 700 * 0.48])
    assert body.pitch_inertia[0] == pytest.approx(0.92 * 700 * a * b)


def test_three_ways_to_the_inertia_agree() -> None:
    car = half_car()
    given_index = body_under(car, HALF, EMPTY).pitch_inertia[0]
    del car["body.dynamic_index"]
    gyration = np.sqrt(2 * given_index / 1400.0)
    by_gyration = body_under(car | spread({"body.pitch_gyration": gyration}), HALF, EMPTY)
    outright = body_under(car | spread({"body.pitch_inertia": 2 * given_index}), HALF, EMPTY)
    assert by_gyration.pitch_inertia[0] == pytest.approx(given_index, rel=1e-14)
    assert outright.pitch_inertia[0] == pytest.approx(given_index, rel=1e-14)


def test_three_ways_to_the_masses_agree() -> None:
    car = half_car({"front.unsprung_mass": 42.0, "rear.unsprung_mass": 55.0})
    want = unladen_masses(car)
    del car["front_share"]
    by_place = unladen_masses(car | spread({"front_axle_to_mass_centre": 0.48 * WHEELBASE}))
    del car["body.mass"]
    scales = {"kerb_axle_loads.front": 1400 * 0.52 + 84.0, "kerb_axle_loads.rear": 1400 * 0.48 + 110.0}
    by_scales = unladen_masses(car | spread(scales))
    for mass, share in (by_place, by_scales):
        assert mass[0] == pytest.approx(want[0][0], rel=1e-14)
        assert share[0] == pytest.approx(want[1][0], rel=1e-14)


@once
@given(st.lists(masses, max_size=4))
def test_corners_carry_the_body_and_balance_it(items: list[LoadMass]) -> None:
    body = body_under(half_car(), HALF, Load("some", tuple(items)))
    assert body.corner_mass[0].sum() == pytest.approx(body.mass[0], rel=1e-12)
    assert (body.corner_mass[0] * body.x[0]).sum() == pytest.approx(0.0, abs=1e-9 * body.mass[0])
    assert body.x[0, 0] - body.x[0, 1] == pytest.approx(WHEELBASE, rel=1e-14)
    assert body.mass[0] == pytest.approx(0.5 * (1400 + sum(item.mass for item in items)), rel=1e-12)


@once
@given(st.lists(masses, min_size=2, max_size=4))
def test_order_and_grouping_of_masses_do_not_matter(items: list[LoadMass]) -> None:
    forwards, backwards = (body_under(half_car(), HALF, Load("some", tuple(part))) for part in (items, items[::-1]))
    np.testing.assert_allclose(backwards.pitch_inertia, forwards.pitch_inertia, rtol=1e-12)
    np.testing.assert_allclose(backwards.corner_mass, forwards.corner_mass, rtol=1e-12)
    halves = [LoadMass(item.mass / 2, item.behind_front_axle, item.length) for item in items for _ in range(2)]
    split = body_under(half_car(), HALF, Load("halves", tuple(halves)))
    np.testing.assert_allclose(split.pitch_inertia, forwards.pitch_inertia, rtol=1e-12)


@once
@given(masses)
def test_a_load_never_takes_inertia_away(item: LoadMass) -> None:
    """About the loaded centre of mass, by the theorem of parallel axes: I + m M/(m + M) d² + own inertia."""
    before, after = body_under(half_car(), HALF, EMPTY), body_under(half_car(), HALF, Load("one", (item,)))
    reduced = item.mass * 1400.0 / (item.mass + 1400.0)
    apart = item.behind_front_axle - before.centre[0]
    added = 0.5 * (reduced * apart**2 + item.mass * item.length**2 / 12)
    assert after.pitch_inertia[0] == pytest.approx(before.pitch_inertia[0] + added, rel=1e-12)


def test_mass_over_an_axle_loads_that_axle_alone() -> None:
    before, after = (
        body_under(half_car(), HALF, EMPTY),
        body_under(half_car(), HALF, Load("x", (LoadMass(200.0, 0.0),))),
    )
    np.testing.assert_allclose(after.corner_mass - before.corner_mass, [[100.0, 0.0]], atol=1e-12)
    overhang = body_under(half_car(), HALF, Load("tow", (LoadMass(100.0, 3.7),)))
    assert overhang.corner_mass[0, 0] < before.corner_mass[0, 0]


def test_quarter_car_takes_its_share_of_loads() -> None:
    car = quarter_car(400.0) | spread({"wheelbase": 2.5})
    load = Load("one", (LoadMass(100.0, 1.0),))
    assert body_under(car, model_of("quarter-car"), load).mass[0] == pytest.approx(400 + 50 * 0.6)
    assert body_under(car, model_of("quarter-car", "rear"), load).mass[0] == pytest.approx(400 + 50 * 0.4)
    body = body_under(car, model_of("quarter-car"), EMPTY)
    assert np.array_equal(body.x, [[0.0]])
    assert np.array_equal(body.pitch_inertia, [0.0])
