"""How sure the place of each design of a front is, when a run ends: figures of roads that were drawn carry error.

What counts are the figures on the search's own realisations and on others that it never saw, together. Designs whose
place is doubtful, and those that might beat them, are driven on further realisations, twice as many each time, as far
as the study's budget goes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.evaluate import Domain, Evaluation, LeftOut, joined, joined_left_out
from ridefront.evaluate.stepping import StepChoice
from ridefront.results.columns import NONDOMINATED, NONDOMINATED_REALISATIONS
from ridefront.results.sampling import fewest_drawn
from ridefront.run.workers import PART, Workers
from ridefront.search.sure import Uncertain, Wanted, probability, rivals, together, uncertain
from ridefront.study.model import Array, Study

DOUBTFUL = (0.05, 0.95)
"""Probabilities between which a design's place is doubtful."""

MOST = 16
"""Ensembles beside the search's own at most: what is doubtful then is a tie for all that anybody can feel."""


@dataclass(frozen=True)
class Front:
    """A front whose figures depend on the roads drawn.

    Attributes:
        study: as read and checked; asked: the same with those measures only that depend on the roads drawn.
        response: the front's domain.
        X: (n, d), in the variables' units; values: (n, k), figures of all measures of `study` as stored.
        pool: workers of the study; step: of the time domain.
    """

    study: Study
    asked: Study
    response: Domain
    X: Array
    values: Array
    pool: Workers
    step: StepChoice | None

    def driven(self, rows: NDArray[np.int64], ensemble: int | None) -> tuple[Evaluation, LeftOut]:
        """Some designs on as many realisations as the study says: held-out ones, or those of the search if None."""
        size = PART * self.pool.count
        with self.pool.beside(
            self.asked, held_out=ensemble is not None, ensemble=ensemble or 0, step=self.step
        ) as pool:
            found = [
                pool.evaluate_left_out(self.X[rows[start : start + size]], self.response)
                for start in range(0, len(rows), size)
            ]
        return joined([each for each, _ in found]), joined_left_out([each for _, each in found])


def sureness(front: Front, held_out: tuple[Evaluation, LeftOut], budget: float) -> dict[str, Array]:
    """Columns of a front, (n,) each, by name; none where there is no sampling error that is known.

    Args:
        front: at least one design.
        held_out: its figures on the first held-out ensemble.
        budget: evaluations that may go into further ensembles.
    """
    if fewest_drawn(front.study) < 2:
        return {}
    found, behind = np.full(len(front.X), np.nan), np.full(len(front.X), np.nan)
    everyone = np.arange(len(front.X))
    ensembles, good = _of(front, everyone, [front.driven(everyone, None), held_out])
    rows, held = everyone[good], 1
    wanted, doubted = _wanted(front), rows
    while len(rows):
        given = together(ensembles)
        on = probability(given, wanted, front.study.seed)
        known = np.isin(rows, doubted)
        found[rows[known]], behind[rows[known]] = on[known], held * fewest_drawn(front.study)
        doubtful = known & (on > DOUBTFUL[0]) & (on < DOUBTFUL[1])
        if held == MOST:
            break
        asked, taken = _affordable(given, wanted, on, np.flatnonzero(doubtful), front.study.seed, budget / held)
        budget -= held * len(taken)
        doubted, rows = rows[asked], rows[taken]
        if not len(rows):
            break
        more, good = _of(front, rows, [front.driven(rows, held + k) for k in range(held)])
        found[rows[~good]], behind[rows[~good]] = np.nan, np.nan
        ensembles = [each.of(taken[good]) for each in ensembles] + more
        rows, held = rows[good], 2 * held
    return {NONDOMINATED.name: found, NONDOMINATED_REALISATIONS.name: behind}


def _wanted(front: Front) -> Wanted:
    """Columns are the measures that depend on the roads drawn, then the other objectives."""
    labels = [item.label for item in front.asked.measures]
    others = [item.measure.label for item in front.study.objectives if item.measure.label not in labels]
    columns = [*labels, *others]
    return Wanted(
        tuple(columns.index(item.measure.label) for item in front.study.objectives),
        tuple(item.sign for item in front.study.objectives),
        tuple(
            (columns.index(item.measure.label), 1 if item.kind == "at_most" else -1, item.limit)
            for item in front.asked.constraints
        ),
    )


def _of(
    front: Front, rows: NDArray[np.int64], driven: list[tuple[Evaluation, LeftOut]]
) -> tuple[list[Uncertain], NDArray[np.bool_]]:
    """Ensembles as the search sees them, of the designs that have figures on all of them, and which these are."""
    good = np.ones(len(rows), dtype=np.bool_)
    for evaluation, _ in driven:
        good &= evaluation.status == 0
    labels = [item.label for item in front.asked.measures]
    known = [item.label for item in front.study.measures]
    others = [known.index(item.measure.label) for item in front.study.objectives if item.measure.label not in labels]
    plain = front.values[rows[good]][:, others]
    parts = []
    for evaluation, left in driven:
        values = np.concatenate([evaluation.values[good], plain], axis=1)
        without = np.repeat(values[:, :, np.newaxis], len(left.road), axis=2)
        without[:, : len(labels)] = left.values[good]
        parts.append(uncertain(values, without, left.road))
    return parts, good


def _affordable(
    given: Uncertain, wanted: Wanted, on: Array, doubtful: NDArray[np.int64], seed: int, most: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The most doubtful designs, as many as can be driven together with all that beat them in some draw.

    Args:
        given, wanted: the designs.
        on: their probabilities.
        doubtful: rows of those whose place is doubtful.
        seed: of the draws.
        most: how many designs can be driven.

    Returns:
        Rows of the doubtful designs taken, and of all that are to be driven, rising.
    """
    first = np.lexsort((*given.values[doubtful].T, np.abs(on[doubtful] - 0.5)))  # not by their order on the front
    doubtful = doubtful[first][: max(int(min(most, len(doubtful))), 0)]
    beaten_by = rivals(given, wanted, doubtful, seed)
    taken = np.zeros(len(given.values), dtype=np.bool_)
    count = 0
    for row, others in zip(doubtful, beaten_by, strict=True):
        grown = taken | others
        grown[row] = True
        if np.count_nonzero(grown) > most:
            break
        taken, count = grown, count + 1
    return np.sort(doubtful[:count]), np.flatnonzero(taken)
