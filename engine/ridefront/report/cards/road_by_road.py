"""What each road does to the setups: comfort, blows, wheel loads and travel, condition by condition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.criteria import CRITERIA
from ridefront.report.card import Card, asks
from ridefront.report.figure import Axis, Figure, Panel
from ridefront.report.looked_at import LookedAt
from ridefront.report.rows import Lane, dots, names_axis, ranges
from ridefront.report.source import source
from ridefront.report.standing import by_this_program
from ridefront.report.subject import Subject
from ridefront.report.words import Table, number
from ridefront.results.names import FRONT_PIECES
from ridefront.study.model import Study
from ridefront.vehicle.body import model_of
from ridefront.vehicle.laws import Array


@dataclass(frozen=True)
class Shown:
    """A criterion of the card.

    Attributes:
        criterion: its name; label: in the trade's words.
        unit: in which it is shown; factor: SI value = shown value * factor.
        least: figures of which none is larger are not worth a panel, in `unit`.
        small: below it a figure is said to be below it, in `unit`, and no change is given.
    """

    criterion: str
    label: str
    unit: str
    factor: float
    least: float = 0.0
    small: float = 0.0


SHOWN = (
    Shown("comfort", "weighted acceleration", "m/s²", 1.0),
    Shown("peak_acceleration", "largest acceleration", "m/s²", 1.0),
    Shown("dynamic_load_coefficient", "dynamic over static wheel load", "", 1.0),
    Shown("wheel_lift_off", "time without contact", "%", 0.01, least=0.1, small=0.01),
    Shown("rattle_space", "largest travel", "mm", 1e-3),
    Shown("stop_force", "largest stop force", "kN", 1e3, least=0.001, small=0.001),
)
"""What is shown where the front's way of working it out has it, at its worst place."""


_QUESTION = "What does each road do?"
_LONG = 24  # letters of a road's name in a row


@asks(_QUESTION)
def road_by_road(subject: Subject) -> Card:
    """The card."""
    looked, study = subject.looked_at, subject.study
    panels, rows = [], []
    for item in SHOWN:
        if not looked.columns(item.criterion):
            continue
        conditions = [one.name for one in study.conditions if looked.columns(item.criterion, one.name)]
        front, figures = (
            np.stack([worst(looked, values, item, name) for name in conditions], axis=1)
            for values in (looked.front.values, looked.pieces.values)
        )
        if not np.any(np.concatenate([front, figures]) > item.least):
            continue
        panels.append(_panel(looked, item, conditions, front, figures))
        rows += [line for name in conditions for line in _lines(study, looked, item, name)]
    figure = Figure(
        "road-by-road", "What each road does, at the worst seat or wheel", tuple(panels), source(subject, FRONT_PIECES)
    )
    now = "" if subject.present is None else by_this_program(subject, "the present setup's figures are")
    return Card(
        "road-by-road",
        _QUESTION,
        "A row is a road at a speed under a load, a mark a setup; the line spans all setups of the front. What an "
        f"objective puts together stands here one by one.{now}",
        (figure,),
        (_table(looked, rows),),
    )


def worst(looked: LookedAt, values: Array, item: Shown, condition: str, places: Sequence[str] | None = None) -> Array:
    """A criterion in a condition at the worst of some places, or of all, (n,), in the unit shown; NaN where one is not
    known.

    Args:
        looked: whose columns `values` has.
        values: (n, p), of pieces, SI.
        item: the criterion; condition: its name; places: their names.
    """
    columns = looked.columns(item.criterion, condition, places)
    return np.asarray(values[:, columns].max(axis=1) / item.factor)


def _panel(looked: LookedAt, item: Shown, conditions: Sequence[str], front: Array, figures: Array) -> Panel:
    lanes = [
        Lane(setup.name, setup.role, row, setup.design, _hovers(setup.name, item, conditions, row, figures[0]))
        for setup, row in zip(looked.setups, figures, strict=True)
    ]
    x = Axis(item.label, item.unit)
    return Panel(
        CRITERIA[item.criterion].name.replace("_", " "),
        x,
        names_axis([_kept_together(condition) for condition in conditions]),
        (ranges("all setups of the front", "front", front), *dots(lanes)),
    )


def _kept_together(condition: str) -> str:
    """A condition's name for a row: spaces that break no line within speed or load, of an endless road both ends."""
    road, at, rest = condition.rpartition(" @ ")
    speed, comma, load = rest.partition(", ")
    words = [text.replace(" ", "\u00a0") for text in (speed, load)]
    if len(road) > _LONG:
        road = f"{road[: _LONG - 9].rstrip()} … {road[-6:].lstrip()}"
    return f"{road} @\u00a0{words[0]}{comma}{words[1]}" if at else condition


def _hovers(name: str, item: Shown, conditions: Sequence[str], row: Array, first: Array) -> tuple[str, ...]:
    return tuple(
        f"{name}\n{condition}\n{_cell(item, float(value), float(before))} {item.unit}".rstrip()
        for condition, value, before in zip(conditions, row, first, strict=True)
    )


def _lines(study: Study, looked: LookedAt, item: Shown, condition: str) -> list[tuple[str, ...]]:
    """A line for each place: axles rather than wheels."""
    places = [looked.pieces.place[p] for p in looked.columns(item.criterion, condition)]
    model = model_of(study.model, study.corner)
    axle_of = dict(zip(model.corners, model.axles, strict=True))
    groups: dict[str, list[str]] = {}
    for place in places:
        groups.setdefault(axle_of.get(place, place), []).append(place)
    found = []
    for name, members in groups.items():
        figures = [float(value) for value in worst(looked, looked.pieces.values, item, condition, members)]
        cells = [_cell(item, value, figures[0] if k else None) for k, value in enumerate(figures)]
        if looked.setups[0].role != "present":
            cells = [_cell(item, value, None) for value in figures]
        found.append((CRITERIA[item.criterion].name.replace("_", " "), condition, name, item.unit, *cells))
    return found


def _cell(item: Shown, value: float, before: float | None) -> str:
    """A figure, and in brackets its change against another one."""
    if 0 < value < item.small:
        return f"below {item.small:g}"
    if before is None or not before > item.small or not np.isfinite(value):
        return number(value)
    change = 100 * (value - before) / before
    return f"{number(value)} ({change:+.1f} %)" if abs(change) >= 0.05 else f"{number(value)} (=)"


def _table(looked: LookedAt, rows: Sequence[tuple[str, ...]]) -> Table:
    against = ", in brackets the change against the present setup" if looked.setups[0].role == "present" else ""
    return Table(
        f"Road by road{against}",
        ("criterion", "road, speed, load", "place", "unit", *(setup.name for setup in looked.setups)),
        tuple(rows),
        text_columns=4,
    )
