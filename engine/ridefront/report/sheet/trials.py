"""What each part is worth: the setup with one part changed, worked out as the front was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.evaluate import STATUS, WHY, Domain, Evaluation, Evaluator
from ridefront.report.words import measure, measured_in, number, unit
from ridefront.study.catalogue import about
from ridefront.study.model import Array, Study, Variable

STEP = 0.1
"""Of a part's value: how far it is changed to see what that buys."""

HAIR = 1e-3
"""Of a limit's scale: what misses it by less is said to keep it, since a setup that lies on a limit may pass it by
rounding of whatever is changed.
"""

_NEXT = 1e-6  # of a value: enough to look past a catalogue's own value
_LEAST = 0.005  # of a value: a step that is shorter, because the range ends, is none


@dataclass(frozen=True)
class Trial:
    """A setup with one part changed.

    Attributes:
        kind: "step" for `STEP` more or less, or the next choice; "catalogue" for a neighbour in the catalogue.
        path, unit: of the variable.
        before, after: its value in the study's unit.
        base, values: figures of the setup and of the changed one, (k,), in the measures' units.
        failed: why it has no figures; empty where it has.
        limits: limits that it breaks and the setup keeps, in words with a leading semicolon; empty for none.
    """

    kind: str
    path: str
    unit: str
    before: float
    after: float
    base: Array
    values: Array
    failed: str
    limits: str


def trials_of(evaluator: Evaluator, X: Array, domain: Domain) -> tuple[tuple[Trial, ...], ...]:
    """The trials of setups X (n, d), in the order of the variables; each setup's own, in a domain."""
    study = evaluator.study
    asked = [_asked(study, x) for x in X]
    rows = [x for x, changed in zip(X, asked, strict=True) for x in (x, *(_with(x, j, v) for _, j, v in changed))]
    found = evaluator.evaluate(np.array(rows), domain)
    trials, at = [], 0
    for x, changed in zip(X, asked, strict=True):
        trials.append(tuple(_trials(study, x, changed, found, at)))
        at += 1 + len(changed)
    return tuple(trials)


def _with(x: Array, j: int, value: float) -> Array:
    changed = x.copy()
    changed[j] = value
    return changed


def _asked(study: Study, x: Array) -> list[tuple[str, int, float]]:
    """What to try about a setup: kind, variable, value."""
    found = []
    for j, variable in enumerate(study.variables):
        value, (low, high) = float(x[j]), reach(study, x, j)
        found += [("step", j, item) for item in _steps(variable, value, low, high)]
        found += [("catalogue", j, item) for item in _parts(study, variable, value) if low <= item <= high]
    return found


def reach(study: Study, x: Array, j: int) -> tuple[float, float]:
    """How far a part of a setup x (d,) may go, all others as they are: within its own range, and within those of the
    ratios in which it has a part. The setup's own value is always within.
    """
    names = [item.path for item in study.variables]
    variable, value = study.variables[j], float(x[j])
    base = 1.0 if variable.times is None else float(x[names.index(variable.times)])
    ends = [(variable.low * base, variable.high * base)]
    for k, other in enumerate(study.variables):
        if other.times == variable.path:
            ends.append((float(x[k]) / other.high, float(x[k]) / other.low))
    low, high = max(min(pair) for pair in ends), min(max(pair) for pair in ends)
    return min(low, value), max(high, value)


def _steps(variable: Variable, value: float, low: float, high: float) -> Iterator[float]:
    """A part a little less and a little more, within its range; of steps and choices the next ones."""
    if variable.levels:
        levels = [item for item in sorted(variable.levels) if low <= item <= high]
        yield from [item for item in levels if item < value][-1:]
        yield from [item for item in levels if item > value][:1]
        return
    step = STEP * abs(value) if value != 0 else STEP * (high - low)
    for item in (max(value - step, low), min(value + step, high)):
        if abs(item - value) > _LEAST * step / STEP:
            yield item


def _parts(study: Study, variable: Variable, value: float) -> tuple[float, ...]:
    """The catalogue's values about one, its own included where it is the catalogue's."""
    entry = study.catalogue.get(variable.path)
    if entry is None:
        return ()
    near = about(entry, value)
    step = _NEXT * (float(entry.step) if entry.step is not None else abs(value))
    below, above = about(entry, value - step), about(entry, value + step)
    return tuple(sorted({*near, *below, *above}))


def _trials(
    study: Study, x: Array, changed: Sequence[tuple[str, int, float]], found: Evaluation, at: int
) -> Iterator[Trial]:
    for k, (kind, j, value) in enumerate(changed, start=at + 1):
        variable, status = study.variables[j], STATUS[found.status[k]]
        yield Trial(
            kind,
            variable.path,
            unit(variable.unit),
            float(x[j]),
            value,
            found.values[at],
            found.values[k],
            "" if status == "ok" else f"no figures, {WHY[status]}",
            "" if status != "ok" else _broken(study, found.values[at], found.values[k]),
        )


def _broken(study: Study, before: Array, after: Array) -> str:
    """Limits that are kept before and not after."""
    labels = [item.label for item in study.measures]
    said = []
    for item in study.constraints:
        k, sign = labels.index(item.measure.label), 1.0 if item.kind == "at_most" else -1.0
        hair = HAIR * item.scale
        if sign * (float(before[k]) - item.limit) <= hair < sign * (float(after[k]) - item.limit):
            side = item.kind.replace("_", " ")
            limit = f"{side} {item.limit:.6g} {measured_in(item.measure)}".rstrip()
            said.append(f"{measure(item.measure.label)} {number(float(after[k]), 4)}, {limit}")
    return f"; breaks {'; '.join(said)}" if said else ""
