"""Rest against root finding on force laws written anew, bodies against heaps of point masses, laws against energy."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.body import body_under
from ridefront.vehicle.elements import speed_law, travel_law
from twins.vehicles import AXLES, LOADS, WHEELBASE, linear_car, real_car, rest

Array = NDArray[np.float64]
G = 9.80665


def elastic_force(car: dict[str, Array], j: int, axle: str, s: float) -> float:
    """Force at the wheel of spring and stops at wheel travel s: element forces times their ratios."""
    spring, stop = car[f"{axle}.spring_ratio"][j], car[f"{axle}.damper_ratio"][j]
    force = spring * car[f"{axle}.spring_rate"][j] * (spring * s)
    for sign, way in ((1, "bump"), (-1, "rebound")):
        depth = sign * stop * s - car[f"{axle}.{way}_clearance"][j]
        if depth > 0:
            rate, progression = car[f"{axle}.{way}_stop_rate"][j], car[f"{axle}.{way}_stop_progression"][j]
            force += sign * stop * rate * depth * (1 + progression * depth / 0.1)
    return float(force)


def corner_loads(car: dict[str, Array], j: int, load: Load) -> tuple[float, float]:
    """Weight on a front and a rear wheel's spring: every mass by the lever rule, halved."""
    mass, share = car["body.mass"][j], car["front_share"][j]
    front, rear = mass * share, mass * (1 - share)
    for item in load.masses:
        aft = item.behind_front_axle / WHEELBASE
        front, rear = front + item.mass * (1 - aft), rear + item.mass * aft
    return 0.5 * front * G, 0.5 * rear * G


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_static_travel_against_root_finding(model: str) -> None:
    car = real_car(np.random.default_rng(41), 40)
    loads = (LOADS[0], Load("far more", (LoadMass(150.0, 1.4), LoadMass(900.0, 2.2))), Load("empty"))
    engaged = 0
    for at, load in enumerate(loads):
        state = rest(car, model, loads, at)
        assert state.possible.all()
        for j in range(40):
            now, reference = corner_loads(car, j, load), corner_loads(car, j, loads[0])
            for c in range(state.travel.shape[1]):
                axle, extra = AXLES[c], now[c] - reference[c]

                def balance(s: float, j: int = j, axle: str = axle, extra: float = extra) -> float:
                    return elastic_force(car, j, axle, s) - extra

                want = brentq(balance, -1.0, 1.0, xtol=1e-15, rtol=1e-14)
                assert state.travel[j, c] == pytest.approx(want, rel=1e-9, abs=1e-12)
                assert state.tyre_sink[j, c] == pytest.approx(extra / car[f"{axle}.tyre_rate"][j], rel=1e-9, abs=1e-15)
                weight = now[c] + car[f"{axle}.unsprung_mass"][j] * G
                assert state.contact_force[j, c] == pytest.approx(weight, rel=1e-12)
                slope = elastic_force(car, j, axle, want + 1e-6) - elastic_force(car, j, axle, want - 1e-6)
                assert state.wheel_rate[j, c] == pytest.approx(slope / 2e-6, rel=1e-4)
                engaged += abs(want) * car[f"{axle}.damper_ratio"][j] > car[f"{axle}.bump_clearance"][j]
    assert engaged > 10, "the loads should press some cars onto their stops"


def test_reference_position_is_where_the_reference_load_sits() -> None:
    state = rest(real_car(np.random.default_rng(42), 20), "half-car", LOADS)
    assert np.array_equal(state.travel, np.zeros((20, 2)))
    assert np.array_equal(state.tyre_sink, np.zeros((20, 2)))


