"""The least violating designs against pairwise comparison."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search import closest

Array = NDArray[np.float64]


def undercut(V: Array) -> NDArray[np.bool_]:
    """Twin: rows of which another misses each constraint by as little or less, and one by less; or an earlier equal."""
    n = len(V)
    return np.array(
        [
            any((V[j] <= V[i]).all() and ((V[j] < V[i]).any() or j < i) for j in range(n) if j != i)
            for i in range(n)
        ]
    )  # fmt: skip


@pytest.mark.parametrize("c", [1, 2, 4])
def test_all_trade_offs_where_they_are_few(c: int) -> None:
    rng = np.random.default_rng(c)
    V = np.maximum(rng.normal(0.5, 1.0, (60, c)), 0.0) + 0.01
    V[7] = V[3]
    found = closest(V, 100)
    assert set(found) == set(np.flatnonzero(~undercut(V)))
    totals = V[found].sum(axis=1)
    assert np.all(np.diff(totals) >= 0)


def test_of_many_some_that_stand_for_all() -> None:
    angle = np.linspace(0, np.pi / 2, 500)
    V = 2 - np.stack([np.sin(angle), np.cos(angle)], axis=1)
    found = closest(V, 20)
    assert len(found) == len(set(found)) == 20
    totals = V.sum(axis=1)
    assert totals[found[0]] == totals.min()
    assert found.min() == 0
    assert found.max() == 499, "the one that misses the first constraint by least, and the other"
    assert np.diff(np.sort(angle[found])).max() < 3 * np.pi / 2 / 20
    assert list(closest(V, 1)) == [np.argmin(totals)]


def test_none_without_designs_or_constraints() -> None:
    assert not len(closest(np.empty((0, 3)), 5))
    assert not len(closest(np.empty((4, 0)), 5))


@pytest.mark.parametrize(("V", "most"), [([[np.nan]], 1), ([[-1.0]], 1), ([[np.inf]], 1), ([[1.0]], 0)])
def test_nonsense_is_refused(V: list[list[float]], most: int) -> None:
    with pytest.raises(CallError, match="allowed"):
        closest(np.array(V), most)
