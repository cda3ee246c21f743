"""Rates, frequencies and damping of each axle under each load."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridefront.criteria import standing
from ridefront.criteria.ride import Place
from ridefront.report.rolling import damping_at_rest
from ridefront.report.sheet.lines import Block, name_of
from ridefront.report.sheet.setup import Rest, Setup, figures, response_of, worst
from ridefront.report.words import Table, number
from ridefront.vehicle.static import GRAVITY

SPEEDS = (0.13, 0.5)
"""Of the damper, m/s: where its damping is looked at, beside rest."""

_REST = 1e-9  # m/s: so slow that a damper's first slopes hold

_LABELS = (
    ("sprung mass on the wheel", "kg"),
    ("wheel rate, stops that touch included", "N/mm"),
    ("with the tyre in series", "N/mm"),
    ("ride frequency", "Hz"),
    ("static deflection, were the rates constant", "mm"),
    *(
        (f"damping ratio {where}, {way}", "")
        for where in ("at rest", *(f"at {speed:g} m/s" for speed in SPEEDS))
        for way in ("bump", "rebound", "mean")
    ),
    ("wheel hop frequency", "Hz"),
    ("wheel hop damping ratio at rest", ""),
)


def axles(setup: Setup) -> Block:
    """Both axles under every load, and their damping on every road."""
    tables = [_table(setup, axle) for axle in setup.axles] + [_on_roads(setup, axle) for axle in setup.axles]
    notes = (
        "Damping ratios are of the body on its springs, c/2√(k m), at the wheel, without friction; those at a speed "
        "take force over speed there, at the damper's own speed. Beside each figure, in brackets, the present setup's."
        if setup.rest_now is not None
        else "Damping ratios are of the body on its springs, c/2√(k m), at the wheel, without friction; those at a "
        "speed take force over speed there, at the damper's own speed.",
    )
    return Block("6. Axles", tuple(table for table in tables if table is not None), notes)


def _table(setup: Setup, axle: str) -> Table:
    heads, columns = ["", "unit"], []
    for load, item in enumerate(setup.study.loads):
        for place in setup.places(load):
            if place.at not in setup.wheels(axle):
                continue
            side = "" if place.name == axle else f", {place.name.removeprefix(f'{axle}_')}"
            heads.append(f"{name_of(item.name)}{side}")
            now = None if setup.rest_now is None else column(setup.rest_now, load, place)
            columns.append(_beside(column(setup.rest, load, place), now))
    rows = tuple((label, unit, *(cells[k] for cells in columns)) for k, (label, unit) in enumerate(_LABELS))
    return Table(axle.capitalize(), tuple(heads), rows, 2)


def column(rest: Rest, load: int, place: Place) -> list[float]:
    """One wheel under one load, in the order and units of the table."""
    base, c = rest.under(load), place.at
    state = base.state
    mass, rate = float(state.corner_mass[0, c]), float(state.wheel_rate[0, c])
    ride = float(state.ride_rate[0, c])
    critical = 2 * np.sqrt(rate * mass)
    hop_critical = 2 * np.sqrt((rate + float(state.tyre_rate[0, c])) * float(state.unsprung_mass[0, c]))
    found = [mass, rate / 1e3, ride / 1e3, float(standing.ride_frequency(base, place)[0]), 1e3 * mass * GRAVITY / ride]
    for speed in (_REST, *SPEEDS):
        bump, rebound = (damping_at(rest, load, c, way * speed) / critical for way in (1.0, -1.0))
        found += [bump, rebound, 0.5 * (bump + rebound)]
    hop = float(damping_at_rest(state)[0, c]) / hop_critical
    return [*found, float(standing.wheel_hop_frequency(base, place)[0]), hop]


def damping_at(rest: Rest, load: int, c: int, speed: float) -> float:
    """Force over speed of a corner's damper, at the wheel, where the damper itself has that speed; N·s/m."""
    state = rest.states[load]
    ratio = rest.value(f"{state.model.axles[c]}.damper_ratio") or 1.0
    at_wheel = np.full_like(state.friction, speed / ratio)
    return float(state.speed_law.force(at_wheel)[0, c] / at_wheel[0, c])


def _beside(after: Sequence[float], before: Sequence[float] | None) -> list[str]:
    if before is None:
        return [number(figure) for figure in after]
    return [f"{number(figure)} ({number(was)})" for figure, was in zip(after, before, strict=True)]


def _on_roads(setup: Setup, axle: str) -> Table | None:
    """Equivalent damping of an axle on every random road; None where there is none."""
    worked, rows = setup.worked, []
    for c, condition in enumerate(setup.study.conditions):
        cells = []
        for name in ("damping_ratio", "hop_damping_ratio"):
            after, before = (_least(setup, row, c, name, axle) for row in (setup.row, setup.now))
            if after is None:
                break
            cells.append(number(after) if before is None else f"{number(after)} ({number(before)})")
        else:
            rows.append((condition.name, *cells, response_of(worked, c).replace("-", " ")))
    heads = ("condition", "body", "wheel hop", "worked out in")
    title = f"{axle.capitalize()}: damping ratio on the road, friction included, damper, friction and stops linearised"
    return Table(title, heads, tuple(rows), 1) if rows else None


def _least(setup: Setup, row: int | None, c: int, name: str, axle: str) -> float | None:
    """The less damped wheel of an axle; None where the criterion means nothing there."""
    if row is None:
        return None
    worked = setup.worked
    found = figures(worked, row, setup.study.conditions[c].name, response_of(worked, c))
    places = [worked.model.corners[k] for k in setup.wheels(axle)]
    values = [found[name, place].value for place in places if (name, place) in found]
    return worst(values, smallest=True) if values else None
