"""What holds a setup, what each part buys, and how far figures spread."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ridefront.report.choices import Choices
from ridefront.report.compromises import what_holds
from ridefront.report.optimality import held_by
from ridefront.report.rounding import Rounded
from ridefront.report.sheet.lines import Block, changes, compared, objective_heads
from ridefront.report.sheet.trials import HAIR, STEP, Trial
from ridefront.report.words import Table, measure, measured_in, number, quantity, unit
from ridefront.study.model import Constraint, Study


def buys(choices: Choices, row: int, trials: Sequence[Trial], part: Rounded | None) -> Block:
    """What holds a setup and which change buys what.

    Args:
        choices: from its front.
        row: of the front.
        trials: of the setup.
        part: the setup in catalogue parts; None where the study has no catalogue.
    """
    study, frame = choices.result.study, choices.result.front
    tables = [*_limits(study, choices.front.values[row]), *_steps(study, trials, "step")]
    tables += _steps(study, trials, "catalogue") + _in_parts(study, choices, row, part)
    notes = [_held(choices, row)]
    if part is not None:
        notes += [f"All parts from the catalogue: {said}." for said in (*part.broken, *part.notes)]
    if any(item.kind == "step" for item in trials):
        notes.append(
            f"One part at a time, {100 * STEP:g} % less and more, or as far as its range goes and the ranges of ratios "
            "in which it has a part; a part at the end of these has no line on that side, and parts of the catalogue "
            "beyond them none at all. Of steps and choices the next ones. All others stay as they are. A limit missed "
            "by less than a thousandth of its size counts as kept."
        )
    notes += [] if study.catalogue else ["Neighbours one catalogue step away: no catalogue in the study."]
    spread = _spread(study, frame, row)
    if not spread:
        why = "no tolerances in the study" if study.scatter is None else "not worked out by the run"
        notes.append(f"Spread of vehicles as built: {why}.")
    return Block("10. What holds this setup, and what a change buys", (*tables, *spread), tuple(notes))


def _held(choices: Choices, row: int) -> str:
    words = held_by(choices.result.front)[row] if "held_by" in choices.result.front.columns else None
    if words is None:
        words = "; ".join(what_holds(choices.result.study, choices.front.X[row], choices.front.values[row]))
    return f"Held by: {words}." if words else "Held by no limit."


def _limits(study: Study, values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[Table]:
    """Every limit and how much room there is."""
    labels, rows = [item.label for item in study.measures], []
    for item in study.constraints:
        figure = float(values[labels.index(item.measure.label)])
        room = figure - item.limit if item.kind == "at_least" else item.limit - figure
        limit = f"{item.kind.replace('_', ' ')} {item.limit:.6g}"
        rows.append((measure(item.measure.label), measured_in(item.measure), number(figure), limit, _room(item, room)))
    return [Table("Limits of the study", ("", "unit", "this setup", "limit", "room"), tuple(rows), 2)] if rows else []


def _room(item: Constraint, room: float) -> str:
    return "none" if abs(room) <= HAIR * item.scale else number(room)


def _steps(study: Study, trials: Sequence[Trial], kind: str) -> list[Table]:
    """A row a part changed, a column an objective."""
    rows = []
    for item in trials:
        if item.kind != kind:
            continue
        change = "" if item.before == 0 else f"{100 * (item.after - item.before) / abs(item.before):+.3g} %"
        shown = f"{item.after:.6g}" if kind == "catalogue" else number(item.after, 4)
        value = f"{shown} {item.unit}".rstrip()
        if item.failed:
            rows.append((quantity(item.path), value, change, *("–" for _ in study.objectives), item.failed))
            continue
        limits = item.limits.removeprefix("; ") or "kept"
        rows.append((quantity(item.path), value, change, *changes(study, item.base, item.values), limits))
    heads = ("part", "changed to", "by", *objective_heads(study), "limits")
    title = "One part a little less or more" if kind == "step" else "One part as the catalogue has it"
    return [Table(title, heads, tuple(rows), 1)] if rows else []


def _in_parts(study: Study, choices: Choices, row: int, part: Rounded | None) -> list[Table]:
    """All parts from the catalogue together."""
    if part is None:
        return []
    rows = []
    for j, variable in enumerate(study.variables):
        before, after = float(choices.front.X[row, j]), float(part.x[j])
        if variable.path in study.catalogue or before != after:
            rows.append((quantity(variable.path), unit(variable.unit), number(before, 4), f"{after:.6g}", ""))
    labels = [item.label for item in study.measures]
    for objective in study.objectives:
        item = objective.measure
        k = labels.index(item.label)
        before, after = float(choices.front.values[row, k]), float(part.values[k])
        cells = (number(before), number(after), compared(item, before, after))
        rows.append((measure(item.label), measured_in(item), *cells))
    rows.append(("limits", "", "", "kept" if part.holds else "broken", ""))
    heads = ("", "unit", "this setup", "in catalogue parts", "change")
    return [Table("All parts from the catalogue", heads, tuple(rows), 2)]


def _spread(study: Study, frame: pd.DataFrame, row: int) -> list[Table]:
    """Between which figures nine of ten vehicles built within tolerances lie, as the run worked it out."""
    if study.scatter is None:
        return []
    rows = []
    for item in study.measures:
        names = (item.label, f"{item.label}.scatter_low", f"{item.label}.scatter_high")
        if item.scatter is None and all(name in frame.columns for name in names):
            cells = (number(_number(frame[name].iloc[row])) for name in names)
            rows.append((measure(item.label), measured_in(item), *cells))
    heads = ("", "unit", "as drawn", "5 % of vehicles are below", "95 % of vehicles are below")
    return [Table("Vehicles as built, within the tolerances of the study", heads, tuple(rows), 2)] if rows else []


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and np.isfinite(value) else None
