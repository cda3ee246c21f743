"""The plan of a search: which designs to evaluate next, as a generator that is told how the last ones did.

It is a pure function of its arguments and of what it is sent: whoever sends the same rows gets the same blocks, bit
for bit. That is how a killed run goes on, by replaying what is on disk. Random numbers are drawn per stage and
generation, so more generations only add blocks at the end.

Where figures come in two fidelities, a cheap one and a dear one, the search goes on in the dear one from where the
cheap one has brought it: the last population is asked once more, then its offspring. Rows of the two never meet.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.asked import Asked, check_levels, snap
from ridefront.search.evolve import Population, offspring, survivors
from ridefront.search.front import Rows

Array = NDArray[np.float64]

STAGES = ("sample", "evolve", "repeat", "continue")  # a stage's place here is part of its random stream: append only
SAMPLE_BLOCK = 1024  # rows of a block of the sample, at most
ALL_DONE = "all generations done"
EXHAUSTED = "space exhausted"


@dataclass(frozen=True)
class Block:
    """Designs to evaluate together.

    Attributes:
        stage: a name of `STAGES`.
        generation: 0 in the sample and where the population is repeated, else from 1.
        U: (n, d), in [0, 1], snapped; no design is asked twice in a fidelity.
        fidelity: 0 from the beginning, 1 from where the population is repeated.
    """

    stage: str
    generation: int
    U: Array
    fidelity: int = 0


@dataclass(frozen=True)
class Settings:
    """How much to search.

    Attributes:
        seed: of everything random, 0 or more.
        sample: quasi-random designs to begin with, at least 1.
        population: designs of a generation, at least 2.
        generations: after the sample, 0 or more.
        again: generations in the second fidelity, 0 or more; None for a search in one fidelity.

    Raises:
        CallError: if one of them is less than that.
    """

    seed: int
    sample: int
    population: int
    generations: int
    again: int | None = None

    def __post_init__(self) -> None:
        least = {"seed": 0, "sample": 1, "population": 2, "generations": 0, "again": 0}
        for name, allowed in least.items():
            given = getattr(self, name)
            if given is not None and given < allowed:
                raise CallError(f"{name}: {given}; allowed: a whole number, {allowed} or more")


def plan(levels: tuple[int, ...], m: int, settings: Settings) -> Generator[Block, Rows, str]:
    """Yields blocks of designs, is sent their rows, returns why it stopped.

    First a scrambled Sobol' sample of the unit cube; its best designs by rank and crowding are the first parents of
    NSGA-II. With `settings.again` the survivors of its last generation are repeated in the second fidelity, in one
    block, and are the first parents there.

    Args:
        levels: d entries; 0 for a continuous variable, else its number of admissible codes.
        m: number of objectives, at least 1.
        settings: seed and budget.

    Yields:
        Block, never empty. It is to be answered with the Rows of its designs, in their order.

    Returns:
        `ALL_DONE`, or `EXHAUSTED` where the last generations ended early because every design had been asked.

    Raises:
        CallError: if the space or m is not allowed, or rows do not match the block.
    """
    check_levels(levels)
    if m < 1:
        raise CallError(f"m: {m}; allowed: at least one objective")
    asked = Asked(levels)
    population = yield from _sample(levels, m, settings, asked)
    population, stopped = yield from _generations("evolve", settings.generations, population, settings, asked, 0)
    if settings.again is None:
        return stopped
    asked = Asked(levels)
    U = asked.add_new(population.U, len(population.U))
    rows = _matching((yield Block("repeat", 0, U.copy(), 1)), len(U), m)
    population = survivors(U, rows.F, rows.V, settings.population)
    _, stopped_again = yield from _generations("continue", settings.again, population, settings, asked, 1)
    return stopped_again if settings.again else stopped


def sobol_sample(levels: tuple[int, ...], count: int, seed: int) -> Array:
    """Scrambled Sobol' points, snapped; duplicates that snapping makes are not yet dropped.

    Args:
        levels: the design space.
        count: how many points.
        seed: of the scrambling.

    Returns:
        (count, d): the first points of the smallest power of two that holds them, which is what keeps the sequence
        balanced.
    """
    from scipy.stats import qmc  # half a second to import, and nothing else here needs it

    engine = qmc.Sobol(len(levels), scramble=True, rng=_stream(seed, "sample", 0))
    return snap(engine.random_base2((count - 1).bit_length())[:count], levels)


def _sample(levels: tuple[int, ...], m: int, settings: Settings, asked: Asked) -> Generator[Block, Rows, Population]:
    U = asked.add_new(sobol_sample(levels, settings.sample, settings.seed), settings.sample)
    F, V = np.empty((len(U), m)), np.empty(len(U))
    for start in range(0, len(U), SAMPLE_BLOCK):
        part = slice(start, min(start + SAMPLE_BLOCK, len(U)))
        rows = _matching((yield Block("sample", 0, U[part].copy())), part.stop - part.start, m)
        F[part], V[part] = rows.F, rows.V
    return survivors(U, F, V, settings.population)


def _generations(
    stage: str, count: int, population: Population, settings: Settings, asked: Asked, fidelity: int
) -> Generator[Block, Rows, tuple[Population, str]]:
    """Generations of offspring; returns who survived the last one, and why it was the last."""
    m = population.F.shape[1]
    for generation in range(1, count + 1):
        U = offspring(population, settings.population, asked, _stream(settings.seed, stage, generation))
        if not len(U):
            return population, EXHAUSTED
        rows = _matching((yield Block(stage, generation, U.copy(), fidelity)), len(U), m)
        population = survivors(
            np.concatenate([population.U, U]),
            np.concatenate([population.F, rows.F]),
            np.concatenate([population.V, rows.V]),
            settings.population,
        )
    return population, ALL_DONE


def _stream(seed: int, stage: str, generation: int) -> np.random.Generator:
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(STAGES.index(stage), generation)))


def _matching(rows: Rows, n: int, m: int) -> Rows:
    if rows.F.shape != (n, m):
        raise CallError(f"rows for a block of {n} designs and {m} objectives have F of shape {rows.F.shape}")
    return rows
