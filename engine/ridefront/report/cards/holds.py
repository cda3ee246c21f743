"""What holds setups where they are, which change of a part buys what, what moves figures over the whole space."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.report.card import Card, DoesNotApply, NoFront, asks
from ridefront.report.figure import Axis, Figure, Panel
from ridefront.report.looked_at import Setup
from ridefront.report.optimality import SMALLEST, held_by, rate
from ridefront.report.rows import Lane, dots, heights, names_axis, spans, zero
from ridefront.report.sheet.trials import HAIR
from ridefront.report.slopes import gradients_of, per_tenth, within_ranges
from ridefront.report.source import source
from ridefront.report.standing import by_this_program
from ridefront.report.steps import stepped
from ridefront.report.subject import Subject
from ridefront.report.words import Table, measure, measured_in, number, quantity
from ridefront.results.names import FRONT_GRADIENTS, SENSITIVITY_FILE
from ridefront.results.read import read_sensitivity, to_frame
from ridefront.results.tables import read_table
from ridefront.study.model import Study
from ridefront.vehicle.laws import Array

_QUESTION = "What holds a setup, and which change buys what?"


@asks(_QUESTION)
def holds(subject: Subject) -> Card:
    """The card."""
    if not len(subject.front):
        raise NoFront
    if subject.record["state"] != "done":
        raise DoesNotApply("slopes and what holds setups are worked out when a run is done; this one is not")
    study = subject.study
    setups = tuple(setup for setup in subject.looked_at.setups if setup.role == "pick")
    changes = changes_of(subject, setups)
    figures, tables = [], [_held(subject, setups)]
    if np.isfinite(changes).any():
        figures.append(_changes(subject, setups, changes))
        tables.append(_levers(study, setups, changes))
    steps = stepped(subject, setups)
    tables += steps
    moves = _moves(subject)
    figures += moves
    return Card(
        "holds",
        _QUESTION,
        "A setup of the front is held by ends of ranges, by limits, and by what it would give away elsewhere. Marks "
        "show what 10 % more of one part does, all others as they are; 10 % less does the opposite, by slopes."
        + (by_this_program(subject, "steps and choices of parts are") if steps else ""),
        tuple(figures),
        tuple(tables),
        ("shares over the whole space depend on how wide the study's ranges are",) if moves else (),
    )


def changes_of(subject: Subject, setups: Sequence[Setup]) -> Array:
    """What 10 % more of each part does to each measure of some setups of the front, (s, k, d), from stored slopes."""
    frame = to_frame(read_table(subject.folder / FRONT_GRADIENTS))
    designs = np.array([setup.design for setup in setups], dtype=np.int64)
    X = np.stack([setup.x for setup in setups])
    return per_tenth(subject.study, X, gradients_of(subject.study, frame, designs))


def _held(subject: Subject, setups: Sequence[Setup]) -> Table:
    """What holds each, as the run has worked it out."""
    said = held_by(subject.result.front)
    rows = []
    for setup in setups:
        assert setup.row is not None, "a pick is of the front"
        words = said[setup.row]
        residual = float(subject.result.front["residual"].iloc[setup.row])
        held = "not known" if words is None else words or _by_no_limit(residual)
        rows.append((setup.name, str(setup.design), rate(residual), held))
    note = (
        "residual: the share of the front's range that all objectives could still gain at once for a whole range of "
        "the variables; 0 where every small step loses in one of them"
    )
    heads = ("setup", "design", "residual", "held by")
    return Table("What holds them", heads, tuple(rows), text_columns=1, notes=(note,), ends_in_text=True)


def _by_no_limit(residual: float) -> str:
    if residual < SMALLEST:
        return "no limit: every small step gives something away"
    return "no limit: small steps could still gain in all objectives"


def _changes(subject: Subject, setups: Sequence[Setup], changes: Array) -> Figure:
    study = subject.study
    shown = [j for j in range(len(study.variables)) if np.isfinite(changes[:, :, j]).any()]
    names = [quantity(study.variables[j].path) for j in shown]
    labels = [item.label for item in study.measures]
    panels = []
    for objective in study.objectives:
        k = labels.index(objective.measure.label)
        name, unit = measure(objective.measure.label), measured_in(objective.measure)
        lanes = [
            Lane(setup.name, setup.role, row, setup.design, _hovers(setup, names, row, unit))
            for setup, row in zip(setups, changes[:, k][:, shown], strict=True)
        ]
        better = "less is better" if objective.sign > 0 else "more is better"
        x = Axis(f"change of {name}, {better}", unit)
        panels.append(Panel(name, x, names_axis(names), (zero(len(names)), *dots(lanes, from_zero=True))))
    return Figure("what-buys-what", "What 10 % more of one part does", tuple(panels), source(subject, FRONT_GRADIENTS))


def _hovers(setup: Setup, names: Sequence[str], changes: Array, unit: str) -> tuple[str, ...]:
    return tuple(
        f"{setup.name}\n{name} +10 %: {_signed(float(change))} {unit}".rstrip()
        for name, change in zip(names, changes, strict=True)
    )


def _signed(change: float) -> str:
    return f"{'+' if change > 0 else '-' if change < 0 else ''}{number(abs(change), 2)}"


@dataclass(frozen=True)
class Lever:
    """The change of one part by a tenth that gains most in an objective.

    Attributes:
        objective: its place among the study's; variable: likewise; sign: 1 for more of the part, -1 for less.
    """

    objective: int
    variable: int
    sign: int


def levers(study: Study, setup: Setup, changes: Array) -> list[Lever]:
    """For each objective the change of a part that gains most and stays within the study's ranges, where one gains.

    Args:
        study: whose setup it is.
        setup: at which.
        changes: (k, d), of `changes_of`.
    """
    labels = [item.label for item in study.measures]
    found = []
    for i, objective in enumerate(study.objectives):
        k = labels.index(objective.measure.label)
        gains = [
            (-objective.sign * sign * float(changes[k, j]), -j, sign)
            for j in range(len(study.variables))
            for sign in (1, -1)
            if np.isfinite(changes[k, j]) and within_ranges(study, setup.x, j, sign)
        ]
        best = max(gains, default=(0.0, 0, 1))
        if best[0] > 0:
            found.append(Lever(i, -best[1], best[2]))
    return found


def _levers(study: Study, setups: Sequence[Setup], changes: Array) -> Table:
    """What gains most in each objective, what it costs, and which limits stand in the way."""
    labels = [item.label for item in study.measures]
    rows = []
    for s, setup in enumerate(setups):
        for lever in levers(study, setup, changes[s]):
            path = study.variables[lever.variable].path
            moved = lever.sign * changes[s, :, lever.variable]
            cells = [
                f"{_signed(float(moved[k]))} {measured_in(item.measure)}".rstrip()
                for item in study.objectives
                for k in (labels.index(item.measure.label),)
            ]
            gained = measure(study.objectives[lever.objective].measure.label)
            what = f"{quantity(path)} {'+' if lever.sign > 0 else '-'}10 %"
            rows.append((setup.name, gained, what, *cells, broken(study, setup.values, moved) or "none"))
    heads = (
        "setup",
        "to gain in",
        "change",
        *(measure(item.measure.label) for item in study.objectives),
        "limits it would break",
    )
    note = "by slopes at the setup, for one part alone, within the study's ranges; work it out before you believe it"
    title = "Which 10 % of one part gains most"
    return Table(title, heads, tuple(rows), text_columns=3, notes=(note,), ends_in_text=True)


def broken(study: Study, values: Array, change: Array) -> str:
    """Limits that a setup keeps and, moved by a change (k,) of its measures, would not; in words. As on a setup sheet,
    what passes a limit by no more than a hair keeps it: most setups of a front lie on one.
    """
    labels = [item.label for item in study.measures]
    found = []
    for item in study.constraints:
        k = labels.index(item.measure.label)
        sign = 1 if item.kind == "at_most" else -1
        before, hair = sign * (float(values[k]) - item.limit), HAIR * item.scale
        if before <= hair < before + sign * float(change[k]):
            side = "most" if item.kind == "at_most" else "least"
            limit = f"{number(item.limit)} {measured_in(item.measure)}".rstrip()
            found.append(f"{measure(item.measure.label)} at {side} {limit}")
    return "; ".join(found)


def _moves(subject: Subject) -> list[Figure]:
    """Sobol' indices of the objectives, if there are any."""
    frame = read_sensitivity(subject.folder)
    variables = subject.study.variables
    names = [quantity(variable.path) for variable in variables]
    panels = []
    for objective in subject.study.objectives:
        own = frame[frame["measure"] == objective.measure.label]
        if not np.isfinite(own["value"].to_numpy(dtype=np.float64)).any():
            continue
        total, alone = (
            own[own["kind"] == kind].set_index("variable").reindex([one.path for one in variables])
            for kind in ("total", "first-order")
        )
        of = {name: 100 * total[name].to_numpy(dtype=np.float64) for name in ("value", "low", "high")}
        lanes = (
            Lane("with all it does together with others", "front", of["value"]),
            Lane("alone", "other", 100 * alone["value"].to_numpy(dtype=np.float64)),
        )
        at = heights(len(names), 0, len(lanes))
        panels.append(
            Panel(
                measure(objective.measure.label),
                Axis("share of the variance", "%", from_zero=True),
                names_axis(names),
                (spans("interval of 95 %", "front", of["low"], of["high"], at), *dots(lanes)),
            )
        )
    if not panels:
        return []
    designs = int(frame["designs"].max())
    said = f"{subject.folder.name}/{SENSITIVITY_FILE}; Sobol' indices, {designs:,} designs over the whole design space"
    return [Figure("what-moves-what", "What moves what over the whole space", tuple(panels), said)]