def test_body_against_point_masses() -> None:
    """The unladen body as two point masses that have its mass, centre and inertia; a load's bar as a thousand."""
    car = linear_car(np.random.default_rng(43), 8)
    load = Load("full", (LoadMass(160.0, 1.3), LoadMass(220.0, 2.9, 1.5), LoadMass(40.0, -0.4, 0.6)))
    body = body_under(car, model_of("half-car"), load)
    for j in range(8):
        mass, centre = car["body.mass"][j], (1 - car["front_share"][j]) * WHEELBASE
        gyration = np.sqrt(car["body.dynamic_index"][j] * centre * (WHEELBASE - centre))
        masses, places = [mass / 2, mass / 2], [centre - gyration, centre + gyration]
        for item in load.masses:
            pieces = 1000
            masses += [item.mass / pieces] * pieces
            places += list(item.behind_front_axle + item.length * ((np.arange(pieces) + 0.5) / pieces - 0.5))
        m, x = np.array(masses), np.array(places)
        middle = np.sum(m * x) / np.sum(m)
        assert body.mass[j] == pytest.approx(np.sum(m) / 2, rel=1e-12)
        assert body.centre[j] == pytest.approx(middle, rel=1e-12)
        assert body.pitch_inertia[j] == pytest.approx(np.sum(m * (x - middle) ** 2) / 2, rel=1e-6)
        np.testing.assert_allclose(body.x[j], [middle, middle - WHEELBASE], rtol=1e-12)
        rear = np.sum(m * x) / WHEELBASE / 2
        np.testing.assert_allclose(body.corner_mass[j], [np.sum(m) / 2 - rear, rear], rtol=1e-12)


def test_quarter_car_carries_what_its_corner_of_the_half_car_does() -> None:
    car = real_car(np.random.default_rng(44), 12)
    half = body_under(car, model_of("half-car"), LOADS[1])
    for c, axle in enumerate(AXLES):
        quarter = body_under(car, model_of("quarter-car", axle), LOADS[1])
        np.testing.assert_allclose(quarter.corner_mass[:, 0], half.corner_mass[:, c], rtol=1e-13)
        assert np.array_equal(quarter.mass, quarter.corner_mass[:, 0])


def stored_energy(car: dict[str, Array], j: int, axle: str, s: float) -> float:
    """Energy of spring and stops at wheel travel s, from their own deflections; no ratio multiplies a force."""
    energy = 0.5 * car[f"{axle}.spring_rate"][j] * (car[f"{axle}.spring_ratio"][j] * s) ** 2
    for sign, way in ((1, "bump"), (-1, "rebound")):
        depth = max(0.0, sign * car[f"{axle}.damper_ratio"][j] * s - car[f"{axle}.{way}_clearance"][j])
        rate, progression = car[f"{axle}.{way}_stop_rate"][j], car[f"{axle}.{way}_stop_progression"][j]
        energy += rate * (depth**2 / 2 + progression * depth**3 / 3 / 0.1)
    return float(energy)


def test_travel_law_is_the_slope_of_stored_energy() -> None:
    car = real_car(np.random.default_rng(45), 10)
    law = travel_law(car, AXLES)
    step = 1e-5
    for s in (-0.11, -0.06, -0.004, 0.0, 0.03, 0.08, 0.12):
        force = law.force(np.full((10, 2), s))
        for j in range(10):
            for c, axle in enumerate(AXLES):
                rise = stored_energy(car, j, axle, s + step) - stored_energy(car, j, axle, s - step)
                assert force[j, c] == pytest.approx(rise / (2 * step), rel=1e-6, abs=0.02)


def spent_power(car: dict[str, Array], j: int, axle: str, w: float) -> float:
    """Power of the damper at wheel speed w: element force times element speed, knees in the element's own speed."""
    v = car[f"{axle}.damper_ratio"][j] * w
    share = car[f"{axle}.bump_share"][j] if v > 0 else 1 - car[f"{axle}.bump_share"][j]
    slope, knee = 2 * share * car[f"{axle}.damping"][j], car[f"{axle}.knee_speed"][j]
    beyond = max(0.0, abs(v) - knee)
    return float(slope * (min(abs(v), knee) + car[f"{axle}.knee_share"][j] * beyond) * abs(v))


def test_speed_law_spends_the_power_of_the_damper() -> None:
    car = real_car(np.random.default_rng(46), 10)
    law = speed_law(car, AXLES)
    for w in (-1.5, -0.4, -0.05, 0.02, 0.3, 2.0):
        force = law.force(np.full((10, 2), w))
        for j in range(10):
            for c, axle in enumerate(AXLES):
                assert force[j, c] * w == pytest.approx(spent_power(car, j, axle, w), rel=1e-12)
