"""Statistical linearisation of stops, friction and a bilinear damper against a plain simulation of the real corner.

A laden rear corner rests near its bump stop. What matters: no jump where the stop is touched, and figures near those of
the non-linear corner. The simulation is as plain as it can be: Runge-Kutta, a step of 1 ms, the road also at the half
step.
"""

from __future__ import annotations

import numpy as np
import pytest
from numba import njit
from numpy.typing import NDArray

from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import condition_grid
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.static import GRAVITY, AtRest, at_rest

Array = NDArray[np.float64]

SPEED, LENGTH, STEP, PATCH = 60 / 3.6, 6000.0, 1e-3, 0.12
EMPTY, LADEN, WHEEL, TYRE = 350.0, 550.0, 42.0, 215e3
BUMP, REBOUND, FRICTION, CREEP = 1550.0, 3100.0, 35.0, 0.005
GAP, STOP, PROGRESSION = 0.068, 31e3, 2.4  # at the wheel


def corner(rate: float) -> AtRest:
    """The corner under its load, as the engine has it."""
    keys = {
        "body.corner_mass": EMPTY, "wheelbase": 2.8, "rear.unsprung_mass": WHEEL, "rear.spring_rate": rate,
        "rear.spring_ratio": 1.0, "rear.damping_bump": BUMP, "rear.damping_rebound": REBOUND, "rear.damper_ratio": 1.0,
        "rear.friction": FRICTION, "rear.friction_speed": CREEP, "rear.tyre_rate": TYRE, "rear.tyre_damping": 0.0,
        "rear.bump_clearance": GAP, "rear.bump_stop_rate": STOP, "rear.bump_stop_progression": PROGRESSION,
    }  # fmt: skip
    loads = (Load("empty", (), True), Load("laden", (LoadMass(2 * (LADEN - EMPTY), 2.8),)))
    parameters = {key: np.full(1, value) for key, value in keys.items()}
    return at_rest(parameters, model_of("quarter-car", "rear"), loads, 0)[1]


def linearised(rate: float, letter: str) -> FrequencyResponse:
    grid = condition_grid(Road(letter, CLASSES[letter]), SPEED, PATCH, 0.0)
    return frequency_response(corner(rate), grid)


def road(letter: str) -> Array:
    """Heights at half steps: the spectrum's amplitudes exactly, random phases."""
    dx = SPEED * STEP / 2
    count = 2 * int(LENGTH / dx / 2)
    n = np.fft.rfftfreq(count, dx)
    inside = (n >= 0.011) & (n <= 2.83)
    density = CLASSES[letter] * (n[inside] / 0.1) ** -2 * np.sinc(n[inside] * PATCH) ** 2
    amplitudes = np.zeros(len(n), dtype=np.complex128)
    phases = np.random.default_rng(3).uniform(0, 2 * np.pi, int(inside.sum()))
    amplitudes[inside] = np.sqrt(2 * density / (count * dx)) * np.exp(1j * phases) * count / 2
    return np.fft.irfft(amplitudes, count)


@njit
def simulate(heights, rate):  # type: ignore[no-untyped-def]
    """Travel from the reference position, acceleration of the body, dynamic contact force, a row a step."""
    steps = len(heights) // 2 - 1
    found = np.empty((steps, 3))
    extra = (LADEN - EMPTY) * GRAVITY
    state = np.zeros(4)  # body, wheel, their speeds
    state[0] = -0.06
    for i in range(steps):
        total = np.zeros(4)
        now = state.copy()
        for stage in range(4):
            height = heights[2 * i + (0 if stage == 0 else 1 if stage < 3 else 2)]
            s, w = now[1] - now[0], now[3] - now[2]
            force = rate * s + (BUMP if w > 0 else REBOUND) * w + FRICTION * w / np.sqrt(w * w + CREEP * CREEP)
            depth = s - GAP
            if depth > 0:
                force += STOP * depth * (1 + PROGRESSION * depth / 0.1)
            contact = max(TYRE * (height - now[1]), -(LADEN + WHEEL) * GRAVITY)
            slope = np.array([now[2], now[3], (force - extra) / LADEN, (contact - force + extra) / WHEEL])
            if stage == 0:
                found[i] = s, slope[2], contact
            total += slope * (1 if stage in (0, 3) else 2) / 6
            now = state + slope * (STEP / 2 if stage < 2 else STEP)
        state = state + STEP * total
    return found


@pytest.mark.parametrize("letter", ["B", "C"])
@pytest.mark.parametrize("rate", [24e3, 27e3, 29.5e3, 31e3, 34e3, 40e3])
def test_a_corner_near_its_stop(rate: float, letter: str) -> None:
    """Within 2 % of the simulation on either side of the touch: the sampling of 6 km, and that travel is not
    Gaussian.
    """
    response = linearised(rate, letter)
    ride = simulate(road(letter), rate)[5000:]
    travel, acceleration, contact = ride.std(axis=0)
    assert np.sqrt(response.acceleration[0, 0]) == pytest.approx(acceleration, rel=0.02)
    assert np.sqrt(response.contact_force[0, 0]) == pytest.approx(contact, rel=0.025)
    assert np.sqrt(response.travel[0, 0]) == pytest.approx(travel, rel=0.035)
    assert response.mean_travel[0, 0] == pytest.approx(ride[:, 0].mean(), abs=0.5e-3)


def test_nothing_jumps_where_the_stop_is_touched() -> None:
    """The slope at rest doubles between two springs that differ by a thousandth; the ride's figures hardly move."""
    touch = (LADEN - EMPTY) * GRAVITY / GAP
    before, after = corner(touch * 0.9995), corner(touch * 1.0005)
    assert before.wheel_rate[0, 0] > 1.9 * after.wheel_rate[0, 0]
    pair = [linearised(touch * share, "C") for share in (0.9995, 1.0005)]
    assert np.sqrt(pair[0].acceleration[0, 0] / pair[1].acceleration[0, 0]) == pytest.approx(1, abs=2e-3)
    assert pair[0].wheel_rate[0, 0] == pytest.approx(pair[1].wheel_rate[0, 0], rel=5e-3)
