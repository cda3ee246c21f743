"""Refinement: a few designs of a front walk to where nothing better is near, then the front is filled in from them.

Between two optimal designs whose slopes and curvature are known the front is predicted: parts by cubic interpolation,
then one quadratic programme that keeps limits and improves all objectives alike. What is asked is mostly on the front
already, so that a design on the front costs little more than one evaluation. The widest gaps come first; the front's
rim is the front of fewer objectives, filled in likewise, and grown outwards. Where a prediction fails, a walker starts.

This is continuation of Pareto sets by predictor and corrector (Hillermeier, Nonlinear Multiobjective Optimization,
Birkhäuser 2001; from memory), with interpolation for the predictor.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import moocore
import numpy as np
from numpy.typing import NDArray

from ridefront.search.asked import snap
from ridefront.search.front import nondominated
from ridefront.search.gaps import Gaps, gaps
from ridefront.search.local import PENALTY, RELAXED, Point, Task, Terrain
from ridefront.search.parts import Anatomy
from ridefront.search.slopes import Slopes
from ridefront.search.spread import spread
from ridefront.search.walker import Walker

Array = NDArray[np.float64]

FIRST_WALKERS = 4  # times the number of objectives; those to the ends of the front come on top
LEAST_VIOLATING = 6  # designs that walk where none is feasible
PAIR_WALKERS = 2  # on the front of each pair of objectives, beside its ends
IGNORED = 5.0  # spans by which the target of an objective that does not count is put off
MENDERS, MENDERS_SHARE = 40, 0.5  # walkers at a time: so many at least, and of a block's designs
RIM_MOST = 0.25  # of a block's predictions are beyond a rim, at most
OUTWARDS = (0.6, 0.3, 0.15)  # tries of growing beyond a rim, over the way from the corner behind it
SMALL_GAP = 1e-4  # spans: narrower gaps are left
WORTH_MENDING = 2e-3  # spans: failed predictions in narrower gaps are left
MISSED = 0.3  # of a gap's width: a prediction that misses by more sends a walker that asks for slopes
GAINED = 0.1  # of a gap's width: a larger gain says that its neighbours are not where nothing better is near
LIMIT_SHARE = 0.1  # of a gap's width: what a prediction beyond a limit may gain
MENDING, TOUCHING_UP = 4, 2  # steps of a walker where a prediction missed; where it was a little beyond a limit
BLOCK_SHARE = 0.1  # of the front's designs: blocks grow with it, so that finding gaps costs the same a design
LEAST_MARGIN, MARGIN_SHARE = 1e-6, 1e-3  # by which limits are kept: predictions miss by some width squared
FEWEST = 1e-3  # of a range: trust region of a prediction at least


@dataclass
class _Fill:
    """A design predicted in a gap.

    Attributes:
        task: from the prediction to where limits are kept and all objectives improved.
        width: of the gap, in spans.
        u: the design asked; p: its parts as predicted; gain: over half way between the neighbours, in spans.
    """

    task: Task
    width: float
    u: Array = field(default_factory=lambda: np.empty(0))
    p: Array = field(default_factory=lambda: np.empty(0))
    gain: float = 0.0


@dataclass(frozen=True)
class _Guess:
    """A predicted design: u, p, J, B as a point's, and how far from its neighbours, a share of the ranges."""

    u: Array
    p: Array
    J: Array
    B: Array
    length: float


def first_block(levels: tuple[int, ...], m: int) -> int:
    """Designs of a refinement's first block, at most: with fewer to spend it does not begin.

    It may be more where there is one objective and no design is feasible, since `LEAST_VIOLATING` walk then, and with
    five objectives or more, where blocks are so wide that more than `MENDERS` walk at a time.

    Args:
        levels: the design space.
        m: number of objectives.
    """
    free = sum(not 0 < count < RELAXED for count in levels)
    pairs = PAIR_WALKERS * m * (m - 1) // 2 if m > 2 else 0
    walkers = m + pairs + (FIRST_WALKERS * m if m > 1 else 0)
    return min(walkers, MENDERS) * (free + 1)


