"""Sobol' indices against functions whose indices are known in closed form.

Ishigami: T. Ishigami, T. Homma, An importance quantification technique in uncertainty analysis for computer models,
Proc. ISUMA 1990, 398-403; indices for a = 7, b = 0.1 as in A. Saltelli et al., Global Sensitivity Analysis: The Primer
(2008), and from the variances V1 = (1 + b π⁴/5)²/2, V2 = a²/8, V13 = 8 b² π⁸/225.
Sobol's g: I.M. Sobol', Math. Comput. Simul. 55 (2001) 271-280: Vj = 1/(3 (1 + aj)²), V = Π (1 + Vj) - 1, first order
Vj/V, total Vj Π_{i≠j} (1 + Vi)/V.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.moves import FEWEST, MOST_DROPPED, Indices, indices, moves_sample

Array = NDArray[np.float64]

ROWS = 1024


def ishigami(U: Array) -> Array:
    x = np.pi * (2 * U - 1)
    figures: Array = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    return figures


def g_function(U: Array, a: Array) -> Array:
    return np.asarray(np.prod((np.abs(4 * U - 2) + a) / (1 + a), axis=1))


def within(found: Indices, k: int, first: Array, total: Array, tolerance: float) -> None:
    """Estimates are that near, and their intervals hold the exact figures."""
    np.testing.assert_allclose(found.first[k], first, atol=tolerance)
    np.testing.assert_allclose(found.total[k], total, atol=tolerance)
    assert np.all((found.first_low[k] <= first) & (first <= found.first_high[k]))
    assert np.all((found.total_low[k] <= total) & (total <= found.total_high[k]))


def test_published_indices_of_ishigami() -> None:
    U = moves_sample((0, 0, 0), ROWS, 3)
    found = indices(ishigami(U)[:, np.newaxis], 3, 3)
    within(found, 0, np.array([0.3139, 0.4424, 0.0]), np.array([0.5576, 0.4424, 0.2437]), 0.02)
    assert (found.rows, found.dropped) == (ROWS, 0)


def test_the_g_function_beside_ishigami_in_any_unit() -> None:
    a = np.array([0.0, 1.0, 9.0])
    part = 1 / (3 * (1 + a) ** 2)
    whole = np.prod(1 + part) - 1
    U = moves_sample((0, 0, 0), ROWS, 8)
    values = np.stack([ishigami(U), g_function(U, a), 1e6 - 1e3 * g_function(U, a)], axis=1)
    found = indices(values, 3, 8)
    for k in (1, 2):
        within(found, k, part / whole, part * np.prod(1 + part) / (1 + part) / whole, 0.02)
    np.testing.assert_allclose(found.total[1], found.total[2], rtol=1e-6)


def test_discrete_variables_move_over_their_codes() -> None:
    """x + 2 y of a coin x and a die y: variances 1/4 and 4 * 35/12, exactly additive."""
    U = moves_sample((2, 6), ROWS, 1)
    x, y = np.floor(U[:, 0] * 2), np.floor(U[:, 1] * 6)
    assert set(x) == {0, 1}
    assert set(y) == set(range(6))
    found = indices((x + 2 * y)[:, np.newaxis], 2, 1)
    share = 0.25 / (0.25 + 35 / 3)
    within(found, 0, np.array([share, 1 - share]), np.array([share, 1 - share]), 0.01)


def test_rows_with_a_failed_design_are_left_out() -> None:
    """What fails is a random tenth of the rows, so that the indices stay what they are; the twin leaves them out by
    hand, in numpy.
    """
    d, U = 3, moves_sample((0, 0, 0), ROWS, 5)
    values = ishigami(U)[:, np.newaxis]
    lost = np.random.default_rng(0).permutation(ROWS)[: ROWS // 10]
    values[ROWS * (np.arange(len(lost)) % (d + 2)) + lost] = np.nan
    found = indices(values, d, 5)
    assert found.rows == ROWS - len(lost)
    assert found.dropped == pytest.approx(len(lost) / ROWS)
    f = np.delete(values.reshape(d + 2, ROWS), lost, axis=1)
    f = f - f[:2].mean()
    variance = f[:2].var()
    np.testing.assert_allclose(found.first[0], [(f[1] * (f[2 + j] - f[0])).mean() / variance for j in range(d)])
    np.testing.assert_allclose(found.total[0], [0.5 * ((f[2 + j] - f[0]) ** 2).mean() / variance for j in range(d)])
    np.testing.assert_allclose(found.total[0], [0.5576, 0.4424, 0.2437], atol=0.04)


def test_no_indices_where_too_much_fails_or_nothing_moves() -> None:
    U = moves_sample((0, 0), 64, 2)
    values = np.stack([U[:, 0] + U[:, 1], np.full(len(U), 0.1) + 1e-14 * U[:, 0]], axis=1)
    found = indices(values, 2, 2)
    assert np.isfinite(found.first[0]).all()
    assert np.isnan([found.first[1], found.total_high[1]]).all(), "rounding is no variance"
    for lost in (int(64 * MOST_DROPPED), int(64 * MOST_DROPPED) + 1):
        few = values.copy()
        few[:lost] = np.nan
        assert np.isfinite(indices(few, 2, 2).total[0]).all() == (lost <= 64 * MOST_DROPPED)
    small = moves_sample((0, 0), FEWEST // 2, 2)
    assert np.isnan(indices(small, 2, 2).first).all()


@pytest.mark.parametrize("k", [1, 2])
def test_a_single_variable_does_everything(k: int) -> None:
    U = moves_sample((0,), 64, 0)
    found = indices(np.repeat(U, k, axis=1) ** 2, 1, 0)
    assert found.first.shape == (k, 1)
    assert np.all(found.first == 1)
    assert np.all(found.total_low == 1)


def test_the_same_seed_gives_the_same_bits_and_another_does_not() -> None:
    def all_of(seed: int) -> list[Array]:
        found = indices(ishigami(moves_sample((0, 0, 0), 64, seed))[:, np.newaxis], 3, seed)
        return [found.first, found.first_low, found.total_high]

    for one, other in zip(all_of(4), all_of(4), strict=True):
        assert one.tobytes() == other.tobytes()
    assert all_of(4)[0].tobytes() != all_of(5)[0].tobytes()


@pytest.mark.parametrize("rows", [0, 3, 100])
def test_other_numbers_of_rows_are_refused(rows: int) -> None:
    with pytest.raises(CallError, match=f"rows: {rows}; allowed: a power of two"):
        moves_sample((0, 0), rows, 1)


def test_figures_that_do_not_fit_are_refused() -> None:
    with pytest.raises(CallError, match="63 designs; allowed: a multiple of 4"):
        indices(np.zeros((63, 1)), 2, 1)
