"""The plan of a search: which designs to evaluate next, as a generator that is told how the last ones did.

It is a pure function of its arguments and of what it is sent: whoever sends the same rows gets the same blocks, bit
for bit. That is how a killed run goes on, by replaying what is on disk. Random numbers are drawn per stage and
generation, so more generations only add blocks at the end.

Last comes refinement, which looks below the figures at their parts: its blocks ask for them.

Where figures come in two fidelities, a cheap one and a dear one, the search goes on in the dear one from where the
cheap one has brought it: the last population is asked once more, then its offspring. Rows of the two never meet.

The sample is scipy's Sobol' sequence, as its documentation cites it: I.M. Sobol', Zh. Vychisl. Mat. i Mat. Fiz. 7
(1967) 784-802; direction numbers of Joe, Kuo, SIAM J. Sci. Comput. 30 (2008) 2635-2654; scrambled after Matoušek, J.
Complexity 14 (1998) 527-556. The sources of what follows are in `evolve`, `niche` and `refine`.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.archive import MOST, ROOM
from ridefront.search.asked import Asked, check_levels, snap
from ridefront.search.evolve import Population, offspring, survivors
from ridefront.search.front import LARGE, Rows, nondominated
from ridefront.search.parts import Anatomy
from ridefront.search.refine import Refinement
from ridefront.search.thin import Thinning

Array = NDArray[np.float64]

STAGES = (
    "sample",
    "evolve",
    "repeat",
    "continue",
    "refine",
    "start",
)  # a stage's place here is part of its random stream: append only
SAMPLE_BLOCK = 1024  # rows of a block of the sample, at most
ALL_DONE = "all generations done"
EXHAUSTED = "space exhausted"
REFINED = "nothing left to refine"
SPENT = "all evaluations spent"
STALLED = "the front has stopped growing"
LARGEST_COUNT = 2**62
MERGED = 16384  # designs collected before those that are dominated leave
SAMPLED = 65536  # designs of the sample looked at together: of more, the best so far go on


@dataclass(frozen=True)
class Block:
    """Designs to evaluate together.

    Attributes:
        stage: a name of `STAGES`.
        generation: 0 at the start, in the sample and where the population is repeated, else from 1; in a refinement,
            its blocks.
        U: (n, d), shares of the ranges, snapped; no design is asked twice in a fidelity.
        fidelity: 0 from the beginning, 1 from where the population is repeated.
        parts: whether the rows are to bring parts. Such designs may have been asked before, without them.
    """

    stage: str
    generation: int
    U: Array
    fidelity: int = 0
    parts: bool = False


@dataclass(frozen=True)
class Settings:
    """How much to search.

    Attributes:
        seed: of everything random, 0 or more.
        sample: quasi-random designs to begin with, at least 1.
        population: designs of a generation, at least 2.
        generations: after the sample, 0 or more.
        again: generations in the second fidelity, 0 or more; None for a search in one fidelity.
        refine: designs of the refinement after the generations, at most; refine_again: likewise in the second
            fidelity.
        evaluations: designs in all fidelities, at most; None for no such bound. Generations leave to refinement what
            it is given, and the first fidelity to the second.

    Raises:
        CallError: if one of them is less than that.
    """

    seed: int
    sample: int
    population: int
    generations: int
    again: int | None = None
    refine: int = 0
    refine_again: int = 0
    evaluations: int | None = None

    def __post_init__(self) -> None:
        least = {"seed": 0, "sample": 1, "population": 2, "generations": 0, "again": 0}
        least |= {"refine": 0, "refine_again": 0, "evaluations": 1}
        for name, allowed in least.items():
            given = getattr(self, name)
            if given is not None and given < allowed:
                raise CallError(f"{name}: {given}; allowed: a whole number, {allowed} or more")


def plan(
    levels: tuple[int, ...], m: int, settings: Settings, anatomy: Anatomy | None = None, start: Array | None = None
) -> Generator[Block, Rows, str]:
    """Yields blocks of designs, is sent their rows, returns why it stopped.

    First what it is to start with, then a scrambled Sobol' sample of the unit cube; the best of these designs, as
    `survivors` has them, are the first parents of NSGA-II. The front of all of them is refined. With `settings.again`
    the survivors of all that are repeated in the second fidelity, in one block, and are the first parents there.

    Args:
        levels: d entries; 0 for a continuous variable, else its number of admissible codes.
        m: number of objectives, at least 1.
        settings: seed and budget.
        anatomy: what objectives and limits are made of; without it nothing is refined.
        start: (n, d), shares of the ranges, designs to ask before the sample; None for none.

    Yields:
        Block, never empty. It is to be answered with the Rows of its designs, in their order.

    Returns:
        `ALL_DONE`, or why it ended early: `EXHAUSTED` where every design had been asked, `STALLED` where rows said
        that it is enough, `SPENT` where evaluations are bounded, `REFINED` where refinement found nothing more to ask.

    Raises:
        CallError: if the space, m or the start is not allowed, or rows do not match the block.
    """
    check_levels(levels)
    if m < 1:
        raise CallError(f"m: {m}; allowed: at least one objective")
    if start is None:
        start = np.empty((0, len(levels)))
    if start.ndim != 2 or start.shape[1] != len(levels) or not ((start >= 0) & (start <= 1)).all():
        raise CallError(f"start: {start.shape}; allowed: designs of {len(levels)} variables, each from 0 to 1")
    return (yield from _Plan(levels, m, settings, anatomy).whole(start))


class _Plan:
    """One search: what has been asked so far."""

    def __init__(self, levels: tuple[int, ...], m: int, settings: Settings, anatomy: Anatomy | None) -> None:
        self._levels, self._m, self._settings, self._anatomy = levels, m, settings, anatomy
        self._count = 0
        self._asked = Asked(levels)
        self._best = _Best(len(levels), m)
        self._stopped = ALL_DONE

    def whole(self, start: Array) -> Generator[Block, Rows, str]:
        settings = self._settings
        population = yield from self._first(start)
        population = yield from self._generations("evolve", settings.generations, population, 0)
        yield from self._refinement(settings.refine, population, 0)
        if settings.again is None or self._left() == 0:
            return self._stopped
        U, F, V = self._best.front()
        U, F, V = (
            np.concatenate(both) for both in zip((population.U, population.F, population.V), (U, F, V), strict=True)
        )
        once = np.sort(np.unique(U, axis=0, return_index=True)[1])
        population = survivors(U[once], F[once], V[once], settings.population)
        self._asked, self._best = Asked(self._levels), _Best(len(self._levels), self._m)
        U = self._asked.add_new(population.U, min(len(population.U), self._left()))
        rows = yield from self._told(Block("repeat", 0, U.copy(), 1))
        population = survivors(U, rows.F, rows.V, settings.population)
        population = yield from self._generations("continue", settings.again, population, 1)
        yield from self._refinement(settings.refine_again, population, 1)
        return self._stopped

    def _left(self) -> int:
        """How many designs may still be asked."""
        bound = self._settings.evaluations
        return LARGEST_COUNT if bound is None else max(0, bound - self._count)

    def _later(self, fidelity: int) -> int:
        """How many designs the second fidelity is given, as long as the first one goes on."""
        settings = self._settings
        if fidelity or settings.again is None:
            return 0
        return settings.population * (1 + settings.again) + (settings.refine_again if self._anatomy is not None else 0)

    def _told(self, block: Block) -> Generator[Block, Rows, Rows]:
        """Rows of a block; the best of them are remembered."""
        U = block.U.copy()  # the block is the caller's from here on
        rows = yield block
        if rows.F.shape != (len(U), self._m):
            raise CallError(
                f"rows for a block of {len(U)} designs and {self._m} objectives have F of shape {rows.F.shape}"
            )
        self._count += len(U)
        self._best.add(U, rows)
        return rows

    def _first(self, start: Array) -> Generator[Block, Rows, Population]:
        """What the search is to start with, and the sample; returns the best of them."""
        settings, levels = self._settings, self._levels
        sample = (("sample", points) for points in sobol_sample(levels, settings.sample, settings.seed))
        asked, F, V = np.empty((0, len(levels))), np.empty((0, self._m)), np.empty(0)
        for stage, points in chain([("start", start)], sample):
            if not self._left():
                break
            U = self._asked.add_new(snap(points, levels), len(points))[: self._left()] if len(points) else points
            told = []
            for first in range(0, len(U), SAMPLE_BLOCK):
                part = U[first : first + SAMPLE_BLOCK]
                told.append((yield from self._told(Block(stage, 0, part.copy()))))
            asked, F = np.concatenate([asked, U]), np.concatenate([F, *(rows.F for rows in told)])
            V = np.concatenate([V, *(rows.V for rows in told)])
            if len(asked) > 2 * SAMPLED:
                best = survivors(asked, F, V, settings.population)
                asked, F, V = best.U, best.F, best.V
        return survivors(asked, F, V, settings.population)

    def _generations(
        self, stage: str, count: int, population: Population, fidelity: int
    ) -> Generator[Block, Rows, Population]:
        """Generations of offspring; returns who survived the last one."""
        settings = self._settings
        kept_back = settings.refine if fidelity == 0 else settings.refine_again
        for generation in range(1, count + 1):
            room = self._left() - self._later(fidelity) - (kept_back if self._anatomy is not None else 0)
            if room <= 0:
                self._stopped = SPENT
                break
            size = min(settings.population, room)
            U = offspring(population, size, self._asked, _stream(settings.seed, stage, generation))
            if not len(U):
                self._stopped = EXHAUSTED
                break
            rows = yield from self._told(Block(stage, generation, U.copy(), fidelity))
            population = survivors(
                np.concatenate([population.U, U]),
                np.concatenate([population.F, rows.F]),
                np.concatenate([population.V, rows.V]),
                settings.population,
            )
            if rows.enough or room < settings.population:
                self._stopped = STALLED if rows.enough else SPENT
                break
        else:
            self._stopped = ALL_DONE if count else self._stopped
        return population

    def _refinement(self, most: int, population: Population, fidelity: int) -> Generator[Block, Rows, None]:
        """Blocks that refine the front of this fidelity, as long as they fit into `most` designs."""
        if self._anatomy is None or most == 0 or self._stopped == EXHAUSTED:
            return
        U, F, V = self._best.front()
        if not len(U):
            U, F, V = population.U, population.F, population.V
            known = V < LARGE
            U, F, V = U[known], F[known], V[known]
            if not len(U):
                return
        blocks = Refinement(self._anatomy, self._levels, U, F, V, self._settings.population).blocks()
        spent, generation, before = 0, 1, self._stopped
        self._stopped = REFINED if before == ALL_DONE else before
        try:
            U = next(blocks)
            while True:
                if spent + len(U) > min(most, spent + self._left() - self._later(fidelity)):
                    spent_all = ALL_DONE if spent + len(U) > most else SPENT
                    self._stopped = spent_all if before == ALL_DONE else before
                    return
                rows = yield from self._told(Block("refine", generation, U.copy(), fidelity, parts=True))
                if rows.P is None or len(rows.P) != len(U):
                    raise CallError("rows of a refinement's block come without the parts of its designs")
                if rows.enough:
                    self._stopped = STALLED
                    return
                spent, generation = spent + len(U), generation + 1
                U = blocks.send(rows.P)
        except StopIteration:
            return


class _Best:
    """The front of what has been told in one fidelity; thinned where it is too large, as in the archive."""

    def __init__(self, d: int, m: int) -> None:
        self._U, self._F, self._count = [np.empty((0, d))], [np.empty((0, m))], 0
        self._thinning: Thinning | None = None

    def add(self, U: Array, rows: Rows) -> None:
        """Takes in a block's designs."""
        front = nondominated(rows.F, rows.V)
        self._U.append(U[front])
        self._F.append(rows.F[front])
        self._count += int(np.count_nonzero(front))
        if self._count > MERGED:
            self.front()

    def front(self) -> tuple[Array, Array, Array]:
        """U (n, d), F (n, m) and V (n,) of the front, in the order in which they came."""
        U, F = np.concatenate(self._U), np.concatenate(self._F)
        if len(U):
            keep = nondominated(F, np.zeros(len(U)))
            U, F = U[keep], F[keep]
        if self._thinning is not None or len(U) > MOST:  # once thinned, what comes is held against the boxes too
            self._thinning = self._thinning or Thinning(F)
            rows = np.sort(self._thinning.coarsen(F, np.arange(len(F)), int(ROOM * MOST)))
            U, F = U[rows], F[rows]
        V = np.zeros(len(U))
        self._U, self._F, self._count = [U], [F], 0
        return U, F, V


def sobol_sample(levels: tuple[int, ...], count: int, seed: int) -> Iterator[Array]:
    """Scrambled Sobol' points, snapped; duplicates that snapping makes are not yet dropped.

    Args:
        levels: the design space.
        count: how many points.
        seed: of the scrambling.

    Yields:
        (n, d), shares of the ranges, n at most `SAMPLED`: together the first `count` points of the sequence.
    """
    from scipy.stats import qmc  # half a second to import, and nothing else here needs it

    engine = qmc.Sobol(len(levels), scramble=True, rng=_stream(seed, "sample", 0))
    for first in range(0, count, SAMPLED):
        n = min(SAMPLED, count - first)
        # powers of two keep the sequence balanced; the engine wants one to begin with
        yield snap(engine.random(1 << (n - 1).bit_length())[:n], levels)


def _stream(seed: int, stage: str, generation: int) -> np.random.Generator:
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(STAGES.index(stage), generation)))
