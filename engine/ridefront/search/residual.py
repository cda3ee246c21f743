"""How far a design is from where no direction is better for all objectives, and what holds it there.

At a design of the front no small step makes every objective better and keeps every limit. Put the other way round
(Karush, Kuhn and Tucker; for several objectives Kuhn and Tucker 1951, from memory): some convex combination of the
objectives' gradients is balanced by limits and bounds that the design touches. What is left where it is not is the
residual,

    min | Σ λ g + Σ μ a |   over λ >= 0, Σ λ = 1, μ >= 0,

g the gradients of objectives over the front's range of each, a those of active limits and bounds, all in the unit cube.
It is the rate at which all objectives could still gain at once, in shares of their ranges, along the best direction:
0.01 means that a step of a tenth of the variables' ranges would bring a thousandth of the front's range in each, as far
as slopes go. 0 is necessary for a best compromise, and enough only where the problem is convex.

Figures have kinks where the worst place or condition changes (`parts`): every choice of worst parts that the design
is close to counts as a gradient of its own. Close is what a step of `REACH` could bring about, for kinks, limits and
bounds alike: a design closer to a bound has no more than that step left to gain by.

Steps and choices are held: the residual is that of the continuous variables, and there is none where all are stepped.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.gradients import continuous
from ridefront.search.parts import Anatomy, Made, branches, excess, figure

Array = NDArray[np.float64]

REACH = 0.005
"""Of the variables' ranges: what a step of this length could bring about counts as active."""

MOST = 32
"""Choices of worst parts of one objective that are looked at."""

WEIGHT = 0.01
"""Share of the balance from which a limit, a bound or a kink is said to hold a design; and how close, of its scale, a
limit without slope must be to leave a design without a residual."""


@dataclass(frozen=True)
class Held:
    """What is known of one design.

    Attributes:
        residual: see above, shares of the objectives' ranges per whole range; NaN where there is none.
        bounds: variables that a bound of their range holds, and which bound: one that is reached, and that going
            downhill in some objective would pass. The balance may do without it where objectives hold each other.
        limits: numbers of the limits that hold it, likewise.
        alike: objectives at a kink that holds it, each with the parts that are worst alike.
    """

    residual: float
    bounds: tuple[tuple[int, Literal["lower", "upper"]], ...] = ()
    limits: tuple[int, ...] = ()
    alike: tuple[tuple[int, tuple[int, ...]], ...] = ()


UNKNOWN = Held(np.nan)


def scales(anatomy: Anatomy, P: Array) -> Array:
    """What gradients of objectives are divided by, (m,), in their figures' units: the range of each over the front; of
    one that is the same throughout its size, 1 where that is 0.

    Args:
        anatomy: of the problem.
        P: (n, parts), each in its figure's unit, of the front; rows with NaN are left out.

    Raises:
        CallError: if no row is without NaN.
    """
    known = P[np.isfinite(P).all(axis=1)]
    if not len(known):
        raise CallError("parts: no design has figures; allowed: at least one")
    found = []
    for made in anatomy.objectives:
        values = figure(made, known)
        spread, size = float(np.ptp(values)), float(np.abs(values).max())
        found.append(spread if spread > 1e-12 * size else size or 1.0)
    return np.array(found)


def held(
    anatomy: Anatomy, U: Array, P: Array, D: Array, levels: tuple[int, ...], smooth: NDArray[np.bool_]
) -> list[Held]:
    """Residuals of a front's designs and what holds them.

    Args:
        anatomy: of the problem.
        U: (n, d), shares of the ranges.
        P: (n, parts), each in its figure's unit; the objectives' ranges are taken over all rows without NaN.
        D: (n, d, parts), as `derivatives` gives them.
        levels: d entries; 0 for a continuous variable.
        smooth: (parts,), False for parts that move in jumps. Where an objective has one, or a limit that the design is
            close to, there is no residual.

    Returns:
        One a design, `UNKNOWN` where there is no residual: the design or its neighbours failed, every variable is
        stepped, or slopes mean nothing.
    """
    free = continuous(levels)
    jumping = any(not smooth[k] for made in anatomy.objectives for group in made.groups for k in group)
    if not free or jumping or not np.isfinite(P).all(axis=1).any():
        return [UNKNOWN] * len(U)
    scale = scales(anatomy, P)
    D = D[:, free]
    known = np.logical_and(np.isfinite(P).all(axis=1), np.isfinite(D[:, :, smooth]).all(axis=(1, 2)))
    D = np.where(smooth, D, 0.0)
    steep = np.sqrt((D * D).sum(axis=1))
    G = np.stack([excess(limit, P) for limit in anatomy.limits], axis=1) if anatomy.limits else np.empty((len(U), 0))
    return [
        _held(anatomy, _Design(U[i, free], P[i], D[i], steep[i], G[i]), scale, free, smooth) if known[i] else UNKNOWN
        for i in range(len(U))
    ]


@dataclass(frozen=True)
class _Design:
    """One design, its d continuous variables only.

    Attributes:
        u: (d,); p: (parts,); D: (d, parts), slopes.
        steep: (parts,), lengths of the slopes.
        g: (limits,), at most 0 where they are kept.
    """

    u: Array
    p: Array
    D: Array
    steep: Array
    g: Array

    def near(self, made: Made) -> float:
        """By how much the steepest of a figure's parts changes over a step of `REACH`, in its unit."""
        return REACH * max(float(self.steep[k]) for group in made.groups for k in group)


