"""The card "What happens over an obstacle?": travel, contact force and acceleration along the road."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ridefront.evaluate import STATUS
from ridefront.evaluate.tracing import Trace, trace
from ridefront.report.card import Card, DoesNotApply, asks
from ridefront.report.figure import Axis, Figure, Panel, Role, Series
from ridefront.report.looked_at import LookedAt, Setup
from ridefront.report.ridden import (
    domain_of,
    drawn,
    failed,
    figures_of,
    left_out,
    number_of,
    stacked,
    where_from,
)
from ridefront.report.standing import by_this_program
from ridefront.report.strips import windows
from ridefront.report.traced import trace_notes
from ridefront.report.words import Table, number
from ridefront.road import Obstacle
from ridefront.vehicle.laws import Array

if TYPE_CHECKING:
    from ridefront.report.subject import Subject

BINS = 200
"""Stretches of a panel; of each its smallest and its largest value are drawn."""

_QUESTION = "What happens over an obstacle?"
_SECONDS = 3.0  # of a random road that are drawn


@dataclass(frozen=True)
class _Drawn:
    """What is drawn of a trace.

    Attributes:
        found: histories of the setups; setups: what they are of.
        window: from where to where, m.
        corners: index of the corner of each axle that is drawn.
        point: index of the place whose acceleration is drawn.
    """

    found: Trace
    setups: tuple[Setup, ...]
    window: tuple[float, float]
    corners: tuple[int, ...]
    point: int

    @property
    def within(self) -> slice:
        """Samples of the window."""
        first, last = np.searchsorted(self.found.distance, self.window)
        return slice(int(first), int(last) + 1)


@asks(_QUESTION)
def over_an_obstacle(subject: Subject) -> Card:
    """The card.

    Raises:
        DoesNotApply: no setup has histories.
    """
    looked, study = subject.looked_at, subject.study
    c, on_obstacle = _hardest(subject, looked)
    condition = study.conditions[c]
    setups = drawn(looked)
    found = trace(subject.evaluator, stacked(setups), c)
    reasons = ", ".join(dict.fromkeys(STATUS[code].replace("-", " ") for code in found.status if code))
    if not found.ok.any():
        raise DoesNotApply(f"no setup has histories in “{condition.name}”: {reasons}")
    if on_obstacle:
        window = windows(study, (c,), (found,), None, None)[0]
    else:
        window = _about_the_largest(found, condition.speed)
    of = _Drawn(found, setups, window, _corners(found), _point(found))
    figure = Figure(
        "histories",
        condition.name if on_obstacle else f"{condition.name}, {window[0]:.0f} to {window[1]:.0f} m",
        _panels(of),
        where_from(subject, c, domain_of(subject), driven=True),
        columns=len(of.corners),
        shared_x=True,
    )
    lead = (
        "Of the study's obstacles this one moves the wheels furthest."
        if on_obstacle
        else "The study has no obstacles: this is the road that moves the wheels furthest, by random bumps."
    )
    axis = "the road under the front axle" if len(found.corners) > 1 else "the road"
    return Card(
        "over-an-obstacle",
        _QUESTION if on_obstacle else "What happens on the roughest road?",
        f"{lead} Along {axis}: travel between its stops, the force that holds each wheel on the road, and what people "
        f"feel of it.{by_this_program(subject, 'these histories are')}",
        (figure,),
        (_largest(of),),
        (
            *_which(of),
            *(() if on_obstacle else (f"drawn: {_SECONDS:g} s about the largest travel of {_first(of).name}",)),
            f"drawn: the smallest and the largest value of each of {BINS} stretches; figures are of every sample",
            *trace_notes(subject.evaluator, found, c),
            *left_out(looked),
            *failed(looked, found.ok.tolist(), f"{condition.name}, {reasons}"),
        ),
    )


def _hardest(subject: Subject, looked: LookedAt) -> tuple[int, bool]:
    """The condition in which the first setup's wheels travel furthest, among obstacles where there are any, and whether
    it is one.
    """
    study = subject.study
    on = [c for c, item in enumerate(study.conditions) if isinstance(study.roads[item.road], Obstacle)]
    among = on or list(range(len(study.conditions)))
    largest = []
    for c in among:
        _, figures = figures_of(looked, "rattle_space", study.conditions[c].name)
        known = figures[0][np.isfinite(figures[0])]
        largest.append(float(known.max()) if len(known) else -1.0)
    return among[int(np.argmax(largest))], bool(on)


def _about_the_largest(found: Trace, speed: float) -> tuple[float, float]:
    """The stretch about the largest travel of the first setup that has histories, from where it rests, m."""
    k = int(np.flatnonzero(found.ok)[0])
    moved = np.abs(found.travel[k] - found.static_travel[k][:, np.newaxis]).max(axis=0)
    end = float(found.distance[-1])
    length = min(_SECONDS * speed, end)
    start = min(max(float(found.distance[int(np.argmax(moved))]) - 0.5 * length, 0.0), end - length)
    return start, start + length


def _first(of: _Drawn) -> Setup:
    """The first setup that has histories."""
    return of.setups[int(np.flatnonzero(of.found.ok)[0])]


def _corners(found: Trace) -> tuple[int, ...]:
    """Of each axle the wheel that travels furthest from where it rests, of any setup; the left one of two alike."""
    moved = np.abs(found.travel[found.ok] - found.static_travel[found.ok][..., np.newaxis]).max(axis=(0, 2))
    chosen: dict[str, int] = {}
    for c, name in enumerate(found.corners):
        axle = name.partition("_")[0]
        if axle not in chosen or moved[c] > moved[chosen[axle]] * (1 + 1e-6):
            chosen[axle] = c
    return tuple(chosen.values())


def _point(found: Trace) -> int:
    """The place of the hardest blow to any setup; the centre of mass only where there are no seats."""
    peaks = np.abs(found.smooth[found.ok][..., found.first :]).max(axis=(0, 2))
    seats = [p for p, name in enumerate(found.points) if name != "body"] or [0]
    return max(seats, key=lambda p: float(peaks[p]))


def thinned(x: Array, y: Array, bins: int = BINS) -> NDArray[np.intp]:
    """Which samples to draw so that a line keeps its peaks: in each of some stretches of equal length the smallest and
    the largest, and the first and the last of all.

    Args:
        x: (t,), rising; y: (t,).

    Returns:
        Indices, rising: all of them where there are no more than two a stretch.
    """
    if len(x) <= 2 * bins:
        return np.arange(len(x))
    edges = np.searchsorted(x, np.linspace(x[0], x[-1], bins + 1)[1:-1])
    kept = {0, len(x) - 1}
    for part in np.split(np.arange(len(x)), edges):
        if len(part):
            kept |= {int(part[np.argmin(y[part])]), int(part[np.argmax(y[part])])}
    return np.array(sorted(kept), dtype=np.intp)


def _panels(of: _Drawn) -> tuple[Panel, ...]:
    found = of.found
    ends = [_words(found, c) for c in of.corners]
    along = Axis("front axle at" if len(found.corners) > 1 else "distance", "m")
    panels = [
        Panel(
            f"Travel{end}",
            along,
            Axis("bump positive", "mm"),
            (*_limits(of, c), *_lines(of, 1e3 * found.travel[:, c])),
        )
        for c, end in zip(of.corners, ends, strict=True)
    ]
    panels += [
        Panel(
            f"Contact force{end}",
            along,
            Axis("contact force", "kN", from_zero=True),
            (*_lines(of, 1e-3 * found.contact_force[:, c]), *_lifted(of, c)),
        )
        for c, end in zip(of.corners, ends, strict=True)
    ]
    point = found.points[of.point]
    where = "centre of mass" if point == "body" else point
    felt = Axis("acceleration", "m/s²")
    panels.append(Panel(f"Acceleration below 30 Hz, {where}", along, felt, _lines(of, found.smooth[:, of.point])))
    if len(of.corners) > 1:
        panels.append(_turning(of, along))
    return tuple(panels)


def _turning(of: _Drawn, along: Axis) -> Panel:
    """The body's pitch, or its roll where that is larger."""
    pitch, roll = np.degrees(of.found.pitch), np.degrees(of.found.roll)
    if np.abs(roll[of.found.ok]).max() > np.abs(pitch[of.found.ok]).max():
        return Panel("Roll angle of the body", along, Axis("left side up positive", "deg"), _lines(of, roll))
    return Panel("Pitch angle of the body", along, Axis("nose down positive", "deg"), _lines(of, pitch))


