"""Criteria of the time domain against their formulas, worked out by hand from histories of the same drive."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from builders import at_rest_under, figure, half_car, iso_road
from ridefront.criteria.comfort import peak_acceleration, transient_vibration, vibration_dose
from ridefront.criteria.ride import BODY, Place, Ride
from ridefront.response.digital import low_pass, sections
from ridefront.response.drive import Drive, drive
from ridefront.response.simulate import PEAK_FREQUENCY, histories
from ridefront.response.time_domain import Simulation
from ridefront.response.weighting import WEIGHTINGS
from ridefront.road import Obstacle
from ridefront.vehicle import Load, LoadMass, Seat

Array = NDArray[np.float64]

LOADS = (Load("reference", reference=True), Load("laden", (LoadMass(250.0, 2.4),)))
DRIVER = Seat("driver", 1.3)
SEAT = Place("driver", seat=DRIVER)
WHEELBASE = 2.7
SPEED = 8.0
PATCH = 0.1


@dataclass(frozen=True)
class Case:
    """A ride over one bump, and its histories: displacements and speeds (n, 4, t) as deviations from rest."""

    ride: Ride
    way: Drive
    x: Array
    v: Array


@pytest.fixture(scope="module")
def case() -> Case:
    changes: dict[str, float | list[float]] = {"front.spring_rate": [18e3, 25e3, 40e3]}
    for axle in ("front", "rear"):
        changes |= {
            f"{axle}.bump_share": 0.35,
            f"{axle}.tyre_damping": 60.0,
            f"{axle}.bump_travel": 0.1,
            f"{axle}.rebound_travel": 0.09,
            f"{axle}.bump_clearance": [0.02, 0.04, 0.05],
            f"{axle}.bump_stop_rate": 60e3,
            f"{axle}.bump_stop_progression": 1.0,
            f"{axle}.rebound_clearance": 0.03,
            f"{axle}.rebound_stop_rate": 80e3,
            f"{axle}.rebound_stop_progression": 0.0,
        }
    car = half_car(changes)
    state = at_rest_under(car, LOADS, 1)
    bump = Obstacle("bump", "half-sine", height=0.09, length=0.9)
    way = drive(bump, SPEED, PATCH, WHEELBASE, 5e-4, seed=0)
    arms = np.stack([state.body.centre - DRIVER.behind_front_axle, np.zeros(3)], axis=1)
    response = Simulation(state, way, arms).response()
    ride = Ride(state, at_rest_under(car, LOADS, 0), car, response, ("driver", "body"))
    x, v = histories(state, way)
    return Case(ride, way, x, v)


def travel(case: Case, c: int) -> Array:
    """Travel from the reference position, (n, steps)."""
    state = case.ride.state
    body = case.x[:, 0] - state.body.x[:, c : c + 1] * case.x[:, 1]
    return np.asarray(state.travel[:, c : c + 1] + case.x[:, 2 + c] - body)[:, :-1]


def corner_forces(case: Case, c: int) -> tuple[Array, Array, Array]:
    """Travel law's force beyond the static one and the damper's, stop forces, contact force; (n, steps)."""
    state = case.ride.state
    s = travel(case, c)
    w = (case.v[:, 2 + c] - case.v[:, 0] + state.body.x[:, c : c + 1] * case.v[:, 1])[:, :-1]
    force, stops = np.empty_like(s), np.empty_like(s)
    for k in range(s.shape[1]):
        both = np.stack([s[:, k]] * 2, axis=1), np.stack([w[:, k]] * 2, axis=1)
        force[:, k] = (state.travel_law.force(both[0]) - state.extra + state.speed_law.force(both[1]))[:, c]
        bump, rebound = state.travel_law.hinges
        past = [np.maximum(0.0, h.sign * s[:, k] - h.start[:, c]) for h in (bump, rebound)]
        stops[:, k] = np.maximum(*(
            (h.rate[:, c] + h.growth[:, c] * d) * d for h, d in zip((bump, rebound), past, strict=True)
        ))  # fmt: skip
    heights = case.way.heights[0, c]
    a, m, b = heights[:-1:2], heights[1::2], heights[2::2]
    slope = (4 * m - 3 * a - b) / case.way.step
    elastic = state.contact_force[:, c : c + 1] + state.tyre_rate[:, c : c + 1] * (a - case.x[:, 2 + c, :-1])
    contact = elastic + state.tyre_damping[:, c : c + 1] * (slope - case.v[:, 2 + c, :-1])
    return force, stops, np.where((elastic > 0) & (contact > 0), contact, 0.0)


def seat_acceleration(case: Case, arm: float = 1.0) -> Array:
    """(n, steps), m/s², from the forces; of the centre of mass with `arm` 0."""
    state = case.ride.state
    forces = [corner_forces(case, c)[0] for c in (0, 1)]
    z = (forces[0] + forces[1]) / state.body.mass[:, None]
    moment = -(state.body.x[:, :1] * forces[0] + state.body.x[:, 1:] * forces[1])
    ahead = arm * (state.body.centre - DRIVER.behind_front_axle)[:, None]
    return np.asarray(z - ahead * moment / state.body.pitch_inertia[:, None])


def through(filters: tuple[tuple[float, ...], ...], y: Array) -> Array:
    sos = np.array([(b0, b1, b2, 1.0, a1, a2) for b0, b1, b2, a1, a2 in filters])
    return np.asarray(signal.sosfilt(sos, y, axis=1))


def test_largest_travel_and_reserves(case: Case) -> None:
    state = case.ride.state
    assert state.bump_travel is not None
    assert state.rebound_travel is not None
    for c, axle in enumerate(("front", "rear")):
        s = travel(case, c)
        largest = np.abs(s - state.travel[:, c : c + 1]).max(axis=1)
        np.testing.assert_allclose(figure(case.ride, "rattle_space", axle), largest, rtol=1e-9)
        np.testing.assert_allclose(
            figure(case.ride, "bump_reserve", axle), state.bump_travel[:, c] - s.max(axis=1), rtol=1e-9
        )
        np.testing.assert_allclose(
            figure(case.ride, "rebound_reserve", axle), state.rebound_travel[:, c] + s.min(axis=1), rtol=1e-9
        )


def test_stops_and_contact(case: Case) -> None:
    counted = slice(case.way.first, None)
    for c, axle in enumerate(("front", "rear")):
        _, stops, contact = (part[:, counted] for part in corner_forces(case, c))
        np.testing.assert_allclose(figure(case.ride, "stop_force", axle), stops.max(axis=1), rtol=1e-9)
        assert np.all(stops.max(axis=1) > 0)
        past = travel(case, c)[:, counted] > case.ride.state.travel_law.hinges[0].start[:, c : c + 1]
        np.testing.assert_allclose(figure(case.ride, "bump_stop_engagement", axle), past.mean(axis=1), rtol=1e-12)
        np.testing.assert_allclose(
            case.ride.response.contact_force[:, c],
            ((contact - case.ride.state.contact_force[:, c : c + 1]) ** 2).mean(axis=1),
            rtol=1e-9,
        )
        np.testing.assert_allclose(figure(case.ride, "wheel_lift_off", axle), (contact == 0).mean(axis=1), atol=1e-12)


def test_dose_running_rms_and_peak_at_a_seat(case: Case) -> None:
    a, heave = seat_acceleration(case), seat_acceleration(case, arm=0.0)
    weighted = through(sections(WEIGHTINGS["Wk"], case.way.step), a)
    dose = (case.way.step * (weighted**4).sum(axis=1)) ** 0.25
    np.testing.assert_allclose(vibration_dose(case.ride, SEAT), dose, rtol=1e-8)
    square, largest = np.zeros(len(a)), np.zeros(len(a))
    for sample in weighted.T:
        square = square + (1 - np.exp(-case.way.step)) * (sample**2 - square)
        largest = np.maximum(largest, np.sqrt(square))
    np.testing.assert_allclose(transient_vibration(case.ride, SEAT), largest, rtol=1e-8)
    at_body = figure(case.ride, "transient_vibration", "body")
    np.testing.assert_array_equal(at_body, transient_vibration(case.ride, BODY))
    assert np.all(at_body != largest)
    low = through((low_pass(PEAK_FREQUENCY, case.way.step),), a)
    np.testing.assert_allclose(peak_acceleration(case.ride, SEAT), np.abs(low).max(axis=1), rtol=1e-8)
    np.testing.assert_array_equal(figure(case.ride, "peak_acceleration", "body"), peak_acceleration(case.ride, BODY))
    weighted = through(sections(WEIGHTINGS["Wk"], case.way.step), heave)
    dose = (case.way.step * (weighted**4).sum(axis=1)) ** 0.25
    np.testing.assert_allclose(figure(case.ride, "vibration_dose", "body"), dose, rtol=1e-8)


def test_pitch_is_taken_about_its_mean() -> None:
    """In front dampers hold rebound more than bump and pull the body down, behind it is the other way round: on a poor
    road the mean pitch is more than half of the deviation about it.
    """
    car = half_car({"front.damping": 3000.0, "front.bump_share": 0.05, "rear.damping": 3000.0, "rear.bump_share": 0.95})
    state = at_rest_under(car)
    way = drive(iso_road("D", length=200.0), 20.0, PATCH, WHEELBASE, 1e-3, seed=3, realisations=1)
    response = Simulation(state, way, np.zeros((1, 1))).response()
    pitch = histories(state, way)[0][0, 1, way.first : -1]
    mean = pitch.mean()
    assert abs(mean) > 0.5 * pitch.std()
    assert response.pitch[0] == pytest.approx(pitch.var(), rel=1e-9)
    ride = Ride(state, state, car, response, ("body",))
    assert figure(ride, "pitch_angle")[0] == pytest.approx(pitch.std(), rel=1e-9)


def test_pitch_after_the_obstacle_and_settling(case: Case) -> None:
    first, last = case.way.window
    assert (last - first) * case.way.step == pytest.approx(1.0, abs=1e-3)
    passed = 1.0 + 0.9 + PATCH / 2 + WHEELBASE
    assert first * case.way.step * SPEED == pytest.approx(passed, abs=SPEED * case.way.step)
    rms = np.sqrt((case.x[:, 1, first:last] ** 2).mean(axis=1))
    np.testing.assert_allclose(figure(case.ride, "residual_pitch"), rms, rtol=1e-9)
    heave = np.abs(case.x[:, 0])
    for j, time in enumerate(figure(case.ride, "settling_time")):
        beyond = np.flatnonzero(heave[j] > 0.05 * heave[j].max())[-1]
        assert time == pytest.approx((beyond + 1 - case.way.first) * case.way.step, abs=1e-12)
        assert case.way.first * case.way.step * SPEED == pytest.approx(1.0 - PATCH / 2, abs=SPEED * case.way.step)
