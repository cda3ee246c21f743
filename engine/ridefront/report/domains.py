"""How far a finished front is to be believed: the two domains against each other, and roads that no search saw."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from ridefront.criteria import CRITERIA
from ridefront.evaluate.stepping import PEAK_ALLOWED, RMS_ALLOWED
from ridefront.report.words import measure, measured_in, number
from ridefront.results.columns import NONDOMINATED
from ridefront.results.names import RECORD
from ridefront.results.record import Record, read_record
from ridefront.results.sampling import compared, drawn
from ridefront.run.sureness import DOUBTFUL
from ridefront.study.model import Measure, Study
from ridefront.vehicle.laws import Array

_NOISE = 1e-9  # of a figure: a standard error below it is rounding, as of rms figures of a linear vehicle
_SMALL = 0.1  # of a criterion's typical size: figures below it are not divided by


def domain_notes(study: Study, folder: Path, front: pd.DataFrame) -> tuple[str, ...]:
    """Lines on how the domains differ over a front, on roads that its search never saw, and on the step.

    Args:
        study: as read and checked.
        folder: of the run.
        front: at least one design, as `ridefront.results.read_front` gives it.
    """
    record = read_record(folder / RECORD)
    lines = (_differences(study, front, record), _held_out(study, front), _sure(front), _step(record))
    return tuple(line for line in lines if line)


def _differences(study: Study, front: pd.DataFrame, record: Record) -> str:
    """What the linearised ride makes of the objectives, against the one that is driven."""
    parts = []
    for item in _objectives(study, compared(study)):
        difference = -_figures(front, f"{item.label}.difference")
        figures = _figures(front, item.label)
        driven = figures if record["front_response"] == "time-domain" else figures - difference
        change, words = _change(item, difference, driven)
        if not len(change):
            continue
        middle = float(np.median(change))
        side = "low" if middle < 0 else "high"
        largest = number(float(np.max(np.abs(change))), 2)
        parts.append(f"{measure(item.label)} {number(abs(middle), 2)}{words} {side} (up to {largest}{words})")
    if not parts:
        return ""
    roads = " (one realisation a road)" if study.response == "frequency-domain" else ""
    return f"the linearised ride reads, against the time domain{roads}, median over the front: {'; '.join(parts)}"


def _held_out(study: Study, front: pd.DataFrame) -> str:
    """What becomes of the objectives on other realisations of the same roads."""
    parts = []
    for item in _objectives(study, drawn(study)):
        figures, fresh = _figures(front, item.label), _figures(front, f"{item.label}.held_out")
        change, words = _change(item, fresh - figures, figures)
        if not len(change):
            continue
        text = f"{measure(item.label)} {float(np.median(change)):+.2g}{words}"
        if f"{item.label}.held_out.se" in front:
            ours, theirs = _figures(front, f"{item.label}.se"), _figures(front, f"{item.label}.held_out.se")
            error = np.sqrt(ours * ours + theirs * theirs)
            good = error > _NOISE * np.abs(figures)
            if good.any():
                text += f" ({float(np.median((fresh - figures)[good] / error[good])):+.1f} standard errors)"
        parts.append(text)
    return f"on roads that the search never saw, median over the front: {'; '.join(parts)}" if parts else ""


def _sure(front: pd.DataFrame) -> str:
    """How many setups are surely on the front, were there no sampling error."""
    if NONDOMINATED.name not in front:
        return ""
    found = _figures(front, NONDOMINATED.name)
    found = found[np.isfinite(found)]
    if not len(found):
        return ""
    low, high = DOUBTFUL
    surely, hardly = int(np.count_nonzero(found >= high)), int(np.count_nonzero(found <= low))
    text = f"of {len(found):,} setups on the front {surely:,} are surely on it ({100 * high:g} % or more)"
    if doubtful := len(found) - surely - hardly:
        text += f", {doubtful:,} are in doubt: other roads of the same kind might put another in their place"
    return text + (f", {hardly:,} hardly belong there ({100 * low:g} % or less)" if hardly else "")


def _step(record: Record) -> str:
    """A warning where halving the step still changes figures by more than is allowed."""
    step = record["step"]
    if step is None or step["held"]:
        return ""
    changes = [[condition[kind] for condition in step["conditions"].values()] for kind in ("rms_change", "peak_change")]
    return too_long(step["step"], *changes)


def too_long(step: float, rms: Sequence[float | None], peak: Sequence[float | None]) -> str:
    """What to say of a step, s, that the check did not hold: its conditions' relative changes, None where a figure was
    not finite.
    """

    def worst(changes: Sequence[float | None]) -> str:
        known = [change for change in changes if change is not None and np.isfinite(change)]
        return f"{number(100 * max(known), 2)} %" if len(known) == len(changes) else "some"

    return (
        f"the time domain's shortest step, {number(1e3 * step)} ms, is too long for the fastest wheels of this "
        f"study: halving it changes rms figures by {worst(rms)} (wanted: {number(100 * RMS_ALLOWED)} %) and "
        f"largest values by {worst(peak)} (wanted: {number(100 * PEAK_ALLOWED)} %)"
    )


def _objectives(study: Study, measures: tuple[Measure, ...]) -> list[Measure]:
    """The objectives among some measures."""
    labels = {item.label for item in measures}
    return [item.measure for item in study.objectives if item.measure.label in labels]


def _figures(front: pd.DataFrame, name: str) -> Array:
    return front[name].to_numpy(dtype=np.float64)


def _change(item: Measure, difference: Array, figures: Array) -> tuple[Array, str]:
    """Differences in per cent of figures, or as they are where figures may be small or below zero; and their unit."""
    row = CRITERIA[item.criterion]
    good = np.isfinite(difference) & np.isfinite(figures)
    difference, figures = difference[good], figures[good]
    if row.sense == "large" or not np.all(figures > _SMALL * row.typical / item.factor):
        return difference, f" {measured_in(item)}".rstrip()
    return 100 * difference / figures, " %"
