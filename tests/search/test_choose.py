"""Picks from fronts: exact knees, achievement against brute force, what requirements and the present setup leave."""

from __future__ import annotations

from itertools import chain, combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search import compromise
from ridefront.search.choose import (
    AUGMENTED,
    Pick,
    achievement,
    best_compromise,
    best_in,
    better,
    by_weights,
    conflicts,
    front_of,
    knee,
    least_missed,
    meets,
    nearest,
    normalised,
    rank,
)

Array = NDArray[np.float64]
M = [2, 3, 4]


def sphere(n: int, m: int, seed: int, *, convex: bool) -> Array:
    """n points on the sphere in the positive orthant (DTLZ2's front, concave), or on its mirror image (convex)."""
    X = np.abs(np.random.default_rng(seed).normal(size=(n, m)))
    X /= np.sqrt(np.square(X).sum(axis=1))[:, None]
    return np.asarray(1 - X if convex else X)


def kinked(x: Array, kink: float) -> Array:
    """Two straight legs that meet at (kink, kink), from (0, 1) and to (1, 0)."""
    steep, flat = 1 - x * (1 - kink) / kink, kink - (x - kink) * kink / (1 - kink)
    return np.stack([x, np.where(x < kink, steep, flat)], axis=1)


def knee_of(F: Array) -> Pick:
    found = knee(front_of(F))
    assert found is not None
    return found


def test_knee_of_a_hyperbola() -> None:
    """F2 = 1/F1: where a little of one exchanges for as much of the other."""
    x = np.exp(np.linspace(-np.log(10), np.log(10), 401))
    found = knee_of(np.stack([x, 1 / x], axis=1))
    assert found.row == 200  # (1, 1)
    assert found.figure > 1.2


@pytest.mark.parametrize("m", M)
@pytest.mark.parametrize("convex", [True, False])
def test_knee_of_a_sphere_is_its_symmetrical_point(m: int, convex: bool) -> None:
    """Bulging towards the ideal or away from it: all exchange at par there."""
    F = sphere(3000, m, m, convex=convex)
    found = knee_of(F * 10.0 ** np.arange(m))
    middle = 1 / np.sqrt(m)
    assert np.abs(F[found.row] - (1 - middle if convex else middle)).max() < (0.02, 0.06, 0.12)[m - 2]
    assert (found.figure > 1) == convex


@pytest.mark.parametrize("kink", [0.05, 0.2, 0.35])
def test_knee_of_two_legs_is_where_they_meet(kink: float) -> None:
    """The price of the cheapest step from there is a leg's slope, exactly; unevenly spaced points change nothing."""
    rng = np.random.default_rng(3)
    x = np.sort(np.concatenate([[0, kink, 1], kink * rng.random(150), kink + (1 - kink) * rng.random(150)]))
    F = kinked(x, kink)
    found = knee_of(F)
    assert F[found.row] == pytest.approx([kink, kink])
    assert found.figure == pytest.approx((1 - kink) / kink, rel=0.05)


def test_knee_of_a_straight_front_is_its_middle() -> None:
    """No row is better than another by price: the best compromise decides."""
    x = np.linspace(0, 1, 101)
    found = knee_of(np.stack([x, 1 - x], axis=1))
    assert found.row == 50
    assert found.figure == pytest.approx(1)


@pytest.mark.parametrize("knees", [1, 3])
def test_knee_of_a_published_problem(knees: int) -> None:
    """DEB2DK with its stated number of knees: an odd number has one in the middle, by symmetry, and the deepest.

    Branke, Deb, Dierolf and Osswald, "Finding knees in multi-objective optimization", PPSN VIII (2004) 722-731; the
    formula is from memory.
    """
    x = np.linspace(0, 1, 2001)
    r = 5 + 10 * (x - 0.5) ** 2 + np.cos(2 * knees * np.pi * x) / knees
    found = knee_of(np.stack([r * np.sin(np.pi * x / 2), r * np.cos(np.pi * x / 2)], axis=1))
    assert x[found.row] == pytest.approx(0.5, abs=2e-3)
    assert found.figure > 1.3


def test_there_is_no_knee_without_inner_rows() -> None:
    for F in ([[0.0, 1.0], [1.0, 0.0]], [[1.0, 2.0]], [[1.0], [2.0]], [[1.0, 1.0], [1.0, 1.0]]):
        assert knee(front_of(np.array(F))) is None
    x = np.linspace(0, 1, 51)
    ends = (x == 0) | (x == 1)
    assert knee(front_of(np.stack([x, (1 - x) ** 3], axis=1)), ends) is None


def test_three_rows_have_a_knee() -> None:
    assert knee_of(np.array([[0.0, 1.0], [0.2, 0.1], [1.0, 0.0]])).row == 1


