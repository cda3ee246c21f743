"""Linear models of objectives and limits around designs, many at once.

A figure that takes the worst of several smooth parts is, between its kinks, one of several smooth functions. Each of
these is a row here. Where a figure sums conditions of which each takes its worst place, the rows are the choice of all
worst places, and for each condition that choice with another place in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.search.parts import Anatomy, Made, excess, figure

Array = NDArray[np.float64]
Places = NDArray[np.intp]


@dataclass(frozen=True)
class Lines:
    """Rows of linear models of n designs.

    Attributes:
        value: (n, r), in spans for objectives, over the limits' scales for limits.
        slope: (n, r, k), derivatives of these by the free variables, per whole range.
        owner: (r,), the objective or limit that a row belongs to, counted from 0.
    """

    value: Array
    slope: Array
    owner: Places


class Slopes:
    """Objectives in spans, and limits, of a problem.

    Args:
        anatomy: of the problem.
        span: (m,), of each objective, in its figure's unit: what counts as 1.
    """

    def __init__(self, anatomy: Anatomy, span: Array) -> None:
        self.anatomy, self.span = anatomy, span
        objectives = zip(anatomy.objectives, anatomy.signs, span, strict=True)
        self._objectives = [(made, float(sign / each), 0.0) for made, sign, each in objectives]
        self._limits = [
            (limit.made, limit.sign / limit.scale, limit.sign * limit.limit / limit.scale) for limit in anatomy.limits
        ]

    def objectives(self, P: Array) -> Array:
        """(n, m): signed objectives of parts P (n, parts) over their spans, to be minimised."""
        return np.stack([figure(made, P) * factor for made, factor, _ in self._objectives], axis=1)

    def violation(self, P: Array) -> Array:
        """(n,), without unit: the sum of what limits are exceeded by, over their scales, of parts P (n, parts); 0 where
        all hold.
        """
        total = np.zeros(len(P))
        for limit in self.anatomy.limits:
            total = total + np.maximum(excess(limit, P), 0.0)
        return total

    def objective_lines(self, P: Array, J: Array) -> Lines:
        """Rows of the objectives, in spans, at parts P (n, parts) with derivatives J (n, k, parts)."""
        return _stacked(self._objectives, P, J)

    def limit_lines(self, P: Array, J: Array) -> Lines:
        """Rows of the limits' excess over their scales, without unit, at most 0 where a limit is kept; at parts P
        (n, parts) with derivatives J (n, k, parts). No row where there is no limit.
        """
        return _stacked(self._limits, P, J)


def _stacked(figures: list[tuple[Made, float, float]], P: Array, J: Array) -> Lines:
    found = [(_lines(made, P, J), factor, shift) for made, factor, shift in figures]
    if not found:
        return Lines(np.empty((len(P), 0)), np.empty((len(P), 0, J.shape[1])), np.empty(0, dtype=np.intp))
    return Lines(
        np.concatenate([value * factor - shift for (value, _), factor, shift in found], axis=1),
        np.concatenate([slope * factor for (_, slope), factor, _ in found], axis=1),
        np.repeat(np.arange(len(found)), [value.shape[1] for (value, _), _, _ in found]),
    )


def _lines(made: Made, P: Array, J: Array) -> tuple[Array, Array]:
    """Values (n, r) and derivatives (n, r, k) of a figure's rows; of summed conditions the first is the figure."""
    by_part = J.transpose(0, 2, 1)
    if made.over == "worst":
        columns = list(dict.fromkeys(k for group in made.groups for k in group))
        return P[:, columns], by_part[:, columns]
    choices = _choices(made, P)
    x = np.take_along_axis(P[:, None, :], choices, axis=2)
    weights = np.array(made.weights) / sum(made.weights)
    value = (x * weights).sum(axis=2)
    shares = np.broadcast_to(weights, x.shape)
    if made.over == "rms":
        value = np.sqrt((x * x * weights).sum(axis=2))
        shares = x * weights / np.where(value > 0, value, 1.0)[:, :, None]
    slope = np.zeros((*value.shape, J.shape[1]))
    for g in range(choices.shape[2]):
        slope += shares[:, :, g, None] * np.take_along_axis(by_part, choices[:, :, g, None], axis=1)
    return value, slope


def _choices(made: Made, P: Array) -> Places:
    """(n, r, groups): columns chosen; first the worst of each group, then that with one group's choice another one."""
    worst = np.argmax if made.worst == "largest" else np.argmin
    at = [worst(P[:, list(group)], axis=1) for group in made.groups]
    first = np.stack([np.array(group)[k] for group, k in zip(made.groups, at, strict=True)], axis=1)
    found = [first]
    for g, (group, k) in enumerate(zip(made.groups, at, strict=True)):
        for j in range(len(group) - 1):
            other = first.copy()
            other[:, g] = np.array(group)[j + (j >= k)]
            found.append(other)
    return np.stack(found, axis=1)
