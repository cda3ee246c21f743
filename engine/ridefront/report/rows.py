"""Panels with a row for each name and a lane for each setup in it: dots, bars from zero, spans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.report.figure import Axis, Role, Series
from ridefront.vehicle.laws import Array

_ROW = 0.7
"""Of the distance between rows, that lanes share."""


@dataclass(frozen=True)
class Lane:
    """What has a mark in every row.

    Attributes:
        name, role: as of a series.
        figures: one a row, (r,), NaN for none.
        design: its number; None for what is no design.
        hover: a text a row, or ().
    """

    name: str
    role: Role
    figures: Array
    design: int | None = None
    hover: tuple[str, ...] = ()


def names_axis(names: Sequence[str]) -> Axis:
    """The axis of rows, the first one on top."""
    return Axis("", names=tuple(reversed(names)))


def heights(rows: int, lane: int, lanes: int) -> Array:
    """Where a lane lies in each row, (rows,), the first row and the first lane on top."""
    within = 0.5 - (lane + 0.5) / lanes
    return np.arange(rows - 1, -1, -1, dtype=np.float64) + _ROW * within


def dots(lanes: Sequence[Lane], *, from_zero: bool = False) -> tuple[Series, ...]:
    """A dot a row and lane, where there is a figure; with `from_zero` a line from zero to it."""
    found: list[Series] = []
    for k, lane in enumerate(lanes):
        y = heights(len(lane.figures), k, len(lanes))
        known = np.isfinite(lane.figures)
        x, y = lane.figures[known], y[known]
        designs = None if lane.design is None else np.full(len(x), lane.design, dtype=np.int64)
        hover = tuple(text for text, shown in zip(lane.hover, known, strict=False) if shown)
        found.append(Series(lane.name, "points", lane.role, x, y, designs, hover=hover))
        if from_zero:
            found.append(spans(lane.name, lane.role, np.zeros_like(x), x, y, lane.design))
    return tuple(found)


def spans(name: str, role: Role, low: Array, high: Array, y: Array, design: int | None = None) -> Series:
    """Horizontal lines from `low` to `high` at heights `y`, (n,) each, where both ends are known."""
    nothing = np.full(len(y), np.nan)
    x = np.stack([low, high, nothing], axis=1)
    x[~np.isfinite(low + high)] = np.nan
    designs = None if design is None else np.full(x.size, design, dtype=np.int64)
    return Series(name, "line", role, x.ravel(), np.stack([y, y, nothing], axis=1).ravel(), designs)


def ranges(name: str, role: Role, figures: Array) -> Series:
    """Horizontal lines over the figures (n, r) of n setups in each of r rows, in the middle of the row."""
    known = np.isfinite(figures)
    low = np.where(known.any(axis=0), np.where(known, figures, np.inf).min(axis=0), np.nan)
    high = np.where(known.any(axis=0), np.where(known, figures, -np.inf).max(axis=0), np.nan)
    return spans(name, role, low, high, heights(figures.shape[1], 0, 1))


def zero(rows: int) -> Series:
    """A line at zero over all rows."""
    return Series("no change", "line", "limit", np.zeros(2), np.array([-0.5, rows - 0.5]))
