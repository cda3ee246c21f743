"""The plan: what it asks is fixed by its arguments and by what it is told; no design twice; it stops where it
should."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search import (
    ALL_DONE,
    EXHAUSTED,
    LARGE,
    SAMPLE_BLOCK,
    Block,
    Rows,
    Settings,
    as_rows,
    plan,
    snap,
)
from ridefront.search.evolve import survivors
from ridefront.search.front import nondominated
from search.known_problems import dtlz2, follow, sphere

Array = NDArray[np.float64]
Evaluate = Callable[[Array], tuple[Array, Array]]

CONTINUOUS = (0, 0, 0, 0, 0, 0)
MIXED = (0, 7, 0, 2, 0, 1)
DISCRETE = (3, 4, 2)


def weighted(m: int) -> Evaluate:
    """m conflicting objectives: squared distances from m points on the cube's diagonal."""

    def evaluate(U: Array) -> tuple[Array, Array]:
        return np.stack([np.square(U - k / m).sum(axis=1) for k in range(m)], axis=1), np.maximum(0.2 - U[:, 0], 0)

    return evaluate


def all_infeasible(U: Array) -> tuple[Array, Array]:
    return dtlz2(np.pad(U, ((0, 0), (0, 3))))[0], 1 + np.square(U - 0.25).sum(axis=1)


def all_failed(U: Array) -> tuple[Array, Array]:
    rows = as_rows(np.full((len(U), 3), np.nan), np.ones(3), np.full(len(U), np.nan), np.zeros(len(U), dtype=bool))
    return rows.F, rows.V


def half_failed(U: Array) -> tuple[Array, Array]:
    F, V = weighted(3)(U)
    failed = U[:, 0] > 0.5
    F[failed], V[failed] = LARGE, LARGE
    return F, V


def one_constant(U: Array) -> tuple[Array, Array]:
    F, V = weighted(3)(U)
    F[:, 1] = 4.0
    return F, V


def all_constant(U: Array) -> tuple[Array, Array]:
    return np.ones((len(U), 3)), np.zeros(len(U))


CASES: dict[str, tuple[Evaluate, int]] = {
    "one objective": (sphere, 1),
    "two objectives": (weighted(2), 2),
    "three objectives": (weighted(3), 3),
    "four objectives": (weighted(4), 4),
    "six objectives": (weighted(6), 6),
    "all infeasible": (all_infeasible, 3),
    "all failed": (all_failed, 3),
    "half failed": (half_failed, 3),
    "one objective constant": (one_constant, 3),
    "all objectives constant": (all_constant, 3),
}
SPACES = {"continuous": CONTINUOUS, "mixed": MIXED, "discrete": DISCRETE, "one variable": (0,), "one code": (1,)}


def stacked(blocks: list[Block]) -> Array:
    return np.concatenate([block.U for block in blocks])


@pytest.mark.parametrize("space", SPACES)
@pytest.mark.parametrize("case", CASES)
class TestContract:
    """What holds of every plan, whatever the figures and whatever the space."""

    settings = Settings(seed=5, sample=50, population=15, generations=12)

    def run(self, case: str, space: str) -> tuple[list[Block], list[Rows], str]:
        evaluate, m = CASES[case]
        return follow(evaluate, SPACES[space], m, self.settings)

    def test_every_design_is_new_snapped_and_in_the_cube(self, case: str, space: str) -> None:
        U = stacked(self.run(case, space)[0])
        assert len(np.unique(U, axis=0)) == len(U)
        np.testing.assert_array_equal(snap(U, SPACES[space]), U)
        assert U.min() >= 0
        assert U.max() <= 1

    def test_stages_generations_and_sizes(self, case: str, space: str) -> None:
        blocks, _, why = self.run(case, space)
        levels = SPACES[space]
        assert all(len(block.U) for block in blocks)
        if all(levels):
            assert why == EXHAUSTED
            assert len(stacked(blocks)) == np.prod(levels)
        else:
            assert why == ALL_DONE
            assert [(b.stage, b.generation, len(b.U)) for b in blocks] == [("sample", 0, 50)] + [
                ("evolve", g, 15) for g in range(1, 13)
            ]

    def test_replay_is_bit_identical_and_stores_nothing_of_the_caller(self, case: str, space: str) -> None:
        blocks, sent, why = self.run(case, space)
        again = plan(SPACES[space], CASES[case][1], self.settings)
        block = next(again)
        for before, rows in zip(blocks[:-1], sent[:-1], strict=True):
            assert block.U.tobytes() == before.U.tobytes()
            assert (block.stage, block.generation) == (before.stage, before.generation)
            lent = Rows(rows.F.copy(), rows.V.copy())
            block.U[:] = 0.5  # the caller may do what it likes with what it was given
            block = again.send(lent)
            lent.F[:] = 0.0
        assert block.U.tobytes() == blocks[-1].U.tobytes()
        with pytest.raises(StopIteration, match=why):
            again.send(sent[-1])


