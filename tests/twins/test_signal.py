"""Transfer functions and weightings against scipy.signal, which knows nothing of wheels."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from numpy.polynomial import polynomial
from numpy.typing import NDArray

from ridefront.response.frequency import frequency_response
from ridefront.response.weighting import WEIGHTINGS
from ridefront.vehicle.static import AtRest
from twins.vehicles import grid_of, linear_car, rest

Array = NDArray[np.float64]


@pytest.mark.parametrize("name", sorted(WEIGHTINGS))
def test_weighting_against_polynomials(name: str) -> None:
    """Numerator and denominator multiplied out (ISO 8041's factors) and handed to `scipy.signal.freqs`."""
    c = WEIGHTINGS[name]
    w1, w2, w4 = (2 * np.pi * f for f in (c.f1, c.f2, c.f4))
    top = np.array([0.0, 0.0, w2**2])
    bottom = polynomial.polymul([w1**2, np.sqrt(2) * w1, 1], [w2**2, np.sqrt(2) * w2, 1])
    top = polynomial.polymul(top, [1.0] if np.isinf(c.f3) else [1.0, 1 / (2 * np.pi * c.f3)])
    bottom = polynomial.polymul(bottom, [1, 1 / (c.q4 * w4), 1 / w4**2])
    if np.isfinite(c.f5):
        w5, w6 = 2 * np.pi * c.f5, 2 * np.pi * c.f6
        top = polynomial.polymul(top, np.array([w5**2, w5 / c.q5, 1.0]))
        bottom = polynomial.polymul(bottom, np.array([w6**2, w6 / c.q6, 1.0]))
    f = np.geomspace(0.05, 200.0, 60)
    _, H = scipy.signal.freqs(top[::-1], bottom[::-1], 2 * np.pi * f)
    weighting = WEIGHTINGS[name]
    np.testing.assert_allclose(weighting.response(f), H, rtol=1e-11)
    np.testing.assert_allclose(weighting.squared(f), np.abs(H) ** 2, rtol=1e-11)


def test_quarter_car_against_transfer_functions() -> None:
    """z/r = k_t (c s + k)/D and u/r = k_t (m s² + c s + k)/D, D the textbook quartic (no tyre damping)."""
    car = linear_car(np.random.default_rng(31), 5) | {"front.tyre_damping": np.zeros(5)}
    state = rest(car, "quarter-car")
    grid = grid_of("quarter-car", 20.0)
    response = frequency_response(state, grid)
    for j in range(5):
        m, m_u = state.body.mass[j], state.unsprung_mass[j, 0]
        k, c, k_t = state.wheel_rate[j, 0], response.damping[j, 0], state.tyre_rate[j, 0]
        D = [m * m_u, c * (m + m_u), k * (m + m_u) + k_t * m, c * k_t, k * k_t]
        _, z = scipy.signal.freqs([k_t * c, k_t * k], D, grid.omega)
        _, u = scipy.signal.freqs([k_t * m, k_t * c, k_t * k], D, grid.omega)
        w = grid.omega
        assert response.acceleration[j, 0] == pytest.approx(np.sum(np.abs(w**2 * z) ** 2 * grid.power), rel=1e-9)
        assert response.travel[j, 0] == pytest.approx(np.sum(np.abs(u - z) ** 2 * grid.power), rel=1e-9)
        assert response.contact_force[j, 0] == pytest.approx(np.sum(np.abs(k_t * (1 - u)) ** 2 * grid.power), rel=1e-9)


def _road_to_motions(state: AtRest, damping: Array, j: int) -> tuple[Array, Array]:
    """x' = A x + B r of half a car, x = (z, θ, u_f, u_r and their rates)."""
    M = np.diag([state.body.mass[j], state.body.pitch_inertia[j], *state.unsprung_mass[j]])
    travel = np.array([[-1.0, state.body.x[j, 0], 1.0, 0.0], [-1.0, state.body.x[j, 1], 0.0, 1.0]])
    K = travel.T @ np.diag(state.wheel_rate[j]) @ travel + np.diag([0.0, 0.0, *state.tyre_rate[j]])
    C = travel.T @ np.diag(damping[j]) @ travel
    A = np.block([[np.zeros((4, 4)), np.eye(4)], [-np.linalg.solve(M, K), -np.linalg.solve(M, C)]])
    B = np.zeros((8, 2))
    B[6, 0], B[7, 1] = state.tyre_rate[j] / state.unsprung_mass[j]
    return A, B


def test_half_car_against_a_system_with_two_inputs() -> None:
    """`scipy.signal` takes the road under each axle in turn; a floor point's acceleration is the sum, the rear late."""
    zeros = {f"{axle}.tyre_damping": np.zeros(3) for axle in ("front", "rear")}
    state = rest(linear_car(np.random.default_rng(32), 3) | zeros)
    grid = grid_of("half-car", 25.0)
    response = frequency_response(state, grid)
    lag = np.exp(-1j * grid.omega * grid.lag)
    for j in range(3):
        A, B = _road_to_motions(state, response.damping, j)
        for place in (0.7, -1.1):  # ahead of the centre of mass, m
            row = np.zeros((1, 8))
            row[0, :2] = 1.0, -place
            amplitude = np.zeros(len(lag), dtype=np.complex128)
            for c, late in enumerate((np.ones_like(lag), lag)):
                top, bottom = scipy.signal.ss2tf(A, B[:, [c]], row, np.zeros((1, 1)))
                # Road to body is through a tyre, a wheel and a damper: three poles more than zeros; the rest rounds.
                _, H = scipy.signal.freqs(top[0, 3:], bottom, grid.omega)
                amplitude += H * late
            want = np.sum(grid.omega**4 * np.abs(amplitude) ** 2 * grid.power)
            zz, zt, tt = response.acceleration[j]
            assert zz - 2 * place * zt + place**2 * tt == pytest.approx(want, rel=1e-8)
