"""How figures are made of smooth parts, and which of the parts count where.

A figure takes the worst place in each condition, then conditions together. Each place in each condition is a smooth
function of the design; the figure has kinks where the worst one changes. So whoever needs slopes, to refine a design or
to say how good it is, works with the parts, P (n, parts), and with the figure's derivatives by them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Made:
    """How one figure is made: the worst of each group, then the groups together.

    Attributes:
        groups: columns of P, one tuple a condition: its places.
        weights: shares of time of the groups, any scale; "worst" does not look at them.
        over: "mean" Σwx/Σw, "rms" √(Σwx²/Σw), or "worst".
        worst: which end of places counts, and of conditions with "worst".
    """

    groups: tuple[tuple[int, ...], ...]
    weights: tuple[float, ...]
    over: Literal["mean", "rms", "worst"]
    worst: Literal["largest", "smallest"]


@dataclass(frozen=True)
class Limit:
    """A constraint g = sign (figure - limit) / scale <= 0.

    Attributes:
        made: the figure.
        limit: in the figure's unit.
        sign: 1 where the figure must be at most the limit, -1 where at least.
        scale: what an excess is divided by, in the figure's unit.
    """

    made: Made
    limit: float
    sign: Literal[1, -1]
    scale: float


@dataclass(frozen=True)
class Anatomy:
    """Objectives and limits of a problem, in terms of the parts.

    Attributes:
        objectives: how each is made.
        signs: 1 where an objective is to be made small, -1 where large.
        limits: the constraints.
        parts: how many columns P has.
    """

    objectives: tuple[Made, ...]
    signs: tuple[Literal[1, -1], ...]
    limits: tuple[Limit, ...]
    parts: int


def figure(made: Made, P: Array) -> Array:
    """The figure (n,) of parts P (n, parts), in their unit; NaN where a part that it looks at is NaN.

    Sums run group by group, so that a design's bits do not depend on how many stand beside it.
    """
    groups = [_worst_of([P[:, k] for k in group], made.worst) for group in made.groups]
    if made.over == "worst":
        return _worst_of(groups, made.worst)
    total = np.zeros(len(P))
    for x, weight in zip(groups, made.weights, strict=True):
        total = total + weight * (x if made.over == "mean" else x * x)
    total = total / sum(made.weights)
    return total if made.over == "mean" else np.sqrt(total)


def excess(limit: Limit, P: Array) -> Array:
    """g (n,), without unit, of parts P (n, parts) in their figures' units: at most 0 where the limit is kept."""
    return limit.sign * (figure(limit.made, P) - limit.limit) / limit.scale


def branches(made: Made, p: Array, tolerance: float, most: int = 8) -> Array:
    """Derivatives of the figure by the parts, one row for each choice of worst parts that counts as active.

    A choice takes one part in each group ("worst" over groups: one part in all). A part may be chosen where it is no
    further from the worst of its group ("worst": of all groups) than the tolerance.

    Args:
        made: how the figure is made.
        p: (parts,), of one design; finite where the figure looks.
        tolerance: absolute, in the figure's unit; 0 for exact ties only.
        most: rows at most; those whose parts are, in sum, closest to the worst are kept.

    Returns:
        (b, parts), 1 <= b <= most, without unit, closest first: the first row has the exact worst, of equal ones the
        first. Of an "rms" figure of 0 the row is 0, one of its subgradients there.
    """
    if made.over == "worst":
        everywhere = tuple(dict.fromkeys(k for group in made.groups for k in group))
        choices: list[tuple[int, ...]] = [(k,) for _, k in _active(everywhere, p, made.worst, tolerance)[:most]]
    else:
        choices = _closest([_active(group, p, made.worst, tolerance) for group in made.groups], most)
    rows = np.zeros((len(choices), len(p)))
    for row, choice in zip(rows, choices, strict=True):
        for k, slope in zip(choice, _slopes(made, p, choice), strict=True):
            row[k] += slope
    return rows


def _worst_of(figures: list[Array], worst: Literal["largest", "smallest"]) -> Array:
    choose = np.maximum if worst == "largest" else np.minimum
    total = figures[0]
    for one in figures[1:]:
        total = choose(total, one)
    return total


def _active(
    group: tuple[int, ...], p: Array, worst: Literal["largest", "smallest"], tolerance: float
) -> list[tuple[float, int]]:
    """Distance from the worst and column of the parts of a group that may be chosen, closest first."""
    sign = 1.0 if worst == "largest" else -1.0
    top = max(sign * float(p[k]) for k in group)
    found = [(top - sign * float(p[k]), k) for k in group]
    return sorted((item for item in found if item[0] <= tolerance), key=lambda item: item[0])


def _closest(by_group: list[list[tuple[float, int]]], most: int) -> list[tuple[int, ...]]:
    """The choices of one part a group with the smallest sums of distances; exact, since sums only grow."""
    kept: list[tuple[float, tuple[int, ...]]] = [(0.0, ())]
    for group in by_group:
        longer = [(gap + more, (*choice, k)) for gap, choice in kept for more, k in group]
        kept = sorted(longer, key=lambda item: item[0])[:most]
    return [choice for _, choice in kept]


def _slopes(made: Made, p: Array, choice: tuple[int, ...]) -> list[float]:
    """Derivative of the figure by each part of a choice."""
    if made.over == "worst":
        return [1.0]
    whole = sum(made.weights)
    if made.over == "mean":
        return [weight / whole for weight in made.weights]
    x = [float(p[k]) for k in choice]
    size = float(np.sqrt(sum(w * each * each for w, each in zip(made.weights, x, strict=True)) / whole))
    return [weight * each / (whole * size) if size > 0 else 0.0 for weight, each in zip(made.weights, x, strict=True)]
