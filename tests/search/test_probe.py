"""What a few designs say of objectives, against scipy's rank correlation; and how they fill the space."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc, spearmanr

from ridefront.search import ordered_alike, probes, snap, varies


@pytest.mark.parametrize("d", [1, 2, 4, 6])
def test_probes_fill_the_cube_and_reach_its_corners(d: int) -> None:
    U = probes((0,) * d, 256)
    assert len(np.unique(U, axis=0)) == len(U) <= 256
    corners = U[((U == 0) | (U == 1)).all(axis=1)]
    assert len(corners) >= 0.9 * 2**d
    assert d == 6 or len(corners) == 2**d
    inside = U[~((U == 0) | (U == 1)).all(axis=1)]
    assert len(inside) == 128
    by_chance = np.random.default_rng(0).random((128, d))
    assert qmc.discrepancy(inside) < 0.6 * qmc.discrepancy(by_chance)


def test_probes_of_discrete_variables_are_whole_codes_and_none_twice() -> None:
    U = probes((2, 3), 64)
    assert np.array_equal(snap(U, (2, 3)), U)
    assert len(U) == 6, "the whole space"
    assert np.array_equal(probes((2, 3), 64), U)


def test_ordered_alike_is_a_rank_correlation_of_exactly_one() -> None:
    rng = np.random.default_rng(2)
    f = np.round(rng.random(12), 1)
    f[1] = f[0]  # a tie
    for g in (3 * f - 1, np.exp(4 * f)):
        assert ordered_alike(f, g)
        assert ordered_alike(g, f)
        assert spearmanr(f, g).statistic == pytest.approx(1, abs=1e-12)
    assert ordered_alike(f, f + 1e-13 * rng.random(12)), "but for rounding"
    apart = f.copy()
    apart[0] += 1e-3
    for g in (-f, rng.random(12), apart, np.zeros(12)):
        assert not ordered_alike(f, g)
        assert not ordered_alike(g, f)
    ranks = np.arange(12.0)
    swapped = ranks.copy()
    swapped[[4, 5]] = 5, 4
    assert not ordered_alike(ranks, swapped)
    assert spearmanr(ranks, swapped).statistic > 0.99
    assert not ordered_alike(ranks[:1], ranks[:1]), "one design says nothing"


def test_a_figure_varies_or_does_not() -> None:
    assert not varies(np.full(5, 0.3))
    assert not varies(np.array([0.3, 0.3 + 1e-13]))
    assert not varies(np.zeros(5))
    assert not varies(np.array([1.0]))
    assert varies(np.array([0.0, 0.0, 1e-300]))
    assert varies(np.array([-1e6, -1e6 - 1]))