@pytest.mark.parametrize("levels", [CONTINUOUS, MIXED])
def test_more_generations_only_add_blocks(levels: tuple[int, ...]) -> None:
    short, _, _ = follow(weighted(3), levels, 3, Settings(2, 64, 20, 7))
    long, _, _ = follow(weighted(3), levels, 3, Settings(2, 64, 20, 19))
    assert len(long) == len(short) + 12
    for a, b in zip(short, long, strict=False):
        assert a.U.tobytes() == b.U.tobytes()


def follow_both(
    levels: tuple[int, ...], settings: Settings, figures: tuple[Evaluate, Evaluate] = (weighted(3), half_failed)
) -> tuple[list[Block], list[Rows], str]:
    """Answers a plan of two fidelities, each with figures of its own."""
    search = plan(levels, 3, settings)
    blocks: list[Block] = []
    sent: list[Rows] = []
    try:
        block = next(search)
        while True:
            blocks.append(block)
            sent.append(Rows(*figures[block.fidelity](block.U)))
            block = search.send(sent[-1])
    except StopIteration as stop:
        return blocks, sent, str(stop.value)


@pytest.mark.parametrize("levels", [CONTINUOUS, MIXED, (9, 8, 7, 6)])
class TestTwoFidelities:
    """A search that goes on in a second fidelity from where the first has brought it."""

    settings = Settings(5, 64, 16, 6, 4)

    def test_begins_as_the_search_in_one_fidelity(self, levels: tuple[int, ...]) -> None:
        alone, sent, _ = follow_both(levels, Settings(5, 64, 16, 6))
        blocks, _, why = follow_both(levels, self.settings)
        assert [(b.stage, b.generation, b.fidelity, len(b.U)) for b in blocks] == (
            [("sample", 0, 0, 64)]
            + [("evolve", g, 0, 16) for g in range(1, 7)]
            + [("repeat", 0, 1, 16)]
            + [("continue", g, 1, 16) for g in range(1, 5)]
        )
        assert why == ALL_DONE
        for a, b in zip(alone, blocks, strict=False):
            assert a.U.tobytes() == b.U.tobytes()
        # what is repeated: the best of who would have had the next children and of the front of all, each once
        population = survivors(blocks[0].U, sent[0].F, sent[0].V, 16)
        for block, rows in zip(blocks[1:7], sent[1:], strict=True):
            population = survivors(
                np.concatenate([population.U, block.U]),
                np.concatenate([population.F, rows.F]),
                np.concatenate([population.V, rows.V]),
                16,
            )
        U, F, V = (
            np.concatenate(parts)
            for parts in ([b.U for b in blocks[:7]], [r.F for r in sent[:7]], [r.V for r in sent[:7]])
        )
        best = nondominated(F, V)
        known = {u.tobytes() for u in population.U}
        more = [k for k in np.flatnonzero(best) if U[k].tobytes() not in known]
        population = survivors(
            np.concatenate([population.U, U[more]]),
            np.concatenate([population.F, F[more]]),
            np.concatenate([population.V, V[more]]),
            16,
        )
        assert blocks[7].U.tobytes() == population.U.tobytes()

    def test_no_design_twice_in_a_fidelity(self, levels: tuple[int, ...]) -> None:
        blocks, _, _ = follow_both(levels, self.settings)
        for fidelity in (0, 1):
            U = stacked([block for block in blocks if block.fidelity == fidelity])
            assert len(np.unique(U, axis=0)) == len(U)
            np.testing.assert_array_equal(snap(U, levels), U)

    def test_replay_is_bit_identical(self, levels: tuple[int, ...]) -> None:
        blocks, sent, why = follow_both(levels, self.settings)
        search = plan(levels, 3, self.settings)
        block = next(search)
        for before, rows, after in zip(blocks, sent, blocks[1:], strict=False):
            assert (block.stage, block.fidelity, block.U.tobytes()) == (
                before.stage,
                before.fidelity,
                before.U.tobytes(),
            )
            block.U[:] = 0.5
            block = search.send(Rows(rows.F.copy(), rows.V.copy()))
            assert block.generation == after.generation
        with pytest.raises(StopIteration, match=why):
            search.send(sent[-1])

    def test_more_generations_in_the_second_only_add_blocks(self, levels: tuple[int, ...]) -> None:
        longest, _, _ = follow_both(levels, Settings(5, 64, 16, 6, 9))
        for again in (0, 4):
            blocks, _, _ = follow_both(levels, Settings(5, 64, 16, 6, again))
            assert len(blocks) == 1 + 6 + 1 + again
            for a, b in zip(blocks, longest, strict=False):
                assert (a.stage, a.generation, a.U.tobytes()) == (b.stage, b.generation, b.U.tobytes())

    def test_second_fidelity_goes_by_its_own_figures(self, levels: tuple[int, ...]) -> None:
        """Figures of the first fidelity steer nothing any more: where the second one's best half of the space is the
        other one, children move there.
        """

        def lower_failed(U: Array) -> tuple[Array, Array]:
            F, V = weighted(3)(U)
            F[U[:, 0] < 0.5], V[U[:, 0] < 0.5] = LARGE, LARGE
            return F, V

        blocks, _, _ = follow_both(levels, Settings(5, 64, 40, 6, 12), (half_failed, lower_failed))
        before, after = ((block.U[:, 0] > 0.5).mean() for block in (blocks[6], blocks[12]))
        assert before < 0.2 < 0.5 < after

    def test_streams_of_the_two_differ(self, levels: tuple[int, ...]) -> None:
        """Nothing but the stream tells a generation from that of the other stage: equal parents, other children."""
        blocks, _, _ = follow_both(levels, Settings(5, 64, 64, 1, 1), (weighted(3), weighted(3)))
        first, again = (next(b for b in blocks if b.stage == stage) for stage in ("evolve", "continue"))
        assert first.U.tobytes() != again.U.tobytes()


