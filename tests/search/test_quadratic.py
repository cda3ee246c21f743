"""Small quadratic programmes against scipy's SLSQP (Kraft 1988), which knows nothing of interior points."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, minimize

from ridefront.search.quadratic import SOFT, Steps, solve

Array = NDArray[np.float64]
Programme = tuple[Array, Array, Array, Array, Array, Array, Array, Array]


def programmes(n: int, d: int, r: int, rows: int, seed: int, size: float = 0.2) -> Programme:
    """Random ones: about half of the limits hold the step, some bounds are where it stands."""
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(n, d, d))
    low, high = -size * rng.random((n, d)), size * rng.random((n, d))
    low[: n // 3, 0], high[n // 3 : n // 2, -1] = 0.0, 0.0
    return (
        root @ root.transpose(0, 2, 1) / d + 0.05 * np.eye(d),
        rng.normal(size=(n, r, d)),
        0.1 * rng.normal(size=(n, r)),
        rng.normal(size=(n, rows, d)),
        size * rng.normal(size=(n, rows)) - 0.5 * size,
        low,
        high,
        np.full(n, 30.0),
    )


def cost(programme: Programme, i: int, x: Array) -> float:
    """What is to be made small, of x = (p, t, s)."""
    B, penalty = programme[0][i], programme[-1][i]
    p, t, s = x[:-2], x[-2], x[-1]
    return float(0.5 * p @ B @ p + t + penalty * s + 0.5 * SOFT * (t * t + s * s))


def reached(programme: Programme, i: int, p: Array) -> float:
    """The cost of p with the least t and s that it allows."""
    _, G, c, A, b, _, _, _ = programme
    t, s = (G[i] @ p + c[i]).max(), max((A[i] @ p + b[i]).max(initial=0.0), 0.0)
    return cost(programme, i, np.array([*p, t, s]))


def by_scipy(programme: Programme, i: int) -> Array:
    """p (d,) of programme i, with t and s as two more variables."""
    B, G, c, A, b, low, high, penalty = (each[i] for each in programme)
    d = len(B)

    def slope(x: Array) -> Array:
        return np.array([*(B @ x[:d]), 1.0 + SOFT * x[-2], penalty + SOFT * x[-1]])

    rows = np.concatenate([np.c_[-G, np.ones(len(G)), np.zeros(len(G))], np.c_[-A, np.zeros(len(A)), np.ones(len(A))]])
    right = np.concatenate([-c, -b])
    x = np.array([*np.zeros(d), c.max() + 1.0, b.max(initial=0.0) + 1.0])
    search: Any = minimize  # whose overloads know no such bounds
    found = search(
        lambda x: cost(programme, i, x),
        x,
        jac=slope,
        method="SLSQP",
        bounds=Bounds([*low, -np.inf, 0.0], [*high, np.inf, np.inf]),
        constraints=LinearConstraint(rows, -right, np.full(len(right), np.inf)),
        options={"ftol": 1e-14, "maxiter": 300},
    )
    assert found.status in (0, 8)  # 8: no better direction to machine precision
    return np.asarray(found.x[:d])


@pytest.mark.parametrize(("d", "r", "rows"), [(1, 1, 0), (3, 2, 0), (4, 3, 2), (6, 8, 5), (10, 14, 8), (5, 1, 6)])
def test_as_good_as_scipy_and_within_bounds(d: int, r: int, rows: int) -> None:
    programme = programmes(12, d, r, rows, seed=d)
    steps = solve(*programme)
    low, high = programme[5], programme[6]
    assert (steps.p >= low).all()
    assert (steps.p <= high).all()
    for i, p in enumerate(steps.p):
        other = by_scipy(programme, i)
        assert reached(programme, i, p) <= reached(programme, i, other) + 1e-7
        np.testing.assert_allclose(p, other, atol=2e-3)


def test_limits_hold_where_they_can_and_miss_by_the_least_where_not() -> None:
    """x >= 0.3 and x >= 0.5 within [-1, 0.4]: 0.4 misses by 0.1; of y <= -0.2 nothing is missed."""
    A = np.array([[[-1.0, 0.0], [-1.0, 0.0], [0.0, 1.0]]])
    b = np.array([[0.3, 0.5, 0.2]])
    G, c = np.array([[[1.0, -1.0]]]), np.zeros((1, 1))
    bounds = np.array([[-1.0, -1.0]]), np.array([[0.4, 1.0]])
    steps = solve(np.eye(2)[None], G, c, A, b, *bounds, np.full(1, 30.0))
    # what misses anyway holds: s = 0.1 lets y come up to -0.1, where the largest limit does not grow
    np.testing.assert_allclose(steps.p, [[0.4, -0.1]], atol=1e-5)
    np.testing.assert_allclose(steps.limits[0, 0], 0.0, atol=1e-5)
    bounds = np.array([[-1.0, -1.0]]), np.array([[1.0, 1.0]])
    steps = solve(np.eye(2)[None], G, c, A, b, *bounds, np.full(1, 30.0))
    np.testing.assert_allclose(steps.p, [[0.5, -0.2]], atol=1e-5)


def multipliers(programme: Programme, steps: Steps) -> Array:
    """(n, d): the cost's slope by p, balanced by rows; nought where no bound holds p."""
    B, G, _, A = programme[:4]
    slope = (B @ steps.p[..., None])[..., 0] + (steps.objectives[:, None, :] @ G)[:, 0]
    balanced: Array = slope + (steps.limits[:, None, :] @ A)[:, 0]
    return balanced


