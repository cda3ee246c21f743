"""After a run: a few spread compromises beside the present setup, and what holds each of them."""

from __future__ import annotations

import string
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.report.words import Table, measure, measured_in, number, quantity, unit
from ridefront.search import spread
from ridefront.study.model import Study, Variable
from ridefront.vehicle.laws import Array

SHOWN = 6
"""Setups in the table."""

_AT_LIMIT = 0.005  # of the range: closer than this, a variable sits on its limit
_HELD = 0.01  # of a constraint's scale: closer than this, the constraint holds the setup


@dataclass(frozen=True)
class Setups:
    """Setups and their figures.

    Attributes:
        design: row numbers, (n,).
        X: (n, d), in the variables' units.
        values: (n, k), of the study's measures in their units.
    """

    design: NDArray[np.int64]
    X: Array
    values: Array

    def __len__(self) -> int:
        return len(self.design)


def objectives(study: Study, values: Array) -> Array:
    """Objectives to be minimised, (n, m), from the measures' figures (n, k)."""
    labels = [item.label for item in study.measures]
    columns = [item.sign * values[:, labels.index(item.measure.label)] for item in study.objectives]
    return np.stack(columns, axis=1)


def picks(study: Study, front: Setups, count: int = SHOWN) -> tuple[NDArray[np.int64], tuple[str, ...]]:
    """A few spread setups of a front and why each was picked.

    Returns:
        Rows of `front`, and for each a reason in words.
    """
    F = objectives(study, front.values)
    rows = spread(F, count)
    reasons = []
    for row in rows:
        best = [
            measure(item.measure.label)
            for j, item in enumerate(study.objectives)
            if F[row, j] == F[:, j].min() and (F[:, j].max() > F[:, j].min() or len(study.objectives) == 1)
        ]
        reasons.append("best " + " and ".join(best) if best else "between")
    return np.asarray(rows, dtype=np.int64), tuple(reasons)


def compromises(
    study: Study, front: Setups, present: Setups | None, held_by: Sequence[str | None] | None = None
) -> Table:
    """The table after a run: a row a quantity, a column a setup, the present one first.

    Args:
        study: the study.
        front: n setups; present: one, or None.
        held_by: what holds each of the n, in words, empty for nothing; of those with None, and without it of all, what
            lies at a limit is named.
    """
    rows, reasons = picks(study, front)
    letters = string.ascii_uppercase[: len(rows)]
    heads = ["", "unit"] + (["present"] if present is not None else []) + list(letters)

    def line(label: str, shown: str, now: float | None, figures: Array) -> tuple[str, ...]:
        middle = (number(now),) if present is not None else ()
        return (label, shown, *middle, *(number(float(figure)) for figure in figures))

    lines = [("design", "", *((str(present.design[0]),) if present else ()), *(str(front.design[r]) for r in rows))]
    for k, item in enumerate(study.variables):
        # What is ordered and fitted stands in full: the present value and catalogue values as the study has them.
        middle = (f"{float(present.X[0, k]):.6g}",) if present is not None else ()
        cells = (f"{float(x):.6g}" if item.levels else number(float(x), 4) for x in front.X[rows, k])
        lines.append((quantity(item.path), unit(item.unit), *middle, *cells))
    for k, wanted in enumerate(study.measures):
        now = float(present.values[0, k]) if present else None
        lines.append(line(measure(wanted.label), measured_in(wanted), now, front.values[rows, k]))
    notes = [
        f"{letter} ({reason}): {_held(study, front, int(row), held_by) or 'held by no limit'}"
        for letter, reason, row in zip(letters, reasons, rows, strict=True)
    ]
    title = (
        f"{len(front):,} setups on the front; {len(rows)} of them, spread"
        if len(front) > 1
        else "One setup on the front"
    )
    return Table(
        title,
        tuple(heads),
        tuple(lines),
        text_columns=2,
        notes=(*notes, *_past_the_end(study, front, present), *_against(study, front, present)),
    )


def _held(study: Study, front: Setups, row: int, held_by: Sequence[str | None] | None) -> str:
    """What holds one setup; empty for nothing."""
    words = None if held_by is None else held_by[row]
    return "; ".join(what_holds(study, front.X[row], front.values[row])) if words is None else words


def _past_the_end(study: Study, front: Setups, present: Setups | None) -> tuple[str, ...]:
    """What a negative reserve means, where some setup has one."""
    labels = [k for k, item in enumerate(study.measures) if item.criterion in ("bump_reserve", "rebound_reserve")]
    shown = [front.values, *([present.values] if present is not None else [])]
    if any(bool(np.any(values[:, k] < 0)) for values in shown for k in labels):
        return ("a negative reserve: on some road the wheel would go past the end of its travel, into metal",)
    return ()


def what_holds(study: Study, x: Array, values: Array) -> list[str]:
    """What keeps one setup from being better: variables on a limit of their range, constraints at their limit.

    Args:
        study: the study.
        x: (d,), in the variables' units; values: (k,), in the measures' units.
    """
    lines = []
    for k, item in enumerate(study.variables):
        at = _limit(study, x, k, item)
        if at:
            lines.append(f"{quantity(item.path)} at its {at} limit")
    labels = [item.label for item in study.measures]
    for constraint in study.constraints:
        figure = float(values[labels.index(constraint.measure.label)])
        room = figure - constraint.limit if constraint.kind == "at_least" else constraint.limit - figure
        if room <= _HELD * constraint.scale:
            side = "least" if constraint.kind == "at_least" else "most"
            shown = f"{number(constraint.limit)} {measured_in(constraint.measure)}".rstrip()
            lines.append(f"{measure(constraint.measure.label)} at {side} {shown}")
    return lines


def _limit(study: Study, x: Array, k: int, item: Variable) -> str:
    """Whether a variable sits at the lower or upper limit of its range; empty if at neither. Ends of choices count."""
    low, high, value = item.low, item.high, float(x[k])
    if item.times is not None:
        base = next(j for j, other in enumerate(study.variables) if other.path == item.times)
        value = value / float(x[base])
    elif item.levels:
        low, high = item.levels[0], item.levels[-1]
    if item.scale == "log":
        low, high, value = float(np.log(low)), float(np.log(high)), float(np.log(value))
    share = (value - low) / (high - low) if high > low else 0.5
    if share <= _AT_LIMIT:
        return "lower"
    return "upper" if share >= 1 - _AT_LIMIT else ""


def _against(study: Study, front: Setups, present: Setups | None) -> tuple[str, ...]:
    """How the front compares with the present setup."""
    if present is None:
        return ()
    now, F = objectives(study, present.values)[0], objectives(study, front.values)
    if not np.all(np.isfinite(now)):
        return ("the present setup has no figures; its status in evaluations says why",)
    better = int(np.sum(np.all(now > F, axis=1)))
    if better:
        are = "is" if better == 1 else "are"
        return (f"{better:,} of {len(front):,} setups {are} better than the present one in every objective",)
    if np.any(np.all(now >= F, axis=1)):
        return ("some setups equal the present one, and none is better in every objective",)
    return ("no setup on the front is better than the present one in every objective",)
