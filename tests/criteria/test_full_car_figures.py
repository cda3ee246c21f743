"""Figures of the full car by hand: seats to one side, roll, wheels, beams; from invented mean squares of its motion."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import at_rest_under, figure, full_car, half_car
from ridefront.criteria import CRITERIA
from ridefront.criteria.ride import BODY, VEHICLE, Place, Ride, Standing, axles_of, corner_places, seat_places
from ridefront.vehicle import Load, LoadMass, Seat, model_of

Array = NDArray[np.float64]

FULL, HALF = model_of("full-car"), model_of("half-car")
WHEELS = ("front_left", "front_right", "rear_left", "rear_right")
LOADS = (
    Load("empty", reference=True),
    Load("driver and trunk", (LoadMass(80.0, 1.3, left_of_centre=0.4), LoadMass(250.0, 2.6, left_of_centre=-0.2))),
)
DRIVER = Seat("driver", 1.3, height=0.75, left_of_centre=0.36)
BACK = Seat("back right", 2.2, height=0.8, left_of_centre=-0.45)
HEIGHTS = {"mass_centre_height": 0.55, "front_roll_centre": 0.06, "rear_roll_centre": 0.3}
G = 9.80665
DESIGNS = 3


def beam_cars() -> dict[str, Array]:
    beam = {"rear.axle_roll_inertia": 26.0, "rear.spring_spacing": 0.95, "rear.damper_spacing": 1.1}
    return full_car(HEIGHTS | beam | {"front.spring_rate": [18e3, 25e3, 40e3], "front.anti_roll_rate": 9e3})


def motions(seed: int) -> tuple[Array, Array]:
    """Accelerations of body (designs, z | pitch | roll, samples) and their six mean products."""
    rng = np.random.default_rng(seed)
    a = rng.standard_normal((DESIGNS, 3, 3)) @ rng.standard_normal((DESIGNS, 3, 400))
    pairs = ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2), (2, 2))
    return a, np.stack([np.mean(a[:, i] * a[:, k], axis=1) for i, k in pairs], axis=1)


@pytest.fixture(scope="module")
def driven() -> tuple[Ride, Array, Array]:
    """A ride with made-up figures, and the accelerations behind them: unweighted and weighted."""
    car = beam_cars()
    reference, state = (at_rest_under(car, LOADS, at, ("rear",)) for at in (0, 1))
    (plain, acceleration), (felt, weighted) = motions(1), motions(2)
    rng = np.random.default_rng(3)
    response = SimpleNamespace(
        acceleration=acceleration,
        weighted=weighted,
        roll=rng.uniform(1e-5, 1e-3, DESIGNS),
        **{key: rng.uniform(0.1, 1.0, DESIGNS) for key in ("roll_weighted", "pitch_weighted", "pitch_backrest")},
        **{key: rng.uniform(0.1, 1.0, (DESIGNS, 4)) for key in ("travel", "contact_force", "damping", "wheel_rate")},
    )
    return Ride(state, reference, car, cast(Any, response)), plain, felt


@pytest.mark.parametrize("seat", [DRIVER, BACK])
def test_seats_feel_the_body_where_they_are(driven: tuple[Ride, Array, Array], seat: Seat) -> None:
    """Mean square of z" - x θ" + y φ", moment by moment, x and y from the loaded centre of mass."""
    of, plain, felt = driven
    for criterion, a in (("body_acceleration", plain), ("comfort", felt)):
        for j in range(DESIGNS):
            x = of.state.body.centre[j] - seat.behind_front_axle
            y = seat.left_of_centre - of.state.body.left[j]
            there = a[j, 0] - x * a[j, 1] + y * a[j, 2]
            want = math.sqrt(float(np.mean(there**2)))
            assert figure(of, criterion, seat)[j] == pytest.approx(want, rel=1e-9)
    assert of.state.body.left[0] == pytest.approx((80 * 0.4 - 250 * 0.2) / 1730)


def test_comfort_total_adds_roll(driven: tuple[Ride, Array, Array]) -> None:
    """0.63 m/rad for roll as 0.4 m/rad for pitch (ISO 2631-1:1997, 8.2.2; from memory)."""
    of, response = driven[0], driven[0].response
    for seat in (DRIVER, BACK):
        assert seat.height is not None
        square = figure(of, "comfort", seat) ** 2 + 0.4**2 * response.pitch_weighted
        square += 0.63**2 * cast(Any, response).roll_weighted
        square += (0.8 * (seat.height - 0.55)) ** 2 * response.pitch_backrest
        np.testing.assert_allclose(figure(of, "comfort_total", seat), np.sqrt(square), rtol=1e-12)


def test_roll(driven: tuple[Ride, Array, Array]) -> None:
    of, plain, _ = driven
    np.testing.assert_allclose(figure(of, "roll_angle") ** 2, cast(Any, of.response).roll, rtol=1e-14)
    np.testing.assert_allclose(figure(of, "roll_acceleration") ** 2, np.mean(plain[:, 2] ** 2, axis=1), rtol=1e-12)


def test_wheels_have_their_own_figures(driven: tuple[Ride, Array, Array]) -> None:
    of, state = driven[0], driven[0].state
    for c, wheel in enumerate(WHEELS):
        np.testing.assert_allclose(figure(of, "travel_rms", wheel), np.sqrt(of.response.travel[:, c]), rtol=1e-14)
        frequency = np.sqrt(state.ride_rate[:, c] / state.corner_mass[:, c]) / (2 * np.pi)
        np.testing.assert_allclose(figure(of, "ride_frequency", wheel), frequency, rtol=1e-14)
        load = np.sqrt(of.response.contact_force[:, c]) / state.contact_force[:, c]
        np.testing.assert_allclose(figure(of, "dynamic_load_coefficient", wheel), load, rtol=1e-14)
    np.testing.assert_allclose(figure(of, "sprung_mass"), 1730.0, rtol=1e-14)


