"""A few designs that stand for a front."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search import compromise, spread

Array = NDArray[np.float64]


def front(n: int, m: int, seed: int = 0) -> Array:
    X = np.abs(np.random.default_rng(seed).normal(size=(n, m)))
    return np.asarray(X / np.sqrt(np.square(X).sum(axis=1))[:, None] * np.arange(1.0, m + 1))


def slow_compromise(F: Array) -> int:
    def distance(i: int) -> float:
        return max(float((F[i, j] - min(F[:, j])) / (max(F[:, j]) - min(F[:, j]))) for j in range(F.shape[1]))

    return min(range(len(F)), key=distance)


@pytest.mark.parametrize("m", [2, 3, 4])
@pytest.mark.parametrize("k", [1, 2, 5, 9, 40])
def test_picks(m: int, k: int) -> None:
    F = front(300, m)
    picked = spread(F, k)
    assert len(set(picked.tolist())) == len(picked) == k
    assert (np.diff(F[picked, 0]) >= 0).all()
    assert slow_compromise(F) in picked
    if k > m:
        assert set(F.argmin(axis=0)) <= set(picked.tolist())


def test_best_compromise() -> None:
    F = front(200, 3, 4)
    assert compromise(F) == slow_compromise(F)
    assert compromise(F * [1e3, 1e-6, 1.0] + 7) == slow_compromise(F)  # units and zero points do not matter
    assert compromise(np.array([[0.0, 4.0], [4.0, 0.0], [1.0, 2.0]])) == 2


def test_no_design_is_far_from_those_picked() -> None:
    """Farthest-point picking: no design is farther from the picked ones than they are, at least, from each other."""
    F = front(400, 3, 2)
    picked = spread(F, 12)
    S = (F - F.min(axis=0)) / (F.max(axis=0) - F.min(axis=0))
    distance = np.sqrt(np.square(S[:, None] - S[picked][None]).sum(axis=2))
    last = distance[picked][~np.eye(12, dtype=bool)].min()
    five = np.sqrt(np.square(S[:, None] - S[spread(F, 5)][None]).sum(axis=2)).min(axis=1).max()
    assert distance.min(axis=1).max() < 0.75 * five
    assert distance.min(axis=1).max() <= 1.5 * last


def test_linear_front_is_divided_evenly() -> None:
    t = np.linspace(0, 1, 101)
    assert spread(np.stack([t, 1 - t], axis=1), 5).tolist() == [0, 25, 50, 75, 100]


def test_fewer_designs_than_wanted() -> None:
    F = front(4, 3)
    assert sorted(spread(F, 9).tolist()) == [0, 1, 2, 3]
    assert spread(F[:1], 3).tolist() == [0]
    assert spread(F[:0], 3).shape == (0,)


def test_constant_objectives_and_copies() -> None:
    t = np.linspace(0, 1, 11)
    F = np.stack([t, np.full(11, 3.0), 1 - t], axis=1)
    assert spread(F, 3).tolist() == [0, 5, 10]
    assert spread(np.ones((6, 3)), 4).tolist() == [0]  # copies of one compromise: one stands for all
    assert spread(np.array([[3.0], [1.0], [2.0]]), 1).tolist() == [1]


def test_of_equally_good_ones_the_better_compromise() -> None:
    F = np.array([[0.0, 1.0, 0.9], [0.0, 0.2, 1.0], [1.0, 0.0, 0.0]])
    assert 1 not in spread(F, 2) or 0 not in spread(F, 2)
    G = np.array([[0.0, 1.0], [0.0, 0.5], [1.0, 0.0]])
    assert spread(G, 2).tolist() == [1, 2]


@pytest.mark.parametrize(("F", "k", "words"), [(np.ones((2, 2)), 0, "k: 0"), (np.full((2, 2), np.nan), 1, "NaN")])
def test_refuses(F: Array, k: int, words: str) -> None:
    with pytest.raises(CallError, match=words):
        spread(F, k)
