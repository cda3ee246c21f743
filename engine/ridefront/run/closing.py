"""What is worked out of a front when a run ends: the other domain's figures, roads that the search never saw, and how
far figures spread where parts have tolerances.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from ridefront.evaluate import Domain, Pieces, joined, joined_pieces
from ridefront.evaluate.stepping import StepChoice
from ridefront.results.columns import COMPARED
from ridefront.results.sampling import compared, drawn, random_roads, sampled
from ridefront.road import Road
from ridefront.run.certify import Certified, certify
from ridefront.run.spreading import spread_columns
from ridefront.run.sureness import Front, sureness
from ridefront.run.workers import PART, Workers
from ridefront.study.model import Array, Measure, Study

Found = TypeVar("Found")


@dataclass(frozen=True)
class Closing:
    """What a front has beside its rows.

    Attributes:
        columns: the front's own columns, (n,) each, by name; empty after an interrupt.
        pieces: of the n designs, in both domains; after an interrupt in that of the front.
        step: of the time domain; None where nothing was driven.
        certified: what holds the designs, and slopes; None after an interrupt.
    """

    columns: Mapping[str, Array]
    pieces: Pieces
    step: StepChoice | None
    certified: Certified | None = None


def close(
    study: Study, response: Domain, X: Array, values: Array, pool: Workers, *, whole: bool, evaluations: int
) -> Closing:
    """Works a front out once more: every piece, and unless a stop is to end soon what else there is to say of it.

    Args:
        study: as read and checked.
        response: the front's domain.
        X: (n, d), n at least 1, in the variables' units.
        values: (n, k), figures of the study's measures as stored.
        pool: workers of the study.
        whole: whether there is time for more than the pieces in the front's domain.
        evaluations: in the front's domain, that the search has asked for.
    """
    pieces = joined_pieces(_in_parts(lambda part: pool.pieces(part, response), X, pool.count))
    drives = bool(study.driven) or response == "time-domain"
    step = pool.step if drives else None
    columns = spread_columns(study, response, X, pool) if whole else {}
    certified = certify(study, response, X, pool) if whole else None
    pool.forget()
    if not whole:
        return Closing(columns, pieces, step)
    if random_roads(study):
        differences, others, other_step = _compare(study, response, X, values, pool, step)
        columns |= differences
        pieces, step = both(pieces, others), step or other_step
    if drawn(study):
        budget = study.search.certainty_share * evaluations
        asked = restricted(study, drawn(study))
        columns |= _hold_out(Front(study, asked, response, X, values, pool, step), budget)
    return Closing(columns, pieces, step, certified)


def _compare(
    study: Study, response: Domain, X: Array, values: Array, pool: Workers, step: StepChoice | None
) -> tuple[dict[str, Array], Pieces, StepChoice | None]:
    """Differences between the domains, the other domain's pieces, and its step where it is the time domain."""
    measures = compared(study)
    driven = response == "frequency-domain"
    other: Domain = "time-domain" if driven else "frequency-domain"
    asked = restricted(study, measures)
    if driven:
        asked = with_fewer_realisations(asked)
    labels = [item.label for item in study.measures]
    columns: dict[str, Array] = {}
    with pool.beside(asked, step=step) as others:
        if not measures:
            pieces = joined_pieces(_in_parts(lambda part: others.pieces(part, other), X, pool.count))
            return columns, pieces, others.step if driven else None
        both_found = _in_parts(lambda part: others.evaluate_and_pieces(part, other), X, pool.count)
        found = joined([each for each, _ in both_found])
        for k, item in enumerate(asked.measures):
            ours = values[:, labels.index(item.label)]
            theirs = found.values[:, k]
            columns[f"{item.label}.difference"] = theirs - ours if driven else ours - theirs
        return columns, joined_pieces([each for _, each in both_found]), others.step if driven else None


def _hold_out(front: Front, budget: float) -> dict[str, Array]:
    """Figures and their standard errors on roads that the search never saw, and what both say of each design's place.

    Args:
        front: at least one design.
        budget: evaluations that may go into being surer; 0 for no word on it.
    """
    with_error = {item.label for item in sampled(front.study)}
    found, left = front.driven(np.arange(len(front.X)), 0)
    columns = {} if budget <= 0 else sureness(front, (found, left), budget)
    for k, item in enumerate(front.asked.measures):
        columns[f"{item.label}.held_out"] = found.values[:, k]
        if item.label in with_error:
            columns[f"{item.label}.held_out.se"] = found.se[:, k]
    return columns


def restricted(study: Study, measures: Sequence[Measure]) -> Study:
    """A study that looks at some of its measures only, so that what another one lacks does not fail a design."""
    labels = {item.label for item in measures}
    return replace(
        study,
        objectives=tuple(item for item in study.objectives if item.measure.label in labels),
        constraints=tuple(item for item in study.constraints if item.measure.label in labels),
    )


def with_fewer_realisations(study: Study) -> Study:
    """A study whose random roads are driven `COMPARED` times at most; trains of obstacles stay as they are."""
    roads = tuple(
        replace(road, realisations=min(COMPARED, road.realisations)) if isinstance(road, Road) else road
        for road in study.roads
    )
    return replace(study, roads=roads)


def both(ours: Pieces, theirs: Pieces) -> Pieces:
    """Pieces of two domains beside each other; those that are worked out in one way only are taken from `ours`."""

    def names(found: Pieces) -> list[tuple[str, ...]]:
        return list(zip(found.criterion, found.place, found.condition, found.response, strict=True))

    known = set(names(ours))
    more = [k for k, name in enumerate(names(theirs)) if name not in known]
    return Pieces(
        ours.criterion + tuple(theirs.criterion[k] for k in more),
        ours.place + tuple(theirs.place[k] for k in more),
        ours.condition + tuple(theirs.condition[k] for k in more),
        ours.unit + tuple(theirs.unit[k] for k in more),
        ours.response + tuple(theirs.response[k] for k in more),
        np.concatenate([ours.values, theirs.values[:, more]], axis=1),
        np.concatenate([ours.se, theirs.se[:, more]], axis=1),
        ours.status,
    )


def _in_parts(work: Callable[[Array], Found], X: Array, workers: int) -> list[Found]:
    """Works designs out part by part, so that an interrupt waits for one part only."""
    size = PART * workers
    return [work(X[start : start + size]) for start in range(0, len(X), size)]
