"""Fronts too large to keep whole: what is left is never dominated and stands for everything, by comparing all pairs."""

from __future__ import annotations

import sys

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.search import Archive
from ridefront.search.front import Rows
from ridefront.search.plan import _Best
from ridefront.search.thin import FINEST, Thinning
from ridefront.search.volume import box_around

Array = NDArray[np.float64]


def shell(n: int, m: int, seed: int, thickness: float) -> Array:
    """Designs about a part of a sphere, the later ones nearer to it, so that old ones go on being pushed out."""
    rng = np.random.default_rng(seed)
    direction = np.abs(rng.normal(size=(n, m)))
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    radius = 1 - thickness * rng.random(n) * np.linspace(1, 0, n)
    F: Array = 1 - direction * radius[:, None]
    return F * 10.0 ** np.arange(m)


@pytest.mark.parametrize("m", [2, 3, 4])
@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("thickness", [0.0, 0.02, 0.5])
def test_thinned_front_is_nondominated_and_stands_for_all(m: int, seed: int, thickness: float) -> None:
    F = shell(4000, m, seed, thickness)
    V = np.where(np.random.default_rng(seed).random(len(F)) < 0.9, 0.0, 1.0)
    archive, spacings = Archive(m, most=120), []
    first_box = None
    for start in range(0, len(F), 37):
        block = slice(start, start + 37)
        whole = archive.spacing is None
        archive.add(F[block], V[block], np.arange(start, start + len(F[block])))
        spacings.append(archive.coarseness or 0.0)
        if whole and archive.spacing is not None:
            seen = F[: start + 37][V[: start + 37] <= 0]
            first_box = box_around(seen[[not ((seen <= f).all(1) & (seen < f).any(1)).any() for f in seen]])
        assert archive.size <= 120
    if first_box is None:
        assert thickness == 0.5
        return
    assert archive.spacing is not None
    assert spacings == sorted(spacings)
    assert archive.coarseness is not None
    assert np.log2(archive.coarseness / FINEST) % 1 == 0
    kept, seen = archive.F, F[V <= 0]
    for f in kept:
        assert not ((seen <= f).all(1) & (seen < f).any(1)).any()
    sides = (
        archive.coarseness * (first_box.reference - first_box.ideal) / 1.1,
        archive.spacing * (kept.max(0) - kept.min(0)),
    )
    assert (sides[0] <= sides[1] * (1 + 1e-12)).all()
    for side in sides:
        for f in seen:
            assert (kept <= f + side * (1 + 1e-12)).all(1).any()


def test_a_front_that_is_small_enough_is_whole() -> None:
    F = shell(400, 3, 0, 0.0)
    whole, thinned = Archive(3), Archive(3, most=399)
    for archive in (whole, thinned):
        archive.add(F, np.zeros(400), np.arange(400))
    assert (whole.size, whole.spacing) == (400, None)
    assert thinned.size <= 300
    assert thinned.spacing is not None


def test_of_several_in_a_box_the_first_stays() -> None:
    F = np.array([[0.0, 1.0], [0.5, 0.5], [0.5 + 1e-9, 0.5 - 1e-9], [1.0, 0.0]])
    thinning = Thinning(F)
    assert thinning.coarsen(F, np.array([3, 2, 1, 0]), 3).tolist() == [3, 2, 0]
    new, old = thinning.admit(np.array([[0.5 + 2e-9, 0.5 - 2e-9], [0.2, 0.7]]), F[[3, 2, 0]])
    assert new.tolist() == [False, True]
    assert old.tolist() == [True, True, True]


def test_the_search_starts_refining_from_what_nothing_told_dominates(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = sys.modules["ridefront.search.plan"]  # its package has a function of that name
    monkeypatch.setattr(plan, "MOST", 100)
    monkeypatch.setattr(plan, "MERGED", 50)
    F = shell(4000, 3, 1, 0.05)
    best = _Best(3, 3)
    for start in range(0, len(F), 40):
        block = F[start : start + 40]
        best.add(block, Rows(block, np.zeros(len(block))))
    U, kept, _ = best.front()
    np.testing.assert_array_equal(U, kept)
    assert 20 < len(kept) <= 100
    for f in kept:
        assert not ((f >= F).all(1) & (f > F).any(1)).any()
