"""A few designs that stand for a whole front: ends, the best compromise, and then whichever is farthest from those
picked (Gonzalez, Theor. Comput. Sci. 38 (1985) 293-306).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError

Array = NDArray[np.float64]


def scaled(F: Array) -> Array:
    """Objectives over a front's range: 0 at the best, 1 at the worst; 0 throughout where an objective is constant.

    Args:
        F: (n, m), each objective in a unit of its own, to be minimised.

    Returns:
        (n, m), shares of the ranges, in [0, 1].
    """
    if not len(F):
        return np.array(F, dtype=np.float64)
    low = F.min(axis=0)
    span = F.max(axis=0) - low
    S: Array = (F - low) / np.where(span > 0, span, 1.0)
    return S


def compromise(F: Array) -> int:
    """The best compromise: the smallest Chebyshev distance from the ideal, over the front's range.

    Args:
        F: (n, m), the front, each objective in a unit of its own, to be minimised, n at least 1.

    Returns:
        Its row; of equals the one with the smallest sum, then the first.
    """
    S = scaled(F)
    return int(np.lexsort((S.sum(axis=1), S.max(axis=1)))[0])


def spread(F: Array, k: int) -> NDArray[np.intp]:
    """Picks k designs that stand for a front.

    The best compromise comes first, then the best in each objective (of equals the better compromise), then, again and
    again, whichever is farthest from those picked (Euclidean distance over the front's range).

    Args:
        F: (n, m), the front, each objective in a unit of its own, finite, to be minimised.
        k: how many, at least 1.

    Returns:
        Rows of F, all different, ordered by the first objective; fewer than k only where F has fewer different rows.

    Raises:
        CallError: if k < 1 or F is not finite.
    """
    if k < 1:
        raise CallError(f"k: {k}; allowed: 1 or more designs")
    if not np.isfinite(F).all():
        raise CallError("F: has NaN or infinity; allowed: finite figures")
    if not len(F):
        return np.empty(0, dtype=np.intp)
    S = scaled(F)
    worst = S.max(axis=1)
    wanted = [compromise(F)] + [int(np.lexsort((S.sum(axis=1), worst, s))[0]) for s in S.T]
    picked = list(dict.fromkeys(wanted))[:k]
    distance = np.full(len(F), np.inf)
    for i in picked:
        distance = np.minimum(distance, np.square(S - S[i]).sum(axis=1))
    while len(picked) < k and distance.max() > 0:
        picked.append(int(distance.argmax()))
        distance = np.minimum(distance, np.square(S - S[picked[-1]]).sum(axis=1))
    rows = np.sort(np.array(picked, dtype=np.intp))
    return rows[np.lexsort((*F[rows].T[::-1],))]
