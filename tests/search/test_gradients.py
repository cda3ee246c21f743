"""Derivatives from neighbours, of functions whose derivatives are known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.search.gradients import PAIRED, SINGLE, derivatives, neighbours

Array = NDArray[np.float64]

LEVELS = (0, 4, 0)


def parts(U: Array) -> Array:
    """A quadratic, an exponential, a sum: of the first, second and third coordinate."""
    u, v, w = U[..., 0], U[..., 1], U[..., 2]
    return np.stack([3 * u * u - u * w + v, np.exp(2 * w) * (1 + u), u + 2 * w], axis=-1)


def exact(U: Array) -> Array:
    u, w = U[:, 0], U[:, 2]
    by_u = np.stack([6 * u - w, np.exp(2 * w), np.ones(len(U))], axis=1)
    by_w = np.stack([-u, 2 * np.exp(2 * w) * (1 + u), np.full(len(U), 2.0)], axis=1)
    return np.stack([by_u, np.full_like(by_u, np.nan), by_w], axis=1)


def designs() -> Array:
    """Inside, on bounds, and a rounding away from them."""
    U = np.random.default_rng(1).random((40, 3))
    U[:8, 0], U[4:12, 2], U[12, 0], U[13, 2] = 0.0, 1.0, 1e-17, 1 - 2e-16
    U[:, 1] = 0.375
    return U


@pytest.mark.parametrize("paired", [True, False])
def test_neighbours_stay_in_the_cube_and_move_one_continuous_variable(paired: bool) -> None:
    U = designs()
    around = neighbours(U, LEVELS, paired=paired)
    assert around.shape == (40, 4 if paired else 2, 3)
    assert around.min() >= 0
    assert around.max() <= 1
    moved = around != U[:, None]
    assert (moved.sum(axis=2) == 1).all()
    assert not moved[:, :, 1].any()


def test_two_neighbours_are_exact_for_quadratics_also_at_bounds() -> None:
    U = designs()
    around = neighbours(U, LEVELS, paired=True)
    found = derivatives(U, parts(U), around, parts(around), LEVELS)
    wanted = exact(U)
    np.testing.assert_allclose(found[:, :, [0, 2]], wanted[:, :, [0, 2]], rtol=1e-9, atol=1e-9)
    # the exponential's third derivative: at bounds the error is a third of h² f''', within a sixth
    np.testing.assert_allclose(found[:, 2, 1], wanted[:, 2, 1], rtol=4 / 3 * PAIRED**2 * 1.1)


def test_one_neighbour_is_of_first_order() -> None:
    U = designs()
    around = neighbours(U, LEVELS, paired=False)
    found = derivatives(U, parts(U), around, parts(around), LEVELS)
    np.testing.assert_allclose(found[:, 0, 0], exact(U)[:, 0, 0], atol=3 * SINGLE * 1.001)
    np.testing.assert_allclose(found[:, :, 2], exact(U)[:, :, 2], rtol=1e-9)


def test_a_neighbour_that_failed_leaves_it_to_the_other() -> None:
    U = designs()[20:23]
    around = neighbours(U, LEVELS, paired=True)
    beside = parts(around)
    beside[0, 0], beside[1, 1], beside[2, :2] = np.nan, np.nan, np.nan
    found = derivatives(U, parts(U), around, beside, LEVELS)
    np.testing.assert_allclose(found[:2, 0, 0], exact(U)[:2, 0, 0], atol=3 * PAIRED * 1.001)
    assert np.isnan(found[2, 0]).all()
    assert np.isfinite(found[:, 2]).all()


def test_nothing_to_move_along() -> None:
    U = np.full((2, 1), 0.5)
    around = neighbours(U, (3,), paired=True)
    assert around.shape == (2, 0, 1)
    assert np.isnan(derivatives(U, U, around, np.empty((2, 0, 1)), (3,))).all()
