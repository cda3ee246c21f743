"""Several fronts against each other: what they have in common, how far each reaches, what the same ride costs in each.

Arrays and studies in, figures out; `cards.compared` puts them into cards, `differ` says how the studies differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from math import ceil, floor, log10
from typing import Any

import moocore
import numpy as np

from ridefront.criteria import CRITERIA
from ridefront.errors import CallError
from ridefront.road import Profile, kind_of
from ridefront.search.volume import Volume, box_around
from ridefront.study.model import Array, Measure, Study
from ridefront.units import exact_factor

LEVELS = 10
"""Levels of the first objective in a table, at most."""

_EQUAL = 1e-9  # of the range over all fronts: closer than this, figures are equal; conversion between units rounds
_BLOCK = 512  # designs that are held against a front at once


@dataclass(frozen=True)
class Common:
    """A measure that all of several studies have: criterion, place, conditions, and how these are combined.

    Attributes:
        label: of the first study; unit: of it too, in which all are compared.
        sign: 1 where all studies make it small, -1 where all make it large, 0 where it is no objective of all.
        labels: in each study; scales: stored figure of each times this is the figure in `unit`.
    """

    label: str
    unit: str
    sign: int
    labels: tuple[str, ...]
    scales: tuple[float, ...]


@dataclass(frozen=True)
class Reach:
    """How far fronts reach.

    Attributes:
        volumes: hypervolume of each in their common box, as a share of it; together: of all fronts as one.
        covers: covers[i][j], share of the designs of front j that some design of front i equals or betters; NaN where
            front j has none.
    """

    volumes: tuple[float, ...]
    together: float
    covers: tuple[tuple[float, ...], ...]


def common_measures(studies: Sequence[Study]) -> tuple[Common, ...]:
    """The measures that all studies have, objectives of the first one first.

    Roads are the same where what is driven is the same, whatever they are called; loads where they are called the same.
    Shares of time count where conditions are averaged.
    """
    tables = [{_identity(study, item): item for item in reversed(study.measures)} for study in studies]
    signs = [{item.measure.label: int(item.sign) for item in study.objectives} for study in studies]
    found = []
    for first in studies[0].measures:
        key = _identity(studies[0], first)
        if not all(key in table for table in tables):
            continue
        measures = [table[key] for table in tables]
        ways = {sign.get(item.label, 0) for sign, item in zip(signs, measures, strict=True)}
        base = exact_factor(first.unit)
        found.append(
            Common(
                first.label,
                first.unit,
                ways.pop() if len(ways) == 1 else 0,
                tuple(item.label for item in measures),
                tuple(float(exact_factor(item.unit) / base) for item in measures),
            )
        )
    return tuple(found)


def common_objectives(studies: Sequence[Study], names: Sequence[str]) -> tuple[Common, ...]:
    """The objectives that all studies have.

    Args:
        studies: at least two; names: what to call them.

    Raises:
        CallError: fewer than two studies, or fewer than two common objectives.
    """
    if len(studies) < 2:
        raise CallError("one result; allowed: two or more, to compare with each other")
    found = tuple(item for item in common_measures(studies) if item.sign)
    if len(found) >= 2:
        return found
    count = "no objective" if not found else f"only one objective ({found[0].label})"
    have = "; ".join(
        f"{name} has {', '.join(item.measure.label for item in study.objectives)}"
        for name, study in zip(names, studies, strict=True)
    )
    near = _near(studies, names, {item.label for item in found})
    raise CallError(
        f"{', '.join(names)}: {count} in common; allowed: results that share two or more, each with the same "
        "criterion, place, conditions and direction",
        f"{have}{near}",
    )


def _near(studies: Sequence[Study], names: Sequence[str], shared: set[str]) -> str:
    """Objectives that have one name and mean different things, in words."""
    first, said = studies[0], []
    for item in first.objectives:
        label = item.measure.label
        if label in shared:
            continue
        mine = _parts(first, item.measure)
        for study, name in zip(studies[1:], names[1:], strict=True):
            other = next((one.measure for one in study.objectives if one.measure.label == label), None)
            unlike = [] if other is None else [key for key, value in _parts(study, other).items() if value != mine[key]]
            if unlike:
                said.append(f"; {label} of {name} has other {' and '.join(unlike)} than that of {names[0]}")
                break
    return "".join(said)


def _identity(study: Study, item: Measure) -> str:
    return repr(tuple(_parts(study, item).values()))


def _parts(study: Study, item: Measure) -> dict[str, Any]:
    """What must be the same for two measures to be one, by what to call it."""
    kind = CRITERIA[item.criterion].kind
    return {
        "criterion": item.criterion,
        "place": item.place,
        "combination": (item.over if kind == "condition" else None, item.worst, item.scatter),
        "conditions": _conditions(study, item) if kind == "condition" else (),
        "loads": sorted(study.loads[k].name for k in item.loads) if kind == "load" else (),
    }


def _conditions(study: Study, item: Measure) -> list[str]:
    """What is driven under which load, and where conditions are averaged for which share of the time."""
    driven = [study.conditions[k] for k in item.conditions]
    total = sum(one.weight for one in driven)
    return sorted(
        repr(
            (
                road_meaning(study, one.road),
                f"{one.speed:.9g}",
                study.loads[one.load].name,
                None if item.over == "worst" else f"{one.weight / total:.9g}",
                one.exposure,
            )
        )
        for one in driven
    )


def road_meaning(study: Study, index: int) -> str:
    """What is driven on one of a study's roads: neither its name nor how many of it."""
    road = study.roads[index]
    if isinstance(road, Profile):
        return repr(("measured", road.step, road.estimated, road.content))
    drop = {"name", "realisations"} | (set() if study.model == "full-car" else {"tracks", "side"})
    return repr((kind_of(road), *((key, value) for key, value in asdict(road).items() if key not in drop)))


