"""The compiled kernel against dense solves: of the engine's matrices, and of matrices written out here anew."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.response import kernel_spectrum
from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import Grid
from twins.dense import mean_squares
from twins.vehicles import LOADS, UNLADEN, WHEELBASE, grid_of, linear_car, real_car, rest

Array = NDArray[np.float64]
SIMPLE = ("travel", "travel_speed", "contact_force", "pitch", "pitch_weighted", "pitch_backrest")
PRODUCTS = ("acceleration", "weighted")


def assert_agree(response: FrequencyResponse, want: dict[str, Array], tolerance: float = 1e-10) -> None:
    """Mean squares relative to themselves; the cross product, which may vanish, to the root of the two squares."""
    for name in SIMPLE:
        got = getattr(response, name)
        assert np.all(np.abs(got - want[name]) <= tolerance * want[name]), name
    for name in PRODUCTS:
        got, wanted = getattr(response, name), want[name]
        size = np.stack([wanted[:, 0], np.sqrt(wanted[:, 0] * wanted[:, 2]), wanted[:, 2]], axis=1)
        assert np.all(np.abs(got - wanted) <= tolerance * size), name


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
@pytest.mark.parametrize("speed", [4.0, 25.0, 45.0])
def test_linear_dampers_against_dense_solve(model: str, speed: float) -> None:
    rng = np.random.default_rng(int(speed))
    state = rest(linear_car(rng, 21), model)
    grid = grid_of(model, speed)
    response = frequency_response(state, grid)
    assert np.all(response.travel > 0)
    assert_agree(response, mean_squares(state, response.damping, grid, response.wheel_rate))
    assert np.all(response.pitch > 0) == (model == "half-car")


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
@pytest.mark.parametrize("at_rest", [False, True], ids=["statistical", "at rest"])
def test_whatever_damping_was_found_the_response_is_that_of_it(model: str, at_rest: bool) -> None:
    car = real_car(np.random.default_rng(5), 19)
    state = rest(car, model, LOADS if model == "half-car" else UNLADEN, at=0)
    grid = grid_of(model, 15.0, "C")
    response = frequency_response(state, grid, at_rest=at_rest)
    assert_agree(response, mean_squares(state, response.damping, grid, response.wheel_rate))


def test_laden_half_car_against_dense_solve() -> None:
    state = rest(real_car(np.random.default_rng(6), 19), "half-car", LOADS, at=1)
    grid = grid_of("half-car", 30.0)
    response = frequency_response(state, grid)
    assert_agree(response, mean_squares(state, response.damping, grid, response.wheel_rate))


def test_at_rest_is_the_mean_of_bump_and_rebound() -> None:
    car = real_car(np.random.default_rng(7), 9)
    response = frequency_response(rest(car), grid_of("half-car"), at_rest=True)
    want = np.stack([car[f"{axle}.damping"] * car[f"{axle}.damper_ratio"] ** 2 for axle in ("front", "rear")], axis=1)
    np.testing.assert_allclose(response.damping, want, rtol=1e-14)


@pytest.mark.parametrize(("model", "corners"), [("quarter-car", 1), ("half-car", 2)])
def test_kernel_called_directly(model: str, corners: int) -> None:
    """One block of four lanes, damping of our choice, rows laid out as the kernel's docstring says."""
    rng = np.random.default_rng(11)
    state = rest(linear_car(rng, 4), model)
    damping = np.exp(rng.uniform(np.log(50.0), np.log(9000.0), (4, corners)))
    grid = grid_of(model, 18.0)
    rows = [state.body.mass, state.body.pitch_inertia]
    for c in range(corners):
        rows += [state.wheel_rate[:, c], damping[:, c], state.tyre_rate[:, c], state.tyre_damping[:, c]]
        rows += [state.unsprung_mass[:, c], state.body.x[:, c]]
    P = np.ascontiguousarray(np.stack(rows)[np.newaxis])
    figures = 3 * corners + kernel_spectrum.body_figures(corners)
    out = np.full((1, figures, 4), np.nan)
    kernel_spectrum.respond((0,) * corners, (0,) * 4, (0,), P, grid.table, out)
    want = mean_squares(state, damping, grid)
    for c in range(corners):
        for k, name in enumerate(("travel", "travel_speed", "contact_force")):
            np.testing.assert_allclose(out[0, 3 * c + k], want[name][:, c], rtol=1e-10)
    body = out[0, 3 * corners :]
    if corners == 1:
        np.testing.assert_allclose(body[0], want["acceleration"][:, 0], rtol=1e-10)
        np.testing.assert_allclose(body[1], want["weighted"][:, 0], rtol=1e-10)
        return
    for k, name in ((0, "acceleration"), (3, "weighted")):
        np.testing.assert_allclose(body[k], want[name][:, 0], rtol=1e-10)
        np.testing.assert_allclose(body[k + 2], want[name][:, 2], rtol=1e-10)
        room = 1e-10 * np.sqrt(want[name][:, 0] * want[name][:, 2])
        assert np.all(np.abs(body[k + 1] - want[name][:, 1]) <= room)
    for k, name in enumerate(("pitch", "pitch_weighted", "pitch_backrest")):
        np.testing.assert_allclose(body[6 + k], want[name], rtol=1e-10)