FIGURES = st.integers(0, 40)


def fronts(m: int) -> st.SearchStrategy[Array]:
    """Rows of small whole numbers: many ties, many dominated rows, exact arithmetic."""
    rows = st.lists(st.tuples(*[FIGURES] * m), min_size=1, max_size=30)
    return rows.map(lambda found: np.array(found, dtype=float))


ANY = st.sampled_from(M).flatmap(fronts)


def dominated(F: Array, row: int) -> bool:
    return bool(((F[row] >= F).all(axis=1) & (F[row] > F).any(axis=1)).any())


def picks(F: Array, present: Array) -> list[tuple[str, int] | None]:
    """What every rule picks."""
    front, m = front_of(F), F.shape[1]
    found = [
        by_weights(front, np.arange(1.0, m + 1)),
        by_weights(front, np.eye(m)[0]),
        best_compromise(front),
        *(best_in(front, j) for j in range(m)),
        knee(front),
        nearest(front, np.abs(np.arange(len(F)) - 3.0)),
        better(front, present),
    ]
    return [None if pick is None else (pick.kind, pick.row) for pick in found]


@settings(derandomize=True, max_examples=150, deadline=None)
@given(ANY, st.data())
def test_any_weights_pick_a_pareto_optimal_row(F: Array, data: st.DataObject) -> None:
    weights = np.array(data.draw(st.lists(st.floats(0, 1e6), min_size=F.shape[1], max_size=F.shape[1])))
    if not (weights > 0).any():
        weights[0] = 1.0
    pick = by_weights(front_of(F), weights)
    assert pick is not None
    assert not dominated(F, pick.row)
    assert sum(pick.weights) == pytest.approx(1)


@settings(derandomize=True, max_examples=150, deadline=None)
@given(ANY, st.data())
def test_dominated_rows_and_units_change_no_pick(F: Array, data: st.DataObject) -> None:
    m = F.shape[1]
    present = np.array(data.draw(st.tuples(*[FIGURES] * m)), dtype=float)
    before = picks(F, present)
    worse = F[data.draw(st.lists(st.integers(0, len(F) - 1), max_size=8))] + data.draw(st.integers(1, 500))
    more = np.concatenate([F, worse])
    assert picks(more, present) == before
    units, zeros = 2.0 ** np.array(data.draw(st.tuples(*[st.integers(-9, 9)] * m))), float(data.draw(FIGURES))
    assert picks((F + zeros) * units, (present + zeros) * units) == before


@settings(derandomize=True, max_examples=100, deadline=None)
@given(ANY, st.data())
def test_shutting_out_other_rows_changes_no_pick(F: Array, data: st.DataObject) -> None:
    front, weights = front_of(F), np.arange(1.0, F.shape[1] + 1)
    allowed = np.array(data.draw(st.lists(st.booleans(), min_size=len(F), max_size=len(F))))
    for pick, free in (
        (by_weights(front, weights, allowed), by_weights(front, weights)),
        (best_compromise(front, allowed), best_compromise(front)),
    ):
        assert free is not None
        assert (pick is None) == (not (allowed & front.kept).any())
        if pick is not None:
            assert allowed[pick.row]
            assert pick.row == free.row or not allowed[free.row]


@pytest.mark.parametrize("m", M)
@pytest.mark.parametrize("convex", [True, False])
def test_achievement_agrees_with_brute_force_and_reaches_every_row(m: int, convex: bool) -> None:
    """Weights in inverse proportion to a row's give-aways pick that row, also where the front is concave and no
    weighted sum would (Wierzbicki 1980).
    """
    F = sphere(200, m, 7, convex=convex)
    front = front_of(F)

    def slow(weights: Array) -> int:
        def value(row: Array) -> float:
            s = [(row[j] - min(F[:, j])) / (max(F[:, j]) - min(F[:, j])) for j in range(m)]
            return float(max(w * x for w, x in zip(weights / sum(weights), s, strict=True)) + AUGMENTED * sum(s))

        return min(range(len(F)), key=lambda i: value(F[i]))

    rng, reached = np.random.default_rng(m), 0
    for _ in range(20):
        weights = rng.random(m)
        pick = by_weights(front, weights)
        assert pick is not None
        assert pick.row == slow(weights)
    S = front.scaled(F)
    inner = np.flatnonzero((S > 0.02).all(axis=1))
    for row in inner:
        pick = by_weights(front, 1 / S[row])
        reached += pick is not None and pick.row == row
    assert reached >= 0.97 * len(inner) > 50  # the small sum may tip the scales between close neighbours