def in_common(study: Study, index: int, common: Sequence[Common], values: Array) -> Array:
    """Figures (n, k) of a study's measures as those of the common measures (n, len(common)), in their units."""
    labels = [item.label for item in study.measures]
    columns = [values[:, labels.index(item.labels[index])] * item.scales[index] for item in common]
    return np.stack(columns, axis=1)


def reach(fronts: Sequence[Array]) -> Reach:
    """Hypervolume and coverage of fronts.

    The box goes from the best to the worst figure over all fronts, and a tenth of that beyond. Coverage is Zitzler's
    C metric (Zitzler, Thiele, IEEE Trans. Evol. Comput. 3 (1999) 257-271). With more than three objectives hypervolume
    is an estimate.

    Args:
        fronts: F (n, m) each, to be minimised, in one unit; some may be empty, not all.
    """
    every = np.concatenate(fronts)
    box = box_around(every)
    slack = slack_of(every)

    def volume(F: Array) -> float:
        counted = Volume(box)
        counted.update(F, F)
        return counted.value() if len(F) else 0.0

    return Reach(
        tuple(volume(F) for F in fronts),
        volume(every),
        tuple(tuple(coverage(one, other, slack) for other in fronts) for one in fronts),
    )


def slack_of(F: Array) -> Array:
    """Differences of objectives (m,) that come from conversion between units only; F (n, m) of all fronts."""
    return np.asarray(_EQUAL * (F.max(axis=0) - F.min(axis=0)))


def coverage(one: Array, other: Array, slack: Array | float = 0.0) -> float:
    """Share of the designs of another front that some design of one equals or betters in all objectives.

    Args:
        one: (n, m), other: (k, m), to be minimised.
        slack: (m,), how much worse still counts as equal.

    Returns:
        0 to 1; NaN where the other has no design.
    """
    if not len(other):
        return float("nan")
    if not len(one):
        return 0.0
    best = one[moocore.is_nondominated(one)]
    count = 0
    for start in range(0, len(other), _BLOCK):
        limits = other[start : start + _BLOCK] + slack
        held = best[None, :, 0] <= limits[:, None, 0]
        for j in range(1, best.shape[1]):
            held &= best[None, :, j] <= limits[:, None, j]
        count += int(held.any(axis=1).sum())
    return count / len(other)


def reached(first: Array, second: Array, levels: Array, slack: float = 0.0) -> Array:
    """Best second objective among designs whose first is no worse than each level.

    Args:
        first, second: (n,), to be minimised.
        levels: (k,), of the first; slack: how much above a level still counts.

    Returns:
        (k,), NaN where no design has such a first.
    """
    order = np.argsort(first, kind="stable")
    best = np.minimum.accumulate(second[order]) if len(order) else second
    count = np.searchsorted(first[order], levels + slack, side="right")
    return np.where(count > 0, best[np.maximum(count - 1, 0)] if len(best) else np.nan, np.nan)


def edge(first: Array, second: Array) -> tuple[Array, Array]:
    """The corners of the line that `reached` draws over all levels, from the best of the first to the best second.

    Returns:
        x, y, (c,) each; c is odd, or 0 where there is no design.
    """
    order = np.lexsort((second, first))
    x, y = first[order], second[order]
    better = np.ones(len(x), dtype=np.bool_)
    better[1:] = y[1:] < np.minimum.accumulate(y)[:-1]
    x, y = x[better], y[better]
    return np.repeat(x, 2)[1:], np.repeat(y, 2)[:-1] if len(y) else y


def levels_of(fronts: Sequence[Array], most: int = LEVELS) -> Array:
    """Round levels of the first objective, from the best that any front reaches to where no other objective gains.

    Args:
        fronts: F (n, m) each, to be minimised, in one unit; empty ones do not count.
        most: how many steps at most.

    Returns:
        (k,), rising; the one level beyond which nothing is gained where no round one lies between.
    """
    some = [F for F in fronts if len(F)]
    low = min(float(F[:, 0].min()) for F in some)
    high = max(float(F[F[:, j] == F[:, j].min(), 0].min()) for F in some for j in range(1, F.shape[1]))
    step = round_step((high - low) / most)
    if step <= 0:
        return np.array([high])
    counts = range(ceil(low / step - 1e-9), ceil(high / step - 1e-9) + 1)
    return np.array([float(f"{k * step:.12g}") for k in counts])


def round_step(rough: float) -> float:
    """The smallest of 1, 2 and 5 times a power of ten that is no smaller than a rough step; 0 for none."""
    if not rough > 0:
        return 0.0
    power = 10.0 ** floor(log10(rough))
    return next(k for k in (1, 2, 5, 10) if k * power >= rough * (1 - 1e-9)) * power
