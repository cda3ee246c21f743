"""Survival by reference directions where there are four objectives or more."""

from __future__ import annotations

from math import comb

import moocore
import numpy as np
import pytest
from numpy.typing import NDArray
from pymoo.problems import get_problem
from pymoo.util.ref_dirs import get_reference_directions

import ridefront.search.evolve as evolve
from ridefront.search import Rows, Settings, plan
from ridefront.search.evolve import survivors
from ridefront.search.niche import MANY, directions, fill_up

Array = NDArray[np.float64]


@pytest.mark.parametrize(("m", "most", "count"), [(4, 100, 84), (4, 84, 84), (4, 83, 56), (5, 200, 126), (4, 4, 4)])
def test_finest_lattice_that_fits(m: int, most: int, count: int) -> None:
    found = directions(m, most)
    assert len(found) == count == comb([p for p in range(1, 20) if comb(p + m - 1, m - 1) <= most][-1] + m - 1, m - 1)
    assert np.sqrt(np.square(found).sum(axis=1)) == pytest.approx(1.0)


def test_directions_fill_up_evenly() -> None:
    rng = np.random.default_rng(1)
    lattice = directions(4, 84)
    crowd = lattice[0] + 0.01 * rng.random((500, 4))  # all along one direction
    F = np.concatenate([crowd, lattice])
    picked = fill_up(F, np.arange(0), np.arange(len(F)), 84, 84)
    assert set(range(500, 584)) <= set(picked.tolist()) | {500}
    assert len(set(picked.tolist())) == 84


def test_what_is_kept_already_counts() -> None:
    lattice = directions(4, 84)
    F = np.concatenate([lattice, lattice * 1.0])
    kept, candidates = np.arange(83), np.arange(84, 168)
    (only,) = fill_up(F, kept, candidates, 1, 84)
    assert only == 84 + 83, "the one direction that nobody stands for"


def test_infeasible_designs_come_last_and_by_violation() -> None:
    rng = np.random.default_rng(2)
    F, V = rng.random((60, 4)), np.where(np.arange(60) < 20, 0.0, rng.random(60))
    found = survivors(rng.random((60, 3)), F, V, 40)
    assert (np.sort(found.V) == np.sort(V)[:40]).all()


def searched(generations: int) -> Array:
    """Front of pymoo's DTLZ2 with four objectives, of everything that was asked."""
    problem = get_problem("dtlz2", n_var=10, n_obj=4)
    search = plan((0,) * 10, 4, Settings(3, 256, 84, generations))
    found: list[Array] = []
    block = next(search)
    while True:
        F = np.asarray(problem.evaluate(block.U))
        found.append(F)
        try:
            block = search.send(Rows(F, np.zeros(len(F))))
        except StopIteration:
            return np.concatenate(found[-1:])


def test_last_generation_is_nearer_to_the_published_front_than_by_crowding(monkeypatch: pytest.MonkeyPatch) -> None:
    """DTLZ2 (Deb, Thiele, Laumanns, Zitzler 2002), against pymoo's points of its front."""
    front = get_problem("dtlz2", n_var=10, n_obj=4).pareto_front(
        get_reference_directions("das-dennis", 4, n_partitions=12)
    )
    ours = moocore.igd_plus(searched(80), ref=front)
    monkeypatch.setattr(evolve, "MANY", 99)
    assert MANY == 4
    by_crowding = moocore.igd_plus(searched(80), ref=front)
    assert ours < 0.7 * by_crowding
