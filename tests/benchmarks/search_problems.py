"""Problems on which searches are compared, and the hypervolume that is to be reached on each.

The quarter cars have exact fronts (published/quarter_car_fronts.py). The estate has one by brute force, in
estate_front.csv (reference_front.py makes it and says how); what is to be reached there is the estimated limit of ever
finer fronts, not what a finite set has. In three objectives N designs fall short of a continuous front by about
N^(-1/2), whoever found them. Test problems of the literature have published fronts, drawn finely; in three objectives
a search that fills them more finely still may reach a little more than the whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import moocore
import numpy as np
from numpy.typing import NDArray

from plain_parts import plain_anatomy, plain_rows
from published import quarter_car_fronts as quarter
from published.known_fronts import BUDGETS, budget_of, known
from ridefront import Evaluator, read_study
from ridefront.evaluate import Evaluation
from ridefront.run.anatomy import anatomy
from ridefront.search import Anatomy, Settings, as_rows
from ridefront.study.model import Study
from ridefront.study.space import decode

Array = NDArray[np.float64]
Evaluate = Callable[[Array], tuple[Array, Array]]
Parted = Callable[[Array], tuple[Array, Array, Array]]

ESTATE = Path(__file__).parents[2] / "studies" / "estate.toml"
ESTATE_FRONT = Path(__file__).parent / "estate_front.csv"

NAMES = ("quarter car, 2", "quarter car, 3", "estate")
"""Problems of suspensions; those of the literature are in `BUDGETS`."""
QUARTER_MOST, ESTATE_MOST = 40_000, 30_000
"""Evaluations."""


@dataclass(frozen=True)
class Problem:
    """A function of the unit cube, all variables continuous, with a known front.

    Attributes:
        name: for the table.
        parted: U (n, d) -> F (n, m) to be minimised, V (n,), 0 where feasible, P (n, parts), what figures are made of.
        evaluate: the same without P; None where P costs nothing.
        anatomy: how figures are made of P.
        d, m: numbers of variables and objectives.
        ideal, reference: (m,), the box in which hypervolume is counted.
        volume: the front's, as a share of the box.
        budget: what our search is given, but for the seed.
        most: evaluations after which a search is stopped.
    """

    name: str
    parted: Parted
    evaluate: Evaluate | None
    anatomy: Anatomy
    d: int
    m: int
    ideal: Array
    reference: Array
    volume: float
    budget: Settings
    most: int


def problem_of(name: str) -> Problem:
    """A problem by its name, one of `NAMES` or `BUDGETS`; its model is made anew and compiled where it must be."""
    if name == "estate":
        return _estate()
    if name in BUDGETS:
        return _published(name)
    m = 2 if name == "quarter car, 2" else 3
    ideal, reference = quarter.box(m)
    parted = _plain(quarter.two if m == 2 else quarter.three, m)
    volume = quarter.exact_volume(m)
    budget = Settings(0, 128, 60, 5, refine=QUARTER_MOST)
    return Problem(name, parted, None, plain_anatomy(m), 2, m, ideal, reference, volume, budget, QUARTER_MOST)


def _plain(parts: Callable[[Array], Array], m: int) -> Parted:
    def parted(U: Array) -> tuple[Array, Array, Array]:
        P = parts(U)
        return *plain_rows(P, m), P

    return parted


def _published(name: str) -> Problem:
    problem = known(name)
    low, high = problem.front.min(axis=0), problem.front.max(axis=0)
    reference = high + quarter.MARGIN * (high - low)
    volume = float(moocore.hypervolume((problem.front - low) / (reference - low), ref=np.ones(problem.m)))
    budget = budget_of(name)
    most = budget.sample + budget.population * budget.generations + budget.refine
    parted, anatomy = _plain(problem.parts, problem.m), plain_anatomy(problem.m, problem.limits)
    return Problem(name, parted, None, anatomy, problem.d, problem.m, low, reference, volume, budget, most)


def _estate() -> Problem:
    study = read_study(ESTATE)
    notes = stored_notes()
    ideal, reference = (np.array([float(word) for word in notes[key].split()]) for key in ("ideal", "reference"))
    evaluate, parted = figures_of(study)
    d, m = len(study.variables), len(study.objectives)
    evaluate(np.full((1, d), 0.5))  # compiles
    budget = Settings(0, 1024, 100, 10, refine=ESTATE_MOST)
    volume = float(notes["limit"])
    return Problem("estate", parted, evaluate, anatomy(study), d, m, ideal, reference, volume, budget, ESTATE_MOST)


def figures_of(study: Study) -> tuple[Evaluate, Parted]:
    """A study as a function of the unit cube, without and with the parts that figures are made of."""
    evaluator = Evaluator(study)
    names = [measure.label for measure in study.measures]
    columns = [names.index(objective.measure.label) for objective in study.objectives]
    signs = np.array([float(objective.sign) for objective in study.objectives])

    def rows(found: Evaluation) -> tuple[Array, Array]:
        values = np.ascontiguousarray(found.values[:, columns])
        rows = as_rows(values, signs, found.violation, found.status == 0)
        return rows.F, rows.V

    def evaluate(U: Array) -> tuple[Array, Array]:
        return rows(evaluator.evaluate(decode(study, U)))

    def parted(U: Array) -> tuple[Array, Array, Array]:
        found, P = evaluator.evaluate_with_parts(decode(study, U))
        return *rows(found), P

    return evaluate, parted


def estate_figures() -> tuple[Evaluate, int]:
    """The estate as such a function without parts, and its number of variables."""
    study = read_study(ESTATE)
    return figures_of(study)[0], len(study.variables)


def stored_notes(file: Path = ESTATE_FRONT) -> dict[str, str]:
    """What the head of a stored front says, by key."""
    heads = [line[2:] for line in file.read_text(encoding="utf-8").splitlines() if line.startswith("# ")]
    return dict(line.split(": ", 1) for line in heads if ": " in line)


def stored_front(file: Path = ESTATE_FRONT) -> tuple[Array, Array]:
    """The estate's stored designs: U (n, d) and F (n, 3) to be minimised."""
    rows = [line for line in file.read_text(encoding="utf-8").splitlines() if not line.startswith("#")][1:]
    table = np.array([[float(word) for word in row.split(",")] for row in rows])
    return np.ascontiguousarray(table[:, 3:]), np.ascontiguousarray(table[:, :3])
