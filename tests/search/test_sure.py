"""Probability of a place on the front: against problems whose truth is known, and against slow obvious twins."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import binom, t

from ridefront.errors import CallError
from ridefront.search.sure import Uncertain, Wanted, probability, rivals, together, uncertain, weights

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

BINS = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0 + 1e-9)


def observed(g: np.random.Generator, T: Array, features: Array, noise: float, count: int) -> Array:
    """Figures (n, m, count) whose long-run means are T (n, m): what a realisation does is common to all designs in
    part, and for the rest linear in what a design is, so that like designs meet like luck.
    """
    common = 3 * noise * g.standard_normal((1, T.shape[1], count))
    own = noise * np.einsum("nf,fmr->nmr", features, g.standard_normal((features.shape[1], T.shape[1], count)))
    return np.asarray(T[:, :, np.newaxis] + common + own)


def ensemble(seen: Array) -> Uncertain:
    """One ensemble of plain means, its left-out figures as anybody would work them out."""
    count = seen.shape[2]
    without = np.stack([np.delete(seen, k, axis=2).mean(axis=2) for k in range(count)], axis=2)
    return uncertain(seen.mean(axis=2), without, (0,) * count)


def dominated(F: Array) -> Flags:
    """Every design against every other, (n,)."""
    no_worse = np.all(F[np.newaxis] <= F[:, np.newaxis], axis=2)
    better = np.any(F[np.newaxis] < F[:, np.newaxis], axis=2)
    return np.asarray(np.any(no_worse & better, axis=1))


def least(m: int) -> Wanted:
    """All objectives small."""
    return Wanted(tuple(range(m)), (1,) * m)


def selected(seed: int, m: int, realisations: int, noise: float) -> tuple[Array, Uncertain, Uncertain]:
    """Truth, search's figures and held-out figures of designs that a search has selected by its own figures."""
    g = np.random.default_rng(np.random.SeedSequence(11, spawn_key=(seed, m, realisations)))
    a = np.abs(g.standard_normal((120, m)))
    off = g.standard_normal((120, 2))
    T = 1 - a / np.linalg.norm(a, axis=1)[:, np.newaxis] + 0.3 * (off**2).sum(axis=1)[:, np.newaxis]
    features = np.concatenate([T, off], axis=1)
    search = observed(g, T, features, noise, realisations)
    front = ~dominated(search.mean(axis=2))
    fresh = observed(g, T, features, noise, realisations)
    return T[front], ensemble(search[front]), ensemble(fresh[front])


def reliability(stated: list[Array], true: list[Flags], seed: int) -> list[tuple[float, int, int]]:
    """Mean stated probability, how many designs, how many true, by bin; of each replication one design a bin at most,
    so that designs counted are independent and binomial bounds hold.
    """
    g = np.random.default_rng(seed)
    found = []
    for low, high in pairwise(BINS):
        picked = []
        for p, on in zip(stated, true, strict=True):
            inside = np.flatnonzero((p >= low) & (p < high))
            if len(inside):
                k = g.choice(inside)
                picked.append((p[k], on[k]))
        if picked:
            found.append((float(np.mean([p for p, _ in picked])), len(picked), sum(bool(on) for _, on in picked)))
    return found


def outside(row: tuple[float, int, int], allowed: float = 1e-3) -> bool:
    """Whether so many true ones are hardly to be had of so many at the stated probability, give or take 0.03
    for the error of the draws.
    """
    p, count, hits = row
    low = binom.ppf(allowed, count, max(p - 0.03, 0.0))
    high = binom.ppf(1 - allowed, count, min(p + 0.03, 1.0))
    return not low <= hits <= high


@pytest.mark.parametrize(("m", "realisations", "noise"), [(2, 4, 0.2), (2, 8, 0.2), (3, 8, 0.2), (2, 16, 0.1)])
def test_stated_probabilities_are_those_that_come_true(m: int, realisations: int, noise: float) -> None:
    """Of the designs called 70 % sure some 70 % are on the true front, after a search that selected by its figures."""
    stated, true = [], []
    for seed in range(120):
        T, search, fresh = selected(seed, m, realisations, noise)
        stated.append(probability(together([search, fresh]), least(m), seed, draws=100))
        true.append(~dominated(T))
    rows = reliability(stated, true, m)
    assert len(rows) >= 5
    assert [row for row in rows if outside(row)] == []


def test_held_out_roads_alone_call_good_designs_doubtful() -> None:
    """Why the search's own realisations count too: without them, designs called half sure are true more often."""
    stated, true = [], []
    for seed in range(120):
        T, _, fresh = selected(seed, 2, 8, 0.2)
        stated.append(probability(fresh, least(2), seed, draws=100))
        true.append(~dominated(T))
    low = [row for row in reliability(stated, true, 2) if 0.05 < row[0] < 0.6]
    hits, expected = sum(row[2] for row in low), sum(row[0] * row[1] for row in low)
    assert hits > expected + 3 * np.sqrt(sum(row[1] * row[0] * (1 - row[0]) for row in low))


