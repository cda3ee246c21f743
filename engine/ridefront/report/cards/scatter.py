"""How far figures of the setups spread over vehicles that are built within the study's tolerances."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridefront.report.card import Card, DoesNotApply, asks
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.looked_at import LookedAt
from ridefront.report.rows import Lane, dots, heights, names_axis, spans
from ridefront.report.scattered import tolerances
from ridefront.report.source import source
from ridefront.report.standing import by_this_program
from ridefront.report.subject import Subject
from ridefront.report.words import Table, measure, measured_in, number
from ridefront.results.columns import SPREAD_ENDS
from ridefront.results.names import FRONT
from ridefront.results.sampling import spreading
from ridefront.study.model import Measure, Study
from ridefront.vehicle.laws import Array

_QUESTION = "What do tolerances of parts do?"


@asks(_QUESTION)
def scatter(subject: Subject) -> Card:
    """The card."""
    study = subject.study
    if study.scatter is None:
        raise DoesNotApply("the study gives no tolerances of parts ([scatter])")
    looked = subject.looked_at
    measures = spreading(study)
    if not np.isfinite(np.concatenate([_of_front(subject, item) for item in measures])).any():
        raise DoesNotApply("the spread is worked out when a run is done; this one is not, or vehicles have no figures")
    spread = spread_of(subject, looked, measures)
    objectives = {item.measure.label for item in study.objectives}
    first = [k for k, item in enumerate(measures) if item.label in objectives] or list(range(len(measures)))
    return Card(
        "scatter",
        _QUESTION,
        f"{study.scatter.samples} vehicles are built of each setup, each part somewhere within its tolerance. The mark "
        "is the figure of the study, the line spans 90 % of the vehicles: 5 % have smaller figures, 5 % larger ones."
        + ("" if subject.present is None else by_this_program(subject, "the present setup's spread is")),
        (
            _spans(subject, looked, [measures[k] for k in first], spread[:, first]),
            _widths(subject, looked, [measures[k] for k in first], spread[:, first]),
        ),
        (_table(study, looked, measures, spread),),
        (tolerances(study),),
    )


def spread_of(subject: Subject, looked: LookedAt, measures: Sequence[Measure]) -> Array:
    """Figures of which 5 % and 95 % of the built vehicles have smaller ones, (s, measures, 2), in the measures' units:
    of the picks as the run stored them, of the present setup worked out anew.
    """
    found = np.full((len(looked.setups), len(measures), len(SPREAD_ENDS)), np.nan)
    stored = np.stack([_of_front(subject, item) for item in measures], axis=1)
    for s, setup in enumerate(looked.setups):
        if setup.row is not None:
            found[s] = stored[setup.row]
        else:
            found[s] = subject.evaluator.spread(setup.x[np.newaxis], measures, subject.domain)[0]
    return found


def _of_front(subject: Subject, item: Measure) -> Array:
    """Stored ends of a measure's spread, (n, 2)."""
    frame = subject.result.front
    return np.stack([frame[f"{item.label}{ending}"].to_numpy(dtype=np.float64) for ending in SPREAD_ENDS], axis=1)


def _spans(subject: Subject, looked: LookedAt, measures: Sequence[Measure], spread: Array) -> Figure:
    """A row a setup."""
    names = [setup.name for setup in looked.setups]
    labels = [item.label for item in subject.study.measures]
    panels = []
    for m, item in enumerate(measures):
        series: list[Series] = []
        for s, setup in enumerate(looked.setups):
            own = np.full(len(names), np.nan)
            own[s] = setup.values[labels.index(item.label)]
            low, high = (float(end) for end in spread[s, m])
            hover = [""] * len(names)
            hover[s] = f"{setup.name}: {number(float(own[s]))}\n5 % below {number(low)}, 5 % above {number(high)}"
            at = heights(len(names), 0, 1)[s : s + 1]
            series += dots([Lane(setup.name, setup.role, own, setup.design, tuple(hover))])
            series.append(spans(setup.name, setup.role, np.array([low]), np.array([high]), at, setup.design))
        x = Axis(measure(item.label), measured_in(item))
        panels.append(Panel("", x, names_axis(names), (*series, *_limits(subject.study, item, len(names)))))
    return Figure("scatter", "90 % of the vehicles as built", tuple(panels), source(subject, FRONT))


def _limits(study: Study, item: Measure, rows: int) -> list[Series]:
    """Limits on a measure, as lines over all rows."""
    ends = np.array([-0.5, rows - 0.5])
    return [
        Series("limit of the study", "line", "limit", np.full(2, one.limit), ends)
        for one in study.constraints
        if one.measure.label == item.label
    ]


def _widths(subject: Subject, looked: LookedAt, measures: Sequence[Measure], spread: Array) -> Figure:
    """How wide the spread of every setup of the front is, against the figure."""
    labels = [item.label for item in subject.study.measures]
    panels = []
    for m, item in enumerate(measures):
        k = labels.index(item.label)
        ends = _of_front(subject, item)
        width = ends[:, 1] - ends[:, 0]
        series = [Series("front", "points", "front", subject.front.values[:, k], width, subject.front.design)]
        for s, setup in enumerate(looked.setups):
            at = np.array([setup.values[k]]), np.array([spread[s, m, 1] - spread[s, m, 0]])
            series.append(Series(setup.name, "points", setup.role, *at, np.array([setup.design], dtype=np.int64)))
        name, unit = measure(item.label), measured_in(item)
        panels.append(Panel("", Axis(name, unit), Axis("width of the spread", unit, from_zero=True), tuple(series)))
    title = "Whether tolerances do less to some setups than to others"
    return Figure("scatter-width", title, tuple(panels), source(subject, FRONT))


def _table(study: Study, looked: LookedAt, measures: Sequence[Measure], spread: Array) -> Table:
    rows = [
        (measure(item.label), measured_in(item), *(_cell(study, item, ends) for ends in spread[:, m]))
        for m, item in enumerate(measures)
    ]
    heads = ("measure", "unit", *(setup.name for setup in looked.setups))
    return Table(
        "Between which figures 90 % of the vehicles as built lie",
        heads,
        tuple(rows),
        text_columns=2,
        notes=("beyond: some of these vehicles break a limit of the study on that figure",),
    )


def _cell(study: Study, item: Measure, ends: Array) -> str:
    low, high = (float(end) for end in ends)
    if not np.isfinite(high - low):
        return "–"
    limits = [one for one in study.constraints if one.measure.label == item.label]
    kept = all(high <= one.limit if one.kind == "at_most" else low >= one.limit for one in limits)
    return f"{number(low)} to {number(high)}" + ("" if kept else " (beyond)")
