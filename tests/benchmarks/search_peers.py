"""Our search and others as they come, each a generator that evaluates through a counter and yields after a generation.

Others run with their own defaults and a population of 100 (NSGA-III: 100 or 91 reference directions, population as it
chooses), from a random first population; none is tuned to the problems. What each knows of constraints:

- pymoo's NSGA-II and NSGA-III: the violation, as one constraint;
- optuna's NSGA-II: the same; a whole population is asked before it is told;
- pygmo's NSGA-II knows none: an infeasible design counts as the reference point and as much of the box's size further
  off as its violation.
"""

from __future__ import annotations

import copy
import importlib.util
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.search_problems import Problem
from ridefront.search import Archive, Rows, plan

Array = NDArray[np.float64]

POPULATION = 100
OPTUNA_MOST = 3000
"""Evaluations: optuna takes milliseconds for each."""


class Counter:
    """A problem's model, through which a search evaluates; counts, times and keeps everything.

    Seconds are those of this process on a processor, so that other work on the machine does not count.

    Args:
        problem: the problem.

    Attributes:
        count: designs evaluated.
        model: seconds in the model.
        ends: for each call, how many designs had been evaluated by its end, and how many seconds had passed then,
            time that was taken out left out.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.count = 0
        self.model = 0.0
        self.ends: list[tuple[int, float]] = []
        self._rows: list[tuple[Array, Array]] = []
        self._start = time.process_time()
        self._out = 0.0

    def __call__(self, U: Array) -> tuple[Array, Array]:
        """F (n, m), V (n,) of designs U (n, d)."""
        if self.problem.evaluate is None:
            return self.with_parts(U)[:2]
        begin = time.process_time()
        F, V = self.problem.evaluate(U)
        self._note(begin, F, V)
        return F, V

    def with_parts(self, U: Array) -> tuple[Array, Array, Array]:
        """The same, and P (n, parts)."""
        begin = time.process_time()
        F, V, P = self.problem.parted(U)
        self._note(begin, F, V)
        return F, V, P

    def _note(self, begin: float, F: Array, V: Array) -> None:
        self.model += time.process_time() - begin
        self.count += len(V)
        self._rows.append((F, V))
        self.ends.append((self.count, self.seconds))

    @property
    def seconds(self) -> float:
        """Since the search began, time that was taken out left out."""
        return time.process_time() - self._start - self._out

    def take_out(self, seconds: float) -> None:
        """Time that is not the search's."""
        self._out += seconds

    def rows(self) -> tuple[Array, Array]:
        """F (n, m), V (n,) of everything evaluated, in that order."""
        return np.concatenate([F for F, _ in self._rows]), np.concatenate([V for _, V in self._rows])

    def reached_at(self, count: int) -> float:
        """Seconds by the end of the call in which that many designs had been evaluated."""
        return next(seconds for done, seconds in self.ends if done >= count)


Method = Callable[[Counter, int], Iterator[None]]


@dataclass(frozen=True)
class Peer:
    """A search in the table.

    Attributes:
        name: for the table.
        method: evaluates through a counter, yields after each generation, is given a seed.
        package: that must be installed, if any.
        seeds: how many at most, None as many as all others.
        most: evaluations after which it is stopped, None where the problem decides.
    """

    name: str
    method: Method
    package: str | None = None
    seeds: int | None = None
    most: int | None = None

    @property
    def installed(self) -> bool:
        """Whether it can run here."""
        return self.package is None or importlib.util.find_spec(self.package) is not None


def ours(counter: Counter, seed: int) -> Iterator[None]:
    """The plan, and the archive with its hypervolume after each block, as in a run. Its refinement asks for the parts
    that figures are made of, which others have no use for; differences for slopes are evaluations like any other.
    """
    problem = counter.problem
    archive = Archive(problem.m)
    search = plan((0,) * problem.d, problem.m, replace(problem.budget, seed=seed), problem.anatomy)
    try:
        block = next(search)
        while True:
            rows = Rows(*(counter.with_parts(block.U) if block.parts else counter(block.U)))
            archive.add(rows.F, rows.V, np.arange(archive.evaluated, archive.evaluated + len(rows.V)))
            if block.stage != "sample":
                archive.fix_box()
            archive.hypervolume()
            yield
            block = search.send(rows)
    except StopIteration:
        return


