"""What a softer ride costs: each objective against each other, the setups of the front and the present one."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from ridefront.report.card import Card, DoesNotApply, NoFront, asks
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.source import source
from ridefront.report.subject import Subject
from ridefront.report.words import Table, measure, measured_in
from ridefront.study.model import Objective
from ridefront.vehicle.laws import Array

_MOST = 4
"""Objectives that are drawn against each other: six panels."""


_QUESTION = "What does a softer ride cost?"


@asks(_QUESTION)
def trade_off(subject: Subject) -> Card:
    """What does a softer ride cost?

    Raises:
        DoesNotApply: there is nothing to trade.
    """
    objectives = subject.study.objectives
    if not len(subject.front):
        raise NoFront
    if len(objectives) < 2:
        raise DoesNotApply(f"the study has one objective, {measure(objectives[0].measure.label)}: nothing is traded")
    shown = range(min(len(objectives), _MOST))
    panels = tuple(_panel(subject, i, j) for i, j in combinations(shown, 2))
    figure = Figure("trade-off", "What a softer ride costs", panels, source(subject))
    left_out = [measure(item.measure.label) for item in objectives[_MOST:]]
    return Card(
        "trade-off",
        _QUESTION,
        "Each point is a setup; no other is better in every objective. Click one, or draw a box around several, "
        "to follow them through all figures; a second click lets go. Letters are setups that were picked.",
        (figure,),
        (_picks(subject),) if subject.picked else (),
        (f"not drawn against each other: {', '.join(left_out)}",) if left_out else (),
    )


def _picks(subject: Subject) -> Table:
    rows = tuple((one.letter, str(one.design), one.why) for one in subject.picked)
    return Table("Picked", ("", "design", "why"), rows, text_columns=3)


def _panel(subject: Subject, i: int, j: int) -> Panel:
    """The i-th objective against the j-th, another one as colour."""
    front, present, objectives = subject.front, subject.present, subject.study.objectives
    columns = [_column(subject, item) for item in objectives]
    k = next((k for k in range(len(objectives)) if k not in (i, j)), None)

    def at(values: Array) -> tuple[Array, Array]:
        return values[:, columns[i]], values[:, columns[j]]

    colour = None if k is None else front.values[:, columns[k]]
    label = "" if k is None else _label(objectives[k])
    x, y = at(front.values)
    several = [Series("setups of the front", "points", "front", x, y, front.design, colour, label)]
    if subject.picked:
        rows = np.array([one.row for one in subject.picked])
        letters = tuple(one.letter for one in subject.picked)
        x, y = at(front.values[rows])
        several.append(Series("picked", "points", "pick", x, y, front.design[rows], labels=letters))
    if present is not None:
        x, y = at(present.values)
        several.append(Series("present setup", "points", "present", x, y, present.design))
    return Panel("", _axis(objectives[i]), _axis(objectives[j]), tuple(several))


def _column(subject: Subject, objective: Objective) -> int:
    return [item.label for item in subject.study.measures].index(objective.measure.label)


def _axis(objective: Objective) -> Axis:
    better = "less" if objective.sign > 0 else "more"
    return Axis(f"{measure(objective.measure.label)}, {better} is better", measured_in(objective.measure))


def _label(objective: Objective) -> str:
    shown = measured_in(objective.measure)
    return measure(objective.measure.label) + (f" [{shown}]" if shown else "")
