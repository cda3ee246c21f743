"""Refinement on problems whose fronts can be written down: how much of the front it finds, and how exactly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import moocore
import numpy as np
import pytest
from numpy.typing import NDArray

from plain_parts import plain_anatomy, plain_rows
from ridefront.errors import CallError
from ridefront.search import ALL_DONE, Block, Rows, Settings, plan, snap
from ridefront.search.plan import REFINED, SPENT, STALLED
from ridefront.search.refine import Refinement

Array = NDArray[np.float64]
Parts = Callable[[Array], Array]


@dataclass(frozen=True)
class Found:
    """What a refinement asked, block by block, and how it did."""

    U: Array
    F: Array
    V: Array
    blocks: list[Array]

    @property
    def front(self) -> NDArray[np.bool_]:
        """(n,)"""
        keep = self.V <= 0
        keep[keep] = moocore.is_nondominated(self.F[keep], keep_weakly=False)
        return keep


def refined(
    parts: Parts, m: int, limits: int, levels: tuple[int, ...], most: int, start: int = 60, seed: int = 1
) -> Found:
    """Refines the front of some designs at random with at most so many more; what was asked of it."""
    U = snap(np.random.default_rng(seed).random((start, len(levels))), levels)
    P = parts(U)
    known = np.isfinite(P).all(axis=1)
    F, V = plain_rows(P[known], m)
    blocks = Refinement(plain_anatomy(m, limits), levels, U[known], F, V, 50).blocks()
    asked: list[Array] = []
    told: list[Array] = [np.empty((0, m + limits))]
    try:
        block = next(blocks)
        while sum(map(len, asked)) + len(block) <= most:
            asked.append(block)
            told.append(parts(block))
            block = blocks.send(told[-1])
    except StopIteration:
        pass
    P = np.concatenate(told)
    known = np.isfinite(P).all(axis=1)
    F, V = np.full((len(P), m), 1e30), np.full(len(P), 1e30)
    F[known], V[known] = plain_rows(P[known], m)
    every = np.concatenate([np.empty((0, len(levels))), *asked])
    return Found(every, F, V, asked)


def corners(m: int) -> Array:
    """(m, 4): where each of m bowls is least; the Pareto set is their hull."""
    return np.array([[0.2, 0.3, 0.5, 0.4], [0.8, 0.4, 0.5, 0.6], [0.4, 0.8, 0.6, 0.5], [0.5, 0.4, 0.2, 0.9]])[:m]


def bowls(m: int) -> Parts:
    """Squared distances from m points: the front is theirs on the hull of the points, for the others nothing."""

    def parts(U: Array) -> Array:
        return np.stack([np.square(U - centre).sum(axis=1) for centre in corners(m)], axis=1)

    return parts


def hull_front(m: int, fine: int) -> Array:
    """The bowls' front drawn finely: all shares of the m points in steps of 1 / fine."""
    grid = np.stack(np.meshgrid(*[np.arange(fine + 1)] * (m - 1), indexing="ij"), axis=-1).reshape(-1, m - 1)
    grid = grid[grid.sum(axis=1) <= fine] / fine
    shares = np.column_stack([grid, 1 - grid.sum(axis=1)])
    return bowls(m)(shares @ corners(m))


def off_hull(U: Array, m: int) -> Array:
    """Distance (n,) from the plane of the m points."""
    base = corners(m)
    way = (base[1:] - base[0]).T
    right = (U - base[0]).T
    off: Array = np.linalg.norm(right - way @ np.linalg.lstsq(way, right, rcond=None)[0], axis=0)
    return off


def share_of_volume(F: Array, exact: Array) -> float:
    """Hypervolume over that of the exact front, within a box a tenth larger than it."""
    low, span = exact.min(axis=0), np.ptp(exact, axis=0)
    corner = np.full(F.shape[1], 1.1)
    return float(
        moocore.hypervolume((F - low) / span, ref=corner) / moocore.hypervolume((exact - low) / span, ref=corner)
    )


