"""Where a front is thin: neighbours far apart, and its rim.

With two objectives neighbours are next to each other; with more they share an edge of the Delaunay triangulation, by
scipy, of the front seen along the diagonal, and count in full where that edge is in Gabriel's graph too (Gabriel, Sokal
1969, see `_crossed`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import moocore
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

EVENNESS = 0.2  # of a gap's longest side, added to each: 0 counts volume alone, much of it distance
CROSSED_SHARE = 0.6  # between designs that have another one between them a gap counts as so much of its width
RIM_SHARE = 0.7  # a rim's facet counts as so much of what lies behind it


@dataclass(frozen=True)
class Gaps:
    """Gaps of one kind in one part of a front.

    Attributes:
        corners: (q, c), rows of the front's designs around each gap: two neighbours, or the corners of a facet of the
            rim.
        behind: (q,), the corner behind a facet of the rim, away from which the front is grown; None for neighbours.
        width: (q,), in spans: between neighbours the side of a cube as large as what they leave undominated between
            them, thin boxes counted as thicker (`EVENNESS`), less where another design lies between (`CROSSED_SHARE`);
            of a facet `RIM_SHARE` of the distance between its middle and the corner behind it.
        among: the objectives whose front it is, counted from 0.
    """

    corners: Rows
    behind: Rows | None
    width: Array
    among: tuple[int, ...]


def gaps(Z: Array, groups: list[Rows]) -> Iterator[Gaps]:
    """Gaps of a front and of the fronts of fewer objectives that are its rim.

    Args:
        Z: (n, m), the front, in spans, to be minimised.
        groups: rows that belong together: between groups there is no gap, since nothing lies between two choices.

    Yields:
        Gaps between neighbours, of each group and each set of two objectives or more; after those of all objectives the
        facets of the group's rim. None of a single objective.
    """
    m = Z.shape[1]
    for group in groups:
        for size in range(2, m + 1):
            for among in combinations(range(m), size):
                rows = group
                if size < m:
                    front = moocore.is_nondominated(Z[group][:, list(among)], keep_weakly=False)
                    rows = group[front]
                if len(rows) > 1:
                    yield from _of_front(Z, rows, among)


def _of_front(Z: Array, rows: Rows, among: tuple[int, ...]) -> Iterator[Gaps]:
    z = Z[rows][:, list(among)]
    if len(among) == 2:
        order = np.argsort(z[:, 0], kind="stable")
        edges = np.stack([order[:-1], order[1:]], axis=1)
        rim, behind = order[[[0], [-1]]], order[[1, -2]]
    else:
        edges, rim, behind = _triangulated(z)
    crossed = _crossed(z, edges) if len(among) > 2 else np.zeros(len(edges), dtype=np.bool_)
    edges = rows[edges]
    near = Z[:, list(among)]
    width = _width(near[edges[:, 0]], near[edges[:, 1]])
    yield Gaps(edges, None, np.where(crossed, CROSSED_SHARE, 1.0) * width, among)
    if len(among) == Z.shape[1] and len(rim):
        rim, behind = rows[rim], rows[behind]
        yield Gaps(rim, behind, RIM_SHARE * _distance(Z[rim].mean(axis=1), Z[behind]), among)


def _triangulated(z: Array) -> tuple[Rows, Rows, Rows]:
    """Edges, facets of the rim and corners behind them, of a front seen along the diagonal."""
    from scipy.spatial import Delaunay, QhullError  # a tenth of a second to import

    n, m = z.shape
    flat = np.linalg.qr(np.c_[np.ones(m), np.eye(m)[:, 1:]])[0][:, 1:]
    try:
        if n <= m:
            raise QhullError
        net = Delaunay(z @ flat)
    except QhullError:  # too few, or all in a line: each with each
        few = np.arange(min(n, 2 * m))
        return np.array(list(combinations(few, 2)), dtype=np.intp), np.empty((0, m - 1), dtype=np.intp), few[:0]
    corners = net.simplices.astype(np.intp)
    ends = np.concatenate([corners[:, [a, b]] for a in range(m) for b in range(a)])
    edges = np.stack(np.divmod(np.unique(ends.min(axis=1) * n + ends.max(axis=1)), n), axis=1)
    which, corner = np.nonzero(net.neighbors < 0)
    rim = np.array([np.delete(corners[s], c) for s, c in zip(which, corner, strict=True)], dtype=np.intp)
    return edges, rim.reshape(-1, m - 1), corners[which, corner]


def _crossed(z: Array, edges: Rows) -> NDArray[np.bool_]:
    """(e,): edges with another design in the ball over them: those that are not in Gabriel's graph (Gabriel, Sokal,
    Systematic Zoology 18 (1969) 259-278; from memory). Slivers along a rim have them.
    """
    from scipy.spatial import cKDTree

    middle = 0.5 * (z[edges[:, 0]] + z[edges[:, 1]])
    radius = 0.5 * _distance(z[edges[:, 0]], z[edges[:, 1]])
    nearest = cKDTree(z).query(middle)[0]
    return np.asarray(nearest < radius * (1.0 - 1e-9))


def _width(a: Array, b: Array) -> Array:
    """Side of a cube as large as what two designs leave undominated between them, thin boxes counted as thicker."""
    sides = np.abs(a - b)
    thick = sides + EVENNESS * sides.max(axis=1, keepdims=True)
    width: Array = np.prod(thick, axis=1) ** (1.0 / sides.shape[1])
    return width


def _distance(a: Array, b: Array) -> Array:
    distance: Array = np.sqrt(np.square(a - b).sum(axis=1))
    return distance
