"""Criteria condition by condition, beside the present setup and the other domain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from ridefront.criteria import CRITERIA
from ridefront.evaluate import Domain
from ridefront.report.sheet.lines import SAME, Block, compared, difference, per_cent
from ridefront.report.sheet.setup import Found, Setup, figures, response_of, worst
from ridefront.report.sheet.speeds import BANDS, Speeds, at
from ridefront.report.words import Table, measure, measured_in, number, unit
from ridefront.road import has_spectrum
from ridefront.study.model import Array, Study
from ridefront.units import exact_factor

_SHOWN = (
    "comfort", "comfort_total", "body_acceleration", "vibration_dose", "transient_vibration", "peak_acceleration",
    "pitch_angle", "roll_angle", "residual_pitch", "settling_time", "dynamic_load_coefficient", "wheel_lift_off",
    "rattle_space", "bump_stop_engagement",
)  # fmt: skip
"""Criteria of a ride on a sheet; damping ratios, reserves and stop forces have blocks of their own."""

_SHARES = ("wheel_lift_off", "bump_stop_engagement")
"""Those of them that are shares of time, shown in per cent."""

_LEAST = 1e-3  # %: a share of time below it is not told apart


def rides(setup: Setup, asked: Table, speeds: Mapping[tuple[int, int, str], Speeds]) -> Block:
    """What the study asks for, every condition, and how fast the dampers move."""
    tables = [asked, *(_condition(setup, c) for c in range(len(setup.study.conditions)))]
    tables += _speeds(setup, dict(speeds))
    notes, both = [], len(setup.worked.pieces) > 1
    if both:
        notes.append("Difference: the time domain's figure less the frequency domain's.")
    if both and setup.worked.domain == "frequency-domain":
        notes.append("The time domain has driven one realisation of each random road for it.")
    if len(setup.worked.model.corners) == 4:
        notes.append("Of an axle's two wheels the worse one is given.")
    return Block("9. Criteria", tuple(tables), tuple(notes))


def asked_for(study: Study, values: Array, now: Array | None, domain: Domain) -> Table:
    """Objectives and limits of the study.

    Args:
        study: the study.
        values, now: figures of the setup and of the present one, (k,), in the measures' units.
        domain: of the front.
    """
    heads = ("", "unit", "this setup", *(("present", "change") if now is not None else ()), "wanted")
    rows = []
    for k, item in enumerate(study.measures):
        cells = [measure(item.label), measured_in(item), number(float(values[k]))]
        if now is not None:
            cells += [number(float(now[k])), compared(item, float(now[k]), float(values[k]))]
        wanted = [
            "small" if objective.sign == 1 else "large"
            for objective in study.objectives
            if objective.measure.label == item.label
        ]
        wanted += [
            f"{limit.kind.replace('_', ' ')} {limit.limit:.6g}"
            for limit in study.constraints
            if limit.measure.label == item.label
        ]
        rows.append((*cells, ", ".join(wanted)))
    return Table(f"What the study asks for, rides worked out in the {domain.replace('-', ' ')}", heads, tuple(rows), 2)


def _condition(setup: Setup, c: int) -> Table:
    """A condition's criteria."""
    study, worked = setup.study, setup.worked
    condition, domain = study.conditions[c], response_of(worked, c)
    mine = figures(worked, setup.row, condition.name, domain)
    present = None if setup.now is None else figures(worked, setup.now, condition.name, domain)
    both = has_spectrum(study.roads[condition.road]) and len(worked.pieces) > 1
    other: Domain = "time-domain" if domain == "frequency-domain" else "frequency-domain"
    across = figures(worked, setup.row, condition.name, other) if both else {}
    heads = ["", "place", "unit", "this setup"]
    heads += ["present", "change"] if present is not None else []
    heads += [other.replace("-", " "), "difference"] if both else []
    rows = []
    for name, place, factor, shown_unit in _lines(setup, mine):
        found = _pair(setup, mine, name, place, factor)
        cells = [name.replace("_", " "), place.replace("_", " ") or "vehicle", shown_unit, _with_error(name, found)]
        if present is not None:
            before = _pair(setup, present, name, place, factor).value
            cells += [_figure(name, before), _moved(name, before, found.value)]
        if both:
            there = _pair(setup, across, name, place, factor).value
            time, frequency = (found.value, there) if domain == "time-domain" else (there, found.value)
            cells += [_figure(name, there), _moved(name, frequency, time)]
        rows.append(tuple(cells))
    total = sum(item.weight for item in study.conditions)
    share = f"{number(100 * condition.weight / total)} % of time, {domain.replace('-', ' ')}"
    return Table(f"{condition.name} ({share})", tuple(heads), tuple(rows), 3)