@pytest.mark.parametrize(("m", "most", "least"), [(2, 300, 0.99), (3, 1200, 0.96), (4, 1000, 0.82)])
def test_finds_the_front_of_bowls(m: int, most: int, least: float) -> None:
    found = refined(bowls(m), m, 0, (0,) * 4, most)
    front = found.front
    assert front.sum() > most / 4
    assert share_of_volume(found.F[front], hull_front(m, {2: 2000, 3: 60, 4: 20}[m])) > least
    assert np.median(off_hull(found.U[front], m)) < 0.01
    assert np.percentile(off_hull(found.U[front], m), 90) < 0.06
    assert len(np.unique(found.U, axis=0)) == len(found.U)


def test_limits_are_kept_and_used() -> None:
    """Bowls about (0.2, 0.5) and (0.8, 0.5), with y >= 0.6 + 0.1 sin 6x: the front is the limit's edge."""

    def parts(U: Array) -> Array:
        x, y = U.T
        ends = [np.square(x - centre) + np.square(y - 0.5) for centre in (0.2, 0.8)]
        return np.stack([*ends, 0.6 + 0.1 * np.sin(6 * x) - y], axis=1)

    found = refined(parts, 2, 1, (0, 0), 400)
    front = found.front
    assert front.sum() > 100
    margin = -parts(found.U[front])[:, 2]
    assert margin.min() >= 0
    assert np.median(margin) < 1e-4
    x = np.linspace(0, 1, 20001)
    exact = parts(np.stack([x, 0.6 + 0.1 * np.sin(6 * x)], axis=1))[:, :2]
    exact = exact[moocore.is_nondominated(exact)]
    assert 0.99 < share_of_volume(found.F[front], exact) < 1 + 1e-4


def test_many_steps_are_walked_and_choices_are_kept_apart() -> None:
    """x of 40 steps, a choice of 3 that shifts the second bowl, two free ones."""
    levels = (40, 3, 0, 0)

    def parts(U: Array) -> Array:
        shift = np.array([0.3, 0.0, 0.3])[np.floor(U[:, 1] * 3).astype(int)]
        rest = np.square(U[:, 2:] - 0.5).sum(axis=1)
        return np.stack([np.square(U[:, 0] - 0.2) + rest, np.square(U[:, 0] - 0.8) + rest + shift], axis=1)

    found = refined(parts, 2, 0, levels, 400)
    np.testing.assert_array_equal(snap(found.U, levels), found.U)
    assert len(np.unique(found.U, axis=0)) == len(found.U)
    code = np.arange(8, 32)
    exact = parts(np.stack([(code + 0.5) / 40, *[np.full(24, 0.5)] * 3], axis=1))
    front = found.front
    assert share_of_volume(found.F[front], exact) > 0.97
    assert (np.floor(found.U[front, 1] * 3) == 1).mean() > 0.8


def test_a_space_of_steps_alone() -> None:
    """12 x 12 designs: none twice, and the front's of the whole space, which can be listed."""
    levels = (12, 12)

    def parts(U: Array) -> Array:
        x, y = U.T
        return np.stack([np.square(x - 0.1) + np.square(y - 0.3), np.square(x - 0.9) + np.square(y - 0.6)], axis=1)

    found = refined(parts, 2, 0, levels, 1000, start=12)
    assert len(np.unique(found.U, axis=0)) == len(found.U) <= 144
    np.testing.assert_array_equal(snap(found.U, levels), found.U)
    code = (np.stack(np.meshgrid(np.arange(12), np.arange(12)), axis=-1).reshape(-1, 2) + 0.5) / 12
    every = parts(code)
    exact = every[moocore.is_nondominated(every)]
    assert share_of_volume(found.F[found.front], exact) > 0.97


@pytest.mark.parametrize("levels", [(3, 4, 2), (1,), (7, 7)])
def test_choices_alone_leave_nothing_to_refine(levels: tuple[int, ...]) -> None:
    found = refined(lambda U: np.stack([U.sum(axis=1), -U.sum(axis=1)], axis=1), 2, 0, levels, 100)
    assert not found.blocks


