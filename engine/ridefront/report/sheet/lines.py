"""What a sheet is made of: blocks of tables and sentences, and cells that hold a figure beside the present one."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ridefront.criteria import CRITERIA
from ridefront.criteria.ride import Place
from ridefront.report.choices import in_per_cent
from ridefront.report.sheet.setup import Rest, Setup
from ridefront.report.words import Table, measure, measured_in, number
from ridefront.study.model import Array, Measure, Study

NOT_GIVEN = "not in the study"
"""Stands where a study gives nothing to work a line out from."""

_TYPICAL = 1e-3  # of a criterion's typical size: a change below it is none

SAME = "="
"""A change that rounds to nothing."""


@dataclass(frozen=True)
class Block:
    """A part of a sheet.

    Attributes:
        title: in a few words.
        tables: in their order; a table's notes follow it.
        notes: sentences below.
        facts: what stands above, each a word and what it is.
    """

    title: str
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()


Cell = float | str | None
"""A figure, words in its place, or None where the study does not give it."""


@dataclass(frozen=True)
class Line:
    """A line of figures, one a place.

    Attributes:
        label, unit: as printed.
        figure: of a setup at rest at a place, in that unit.
        change: how it is held against the present setup: in per cent, as a difference, or not at all.
        digits: significant ones; lengths in mm are shown to a tenth whatever they are.
    """

    label: str
    unit: str
    figure: Callable[[Rest, Place], Cell]
    change: str = "%"
    digits: int = 3


def table_of(setup: Setup, title: str, lines: Sequence[Line], notes: Sequence[str] = ()) -> tuple[Table, ...]:
    """Lines as tables of two places each, this setup, the present one and the change beside each other."""
    places = setup.places(setup.study.reference)
    found = []
    for start in range(0, len(places), 2):
        here = places[start : start + 2]
        last = start + 2 >= len(places)
        heads = ["", "unit"]
        for place in here:
            name = place.name.replace("_", " ")
            heads += [name] if setup.rest_now is None else [name, "present", "change"]
        rows = tuple(_row(setup, line, here) for line in lines)
        found.append(Table(title if start == 0 else "", tuple(heads), rows, 2, notes=tuple(notes) if last else ()))
    return tuple(found)


def _row(setup: Setup, line: Line, places: Sequence[Place]) -> tuple[str, ...]:
    cells: list[str] = []
    for place in places:
        after = line.figure(setup.rest, place)
        cells.append(_shown(line, after))
        if setup.rest_now is not None:
            before = line.figure(setup.rest_now, place)
            cells += [_shown(line, before) if line.change else "", _change(line, before, after)]
    return (line.label, line.unit, *cells)


def _shown(line: Line, cell: Cell) -> str:
    if cell is None:
        return NOT_GIVEN
    if isinstance(cell, str):
        return cell
    return tenths(cell) if line.unit == "mm" else number(cell, line.digits)


def _change(line: Line, before: Cell, after: Cell) -> str:
    if not isinstance(before, float) or not isinstance(after, float) or not line.change:
        return ""
    if line.change == "%":
        return per_cent(before, after)
    return signed_tenths(after - before) if line.unit == "mm" else difference(before, after)


def tenths(millimetres: float) -> str:
    """A length to a tenth of a millimetre, as a workshop measures it; a dash for none."""
    return f"{millimetres:.1f}".replace("-0.0", "0.0") if math.isfinite(millimetres) else "–"


def signed_tenths(millimetres: float) -> str:
    """A change of length to a tenth of a millimetre, with its sign."""
    if not math.isfinite(millimetres):
        return "–"
    return SAME if abs(millimetres) < 0.05 else f"{millimetres:+.1f}"


def per_cent(before: float, after: float) -> str:
    """How far a figure is from an earlier one, "+4.5 %"; a dash where that says nothing."""
    if not (math.isfinite(before) and math.isfinite(after)) or before <= 0:
        return SAME if before == after else "–"
    change = 100 * (after - before) / before
    return f"{change:+.1f} %" if abs(change) >= 0.05 else SAME


def difference(before: float, after: float, unit: str = "") -> str:
    """By how much a figure is more than an earlier one, with its sign."""
    off = after - before
    if not math.isfinite(off):
        return "–"
    if off == 0 or abs(off) < 1e-6 * max(abs(before), abs(after)):
        return SAME
    return f"{'+' if off > 0 else '-'}{number(abs(off), 2)} {unit}".rstrip()


def compared(item: Measure, before: float, after: float) -> str:
    """How a measure's figure is from an earlier one: in per cent, of reserves in their unit."""
    if in_per_cent(item) and before > 0:
        return per_cent(before, after)
    if abs(after - before) < _TYPICAL * CRITERIA[item.criterion].typical / item.factor:
        return SAME
    return difference(before, after, measured_in(item))


def changes(study: Study, before: Array, after: Array) -> tuple[str, ...]:
    """What becomes of each objective between figures (k,) of the measures."""
    labels = [item.label for item in study.measures]
    found = []
    for objective in study.objectives:
        k = labels.index(objective.measure.label)
        found.append(compared(objective.measure, float(before[k]), float(after[k])))
    return tuple(found)


def objective_heads(study: Study) -> tuple[str, ...]:
    """The objectives as heads of a table."""
    return tuple(measure(item.measure.label) for item in study.objectives)


def name_of(load: str) -> str:
    """A load as people call it."""
    return load or "as given"