def _lines(setup: Setup, found: Mapping[tuple[str, str], Found]) -> list[tuple[str, str, float, str]]:
    """Criterion, place, SI units in a shown one, and that unit; of wheels one an axle."""
    lines = []
    for name in _SHOWN:
        row = CRITERIA[name]
        places = [place for criterion, place in found if criterion == name]
        if row.places == "corner":
            corners = setup.worked.model.corners
            places = [axle for axle in setup.axles if any(corners[k] in places for k in setup.wheels(axle))]
        shown = "%" if name in _SHARES else unit(row.display_unit)
        factor = 0.01 if shown == "%" else float(exact_factor(row.display_unit))
        lines += [(name, place, factor, shown) for place in places]
    return lines


def _pair(setup: Setup, found: Mapping[tuple[str, str], Found], name: str, place: str, factor: float) -> Found:
    """A figure at a place, in a shown unit, of an axle that of its worse wheel; NaN where there is none."""
    places: Sequence[str] = (place,)
    if CRITERIA[name].places == "corner":
        places = [setup.worked.model.corners[k] for k in setup.wheels(place)]
    here = [found[name, each] for each in places if (name, each) in found]
    value = worst([item.value for item in here])
    se = next((item.se for item in here if item.value == value), float("nan"))
    return Found(value / factor, se / factor)


def _figure(name: str, value: float) -> str:
    return f"below {_LEAST:g}" if name in _SHARES and 0 < value < _LEAST else number(value)


def _with_error(name: str, found: Found) -> str:
    """A figure with its standard error, where that is more than rounding."""
    shown = _figure(name, found.value)
    if not np.isfinite(found.se) or found.se <= 1e-4 * abs(found.value) or shown.startswith("below"):
        return shown
    return f"{shown} ± {number(found.se, 1)}"


def _moved(name: str, before: float, after: float) -> str:
    """Shares of time are held against each other as they are, all else in per cent."""
    if name in _SHARES:
        return SAME if abs(after - before) < _LEAST else difference(before, after)
    return per_cent(before, after)


def _speeds(setup: Setup, speeds: dict[tuple[int, int, str], Speeds]) -> list[Table]:
    rows = []
    for c, condition in enumerate(setup.study.conditions):
        way = "Gaussian" if response_of(setup.worked, c) == "frequency-domain" else "counted"
        for axle in setup.axles:
            found = at(speeds, setup, c, axle)
            cells = ["–"] * (len(BANDS) + 2) if found is None else [number(found.rms)]
            cells += [] if found is None else [f"{100 * share:.1f}" for share in found.shares]
            rows.append((condition.name, axle, *cells, way))
    edges = [f"{edge:g}" for edge in BANDS]
    ranges = (f"below {edges[0]} %", *(f"{a} to {b} %" for a, b in pairwise(edges)))
    heads = ("condition", "", "rms m/s", *ranges, f"above {edges[-1]} %", "shares of time")
    return [Table("Speed of the dampers themselves, and share of time in ranges of it, m/s", heads, tuple(rows), 2)]
