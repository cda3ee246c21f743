"""Choices from a front: which setups, why, what they gain on the present one. Plain values; `chosen` makes tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.report.after_run import setups
from ridefront.report.asked import Requirement
from ridefront.report.compromises import Setups, objectives
from ridefront.report.words import measure, measured_in, number, quantity
from ridefront.results.stored import Result
from ridefront.search.choose import (
    Flags,
    Front,
    Missed,
    Pick,
    best_compromise,
    best_in,
    better,
    betters,
    by_weights,
    conflicts,
    front_of,
    knee,
    least_missed,
    meets,
    nearest,
)
from ridefront.study.catalogue import ends
from ridefront.study.model import Array, Measure, Study

_MARKED = 1.05
"""A knee whose steps cost no more than this times what they gain is none that deserves the name."""


@dataclass(frozen=True)
class Choice:
    """A setup of the front and what speaks for it.

    Attributes:
        row: of the front; design: its number.
        picks: the rules that picked it, the first one its own.
        reasons: the same in words.
    """

    row: int
    design: int
    picks: tuple[Pick, ...]
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Choices:
    """What a front offers.

    Attributes:
        result: whose front it is.
        front, present: setups; present is None where there is none, or it has no figures.
        shape: the front as the search sees it; None where there is no design at all.
        found: setups, each once.
        requirements: that they meet.
        suitable: how many setups of the front do.
        missed: where none meets the requirements, which comes nearest.
        unheld: where setups that better the present one were asked for and there is none, the smallest sets of
            objectives that none betters together.
        beat_present: whether only setups that better the present one were asked for.
    """

    result: Result
    front: Setups
    present: Setups | None
    shape: Front | None
    found: tuple[Choice, ...]
    requirements: tuple[Requirement, ...] = ()
    suitable: int = 0
    missed: Missed | None = None
    unheld: tuple[tuple[int, ...], ...] = ()
    beat_present: bool = False


def choose(
    result: Result,
    weights: Array | None = None,
    requirements: Sequence[Requirement] = (),
    *,
    beat_present: bool = False,
) -> Choices:
    """Pick setups from a run's front.

    Args:
        result: of the run.
        weights: of its objectives, (m,): the one setup that suits them; None for the usual picks, which are the knee,
            the best compromise, the best in each objective, the nearest to the present setup and the one that betters
            it most evenly. A knee is left out where even from the best one some small step gains more than it loses.
        requirements: only setups that meet all of these.
        beat_present: only setups that are better than the present one in every objective.
    """
    study = result.study
    front = setups(study, result.front)
    present = setups(study, result.present) if len(result.present) else None
    if present is not None and not np.isfinite(present.values).all():
        present = None
    if not len(front):
        return Choices(result, front, present, None, (), tuple(requirements))
    shape = front_of(objectives(study, front.values))
    allowed, missed = _allowed(result, requirements)
    unheld: tuple[tuple[int, ...], ...] = ()
    now = objectives(study, present.values)[0] if present is not None else None
    if now is not None and missed is None:
        unheld = conflicts(shape, now, allowed)
        if beat_present:
            allowed = allowed & betters(shape, now)
    picked = _picks(study, shape, front, present, weights, allowed) if missed is None else []
    return Choices(
        result, front, present, shape, _merged(study, front, present, picked, shape), tuple(requirements),
        int((allowed & shape.kept).sum()), missed, unheld, beat_present,
    )  # fmt: skip


def _allowed(result: Result, requirements: Sequence[Requirement]) -> tuple[Flags, Missed | None]:
    """Which setups meet all requirements; where none does, which misses least."""
    n = len(result.front)
    if not requirements:
        return np.ones(n, dtype=np.bool_), None
    values = np.stack([result.front[item.column].to_numpy(dtype=np.float64) for item in requirements], axis=1)
    limits, signs = np.array([item.limit for item in requirements]), np.array([item.sign for item in requirements])
    allowed = np.all(meets(values, limits, signs), axis=1)
    return allowed, None if allowed.any() else least_missed(values, limits, signs)


def _picks(
    study: Study, shape: Front, front: Setups, present: Setups | None, weights: Array | None, allowed: Flags
) -> list[Pick]:
    if weights is not None:
        asked = [by_weights(shape, weights, allowed)]
    else:
        several = len(study.objectives) > 1
        inner = knee(shape, allowed) if several else None
        asked = [inner if inner is not None and inner.figure >= 1 else None]
        asked += [best_compromise(shape, allowed)] if several else []
        asked += [best_in(shape, j, allowed) for j in range(len(study.objectives)) if shape.span[j] > 0 or not several]
        if present is not None:
            now = objectives(study, present.values)[0]
            asked += [nearest(shape, distance(study, front.X, present.X[0]), allowed), better(shape, now, allowed)]
    return [pick for pick in asked if pick is not None]


def shares(study: Study, X: Array, x: Array) -> Array:
    """Differences of setups X (n, d) from one x (d,), each variable over its range, as the search spreads it."""
    by_path = {variable.path: variable for variable in study.variables}
    columns = []
    for j, variable in enumerate(study.variables):
        low, high = ends(variable, by_path)
        values, value = X[:, j], x[j]
        if variable.scale == "log" and low > 0 and value > 0:
            values, value, low, high = np.log(values), np.log(value), float(np.log(low)), float(np.log(high))
        columns.append((values - value) / (high - low))
    return np.stack(columns, axis=1)


def distance(study: Study, X: Array, x: Array) -> Array:
    """Euclidean distance of setups X (n, d) from one x (d,), variables over their ranges, (n,)."""
    total = np.zeros(len(X))
    for column in shares(study, X, x).T:
        total = total + np.square(column)
    return np.sqrt(total)


def _merged(
    study: Study, front: Setups, present: Setups | None, picked: Sequence[Pick], shape: Front
) -> tuple[Choice, ...]:
    by_row: dict[int, list[Pick]] = {}
    for pick in picked:
        by_row.setdefault(pick.row, []).append(pick)
    return tuple(
        Choice(row, int(front.design[row]), tuple(of), tuple(_reason(study, front, present, shape, p) for p in of))
        for row, of in by_row.items()
    )


def _reason(study: Study, front: Setups, present: Setups | None, shape: Front, pick: Pick) -> str:
    """Why a setup was picked, in words."""
    names = [measure(item.measure.label) for item in study.objectives]
    alone = len(front.design) == 1
    if pick.kind == "best":
        return f"best {names[pick.objective]}" + (", the only setup of the front" if alone else "")
    if pick.kind == "weights":
        least = min(weight for weight in pick.weights if weight > 0)
        said = ", ".join(f"{name} {w / least:.3g}" for name, w in zip(names, pick.weights, strict=True))
        return f"the smallest give-away for weights {said}: {_given_away(names, shape, pick.row)}"
    if pick.kind == "compromise":
        return f"best compromise: {_given_away(names, shape, pick.row)}"
    if pick.kind == "knee":
        what = "knee" if pick.figure > _MARKED else "nearest to a knee, none is marked"
        step = f"any step of up to {100 * pick.step:.0f} % of the front's range"
        return f"{what}: {step} loses at least {number(pick.figure)} times what it gains"
    assert present is not None, "only picks that need no present setup are left without one"
    if pick.kind == "nearest":
        off = shares(study, front.X[[pick.row]], present.X[0])[0]
        j = int(np.argmax(np.abs(off)))
        most = f"{quantity(study.variables[j].path)} by {100 * abs(float(off[j])):.0f} % of its range"
        rest = ", others less" if len(off) > 1 else ""
        return f"{'differs from' if alone else 'nearest to'} the present setup: {most}{rest}"
    said = _joined(gains(study, present.values[0], front.values[pick.row]))
    more = f"; {pick.count:,} setups are better in every objective" if pick.count > 1 else ""
    evenly = "" if alone else ", most evenly of all"
    return f"gains {said} over the present setup{evenly}{more}"


def _given_away(names: Sequence[str], shape: Front, row: int) -> str:
    given = [
        f"{100 * share:.0f} % in {name}"
        for name, share in zip(names, shape.scaled(shape.F[[row]])[0], strict=True)
        if share > 0
    ]
    return f"gives up {_joined(given)} of the front's range" if given else "gives up nothing"


def gains(study: Study, before: Array, after: Array) -> list[str]:
    """What each objective gains from figures (k,) to others, in words: in per cent, of reserves in their unit."""
    said = []
    labels = [item.label for item in study.measures]
    for item in study.objectives:
        k = labels.index(item.measure.label)
        gained = item.sign * (float(before[k]) - float(after[k]))
        if in_per_cent(item.measure) and before[k] > 0:
            said.append(f"{number(100 * gained / float(before[k]), 2)} % in {measure(item.measure.label)}")
        else:
            unit = measured_in(item.measure)
            said.append(f"{number(gained, 2)} {unit}".rstrip() + f" of {measure(item.measure.label)}")
    return said


def in_per_cent(item: Measure) -> bool:
    """Whether a share of a figure says something: of a reserve, which may be about 0, it does not."""
    return item.criterion not in ("bump_reserve", "rebound_reserve")


def _joined(parts: Sequence[str]) -> str:
    return f"{', '.join(parts[:-1])} and {parts[-1]}" if len(parts) > 1 else "".join(parts)
