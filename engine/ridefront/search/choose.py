"""One design out of many: picks from a front, each with what it was picked by. Arrays in, arrays out.

Dominated rows neither are picked nor count towards the front's range, so that adding some changes nothing; nor does the
unit of an objective. Rows may be shut out by requirements (`allowed`); the range remains that of the whole front, so
that shutting out other rows changes no pick.

Weights are those of an augmented Chebyshev achievement function (Wierzbicki 1980, see `achievement`); a knee goes by
the trade-off of Rachmawati and Srinivasan (2009), see `knee`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.front import nondominated

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

Kind = Literal["weights", "compromise", "best", "knee", "nearest", "better"]

AUGMENTED = 1e-4
"""Share of the sum that is added to the largest weighted give-away: small, so that it only keeps dominated rows out."""

STEP = 0.1
"""What "a little" is where a knee is looked for, in shares of the front's range; larger where the front is sparse."""


@dataclass(frozen=True)
class Front:
    """A front to pick from.

    Attributes:
        F: (n, m), each objective in a unit of its own, to be minimised.
        kept: (n,), rows that no other row dominates, of each that are equal the first.
        low, span: (m,), least figure and range of the kept rows, in F's units; a span of 0 is one that does not vary.
    """

    F: Array
    kept: Flags
    low: Array
    span: Array

    def scaled(self, F: Array) -> Array:
        """Figures F (k, m), in the front's units, as shares of its range: 0 at its best, 1 at its worst, beyond for
        others; 0 throughout for objectives in which it does not vary.
        """
        varies = self.span > 0
        S: Array = np.where(varies, (F - self.low) / np.where(varies, self.span, 1.0), 0.0)
        return S


@dataclass(frozen=True)
class Pick:
    """A row of a front, and what it was picked by.

    Attributes:
        row: of the front.
        kind: the rule.
        objective: of "best", which.
        weights: of "weights", normalised, (m,).
        against: of "better", the figures (m,) that it was to better.
        figure: of "weights" and "compromise" the largest (weighted) give-away; of "knee" what a step costs over what it
            gains, at the least; of "nearest" the distance; of "better" the least gain; give-aways and gains over the
            front's range. 0 for "best".
        step: of "knee", the step, over the front's range.
        count: of "better", how many of the front's allowed rows are better in every objective.
    """

    row: int
    kind: Kind
    objective: int = -1
    weights: tuple[float, ...] = ()
    against: tuple[float, ...] = ()
    figure: float = 0.0
    step: float = 0.0
    count: int = 0


def front_of(F: Array) -> Front:
    """A front of rows F (n, m), each objective in a unit of its own, to be minimised.

    Raises:
        CallError: if F has no row or no objective, NaN, infinity, or a figure beyond `LARGE` of `front`.
    """
    if F.ndim != 2 or not F.size:
        raise CallError(f"F: {F.shape}; allowed: at least one row and one objective")
    if not np.isfinite(F).all():
        raise CallError("F: has NaN or infinity; allowed: finite figures")
    kept = nondominated(F, np.zeros(len(F)))
    low = F[kept].min(axis=0)
    return Front(F, kept, low, F[kept].max(axis=0) - low)


def normalised(weights: Array, m: int) -> Array:
    """The `weights` (m,), on any scale, as shares that add up to 1.

    Args:
        weights: one an objective.
        m: number of objectives.

    Raises:
        CallError: they are not m finite numbers, none below 0 and one above.
    """
    if weights.shape != (m,) or not np.isfinite(weights).all() or (weights < 0).any() or not (weights > 0).any():
        raise CallError(f"weights: {weights.tolist()}; allowed: {m} finite numbers, none below 0 and one above")
    shares: Array = weights / weights.max()
    whole: Array = shares / shares.sum()
    return whole


