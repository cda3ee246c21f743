"""Looked at before a study is run: objectives that say nothing, or twice the same, and spaces that are too small.

A few designs are worked out, in the domain in which the search begins, until nothing is left to doubt. Who would be
refused has many more looked at, so that what happens in a corner of the space only is found.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations
from math import prod

import numpy as np
from numpy.typing import NDArray

from ridefront.criteria import CRITERIA
from ridefront.errors import Mistake, StudyError
from ridefront.evaluate import STATUS, WHY
from ridefront.results.sampling import domains, undriven
from ridefront.run.closing import restricted
from ridefront.run.workers import Workers
from ridefront.search import first_block, ordered_alike, probes, varies
from ridefront.study.model import Array, Objective, Study
from ridefront.study.space import decode, levels

MOST = 256
"""Designs at most."""

PART = 16
"""Designs between two looks at what is known."""


@dataclass
class _Seen:
    """What the designs so far have shown.

    Attributes:
        F: (n, m), objectives of those that have figures, to be minimised.
        feasible: how many meet all constraints; tried: how many were worked out; failed: statuses of those without
            figures.
    """

    F: Array
    feasible: int = 0
    tried: int = 0
    failed: list[NDArray[np.int8]] = field(default_factory=list)


def preflight(study: Study, pool: Workers | None = None) -> tuple[str, ...]:
    """Refuses a study whose objectives cannot make a front; what else there is to know, in words.

    Args:
        study: as read.
        pool: workers of the study, about to run it. If None, only what needs no driving is looked at, which takes a
            moment.

    Returns:
        Notes: every design that was tried is infeasible, or fails; a sample that holds the whole space; objectives that
        were not looked at.

    Raises:
        StudyError: an objective is the same for all designs; two order all designs alike; the population is larger than
            the space.
    """
    notes = (*_space(study), *_budget(study))
    if pool is not None:
        return (*notes, *_tried(study, study, pool))
    part = _without_driving(study)
    if len(part.objectives) < len(study.objectives):
        left = [_named(item) for item in study.objectives if item not in part.objectives]
        notes = (*notes, f"whether the objectives make a front is looked at when the run begins: {', '.join(left)}")
    if not part.measures:
        return notes
    with Workers(part, 1) as workers:
        return (*notes, *_tried(study, part, workers))


def _without_driving(study: Study) -> Study:
    """The study's measures that need no driving where its search begins."""
    if domains(study)[0] == "frequency-domain":
        return restricted(study, undriven(study))
    return restricted(study, [item for item in study.measures if CRITERIA[item.criterion].kind != "condition"])


def _space(study: Study) -> tuple[str, ...]:
    """Refuse a population that the space cannot hold; a note where it cannot hold the sample."""
    counts, search = levels(study), study.search
    if not all(counts):
        return ()
    size = prod(counts)
    if search.population > size:
        found = f"{search.population} designs, and the ranges hold {size}"
        hint = "more choices or finer steps make more designs; so few can also be worked out one by one"
        raise StudyError(study.path, [Mistake("search.population", found, f"{size} at most", hint)])
    if search.sample >= size:
        return (f"the ranges hold {size:,} designs: the sample of {search.sample:,} looks at every one of them",)
    return ()


def _budget(study: Study) -> tuple[str, ...]:
    """A note where a refinement has too few designs to begin."""
    first = first_block(levels(study), len(study.objectives))
    sizes = {"refine": study.search.refine}
    if study.response == "auto":
        sizes["simulated_refine"] = study.search.simulated_refine
    return tuple(
        f"search.{key} = {size}: a refinement's first block may take {first} designs; with fewer it does not begin"
        for key, size in sizes.items()
        if 0 < size < first
    )


def _tried(study: Study, part: Study, pool: Workers) -> tuple[str, ...]:
    """Work designs out until there is a verdict, and give it.

    Args:
        study: whose keys are named.
        part: what is looked at of it; pool: workers of that.
    """
    whole = len(part.measures) == len(study.measures)
    # Whether some design is feasible is not worth driving more of them.
    cheap = domains(part)[0] == "frequency-domain" and len(undriven(part)) == len(part.measures)
    U = probes(levels(part), MOST)
    seen = _Seen(np.empty((0, len(part.objectives))))
    pairs = set(combinations(range(len(part.objectives)), 2))
    for start in range(0, len(U), PART):
        _look(part, pool, decode(part, U[start : start + PART]), seen)
        pairs = {(a, b) for a, b in pairs if len(seen.F) < 2 or ordered_alike(seen.F[:, a], seen.F[:, b])}
        open_ = pairs or not all(varies(f) for f in seen.F.T)
        if not open_ and (seen.feasible or not cheap or not whole):
            return ()
    return _verdict(study, part, seen, pairs)


def _look(study: Study, pool: Workers, X: Array, seen: _Seen) -> None:
    """Some more designs."""
    found = pool.evaluate(X, domains(study)[0])
    ok = found.status == 0
    places = [study.measures.index(item.measure) for item in study.objectives]
    signs = np.array([float(item.sign) for item in study.objectives])
    seen.F = np.concatenate([seen.F, found.values[ok][:, places] * signs])
    seen.feasible += int(np.count_nonzero(found.violation[ok] <= 0))
    seen.tried += len(X)
    seen.failed.append(found.status[~ok])


def _verdict(study: Study, part: Study, seen: _Seen, pairs: set[tuple[int, int]]) -> tuple[str, ...]:
    """Notes, or the error, once all designs are worked out."""
    failed = np.concatenate(seen.failed)
    if len(seen.F) < 2:
        codes, counts = np.unique(failed, return_counts=True)
        why = WHY[STATUS[int(codes[np.argmax(counts)])]]
        return (f"{len(failed)} of {seen.tried} designs tried over the ranges have no figures: mostly {why}",)
    constant = [k for k in range(seen.F.shape[1]) if not varies(seen.F[:, k])]
    tried = f"{len(seen.F)} designs tried over the ranges"
    mistakes = [
        Mistake(
            _key(study, part.objectives[k]),
            f"{_named(part.objectives[k])} is {_value(part.objectives[k], seen.F[0, k])} for all {tried}",
            "an objective that a design variable changes",
        )
        for k in constant
    ]
    mistakes += [
        Mistake(
            _key(study, part.objectives[b]),
            f"{_named(part.objectives[b])} orders all {tried} as {_key(study, part.objectives[a])}, "
            f"{_named(part.objectives[a])}, does",
            "objectives that can differ",
            "leave one of them out",
        )
        for a, b in sorted(pairs)
        if a not in constant and b not in constant
    ]
    if mistakes:
        raise StudyError(study.path, mistakes)
    if not seen.feasible and len(part.constraints) == len(study.constraints):
        return (f"none of {tried} meets all constraints",)
    return ()


def _key(study: Study, objective: Objective) -> str:
    return f"objective[{study.objectives.index(objective) + 1}]"


def _named(objective: Objective) -> str:
    return f'"{objective.measure.label}"'


def _value(objective: Objective, figure: float) -> str:
    unit = "" if objective.measure.unit == "1" else f" {objective.measure.unit}"
    return f"{objective.sign * float(figure):.6g}{unit}"