def test_frequency_ratio_takes_both_wheels_of_an_axle(driven: tuple[Ride, Array, Array]) -> None:
    state = driven[0].state
    rate, mass = state.ride_rate, state.corner_mass
    front, rear = (np.sqrt((rate[:, c] + rate[:, c + 1]) / (mass[:, c] + mass[:, c + 1])) for c in (0, 2))
    np.testing.assert_allclose(figure(driven[0], "frequency_ratio"), rear / front, rtol=1e-14)


def test_body_sinks_above_each_wheel_as_a_rigid_body(driven: tuple[Ride, Array, Array]) -> None:
    """The sink above the wheels tilts alike on both axles, whatever the springs' places; a load at the centre of mass
    sinks it as the half car's.
    """
    of, body = driven[0], driven[0].state.body
    sink = np.stack([figure(of, "ride_height_change", wheel) for wheel in WHEELS], axis=1)
    for j in range(DESIGNS):
        tilt = (sink[j, ::2] - sink[j, 1::2]) / (body.y[j, ::2] - body.y[j, 1::2])
        assert tilt[0] == pytest.approx(tilt[1], rel=1e-8)
        assert abs(tilt[0]) > 1e-4
    straight = (LOADS[0], Load("straight", (LoadMass(250.0, 2.6),)))
    alike, half = (
        at_rest_under(beam_cars(), straight, 1, ("rear",)),
        at_rest_under(half_car({"front.spring_rate": [18e3, 25e3, 40e3]}), straight, 1),
    )
    row = CRITERIA["ride_height_change"]
    for c in range(4):
        got = row.figure(Standing(alike, alike, {}), corner_places(FULL)[c])
        want = row.figure(Standing(half, half, {}), corner_places(HALF)[c // 2])
        np.testing.assert_allclose(got, want, rtol=1e-9)


def test_roll_gradient_and_share_by_hand() -> None:
    """1400 kg, 52 % in front; springs 25 N/mm, a bar in front, track 1.5 m."""
    car = full_car(HEIGHTS | {"front.anti_roll_rate": [0.0, 10e3]})
    state = at_rest_under(car)
    standing = Standing(state, state, car)
    front, rear = np.array([25e3 / 2, 25e3 / 2 + 10e3]) * 1.5**2, 25e3 / 2 * 1.5**2
    moment = 1400 * G * (0.55 - (0.52 * 0.06 + 0.48 * 0.3))
    got = CRITERIA["roll_gradient"].figure(standing, VEHICLE)
    np.testing.assert_allclose(got, moment / (front + rear - moment), rtol=1e-12)
    np.testing.assert_allclose(CRITERIA["front_roll_share"].figure(standing, VEHICLE), front / (front + rear))


def test_a_load_behind_moves_the_centre_of_mass_along_the_roll_axis() -> None:
    """250 kg 2.6 m behind the front axle: the axis is higher where the centre of 1650 kg then is."""
    car = full_car(HEIGHTS)
    reference, state = (at_rest_under(car, (LOADS[0], Load("trunk", (LoadMass(250.0, 2.6),))), at) for at in (0, 1))
    centre = (1400 * 0.48 * 2.7 + 250 * 2.6) / 1650
    moment = 1650 * G * (0.55 - (0.06 + 0.24 * centre / 2.7))
    got = CRITERIA["roll_gradient"].figure(Standing(state, reference, car), VEHICLE)
    np.testing.assert_allclose(got, moment / (25e3 * 1.5**2 - moment), rtol=1e-12)


def test_a_body_that_falls_over_leans_without_bound() -> None:
    car = full_car(HEIGHTS | {"mass_centre_height": [0.55, 9.0, np.nan]})
    state = at_rest_under(car)
    got = CRITERIA["roll_gradient"].figure(Standing(state, state, car), VEHICLE)
    assert np.isfinite(got).tolist() == [True, False, False]
    assert got[1] == np.inf
    assert np.isnan(got[2])


def test_places_of_a_full_car() -> None:
    named = CRITERIA["travel_rms"].named(FULL, ())
    assert list(named) == ["front", "rear", *WHEELS]
    assert [place.name for place in named["front"]] == list(WHEELS[:2])
    assert [place.at for place in named["rear"]] == [2, 3]
    for c, wheel in enumerate(WHEELS):
        assert named[wheel] == (Place(wheel, corner=c),)
    assert CRITERIA["travel_rms"].counted(FULL, ()) == corner_places(FULL)
    assert seat_places(FULL, (DRIVER, BACK)) == (Place("driver", seat=DRIVER), Place("back right", seat=BACK))
    assert CRITERIA["comfort"].named(FULL, (DRIVER,)) == {"driver": (Place("driver", seat=DRIVER),), "body": (BODY,)}


def test_axles_of_places() -> None:
    named = CRITERIA["travel_rms"].named(FULL, ())
    assert axles_of(FULL, named["rear"]) == ("rear",)
    assert axles_of(FULL, named["front_right"]) == ("front",)
    assert axles_of(FULL, corner_places(FULL)) == ("front", "rear")
    assert axles_of(HALF, corner_places(HALF)) == ("front", "rear")
    assert axles_of(FULL, (BODY,)) == ()