def achievement(front: Front, F: Array, weights: Array) -> Array:
    """Achievement of figures F (k, m), in the front's units, with its ideal as the reference: (k,), to be minimised.

    The largest give-away over the front's range, weighted by `weights` (m,), shares of 1, and `AUGMENTED` times the sum
    of all give-aways: the augmented Chebyshev function (Wierzbicki, "The use of reference objectives in multiobjective
    optimization", in Fandel and Gal, Multiple Criteria Decision Making: Theory and Application, Springer 1980,
    468-486). The sum is not weighted, so that a weight of 0 picks no dominated row either.
    """
    S = front.scaled(F)
    return _largest(S * weights) + AUGMENTED * _sum(S)


def by_weights(front: Front, weights: Array, allowed: Flags | None = None) -> Pick | None:
    """The row with the best achievement, see `achievement`; None where no row is allowed.

    Args:
        front: to pick from.
        weights: (m,), how much each objective counts; only their shares of the sum matter, as `normalised` gives them.
        allowed: (n,), True for rows that may be picked; None for all.

    Raises:
        CallError: as `normalised`.
    """
    w = normalised(weights, front.F.shape[1])
    row = _first(front, allowed, achievement(front, front.F, w))
    if row is None:
        return None
    figure = float(_largest(front.scaled(front.F[[row]]) * w)[0])
    return Pick(row, "weights", weights=tuple(w.tolist()), figure=figure)


def best_compromise(front: Front, allowed: Flags | None = None) -> Pick | None:
    """The row whose largest give-away is smallest; of equals the smallest sum of them.

    Of the rows `allowed` (n,), all where that is None; None where there is none.
    """
    S = front.scaled(front.F)
    row = _first(front, allowed, _largest(S), _sum(S))
    return None if row is None else Pick(row, "compromise", figure=float(_largest(S[[row]])[0]))


def best_in(front: Front, objective: int, allowed: Flags | None = None) -> Pick | None:
    """The row that is best in the given objective, counted from 0; of equals the better compromise.

    Of the rows `allowed` (n,), all where that is None; None where there is none.
    """
    S = front.scaled(front.F)
    row = _first(front, allowed, front.F[:, objective], _largest(S), _sum(S))
    return None if row is None else Pick(row, "best", objective=objective)


def nearest(front: Front, distance: Array, allowed: Flags | None = None) -> Pick | None:
    """The row at the smallest distance (n,), in any unit.

    Of the rows `allowed` (n,), all where that is None; None where there is none.
    """
    row = _first(front, allowed, distance)
    return None if row is None else Pick(row, "nearest", figure=float(distance[row]))


def betters(front: Front, f: Array) -> Flags:
    """(n,): rows that are better than the figures f (m,), in the front's units, in every objective."""
    found: Flags = np.all(f > front.F, axis=1)
    return found


def better(front: Front, f: Array, allowed: Flags | None = None) -> Pick | None:
    """Of the rows that are better than f (m,), in the front's units, in every objective, the one that gains most
    evenly: whose least gain over the front's range is largest; of equals the largest sum of gains. Objectives that do
    not vary count for nothing in that.

    Of the rows `allowed` (n,), all where that is None; None where there is none.
    """
    varies = front.span > 0
    gains = np.where(varies, (f - front.F) / np.where(varies, front.span, 1.0), np.inf)
    least = -_largest(-gains)
    usable = betters(front, f) & front.kept
    usable = usable if allowed is None else usable & allowed
    row = _first(front, usable, -least, _sum(front.scaled(front.F)))
    if row is None:
        return None
    figure = float(least[row]) if varies.any() else 0.0
    return Pick(row, "better", against=tuple(f.tolist()), figure=figure, count=int(usable.sum()))