class Refinement:
    """A refinement of one front.

    Args:
        anatomy: of the problem.
        levels: the design space.
        U: (n, d), shares of the ranges, snapped: designs to begin with.
        F: (n, m), each objective in the unit of its figure, to be minimised.
        V: (n,), violation, without unit; 0 is feasible. Where none is, the least violating designs walk.
        width: designs of a block, about.
    """

    def __init__(self, anatomy: Anatomy, levels: tuple[int, ...], U: Array, F: Array, V: Array, width: int) -> None:
        feasible = V <= 0
        spread_out = F[feasible] if feasible.any() else F
        span = spread_out.max(axis=0) - spread_out.min(axis=0)
        self._terrain = Terrain(Slopes(anatomy, np.where(span > 0, span, 1.0)), levels)
        self._m, self._width = F.shape[1], width
        self._points: list[Point] = []
        self._arrived: list[Point] = []
        self._Z = np.empty((0, self._m))
        self._numbers = np.empty(0, dtype=np.int64)
        self._counted = 0
        self._tried: dict[bytes, int] = {}
        self._answers: dict[bytes, Array] = {}
        self._walkers = self._starts(U, F, V) if len(self._terrain.free) else []

    def blocks(self) -> Generator[Array, Array, None]:
        """Yields designs (n, d), shares of the ranges, is sent their parts (n, parts), each in its figure's unit, NaN
        where one failed; ends where nothing is left.

        A design may be yielded that was asked before the refinement, because its parts were not known then; else none
        comes twice.
        """
        while True:
            size = max(self._width, int(BLOCK_SHARE * len(self._points)))
            self._walkers.sort(key=lambda walker: -walker.urgency)
            walkers = self._walkers[: max(MENDERS, int(MENDERS_SHARE * size))]
            slopes = [walker for walker in walkers if walker.wants == "slopes"]
            steps = [walker for walker in walkers if walker.wants == "step"]
            asked = [walker.ask_slopes(self._terrain) for walker in slopes]
            room = size - sum(map(len, asked)) - len(steps)
            fills = self._fills(room)
            promises = self._terrain.promises([walker.task for walker in steps] + [fill.task for fill in fills])
            trials = [(walker, walker.ask_step(self._terrain, promises[i])) for i, walker in enumerate(steps)]
            moving = [(walker, trial) for walker, trial in trials if trial is not None]
            for fill, promise in zip(fills, promises[len(steps) :], strict=True):
                start = fill.task.point
                fill.u = self._terrain.moved(start.u, promise.step)
                fill.gain = start.merit(fill.task.target, fill.task.penalty) - promise.merit
                fill.p = start.p + (fill.u - start.u)[self._terrain.free] @ start.J
            asked += [trial[None] for _, trial in moving] + [fill.u[None] for fill in fills]
            if asked:
                P = yield from self._answered(np.concatenate(asked))
                self._tell(slopes, [walker for walker, _ in moving], fills, P)
            elif not self._walkers:
                return
            self._arrive()

    def _answered(self, U: Array) -> Generator[Array, Array, Array]:
        """Parts (n, parts) of designs U, of which only new ones are asked."""
        keys = [u.tobytes() for u in U]
        new = {key: i for i, key in reversed(list(enumerate(keys))) if key not in self._answers}
        rows = sorted(new.values())
        if rows:
            P = yield U[rows]
            self._answers.update((keys[row], p) for row, p in zip(rows, P, strict=True))
        return np.stack([self._answers[key] for key in keys])

    def _tell(self, slopes: Sequence[Walker], moving: Sequence[Walker], fills: Sequence[_Fill], P: Array) -> None:
        at = 0
        for walker in slopes:
            count = len(self._terrain.free) + walker.base
            walker.tell_slopes(self._terrain, P[at : at + count])
            at += count
        stepped = P[at : at + len(moving)]
        for walker, p, z, v in zip(moving, stepped, *self._terrain.figures(stepped), strict=True):
            walker.tell_step(self._terrain, p, z, float(v))
        at += len(moving)
        done = [(fill, p) for fill, p in zip(fills, P[at:], strict=True) if np.isfinite(p).all()]
        found = self._terrain.all_at([(fill.u, p, fill.task.point.J, fill.task.point.B) for fill, p in done])
        thought = self._terrain.slopes.objectives(np.stack([fill.p for fill, _ in done])) if done else ()
        for (fill, _), point, z in zip(done, found, thought, strict=True):
            self._tell_fill(fill, point, float(np.abs(point.z - z).max()))

    def _tell_fill(self, fill: _Fill, point: Point, missed: float) -> None:
        if point.v <= 0:
            self._arrived.append(point)
        far = missed > MISSED * fill.width or fill.gain > GAINED * fill.width
        if fill.width > WORTH_MENDING and (far or point.v > 0):
            self._walkers.append(
                Walker(
                    point,
                    fill.task.target,
                    reach=max(fill.width, FEWEST),
                    rounds=MENDING if far else TOUCHING_UP,
                    wants="slopes" if far else "step",
                    cheap=not far,
                    urgency=max(missed, fill.gain) if far else LIMIT_SHARE * fill.width,
                )
            )

    def _arrive(self) -> None:
        """Walkers that have arrived become designs of the front; what is dominated leaves it."""
        self._arrived += [walker.point for walker in self._walkers if not walker.wants and walker.point.v <= 0]
        self._walkers = [walker for walker in self._walkers if walker.wants]
        if self._arrived:
            count = len(self._arrived)
            self._points += self._arrived
            self._Z = np.concatenate([self._Z, [point.z for point in self._arrived]])
            self._numbers = np.append(self._numbers, np.arange(self._counted, self._counted + count))
            self._counted += count
            self._arrived = []
            keep = moocore.is_nondominated(self._Z, keep_weakly=False)
            self._points = [self._points[k] for k in np.flatnonzero(keep)]
            self._Z, self._numbers = self._Z[keep], self._numbers[keep]

    def _starts(self, U: Array, F: Array, V: Array) -> list[Walker]:
        """Walkers from a front: to its ends, along the fronts of pairs of objectives, and all over it."""
        curvature = np.eye(len(self._terrain.free))
        Z = F / self._terrain.slopes.span

        def walker(row: int, ignored: Sequence[int], penalty: float = PENALTY) -> Walker:
            target = Z[row].copy()
            target[list(ignored)] += IGNORED
            point = Point(U[row], np.empty(0), Z[row], np.inf, np.empty((0, 0)), curvature)
            return Walker(point, target, base=True, penalty=penalty)

        front = np.flatnonzero(nondominated(F, V))
        if not len(front):
            return [walker(int(row), range(self._m), 1e3) for row in np.argsort(V, kind="stable")[:LEAST_VIOLATING]]
        every = range(self._m)
        found = [walker(int(front[F[front, i].argmin()]), [j for j in every if j != i]) for i in every]
        if self._m > 2:
            for pair in combinations(every, 2):
                two = F[front][:, list(pair)]
                best = np.flatnonzero(moocore.is_nondominated(two, keep_weakly=False))
                inner = best[spread(two[best], PAIR_WALKERS + 1)][:PAIR_WALKERS]
                found += [walker(int(front[row]), [j for j in every if j not in pair]) for row in inner]
        if self._m > 1:
            found += [walker(int(front[row]), ()) for row in spread(F[front], FIRST_WALKERS * self._m)]
        return found

    def _fills(self, room: int) -> list[_Fill]:
        """Predictions in the widest gaps that were not tried, at most `room`, at most two beside each design."""
        if room <= 0 or len(self._points) < 2:
            return []
        found = list(gaps(self._Z, self._groups()))
        if not found:
            return []
        widths = np.concatenate([kind.width for kind in found])
        kinds = np.repeat(np.arange(len(found)), [len(kind.width) for kind in found])
        starts = np.concatenate([[0], np.cumsum([len(kind.width) for kind in found])])
        beside = np.zeros(len(self._points), dtype=np.int64)
        rim = 0
        chosen: list[tuple[Gaps, int]] = []
        guesses: list[_Guess] = []
        for at in np.argsort(-widths, kind="stable"):
            if widths[at] < SMALL_GAP or len(chosen) == room:
                break
            kind, q = found[kinds[at]], int(at - starts[kinds[at]])
            corners = kind.corners[q]
            if beside[corners].max() >= 2 or (kind.behind is not None and rim >= RIM_MOST * room):
                continue
            key = np.sort(self._numbers[corners]).tobytes() + bytes([kind.behind is not None])
            tries = self._tried.get(key, 0)
            if tries >= (1 if kind.behind is None else len(OUTWARDS)):
                continue
            self._tried[key] = tries + 1
            beside[corners] += 1
            rim += kind.behind is not None
            chosen.append((kind, q))
            guesses.append(self._between(kind, q) if kind.behind is None else self._beyond(kind, q, OUTWARDS[tries]))
        points = self._terrain.all_at([(guess.u, guess.p, guess.J, guess.B) for guess in guesses])
        return [
            self._fill(point, guess.length, *which) for point, guess, which in zip(points, guesses, chosen, strict=True)
        ]

    def _groups(self) -> list[NDArray[np.intp]]:
        """Rows of designs whose tied variables are the same."""
        tied = self._terrain.tied
        if not len(tied):
            return [np.arange(len(self._points))]
        _, which = np.unique(np.stack([point.u[tied] for point in self._points]), axis=0, return_inverse=True)
        return [np.flatnonzero(which == g) for g in range(which.max() + 1)]

    def _between(self, kind: Gaps, q: int) -> _Guess:
        """Half way between two neighbours: parts and their slopes by cubic interpolation along the way."""
        a, b = (self._points[k] for k in kind.corners[q])
        way = (b.u - a.u)[self._terrain.free]
        J = 0.5 * (a.J + b.J)
        p = 0.5 * (a.p + b.p) + way @ (a.J - b.J) / 8
        if (size := way @ way) > 0:
            J = J + np.outer(way, 1.5 * (b.p - a.p) - 1.5 * (way @ J)) / size
        return self._guess(0.5 * (a.u + b.u), p, J, 0.5 * (a.B + b.B), float(np.abs(way).max()), a)

    def _beyond(self, kind: Gaps, q: int, outwards: float) -> _Guess:
        """Beyond a facet of the rim: parts by the mean of what its corners' slopes say."""
        assert kind.behind is not None
        corners = [self._points[k] for k in kind.corners[q]]
        middle = sum((point.u for point in corners[1:]), start=corners[0].u) / len(corners)
        u = np.clip(middle + outwards * (middle - self._points[kind.behind[q]].u), 0.0, 1.0)
        p = np.mean([point.p + (u - point.u)[self._terrain.free] @ point.J for point in corners], axis=0)
        J, B = np.mean([point.J for point in corners], axis=0), np.mean([point.B for point in corners], axis=0)
        return self._guess(u, p, J, B, float(np.abs(u - middle).max()), corners[0])

    def _guess(self, u: Array, p: Array, J: Array, B: Array, length: float, beside: Point) -> _Guess:
        """Snapped; tied variables are those of the design beside it."""
        v = snap(u[None], self._terrain.levels)[0]
        v[self._terrain.tied] = beside.u[self._terrain.tied]
        return _Guess(v, p + (v - u)[self._terrain.free] @ J, J, B, length)

    def _fill(self, point: Point, length: float, kind: Gaps, q: int) -> _Fill:
        """The task from a prediction: to do better in all objectives that count."""
        target = point.z.copy()
        target[[j for j in range(self._m) if j not in kind.among]] += IGNORED
        width = float(kind.width[q])
        reach = max(0.5 * length, FEWEST)
        return _Fill(Task(point, target, reach, margin=LEAST_MARGIN + MARGIN_SHARE * width * width), width)
