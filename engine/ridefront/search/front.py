"""What failed and infeasible designs mean to the search, and the front of everything evaluated.

A design that could not be evaluated counts as finite and very bad: F = V = `LARGE`. No NaN or infinity gets further
than this file; `Rows` refuses them, because ranking and hypervolume would answer wrongly without a word.
"""

from __future__ import annotations

from dataclasses import dataclass

import moocore
import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.volume import Box, Volume, box_around

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ids = NDArray[np.int64]

LARGE = 1e30  # what a failed design's objectives and violation count as; no figure of an evaluated design comes near


@dataclass(frozen=True)
class Rows:
    """How the designs of a block did, as the search sees it.

    Attributes:
        F: (n, m), finite, to be minimised; `LARGE` where a design failed.
        V: (n,), violation, finite; 0 is feasible, `LARGE` is failed.

    Raises:
        CallError: on NaN, infinity, figures beyond `LARGE`, negative violation, or shapes that do not match.
    """

    F: Array
    V: Array

    def __post_init__(self) -> None:
        check_rows(self.F, self.V)


def check_rows(F: Array, V: Array) -> None:
    """Refuses rows that would be ranked wrongly; raises as `Rows` does."""
    if F.ndim != 2 or V.shape != (len(F),):
        raise CallError(f"rows: F {F.shape} and V {V.shape} do not match; allowed: (n, m) and (n,)")
    # written so that NaN fails too
    if not (np.abs(F) <= LARGE).all():
        raise CallError(f"rows: F has NaN, infinity or a figure beyond {LARGE:g}; allowed: finite figures")
    if not ((V >= 0) & (V <= LARGE)).all():
        raise CallError(
            f"rows: V has NaN or a figure outside 0 to {LARGE:g}; allowed: 0 for feasible, else the violation"
        )


def as_rows(values: Array, signs: Array, violation: Array, ok: Flags) -> Rows:
    """Figures of evaluated designs as the search sees them.

    Args:
        values: (n, m), objectives in any unit; whatever stands where a design failed, NaN for one, is not looked at.
        signs: (m,), 1 where an objective is to be made small, -1 where large.
        violation: (n,), 0 where all constraints hold; not looked at where a design failed.
        ok: (n,), False where a design failed.

    Returns:
        Rows: values * signs and violation; `LARGE` throughout where a design failed, so that it comes after any that
            did not.

    Raises:
        CallError: if a design that did not fail has NaN, infinity or a figure beyond `LARGE`.
    """
    F = np.where(ok[:, None], values * signs, LARGE)
    V = np.where(ok, violation, LARGE)
    return Rows(F, V)


def nondominated(F: Array, V: Array) -> Flags:
    """The feasible designs that no other feasible design dominates.

    Args:
        F: (n, m), finite, to be minimised.
        V: (n,), violation; 0 is feasible.

    Returns:
        (n,): True on the front. Of designs with exactly equal objectives the first is kept: one setup stands for a
        compromise.

    Raises:
        CallError: as `Rows`.
    """
    check_rows(F, V)
    front = V <= 0
    front[front] = moocore.is_nondominated(F[front], keep_weakly=False)
    return front


class Archive:
    """The front of everything evaluated, kept up to date block by block, and its hypervolume.

    The content depends on the designs and their order alone, not on how they were cut into blocks; the box, and with
    it the hypervolume, also on when `fix_box` was called.

    Args:
        m: number of objectives.

    Attributes:
        evaluated: how many designs were added.
        feasible: how many of them are feasible.
        box: the hypervolume's box; None until there is one.
    """

    def __init__(self, m: int) -> None:
        self.evaluated = 0
        self.feasible = 0
        self.box: Box | None = None
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
        """(size, m): the front's objectives, in the order of `ids`."""
        return self._F[np.argsort(self._ids)]

    def add(self, F: Array, V: Array, ids: Ids) -> None:
        """Takes in evaluated designs.

        Args:
            F: (n, m), finite, to be minimised.
            V: (n,), violation; 0 is feasible.
            ids: (n,), each design's own number.

        Raises:
            CallError: as `Rows`, or where shapes do not match.
        """
        check_rows(F, V)
        if F.shape[1] != self._F.shape[1] or ids.shape != V.shape:
            raise CallError(f"archive of {self._F.shape[1]} objectives: F {F.shape} and ids {ids.shape} do not match")
        feasible = V <= 0
        self.evaluated += len(V)
        self.feasible += int(np.count_nonzero(feasible))
        entered = self._enter(F[feasible], ids[feasible])
        if self._volume is not None and len(entered):
            self._volume.update(self._F, entered)
        if self._wants_box:
            self.fix_box()

    def _enter(self, F: Array, ids: Ids) -> Array:
        """Merges feasible designs in and keeps the front of all; returns those that entered, (k, m)."""
        order = np.argsort(F[:, -1], kind="stable")
        F, ids = F[order], ids[order]
        # after those that are as good, so that of equal designs the one that came first is kept
        at = np.searchsorted(self._F[:, -1], F[:, -1], side="right") + np.arange(len(F))
        n = len(self._F) + len(F)
        new = np.zeros(n, dtype=np.bool_)
        new[at] = True
        merged_F, merged_ids = np.empty((n, F.shape[1])), np.empty(n, dtype=np.int64)
        merged_F[new], merged_F[~new] = F, self._F
        merged_ids[new], merged_ids[~new] = ids, self._ids
        keep = moocore.is_nondominated(merged_F, keep_weakly=False)
        self._F, self._ids = merged_F[keep], merged_ids[keep]
        entered: Array = merged_F[keep & new]
        return entered

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
        It never falls, but for the last digits of rounding. Exact for up to three objectives, see `Volume`.
        """
        return None if self._volume is None else self._volume.value()
