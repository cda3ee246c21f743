"""Ranks, crowding, survival and mating, beside slow twins written from the definitions."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.search import LARGE
from ridefront.search.asked import Asked
from ridefront.search.evolve import Population, crowding, mate, offspring, ranks, survivors, tournament

Array = NDArray[np.float64]


def dominates(f: Array, v: float, g: Array, w: float) -> bool:
    """Constrained domination, as defined by Deb et al. (2002)."""
    if v > 0 or w > 0:
        return bool(v < w)
    return bool((f <= g).all() and (f < g).any())


def slow_ranks(F: Array, V: Array) -> list[int]:
    """Peels off, again and again, what nothing that is left dominates."""
    rank = [-1] * len(F)
    left, level = set(range(len(F))), 0
    while left:
        best = [i for i in left if not any(dominates(F[j], V[j], F[i], V[i]) for j in left)]
        for i in best:
            rank[i] = level
        left -= set(best)
        level += 1
    return rank


def slow_crowding(F: Array, rank: list[int]) -> list[float]:
    distance = [0.0] * len(F)
    for level in set(rank):
        members = [i for i in range(len(F)) if rank[i] == level]
        for j in range(F.shape[1]):
            order = sorted(members, key=lambda i: F[i, j])
            span = F[order[-1], j] - F[order[0], j]
            distance[order[0]] = distance[order[-1]] = float("inf")
            for before, i, after in zip(order, order[1:], order[2:], strict=False):
                distance[i] += (F[after, j] - F[before, j]) / span
    return distance


def random_rows(m: int, seed: int, n: int = 60) -> tuple[Array, Array]:
    """Whole numbers, so that ties in objectives and violations happen; a few failed ones."""
    rng = np.random.default_rng(seed)
    F = rng.integers(0, 6, (n, m)).astype(float)
    V = np.where(rng.random(n) < 0.6, 0.0, rng.integers(1, 8, n) / 4)
    failed = rng.random(n) < 0.1
    F[failed], V[failed] = LARGE, LARGE
    return F, V


@pytest.mark.parametrize("m", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("seed", range(4))
def test_ranks_are_those_of_the_definition(m: int, seed: int) -> None:
    F, V = random_rows(m, seed)
    assert ranks(F, V).tolist() == slow_ranks(F, V)


@pytest.mark.parametrize("V", [np.zeros(9), np.ones(9), np.arange(9.0), np.full(9, LARGE)])
def test_ranks_at_the_extremes(V: Array) -> None:
    F = np.random.default_rng(0).random((9, 3))
    assert ranks(F, V).tolist() == slow_ranks(F, V)


@pytest.mark.parametrize("m", [1, 2, 3, 4])
def test_crowding_is_that_of_the_definition(m: int) -> None:
    rng = np.random.default_rng(m)
    F, rank = rng.random((80, m)), rng.integers(0, 4, 80)
    np.testing.assert_allclose(crowding(F, rank), slow_crowding(F, rank.tolist()), rtol=1e-12)


def test_crowding_of_a_constant_objective_comes_from_the_others() -> None:
    f = np.random.default_rng(3).random((20, 1))
    zero = np.zeros(20, dtype=np.int64)
    with_constant = crowding(np.concatenate([f, np.full((20, 1), 7.0)], axis=1), zero)
    inner = np.isfinite(with_constant)
    assert inner.sum() >= 16
    np.testing.assert_array_equal(with_constant[inner], crowding(f, zero)[inner])


@pytest.mark.parametrize("size", [1, 7, 30, 59, 60, 100])
@pytest.mark.parametrize("seed", range(3))
def test_survivors_are_the_best_by_rank_then_crowding(size: int, seed: int) -> None:
    F, V = random_rows(3, seed)
    F = F + np.random.default_rng(seed).random(F.shape) * 1e-3  # no ties: the order is then unique
    U = np.arange(60.0)[:, None]
    population = survivors(U, F, V, size)
    rank = ranks(F, V)
    distance = crowding(F, rank)
    expected = sorted(range(60), key=lambda i: (rank[i], -distance[i], i))[:size]
    assert population.U[:, 0].astype(int).tolist() == expected
    np.testing.assert_array_equal(population.F, F[expected])
    np.testing.assert_array_equal(population.V, V[expected])
    np.testing.assert_array_equal(population.crowding, distance[expected])


def parents(n: int, d: int, seed: int = 0) -> Population:
    rng = np.random.default_rng(seed)
    return survivors(rng.random((n, d)), rng.random((n, 2)), np.zeros(n), n)


def slow_winner(population: Population, a: int, b: int) -> int:
    F, V = population.F, population.V
    if dominates(F[a], V[a], F[b], V[b]):
        return a
    if dominates(F[b], V[b], F[a], V[a]):
        return b
    return b if population.crowding[b] > population.crowding[a] else a


@pytest.mark.parametrize("count", [1, 10, 30, 45])
def test_tournament_is_the_definition(count: int) -> None:
    """The same draws, decided one by one; everyone takes part equally often, up to one."""
    F, V = random_rows(3, 6)
    population = survivors(np.zeros((60, 1)), F, V, 60)
    winners = tournament(population, count, np.random.default_rng(1))
    rng = np.random.default_rng(1)
    drawn = np.concatenate([rng.permutation(60), rng.permutation(60)])[: 2 * count].tolist()
    expected = [slow_winner(population, a, b) for a, b in zip(drawn[0::2], drawn[1::2], strict=True)]
    assert winners.tolist() == expected


@pytest.mark.parametrize(("n", "count"), [(1, 5), (2, 9), (7, 30), (200, 11)])
def test_mating_fills_any_number_from_any_number_of_parents(n: int, count: int) -> None:
    children = mate(parents(n, 4), count, np.random.default_rng(2))
    assert children.shape == (count, 4)
    assert children.min() >= 0
    assert children.max() <= 1


def test_mating_keeps_the_mean_and_leaves_parents_alone() -> None:
    """Simulated binary crossover is symmetric about its parents, and so, far from the bounds, is polynomial
    mutation."""
    rng = np.random.default_rng(3)
    population = survivors(0.45 + 0.1 * rng.random((2000, 3)), np.zeros((2000, 1)), np.zeros(2000), 2000)
    before = population.U.copy()
    children = mate(population, 4000, rng)
    np.testing.assert_array_equal(population.U, before)
    np.testing.assert_allclose(children.mean(axis=0), before.mean(axis=0), atol=0.005)
    assert (children.std(axis=0) > before.std(axis=0)).all()


def test_offspring_of_clones_are_still_new() -> None:
    population = survivors(np.full((10, 2), 0.25), np.ones((10, 1)), np.zeros(10), 10)
    asked = Asked((2, 2000))
    children = offspring(population, 50, asked, np.random.default_rng(4))
    assert len(np.unique(children, axis=0)) == 50 == len(asked)
