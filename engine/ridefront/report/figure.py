"""What a picture shows: arrays, labels, units and source in one place, drawn by whoever draws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ridefront.vehicle.laws import Array

Kind = Literal["points", "line", "steps", "bars", "level"]
"""Marks at points; a line through them; a line of steps; bars; a horizontal line at each of y over the whole panel."""

Role = Literal["front", "present", "pick", "other", "limit", "road", "weighting"]
"""What a series stands for, which decides its colour, marker and dashes, the same in every picture. ``other`` is a
second, third ... result or condition, told apart by its place among the panel's others."""


@dataclass(frozen=True)
class Axis:
    """An axis.

    Attributes:
        label: in the trade's words, without the unit; unit: as people write it, empty for plain numbers.
        log: whether it is logarithmic.
        names: of categories at 0, 1, 2 ..., where it has no numbers of its own.
        from_zero: whether it is to start at zero.
    """

    label: str
    unit: str = ""
    log: bool = False
    names: tuple[str, ...] = ()
    from_zero: bool = False


@dataclass(frozen=True)
class Series:
    """Points, a line, bars or levels.

    Attributes:
        name: in the legend; of several panels' series with one name the legend shows one.
        kind, role: how and as what it is drawn.
        x, y: (n,); NaN breaks a line; x of levels is not looked at.
        designs: the number of the design behind each point, (n,), or None. A line of one design has it n times, or
            once. What is selected by design elsewhere is selected here.
        colour: figures shown as colour, (n,), or None; colour_label: what they are, with their unit.
        hover: a text for each point, or () for x and y alone; lines apart by newline.
        dashed: a second kind of the same thing, such as a rear axle beside a front one.
        error: half the height of an error bar at each point, (n,), or None.
        labels: a short text beside each point, such as a pick's letter, or () for none.
        result: whose designs they are, where a page has several results: its place among them.
        faint: whether points let show what lies below them.
    """

    name: str
    kind: Kind
    role: Role
    x: Array
    y: Array
    designs: NDArray[np.int64] | None = None
    colour: Array | None = None
    colour_label: str = ""
    hover: tuple[str, ...] = ()
    dashed: bool = False
    error: Array | None = None
    labels: tuple[str, ...] = ()
    result: int = 0
    faint: bool = False


@dataclass(frozen=True)
class Panel:
    """Axes with series.

    Attributes:
        title: in a few words; empty where the figure says it.
        x, y: axes.
        series: drawn in this order.
    """

    title: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]


@dataclass(frozen=True)
class Figure:
    """A picture: panels side by side, or in rows.

    Attributes:
        name: for file names: letters, digits and hyphens.
        title: in words, a question of the trade or its answer.
        panels: at least one, row by row.
        source: what the figures come from: file, domain, roads, realisations.
        columns: panels in a row; as many as there are where that is less.
        shared_x: whether panels of a column share their x axis.
    """

    name: str
    title: str
    panels: tuple[Panel, ...]
    source: str
    columns: int = 2
    shared_x: bool = False