def test_space_exhausted_in_the_first_fidelity_is_searched_in_the_second() -> None:
    settings = Settings(1, 64, 8, 9, 9)
    blocks, _, why = follow_both(DISCRETE, settings)
    assert why == EXHAUSTED
    for fidelity in (0, 1):
        assert len(stacked([block for block in blocks if block.fidelity == fidelity])) == 24
    _, _, why = follow_both(DISCRETE, Settings(1, 64, 8, 9, 1))
    assert why == ALL_DONE
    _, _, why = follow_both(DISCRETE, Settings(1, 64, 8, 9, 0))
    assert why == EXHAUSTED, "that of the only generations there were"


def test_sample_comes_in_blocks_and_does_not_depend_on_the_figures() -> None:
    settings = Settings(1, 2 * SAMPLE_BLOCK + 100, 20, 0)
    blocks, _, why = follow(weighted(3), CONTINUOUS, 3, settings)
    assert [len(block.U) for block in blocks] == [SAMPLE_BLOCK, SAMPLE_BLOCK, 100]
    assert why == ALL_DONE
    others, _, _ = follow(sphere, CONTINUOUS, 1, settings)
    np.testing.assert_array_equal(stacked(blocks), stacked(others))


def test_sample_is_even() -> None:
    """Of 256 scrambled Sobol' points every 1/256 of each axis holds exactly one, which no random sample does."""
    blocks, _, _ = follow(sphere, CONTINUOUS, 1, Settings(9, 256, 20, 0))
    for u in stacked(blocks).T:
        np.testing.assert_array_equal(np.sort(np.floor(u * 256)), np.arange(256))