@pytest.mark.parametrize("levels", [(5, 0), (2, 3, 0)])
def test_each_choice_with_one_design_of_the_front(levels: tuple[int, ...]) -> None:
    """Of each choice one value of the free variable is best for all: no neighbours, no gaps, an end."""

    def parts(U: Array) -> Array:
        rest = np.square(U[:, -1] - 0.4)
        return np.stack([U[:, :-1].sum(axis=1) + rest, -U[:, :-1].sum(axis=1) + rest], axis=1)

    found = refined(parts, 2, 0, levels, 1000, start=20)
    assert 0 < len(found.U) < 1000
    np.testing.assert_allclose(found.U[found.front, -1], 0.4, atol=2e-3)


def test_one_objective_is_made_least() -> None:
    """Rosenbrock's valley (1960), on [-2, 2]²: nought at (1, 1)."""

    def parts(U: Array) -> Array:
        x, y = (4 * U - 2).T
        return np.stack([100 * np.square(y - x * x) + np.square(1 - x)], axis=1)

    found = refined(parts, 1, 0, (0, 0), 1000)
    start = parts(np.random.default_rng(1).random((60, 2))).min()
    assert found.F.min() < 0.05 * start
    assert len(found.U) < 1000


def test_the_same_design_best_for_all() -> None:
    found = refined(lambda U: np.square(U - 0.3) @ np.array([[1.0, 2.0], [3.0, 1.0]]), 2, 0, (0, 0), 1000)
    assert 0 < len(found.U) < 1000
    np.testing.assert_allclose(found.U[found.F.sum(axis=1).argmin()], 0.3, atol=2e-3)


def test_designs_beyond_a_limit_walk_towards_it() -> None:
    """Only x + y + z >= 2.7 is allowed, a fiftieth of a percent of the cube: no design at random is."""

    def parts(U: Array) -> Array:
        return np.column_stack([U[:, 0], 1 - U[:, 0] + U[:, 1], 2.7 - U.sum(axis=1)])

    found = refined(parts, 2, 1, (0, 0, 0), 300, start=20)
    assert (found.V[: len(found.blocks[0])] > 0).all()
    assert (found.V <= 0).sum() > 20
    assert found.F[found.V <= 0, 0].min() == pytest.approx(0.7, abs=0.02)


def test_where_nothing_is_allowed_the_least_violation_is_approached() -> None:
    def parts(U: Array) -> Array:
        return np.column_stack([U[:, 0], -U[:, 0], 0.1 + np.square(U - 0.6).sum(axis=1)])

    found = refined(parts, 2, 1, (0, 0, 0), 1000, start=20)
    assert len(found.U) < 1000
    assert 0.1 <= found.V.min() < 0.1001


def test_failed_designs_are_walked_around() -> None:
    """A slice of the cube fails, and part of the front with it: the rest is found."""

    def parts(U: Array) -> Array:
        P = bowls(2)(U)
        P[(U[:, 0] > 0.45) & (U[:, 0] < 0.6)] = np.nan
        return P

    found = refined(parts, 2, 0, (0,) * 4, 300)
    front = found.front
    assert (found.V >= 1e30).any()
    assert np.isfinite(found.F[front]).all()
    exact = hull_front(2, 2000)
    # shares of the first point from 0.6 down to 1/3 fail
    shares = np.arange(2001) / 2000
    left = exact[(0.8 - 0.6 * shares <= 0.45) | (0.8 - 0.6 * shares >= 0.6)]
    assert 1300 < len(left) < 1600
    assert share_of_volume(found.F[front], exact) > 0.9 * share_of_volume(left, exact)


def test_an_objective_that_is_always_the_same_changes_nothing_of_the_others() -> None:
    def parts(U: Array) -> Array:
        P = bowls(2)(U)
        return np.column_stack([P[:, 0], np.full(len(P), 7.0), P[:, 1]])

    found = refined(parts, 3, 0, (0,) * 4, 400)
    front = found.front
    assert share_of_volume(found.F[front][:, [0, 2]], hull_front(2, 2000)) > 0.96


# the plan, which the refinement is a stage of

SETTINGS = Settings(seed=3, sample=64, population=40, generations=3, refine=500)


