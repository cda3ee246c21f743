"""Linear models: values are the figures' own, slopes those of differences."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, get_args

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.search.parts import Anatomy, Limit, Made, excess, figure
from ridefront.search.slopes import Lines, Slopes

Array = NDArray[np.float64]
Over = Literal["mean", "rms", "worst"]

GROUPS = ((0, 1, 2), (3, 4), (5,), (2, 6))
WEIGHTS = (0.8, 0.6, 0.1, 0.5)
EVERY = [(over, worst) for over in get_args(Over) for worst in ("largest", "smallest")]


def quadratic(seed: int) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    return rng.normal(size=(7, 4)), rng.normal(size=(7, 4))


def parts_at(U: Array) -> Array:
    """Seven smooth parts of four variables, about 2."""
    a, b = quadratic(1)
    P: Array = 2 + 0.3 * np.sin(U @ a.T) + 0.2 * np.square(U @ b.T)
    return P


def slopes_at(U: Array) -> Array:
    """(n, 4, 7)"""
    a, b = quadratic(1)
    J = 0.3 * np.cos(U @ a.T)[:, :, None] * a + 0.4 * (U @ b.T)[:, :, None] * b
    return np.ascontiguousarray(J.transpose(0, 2, 1))


def problem(over: Over, worst: Literal["largest", "smallest"]) -> tuple[Anatomy, Slopes]:
    """One figure as objective and as limit, the way round in which its worst places count; and a second objective."""
    made = Made(GROUPS, WEIGHTS, over, worst)
    sign: Literal[1, -1] = 1 if worst == "largest" else -1
    plain = Made(((6,),), (1.0,), "mean", "largest")
    usual = float(np.median(figure(made, parts_at(np.random.default_rng(2).random((50, 4))))))
    anatomy = Anatomy((made, plain), (sign, -1), (Limit(made, usual, sign, 0.4), Limit(plain, 3.0, 1, 3.0)), 7)
    return anatomy, Slopes(anatomy, np.array([0.5, 2.0]))


def largest(lines: Lines, owner: int) -> Array:
    top: Array = lines.value[:, lines.owner == owner].max(axis=1)
    return top


@pytest.mark.parametrize(("over", "worst"), EVERY)
def test_the_largest_row_is_the_figure(over: Over, worst: Literal["largest", "smallest"]) -> None:
    anatomy, slopes = problem(over, worst)
    U = np.random.default_rng(2).random((50, 4))
    P, J = parts_at(U), slopes_at(U)
    objectives, limits = slopes.objective_lines(P, J), slopes.limit_lines(P, J)
    for i, (made, sign, span) in enumerate(zip(anatomy.objectives, anatomy.signs, (0.5, 2.0), strict=True)):
        np.testing.assert_allclose(largest(objectives, i), sign * figure(made, P) / span, rtol=1e-13)
        np.testing.assert_allclose(slopes.objectives(P)[:, i], sign * figure(made, P) / span, rtol=1e-13)
    for i, limit in enumerate(anatomy.limits):
        np.testing.assert_allclose(largest(limits, i), excess(limit, P), rtol=1e-12, atol=1e-13)
    missed = sum(np.maximum(excess(limit, P), 0.0) for limit in anatomy.limits)
    np.testing.assert_array_equal(slopes.violation(P), missed)
    assert 0 < (slopes.violation(P) > 0).sum() < 50


@pytest.mark.parametrize(("over", "worst"), EVERY)
def test_the_largest_row_has_the_figures_slope(over: Over, worst: Literal["largest", "smallest"]) -> None:
    anatomy, slopes = problem(over, worst)
    U = np.random.default_rng(3).random((40, 4))
    lines = (slopes.objective_lines(parts_at(U), slopes_at(U)), slopes.limit_lines(parts_at(U), slopes_at(U)))
    figures: list[tuple[Lines, int, Callable[[Array], Array]]] = [
        (lines[0], 0, lambda U: slopes.objectives(parts_at(U))[:, 0]),
        (lines[0], 1, lambda U: slopes.objectives(parts_at(U))[:, 1]),
        (lines[1], 0, lambda U: excess(anatomy.limits[0], parts_at(U))),
        (lines[1], 1, lambda U: excess(anatomy.limits[1], parts_at(U))),
    ]
    for found, owner, value in figures:
        rows = np.flatnonzero(found.owner == owner)
        steepest = found.slope[np.arange(40), rows[found.value[:, rows].argmax(axis=1)]]
        h = 1e-6 * np.eye(4)
        numeric = np.stack([(value(U + step) - value(U - step)) / 2e-6 for step in h], axis=1)
        np.testing.assert_allclose(steepest, numeric, atol=1e-7)


@pytest.mark.parametrize(("over", "worst"), EVERY)
def test_rows_tell_what_lies_beyond_a_kink(over: Over, worst: Literal["largest", "smallest"]) -> None:
    """Where one group's worst place changes on the way, the figure there is another row's."""
    anatomy, slopes = problem(over, worst)
    u = np.full((1, 4), 0.4)
    J = np.random.default_rng(4).normal(size=(1, 4, 7))
    made = anatomy.objectives[0]
    sign = anatomy.signs[0]
    p = parts_at(u)
    p[0, [0, 1, 2]] = 2.0 + sign * np.array([1e-4, 0.0, -1.0])
    p[0, 3:] = [2.0 - sign, 2.0, 2.0, 2.0 - 3 * sign]
    step = np.linalg.lstsq(J[0][:, [0, 1, 3, 6]].T, sign * np.array([-2e-4, 2e-4, 0.0, 0.0]), rcond=None)[0]
    there = p + step @ J[0]
    assert abs(there[0, 1]) * sign > abs(there[0, 0]) * sign
    found = slopes.objective_lines(p, J)
    rows = found.owner == 0
    predicted = (found.value[:, rows] + found.slope[:, rows] @ step).max()
    assert predicted == pytest.approx(float(sign * figure(made, there)[0] / 0.5), abs=1e-6)


def test_an_rms_of_nothing_has_no_slope() -> None:
    made = Made(((0,), (1,)), (1.0, 1.0), "rms", "largest")
    slopes = Slopes(Anatomy((made,), (1,), (), 2), np.ones(1))
    lines = slopes.objective_lines(np.zeros((1, 2)), np.ones((1, 3, 2)))
    assert lines.value.tolist() == [[0.0]]
    assert lines.slope.tolist() == [[[0.0, 0.0, 0.0]]]
    none = slopes.limit_lines(np.zeros((1, 2)), np.ones((1, 3, 2)))
    assert none.value.shape == (1, 0)
    assert none.slope.shape == (1, 0, 3)