def test_seeds_ask_other_designs() -> None:
    one, _, _ = follow(sphere, CONTINUOUS, 1, Settings(0, 32, 10, 2))
    other, _, _ = follow(sphere, CONTINUOUS, 1, Settings(1, 32, 10, 2))
    assert not (stacked(one) == stacked(other)).any()


def test_first_parents_are_the_best_of_the_sample() -> None:
    """With a sample of which one half fails, children of the first generation stay in the good half or near it."""
    blocks, _, _ = follow(half_failed, (0, 0, 0), 3, Settings(4, 400, 100, 1))
    assert (blocks[0].U[:, 0] > 0.5).mean() == pytest.approx(0.5, abs=0.01)
    assert (blocks[1].U[:, 0] > 0.5).mean() < 0.1


def test_infeasible_search_moves_towards_smaller_violation() -> None:
    _, sent, _ = follow(all_infeasible, CONTINUOUS, 3, Settings(8, 100, 40, 30))
    assert np.median(sent[-1].V) < 1.02 < np.median(sent[0].V)


def test_space_smaller_than_the_population_is_asked_once_and_whole() -> None:
    blocks, _, why = follow(weighted(2), DISCRETE, 2, Settings(1, 200, 100, 9))
    assert why == EXHAUSTED
    assert len(stacked(blocks)) == 24
    assert {b.stage for b in blocks} <= {"sample", "evolve"}


def test_last_block_before_exhaustion_is_short() -> None:
    blocks, _, why = follow(weighted(2), (10, 10, 10), 2, Settings(1, 64, 100, 50))
    assert why == EXHAUSTED
    sizes = [len(block.U) for block in blocks[1:]]
    assert sizes[:-1] == [100] * (len(sizes) - 1)
    assert sum(sizes) == 1000 - len(blocks[0].U)


def test_sample_of_one() -> None:
    blocks, _, why = follow(weighted(2), CONTINUOUS, 2, Settings(1, 1, 11, 3))
    assert [len(block.U) for block in blocks] == [1, 11, 11, 11]
    assert why == ALL_DONE


@pytest.mark.parametrize(
    ("name", "value"), [("seed", -1), ("sample", 0), ("population", 1), ("generations", -1), ("again", -1)]
)
def test_settings_refuse(name: str, value: int) -> None:
    good = {"seed": 0, "sample": 8, "population": 8, "generations": 1}
    with pytest.raises(CallError, match=f"{name}: {value}; allowed"):
        Settings(**{**good, name: value})


@pytest.mark.parametrize(
    ("levels", "m", "words"), [((), 2, "no variable"), ((0, -3), 2, r"levels\[1\]: -3"), ((0,), 0, "m: 0")]
)
def test_plan_refuses(levels: tuple[int, ...], m: int, words: str) -> None:
    with pytest.raises(CallError, match=words):
        next(plan(levels, m, Settings(0, 8, 8, 1)))


@pytest.mark.parametrize("shape", [(7, 2), (8, 3)])
def test_plan_refuses_rows_of_another_block(shape: tuple[int, int]) -> None:
    search = plan((0, 0), 2, Settings(0, 8, 8, 1))
    next(search)
    with pytest.raises(CallError, match="8 designs and 2 objectives"):
        search.send(Rows(np.zeros(shape), np.zeros(shape[0])))
