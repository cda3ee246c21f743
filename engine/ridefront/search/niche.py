"""Who survives where crowding says little: with four objectives or more nearly every design is on the first front, and
gaps between neighbours in single objectives no longer tell who is lonely.

Designs belong to the reference direction that is nearest in normalised objectives, and directions fill up evenly: the
survival of NSGA-III (Deb, Jain, IEEE Trans. Evol. Comput. 18 (2014) 577-601; from memory), with the ranges of all that
may survive for the normalisation, and the nearest design first instead of a random one, so that it needs no random
numbers. Directions lead through a simplex lattice (Das, Dennis, SIAM J. Optimization 8 (1998) 631-657; by pymoo).
"""

from __future__ import annotations

from functools import lru_cache
from math import comb

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

MANY = 4  # objectives from which survival goes by directions


@lru_cache(maxsize=8)
def directions(m: int, most: int) -> Array:
    """(k, m): vectors of length 1 through the points of a simplex lattice, the finest of at most `most` points; of m
    points, one an objective, where `most` is less.
    """
    from pymoo.util.ref_dirs import get_reference_directions  # takes its time to load

    parts = 1
    while comb(parts + m, m - 1) <= most:
        parts += 1
    points = np.asarray(get_reference_directions("das-dennis", m, n_partitions=parts), dtype=np.float64)
    unit: Array = points / np.sqrt(np.square(points).sum(axis=1, keepdims=True))
    return unit


def fill_up(F: Array, kept: Rows, candidates: Rows, count: int, size: int) -> Rows:
    """Picks from the last rank that fits in part.

    Args:
        F: (n, m), each objective in a unit of its own, to be minimised.
        kept: (a,), rows that survive whatever happens; candidates: (b,), rows of the last rank.
        count: how many of these survive, at most all.
        size: of the population: the number of directions goes by it.

    Returns:
        (count,): rows, in the order picked.
    """
    rows = np.concatenate([kept, candidates])
    low = F[rows].min(axis=0)
    span = F[rows].max(axis=0) - low
    N = (F[rows] - low) / np.where(span > 0, span, 1.0)
    along = N @ directions(F.shape[1], size).T
    away = np.maximum(np.square(N).sum(axis=1, keepdims=True) - np.square(along), 0.0)
    niche = away.argmin(axis=1)
    distance = away[np.arange(len(rows)), niche]
    filled = np.bincount(niche[: len(kept)], minlength=along.shape[1])
    waiting: dict[int, list[int]] = {}
    for i in np.lexsort((distance[len(kept) :], niche[len(kept) :])):
        waiting.setdefault(int(niche[len(kept) + i]), []).append(int(i))
    picked: list[int] = []
    while len(picked) < count:
        emptiest = min(waiting, key=lambda k: (filled[k], k))
        picked.append(waiting[emptiest].pop(0))
        filled[emptiest] += 1
        if not waiting[emptiest]:
            del waiting[emptiest]
    return candidates[np.array(picked, dtype=np.intp)]