@pytest.mark.parametrize("size", [1e-3, 0.2, 1.0])
def test_multipliers_balance_the_slopes(size: float) -> None:
    """Kuhn and Tucker: what is left pushes against a bound; objectives' add up to 1 + SOFT t."""
    programme = programmes(60, 6, 5, 4, seed=3, size=size)
    steps = solve(*programme)
    left, low, high = multipliers(programme, steps), programme[5], programme[6]
    inside = (steps.p > low + 1e-4 * size) & (steps.p < high - 1e-4 * size)
    assert 60 < inside.sum() < inside.size
    np.testing.assert_allclose(left[inside], 0.0, atol=1e-3)
    assert (left[steps.p <= low + 1e-6 * size] > -1e-3).all()
    assert (left[steps.p >= high - 1e-6 * size] < 1e-3).all()
    assert (steps.objectives >= 0).all()
    assert (steps.limits >= 0).all()
    np.testing.assert_allclose(steps.objectives.sum(axis=1), 1.0, atol=2e-2)
    rows = (programme[1] @ steps.p[..., None])[..., 0] + programme[2]
    slack = rows.max(axis=1, keepdims=True) - rows
    assert np.max(steps.objectives * slack) < 1e-5


def test_alike_rows_and_rows_without_slope() -> None:
    B, G, c, A, b, low, high, penalty = programmes(20, 5, 4, 3, seed=4)
    once = solve(B, G, c, A, b, low, high, penalty)
    double = [np.repeat(each, 2, axis=1) for each in (G, c, A, b)]
    twice = solve(B, double[0], double[1], double[2], double[3], low, high, penalty)
    np.testing.assert_allclose(twice.p, once.p, atol=1e-3)
    flat = solve(B, 0 * G, c, 0 * A, b, low, high, penalty)
    np.testing.assert_allclose(flat.p, 0.0, atol=1e-3)


def test_bits_do_not_depend_on_neighbours() -> None:
    """Easy and hard ones beside each other: who is solved early is not worked on."""
    programme = programmes(40, 6, 8, 5, seed=5)
    together = solve(*programme)
    for i in range(0, 40, 7):
        alone = solve(*(each[i : i + 1] for each in programme))
        assert alone.p.tobytes() == together.p[i : i + 1].tobytes()
        assert alone.limits.tobytes() == together.limits[i : i + 1].tobytes()
