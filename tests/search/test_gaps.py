"""Where fronts are thin: neighbours and rims of fronts whose neighbours can be written down."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.search.gaps import Gaps, gaps

Array = NDArray[np.float64]


def whole(Z: Array) -> list[NDArray[np.intp]]:
    return [np.arange(len(Z))]


def edges(found: list[Gaps], among: tuple[int, ...]) -> set[tuple[int, ...]]:
    return {
        tuple(sorted(map(int, corners)))
        for kind in found
        if kind.behind is None and kind.among == among
        for corners in kind.corners
    }


def sphere(n: int, m: int, seed: int) -> Array:
    """A front at random: less is better towards the origin's far side."""
    Z = np.abs(np.random.default_rng(seed).normal(size=(n, m)))
    front: Array = 1 - Z / np.linalg.norm(Z, axis=1, keepdims=True)
    return front


def test_two_objectives_have_neighbours_in_order_and_two_ends() -> None:
    """Shuffled along x + y = 1; the gap from 0.3 to 0.7 is the widest between neighbours."""
    x = np.array([0.7, 0.0, 0.3, 0.1, 1.0])
    Z = np.stack([x, 1 - x], axis=1)
    found = list(gaps(Z, whole(Z)))
    assert edges(found, (0, 1)) == {(1, 3), (2, 3), (0, 2), (0, 4)}
    (rim,) = [kind for kind in found if kind.behind is not None]
    assert rim.behind is not None
    assert {(int(a), int(b)) for (a,), b in zip(rim.corners, rim.behind, strict=True)} == {(1, 3), (4, 0)}
    top = next(kind for kind in found if kind.behind is None)
    at = top.width.argmax()
    assert sorted(top.corners[at]) == [0, 2]


@pytest.mark.parametrize("m", [3, 4])
def test_a_hole_is_the_widest_gap(m: int) -> None:
    """A front at random, dense but for a hole: it is bridged, by gaps wider than those elsewhere."""
    Z = sphere(1500, m, 1)
    middle = np.full(m, 1 - 1 / np.sqrt(m))
    Z = Z[np.linalg.norm(Z - middle, axis=1) > 0.3]
    found = list(gaps(Z, whole(Z)))
    (inner,) = [kind for kind in found if kind.behind is None and len(kind.among) == m]
    halfway = Z[inner.corners].mean(axis=1)
    in_hole = np.linalg.norm(halfway - middle, axis=1) < 0.2
    assert in_hole.any()
    assert np.median(inner.width[in_hole]) > 2 * np.median(inner.width[~in_hole])


def test_neighbours_in_three_objectives_are_near() -> None:
    """Each design's nearest one is its neighbour; edges are few, as in the plane (Euler: fewer than 3 n)."""
    Z = sphere(300, 3, 2)
    found = list(gaps(Z, whole(Z)))
    inner = edges(found, (0, 1, 2))
    assert 300 < len(inner) < 900
    flat = Z - Z.mean(axis=1, keepdims=True)  # along the diagonal
    distance = np.linalg.norm(flat[:, None] - flat[None], axis=2) + np.diag(np.full(300, np.inf))
    nearest = distance.argmin(axis=1)
    assert all(tuple(sorted((i, int(j)))) in inner for i, j in enumerate(nearest))


def test_fronts_of_fewer_objectives_have_gaps_of_their_own() -> None:
    Z = sphere(200, 3, 3)
    found = list(gaps(Z, whole(Z)))
    assert {kind.among for kind in found} == {(0, 1), (0, 2), (1, 2), (0, 1, 2)}
    for pair in combinations(range(3), 2):
        two = Z[:, list(pair)]
        front = {k for k in range(200) if not (two < two[k]).all(axis=1).any()}
        assert {k for edge in edges(found, pair) for k in edge} == front
        assert len(edges(found, pair)) == len(front) - 1


@pytest.mark.parametrize("m", [3, 4])
def test_facets_of_the_rim_bound_the_front_and_have_a_design_behind(m: int) -> None:
    """Facets have m - 1 corners; seen along the diagonal all designs are on one side of each."""
    Z = sphere(60, m, 4)
    (rim,) = [kind for kind in gaps(Z, whole(Z)) if kind.behind is not None]
    assert rim.behind is not None
    assert rim.corners.shape[1] == m - 1
    flat = (Z - Z.mean(axis=1, keepdims=True)) @ np.linalg.qr(np.c_[np.ones(m), np.eye(m)[:, 1:]])[0][:, 1:]
    for corners, behind in zip(rim.corners, rim.behind, strict=True):
        assert behind not in corners
        normal = np.linalg.svd(flat[corners[1:]] - flat[corners[0]])[2][-1]
        side = (flat - flat[corners[0]]) @ normal
        assert side.max() < 1e-9 or side.min() > -1e-9


@pytest.mark.parametrize(("n", "m"), [(2, 3), (3, 3), (2, 4), (4, 4)])
def test_few_designs_are_all_neighbours(n: int, m: int) -> None:
    Z = sphere(n, m, 5)
    found = list(gaps(Z, whole(Z)))
    assert edges(found, tuple(range(m))) == set(combinations(range(n), 2))


@pytest.mark.parametrize("m", [3, 4])
def test_all_in_a_line_there_is_a_gap_between_each_two_neighbours(m: int) -> None:
    """The first objective against all the others: seen by any pair with it."""
    x = np.random.default_rng(6).permutation(np.linspace(0, 1, 40))
    Z = np.stack([x] + [1 - x] * (m - 1), axis=1)
    found = list(gaps(Z, whole(Z)))
    order = np.argsort(x)
    assert edges(found, (0, 1)) == {tuple(sorted((int(a), int(b)))) for a, b in pairwise(order)}


def test_one_design_and_none_have_no_gaps() -> None:
    for n in (0, 1):
        Z = sphere(n, 3, 7)
        assert not any(len(kind.width) for kind in gaps(Z, whole(Z)))
    Z = np.ones((3, 1))
    assert not list(gaps(Z, whole(Z)))


def test_there_is_no_gap_between_groups() -> None:
    Z = sphere(60, 3, 8)
    groups = [np.arange(0, 60, 2), np.arange(1, 60, 2), np.empty(0, dtype=np.intp)]
    for kind in gaps(Z, groups):
        corners = kind.corners if kind.behind is None else np.c_[kind.corners, kind.behind]
        assert (corners % 2 == corners[:, :1] % 2).all()
    for kind in gaps(Z, [np.arange(1), np.arange(1, 2)]):
        assert not len(kind.width)
