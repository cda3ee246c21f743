"""The matrices' invariants and the modes: of random cars, of the decoupled car, of cars with known answers."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import at_rest_under, half_car, quarter_car
from ridefront.vehicle.equations import bounce_pitch, equations_of_motion, modes, state_matrix
from ridefront.vehicle.static import AtRest
from twins.vehicles import LOADS, linear_car, real_car, rest

Array = NDArray[np.float64]


def damping_of(state: AtRest) -> Array:
    return state.speed_law.slope_at(np.zeros_like(state.friction))


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_matrices_are_what_matrices_of_a_structure_are(model: str) -> None:
    """M positive definite, C and K symmetric and positive semidefinite; the tyres hold the car to the ground."""
    state = rest(real_car(np.random.default_rng(81), 30), model, LOADS, at=1)
    equations = equations_of_motion(state, damping_of(state))
    for matrix in (equations.M, equations.C, equations.K):
        assert np.array_equal(matrix, matrix.transpose(0, 2, 1))
    assert np.all(np.linalg.eigvalsh(equations.M) > 0)
    least = np.linalg.eigvalsh(equations.C)[:, 0] / np.linalg.eigvalsh(equations.C)[:, -1]
    assert np.all(least > -1e-14)
    assert np.all(np.linalg.eigvalsh(equations.K) > 0)


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_lifting_the_road_lifts_the_car(model: str) -> None:
    """K on a rigid rise of body and wheels is the tyres' rates: springs feel nothing; likewise C."""
    state = rest(real_car(np.random.default_rng(82), 10), model)
    equations = equations_of_motion(state, damping_of(state))
    motions = len(state.model.motions)
    rise = np.ones(equations.K.shape[1])
    rise[1:motions] = 0.0
    for matrix, tyre in ((equations.K, equations.T_k), (equations.C, equations.T_c)):
        scale = np.max(np.abs(matrix))
        np.testing.assert_allclose(matrix @ rise, tyre.sum(axis=2), atol=1e-12 * scale)


def test_pitching_car_and_road_together_strain_nothing_but_the_tyres() -> None:
    state = rest(linear_car(np.random.default_rng(83), 10))
    equations = equations_of_motion(state, damping_of(state))
    for j in range(10):
        turn = np.array([0.0, 1.0, -state.body.x[j, 0], -state.body.x[j, 1]])
        want = equations.T_k[j] @ turn[2:]
        np.testing.assert_allclose(equations.K[j] @ turn, want, atol=1e-9 * np.max(np.abs(want)))


def test_quarter_car_by_hand() -> None:
    state = at_rest_under(quarter_car(400.0, spring_rate=25e3, unsprung_mass=40.0, tyre_rate=200e3, tyre_damping=60.0))
    equations = equations_of_motion(state, np.array([[1600.0]]))
    np.testing.assert_allclose(equations.M[0], [[400, 0], [0, 40]])
    np.testing.assert_allclose(equations.K[0], [[25e3, -25e3], [-25e3, 225e3]])
    np.testing.assert_allclose(equations.C[0], [[1600, -1600], [-1600, 1660]])
    np.testing.assert_allclose(equations.T_k[0], [[0.0], [200e3]])
    np.testing.assert_allclose(equations.T_c[0], [[0.0], [60.0]])


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_every_mode_is_damped(model: str) -> None:
    state = rest(linear_car(np.random.default_rng(84), 20), model)
    values = np.linalg.eigvals(state_matrix(equations_of_motion(state, damping_of(state))))
    assert np.all(values.real < 0)


def test_modes_of_the_undamped_quarter_car() -> None:
    """Roots of the textbook quadratic in ω²."""
    m, m_u, k, k_t = 400.0, 40.0, 25e3, 200e3
    state = at_rest_under(quarter_car(m, spring_rate=k, unsprung_mass=m_u, tyre_rate=k_t))
    found = modes(equations_of_motion(state, np.array([[0.0]])))
    roots = np.sort(np.roots([m * m_u, -(m * (k + k_t) + m_u * k), k * k_t]))
    np.testing.assert_allclose([mode.frequency for mode in found], np.sqrt(roots) / (2 * np.pi), rtol=1e-9)
    assert all(abs(mode.damping_ratio) < 1e-9 for mode in found)
    assert all(np.isnan(mode.centre) for mode in found)
    assert np.argmax(np.abs(found[0].shape)) == 0
    assert np.argmax(np.abs(found[1].shape)) == 1


