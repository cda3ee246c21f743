"""What a study's figures are made of: each measure at each of its places in each of its conditions, before the worst
place is taken and conditions are put together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.criteria import CRITERIA
from ridefront.evaluate.bench import Bench, measured_places
from ridefront.evaluate.outcome import AT_REST, Evaluation
from ridefront.study.model import Measure, Study
from ridefront.vehicle.body import Model
from ridefront.vehicle.laws import Array


@dataclass(frozen=True)
class Part:
    """One smooth part of a measure.

    Attributes:
        measure: index into the study's measures.
        place: axle, wheel or seat; empty for the whole vehicle.
        condition: ``road @ speed, load``, or ``at rest, load``; empty where the measure has one condition only.
        group: the condition's number within the measure: of one group the worst counts.
    """

    measure: int
    place: str
    condition: str
    group: int


def parts_of(study: Study, model: Model) -> tuple[Part, ...]:
    """The parts of a study's measures, in the order of the columns of P; a scattered measure is one part."""
    found: list[Part] = []
    for k, measure in enumerate(study.measures):
        if scattered(measure):
            found.append(Part(k, "", "", 0))
            continue
        places = [place.name for place in measured_places(study, model, measure)]
        if CRITERIA[measure.criterion].kind == "condition":
            names = [study.conditions[c].name for c in measure.conditions]
            one = len(names) == 1
            found += [Part(k, place, "" if one else name, g) for g, name in enumerate(names) for place in places]
        else:
            loads = _loads(measure)
            names = [f"{AT_REST}, {study.loads[load].name}" if len(loads) > 1 else "" for load in loads]
            found += [Part(k, place, name, 0) for name in names for place in places]
    return tuple(found)


def part_values(bench: Bench, found: Evaluation) -> Array:
    """P (n, parts), each in its measure's stored unit, of designs on a bench; NaN where a design failed.

    Args:
        bench: with the study's conditions that count.
        found: what was worked out on it.
    """
    study, model = bench.study, bench.roads.model
    columns: list[Array] = []
    with np.errstate(all="ignore"):
        for k, measure in enumerate(study.measures):
            if scattered(measure):
                columns.append(found.values[:, k])
                continue
            row = CRITERIA[measure.criterion]
            places = measured_places(study, model, measure)
            if row.kind == "condition":
                figures = [row.figure(bench.ride(c), place) for c in measure.conditions for place in places]
            else:
                figures = [row.figure(bench.standing(load), place) for load in _loads(measure) for place in places]
            columns += [figure / measure.factor for figure in figures]
    P = np.stack(columns, axis=1)
    P[found.status != 0] = np.nan
    return P


def scattered(measure: Measure) -> bool:
    """Whether a measure is taken over tolerances of parts, so that nothing below its own figure is one ride's."""
    return getattr(measure, "scatter", None) is not None


def _loads(measure: Measure) -> Sequence[int]:
    """Under which a measure that needs no road is taken."""
    return measure.loads if CRITERIA[measure.criterion].kind == "load" else measure.loads[:1]
