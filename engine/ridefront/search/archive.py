"""The front of everything evaluated, and its hypervolume, after every block.

A large front is thinned by the rules of Laumanns and others (2002), see `thin`; hypervolume is that of Zitzler and
Thiele (1998), see `volume`.
"""

from __future__ import annotations

import moocore
import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.front import Rows
from ridefront.search.thin import Thinning, confront
from ridefront.search.volume import Box, Volume, box_around

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ids = NDArray[np.int64]

SWEPT_OBJECTIVES = 3  # up to here one sweep over old and new is cheapest; beyond, comparing new ones with old ones
MOST = 16384
"""Designs on a front at most. A larger one is thinned to `ROOM` of that, see `Thinning`."""

ROOM = 0.75


class Archive:
    """The front of everything evaluated, kept up to date block by block, and its hypervolume.

    As long as it is whole, the content depends on the designs and their order alone, not on how they were cut into
    blocks; the box, and with it the hypervolume, also on when `fix_box` was called. A front of more than `most` designs
    is thinned, see `Thinning`: time and memory a design stay as they are, however many are added.

    Args:
        m: number of objectives.
        most: designs on the front, at most.

    Attributes:
        evaluated: how many designs were added.
        feasible: how many of them are feasible.
        box: the hypervolume's box; None until there is one.
    """

    def __init__(self, m: int, most: int = MOST) -> None:
        self.evaluated = 0
        self.feasible = 0
        self.box: Box | None = None
        self._most = most
        self._thinning: Thinning | None = None
        self._wants_box = False
        self._volume: Volume | None = None
        # sorted by the last objective, equals by arrival: the hypervolume is swept in that order, a third faster so
        self._F = np.empty((0, m))
        self._ids = np.empty(0, dtype=np.int64)

    @property
    def size(self) -> int:
        """Number of designs on the front."""
        return len(self._ids)

    @property
    def ids(self) -> Ids:
        """(size,): the front's ids, ascending."""
        return np.sort(self._ids)

    @property
    def F(self) -> Array:
        """(size, m): the front's objectives, in the units handed in and in the order of `ids`."""
        return self._F[np.argsort(self._ids)]

    @property
    def spacing(self) -> float | None:
        """To within which share of its range, in each objective, the front betters or matches all that was found; None
        where it is whole.
        """
        return None if self._thinning is None else self._thinning.share(self._F)

    @property
    def coarseness(self) -> float | None:
        """Changes where the front is thinned, and is None until then."""
        return None if self._thinning is None else self._thinning.spacing

    def add(self, F: Array, V: Array, ids: Ids) -> None:
        """Takes in evaluated designs.

        Args:
            F: (n, m), finite, each objective in a unit of its own, to be minimised.
            V: (n,), violation, without unit; 0 is feasible.
            ids: (n,), each design's own number; where a front is thinned, the smaller one counts as the one that came
                first.

        Raises:
            CallError: as `Rows`, or where shapes do not match.
        """
        Rows(F, V)  # refuses what would be ranked wrongly
        if F.shape[1] != self._F.shape[1] or ids.shape != V.shape:
            raise CallError(f"archive of {self._F.shape[1]} objectives: F {F.shape} and ids {ids.shape} do not match")
        feasible = V <= 0
        self.evaluated += len(V)
        self.feasible += int(np.count_nonzero(feasible))
        best = np.flatnonzero(feasible)[moocore.is_nondominated(F[feasible], keep_weakly=False)]
        best = best[np.argsort(F[best, -1], kind="stable")]
        entered = self._enter(F[best], ids[best])
        if self._volume is not None and len(entered):
            self._volume.update(self._F, entered)
        if self._wants_box:
            self.fix_box()

    def _enter(self, F: Array, ids: Ids) -> Array:
        """Merges in a front of new designs, sorted like this one; returns what entered, (k, m)."""
        # after those that are as good, so that of equal designs the one that came first is kept
        at = np.searchsorted(self._F[:, -1], F[:, -1], side="right") + np.arange(len(F))
        new = np.zeros(len(self._F) + len(F), dtype=np.bool_)
        new[at] = True
        merged_F, merged_ids = np.empty((len(new), F.shape[1])), np.empty(len(new), dtype=np.int64)
        merged_F[new], merged_F[~new] = F, self._F
        merged_ids[new], merged_ids[~new] = ids, self._ids
        if F.shape[1] <= SWEPT_OBJECTIVES:
            keep: Flags = moocore.is_nondominated(merged_F, keep_weakly=False)
        else:
            keep = np.empty(len(new), dtype=np.bool_)
            keep[new], keep[~new] = confront(F, self._F)
        if self._thinning is not None:
            keep &= self._kept(merged_F, merged_ids, keep & new, keep & ~new)
        self._F, self._ids = merged_F[keep], merged_ids[keep]
        entered: Array = merged_F[keep & new]
        if len(self._ids) > self._most:
            self._thin()
        return entered

    def _kept(self, F: Array, ids: Ids, new: Flags, old: Flags) -> Flags:
        """(n,): what the grid keeps of new designs and old ones."""
        assert self._thinning is not None
        rows = np.flatnonzero(new)
        rows = rows[np.argsort(ids[rows])]
        keep = np.zeros(len(F), dtype=np.bool_)
        keep[rows], keep[old] = self._thinning.admit(F[rows], F[old])
        return keep

    def _thin(self) -> None:
        if self._thinning is None:
            self._thinning = Thinning(self._F)
        rows = np.sort(self._thinning.coarsen(self._F, self._ids, max(1, int(ROOM * self._most))))
        self._F, self._ids = self._F[rows], self._ids[rows]

    def fix_box(self) -> None:
        """Fixes the hypervolume's box from the front as it is; where that is too small, as soon as it is large enough.

        Large enough is m + 1 designs; one for a single objective, whose front never has more. Later calls change
        nothing.
        """
        self._wants_box = True
        m = self._F.shape[1]
        if self.box is None and self.size >= (m + 1 if m > 1 else 1):
            self.box = box_around(self._F)
            self._volume = Volume(self.box)
            self._volume.update(self._F, self._F)

    def hypervolume(self) -> float | None:
        """Share of the box that the front dominates; None while there is no box.

        It may come to exceed 1: designs better than the ideal of the day the box was fixed dominate more than the box.
        It never falls, but for the last digits of rounding, and a little where the front is thinned. Exact for up to
        three objectives, see `Volume`.
        """
        return None if self._volume is None else self._volume.value()
