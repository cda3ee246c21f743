"""Roads that are driven in the time domain: long enough for what is taken there, and not beyond what memory holds."""

from __future__ import annotations

from ridefront.response.drive import roads_bytes, shows_the_second_after, steps_of
from ridefront.road import AnyRoad, Obstacle, Road, has_spectrum
from ridefront.road.obstacle import total_length
from ridefront.road.realisation import modes
from ridefront.study.model import Condition, Constraint, Response
from ridefront.study.page import Mistakes, quoted
from ridefront.study.vehicle import Vehicle
from ridefront.vehicle import model_of

FEWEST_WAVES = 20
"""Waves of its band that must fit into a random road's length."""

MOST_BYTES = 2 * 2**30
"""Of all roads of a study in time, at the longest step; a shorter one takes more."""

LONGEST_STEP = 2e-3
"""s, of the time domain."""


def check_driven(
    vehicle: Vehicle,
    response: Response,
    roads: tuple[AnyRoad, ...],
    conditions: tuple[Condition, ...],
    constraints: tuple[Constraint, ...],
    mistakes: Mistakes,
) -> None:
    """Note what keeps a study's roads from being driven.

    Args:
        vehicle: as read; response: the study's.
        roads, conditions, constraints: of the study, those without a mistake.
        mistakes: where they go.
    """
    wheelbase = None if vehicle.model == "quarter-car" else vehicle.fixed.get("wheelbase")
    patch = vehicle.fixed.get("contact_patch", 0.0)
    for condition in conditions:
        road = roads[condition.road]
        if isinstance(road, Obstacle):
            _check_run_out(road, condition, patch, wheelbase, mistakes)
            for item in constraints:
                if item.measure.criterion == "settling_time" and condition in _counted(item, conditions):
                    _check_limit(road, condition, item, patch, wheelbase, mistakes)
    driven = [roads[condition.road] for condition in conditions]
    if response == "auto" and not any(has_spectrum(road) for road in driven):
        found = '"auto" without a random road: what is driven is worked out in one way only'
        mistakes.add("response", found, quoted(["time-domain"]))
    if response != "frequency-domain":
        for k, road in enumerate(roads):
            if isinstance(road, Road):
                _check_waves(road, f"road[{k + 1}].length", mistakes)
    _check_size(vehicle, response, roads, conditions, wheelbase, mistakes)


def _counted(item: Constraint, conditions: tuple[Condition, ...]) -> list[Condition]:
    return [conditions[c] for c in item.measure.conditions] if item.kind == "at_most" else []


def _key(road: Obstacle, condition: Condition) -> str:
    return f"road[{condition.road + 1}].{'run_out' if road.road_length is None else 'road_length'}"


def _check_run_out(
    road: Obstacle, condition: Condition, patch: float, wheelbase: float | None, mistakes: Mistakes
) -> None:
    """Blows at the rear axle, and where the body goes after them, are figures too."""
    if shows_the_second_after(road, condition.speed, patch, wheelbase):
        return
    needed = 0.5 * patch + (wheelbase or 0.0) + condition.speed
    found = f"too short at {condition.name}: figures are taken until a second after the last wheel has passed"
    mistakes.add(_key(road, condition), found, f"{needed:.4g} m or more behind the last obstacle")


def _check_limit(
    road: Obstacle, condition: Condition, item: Constraint, patch: float, wheelbase: float | None, mistakes: Mistakes
) -> None:
    limit = item.limit * item.measure.factor
    shown = (total_length(road, condition.speed, wheelbase) - road.lead + 0.5 * patch) / condition.speed
    if limit < shown:
        return
    ends = f"at {condition.name} the road ends {shown:.3g} s after first contact"
    found = f"{ends}, before the limit on the settling time"
    mistakes.add(_key(road, condition), found, f"a run-out for more than {limit:.4g} s")


def _check_waves(road: Road, key: str, mistakes: Mistakes) -> None:
    waves = len(modes(road, 0.0).number)
    if waves < FEWEST_WAVES:
        needed = FEWEST_WAVES / (road.band[1] - road.band[0])
        found = f"{road.length:g} m hold {waves} waves of the road's band, too few for a random road"
        mistakes.add(key, found, f"{needed:.3g} m or more")


def _check_size(
    vehicle: Vehicle,
    response: Response,
    roads: tuple[AnyRoad, ...],
    conditions: tuple[Condition, ...],
    wheelbase: float | None,
    mistakes: Mistakes,
) -> None:
    """A front is driven in the end whatever the response, though over one realisation where that is linear."""
    corners = len(model_of(vehicle.model, vehicle.corner).corners)
    largest, total = 0, 0
    worst = conditions[0] if conditions else None
    for condition in conditions:
        road = roads[condition.road]
        once = response == "frequency-domain" and isinstance(road, Road)
        steps = steps_of(road, condition.speed, wheelbase, LONGEST_STEP)
        size = roads_bytes(steps, corners, 1 if once else road.realisations)
        total += size
        if size > largest:
            largest, worst = size, condition
    if total > MOST_BYTES and worst is not None:
        found = (
            f"driving all conditions takes {total / 2**30:.3g} GiB of heights alone, {largest / 2**30:.3g} GiB of them "
            f"{worst.name}"
        )
        allowed = f"{MOST_BYTES / 2**30:g} GiB: shorter roads, fewer realisations, no crawling"
        mistakes.add(f"road[{worst.road + 1}]", found, allowed)