def _held(anatomy: Anatomy, design: _Design, scale: Array, free: list[int], smooth: NDArray[np.bool_]) -> Held:
    """Of one design whose continuous variables are `free`; objectives are divided by `scale`, (m,)."""
    gradients, of, rows = _objectives(anatomy, design, scale)
    active = _active(anatomy, design, smooth)
    if active is None:
        return UNKNOWN
    pushes, names = active
    weights, forces, residual = balance(gradients, pushes)
    whole = max(float(np.sum(weights * _lengths(gradients))), np.finfo(float).tiny)
    pushed = forces * _lengths(pushes) > WEIGHT * whole
    holding = [name for name, yes in zip(names, pushed | _wanted(gradients, pushes), strict=True) if yes]
    return Held(
        residual,
        tuple((free[k], "lower" if side < 0 else "upper") for what, k, side in holding if what == "bound"),
        tuple(dict.fromkeys(k for what, k, _ in holding if what == "limit")),
        tuple(_alike(anatomy, of, rows, weights)),
    )


def _wanted(gradients: Array, pushes: Array) -> NDArray[np.bool_]:
    """(b,): bounds and limits, all of them reached, that going downhill in some objective would pass."""
    lengths = _lengths(gradients)[:, None] * _lengths(pushes)[None, :]
    against = -(gradients[:, None, :] * pushes[None, :, :]).sum(axis=2)
    return np.asarray((against > WEIGHT * lengths).any(axis=0))


def balance(gradients: Array, pushes: Array) -> tuple[Array, Array, float]:
    """The shortest convex combination of gradients that pushes can help to cancel.

    Args:
        gradients: (a, d), a at least 1, in shares of the objectives' ranges per whole range.
        pushes: (b, d), gradients of what may not grow, each in any unit.

    Returns:
        λ (a,), with sum 1; μ (b,); and the length of Σ λ g + Σ μ a. A problem of non-negative least squares: for any
        point of the cone, its best multiple has |v|² + (Σλ - 1)² = r²/(1 + r²), r the length at Σλ = 1, so that the
        least of the one is the least of the other.
    """
    from scipy.optimize import nnls  # takes its time to load

    A = np.concatenate([gradients, pushes]).T
    size = float(np.sqrt((gradients * gradients).sum(axis=1).max())) or 1.0
    sums = np.concatenate([np.ones(len(gradients)), np.zeros(len(pushes))])
    lengths = np.concatenate([np.ones(len(gradients)), np.maximum(_lengths(pushes) / size, np.finfo(float).tiny)])
    target = np.zeros(len(A) + 1)
    target[-1] = 1.0
    z, _ = nnls(np.vstack([A / (size * lengths), sums]), target, maxiter=100 * A.shape[1])
    z = z / z[: len(gradients)].sum() / lengths
    return z[: len(gradients)], z[len(gradients) :], float(np.sqrt(np.sum((A @ z) ** 2)))


def _objectives(anatomy: Anatomy, design: _Design, scale: Array) -> tuple[Array, list[int], Array]:
    """Scaled gradients (a, d) of the objectives, which objective each is of, and its derivatives by the parts."""
    of: list[int] = []
    found: list[Array] = []
    for i, made in enumerate(anatomy.objectives):
        rows = branches(made, design.p, design.near(made), MOST)
        of += [i] * len(rows)
        found.append(rows)
    signs = np.array([anatomy.signs[i] for i in of])
    rows = np.concatenate(found)
    return (signs / scale[of])[:, None] * (rows @ design.D.T), of, rows


def _active(
    anatomy: Anatomy, design: _Design, smooth: NDArray[np.bool_]
) -> tuple[Array, list[tuple[Literal["bound", "limit"], int, int]]] | None:
    """Gradients (b, d) of active bounds and limits, and what each is; None where an active limit has no slope."""
    d = len(design.u)
    found: list[Array] = [np.empty((0, d))]
    names: list[tuple[Literal["bound", "limit"], int, int]] = []
    for k in range(d):
        for side, room in ((-1, design.u[k]), (1, 1 - design.u[k])):
            if room <= REACH:
                found.append(side * np.eye(d)[k : k + 1])
                names.append(("bound", k, side))
    for k, limit in enumerate(anatomy.limits):
        if not all(smooth[column] for group in limit.made.groups for column in group):
            if design.g[k] > -WEIGHT:
                return None
            continue
        near = design.near(limit.made)
        if design.g[k] * limit.scale >= -near:
            rows = branches(limit.made, design.p, near, MOST)
            found.append(limit.sign / limit.scale * (rows @ design.D.T))
            names += [("limit", k, 0)] * len(rows)
    return np.concatenate(found), names


def _alike(anatomy: Anatomy, of: list[int], rows: Array, weights: Array) -> list[tuple[int, tuple[int, ...]]]:
    """Objectives whose balance takes several worst parts where one would do, and these parts."""
    found = []
    for i, made in enumerate(anatomy.objectives):
        mine = [row for row, whose, weight in zip(rows, of, weights, strict=True) if whose == i and weight > WEIGHT]
        used = {int(k) for row in mine for k in np.flatnonzero(row)}
        groups = made.groups if made.over != "worst" else (tuple(k for group in made.groups for k in group),)
        parts = [k for group in groups if len(used & set(group)) > 1 for k in group if k in used]
        if parts:
            found.append((i, tuple(dict.fromkeys(parts))))
    return found


def _lengths(rows: Array) -> Array:
    return np.asarray(np.sqrt((rows * rows).sum(axis=1)))
