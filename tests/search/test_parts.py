"""Figures made of parts: the same as the criteria combine, and slopes that tell every kink."""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.criteria.combine import over_conditions, worst_of
from ridefront.search import Limit, Made, branches, excess, figure

Array = NDArray[np.float64]
Over = Literal["mean", "rms", "worst"]
Worst = Literal["largest", "smallest"]

GROUPS = ((0, 1, 2), (3, 4), (5,), (6, 7))
WEIGHTS = (0.4, 0.3, 0.05, 0.25)
EVERY = [(over, worst) for over in get_args(Over) for worst in get_args(Worst)]


def made(over: Over, worst: Worst) -> Made:
    return Made(GROUPS, WEIGHTS, over, worst)


def parts(n: int, seed: int) -> Array:
    return np.random.default_rng(seed).uniform(0.5, 2.0, (n, 9))


@pytest.mark.parametrize(("over", "worst"), EVERY)
def test_figures_have_the_bits_of_the_criteria(over: Over, worst: Worst) -> None:
    P = parts(200, 1)
    P[7, 4] = np.nan
    groups = [worst_of([np.ascontiguousarray(P[:, k]) for k in group], worst) for group in GROUPS]
    expected = over_conditions(groups, WEIGHTS, over, worst)
    assert figure(made(over, worst), P).tobytes() == expected.tobytes()
    assert np.isnan(expected).sum() == 1


@pytest.mark.parametrize(("over", "worst"), EVERY)
def test_the_first_branch_is_the_slope_where_there_is_no_kink(over: Over, worst: Worst) -> None:
    """Against central differences; parts that are not the worst, and those of no group, have none."""
    how = made(over, worst)
    for p in parts(30, 2):
        (row,) = branches(how, p, 0.0)
        step = 1e-6 * np.eye(len(p))
        slope = (figure(how, p + step) - figure(how, p - step)) / 2e-6
        np.testing.assert_allclose(row, slope, atol=1e-9)


@pytest.mark.parametrize(("over", "worst"), EVERY)
def test_branches_have_every_directional_derivative_at_a_kink(over: Over, worst: Worst) -> None:
    """Along v the figure rises by the largest (the worst is the smallest: the least) of row · v; Danskin's theorem."""
    how = made(over, worst)
    rng = np.random.default_rng(3)
    for p in parts(20, 4):
        for group in (GROUPS[0], GROUPS[1], GROUPS[3]):
            p[list(group)] = p[group[0]]
        if over == "worst":
            p[:8] = 1.0
        rows = branches(how, p, 1e-12, most=20)
        assert len(rows) == (8 if over == "worst" else 12)
        for v in rng.normal(size=(20, len(p))):
            rise = float((figure(how, (p + 1e-7 * v)[None]) - figure(how, p[None]))[0]) / 1e-7
            along = rows @ v
            assert rise == pytest.approx(along.max() if worst == "largest" else along.min(), abs=1e-5)


def test_tolerance_is_in_the_figures_unit_and_the_closest_are_kept() -> None:
    how = Made(((0, 1), (2, 3)), (1.0, 1.0), "mean", "largest")
    p = np.array([3.0, 2.9, 5.0, 4.96])
    assert branches(how, p, 0.03).tolist() == [[0.5, 0, 0.5, 0]]
    assert branches(how, p, 0.05).tolist() == [[0.5, 0, 0.5, 0], [0.5, 0, 0, 0.5]]
    every = branches(how, p, 0.2)
    assert every.tolist() == [[0.5, 0, 0.5, 0], [0.5, 0, 0, 0.5], [0, 0.5, 0.5, 0], [0, 0.5, 0, 0.5]]
    assert branches(how, p, 0.2, most=3).tolist() == every[:3].tolist()
    least = Made(((0, 1), (2, 3)), (1.0, 1.0), "worst", "smallest")
    assert branches(least, p, 0.2).tolist() == [[0, 1, 0, 0], [1, 0, 0, 0]]


def test_a_part_that_stands_in_two_groups_has_the_sum_of_their_slopes() -> None:
    how = Made(((0,), (0, 1)), (1.0, 3.0), "mean", "largest")
    assert branches(how, np.array([2.0, 1.0]), 0.0).tolist() == [[1.0, 0.0]]


def test_an_rms_of_nothing_has_a_subgradient_of_nothing() -> None:
    assert branches(Made(((0,), (1,)), (1.0, 1.0), "rms", "largest"), np.zeros(2), 0.0).tolist() == [[0.0, 0.0]]


def test_limits_of_either_kind() -> None:
    P = np.array([[0.8], [1.0], [1.3]])
    how = Made(((0,),), (1.0,), "worst", "largest")
    np.testing.assert_allclose(excess(Limit(how, 1.0, 1, 0.5), P), [-0.4, 0.0, 0.6])
    np.testing.assert_allclose(excess(Limit(how, 1.0, -1, 0.5), P), [0.4, 0.0, -0.6])