def answered(settings: Settings, parts: Parts | None = None, enough: int = 10**9) -> tuple[list[Block], str]:
    """Blocks of a plan for two bowls, and why it stopped; from refinement's block `enough` on rows say so."""
    search = plan((0,) * 4, 2, settings, plain_anatomy(2))
    parts = parts or bowls(2)
    blocks: list[Block] = []
    try:
        block = next(search)
        while True:
            blocks.append(block)
            P = parts(block.U)
            stop = block.stage == "refine" and block.generation >= enough
            block = search.send(Rows(*plain_rows(P, 2), P if block.parts else None, stop))
    except StopIteration as end:
        return blocks, str(end.value)


def alike(a: Block, b: Block) -> bool:
    return (a.stage, a.generation, a.fidelity, a.parts, a.U.tobytes()) == (
        b.stage, b.generation, b.fidelity, b.parts, b.U.tobytes(),
    )  # fmt: skip


def refinement(blocks: list[Block]) -> list[Block]:
    return [block for block in blocks if block.stage == "refine"]


def test_a_smaller_budget_is_the_beginning_of_a_larger_one() -> None:
    whole, _ = answered(SETTINGS)
    assert len(refinement(whole)) > 5
    for refine in (0, 100, 230, 499):
        part, why = answered(replace(SETTINGS, refine=refine))
        assert len(part) <= len(whole)
        assert all(alike(a, b) for a, b in zip(part, whole, strict=False))
        assert why == ALL_DONE
        spent = sum(len(block.U) for block in refinement(part))
        assert spent <= refine
        assert len(part) == len(whole) or spent + len(whole[len(part)].U) > refine


def test_the_same_rows_bring_the_same_blocks_and_only_refinement_wants_parts() -> None:
    one, two = answered(SETTINGS)[0], answered(SETTINGS)[0]
    assert len(one) == len(two)
    assert all(alike(a, b) for a, b in zip(one, two, strict=True))
    assert all(block.parts == (block.stage == "refine") for block in one)
    assert [block.generation for block in refinement(one)] == list(range(1, len(refinement(one)) + 1))


def test_evaluations_bound_all_stages_and_refinement_keeps_its_share() -> None:
    blocks, why = answered(replace(SETTINGS, generations=100, refine=300, evaluations=600))
    assert sum(len(block.U) for block in blocks) <= 600
    assert sum(len(block.U) for block in blocks if block.stage != "refine") == 300
    assert 150 < sum(len(block.U) for block in refinement(blocks)) <= 300
    assert why in (SPENT, ALL_DONE)
    blocks, why = answered(replace(SETTINGS, refine=10_000, evaluations=64 + 3 * 40 + 200))
    assert why == SPENT


def test_enough_ends_it() -> None:
    whole, _ = answered(SETTINGS)
    blocks, why = answered(SETTINGS, enough=3)
    assert why == STALLED
    assert len(refinement(blocks)) == 3
    assert all(alike(a, b) for a, b in zip(blocks, whole, strict=False))


def test_ends_where_nothing_is_left() -> None:
    def parts(U: Array) -> Array:
        return np.asarray(np.square(U - 0.3) @ np.array([[1.0, 2.0], [3.0, 1.0], [1.0, 1.0], [2.0, 1.0]]))

    blocks, why = answered(replace(SETTINGS, refine=100_000), parts)
    assert why == REFINED
    assert refinement(blocks)


@pytest.mark.parametrize("short", [False, True])
def test_rows_without_parts_are_refused(short: bool) -> None:
    search = plan((0,) * 4, 2, SETTINGS, plain_anatomy(2))
    block = next(search)
    while not block.parts:
        block = search.send(Rows(*plain_rows(bowls(2)(block.U), 2)))
    P = bowls(2)(block.U)
    with pytest.raises(CallError, match="parts"):
        search.send(Rows(*plain_rows(P, 2), P[:-1] if short else None))


def test_each_fidelity_is_refined_on_its_own() -> None:
    settings = replace(SETTINGS, again=2, refine=200, refine_again=150)
    blocks, _ = answered(settings)
    fidelities = [block.fidelity for block in refinement(blocks)]
    assert fidelities == sorted(fidelities)
    assert set(fidelities) == {0, 1}
    for fidelity in (0, 1):
        U = np.concatenate([block.U for block in refinement(blocks) if block.fidelity == fidelity])
        assert len(np.unique(U, axis=0)) == len(U) <= (200, 150)[fidelity]