def conflicts(front: Front, f: Array, allowed: Flags | None = None) -> tuple[tuple[int, ...], ...]:
    """Why no row is better than f (m,) in every objective: the smallest sets of objectives of which no row betters all.

    Args:
        front: whose rows are looked at.
        f: figures to better, in the front's units.
        allowed: (n,), True for rows that count; None for all.

    Returns:
        Sets of objectives, counted from 0, of which every smaller one can be bettered; empty where some row betters all
        objectives.
    """
    usable = f > front.F
    if allowed is not None:
        usable = usable & allowed[:, None]
    found: list[tuple[int, ...]] = []
    for size in range(1, front.F.shape[1] + 1):
        for group in combinations(range(front.F.shape[1]), size):
            if not any(set(smaller) <= set(group) for smaller in found) and not usable[:, group].all(axis=1).any():
                found.append(group)
    return tuple(found)


def knee(front: Front, allowed: Flags | None = None) -> Pick | None:
    """The row from which any small step costs most over what it gains.

    A step leads to another row, at most `step` away in any objective and at least a quarter of it in some; with figures
    over the front's range, its price is the sum of what it loses over the sum of what it gains, and a row's is the
    cheapest of its steps (Rachmawati and Srinivasan, "Multiobjective evolutionary algorithm with controllable focus on
    the knees of the Pareto front", IEEE Trans. Evol. Comput. 13 (2009) 810-824, whose trade-off this is, here over
    neighbours). On a smooth front it is the place where a little of each objective exchanges for as much of any other;
    a price well above 1 is a marked knee. A row is at the front's edge, and no knee, unless for any two objectives some
    step gains most in the one and loses most in the other; nor is one with few neighbours. The step is `STEP`, doubled,
    up to the whole range, as long as more than half of the rows have too few neighbours. Objectives that do not vary
    count for nothing.

    Args:
        front: to pick from.
        allowed: (n,), True for rows that may be picked; None for all.

    Returns:
        None where fewer than two objectives vary, or the front has no inner rows, or none that is allowed.
    """
    rows = np.flatnonzero(front.kept)
    S = np.ascontiguousarray(front.scaled(front.F[rows])[:, front.span > 0])
    if S.shape[1] < 2:
        return None
    needed = min(4 * S.shape[1] * (S.shape[1] - 1), len(rows) - 1)
    step = STEP
    price, counts = _prices(S, step)
    while np.median(counts) < needed and step < 1:
        step = min(2 * step, 1.0)
        price, counts = _prices(S, step)
    inner = np.isfinite(price) & (2 * counts >= needed)
    if allowed is not None:
        inner &= allowed[rows]
    if not inner.any():
        return None
    at = np.flatnonzero(inner)
    # On a straight front all prices are equal but for rounding.
    keys = (np.round(_sum(S[at]), 9), np.round(_largest(S[at]), 9), -np.round(price[at], 6))
    k = int(at[np.lexsort((*front.F[rows[at]].T[::-1], *keys))[0]])
    return Pick(int(rows[k]), "knee", figure=float(price[k]), step=step)


def _prices(S: Array, step: float) -> tuple[Array, NDArray[np.intp]]:
    """Of each row (n,) the price of its cheapest step, NaN at the edge, and how many steps there are."""
    order = np.argsort(S[:, 0], kind="stable")
    columns = np.ascontiguousarray(S[order].T)
    m, first = len(columns), columns[0]
    starts, ends = np.searchsorted(first, first - step, "left"), np.searchsorted(first, first + step, "right")
    price, counts = np.full(len(S), np.nan), np.zeros(len(S), dtype=np.intp)
    for k, (start, end) in enumerate(zip(starts, ends, strict=True)):
        moves = columns[:, start:end] - columns[:, k : k + 1]
        far = np.abs(moves).max(axis=0)
        moves = moves[:, (far <= step) & (far >= step / 4)]
        counts[order[k]] = moves.shape[1]
        ways = np.bincount(m * moves.argmin(axis=0) + moves.argmax(axis=0), minlength=m * m)
        if np.count_nonzero(ways) == m * (m - 1):
            gain, loss = _sum(np.maximum(-moves, 0.0).T), _sum(np.maximum(moves, 0.0).T)
            price[order[k]] = (loss[gain > 0] / gain[gain > 0]).min()
    return price, counts


