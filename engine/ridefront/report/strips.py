"""Strip charts of histories over distance: what wheels and body do on a road, setup against setup.

A row a quantity, a column an axle (of a full car a wheel), condition beside condition; distances align, so that speeds
and loads compare.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from math import hypot
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.evaluate import STATUS
from ridefront.evaluate.tracing import Trace
from ridefront.report import panels
from ridefront.report.doubts import CAUTION
from ridefront.report.panels import Part, Style
from ridefront.report.pictures import plain
from ridefront.report.roads import driven_length, wheelbase_of
from ridefront.results.traces import PRESENT
from ridefront.road import Obstacle
from ridefront.road.obstacle import span
from ridefront.study.model import Condition, Study

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

MOST_SETUPS, MOST_CONDITIONS = 6, 3
"""Of one picture."""

WINDOW = 60.0
"""m of the road that are drawn where it is longer and nothing else is asked for."""

_LABELS = (
    "height [mm]\nbody (thick), wheel, road",
    "travel [mm]\nbump positive",
    "damper speed [m/s]\nbump positive",
    "contact force [kN]\nbars: off the ground",
    "acceleration [m/s²]\nthin: weighted by Wk",
)
_SECOND_AFTER = 1.0  # s behind an obstacle that are drawn


def check_drawable(setups: int, conditions: int) -> None:
    """Refuse what does not fit a picture.

    Raises:
        CallError: too many setups or conditions.
    """
    hint = "--output FILE.parquet takes any number"
    if setups > MOST_SETUPS:
        raise CallError(f"{setups:,} setups in a picture; allowed: {MOST_SETUPS} at most", hint)
    if conditions > MOST_CONDITIONS:
        raise CallError(f"{conditions} conditions in a picture; allowed: {MOST_CONDITIONS} at most", hint)


def windows(
    study: Study, conditions: Sequence[int], traces: Sequence[Trace], start: float | None, end: float | None
) -> tuple[tuple[float, float], ...]:
    """Which part of each condition's road is drawn, m; the same for conditions on the same road.

    Unless asked for, an obstacle is drawn to a second after the last wheel has left it, and of what is longer than
    `WINDOW` that much about the first setup's largest travel from where it rests.

    Args:
        study: the study.
        conditions: indices; traces: of each.
        start, end: as asked for, m; None for not.

    Raises:
        CallError: nothing is driven there.
    """
    asked = [study.conditions[c] for c in conditions]
    if start is not None or end is not None:
        one = _asked_for(study, asked, start, end)
        return tuple(one for _ in conditions)
    found: dict[int, tuple[float, float]] = {}
    for item, trace in zip(asked, traces, strict=True):
        if item.road not in found:
            whole = max(_worth_drawing(study, other) for other in asked if other.road == item.road)
            found[item.road] = (0.0, whole) if whole <= WINDOW else _about_the_largest(trace, whole)
    return tuple(found[item.road] for item in asked)


def _asked_for(
    study: Study, conditions: Sequence[Condition], start: float | None, end: float | None
) -> tuple[float, float]:
    lengths = [driven_length(study, study.roads[item.road], item.speed) for item in conditions]
    low = start if start is not None else max(0.0, (end or 0.0) - WINDOW)
    high = end if end is not None else min(low + WINDOW, max(lengths))
    for item, length in zip(conditions, lengths, strict=True):
        if not (0 <= low < high and low < length and high <= max(lengths)):
            raise CallError(
                f'--from {low:g} --to {high:g}: "{item.name}" is driven from 0 to {length:.6g} m',
                "metres along the road, --from before --to",
            )
    return low, high


def _worth_drawing(study: Study, condition: Condition) -> float:
    """How far a road is worth drawing, m."""
    road = study.roads[condition.road]
    length = driven_length(study, road, condition.speed)
    if not isinstance(road, Obstacle):
        return length
    left = span(road)[1] + 0.5 * study.fixed["contact_patch"] + (wheelbase_of(study) or 0.0)
    return min(left + _SECOND_AFTER * condition.speed, length)


def _about_the_largest(trace: Trace, whole: float) -> tuple[float, float]:
    """`WINDOW` about the largest travel, within what is worth drawing."""
    centre = 0.0
    good = np.flatnonzero(trace.ok)
    if len(good):
        k, within = int(good[0]), trace.distance <= whole
        moved = np.abs(trace.travel[k] - trace.static_travel[k][:, np.newaxis])[:, within]
        centre = float(trace.distance[int(np.argmax(np.max(moved, axis=0)))])
    start = min(max(0.0, centre - 0.5 * WINDOW), whole - WINDOW)
    return start, start + WINDOW


def strips(
    study: Study, labels: Sequence[str], traces: Sequence[Trace], drawn: Sequence[tuple[float, float]], note: str = ""
) -> Figure:
    """The picture.

    Args:
        study: the study.
        labels: of the setups, in the order of the traces' designs; at most `MOST_SETUPS`.
        traces: of each condition; at most `MOST_CONDITIONS`.
        drawn: from where to where of each, m; see `windows`.
        note: a line below.
    """
    from matplotlib.figure import Figure

    styles = panels.styles(labels, present=labels[0] == PRESENT)
    columns, shown = len(traces[0].corners), _last_panels(study, traces[0])
    parts = [Part(trace, window, c) for trace, window in zip(traces, drawn, strict=True) for c in range(columns)]
    width = {1: 7.5, 2: 12.5}.get(len(parts), (3.8 if len(parts) <= 6 else 3.2) * len(parts))
    figure = Figure(figsize=(width, 11.5), layout="constrained", dpi=110)
    grid = figure.subplots(len(_LABELS), len(parts), squeeze=False, sharex="col")
    _share_scales(grid, 1 if all(isinstance(panel, int) for panel in shown) else columns)
    for j, part in enumerate(parts):
        _column(grid[:, j], part, styles, shown[part.c])
        grid[0, j].set_title(_heading(part, many=len(traces) > 1), fontsize=9.5)
        grid[-2 if shown[part.c] is None else -1, j].set_xlabel(
            "front axle at [m]" if columns > 1 else "distance [m]", fontsize=9
        )
    panels.make_room(grid[3, 0], len(styles))
    for axes, label in zip(grid[:, 0], _LABELS, strict=True):
        axes.set_ylabel(label, fontsize=8.5)
    only = "" if len(traces) > 1 else f": {traces[0].condition}"
    figure.legend(
        handles=_key(styles, traces), loc="outside upper center", ncols=3, frameon=False, fontsize=9,
        title=plain(study.title + only, 140), title_fontsize=11,
    )  # fmt: skip
    below = textwrap.wrap("; ".join(line for line in (note, CAUTION) if line), int(17 * width))
    figure.supxlabel("\n".join(plain(line, 400) for line in below), fontsize=7, color=panels.GREY)
    return figure


def _column(column: NDArray[np.object_], part: Part, styles: Sequence[Style], last: int | str | None) -> None:
    """The panels of one corner in one condition; see `_last_panels` about the last one."""
    for axes in column:
        axes.set_xlim(*part.window)
        axes.grid(visible=True, alpha=0.25)
        axes.tick_params(labelsize=8)
    panels.heights(column[0], part, styles)
    panels.travel(column[1], part, styles)
    panels.damper_speed(column[2], part, styles)
    panels.contact_force(column[3], part, styles)
    if last is None:
        column[4].set_visible(False)
        column[3].tick_params(labelbottom=True)
    elif isinstance(last, int):
        panels.acceleration(column[4], part, styles, last)
    else:
        panels.angle(column[4], part, styles, last)


def _share_scales(grid: NDArray[np.object_], period: int) -> None:
    """One scale in each row; in the last one, of every `period`-th panel."""
    for i, row in enumerate(grid):
        every = period if i == len(grid) - 1 else 1
        for j in range(every, len(row)):
            row[j].sharey(row[j % every])
            row[j].tick_params(labelleft=False)


def _heading(part: Part, *, many: bool) -> str:
    """Over a column: its axle or corner, and its condition where there are several."""
    corners = part.trace.corners
    name = corners[part.c].replace("_", " ") + {1: " corner", 2: " axle"}.get(len(corners), "")
    return f"{plain(part.trace.condition, 50)}\n{name}" if many else name


def _last_panels(study: Study, trace: Trace) -> tuple[int | str | None, ...]:
    """What the last panel of each corner's column shows: a place whose acceleration it is, ``pitch`` or ``roll``.

    Of two axles: the seats nearest the front and the rear; pitch where there are not two of them. Of four corners: the
    seat nearest the front and the one farthest from it, pitch and roll; the body's centre of mass where there are not
    two seats, and nothing for the second of them where there are none.
    """
    if len(trace.corners) == 1:
        return (0,)
    places = [seat.behind_front_axle for seat in study.seats]
    front = places.index(min(places)) if places else 0
    if len(trace.corners) == 2:
        return (front, places.index(max(places)) if len(places) > 1 else "pitch")
    sides = [seat.left_of_centre for seat in study.seats]
    apart = [hypot(x - places[front], y - sides[front]) for x, y in zip(places, sides, strict=True)]
    second = apart.index(max(apart)) if len(apart) > 1 else len(apart) or None
    return (front, second, "pitch", "roll")


def _key(styles: Sequence[Style], traces: Sequence[Trace]) -> list[Line2D]:
    """Lines of the legend: every setup, and what became of it where it has no histories."""
    from matplotlib.lines import Line2D

    lines = []
    for k, style in enumerate(styles):
        failed = dict.fromkeys(STATUS[trace.status[k]].replace("-", " ") for trace in traces if not trace.ok[k])
        label = style.label + (f" ({', '.join(failed)})" if failed else "")
        lines.append(Line2D([], [], color=style.colour, ls=style.dashes, lw=1.8, label=label))
    return lines
