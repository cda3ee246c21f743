"""Where no design is feasible: the best trade-offs between what single constraints are missed by."""

from __future__ import annotations

import moocore
import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.spread import spread

Array = NDArray[np.float64]


def closest(V: Array, most: int) -> NDArray[np.intp]:
    """The least violating designs: of which no other misses every constraint by as little or less.

    Args:
        V: (n, c), 0 where a constraint holds, else what is missing over the constraint's scale, without unit; finite.
        most: how many at most, 1 or more; of more than that some which stand for all, the one with the least sum
            among them.

    Returns:
        Rows of V, the least sum first; of designs that miss by exactly the same the first.

    Raises:
        CallError: if `most` is less than 1, or V has NaN, infinity or a figure below 0.
    """
    if most < 1:
        raise CallError(f"most: {most}; allowed: 1 or more designs")
    if not (np.isfinite(V) & (V >= 0)).all():
        raise CallError("V: has NaN, infinity or a figure below 0; allowed: 0 where a constraint holds, else more")
    if not len(V) or not V.shape[1]:
        return np.empty(0, dtype=np.intp)
    best = np.flatnonzero(moocore.is_nondominated(V, keep_weakly=False))
    total = _sum(V[best])
    if len(best) > most:
        first = int(np.argmin(total))
        others = [row for row in spread(V[best], most) if row != first]
        chosen = np.array([first, *others], dtype=np.intp)[:most]
        best, total = best[chosen], total[chosen]
    order: NDArray[np.intp] = best[np.lexsort((best, total))]
    return order


def _sum(V: Array) -> Array:
    """Sums of rows, column by column, so that bits do not depend on how many there are."""
    total = np.zeros(len(V))
    for column in V.T:
        total = total + column
    return total