def rank(front: Front, pick: Pick, F: Array, distance: Array) -> Array:
    """How well other designs do by a pick's own rule, (k,), the smaller the better.

    Args:
        front: that the pick is of.
        pick: whose rule counts; a knee's is to lose least against the pick, over the front's range.
        F: (k, m), figures of the others, in the front's units, to be minimised.
        distance: (k,), in any unit; looked at for "nearest" only.

    Returns:
        For "nearest" the distance; else shares of the front's range, weighted for "weights" and, all alike, for
        "compromise", with `AUGMENTED` times the sum of all give-aways.
    """
    S = front.scaled(F)
    m = F.shape[1]
    if pick.kind == "nearest":
        return distance
    if pick.kind == "weights":
        return achievement(front, F, np.array(pick.weights))
    if pick.kind == "compromise":
        return achievement(front, F, np.full(m, 1.0 / m))
    if pick.kind == "best":
        return S[:, pick.objective] + AUGMENTED * _sum(S)
    base = front.scaled(np.array([pick.against]) if pick.kind == "better" else front.F[[pick.row]])
    return _largest(S - base) + AUGMENTED * _sum(S)


@dataclass(frozen=True)
class Missed:
    """Requirements that no row meets all of.

    Attributes:
        row: that misses least: its largest miss over the column's range is smallest, then the sum of them.
        misses: (k,), by how much it misses each, in the columns' units; 0 where it is met, infinity where the row has
            no figure.
        without: (k,), for each requirement how many rows meet all the others.
    """

    row: int
    misses: tuple[float, ...]
    without: tuple[int, ...]


def meets(values: Array, limits: Array, signs: Array) -> Flags:
    """Which requirements rows meet.

    Args:
        values: (n, k), a column for each requirement, each in a unit of its own; NaN meets none.
        limits: (k,), in the columns' units; signs: (k,), 1 for at most, -1 for at least.

    Returns:
        (n, k), True where the requirement is met.
    """
    found: Flags = signs * values <= signs * limits
    return found


def least_missed(values: Array, limits: Array, signs: Array) -> Missed:
    """The row that comes nearest to meeting all requirements.

    Args:
        values: (n, k), n and k at least 1, a column for each requirement, each in a unit of its own; NaN meets none.
        limits: (k,), in the columns' units; signs: (k,), 1 for at most, -1 for at least.
    """
    met = meets(values, limits, signs)
    missed = np.where(met, 0.0, np.where(np.isnan(values), np.inf, signs * (values - limits)))
    spans = np.array([_span(column, limit) for column, limit in zip(values.T, limits, strict=True)])
    shares = missed / spans
    row = int(np.lexsort((_sum(shares), _largest(shares)))[0])
    without = [int(np.delete(met, j, axis=1).all(axis=1).sum()) for j in range(met.shape[1])]
    return Missed(row, tuple(missed[row].tolist()), tuple(without))


def _span(column: Array, limit: float) -> float:
    known = column[np.isfinite(column)]
    span = float(known.max() - known.min()) if len(known) else 0.0
    return span if span > 0 else max(abs(float(limit)), 1.0)


def _first(front: Front, allowed: Flags | None, *keys: Array) -> int | None:
    """The allowed row on the front that is smallest in the first key, of equals in the next; None where there is none.

    Ties go to the smaller first objective, and so on: a row that dominates another by less than rounding comes first.
    """
    rows = np.flatnonzero(front.kept if allowed is None else front.kept & allowed)
    if not len(rows):
        return None
    order = np.lexsort((*front.F[rows].T[::-1], *(key[rows] for key in reversed(keys))))
    return int(rows[order[0]])


def _largest(S: Array) -> Array:
    total: Array = S.max(axis=1)
    return total


def _sum(S: Array) -> Array:
    total = np.zeros(len(S))
    for column in S.T:
        total = total + column
    return total
