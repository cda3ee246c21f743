"""What setups do in a condition, as printed: largest and smallest values of their histories."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridefront.evaluate import STATUS, Evaluator
from ridefront.evaluate.stepping import PEAK_ALLOWED, RMS_ALLOWED
from ridefront.evaluate.tracing import Trace, trace
from ridefront.report.words import Table, number
from ridefront.results.traces import Lineup
from ridefront.road import Obstacle
from ridefront.study.model import Study
from ridefront.vehicle.laws import Array

SHOWN = 6
"""Setups side by side."""


def traced(evaluator: Evaluator, lineup: Lineup, c: int) -> Table:
    """The table of one condition: a column a setup, a row a figure.

    Args:
        evaluator: of the study.
        lineup: setups; the first few of them are shown.
        c: index of the condition.

    Raises:
        CallError: a design lies outside the bounds that the time domain's step is made for.
    """
    shown = lineup.head(SHOWN)
    found = trace(evaluator, shown.X, c)
    rows = [
        (name, unit, *(number(float(value)) for value in values)) for name, unit, values in _figures(evaluator, found)
    ]
    if not found.ok.all():
        rows.append(("status", "", *(STATUS[code].replace("-", " ") for code in found.status)))
    notes = [*trace_notes(evaluator, found, c)]
    if len(lineup) > SHOWN:
        notes.append(f"{len(lineup) - SHOWN:,} more setups: --output FILE.parquet writes the histories of all of them")
    return Table(found.condition, ("", "unit", *shown.labels), tuple(rows), text_columns=2, notes=tuple(notes))


def _figures(evaluator: Evaluator, found: Trace) -> list[tuple[str, str, Array]]:
    """Name, unit, and the figure of each setup, over what counts."""
    counted = slice(found.first, None)
    on_obstacle = _on_obstacle(evaluator.study, found.condition)
    rows: list[tuple[str, str, Array]] = []
    for c, corner in enumerate(found.corners):
        name = corner.replace("_", " ")
        travel, stop, contact, off = (
            history[:, c, counted] for history in (found.travel, found.stop_force, found.contact_force, found.lift_off)
        )
        rows.append((f"{name} travel, largest in bump", "mm", 1e3 * travel.max(axis=1)))
        rows.append((f"{name} travel, largest in rebound", "mm", -1e3 * travel.min(axis=1)))
        if not np.isnan(found.bump_stop[:, c]).all():
            rows.append((f"{name} bump stop, largest force", "N", np.maximum(stop.max(axis=1), 0.0)))
        if not np.isnan(found.rebound_stop[:, c]).all():
            rows.append((f"{name} rebound stop, largest force", "N", np.maximum(-stop.min(axis=1), 0.0)))
        rows.append((f"{name} contact force, least", "N", contact.min(axis=1)))
        share = np.where(found.ok, off.mean(axis=1), np.nan)
        if on_obstacle:  # whose share of time depends on where its road ends
            rows.append((f"{name} wheel off the ground", "ms", 1e3 * share * off.shape[1] * float(found.time[1])))
        else:
            rows.append((f"{name} wheel off the ground", "% of time", 100 * share))
    for p, point in enumerate(found.points):
        peak = np.abs(found.smooth[:, p, counted]).max(axis=1)
        rows.append((f"{point} acceleration, largest below 30 Hz", "m/s²", peak))
    if len(found.corners) > 2:
        rows.append(("roll angle, largest either way", "deg", np.degrees(np.abs(found.roll[:, counted]).max(axis=1))))
    return rows


def _on_obstacle(study: Study, condition: str) -> bool:
    roads = {item.name: study.roads[item.road] for item in study.conditions}
    return isinstance(roads[condition], Obstacle)


def trace_notes(evaluator: Evaluator, found: Trace, c: int) -> Sequence[str]:
    """What to bear in mind when histories are held against the figures of `evaluate`."""
    lines = []
    if found.realisations > 1:
        lines.append(
            f"the first of {found.realisations} realisations of this road; the figures of evaluate are over all of them"
        )
    if not evaluator.simulated(c, evaluator.domain):
        lines.append("driven in the time domain; the figures of evaluate are worked out in the frequency domain")
    step = evaluator.step
    if step.rms[c] > RMS_ALLOWED or step.peak[c] > PEAK_ALLOWED:
        largest = number(100 * max(step.rms[c], step.peak[c]), 2)
        lines.append(f"half the step of {1e3 * step.step:g} ms would still change figures here by up to {largest} %")
    return lines
