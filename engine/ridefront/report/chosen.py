"""Choices as tables: the setups beside the present one, their catalogue parts, and what to say where there is none."""

from __future__ import annotations

import math
import string
from collections.abc import Sequence

from ridefront.report.choices import Choice, Choices, in_per_cent
from ridefront.report.compromises import what_holds
from ridefront.report.optimality import rate
from ridefront.report.rounding import Rounded
from ridefront.report.words import Table, measure, measured_in, number, quantity, unit
from ridefront.study.model import Measure, Variable

_SURE = {
    "nondominated": "probability of being on the front",
    "residual": "optimality residual",
    "held_by": "held by",
}
"""Columns of a front that say how sure a setup is, and what they are called."""


def letters(count: int) -> tuple[str, ...]:
    """Names of picks in tables: A, B ... Z, then AA."""
    single = string.ascii_uppercase
    return tuple(single[k] if k < len(single) else single[k // 26 - 1] + single[k % 26] for k in range(count))


def chosen(choices: Choices) -> Table:
    """The setups: a row a quantity, a column a setup, changes against the present one in brackets."""
    study, front, now = choices.result.study, choices.front, choices.present
    rows = [choice.row for choice in choices.found]
    names = letters(len(rows))
    present = ("present",) if now is not None else ()
    lines = [_line("design", "", (str(now.design[0]),) if now else (), [str(c.design) for c in choices.found])]
    for j, variable in enumerate(study.variables):
        before = float(now.X[0, j]) if now is not None else None
        cells = [_changed(float(front.X[row, j]), before, _value(variable, float(front.X[row, j]))) for row in rows]
        lines.append(
            _line(quantity(variable.path), unit(variable.unit), () if before is None else (f"{before:.6g}",), cells)
        )
    for k, item in enumerate(study.measures):
        was = float(now.values[0, k]) if now is not None else None
        cells = [_compared(item, float(front.values[row, k]), was) for row in rows]
        lines.append(_line(measure(item.label), measured_in(item), () if was is None else (number(was),), cells))
    lines += _how_sure(choices, bool(present))
    notes = [
        f"{name} (design {choice.design}): {'; '.join(choice.reasons)}; {_held(choices, choice)}"
        for name, choice in zip(names, choices.found, strict=True)
    ]
    return Table(_title(choices), ("", "unit", *present, *names), tuple(lines), 2, notes=(*notes, *unbettered(choices)))


def _title(choices: Choices) -> str:
    kept = int(choices.shape.kept.sum()) if choices.shape is not None else 0
    of = f"{kept:,} setups on the front" if kept != 1 else "one setup on the front"
    return of if choices.suitable == kept else f"{of}, {choices.suitable:,} of them as asked"


def _line(label: str, shown: str, before: tuple[str, ...], cells: Sequence[str]) -> tuple[str, ...]:
    return (label, shown, *before, *cells)


def _value(variable: Variable, value: float) -> str:
    return f"{value:.6g}" if variable.levels else number(value, 4)


def _changed(value: float, before: float | None, shown: str) -> str:
    """A figure, and in brackets how far it is from that of the present setup."""
    if before is None or before <= 0:
        return shown
    change = 100 * (value - before) / before
    return f"{shown} ({change:+.0f} %)" if abs(change) >= 0.5 else f"{shown} (=)"


def _compared(item: Measure, value: float, before: float | None) -> str:
    if before is None:
        return number(value)
    if in_per_cent(item) and before > 0:
        change = 100 * (value - before) / before
        return f"{number(value)} ({change:+.1f} %)" if abs(change) >= 0.05 else f"{number(value)} (=)"
    off = value - before
    return f"{number(value)} ({'+' if off > 0 else '-' if off < 0 else ''}{number(abs(off), 2)})"


def _how_sure(choices: Choices, present: bool) -> list[tuple[str, ...]]:
    lines = []
    for name, label in _SURE.items():
        if name not in choices.result.front.columns or name == "held_by":
            continue
        column = choices.result.front[name]
        shown = rate if name == "residual" else number
        cells = [shown(_number(column.iloc[choice.row])) for choice in choices.found]
        if any(cell != number(None) for cell in cells):
            lines.append(_line(label, "", ("",) if present else (), cells))
    return lines


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else None


def _held(choices: Choices, choice: Choice) -> str:
    """What holds a setup: as the run worked it out, else by its limits."""
    if "held_by" in choices.result.front.columns:
        said = choices.result.front["held_by"].iloc[choice.row]
        if isinstance(said, str) and said:
            free = all(one.startswith("(") for one in said.split("; "))
            return f"held by no limit {said}" if free else f"held by {said}"
    held = what_holds(choices.result.study, choices.front.X[choice.row], choices.front.values[choice.row])
    return "; ".join(held) if held else "held by no limit"


def unbettered(choices: Choices) -> tuple[str, ...]:
    """Why no setup betters the present one, where none does."""
    names = [measure(item.measure.label) for item in choices.result.study.objectives]
    setup = "setup that meets the requirements" if choices.requirements else "setup"
    return tuple(
        f"no {setup} is better than the present one in {' and '.join(names[j] for j in group)}"
        + (" together" if len(group) > 1 else "")
        for group in choices.unheld
    )


def unmet(choices: Choices) -> tuple[str, ...]:
    """Where no setup meets the requirements: which comes nearest, what it misses, and which one, dropped, opens the
    front.
    """
    missed = choices.missed
    assert missed is not None, "some requirement keeps all setups out"
    row = choices.result.front.iloc[missed.row]
    lines = [f"design {int(row['design'])} comes nearest"]
    for item, miss, without in zip(choices.requirements, missed.misses, missed.without, strict=True):
        shown = "" if item.unit in ("1", "none") else f" {unit(item.unit)}"
        figure = number(float(row[item.column]), 4)
        does = "met" if miss == 0 else f"missed by {number(miss, 3)}{shown}" if math.isfinite(miss) else "no figure"
        open_to = f"{without:,} setups meet all others" if without else "no setup meets the others"
        if len(choices.requirements) == 1:
            lines.append(f"{item.words}: {figure}{shown}, {does}")
        else:
            lines.append(f"{item.words}: {figure}{shown}, {does}; without it {open_to}")
    return tuple(lines)


def in_parts(choices: Choices, found: Sequence[Rounded]) -> Table:
    """Chosen setups in catalogue parts: values that rounding changes, figures, and in brackets what it costs."""
    study, front = choices.result.study, choices.front
    names = letters(len(found))
    rows = [choice.row for choice in choices.found]
    lines = []
    for j, variable in enumerate(study.variables):
        if variable.path not in study.catalogue and not variable.levels:
            continue
        cells = [_rounded_cell(float(front.X[row, j]), float(part.x[j])) for row, part in zip(rows, found, strict=True)]
        lines.append((quantity(variable.path), unit(variable.unit), *cells))
    labels = [item.label for item in study.measures]
    for objective in study.objectives:
        k = labels.index(objective.measure.label)
        cells = [
            _compared(objective.measure, float(part.values[k]), float(front.values[row, k]))
            for row, part in zip(rows, found, strict=True)
        ]
        lines.append((measure(objective.measure.label), measured_in(objective.measure), *cells))
    lines.append(("limits", "", *("kept" if part.holds else "broken" for part in found)))
    notes = [
        f"{name}: {_combinations(part)}" + (f": {'; '.join(part.broken)}" if part.broken else "")
        for name, part in zip(names, found, strict=True)
    ]
    more = dict.fromkeys(note for part in found for note in part.notes)
    return Table(
        "In catalogue parts, worked out anew; in brackets what rounding changes",
        ("", "unit", *names),
        tuple(lines),
        2,
        notes=(*notes, *more),
    )


def _rounded_cell(before: float, after: float) -> str:
    return f"{after:.6g}" if before == after else f"{after:.6g} (from {number(before, 4)})"


def _combinations(part: Rounded) -> str:
    if part.tried == 1:
        return "one combination of parts" + ("" if part.holds else ", which breaks limits")
    if part.good:
        return f"the best of {part.good:,} combinations of parts that keep all limits, {part.tried:,} tried"
    return f"none of {part.tried:,} combinations of parts keeps all limits; the one that breaks them least"
