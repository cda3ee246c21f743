"""At rest: what a load does, and which designs cannot stand."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from builders import UNLADEN, at_rest_under, full_car, half_car, quarter_car, spread
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.body import Body
from ridefront.vehicle.static import GRAVITY, AtRest, at_rest, stacked
from twins.vehicles import real_car, with_sides

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


# Sizes with few binary digits, so that what should cancel does so to the last one.
EVEN = {"wheelbase": 2.0, "front_share": 0.5, "body.mass": 1024.0, "body.dynamic_index": 1.0}


def test_a_quarter_car_needs_no_inertia_but_mass_and_a_wheel_on_the_ground() -> None:
    """Its wheel's mass taken off its body's leaves nothing to stand on."""
    state = at_rest_under(quarter_car([400.0, 0.0, 400.0], unsprung_mass=[40.0, 40.0, -400.0]))
    assert state.contact_force[:, 0].tolist() == [440.0 * GRAVITY, 40.0 * GRAVITY, 0.0]
    assert state.possible.tolist() == [True, False, False]


def test_an_axle_with_nothing_of_the_body_on_it_is_impossible() -> None:
    """Twice: the front wheels carry nothing as given and 48 kg each under the load; or 256 kg each as given, which a
    load of as much as the body takes off, a metre behind the rear axle.
    """
    tail_heavy = half_car(EVEN | {"front_share": [0.5, 0.0]})
    laden = stand(tail_heavy, LoadMass(128.0, 0.5))
    np.testing.assert_array_equal(stand(tail_heavy).corner_mass[:, 0], [256.0, 0.0])
    np.testing.assert_allclose(laden.corner_mass[:, 0], [304.0, 48.0], rtol=1e-14)
    assert laden.possible.tolist() == [True, False]
    lifted = stand(half_car(EVEN | {"body.mass": [2048.0, 1024.0]}), LoadMass(1024.0, 3.0))
    np.testing.assert_allclose(lifted.corner_mass[:, 0], [256.0, 0.0], rtol=1e-14, atol=0)
    assert lifted.possible.tolist() == [True, False]


def test_a_full_car_that_cannot_stand_or_roll() -> None:
    """Roll needs inertia of its own; pitch inertia below zero is not made good by roll's, nor a missing spring."""
    inertia, index, spring = [500.0, 0.0, -500.0, np.nan, -500.0, 500.0], [0.9] * 4 + [-0.9, 0.9], [25e3] * 5 + [0.0]
    car = full_car({"body.roll_inertia": inertia, "body.dynamic_index": index, "front.spring_rate": spring})
    with np.errstate(all="ignore"):
        state = at_rest_under(car)
    assert state.possible.tolist() == [True, False, False, False, False, False]


@pytest.mark.parametrize("side", [0.5, -0.5])
def test_a_body_that_is_a_line_cannot_be_moved_about_it(side: float) -> None:
    """Two point masses, 0.5 m apart along the car and across it: pitch and roll inertia are 128 kg m² each and so is
    their product, and about the line between them there is none. A kilogram square metre of its own will do.
    """
    car = full_car(EVEN | {"body.dynamic_index": 0.0, "body.roll_inertia": [0.0, 1.0]})
    loads = (*UNLADEN, Load("aside", (LoadMass(1024.0, 1.5, left_of_centre=side),)))
    state = at_rest_under(car, loads, 1)
    np.testing.assert_array_equal(state.body.pitch_inertia, [128.0, 128.0])
    np.testing.assert_array_equal(state.body.roll_inertia, [128.0, 129.0])
    np.testing.assert_array_equal(np.abs(state.body.product), [128.0, 128.0])
    assert state.possible.tolist() == [False, True]


def test_states_one_after_another() -> None:
    """Three designs under two loads as six: every array, body and law is the first three's, then the others'."""
    rng = np.random.default_rng(171)
    car = with_sides(real_car(rng, 3), rng)
    loads = (Load("driver", (LoadMass(80.0, 1.3, left_of_centre=0.4),), reference=True), Load("empty"))
    parts = at_rest(car, model_of("full-car"), loads, 0, beams={"rear"})
    joined = stacked(parts)
    assert (joined.model, joined.load) == (parts[0].model, "driver")
    arrays = [item.name for item in fields(AtRest) if isinstance(getattr(joined, item.name), np.ndarray)]
    assert len(arrays) == len(fields(AtRest)) - 5, "all but model, load, body and the two laws"
    for name in arrays:
        want = [*getattr(parts[0], name), *getattr(parts[1], name)]
        np.testing.assert_array_equal(getattr(joined, name), want, err_msg=name)
    for item in fields(Body):
        want = [*getattr(parts[0].body, item.name), *getattr(parts[1].body, item.name)]
        np.testing.assert_array_equal(getattr(joined.body, item.name), want, err_msg=item.name)
    x = rng.uniform(-0.15, 0.15, (6, 4))
    for law in ("travel_law", "speed_law"):
        each = [getattr(part, law).force(half) for part, half in zip(parts, (x[:3], x[3:]), strict=True)]
        np.testing.assert_array_equal(getattr(joined, law).force(x), [*each[0], *each[1]], err_msg=law)
    assert stacked(parts[1:]) is parts[1]