def _with_pymoo(make: Callable[[int], Any]) -> Method:
    """One of pymoo's algorithms, made for a number of objectives."""

    def run(counter: Counter, seed: int) -> Iterator[None]:
        from pymoo.core.problem import Problem as Vectorised
        from pymoo.core.termination import NoTermination

        class Adapter(Vectorised):  # type: ignore[misc]
            """The counter as pymoo wants it."""

            def __init__(self) -> None:
                problem = counter.problem
                super().__init__(n_var=problem.d, n_obj=problem.m, n_ieq_constr=1, xl=0.0, xu=1.0)

            def _evaluate(self, X: Array, out: dict[str, Array], *_: Any, **__: Any) -> None:
                out["F"], V = counter(X)
                out["G"] = V[:, None]

            def __deepcopy__(self, memo: dict[int, Any]) -> Adapter:
                return self

        algorithm = make(counter.problem.m)
        algorithm.setup(Adapter(), termination=NoTermination(), seed=seed, verbose=False)
        while True:
            algorithm.next()
            yield

    return run


def _nsga2(m: int) -> Any:
    from pymoo.algorithms.moo.nsga2 import NSGA2

    return NSGA2(pop_size=POPULATION)


def _nsga3(m: int) -> Any:
    from pymoo.algorithms.moo.nsga3 import NSGA3
    from pymoo.util.ref_dirs import get_reference_directions

    return NSGA3(get_reference_directions("das-dennis", m, n_partitions={2: 99, 3: 12}[m]))


def with_pygmo(counter: Counter, seed: int) -> Iterator[None]:
    """pygmo's NSGA-II, a generation at a time, evaluated in batches."""
    import pygmo

    problem = counter.problem
    span = problem.reference - problem.ideal

    class Adapter:
        """The counter as pygmo wants it; pygmo copies it, the counter stays one."""

        def __deepcopy__(self, memo: dict[int, Any]) -> Adapter:
            return copy.copy(self)

        def get_bounds(self) -> tuple[list[float], list[float]]:
            return [0.0] * problem.d, [1.0] * problem.d

        def get_nobj(self) -> int:
            return problem.m

        def fitness(self, u: Array) -> Array:
            return self.batch_fitness(u)

        def batch_fitness(self, flat: Array) -> Array:
            F, V = counter(np.ascontiguousarray(flat).reshape(-1, problem.d))
            return np.where(V[:, None] > 0, problem.reference + V[:, None] * span, F).ravel()

    batches = pygmo.bfe()
    algorithm = pygmo.nsga2(gen=1, seed=seed)
    algorithm.set_bfe(batches)
    algorithm = pygmo.algorithm(algorithm)
    population = pygmo.population(pygmo.problem(Adapter()), POPULATION, b=batches, seed=seed)
    while True:
        yield
        population = algorithm.evolve(population)


def with_optuna(counter: Counter, seed: int) -> Iterator[None]:
    """optuna's NSGA-II sampler, a population asked before it is told."""
    import optuna

    problem = counter.problem
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    space: dict[str, Any] = {f"u{j}": optuna.distributions.FloatDistribution(0.0, 1.0) for j in range(problem.d)}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # constraints are marked as experimental
        sampler = optuna.samplers.NSGAIISampler(
            population_size=POPULATION, seed=seed, constraints_func=lambda trial: trial.user_attrs["V"]
        )
    study = optuna.create_study(directions=["minimize"] * problem.m, sampler=sampler)
    while True:
        trials = [study.ask(space) for _ in range(POPULATION)]
        F, V = counter(np.array([[trial.params[key] for key in space] for trial in trials]))
        for trial, f, v in zip(trials, F, V, strict=True):
            trial.set_user_attr("V", (float(v),))
            study.tell(trial, f.tolist())
        yield


PEERS = (
    Peer("this search", ours),
    Peer("pymoo NSGA-II", _with_pymoo(_nsga2)),
    Peer("pymoo NSGA-III", _with_pymoo(_nsga3)),
    Peer("pygmo NSGA-II", with_pygmo, package="pygmo"),
    Peer("optuna NSGA-II", with_optuna, package="optuna", seeds=2, most=OPTUNA_MOST),
)
