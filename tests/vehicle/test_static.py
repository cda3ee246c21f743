"""At rest: what a load does, and which designs cannot stand."""

from __future__ import annotations

import numpy as np
import pytest

from builders import half_car, quarter_car, spread
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.static import GRAVITY, AtRest, at_rest

REFERENCE = Load("reference", reference=True)


def stand(car: dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]], *masses: LoadMass) -> AtRest:
    """The car under those masses, with the body as given for reference."""
    model = model_of("half-car" if "rear.tyre_rate" in car else "quarter-car")
    with np.errstate(all="ignore"):
        return at_rest(car, model, (REFERENCE, Load("laden", masses)), 0)[1]


def test_plain_spring_sinks_by_weight_over_rate() -> None:
    car = quarter_car(400.0, spring_rate=[20e3, 40e3], tyre_rate=200e3) | spread({"wheelbase": [2.5, 2.5]})
    state = stand(car, LoadMass(200.0, 0.0))
    np.testing.assert_allclose(state.travel[:, 0], 100 * GRAVITY / np.array([20e3, 40e3]))
    np.testing.assert_allclose(state.tyre_sink[:, 0], 100 * GRAVITY / 200e3)
    np.testing.assert_allclose(state.contact_force[:, 0], 540 * GRAVITY)
    np.testing.assert_allclose(state.ride_rate[:, 0], 1 / (1 / np.array([20e3, 40e3]) + 1 / 200e3))


def test_a_stiffer_spring_stands_at_the_same_reference_position() -> None:
    """Its free length is taken to keep it, so only other loads see the rate."""
    car = half_car({"front.spring_rate": [15e3, 60e3]})
    assert np.array_equal(stand(car).travel, np.zeros((2, 2)))
    laden = stand(car, LoadMass(300.0, 1.2)).travel
    assert laden[0, 0] > laden[1, 0] > 0


def test_any_load_may_be_the_reference() -> None:
    loads = (Load("empty"), Load("full", (LoadMass(300.0, 1.5),), reference=True))
    empty, full = at_rest(half_car(), model_of("half-car"), loads, 1)
    assert np.array_equal(full.travel, np.zeros((1, 2)))
    assert np.all(empty.travel < 0)
    assert np.all(empty.tyre_sink < 0)
    assert (empty.load, full.load) == ("empty", "full")


def test_an_engaged_stop_stiffens_the_laden_corner() -> None:
    stops = {"rear.bump_clearance": 0.02, "rear.bump_stop_rate": 60e3, "rear.bump_stop_progression": 0.0}
    soft, stopped = stand(half_car(), LoadMass(400.0, 2.6)), stand(half_car(stops), LoadMass(400.0, 2.6))
    assert stopped.wheel_rate[0, 1] == pytest.approx(25e3 + 60e3)
    assert 0.02 < stopped.travel[0, 1] < soft.travel[0, 1]
    assert stopped.wheel_rate[0, 0] == soft.wheel_rate[0, 0]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"body.mass": [1400.0, -10.0]}, "no mass"),
        ({"body.mass": [1400.0, np.nan]}, "a mass that is no number"),
        ({"front.spring_rate": [25e3, 0.0]}, "no spring"),
        ({"rear.spring_rate": [25e3, -3e3]}, "a spring that pushes the wrong way"),
        ({"front_share": [0.5, 1.2]}, "the centre of mass before the front axle"),
        ({"body.dynamic_index": [0.9, -0.5]}, "an inertia below zero"),
        ({"body.mass": [1400.0, np.inf]}, "a mass beyond all bounds"),
    ],
)
def test_a_car_that_cannot_stand(changes: dict[str, list[float]], why: str) -> None:
    state = stand(half_car(changes), LoadMass(100.0, 1.3))
    assert state.possible.tolist() == [True, False], why


def test_a_load_that_lifts_an_axle_is_impossible_and_its_neighbour_is_not() -> None:
    """900 kg a metre behind the rear axle of a light and of a heavy car."""
    state = stand(half_car({"body.mass": [500.0, 3000.0]}), LoadMass(900.0, 3.7))
    assert state.corner_mass[0, 0] < 0
    assert state.possible.tolist() == [False, True]


def test_no_inertia_will_not_do_until_a_load_brings_some() -> None:
    car = half_car({"body.dynamic_index": [0.9, 0.0]})
    assert stand(car).possible.tolist() == [True, False]
    assert stand(car, LoadMass(100.0, 1.3)).possible.tolist() == [True, True]


def test_a_reference_that_cannot_stand_fails_every_load() -> None:
    """Tail-heavy beyond its rear axle as given, and only the load brings the front wheels down: there is no reference
    position to count travel from.
    """
    state = stand(half_car({"front_share": [0.5, -0.05]}), LoadMass(600.0, 0.3))
    assert np.all(state.corner_mass > 0)
    assert state.possible.tolist() == [True, False]