@pytest.mark.parametrize("realisations", [4, 8, 16])
def test_two_designs_in_one_objective_follow_students_t(realisations: int) -> None:
    """The probability that one is better is that of Student's t for the paired difference: a textbook's t test."""
    g = np.random.default_rng(realisations)
    seen = g.standard_normal((2, 1, realisations)) * 0.3 + np.array([[[0.0]], [[0.15]]])
    difference = seen[1, 0] - seen[0, 0]
    exact = t.cdf(difference.mean() / (difference.std(ddof=1) / np.sqrt(realisations)), realisations - 1)
    draws = 4000
    found = probability(ensemble(seen), least(1), 3, draws)
    np.testing.assert_allclose(found, [exact, 1 - exact], atol=4 * np.sqrt(0.25 / draws))


def test_two_ensembles_pool_their_variance() -> None:
    """Means of two ensembles, and of the difference a t with two degrees of freedom less than realisations."""
    g = np.random.default_rng(5)
    seen = g.standard_normal((2, 1, 12)) * 0.3 + np.array([[[0.0]], [[0.1]]])
    d = seen[1, 0] - seen[0, 0]
    within = (d[:6].var(ddof=1) + d[6:].var(ddof=1)) / 2
    exact = t.cdf(d.mean() / np.sqrt(within / 12), 10)
    both = together([ensemble(seen[:, :, :6]), ensemble(seen[:, :, 6:])])
    np.testing.assert_allclose(both.values[:, 0], seen[:, 0].mean(axis=1), rtol=1e-13)
    assert probability(both, least(1), 3, 4000)[0] == pytest.approx(exact, abs=4 * np.sqrt(0.25 / 4000))


def test_more_realisations_leave_less_doubt() -> None:
    """The same designs on 4, 16 and 64 realisations."""
    doubtful = []
    for count in (4, 16, 64):
        shares = []
        for seed in range(12):
            g = np.random.default_rng(seed)
            a = np.abs(g.standard_normal((60, 2)))
            T = 1 - a / np.linalg.norm(a, axis=1)[:, np.newaxis] + 0.2 * g.random(60)[:, np.newaxis]
            p = probability(ensemble(observed(g, T, T, 0.2, count)), least(2), seed, draws=100)
            shares.append(np.mean((p > 0.05) & (p < 0.95)))
        doubtful.append(float(np.mean(shares)))
    assert doubtful[0] > 1.3 * doubtful[1] > 1.3 * 1.3 * doubtful[2] > 0


def test_roads_are_independent_and_limits_count() -> None:
    """Every draw worked out by hand: figures, feasible ones, dominance by two loops; a road each its own draws."""
    g = np.random.default_rng(8)
    road = (4, 4, 4, 7, 7)
    influence = g.standard_normal((9, 4, 5))
    for each in (4, 7):
        places = [k for k, other in enumerate(road) if other == each]
        influence[:, :, places] -= influence[:, :, places].mean(axis=2, keepdims=True)
    given = Uncertain(g.standard_normal((9, 4)), influence, road)
    wanted = Wanted((2, 0), (1, -1), ((1, 1, 0.4), (3, -1, -1.0)))
    count, beaten_by = np.zeros(9), np.zeros((9, 9), dtype=bool)
    for draw in range(50):
        F = given.values + influence @ weights(road, 1, 6, draw)
        feasible = (F[:, 1] <= 0.4) & (F[:, 3] >= -1.0)
        for i in range(9):
            better = [
                feasible[j] and F[j, 2] <= F[i, 2] and F[j, 0] >= F[i, 0] and (F[j, [0, 2]] != F[i, [0, 2]]).any()
                for j in range(9)
            ]
            count[i] += feasible[i] and not any(better)
            beaten_by[i] |= better
    np.testing.assert_array_equal(probability(given, wanted, 6, 50), count / 50)
    found = rivals(given, wanted, np.arange(9), 6, 50)
    assert not (found & ~beaten_by).any()
    # whoever is beaten is beaten by one that nobody beats, so these are enough
    np.testing.assert_array_equal(found.any(axis=1), beaten_by.any(axis=1))
    cov = np.corrcoef(np.array([weights(road, 1, 6, draw) for draw in range(4000)]).T)
    assert np.abs(cov[:3, 3:]).max() < 0.1


def test_order_of_designs_and_ties() -> None:
    """The same bits in any order; of two designs that are alike to the bit, neither is beaten by the other."""
    _, search, fresh = selected(1, 3, 4, 0.2)
    given = together([search, fresh])
    n = len(given.values)
    twice = given.of(np.concatenate([np.arange(n), np.arange(n)]))
    found = probability(twice, least(3), 2, 60)
    np.testing.assert_array_equal(found[:n], found[n:])
    order = np.random.default_rng(1).permutation(n)
    np.testing.assert_array_equal(probability(given.of(order), least(3), 2, 60), found[:n][order])


def test_what_is_refused() -> None:
    values, influence = np.zeros((2, 1)), np.zeros((2, 1, 2))
    with pytest.raises(CallError, match="do not match"):
        Uncertain(values, influence, (0,))
    with pytest.raises(CallError, match="NaN"):
        Uncertain(values * np.nan, influence, (0, 0))
    with pytest.raises(CallError, match="1 realisations of road 0 in 1 ensembles"):
        Uncertain(values, influence, (0, 3))
    with pytest.raises(CallError, match="2 realisations of road 0 in 2 ensembles"):
        Uncertain(values, influence, (0, 0), 2)