def quarter_by_hand(car: dict[str, Array], j: int, grid: Grid) -> dict[str, float]:
    """m z" = k (u - z) + c (u' - z'),  m_u u" = k_t (r - u) + c_t (r' - u') - k (u - z) - c (u' - z')."""
    m = 0.5 * car["body.mass"][j] * car["front_share"][j]
    k = car["front.spring_rate"][j] * car["front.spring_ratio"][j] ** 2
    c = car["front.damping"][j] * car["front.damper_ratio"][j] ** 2
    m_u, k_t, c_t = (car[f"front.{key}"][j] for key in ("unsprung_mass", "tyre_rate", "tyre_damping"))
    sums = dict.fromkeys(("travel", "travel_speed", "contact_force", "acceleration", "weighted"), 0.0)
    for w, power, wk in zip(grid.omega, grid.power, grid.weightings[0], strict=True):
        s, t = k + 1j * w * c, k_t + 1j * w * c_t
        z, u = np.linalg.solve(np.array([[s - w * w * m, -s], [-s, s + t - w * w * m_u]]), np.array([0.0, t]))
        sums["travel"] += abs(u - z) ** 2 * power
        sums["travel_speed"] += w**2 * abs(u - z) ** 2 * power
        sums["contact_force"] += abs(t * (1 - u)) ** 2 * power
        sums["acceleration"] += w**4 * abs(z) ** 2 * power
        sums["weighted"] += w**4 * abs(z) ** 2 * power * wk
    return sums


def test_quarter_car_against_equations_written_out() -> None:
    car = linear_car(np.random.default_rng(21), 3)
    grid = grid_of("quarter-car", 20.0)
    response = frequency_response(rest(car, "quarter-car"), grid)
    for j in range(3):
        for name, want in quarter_by_hand(car, j, grid).items():
            assert getattr(response, name)[j, 0] == pytest.approx(want, rel=1e-10), name


def half_matrix(car: dict[str, Array], j: int, w: float) -> tuple[NDArray[np.complex128], list[complex]]:
    """Dynamic stiffness of (z, θ, u_f, u_r) of half a car and its two tyres' stiffnesses, entry by entry.

    Centre of mass a behind the front axle and b ahead of the rear one; θ positive nose down, so that the front corner
    moves up by z - a θ and the rear one by z + b θ.
    """
    m, share = 0.5 * car["body.mass"][j], car["front_share"][j]
    a, b = (1 - share) * WHEELBASE, share * WHEELBASE
    inertia = car["body.dynamic_index"][j] * m * a * b
    s, t, m_u = [], [], []
    for axle in ("front", "rear"):
        k = car[f"{axle}.spring_rate"][j] * car[f"{axle}.spring_ratio"][j] ** 2
        c = car[f"{axle}.damping"][j] * car[f"{axle}.damper_ratio"][j] ** 2
        s.append(k + 1j * w * c)
        t.append(car[f"{axle}.tyre_rate"][j] + 1j * w * car[f"{axle}.tyre_damping"][j])
        m_u.append(car[f"{axle}.unsprung_mass"][j])
    f, r = s
    matrix = np.array(
        [
            [f + r - w * w * m, -a * f + b * r, -f, -r],
            [-a * f + b * r, a * a * f + b * b * r - w * w * inertia, a * f, -b * r],
            [-f, a * f, f + t[0] - w * w * m_u[0], 0],
            [-r, -b * r, 0, r + t[1] - w * w * m_u[1]],
        ]
    )
    return matrix, t


def test_half_car_against_equations_written_out() -> None:
    car = linear_car(np.random.default_rng(22), 2)
    speed = 20.0
    grid = grid_of("half-car", speed)
    response = frequency_response(rest(car), grid)
    for j in range(2):
        a, b = (1 - car["front_share"][j]) * WHEELBASE, car["front_share"][j] * WHEELBASE
        travel, contact, heave, cross, pitch = np.zeros(2), np.zeros(2), 0.0, 0.0, 0.0
        for w, power in zip(grid.omega, grid.power, strict=True):
            matrix, t = half_matrix(car, j, float(w))
            delayed = np.exp(-1j * w * WHEELBASE / speed)
            z, theta, u_f, u_r = np.linalg.solve(matrix, np.array([0, 0, t[0], t[1] * delayed]))
            travel += np.abs([u_f - (z - a * theta), u_r - (z + b * theta)]) ** 2 * power
            contact += np.abs([t[0] * (1 - u_f), t[1] * (delayed - u_r)]) ** 2 * power
            heave += w**4 * abs(z) ** 2 * power
            cross += w**4 * (z * theta.conjugate()).real * power
            pitch += abs(theta) ** 2 * power
        np.testing.assert_allclose(response.travel[j], travel, rtol=1e-10)
        np.testing.assert_allclose(response.contact_force[j], contact, rtol=1e-10)
        assert response.acceleration[j, 0] == pytest.approx(heave, rel=1e-10)
        room = 1e-10 * np.sqrt(heave * response.acceleration[j, 2])
        assert response.acceleration[j, 1] == pytest.approx(cross, abs=room)
        assert response.pitch[j] == pytest.approx(pitch, rel=1e-10)