def _words(found: Trace, c: int) -> str:
    return "" if len(found.corners) == 1 else f", {found.corners[c].replace('_', ' ')}"


def _lines(of: _Drawn, histories: Array) -> tuple[Series, ...]:
    """Of each setup's history, (n, t)."""
    x = of.found.distance[of.within]
    lines = []
    for k, setup in enumerate(of.setups):
        if of.found.ok[k]:
            y = histories[k, of.within]
            kept = thinned(x, y)
            lines.append(Series(setup.name, "line", setup.role, x[kept], y[kept], number_of(setup)))
    return tuple(lines)


def _limits(of: _Drawn, c: int) -> tuple[Series, ...]:
    """Where stops are met and travel ends, of the setups that are drawn; what not all of them have alike is called
    after those that have it.
    """
    lines: list[Series] = []
    for words, names in (
        ("stop is met", ("bump_stop", "rebound_stop")),
        ("end of travel", ("bump_end", "rebound_end")),
    ):
        each = (1e3 * np.stack([getattr(of.found, name)[:, c] for name in names], axis=1)).round(6)
        levels: dict[float, list[Setup]] = {}
        for setup, row, ok in zip(of.setups, each, of.found.ok, strict=True):
            for level in np.unique(row[np.isfinite(row)]) if ok else ():
                levels.setdefault(float(level), []).append(setup)
        owners: dict[tuple[str, ...], list[float]] = {}
        for level in sorted(levels):
            owners.setdefault(tuple(setup.name for setup in levels[level]), []).append(level)
        for own, found in owners.items():
            of_all = len(own) == int(of.found.ok.sum())
            name = words if of_all else f"{', '.join(own)}: {words}"
            role: Role = "limit" if of_all else levels[found[0]][0].role
            at = np.array(found)
            lines.append(Series(name, "level", role, np.zeros_like(at), at, dashed=words == "stop is met"))
    return tuple(lines)


