"""Local search: designs with slopes, and walkers that go downhill in several objectives at once.

A walker makes the largest of its objectives' excess over a target small, under limits and bounds: an achievement
function in epigraph form (Wierzbicki, in: Fandel, Gal (eds), Multiple Criteria Decision Making, Springer 1980,
468-486; from memory), by sequential quadratic programming over the active parts with a trust region. Slopes come from
differences where they must, else from what the last step has shown (Broyden, Mathematics of Computation 19 (1965)
577-593; from memory); curvature by damped BFGS (Powell, Lecture Notes in Mathematics 630 (1978) 144-157; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.search.asked import snap
from ridefront.search.quadratic import solve
from ridefront.search.slopes import Lines, Slopes

Array = NDArray[np.float64]
Places = NDArray[np.intp]

RELAXED = 8  # levels from which a discrete variable is treated as a continuous one, and rounded
DIFFERENCE = 1e-4  # step of differences, of a continuous variable's range
SUM_SHARE = 0.001  # of the sum of objectives in an achievement function, against weakly optimal designs
MARGIN = 1e-7  # by which linear models of limits are kept, so that what they miss does not make a design infeasible
PENALTY = 3.0  # of violation, at least; twice the largest multiplier of a limit where that is more
SMALL_GAIN = 3e-6  # of a span: a smaller predicted gain is not worth an evaluation
SMALL_STEP = 1e-6  # of a range
ROWS = 14  # of objectives, and of limits, that a step looks at: those that may become the largest within reach
TOGETHER = 256  # programmes solved at once
SOFTEST, HARDEST = 1e-3, 100.0  # bounds of a curvature's eigenvalues


@dataclass
class Point:
    """A design with its parts, their slopes and a curvature.

    Attributes:
        u: (d,), shares of the ranges, snapped.
        p: (parts,), each in its figure's unit; empty before it is known.
        z: (m,), objectives in spans; v: violation, without unit. Both are `p`'s.
        J: (k, parts), derivatives by the free variables, in the parts' units per whole range; empty before it is known.
        B: (k, k), curvature of the achievement function, in spans per range squared, positive definite.
        fresh: whether J comes from differences here.
    """

    u: Array
    p: Array
    z: Array
    v: float
    J: Array
    B: Array
    fresh: bool = False

    def merit(self, target: Array, penalty: float) -> float:
        """Achievement over a target (m,), both in spans: the largest excess, `SUM_SHARE` of the sum of all, and
        `penalty` times the violation.
        """
        excess = self.z - target
        return float(excess.max() + SUM_SHARE * excess.sum()) + penalty * self.v


@dataclass(frozen=True)
class Task:
    """A step to be found.

    Attributes:
        point: where from.
        target: (m,), in spans.
        reach: of the trust region, a share of each range; penalty: spans for a violation of 1; margin: by which linear
            models of limits are kept, over their scales.
    """

    point: Point
    target: Array
    reach: float
    penalty: float = 10 * PENALTY
    margin: float = MARGIN


@dataclass(frozen=True)
class Promise:
    """A step, what it promises, and what held it.

    Attributes:
        step: (k,), of the free variables, shares of the ranges.
        merit: as linear models predict it of where the step leads, in spans.
        pull: (parts,), the Lagrangian's derivatives by the parts, in spans per unit of each; empty where the point's
            slopes are not fresh, since no curvature can be learnt from there.
        wall: the largest multiplier of a limit, 0 where there is none.
    """

    step: Array
    merit: float
    pull: Array
    wall: float


class Terrain:
    """What steps are made of: the problem, its free variables, objectives over spans.

    Args:
        slopes: of the problem.
        levels: the design space.

    Attributes:
        free: (k,), variables that move: continuous ones, and discrete ones of `RELAXED` levels or more.
        tied: (d - k,), the other ones.
    """

    def __init__(self, slopes: Slopes, levels: tuple[int, ...]) -> None:
        self.slopes, self.levels = slopes, levels
        self.free = np.array([j for j, count in enumerate(levels) if not 0 < count < RELAXED], dtype=np.intp)
        self.tied = np.array([j for j, count in enumerate(levels) if 0 < count < RELAXED], dtype=np.intp)
        self._steps = np.array([1.0 / levels[j] if levels[j] else DIFFERENCE for j in self.free])

    def figures(self, P: Array) -> tuple[Array, Array]:
        """Objectives in spans (n, m) and violation (n,), without unit, of parts P (n, parts)."""
        return self.slopes.objectives(P), self.slopes.violation(P)

    def all_at(self, known: Sequence[tuple[Array, Array, Array, Array]]) -> list[Point]:
        """Points of what is known of each: u (d,), p (parts,), J (k, parts) and B (k, k), in the units of `Point`.

        Objectives and violation follow from p. The points are not fresh.
        """
        if not known:
            return []
        Z, V = self.figures(np.stack([p for _, p, _, _ in known]))
        return [Point(u, p, z, float(v), J, B) for (u, p, J, B), z, v in zip(known, Z, V, strict=True)]

    def neighbours(self, u: Array) -> tuple[Array, Array]:
        """Designs (k, d) beside u (d,), each with one free variable moved, and how far (k,); shares of the ranges.

        A discrete variable moves by a level, a continuous one by `DIFFERENCE`; downwards, and how far is below 0, where
        there is no room upwards.
        """
        h = np.where(u[self.free] + self._steps <= 1.0, self._steps, -self._steps)
        U = np.repeat(u[None], len(self.free), axis=0)
        U[np.arange(len(self.free)), self.free] += h
        return snap(U, self.levels), h

    def moved(self, u: Array, step: Array) -> Array:
        """The design (d,) that is u (d,) with its free variables moved by step (k,), within bounds and snapped; shares
        of the ranges.
        """
        v = u.copy()
        v[self.free] = np.clip(v[self.free] + step, 0.0, 1.0)
        moved: Array = snap(v[None], self.levels)[0]
        return moved

    def promises(self, tasks: Sequence[Task]) -> list[Promise]:
        """A step for each task, in their order."""
        found: list[Promise] = []
        for start in range(0, len(tasks), TOGETHER):
            found += self._promises(tasks[start : start + TOGETHER])
        return found

    def _promises(self, tasks: Sequence[Task]) -> list[Promise]:
        P, J = np.stack([task.point.p for task in tasks]), np.stack([task.point.J for task in tasks])
        U = np.stack([task.point.u[self.free] for task in tasks])
        targets = np.stack([task.target for task in tasks])
        reach = np.array([task.reach for task in tasks])[:, None]
        penalty = np.array([task.penalty for task in tasks])
        margin = np.array([task.margin for task in tasks])[:, None]
        low, high = np.maximum(-U, -reach), np.minimum(1.0 - U, reach)
        objectives, limits = self.slopes.objective_lines(P, J), self.slopes.limit_lines(P, J)
        G, c = _with_sum(objectives, targets)
        most = np.maximum(-low, high)
        G, c, rows = _foremost(G, c, most)
        A, b, walls = _foremost(limits.slope, limits.value + margin, most)
        steps = solve(np.stack([task.point.B for task in tasks]), G, c, A, b, low, high, penalty)
        after = (c + _times(G, steps.p)).max(axis=1) + penalty * _missed(limits, steps.p)
        pulls = [np.empty(0)] * len(tasks)
        fresh = [i for i, task in enumerate(tasks) if task.point.fresh]
        if fresh:
            rows, walls = rows[fresh], walls[fresh]
            by_row, by_wall = steps.objectives[fresh], steps.limits[fresh]
            for i, pull in zip(fresh, self._pulls(P[fresh], by_row, rows, by_wall, walls), strict=True):
                pulls[i] = pull
        most_held = steps.limits.max(axis=1, initial=0.0)
        return [Promise(steps.p[i], float(after[i]), pulls[i], float(most_held[i])) for i in range(len(tasks))]

    def _pulls(self, P: Array, by_row: Array, rows: Places, by_wall: Array, walls: Places) -> Array:
        """(n, parts): the Lagrangian's derivatives by the parts: of rows whose derivatives are the parts' own."""
        own = np.repeat(np.eye(P.shape[1])[None], len(P), axis=0)
        found = np.zeros_like(P)
        for lines, multipliers, kept in (
            (self.slopes.objective_lines(P, own), by_row, rows),
            (self.slopes.limit_lines(P, own), by_wall, walls),
        ):
            slope = np.take_along_axis(lines.slope, kept[..., None], axis=1)
            found += (multipliers[:, None, :] @ slope)[:, 0]
        return found


def _with_sum(lines: Lines, targets: Array) -> tuple[Array, Array]:
    """Slopes and values of objectives over their targets, `SUM_SHARE` of all objectives added to each."""
    n, m = targets.shape
    every = np.arange(n)
    excess, together = np.zeros(n), np.zeros((n, lines.slope.shape[2]))
    for i in range(m):
        rows = np.flatnonzero(lines.owner == i)
        worst = rows[lines.value[:, rows].argmax(axis=1)]
        excess += lines.value[every, worst] - targets[:, i]
        together += lines.slope[every, worst]
    value = lines.value - targets[:, lines.owner] + SUM_SHARE * excess[:, None]
    return lines.slope + SUM_SHARE * together[:, None, :], value


def _foremost(G: Array, c: Array, most: Array) -> tuple[Array, Array, Places]:
    """The `ROWS` rows that may become largest within reach `most` (n, k), and which these are."""
    n, r = c.shape
    if r <= ROWS:
        return G, c, np.repeat(np.arange(r)[None], n, axis=0)
    top = c + (np.abs(G) * most[:, None, :]).sum(axis=2)
    keep = np.sort(np.argpartition(-top, ROWS, axis=1)[:, :ROWS], axis=1)
    return np.take_along_axis(G, keep[..., None], axis=1), np.take_along_axis(c, keep, axis=1), keep


def _missed(limits: Lines, p: Array) -> Array:
    """(n,): the sum of what limits are exceeded by at p (n, k), as their rows have it."""
    value = limits.value + _times(limits.slope, p)
    total = np.zeros(len(p))
    for i in np.unique(limits.owner):
        total = total + np.maximum(value[:, limits.owner == i].max(axis=1), 0.0)
    return total


def _times(M: Array, v: Array) -> Array:
    return np.asarray((M @ v[..., None])[..., 0], dtype=np.float64)


def curved(B: Array, step: Array, change: Array) -> Array:
    """Damped BFGS: a curvature B (k, k), in spans per range squared, that has seen the slope change along a step.

    Args:
        B: before, positive definite.
        step: (k,), shares of the ranges; where B sees nothing along it, B is returned.
        change: (k,), of the Lagrangian's slope, in spans per whole range.

    Returns:
        (k, k), symmetric, its eigenvalues within `SOFTEST` and `HARDEST`.
    """
    Bs = B @ step
    along = float(step @ Bs)
    if along < 1e-18:
        return B
    seen = float(step @ change)
    share = 1.0 if seen >= 0.2 * along else 0.8 * along / (along - seen)
    damped = share * change + (1.0 - share) * Bs
    new = B - np.outer(Bs, Bs) / along + np.outer(damped, damped) / float(step @ damped)
    values, vectors = np.linalg.eigh(0.5 * (new + new.T))
    bounded: Array = (vectors * np.clip(values, SOFTEST, HARDEST)) @ vectors.T
    return bounded
