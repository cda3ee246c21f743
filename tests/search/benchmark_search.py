"""What the search itself costs, in microseconds a design, beside pymoo's own NSGA-II on the same problem and budget.

The problem is DTLZ2 with six variables and three objectives. Time is this thread's own, so that other work on the
machine does not count, nor does the problem's evaluation. Hypervolume is that of everything evaluated, over that of the
exact front. Run it by hand: ``python tests/search/benchmark_search.py``.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from math import pi
from time import thread_time

import moocore
import numpy as np
from numpy.typing import NDArray
from pymoo.algorithms.moo.nsga2 import NSGA2
from pymoo.core.evaluator import Evaluator
from pymoo.core.termination import NoTermination
from pymoo.problems.many.dtlz import DTLZ2
from pymoo.problems.static import StaticProblem

from ridefront.search import Archive, Rows, Settings, plan

Array = NDArray[np.float64]

VARIABLES = 6
REFERENCE = np.full(3, 1.1)
EXACT = 1.1**3 - pi / 6
USUAL = Settings(seed=7, sample=4096, population=200, generations=120)


@dataclass(frozen=True)
class Measured:
    """One line of the table: what, designs counted, time a design, size of the front, share of the exact volume."""

    name: str
    designs: int
    microseconds: float
    front: int
    share: float


def _evaluate(U: Array) -> Array:
    F: Array = DTLZ2(n_var=VARIABLES, n_obj=3).evaluate(U, return_values_of=["F"])
    return F


def _share(F: Array) -> float:
    return float(moocore.hypervolume(F, ref=REFERENCE)) / EXACT


def measure_ours(name: str, settings: Settings) -> list[Measured]:
    """The plan's generations, and the archive that takes them in and gives its hypervolume after each."""
    archive, search = Archive(3), plan((0,) * VARIABLES, 3, settings)
    planning, keeping, evolved = 0.0, 0.0, 0
    block = next(search)
    with suppress(StopIteration):
        while True:
            rows = Rows(_evaluate(block.U), np.zeros(len(block.U)))
            ids = np.arange(archive.evaluated, archive.evaluated + len(block.U))
            begin = thread_time()
            archive.add(rows.F, rows.V, ids)
            archive.hypervolume()
            kept = thread_time()
            following = search.send(rows)
            asked = thread_time()
            if block.stage == "sample":
                archive.fix_box()
            else:
                keeping, planning, evolved = keeping + kept - begin, planning + asked - kept, evolved + len(block.U)
            block = following
    share = _share(archive.F)
    return [
        Measured(name, evolved, planning / evolved * 1e6, archive.size, share),
        Measured(f"archive of the {name}", evolved, keeping / evolved * 1e6, archive.size, share),
    ]


def measure_pymoo(settings: Settings) -> Measured:
    """pymoo's NSGA-II through ask and tell: a first population and then the generations, without a larger sample."""
    algorithm, problem = NSGA2(pop_size=settings.population), DTLZ2(n_var=VARIABLES, n_obj=3)
    algorithm.setup(problem, termination=NoTermination(), seed=settings.seed, verbose=False)
    found, seconds = [], 0.0
    for _ in range(1 + settings.generations):
        begin = thread_time()
        designs = algorithm.ask()
        asked = thread_time()
        F = _evaluate(designs.get("X"))
        told = thread_time()
        Evaluator().eval(StaticProblem(problem, F=F), designs)
        algorithm.tell(infills=designs)
        seconds += asked - begin + thread_time() - told
        found.append(F)
    F = np.concatenate(found)
    front = int(np.count_nonzero(moocore.is_nondominated(F)))
    return Measured("pymoo NSGA-II, ask and tell", len(F), seconds / len(F) * 1e6, front, _share(F))


def measure_archive(m: int, size: int, new: int = 200, repeats: int = 10) -> Measured:
    """One block of designs near a front of a given size: taken in, and the hypervolume after it."""
    rng = np.random.default_rng(m)
    X = np.abs(rng.normal(size=(size + repeats * new, m)))
    F = X / np.sqrt(np.square(X).sum(axis=1))[:, None]
    F[size:] *= 1 + 0.02 * rng.random((repeats * new, 1))
    archive, seconds = Archive(m), 0.0
    archive.add(F[:size], np.zeros(size), np.arange(size))
    archive.fix_box()
    for start in range(size, size + repeats * new, new):
        ids = np.arange(start, start + new)
        begin = thread_time()
        archive.add(F[ids], np.zeros(new), ids)
        archive.hypervolume()
        seconds += thread_time() - begin
    name = f"archive, {m} objectives, front of {size}"
    return Measured(name, repeats * new, seconds / (repeats * new) * 1e6, archive.size, float("nan"))


def main(
    settings: Settings = USUAL,
    sizes: tuple[int, ...] = (300, 1000, 3000),
) -> list[Measured]:
    """Measures everything and prints a table.

    Args:
        settings: budget of the plan; pymoo gets as many evaluations.
        sizes: of the fronts on which the archive is measured by itself.

    Returns:
        The table's lines.
    """
    # pymoo has no sample but its first population: the like of that first, then the plan as it is used
    rounds = (settings.sample + settings.generations * settings.population) // settings.population
    like = replace(settings, sample=settings.population, generations=rounds - 1)
    table = [measure_pymoo(like), *measure_ours("plan like pymoo's", like), *measure_ours("plan", settings)]
    table += [measure_archive(m, size) for m in (2, 3, 4) for size in sizes]
    print(f"{'':42}{'designs':>9}{'µs a design':>13}{'front':>8}{'hypervolume':>13}")
    for line in table:
        share = "" if np.isnan(line.share) else f"{line.share:.4f}"
        print(f"{line.name:42}{line.designs:9d}{line.microseconds:13.1f}{line.front:8d}{share:>13}")
    return table


if __name__ == "__main__":
    main()
