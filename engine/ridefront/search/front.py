"""What failed and infeasible designs mean to the search, and which of the others are on the front.

A design that could not be evaluated counts as finite and very bad: F = V = `LARGE`. No NaN or infinity gets further
than this file; `Rows` refuses them, because ranking and hypervolume would answer wrongly without a word.
"""

from __future__ import annotations

from dataclasses import dataclass

import moocore
import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

LARGE = 1e30  # what a failed design's objectives and violation count as; no figure of an evaluated design comes near


@dataclass(frozen=True)
class Rows:
    """How the designs of a block did, as the search sees it.

    Attributes:
        F: (n, m), finite, each objective in a unit of its own, to be minimised; `LARGE` where a design failed.
        V: (n,), violation, without unit, finite; 0 is feasible, `LARGE` is failed.
        P: (n, parts), what the figures are made of, in their units, NaN where a design failed; None where a block does
            not want it.
        enough: whether the front has grown so little of late that the stage is to end.

    Raises:
        CallError: on NaN, infinity, figures beyond `LARGE`, negative violation, or shapes that do not match.
    """

    F: Array
    V: Array
    P: Array | None = None
    enough: bool = False

    def __post_init__(self) -> None:
        F, V = self.F, self.V
        if F.ndim != 2 or V.shape != (len(F),):
            raise CallError(f"rows: F {F.shape} and V {V.shape} do not match; allowed: (n, m) and (n,)")
        # written so that NaN fails too
        if not (np.abs(F) <= LARGE).all():
            raise CallError(f"rows: F has NaN, infinity or a figure beyond {LARGE:g}; allowed: finite figures")
        if not ((V >= 0) & (V <= LARGE)).all():
            raise CallError(f"rows: V has NaN or a figure outside 0 to {LARGE:g}; allowed: finite, 0 for feasible")


def as_rows(values: Array, signs: Array, violation: Array, ok: Flags) -> Rows:
    """Figures of evaluated designs as the search sees them.

    Args:
        values: (n, m), objectives in any unit; whatever stands where a design failed, NaN for one, is not looked at.
        signs: (m,), 1 where an objective is to be made small, -1 where large.
        violation: (n,), without unit, 0 where all constraints hold; not looked at where a design failed.
        ok: (n,), False where a design failed.

    Returns:
        Rows: values * signs and violation; `LARGE` throughout where a design failed, so that it comes after any that
            did not.

    Raises:
        CallError: if a design that did not fail has NaN, infinity, a figure beyond `LARGE` or a negative violation.
    """
    F = np.where(ok[:, None], values * signs, LARGE)
    V = np.where(ok, violation, LARGE)
    return Rows(F, V)


def nondominated(F: Array, V: Array) -> Flags:
    """The feasible designs that no other feasible design dominates.

    Args:
        F: (n, m), finite, each objective in a unit of its own, to be minimised.
        V: (n,), violation, without unit; 0 is feasible.

    Returns:
        (n,): True on the front. Of designs with exactly equal objectives the first is kept: one setup stands for a
        compromise.

    Raises:
        CallError: as `Rows`.
    """
    Rows(F, V)  # refuses what would be ranked wrongly
    front = V <= 0
    front[front] = moocore.is_nondominated(F[front], keep_weakly=False)
    return front
