"""A study's objectives and constraints as the search takes them apart."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridefront.criteria import CRITERIA
from ridefront.evaluate import Domain, Part, parts_of
from ridefront.evaluate.parts import scattered
from ridefront.road import has_spectrum
from ridefront.search import Anatomy, Limit, Made
from ridefront.study.model import Measure, Study
from ridefront.vehicle.body import model_of


def study_parts(study: Study) -> tuple[Part, ...]:
    """What the columns of P are, in words."""
    return parts_of(study, model_of(study.model, study.corner))


def parts_record(study: Study) -> list[dict[str, str]]:
    """What the entries of the column ``parts`` are, in their order, for run.json."""
    return [
        {"measure": study.measures[part.measure].label, "place": part.place, "condition": part.condition}
        for part in study_parts(study)
    ]


def measures_made(study: Study) -> tuple[Made, ...]:
    """How each of the study's measures is made of the columns of P."""
    parts = study_parts(study)
    return tuple(_made(study, k, measure, parts) for k, measure in enumerate(study.measures))


def anatomy(study: Study) -> Anatomy:
    """Objectives and constraints in terms of P, as `Evaluator.evaluate_with_parts` gives it."""
    made = {item.label: how for item, how in zip(study.measures, measures_made(study), strict=True)}
    return Anatomy(
        tuple(made[item.measure.label] for item in study.objectives),
        tuple(item.sign for item in study.objectives),
        tuple(
            Limit(made[item.measure.label], item.limit, 1 if item.kind == "at_most" else -1, item.scale)
            for item in study.constraints
        ),
        len(study_parts(study)),
    )


def smooth(study: Study, domain: Domain) -> NDArray[np.bool_]:
    """Which columns of P have slopes, (parts,): all but those that jump where they are driven.

    Args:
        study: whose parts they are.
        domain: of rides on random roads.
    """

    def driven(measure: Measure) -> bool:
        roads = [study.roads[study.conditions[c].road] for c in measure.conditions]
        return domain == "time-domain" or not all(has_spectrum(road) for road in roads)

    measures = study.measures
    jumping = [CRITERIA[item.criterion].jumps and driven(item) for item in measures]
    return np.array([not jumping[part.measure] for part in study_parts(study)])


def _made(study: Study, k: int, measure: Measure, parts: tuple[Part, ...]) -> Made:
    columns = [(p, part.group) for p, part in enumerate(parts) if part.measure == k]
    count = columns[-1][1] + 1
    groups = tuple(tuple(p for p, group in columns if group == g) for g in range(count))
    if CRITERIA[measure.criterion].kind == "condition" and not scattered(measure):
        weights = tuple(study.conditions[c].weight for c in measure.conditions)
        return Made(groups, weights, measure.over, measure.worst)
    return Made(groups, (1.0,), "worst", measure.worst)
