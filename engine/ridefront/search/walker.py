"""One walker: goes downhill from a design until no step promises anything.

Its steps and their sources (Wierzbicki 1980, Broyden 1965, Powell 1978) are those of `local`; the trust region grows
and shrinks by what a step gained over what was promised, as usual (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ridefront.search.local import MARGIN, PENALTY, SMALL_GAIN, SMALL_STEP, Point, Promise, Task, Terrain, curved

Array = NDArray[np.float64]

FIRST_REACH = 0.2  # of a range: the trust region at the start
ROUNDS = 25  # steps at most
ACCEPTED, GOOD, EXCELLENT = 0.1, 0.5, 0.7  # shares of a promise that a step keeps
GROWTH, SHRINKAGE = 2.5, 0.3  # of the trust region
SECOND_REACH = 0.05  # where the curvature is forgotten
LEAST_REACH = 1e-3  # for a step back within limits
TOUCHES = 3  # further steps back within limits, where a walker arrives a little beyond one


@dataclass
class Walker:
    """See the module; what it asks is to be told before it asks again.

    Attributes:
        point: where it is; its p, J and v count for nothing where `base` is set.
        target: (m,), in spans.
        reach: of its trust region, a share of each range.
        rounds: steps left.
        wants: "slopes", "step", or "" when it has arrived.
        base: whether the design itself is asked with its neighbours, because its parts are not known.
        cheap: whether it gives up where it would have to ask for slopes.
        penalty: of violation, see `Task`; margin: by which limits are kept, likewise.
        touches: steps back within limits that are left.
        urgency: spans that it may gain, as far as is known: the larger ones go first.
        opinions: how often it still forgets the curvature that it has learnt before it stops.

    Between what it asks and what it is told it keeps how far its neighbours are, `_distances` (k,), shares of the
    ranges; the design asked, `_trial` (d,), what its step promised, `_promised`, in spans, and the step's pull, `_pull`
    (parts,); and, until slopes are told where a step has led, `_came`: the step (k,), the Lagrangian's slope (k,) where
    it began, in spans per whole range, and the step's pull.
    """

    point: Point
    target: Array
    reach: float = FIRST_REACH
    rounds: int = ROUNDS
    wants: Literal["slopes", "step", ""] = "slopes"
    base: bool = False
    cheap: bool = False
    penalty: float = PENALTY
    margin: float = MARGIN
    touches: int = TOUCHES
    urgency: float = np.inf
    opinions: int = 1
    _distances: Array = field(default_factory=lambda: np.empty(0))
    _promised: float = 0.0
    _trial: Array = field(default_factory=lambda: np.empty(0))
    _pull: Array = field(default_factory=lambda: np.empty(0))
    _came: tuple[Array, Array, Array] | None = (
        None  # the step that led here, the Lagrangian's slope where it began, its pull
    )

    @property
    def task(self) -> Task:
        """The step that it wants."""
        return Task(self.point, self.target, self.reach, self.penalty, self.margin)

    def ask_slopes(self, terrain: Terrain) -> Array:
        """Designs (q, d), shares of the ranges, that show the slopes here: a neighbour for each free variable, and with
        `base` first the design itself.
        """
        U, self._distances = terrain.neighbours(self.point.u)
        return np.concatenate([self.point.u[None], U]) if self.base else U

    def tell_slopes(self, terrain: Terrain, P: Array) -> None:
        """Takes the parts P (q, parts), in their figures' units, of what was asked; arrives where one failed."""
        if not np.isfinite(P).all():
            self.wants = ""
            return
        if self.base:
            (self.point,) = terrain.all_at([(self.point.u, P[0], self.point.J, self.point.B)])
            P, self.base = P[1:], False
        self.point.J = (P - self.point.p) / self._distances[:, None]
        self.point.fresh = True
        if self._came is not None:
            step, slope, pull = self._came
            self.point.B = curved(self.point.B, step, self.point.J @ pull - slope)
            self._came = None
        self.wants = "step"

    def ask_step(self, terrain: Terrain, promise: Promise) -> Array | None:
        """The design (d,), shares of the ranges, that a step leads to; None where it is not worth its evaluation.

        With None the walker has arrived, or wants slopes, or a step by a plain curvature: see `wants`.
        """
        now = self.point.merit(self.target, self.penalty)
        self._promised = now - promise.merit
        self.penalty = max(self.penalty, 2.0 * promise.wall)
        self._trial = terrain.moved(self.point.u, promise.step)
        still = bool(np.all(self._trial == self.point.u))
        if still or (self.point.v <= 0 and self._idle()):
            if self.point.fresh and self.opinions:
                # What was learnt of curvature may be a kink's: arrived is who is so with a plain one as well.
                self.opinions -= 1
                self.point.B = np.eye(len(self.point.B))
                self.reach = max(self.reach, SECOND_REACH)
            else:
                self.wants = "" if self.point.fresh or self.cheap else "slopes"
            return None
        self._pull = promise.pull
        return self._trial

    def _idle(self) -> bool:
        """Whether a step is not worth an evaluation."""
        return self._promised < SMALL_GAIN or float(np.abs(self._trial - self.point.u).max()) < SMALL_STEP

    def tell_step(self, terrain: Terrain, p: Array, z: Array, v: float) -> None:
        """Takes parts p (parts,), objectives z (m,), in spans, and violation v of the design that the step led to; p is
        NaN where that failed.
        """
        self.rounds -= 1
        point, step = self.point, (self._trial - self.point.u)[terrain.free]
        length = float(np.abs(step).max())
        gained = -np.inf
        reached = point
        if np.isfinite(p).all():
            shown = p - point.p - step @ point.J
            reached = Point(self._trial, p, z, v, point.J + np.outer(step, shown) / (step @ step), point.B)
            gained = point.merit(self.target, self.penalty) - reached.merit(self.target, self.penalty)
        if gained >= ACCEPTED * self._promised:
            self._came = (step, point.J @ self._pull, self._pull) if point.fresh else None
            self.point = reached
            if gained >= EXCELLENT * self._promised:
                self.reach = min(1.0, max(self.reach, GROWTH * length))
            self.wants = "step" if gained >= GOOD * self._promised else "slopes"
        else:
            self.reach = SHRINKAGE * min(self.reach, length)
            self.wants = "step" if point.fresh else "slopes"
        if self.rounds <= 0 or self.reach < SMALL_STEP or (self.cheap and self.wants == "slopes"):
            self.wants = ""
        if not self.wants and self.point.v > 0 and self.touches:
            self.touches -= 1
            self.margin += self.point.v
            self.reach, self.wants = max(self.reach, LEAST_REACH), "step"
