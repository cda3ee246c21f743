"""Chosen setups in catalogue parts: the best neighbours, worked out as the front was, and what rounding costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.evaluate import STATUS, WHY, Domain, Evaluation, Evaluator
from ridefront.report.asked import Requirement
from ridefront.report.choices import Choice, Choices, distance
from ridefront.report.compromises import objectives
from ridefront.report.words import measure, measured_in, number
from ridefront.search.choose import rank
from ridefront.study.catalogue import Neighbours, neighbours
from ridefront.study.model import Array, Study


@dataclass(frozen=True)
class Rounded:
    """A chosen setup in catalogue parts.

    Attributes:
        x: (d,), in the variables' units; values: (k,), of the measures in theirs, NaN where it has no figures.
        holds: whether every constraint, and every requirement on what was worked out, is kept.
        broken: those that are not, in words, or why there are no figures.
        tried: combinations of parts that were worked out; good: how many of them keep everything.
        notes: what was left out.
    """

    x: Array
    values: Array
    holds: bool
    broken: tuple[str, ...]
    tried: int
    good: int
    notes: tuple[str, ...]


def rounded(choices: Choices, evaluator: Evaluator) -> tuple[Rounded, ...]:
    """Each chosen setup in catalogue parts: of its neighbours in the catalogue, worked out in the front's domain, the
    best by the rule that picked it; where none keeps all limits the next parts are looked at too. Those that keep all
    constraints and requirements come first, then those that miss them least.

    Args:
        choices: from a front of at least one design.
        evaluator: of its study.
    """
    return tuple(_rounded(choices, choice, evaluator) for choice in choices.found)


def _rounded(choices: Choices, choice: Choice, evaluator: Evaluator) -> Rounded:
    """Of the parts just below and above; where none of them keeps everything, one part further on either side."""
    study = choices.result.study
    x = choices.front.X[choice.row]
    near = _best_of(choices, choice, evaluator, neighbours(study, x))
    return (
        near if near.good or near.tried == 1 else _best_of(choices, choice, evaluator, neighbours(study, x, wide=True))
    )


def _best_of(choices: Choices, choice: Choice, evaluator: Evaluator, about: Neighbours) -> Rounded:
    study, shape = choices.result.study, choices.shape
    assert shape is not None, "there is a choice, so there is a front"
    domain: Domain = "frequency-domain" if choices.result.response == "frequency-domain" else "time-domain"
    found = evaluator.evaluate(about.X, domain)
    ok = found.status == 0
    missed = np.where(ok, found.violation, np.inf) + _missed(study, choices.requirements, about.X, found)
    F = objectives(study, np.where(ok[:, None], found.values, 0.0))
    behind = _behind(choices, choice, F)
    missed = missed + behind.sum(axis=1)
    off = distance(study, about.X, choices.present.X[0]) if choices.present is not None else np.zeros(len(F))
    best = int(np.lexsort((rank(shape, choice.picks[0], F, off), missed))[0])
    holds = bool(missed[best] == 0)
    broken = () if holds else _broken(study, choices.requirements, about.X[best], found, best)
    if ok[best]:
        names = [measure(item.measure.label) for item in study.objectives]
        broken += tuple(
            f"no longer better than the present setup in {name}"
            for name, by in zip(names, behind[best], strict=True)
            if by > 0
        )
    return Rounded(
        about.X[best], found.values[best], holds, broken, len(about.X), int((missed == 0).sum()), about.notes
    )


def _behind(choices: Choices, choice: Choice, F: Array) -> Array:
    """By how much designs F (n, m) are behind the present setup, over its size, (n, m); zeros where the choice does not
    promise to be better.
    """
    promised = choices.beat_present or any(pick.kind == "better" for pick in choice.picks)
    if not promised or choices.present is None:
        return np.zeros_like(F)
    now = objectives(choices.result.study, choices.present.values)[0]
    size = np.where(now != 0, np.abs(now), 1.0)
    return np.where(now > F, 0.0, (F - now) / size + np.finfo(float).tiny)


def _missed(study: Study, requirements: Sequence[Requirement], X: Array, found: Evaluation) -> Array:
    """By how much designs miss requirements, over the limits, summed, (n,); those on other columns are left out."""
    total = np.zeros(len(X))
    for item in requirements:
        column = _column(study, item.column, X, found)
        if column is not None:
            excess = item.sign * (np.where(np.isfinite(column), column, item.limit) - item.limit)
            total = total + np.maximum(excess, 0.0) / max(abs(item.limit), 1e-300)
    return total


def _column(study: Study, name: str, X: Array, found: Evaluation) -> Array | None:
    for j, variable in enumerate(study.variables):
        if variable.path == name:
            return X[:, j]
    for k, item in enumerate(study.measures):
        if item.label == name:
            return found.values[:, k]
    return None


def _broken(
    study: Study, requirements: Sequence[Requirement], x: Array, found: Evaluation, row: int
) -> tuple[str, ...]:
    if found.status[row] != 0:
        return (WHY[STATUS[found.status[row]]],)
    labels = [item.label for item in study.measures]
    lines = []
    for constraint in study.constraints:
        figure = float(found.values[row, labels.index(constraint.measure.label)])
        kept = figure >= constraint.limit if constraint.kind == "at_least" else figure <= constraint.limit
        if not kept:
            side = constraint.kind.replace("_", " ")
            limit = f"{side} {number(constraint.limit, 4)} {measured_in(constraint.measure)}".rstrip()
            lines.append(f"{measure(constraint.measure.label)} {number(figure, 4)}, {limit}")
    for item in requirements:
        column = _column(study, item.column, x[None, :], found)
        if column is None:
            continue
        figure = float(column[0] if len(column) == 1 else column[row])
        if not item.sign * figure <= item.sign * item.limit:
            lines.append(f"{number(figure, 4)} where {item.words} is required")
    return tuple(lines)
