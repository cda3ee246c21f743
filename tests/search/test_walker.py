"""Walkers on problems whose best design for a target can be written down."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from plain_parts import plain_anatomy
from ridefront.search.local import Point, Terrain, curved
from ridefront.search.parts import Anatomy, Made
from ridefront.search.slopes import Slopes
from ridefront.search.walker import ROUNDS, Walker

Array = NDArray[np.float64]
Parts = Callable[[Array], Array]

A, B = np.array([0.2, 0.3, 0.6]), np.array([0.7, 0.8, 0.4])
STRETCH = np.array([1.0, 4.0, 0.5])


def bowls(U: Array) -> Array:
    """Two convex objectives, alike but for where they are least: the Pareto set is the line from A to B."""
    return np.stack([(np.square(U - centre) * STRETCH).sum(axis=1) for centre in (A, B)], axis=1)


def walk(parts: Parts, anatomy: Anatomy, levels: tuple[int, ...], u: Array, target: Array) -> tuple[Walker, int]:
    """Lets one walker go to its end; how many designs it asked."""
    terrain = Terrain(Slopes(anatomy, np.ones(len(anatomy.objectives))), levels)
    point = Point(u, np.empty(0), np.empty(0), np.inf, np.empty((0, 0)), np.eye(len(terrain.free)))
    walker = Walker(point, target, base=True)
    asked = 0
    while walker.wants:
        if walker.wants == "slopes":
            U = walker.ask_slopes(terrain)
            walker.tell_slopes(terrain, parts(U))
            asked += len(U)
        else:
            trial = walker.ask_step(terrain, terrain.promises([walker.task])[0])
            if trial is not None:
                P = parts(trial[None])
                Z, V = terrain.figures(P)
                walker.tell_step(terrain, P[0], Z[0], float(V[0]))
                asked += 1
        assert asked < 3 * ROUNDS * len(levels)
    return walker, asked


@pytest.mark.parametrize("share", [0.15, 0.5, 0.8])
def test_reaches_the_design_of_the_pareto_set_that_its_target_asks_for(share: float) -> None:
    """At A + share (B - A) both objectives exceed a target a little below it by as much, so that no other does better
    but for the share of their sum.
    """
    best = A + share * (B - A)
    walker, asked = walk(bowls, plain_anatomy(2), (0, 0, 0), np.array([0.9, 0.1, 0.1]), bowls(best[None])[0] - 0.05)
    np.testing.assert_allclose(walker.point.u, best, atol=2e-3)
    assert walker.point.fresh
    assert asked < 80


def kinked() -> Anatomy:
    """One objective: the larger of two parts."""
    return Anatomy((Made(((0, 1),), (1.0,), "worst", "largest"),), (1,), (), 2)


def ridge(U: Array) -> Array:
    """max(f, g) of two slanted bowls is least on the kink x = y, at 0.2 / 2: (0.1, 0.1). Along it the slopes of either
    part point across.
    """
    x, y = U.T
    along = np.square(x + y - 0.2) / 2
    return np.stack([along + 5 * (x - y), along - 5 * (x - y)], axis=1)


def test_goes_along_a_kink() -> None:
    walker, asked = walk(ridge, kinked(), (0, 0), np.array([0.9, 0.6]), np.zeros(1))
    np.testing.assert_allclose(walker.point.u, [0.1, 0.1], atol=1e-3)
    assert walker.point.z[0] < 1e-5
    assert asked < 60


def within_a_circle(U: Array) -> Array:
    """-x - 2y within a circle about (0.3, 0.3): least at 0.3 + 0.4 (1, 2) / sqrt 5."""
    return np.stack([-U[:, 0] - 2 * U[:, 1], np.square(U - 0.3).sum(axis=1) - 0.16], axis=1)


@pytest.mark.parametrize("start", [(0.2, 0.3), (0.9, 0.9)])
def test_arrives_on_a_curved_limit_and_within_it(start: tuple[float, float]) -> None:
    walker, _ = walk(within_a_circle, plain_anatomy(1, 1), (0, 0), np.array(start), np.full(1, -3.0))
    np.testing.assert_allclose(walker.point.u, 0.3 + 0.4 * np.array([1, 2]) / np.sqrt(5), atol=2e-3)
    assert walker.point.v == 0
    assert -1e-5 < within_a_circle(walker.point.u[None])[0, 1] <= 0


def test_several_limits_missed_at_once() -> None:
    """Twelve limits, each missed by more than the objective is worth: x >= 0.5 + i/100 of every i, y >= 0.4."""

    def parts(U: Array) -> Array:
        least = [0.5 + i / 100 - U[:, 0] for i in range(11)]
        return np.stack([U.sum(axis=1), *least, 0.4 - U[:, 1]], axis=1)

    walker, _ = walk(parts, plain_anatomy(1, 12), (0, 0), np.array([0.05, 0.05]), np.zeros(1))
    np.testing.assert_allclose(walker.point.u, [0.6, 0.4], atol=1e-5)
    assert walker.point.v == 0


def test_stays_within_bounds() -> None:
    """The least of a bowl about (1.4, 0.5) within the cube is (1, 0.5)."""

    def parts(U: Array) -> Array:
        return np.asarray(np.square(U - [1.4, 0.5]).sum(axis=1, keepdims=True))

    walker, _ = walk(parts, plain_anatomy(1), (0, 0), np.array([0.1, 0.9]), np.zeros(1))
    assert 1 - 1e-6 < walker.point.u[0] <= 1
    assert walker.point.u[1] == pytest.approx(0.5, abs=1e-3)


def test_stepped_variables_end_at_a_step_and_choices_stay() -> None:
    """x of 20 steps, y of 3 choices, z free: 0.525 is the step next to 0.52."""

    def parts(U: Array) -> Array:
        return np.asarray(np.square(U - [0.52, 0.9, 0.33]).sum(axis=1, keepdims=True))

    walker, _ = walk(parts, plain_anatomy(1), (20, 3, 0), np.array([0.025, 0.5, 0.9]), np.zeros(1))
    np.testing.assert_allclose(walker.point.u, [0.525, 0.5, 0.33], atol=5e-3)
    assert walker.point.u[0] == pytest.approx(0.525, abs=1e-12)


def test_failing_neighbours_end_it() -> None:
    def parts(U: Array) -> Array:
        P = bowls(U)
        P[U[:, 1] > 0.5] = np.nan
        return P

    walker, asked = walk(parts, plain_anatomy(2), (0, 0, 0), np.array([0.5, 0.49995, 0.5]), np.zeros(2))
    assert asked == 4
    assert walker.point.v == np.inf
    walker, _ = walk(parts, plain_anatomy(2), (0, 0, 0), np.array([0.9, 0.1, 0.1]), bowls(0.5 * (A + B)[None])[0] - 0.1)
    assert walker.point.v == 0
    assert walker.point.u[1] <= 0.5
    assert np.isfinite(walker.point.z).all()


def test_curvature_is_learnt_and_stays_positive() -> None:
    """BFGS on a quadratic: the curvature along the last step is the true one, and never below what the bounds allow."""
    rng = np.random.default_rng(1)
    root = rng.normal(size=(5, 5))
    true = root @ root.T + 0.1 * np.eye(5)
    found = np.eye(5)
    for _ in range(60):
        step = rng.normal(size=5)
        found = curved(found, step, true @ step)
    np.testing.assert_allclose(found @ step, true @ step, rtol=1e-6)
    np.testing.assert_allclose(found, true, rtol=0.1, atol=0.3)
    for _ in range(20):  # of a saddle
        step = rng.normal(size=5)
        found = curved(found, step, -step)
        assert np.linalg.eigvalsh(found).min() > 9e-4
