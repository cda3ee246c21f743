"""The same mean squares without a frequency grid: white noise through state space, by Lyapunov's equation.

With waviness 2 a road's vertical speed is white. A vehicle of states x = (tyre deflections, travels, speeds) then has
the covariance P of A P + P Aᵀ + W B Bᵀ = 0. The rear axle meets the same noise a time τ later, which needs no
approximation: with x = x_f + x_r, E[x_f x_rᵀ] = exp(A τ) X, A X + X Aᵀ + W B_f B_rᵀ = 0, because what the front has
done with the noise since is carried on by exp(A τ).

The noise has no band, so the roads here have one so wide that nothing but the contact force, whose spectrum falls only
with 1/ω², notices its end; what is missing there is added in closed form. Tyres have no damping (with it the contact
force of white noise is infinite). The pitch angle is left out: it needs the road's height, which white noise lacks.
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.linalg
from numpy.typing import NDArray

from ridefront.response.frequency import frequency_response
from ridefront.response.grid import Grid, condition_grid
from ridefront.response.weighting import WEIGHTINGS, Weighting
from ridefront.road import Road
from ridefront.vehicle.static import AtRest
from twins.vehicles import WHEELBASE, linear_car, rest

Array = NDArray[np.float64]

SPEED = 20.0
WIDE = Road("wide", 64e-6, band=(1e-5, 1e3))
CARS = 6


def wide_grid(model: str) -> Grid:
    return condition_grid(WIDE, SPEED, 0.0, WHEELBASE if model == "half-car" else 0.0, density=4)


def undamped_tyres(seed: int) -> dict[str, Array]:
    car = linear_car(np.random.default_rng(seed), CARS)
    return car | {f"{axle}.tyre_damping": np.zeros(CARS) for axle in ("front", "rear")}


def state_space(state: AtRest, damping: Array, j: int) -> tuple[Array, Array, Array]:
    """A, B (a column an axle, speed of the road) and rows of (z", θ") for one design.

    States: r - u and u - z_c of every corner, then the speeds of body and wheels.
    """
    corners = damping.shape[1]
    motions = len(state.model.motions)
    above = np.ones((corners, motions))
    if motions > 1:
        above[:, 1] = -state.body.x[j]
    size = 2 * corners + motions + corners
    A, B = np.zeros((size, size)), np.zeros((size, corners))
    inertia = [state.body.mass[j], state.body.pitch_inertia[j]][:motions]
    body, wheel = 2 * corners, 2 * corners + motions
    for c in range(corners):
        deflection, travel = c, corners + c
        A[deflection, wheel + c], B[deflection, c] = -1.0, 1.0
        A[travel, wheel + c] = 1.0
        A[travel, body : body + motions] = -above[c]
        force = np.zeros(size)  # on the body
        force[travel] = state.wheel_rate[j, c]
        force += damping[j, c] * A[travel]
        for i in range(motions):
            A[body + i] += above[c, i] * force / inertia[i]
        A[wheel + c] -= force / state.unsprung_mass[j, c]
        A[wheel + c, deflection] += state.tyre_rate[j, c] / state.unsprung_mass[j, c]
    return A, B, A[body : body + motions]


def covariance(A: Array, B: Array, intensity: float, lag: float) -> Array:
    """Covariance of the states when column c of B sees the noise c·lag late."""
    total = np.zeros_like(A)
    for c in range(B.shape[1]):
        total += scipy.linalg.solve_continuous_lyapunov(A, -intensity * np.outer(B[:, c], B[:, c]))
    if B.shape[1] == 2:
        cross = scipy.linalg.solve_continuous_lyapunov(A, -intensity * np.outer(B[:, 0], B[:, 1]))
        late = scipy.linalg.expm(A * lag) @ cross
        total += late + late.T
    return total


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_mean_squares_of_white_noise(model: str) -> None:
    state = rest(undamped_tyres(1), model)
    grid = wide_grid(model)
    response = frequency_response(state, grid)
    corners = state.wheel_rate.shape[1]
    beyond = grid.intensity / (np.pi * grid.omega[-1])  # ∫ of W/ω² past the band, of the tyre's deflection
    for j in range(CARS):
        A, B, rows = state_space(state, response.damping, j)
        P = covariance(A, B, grid.intensity, grid.lag)
        for c in range(corners):
            speed = A[corners + c]
            contact = state.tyre_rate[j, c] ** 2 * (P[c, c] - beyond)
            assert response.travel[j, c] == pytest.approx(P[corners + c, corners + c], rel=1e-5)
            assert response.travel_speed[j, c] == pytest.approx(speed @ P @ speed, rel=1e-5)
            assert response.contact_force[j, c] == pytest.approx(contact, rel=1e-5)
        products = rows @ P @ rows.T
        assert response.acceleration[j, 0] == pytest.approx(products[0, 0], rel=1e-5)
        if corners == 2:
            room = 1e-5 * np.sqrt(products[0, 0] * products[1, 1])
            assert response.acceleration[j, 1] == pytest.approx(products[0, 1], abs=room)
            assert response.acceleration[j, 2] == pytest.approx(products[1, 1], rel=1e-5)


def test_the_delay_matters_to_the_cross_term() -> None:
    """Without the correlation of the axles the twin is far off, so the test above does test it."""
    state = rest(undamped_tyres(2))
    grid = wide_grid("half-car")
    response = frequency_response(state, grid)
    A, B, rows = state_space(state, response.damping, 0)
    alone = sum(covariance(A, B[:, [c]], grid.intensity, 0.0) for c in range(2))
    assert abs(float((rows @ alone @ rows.T)[0, 0]) / response.acceleration[0, 0] - 1) > 0.02


def test_damper_spends_what_the_tyre_takes_up() -> None:
    """c σ² = k_t W/2 of a quarter car, whatever its springs and masses."""
    state = rest(undamped_tyres(3), "quarter-car")
    grid = wide_grid("quarter-car")
    response = frequency_response(state, grid)
    spent = response.damping * response.travel_speed
    np.testing.assert_allclose(spent, 0.5 * state.tyre_rate * grid.intensity, rtol=1e-5)


def second_order_sections(weighting: Weighting) -> list[tuple[Array, Array]]:
    """Factors of a weighting as (numerator, denominator) in s, highest power first."""
    w1, w2, w3, w4 = (2 * np.pi * f for f in (weighting.f1, weighting.f2, weighting.f3, weighting.f4))
    w5, w6 = 2 * np.pi * weighting.f5, 2 * np.pi * weighting.f6
    return [
        (np.array([1.0, 0.0, 0.0]), np.array([1.0, np.sqrt(2) * w1, w1**2])),
        (np.array([0.0, 0.0, w2**2]), np.array([1.0, np.sqrt(2) * w2, w2**2])),
        (np.array([0.0, w4**2 / w3, w4**2]), np.array([1.0, w4 / weighting.q4, w4**2])),
        (np.array([1.0, w5 / weighting.q5, w5**2]), np.array([1.0, w6 / weighting.q6, w6**2])),
    ]


def append_section(A: Array, B: Array, row: Array, section: tuple[Array, Array]) -> tuple[Array, Array, Array]:
    """A, B and output row with one more second-order section behind the old output (controllable form)."""
    (b2, b1, b0), (_, a1, a0) = section
    size = len(A)
    wider = np.zeros((size + 2, size + 2))
    wider[:size, :size] = A
    wider[size, size + 1] = 1.0
    wider[size + 1, :size] = row
    wider[size + 1, size:] = [-a0, -a1]
    out = np.concatenate([b2 * row, [b0 - b2 * a0, b1 - b2 * a1]])
    return wider, np.vstack([B, np.zeros((2, B.shape[1]))]), out


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_weighted_acceleration_of_white_noise(model: str) -> None:
    """Wk as four sections in series behind the body's acceleration."""
    state = rest(undamped_tyres(4), model)
    grid = wide_grid(model)
    response = frequency_response(state, grid)
    for j in range(CARS):
        A, B, rows = state_space(state, response.damping, j)
        row = rows[0]
        for section in second_order_sections(WEIGHTINGS["Wk"]):
            A, B, row = append_section(A, B, row, section)
        P = covariance(A, B, grid.intensity, grid.lag)
        assert response.weighted[j, 0] == pytest.approx(row @ P @ row, rel=1e-5)