@settings(derandomize=True, max_examples=100, deadline=None)
@given(ANY)
def test_compromise_is_that_of_the_spread(F: Array) -> None:
    front = front_of(F)
    pick = best_compromise(front)
    assert pick is not None
    kept = np.flatnonzero(front.kept)
    same = F[kept[compromise(F[kept])]]
    S = front.scaled(np.stack([F[pick.row], same]))
    assert (S[0].max(), S[0].sum()) == (S[1].max(), pytest.approx(S[1].sum()))


@settings(derandomize=True, max_examples=200, deadline=None)
@given(ANY, st.data())
def test_better_than_the_present_setup_or_why_not(F: Array, data: st.DataObject) -> None:
    m = F.shape[1]
    present = np.array(data.draw(st.tuples(*[FIGURES] * m)), dtype=float)
    front = front_of(F)
    pick, unheld = better(front, present), conflicts(front, present)
    assert (pick is None) == bool(unheld)
    if pick is not None:
        assert (F[pick.row] < present).all()
        assert pick.count == sum(bool((row < present).all()) for row in F[front.kept])
    groups = list(chain.from_iterable(combinations(range(m), k) for k in range(1, m + 1)))
    hopeless = [set(g) for g in groups if not any(all(row[j] < present[j] for j in g) for row in F)]
    assert [set(g) for g in unheld] == [g for g in hopeless if not any(other < g for other in hopeless)]


def test_gains_most_evenly() -> None:
    F = np.array([[0.0, 9.0, 5.0], [5.0, 5.0, 5.0], [9.0, 0.0, 5.0], [4.5, 7.0, 4.0]])
    pick = better(front_of(F), np.array([9.5, 9.5, 5.5]))
    assert pick is not None
    assert (pick.row, pick.count) == (1, 4)
    assert pick.figure == pytest.approx(0.5)  # of its ranges of 9, 9, 1; and 4.5 of 9


def test_requirements_met_and_missed() -> None:
    values = np.array([[0.50, 10.0, 3.0], [0.40, 2.0, 3.0], [0.45, 7.0, np.nan], [0.60, 20.0, 9.0]])
    limits, signs = np.array([0.45, 8.0, 5.0]), np.array([1.0, -1.0, -1.0])
    assert meets(values, limits, signs).tolist() == [
        [False, True, False], [True, False, False], [True, False, False], [False, True, True],
    ]  # fmt: skip
    missed = least_missed(values, limits, signs)
    # Over the ranges 0.2, 18 and 6 the first row misses 1/4, 0, 1/3; the second 0, 1/3, 1/3; the last 3/4.
    assert missed.row == 0
    assert missed.misses == pytest.approx((0.05, 0, 2))
    assert missed.without == (1, 0, 0)  # the last row lacks the first only
    assert least_missed(values[:, :1], np.array([0.3]), signs[:1]).without == (4,)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(ANY)
def test_a_pick_is_first_by_its_own_rule(F: Array) -> None:
    front, m = front_of(F), F.shape[1]
    distance = np.abs(np.arange(len(F)) - 5.0)
    kept = np.flatnonzero(front.kept)
    made = [by_weights(front, np.arange(1.0, m + 1)), knee(front), nearest(front, distance), best_in(front, m - 1)]
    made.append(better(front, F.max(axis=0) + 1))
    for pick in made:
        if pick is not None:
            order = rank(front, pick, F[kept], distance[kept])
            assert order[kept == pick.row][0] <= order.min() + 1e-3, pick.kind


def test_refuses() -> None:
    for F, words in ((np.empty((0, 2)), "at least one row"), (np.array([[np.nan, 1.0]]), "NaN")):
        with pytest.raises(CallError, match=words):
            front_of(F)
    for weights in ([1.0], [0.0, 0.0], [-1.0, 2.0], [np.nan, 1.0]):
        with pytest.raises(CallError, match="weights"):
            normalised(np.array(weights), 2)
    front = front_of(np.array([[1.0, 2.0], [2.0, 1.0]]))
    assert achievement(front, np.array([[0.0, 0.0]]), np.array([0.5, 0.5]))[0] < 0  # beyond the ideal


def test_achievement_by_hand() -> None:
    """Ranges 4 and 10: the row gives up 1/4 and 1/2, weighed 3 : 1."""
    front = front_of(np.array([[0.0, 10.0], [1.0, 5.0], [4.0, 0.0]]))
    found = achievement(front, front.F, normalised(np.array([3.0, 1.0]), 2))
    assert found[1] == pytest.approx(0.75 * 0.25 + 1e-4 * 0.75, rel=1e-12)
    assert found[[0, 2]] == pytest.approx([0.25 + 1e-4, 0.75 + 1e-4], rel=1e-12)
