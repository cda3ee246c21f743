"""A look at a space before it is searched: a few designs, and what their objectives say of each other.

The designs are an additive sequence (H. Niederreiter, Bull. Amer. Math. Soc. 84 (1978) 957-1041, on such sequences).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridefront.search.asked import check_levels, snap

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

ROUNDING = 1e-9
"""Of an objective's size: figures nearer to each other than that are the same."""


def probes(levels: tuple[int, ...], count: int) -> Array:
    """Designs to look at first: quasi-random ones, and between them ends of ranges, where figures are extreme.

    The points are multiples, modulo 1, of 1/x, 1/x², ... with x^(d + 1) = x + 1 (golden ratio in one dimension), added
    to the middle of the cube, which fill it evenly.

    Args:
        levels: the design space.
        count: how many, at least 2.

    Returns:
        (k, d), k <= count, shares of the ranges, snapped, no design twice: such points and, behind each, the corner of
        the space that is nearest to it.

    Raises:
        CallError: if the space is not allowed, as `check_levels`.
    """
    check_levels(levels)
    d, x = len(levels), 1.5
    for _ in range(60):
        x = (1 + x) ** (1 / (d + 1))
    inside = np.mod(0.5 + np.arange(count // 2)[:, np.newaxis] * x ** -np.arange(1.0, d + 1), 1.0)
    both = snap(np.stack([inside, np.round(inside)], axis=1).reshape(-1, len(levels)), levels)
    _, first = np.unique(both, axis=0, return_index=True)
    return both[np.sort(first)]


def varies(f: Array) -> bool:
    """Whether a figure f (n,), in any unit, finite, is not the same for all n designs, but for rounding."""
    return bool(len(f) > 1 and f.max() - f.min() > ROUNDING * np.abs(f).max())


def ordered_alike(f: Array, g: Array) -> bool:
    """Whether two figures f and g (n,), both finite and to be minimised, each in a unit of its own, put n designs into
    one order: rank correlation exactly 1. One design or none has no order.

    Designs that tie in the one must tie in the other; figures nearer to each other than rounding tie.
    """
    if len(f) < 2:
        return False
    order = np.lexsort((g, f))
    return bool(np.array_equal(_steps(f[order]), _steps(g[order])))


def _steps(f: Array) -> NDArray[np.int8]:
    """Up 1, down -1, or 0 for a tie, from each design to the next, (n - 1,)."""
    rise = np.diff(f)
    slack = ROUNDING * np.abs(f).max()
    return np.where(rise > slack, 1, np.where(rise < -slack, -1, 0)).astype(np.int8)
