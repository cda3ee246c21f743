"""Digests of what a study means, not of how it is written.

Defaults are in, quantities in SI: "22 N/mm" and 22000 are one, titles, comments and the order of keys do not count.
What a design's figures depend on is one digest, sources that compute them included; what decides which designs are
asked is another. The number of generations is in neither (a longer run goes on from a shorter one), nor of workers.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from typing import Any

from ridefront.road import AnyRoad, Profile, kind_of
from ridefront.study.keys import FIGURELESS
from ridefront.study.model import Measure, Start, Study

_PACKAGE = Path(__file__).parents[1]
_SOURCES = ("vehicle", "road", "response", "criteria", "evaluate", "study/space.py")


@lru_cache(maxsize=1)
def engine_digest() -> str:
    """SHA-256 of the sources that compute figures, in hexadecimal."""
    total = hashlib.sha256()
    for name in _SOURCES:
        place = _PACKAGE / name
        files = sorted(place.rglob("*.py")) if place.is_dir() else [place]
        for file in files:
            total.update(file.relative_to(_PACKAGE).as_posix().encode())
            total.update(hashlib.sha256(file.read_bytes()).digest())
    return total.hexdigest()


def figures_meaning(study: Study) -> dict[str, Any]:
    """What fixes a design's figures, apart from the sources: names and plain numbers, SI but for stored units."""
    return {
        "model": study.model,
        "corner": study.corner if study.model == "quarter-car" else None,
        "response": study.response,
        "seed": study.seed if study.simulates or study.scatter is not None else None,
        "linearisation": study.linearisation,
        "fixed": {
            path: float(value)
            for path, value in study.fixed.items()
            # What a spring carries, of which a share is off where it is built so, is what the gas leaves.
            if study.scatter is not None or path.rpartition(".")[2] not in FIGURELESS
        },
        "scatter": None if study.scatter is None else asdict(study.scatter),
        "tables": {path: [list(points.x), list(points.force)] for path, points in study.points.items()},
        "variables": {variable.path: (variable.unit, variable.factor) for variable in study.variables},
        "beams": sorted(study.beams),
        "seats": [_sided(study, asdict(seat)) for seat in study.seats if study.model != "quarter-car"],
        "loads": [
            asdict(load) | {"masses": [_sided(study, asdict(mass)) for mass in load.masses]} for load in study.loads
        ],
        "reference": study.reference,
        "roads": [{"kind": kind_of(road)} | _sided(study, _road(road)) for road in study.roads],
        "conditions": [_without(asdict(condition), "name") for condition in study.conditions],
        "measures": {measure.label: _measure(measure) for measure in study.measures},
    }


def plan_meaning(study: Study) -> dict[str, Any]:
    """What fixes which designs are asked, beside the figures that the search is told."""
    return {
        "variables": [_without(asdict(variable), "factor") for variable in study.variables],
        "seed": study.seed,
        "objectives": [(objective.measure.label, objective.sign) for objective in study.objectives],
        "constraints": [(item.measure.label, item.kind, item.limit, item.scale) for item in study.constraints],
        "present": None if study.present is None else [float(value) for value in study.present],
        "sample": study.search.sample,
        "population": study.search.population,
        "start": None if study.start is None else _start(study.start),
        **_sizes(study),
    }


def _sizes(study: Study) -> dict[str, Any]:
    """Sizes of the search that something comes after: those of the last stage may grow, and the run goes on.

    Where evaluations are bounded, what refinement is given is kept back before it, so that none may grow.
    """
    search, auto = study.search, study.response == "auto"
    refined = search.simulated_refine if auto else search.refine
    bounded = search.evaluations is not None
    return {
        "generations": search.generations if auto or refined else None,
        "refine": search.refine if auto or bounded else None,
        "simulated_generations": search.simulated_generations if auto and (refined or bounded) else None,
        "simulated_refine": search.simulated_refine if auto and bounded else None,
        "evaluations": search.evaluations,
        "stalled": None if search.stalled is None else asdict(search.stalled),
    }


def _start(start: Start) -> str:
    """SHA-256 of the designs that a search begins with, wherever they come from."""
    return hashlib.sha256(repr(start.U.shape).encode() + start.U.tobytes()).hexdigest()


def figures_digest(study: Study) -> str:
    """SHA-256, in hexadecimal, of what fixes a design's figures, the sources that compute them included."""
    return _digest({"study": figures_meaning(study), "engine": engine_digest()})


def plan_digest(study: Study) -> str:
    """SHA-256, in hexadecimal, of what fixes which designs are asked."""
    return _digest(plan_meaning(study))


def _sided(study: Study, table: dict[str, Any]) -> dict[str, Any]:
    """Without what only a model with two sides uses, where the study's has none."""
    if study.model == "full-car":
        return table
    return {key: value for key, value in table.items() if key not in ("left_of_centre", "tracks")}


def _road(road: AnyRoad) -> dict[str, Any]:
    if isinstance(road, Profile):  # its heights by their digest; neither the file's name nor how it is written
        return {name: getattr(road, name) for name in ("name", "step", "estimated", "content")}
    return asdict(road)


def _measure(measure: Measure) -> dict[str, Any]:
    return _without(asdict(measure), "label")


def _without(table: dict[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in table.items() if key != name}


def _digest(meaning: dict[str, Any]) -> str:
    # Floats are written by repr, which gives every bit.
    text = json.dumps(meaning, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()
