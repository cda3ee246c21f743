"""Snapping to codes, and never asking a design twice."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.search import snap
from ridefront.search.asked import Asked


@pytest.mark.parametrize("count", [1, 2, 3, 7, 49, 1000])
def test_snap_is_the_middle_of_the_cell(count: int) -> None:
    codes = np.arange(count)
    middles = (codes + 0.5) / count
    U = np.concatenate([codes / count + 1e-9, middles, (codes + 1) / count - 1e-9, [0.0, 1.0]])[:, None]
    expected = np.concatenate([middles, middles, middles, middles[:1], middles[-1:]])[:, None]
    np.testing.assert_array_equal(snap(U, (count,)), expected)
    np.testing.assert_array_equal(snap(expected, (count,)), expected)


def test_snap_leaves_continuous_variables_and_its_input_alone() -> None:
    U = np.random.default_rng(0).random((20, 3))
    before = U.copy()
    snapped = snap(U, (0, 5, 0))
    np.testing.assert_array_equal(U, before)
    np.testing.assert_array_equal(snapped[:, [0, 2]], U[:, [0, 2]])
    assert not np.shares_memory(snapped, U)
    assert np.signbit(snap(np.array([[-0.0]]), (0,))).sum() == 0


def test_snap_gives_every_code_its_share() -> None:
    u = snap(np.random.default_rng(1).random((30_000, 1)), (6,))
    counts = np.unique(u, return_counts=True)[1]
    assert len(counts) == 6
    assert (np.abs(counts / 30_000 - 1 / 6) < 0.01).all()


def test_add_new_keeps_first_ones_in_order() -> None:
    asked = Asked((4, 0))
    U = np.array([[0.125, 0.3], [0.375, 0.3], [0.125, 0.3], [0.125, 0.4], [0.625, 0.1]])
    np.testing.assert_array_equal(asked.add_new(U, 3), U[[0, 1, 3]])
    np.testing.assert_array_equal(asked.add_new(U, 3), U[[4]])  # beyond the limit nothing was noted
    assert asked.add_new(U, 3).shape == (0, 2)
    assert asked.add_new(U[:0], 3).shape == (0, 2)
    assert len(asked) == 4


def test_size_of_the_space() -> None:
    assert Asked((4, 5)).size == 20
    assert Asked((4, 0)).size is None


@pytest.mark.parametrize("levels", [(3, 4, 5), (60,), (30, 40, 50), (2, 0)])
def test_random_designs_are_new_to_the_last_one(levels: tuple[int, ...]) -> None:
    asked, rng = Asked(levels), np.random.default_rng(2)
    found = np.concatenate([asked.random(7, rng) for _ in range(10)])
    assert len(found) == min(asked.size or 70, 70)
    assert len(np.unique(found, axis=0)) == len(found) == len(asked)
    np.testing.assert_array_equal(snap(found, levels), found)


@pytest.mark.parametrize("levels", [(0, 0, 0), (0, 7, 2), (30, 40, 20), (2**40, 2**40)])
def test_asked_is_a_set(levels: tuple[int, ...]) -> None:
    """Against Python's own, over many blocks, some of whose designs come again or twice."""
    rng = np.random.default_rng(4)
    asked, seen, before = Asked(levels), set[bytes](), np.empty((0, len(levels)))
    for _ in range(300):
        again = before[rng.integers(0, len(before), 10)] if len(before) else before
        U = np.concatenate([snap(rng.random((40, len(levels))), levels), again])
        U = np.concatenate([U, U[rng.integers(0, len(U), 5)]])[rng.permutation(len(U) + 5)]
        expected: list[NDArray[np.float64]] = []
        for row in U:
            if row.tobytes() not in seen and len(expected) < 37:
                seen.add(row.tobytes())
                expected.append(row)
        new = asked.add_new(U, 37)
        np.testing.assert_array_equal(new, np.array(expected).reshape(-1, len(levels)))
        before = np.concatenate([before, new])
    assert len(asked) == len(seen)


def test_numbers_of_designs_differ_wherever_one_bit_does() -> None:
    rng = np.random.default_rng(5)
    U = rng.random((1000, 2))
    near = U.copy()
    near[:, 1] = np.nextafter(near[:, 1], 1)
    asked = Asked((0, 0))
    assert len(asked.add_new(np.concatenate([U, near, U[:, ::-1]]), 3000)) == 3000