def test_modes_satisfy_the_equations() -> None:
    state = rest(linear_car(np.random.default_rng(85), 6))
    equations = equations_of_motion(state, damping_of(state))
    for j in range(6):
        for mode in modes(equations, j):
            w = 2 * np.pi * mode.frequency
            value = w * (-mode.damping_ratio + 1j * np.sqrt(max(0.0, 1 - mode.damping_ratio**2)))
            dynamic = value**2 * equations.M[j] + value * equations.C[j] + equations.K[j]
            assert np.max(np.abs(dynamic @ mode.shape)) < 1e-7 * np.max(np.abs(equations.K[j]))
            assert np.max(np.abs(mode.shape)) == pytest.approx(1.0)


def test_modes_of_a_car_with_dynamic_index_one_are_those_of_its_corners() -> None:
    """With k² = ab each end moves alone: the modes are those of the two quarter cars, and each turns about the other
    end.
    """
    state = at_rest_under(half_car({"body.dynamic_index": 1.0, "rear.spring_rate": 40e3}))
    found = modes(equations_of_motion(state, damping_of(state)))
    alone = []
    for c in range(2):
        corner = quarter_car(state.body.corner_mass[:, c], spring_rate=state.wheel_rate[:, c])
        quarter = at_rest_under(corner)
        alone += list(modes(equations_of_motion(quarter, damping_of(state)[:, [c]])))
    alone.sort(key=lambda mode: mode.frequency)
    assert len(found) == 4
    for mode, single in zip(found, alone, strict=True):
        assert mode.frequency == pytest.approx(single.frequency, rel=1e-9)
        assert mode.damping_ratio == pytest.approx(single.damping_ratio, rel=1e-9)
    # The softer front end moves while the body turns about the rear axle, and the other way round.
    assert found[0].centre == pytest.approx(state.body.x[0, 1], rel=1e-6)
    assert found[1].centre == pytest.approx(state.body.x[0, 0], rel=1e-6)


def test_overdamped_pair_is_two_real_modes() -> None:
    state = at_rest_under(quarter_car(400.0, damping=30e3))
    found = modes(equations_of_motion(state, damping_of(state)))
    assert [mode.damping_ratio for mode in found].count(1.0) >= 2


def test_bounce_and_pitch_against_an_eigenproblem() -> None:
    rng = np.random.default_rng(86)
    mass, inertia = rng.uniform(300, 1200, 20), rng.uniform(400, 2500, 20)
    x = np.stack([rng.uniform(0.9, 1.8, 20), -rng.uniform(0.9, 1.8, 20)], axis=1)
    rate = rng.uniform(10e3, 60e3, (20, 2))
    found = bounce_pitch(mass, inertia, x, rate)
    for j in range(20):
        G = np.array([[1.0, -x[j, 0]], [1.0, -x[j, 1]]])
        values, vectors = np.linalg.eig(np.diag([1 / mass[j], 1 / inertia[j]]) @ G.T @ np.diag(rate[j]) @ G)
        order = np.argsort(values)
        np.testing.assert_allclose(found.frequency[j], np.sqrt(values[order]) / (2 * np.pi), rtol=1e-10)
        centres = vectors[0, order] / vectors[1, order]
        np.testing.assert_allclose(found.centre[j], centres, rtol=1e-7)
        # The two centres lie on either side of the centre of mass, gyration² apart in product.
        assert found.centre[j, 0] * found.centre[j, 1] == pytest.approx(-inertia[j] / mass[j], rel=1e-9)
        assert found.dynamic_index[j] == pytest.approx(inertia[j] / mass[j] / (x[j, 0] * -x[j, 1]), rel=1e-12)


def test_uncoupled_body_has_pure_bounce_and_pure_pitch() -> None:
    """Equal moments of the springs: bounce turns about infinity, pitch about the centre of mass, whichever is lower."""
    mass, x, rate = np.full(2, 500.0), np.array([[1.0, -1.5]] * 2), np.array([[30e3, 20e3]] * 2)
    found = bounce_pitch(mass, np.array([500.0 * 0.8, 500.0 * 3.0]), x, rate)
    bounce = np.sqrt(50e3 / 500) / (2 * np.pi)
    pitch = np.sqrt((30e3 + 20e3 * 2.25) / np.array([400.0, 1500.0])) / (2 * np.pi)
    np.testing.assert_allclose(found.frequency[0], [bounce, pitch[0]])
    np.testing.assert_allclose(found.frequency[1], [pitch[1], bounce])
    assert np.array_equal(found.centre[0], [np.inf, 0.0])
    assert np.array_equal(found.centre[1], [0.0, np.inf])