def _lifted(of: _Drawn, c: int) -> tuple[Series, ...]:
    """Marks where a wheel is off the ground."""
    x = of.found.distance[of.within]
    marks = []
    for k, setup in enumerate(of.setups):
        off = np.flatnonzero(of.found.lift_off[k, c, of.within])
        if len(off):
            at = off[thinned(x[off], np.zeros(len(off)))]
            texts = ("off the ground",) * len(at)
            marks.append(
                Series(setup.name, "points", setup.role, x[at], np.zeros(len(at)), number_of(setup), hover=texts)
            )
    return tuple(marks)


def _largest(of: _Drawn) -> Table:
    """Largest and smallest values over what counts, of every wheel and of the place that is drawn."""
    found = of.found
    counted = slice(found.first, None)
    rows: list[tuple[str, ...]] = []

    def row(words: str, unit: str, values: Array) -> None:
        rows.append((words, unit, *(number(float(value)) for value in values)))

    for c, name in enumerate(found.corners):
        wheel = name.replace("_", " ")
        travel, stop, contact, off = (
            history[:, c, counted] for history in (found.travel, found.stop_force, found.contact_force, found.lift_off)
        )
        for way, most in (("bump", travel.max(axis=1)), ("rebound", -travel.min(axis=1))):
            cells = tuple(_reached(1e3 * float(value), way) for value in most)
            rows.append((f"{wheel} travel, largest in {way}", "mm", *cells))
        row(f"{wheel} stops, largest force", "kN", 1e-3 * np.abs(stop).max(axis=1))
        row(f"{wheel} contact force, least", "kN", 1e-3 * contact.min(axis=1))
        away = np.where(found.ok, off.sum(axis=1) * 1e3 * float(found.time[1]), np.nan)
        row(f"{wheel} off the ground", "ms", away)
    for p, name in enumerate(found.points):
        where = "centre of mass" if name == "body" else name
        row(f"{where} acceleration, largest below 30 Hz", "m/s²", np.abs(found.smooth[:, p, counted]).max(axis=1))
    return Table(
        f"Largest and smallest: {found.condition}",
        ("over the whole drive", "unit", *(setup.name for setup in of.setups)),
        tuple(rows),
        text_columns=2,
    )


def _reached(travel: float, way: str) -> str:
    """The largest travel one way, mm; of a wheel that never comes past the reference position, how far it stays off."""
    other = "rebound" if way == "bump" else "bump"
    return f"none, {number(-travel)} in {other} at least" if travel < 0 else number(travel)


def _which(of: _Drawn) -> Sequence[str]:
    """Which wheel of an axle is drawn."""
    if len(of.found.corners) < 4:
        return ()
    names = " and ".join(of.found.corners[c].replace("_", " ") for c in of.corners)
    return (f"of each axle the wheel that travels furthest is drawn: {names}",)
