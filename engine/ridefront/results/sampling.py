"""Which of a study's figures depend on the roads that were drawn, and which on how the ride is worked out."""

from __future__ import annotations

from dataclasses import astuple, replace

from ridefront.criteria import CRITERIA
from ridefront.evaluate import Domain
from ridefront.road import AnyRoad, Obstacle, Road, has_spectrum
from ridefront.study.model import Measure, Study


def domains(study: Study) -> tuple[Domain, ...]:
    """In which rides on random roads are worked out, one after the other in a search; the front is of the last."""
    if study.response == "auto":
        return ("frequency-domain", "time-domain")
    return (study.response,)


def realisations(study: Study, response: Domain) -> int | None:
    """How many of each random road are driven, the fewest where roads differ; None where none is driven."""
    driven = [road.realisations for road in random_roads(study)]
    return min(driven) if driven and response == "time-domain" else None


def random_roads(study: Study) -> tuple[Road, ...]:
    """The random roads of the study's conditions."""
    used = sorted({condition.road for condition in study.conditions})
    return tuple(road for road in (study.roads[k] for k in used) if isinstance(road, Road))


def drawn(study: Study) -> tuple[Measure, ...]:
    """Measures of which another seed would make other figures: those that look at a random road in the time domain, or
    at a mix of obstacles.
    """
    return tuple(item for item in study.measures if any(_is_drawn(study, road) for road in _roads(study, item)))


def sampled(study: Study) -> tuple[Measure, ...]:
    """Measures that have a standard error: those of `drawn` that look at more than one realisation of a road."""
    return tuple(
        item
        for item in drawn(study)
        if any(_is_drawn(study, road) and road.realisations > 1 for road in _roads(study, item))
    )


def fewest_drawn(study: Study) -> int:
    """Realisations of each road whose draw figures depend on, the fewest where roads differ; 0 where none does."""
    roads = [road for item in drawn(study) for road in _roads(study, item) if _is_drawn(study, road)]
    return min((road.realisations for road in roads), default=0)


def sampled_columns(study: Study) -> tuple[int, ...]:
    """Places of the measures with a standard error among all measures."""
    labels = {item.label for item in sampled(study)}
    return tuple(k for k, item in enumerate(study.measures) if item.label in labels)


def compared(study: Study) -> tuple[Measure, ...]:
    """Measures that both domains have, and that may differ between them: those that look at a road by its
    spectrum: a random one, or a measured one whose spectrum is estimated. A front of the frequency domain is not
    driven with every vehicle built of its designs.
    """
    return tuple(
        item
        for item in study.measures
        if not CRITERIA[item.criterion].simulated
        and any(has_spectrum(road) for road in _roads(study, item))
        and not (item.scatter is not None and study.response == "frequency-domain")
    )


def spreading(study: Study) -> tuple[Measure, ...]:
    """Measures whose spread over vehicles built within tolerances a front has: each once, where two differ by how they
    count these vehicles alone.
    """
    seen: dict[tuple[object, ...], Measure] = {}
    for item in study.measures if study.scatter is not None else ():
        seen.setdefault(of_one_vehicle(item), item)
    return tuple(seen.values())


def of_one_vehicle(measure: Measure) -> tuple[object, ...]:
    """What a measure looks at, whatever it is called and however it counts vehicles built within tolerances: equal for
    measures that spread alike.
    """
    return astuple(replace(measure, label="", scatter=None, unit="", factor=1.0))


def undriven(study: Study) -> tuple[Measure, ...]:
    """Measures that the frequency domain has whole: those that need no road, or roads with a spectrum only."""
    return tuple(
        item
        for item in study.measures
        if not CRITERIA[item.criterion].simulated and all(has_spectrum(road) for road in _roads(study, item))
    )


def _roads(study: Study, measure: Measure) -> list[AnyRoad]:
    """The roads that a measure looks at."""
    if CRITERIA[measure.criterion].kind != "condition":
        return []
    return [study.roads[study.conditions[c].road] for c in measure.conditions]


def _is_drawn(study: Study, road: AnyRoad) -> bool:
    if isinstance(road, Road):
        return study.response != "frequency-domain"
    return isinstance(road, Obstacle) and bool(road.sizes)
