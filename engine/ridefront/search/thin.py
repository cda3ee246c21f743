"""A front too large to keep: one design of each box of a grid stands for the others in it.

After M. Laumanns, L. Thiele, K. Deb, E. Zitzler, Evol. Comput. 10 (2002) 263-282: what is kept is dominated by nothing
that was ever seen, and every design seen is matched, to within a box, by one that is kept.
"""

from __future__ import annotations

import moocore
import numpy as np
from numpy.typing import NDArray

from ridefront.search.volume import MARGIN, box_around

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

FINEST = 2.0**-20
"""Side of the first boxes, over the front's range of each objective when it was first too large."""

PAIRS = 65536  # compared at a time: their flags stay in the processor's cache


class Thinning:
    """The grid, and what a front that grows may keep. Boxes double, so that every box lies within one of the next.

    Args:
        F: (n, m), the front when it was first too large, each objective in a unit of its own, to be minimised.

    Attributes:
        spacing: side of the boxes over the front's range of each objective at that time, or over what stands for it
            where it has none; see `box_around`.
    """

    def __init__(self, F: Array) -> None:
        box = box_around(F)
        self._origin, self._scale = box.ideal, (box.reference - box.ideal) / (1 + MARGIN)
        self.spacing = FINEST

    def share(self, F: Array) -> float:
        """The boxes' side as a share of the range of a front F (n, m), of the objective where that is the largest;
        objectives that do not vary on it are left out, and 0 where none does.
        """
        span = F.max(axis=0) - F.min(axis=0)
        there = span > 0
        return float(np.max(self._scale[there] * self.spacing / span[there], initial=0.0))

    def boxes(self, F: Array) -> Array:
        """(n, m), whole numbers: in which box each row of F (n, m), in the front's units, lies."""
        index: Array = np.floor((F - self._origin) / (self._scale * self.spacing))
        return index

    def coarsen(self, F: Array, order: NDArray[np.int64], most: int) -> NDArray[np.intp]:
        """Thins a front by the boxes as they are, then doubles them until few enough are left.

        Args:
            F: (n, m), the front, in its units.
            order: (n,), who came when: of several in a box the first stays.
            most: at most so many; 1 or more.

        Returns:
            (k,), rows of F, in the order in which they came.
        """
        rows = np.argsort(order, kind="stable")
        while True:
            kept = rows[moocore.is_nondominated(self.boxes(F[rows]), keep_weakly=False)]
            if len(kept) <= most:
                return np.asarray(kept, dtype=np.intp)
            rows = kept
            self.spacing *= 2

    def admit(self, new: Array, old: Array) -> tuple[Flags, Flags]:
        """New designs against those that are kept, no design of either dominating another.

        Args:
            new: (k, m), in the front's units, in the order in which they came: of several in a box the first stays.
            old: (n, m), in the front's units, what is kept.

        Returns:
            (k,): True where a new one is to be kept; (n,): True where an old one still is.
        """
        boxes = self.boxes(new)
        stays: Flags = moocore.is_nondominated(boxes, keep_weakly=False) if len(new) else np.ones(0, dtype=np.bool_)
        if not len(old) or not len(new):
            return stays, np.ones(len(old), dtype=np.bool_)
        theirs = self.boxes(old)
        by_last = np.argsort(theirs[:, -1], kind="stable")
        rows = np.flatnonzero(stays)
        rows = rows[np.argsort(boxes[rows, -1], kind="stable")]
        admitted, sorted_stay = confront(boxes[rows], theirs[by_last])
        stays[rows] = admitted
        still = np.empty(len(old), dtype=np.bool_)
        still[by_last] = sorted_stay
        return stays, still


def confront(new: Array, old: Array) -> tuple[Flags, Flags]:
    """Two fronts against each other, each sorted by its last column, in the same units.

    Args:
        new: (k, m), to be minimised.
        old: (n, m), likewise.

    Returns:
        (k,): True where no old row equals or dominates the new one; (n,): True where no new row dominates the old one.
    """
    columns = np.ascontiguousarray(old.T)
    new_stays, old_stays = np.ones(len(new), dtype=np.bool_), np.ones(len(old), dtype=np.bool_)
    step = max(1, PAIRS // max(1, len(old)))
    for start in range(0, len(new), step):
        part = new[start : start + step]
        # only rows up to the largest last figure can be as good, only those from the smallest can be as bad
        end = int(np.searchsorted(columns[-1], part[-1, -1], side="right"))
        stays = ~_every(np.less_equal, columns[:, :end], part).any(axis=1)
        new_stays[start : start + step] = stays
        part = part[stays]
        if len(part):
            begin = int(np.searchsorted(columns[-1], part[0, -1], side="left"))
            old_stays[begin:] &= ~_every(np.greater_equal, columns[:, begin:], part).any(axis=0)
    return new_stays, old_stays


def _every(compare: np.ufunc, columns: Array, rows: Array) -> Flags:
    """(k, n): where column j of (m, n) compares so with column j of (k, m), for every j."""
    every: Flags = compare(columns[0], rows[:, :1])
    for j in range(1, len(columns)):
        every &= compare(columns[j], rows[:, j : j + 1])
    return every
