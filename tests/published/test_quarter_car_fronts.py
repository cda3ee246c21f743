"""The exact hypervolumes against the hypervolume of finely drawn sets, and against designs at large."""

from __future__ import annotations

from collections.abc import Callable

import moocore
import numpy as np
import pytest

from published.quarter_car_fronts import (
    CAR,
    DAMPERS,
    SPRINGS,
    Array,
    box,
    exact_volume,
    figures,
    set_of,
    three,
    two,
)

Evaluate = Callable[[Array], Array]


def share(F: Array, m: int) -> float:
    ideal, reference = box(m)
    return float(moocore.hypervolume((F[:, :m] - ideal) / (reference - ideal), ref=np.ones(m)))


def region(side: int) -> Array:
    """The set of three objectives, drawn side by side, and its edge; (n, 3)."""
    soft, end = SPRINGS[0], CAR.spring_of_least_tyre_force
    ks, part = np.meshgrid(np.linspace(soft, end, side), np.linspace(0, 1, side), indexing="ij")
    curve = CAR.pareto_damping(ks)
    edge = np.geomspace(DAMPERS[0], curve[0, 0], side)
    spread = figures(ks.ravel(), (curve * (DAMPERS[1] / curve) ** part).ravel())
    return np.concatenate([spread, figures(np.full(side, soft), edge)])


@pytest.mark.parametrize("m", [2, 3])
def test_finer_quadrature_changes_nothing(m: int) -> None:
    assert exact_volume(m, points=8000, nodes=60) == pytest.approx(exact_volume(m), abs=1e-8)


def test_sets_drawn_finely_come_close_from_below_with_two_objectives() -> None:
    """A staircase of N steps lacks about 1/N: ten times as many, a tenth."""
    lacking = [exact_volume(2) - share(figures(*set_of(DAMPERS[0], n)), 2) for n in (200, 2000, 20000)]
    assert 0 < lacking[2] < 1e-4
    assert lacking[0] / lacking[1] == pytest.approx(10, rel=0.02)
    assert lacking[1] / lacking[2] == pytest.approx(10, rel=0.02)


def test_sets_drawn_finely_come_close_from_below_with_three_objectives() -> None:
    """A surface of N points lacks about N^(-1/2): four times as many, half; what is left is extrapolated away."""
    volumes = [share(region(side), 3) for side in (100, 200, 400)]
    lacking = exact_volume(3) - np.array(volumes)
    assert 0 < lacking[2] < 0.005
    assert lacking[0] / lacking[1] == pytest.approx(2, rel=0.03)
    assert 2 * volumes[2] - volumes[1] == pytest.approx(exact_volume(3), abs=3e-5)


@pytest.mark.parametrize(("m", "evaluate"), [(2, two), (3, three)])
def test_designs_at_large_dominate_less_and_nothing_is_outside_the_box(m: int, evaluate: Evaluate) -> None:
    """100 000 designs, and the set finely drawn beside them: together they dominate no more than the exact front."""
    F = evaluate(np.random.default_rng(m).random((100_000, 2)))
    ideal, reference = box(m)
    assert (F.min(axis=0) >= ideal * (1 - 1e-12)).all()
    exact = region(300)[:, :m] if m == 3 else figures(*set_of(DAMPERS[0], 10_000))[:, :m]
    assert (exact.max(axis=0) < reference).all()
    assert share(np.concatenate([F, exact]), m) < exact_volume(m)
    assert share(F, m) < exact_volume(m)
