"""The travel budget: what is available, what loads and roads take of it, what is left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridefront.criteria import travel
from ridefront.criteria.ride import Place, Ride
from ridefront.report.sheet.lines import NOT_GIVEN, Block, tenths
from ridefront.report.sheet.setup import Setup, figures, response_of, worst
from ridefront.report.words import Table, number
from ridefront.response.time_domain import TimeResponse

NO_STOP = "no stop"


@dataclass(frozen=True)
class Budget:
    """One wheel's travel one way in one condition, m, from design height.

    Attributes:
        available: to the end of travel.
        static: taken by the load at rest.
        mean: taken by what the road does to the mean: dampers that pump, stops that push back.
        peak: largest travel from the mean; in the time domain from rest, and `mean` is 0.
        margin: what is left.
    """

    available: float
    static: float
    mean: float
    peak: float
    margin: float


def budget(ride: Ride, row: int, c: int, way: str) -> Budget | None:
    """The budget of a corner in bump or in rebound; None where the study gives no such travel.

    Args:
        ride: of several designs in one condition.
        row: which of them.
        c: the corner.
        way: "bump" or "rebound".
    """
    bump, state = way == "bump", ride.state
    ends = state.bump_travel if bump else state.rebound_travel
    if ends is None or not np.isfinite(ends[row, c]):
        return None
    sign = 1.0 if bump else -1.0
    available, static = float(ends[row, c]), sign * float(state.travel[row, c])
    if isinstance(ride.response, TimeResponse):
        furthest = ride.response.highest if bump else ride.response.lowest
        mean, peak = 0.0, sign * float(furthest[row, c]) - static
    else:
        response = ride.response
        mean = sign * float(response.mean_travel[row, c]) - static
        sigma, speed = (float(np.sqrt(part[row, c])) for part in (response.travel, response.travel_speed))
        crossings = np.array([speed / (2 * np.pi * sigma) * response.grid.duration])
        peak = sigma * float(travel.peak_factor(crossings)[0])
    figure = travel.bump_reserve if bump else travel.rebound_reserve
    return Budget(available, static, mean, peak, float(figure(ride, Place("", corner=c))[row]))


def budgets(setup: Setup) -> Block:
    """Bump and rebound, per axle and condition; of an axle the wheel that has least left."""
    tables = tuple(table for way in ("bump", "rebound") for table in _table(setup, way)) + _stop_forces(setup)
    missing = [
        f"{axle} {way} travel" for axle in setup.axles for way in ("bump", "rebound") if _lacks(setup, axle, way)
    ]
    notes = [
        "At the wheel (on a beam, at its springs), in mm: available - static shift - mean shift - peak = margin. Below "
        "zero the wheel would go past the end of its travel, into metal.",
        _peaks(setup),
    ]
    if len(setup.worked.model.corners) == 4:
        notes.append("Of an axle's two wheels the one with less left is given.")
    if all(_stops(setup, axle) == NO_STOP for axle in setup.axles):
        notes.append(f"Stops and their forces: {NOT_GIVEN}.")
    elif setup.worked.domain == "frequency-domain" and len(setup.worked.pieces) > 1:
        notes.append(
            "Stop forces are those of the time domain, over one realisation of each random road; margins on random "
            "roads are those of the frequency domain."
        )
    notes += [f"{name}: {NOT_GIVEN}." for name in missing]
    return Block("8. Travel budget", tables, tuple(notes))


def _lacks(setup: Setup, axle: str, way: str) -> bool:
    return setup.rest.value(f"{axle}.{way}_travel") is None


def _peaks(setup: Setup) -> str:
    ways = {response_of(setup.worked, c) for c in range(len(setup.study.conditions))}
    said = []
    if "frequency-domain" in ways:
        said.append(
            "in the frequency domain the peak is the expected largest of one passage of the road, which takes the time "
            "given, for a Gaussian ride (Davenport)"
        )
    if "time-domain" in ways:
        said.append("in the time domain the peak is the largest from rest, the mean over all realisations of the road")
    whole = "; ".join(said)
    return f"{whole[0].upper()}{whole[1:]}."


def _table(setup: Setup, way: str) -> tuple[Table, ...]:
    heads = ["condition", "", "seconds", "available", "static shift", "mean shift", "peak", "margin"]
    heads += ["present"] if setup.now is not None else []
    rows = []
    for c, condition in enumerate(setup.study.conditions):
        for axle in setup.axles:
            found = least(setup, setup.row, c, axle, way)
            if found is None:
                continue
            mean = "in the peak" if response_of(setup.worked, c) == "time-domain" else _mm(found.mean)
            cells = [condition.name, axle, number(duration(setup, c), 3), _mm(found.available), _mm(found.static), mean]
            cells += [_mm(found.peak), _mm(found.margin)]
            if setup.now is not None:
                now = least(setup, setup.now, c, axle, way)
                cells.append("–" if now is None else _mm(now.margin))
            rows.append(tuple(cells))
    return (Table(f"{way.capitalize()}, mm at the wheel", tuple(heads), tuple(rows), 2),) if rows else ()


def duration(setup: Setup, c: int) -> float:
    """How long a condition's road is driven; s."""
    from ridefront.report.roads import driven_length

    condition = setup.study.conditions[c]
    return driven_length(setup.study, setup.study.roads[condition.road], condition.speed) / condition.speed


def least(setup: Setup, row: int, c: int, axle: str, way: str) -> Budget | None:
    """The budget of an axle's wheel that has less left."""
    found = [budget(setup.worked.rides[c], row, k, way) for k in setup.wheels(axle)]
    known = [item for item in found if item is not None]
    return min(known, key=lambda item: item.margin if np.isfinite(item.margin) else np.inf) if known else None


def _mm(metres: float) -> str:
    return tenths(1e3 * metres)


def _stop_forces(setup: Setup) -> tuple[Table, ...]:
    """The largest force of either stop of an axle, which only a drive in time knows."""
    rows = []
    for c, condition in enumerate(setup.study.conditions):
        for axle in setup.axles:
            if _stops(setup, axle) == NO_STOP:
                continue
            cells = [_stop_force(setup, setup.row, c, axle)]
            cells += [] if setup.now is None else [_stop_force(setup, setup.now, c, axle)]
            rows.append((condition.name, axle, _stops(setup, axle), *cells))
    heads = ("condition", "", "of", "largest force N", *(() if setup.now is None else ("present",)))
    return (Table("Stops, driven in time", heads, tuple(rows), 3),) if rows else ()


def _stops(setup: Setup, axle: str) -> str:
    """Which stops an axle has, in words."""
    known = [name for name in ("bump", "rebound") if f"{axle}.{name}_stop_rate" in setup.rest.values]
    if len(known) == 2:
        return "bump or rebound stop, the larger"
    return f"{known[0]} stop" if known else NO_STOP


def _stop_force(setup: Setup, row: int, c: int, axle: str) -> str:
    found = figures(setup.worked, row, setup.study.conditions[c].name, "time-domain")
    places = [setup.worked.model.corners[k] for k in setup.wheels(axle)]
    values = [found["stop_force", place].value for place in places if ("stop_force", place) in found]
    return number(worst(values)) if values else "–"
