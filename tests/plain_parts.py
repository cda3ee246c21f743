"""Problems whose objectives and limits are smooth themselves: each is its own part."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ridefront.search import Anatomy, Limit, Made, Rows, Settings, plan

Array = NDArray[np.float64]


def plain_anatomy(m: int, limits: int = 0) -> Anatomy:
    """Parts are m objectives, to be made small, then so many limits, each to be at most nought."""

    def alone(k: int) -> Made:
        return Made(((k,),), (1.0,), "mean", "largest")

    small: Literal[1] = 1
    return Anatomy(
        tuple(alone(k) for k in range(m)),
        tuple(small for _ in range(m)),
        tuple(Limit(alone(m + k), 0.0, 1, 1.0) for k in range(limits)),
        m + limits,
    )


def plain_rows(P: Array, m: int) -> tuple[Array, Array]:
    """F (n, m) and V (n,), the sum of what limits are exceeded by, of such parts P (n, m + limits)."""
    return np.ascontiguousarray(P[:, :m]), np.maximum(P[:, m:], 0.0).sum(axis=1)


def searched(parts: Callable[[Array], Array], d: int, m: int, limits: int, settings: Settings) -> tuple[Array, Array]:
    """Everything that the whole plan asks of such a problem, with its refinement: F (n, m), V (n,) in that order.

    Args:
        parts: U (n, d), all continuous, to P (n, m + limits).
        d, m, limits: how many variables, objectives, limits.
        settings: seed and budget.
    """
    search = plan((0,) * d, m, settings, plain_anatomy(m, limits))
    told: list[Rows] = []
    try:
        block = next(search)
        while True:
            P = parts(block.U)
            told.append(Rows(*plain_rows(P, m), P))
            block = search.send(told[-1])
    except StopIteration:
        return np.concatenate([rows.F for rows in told]), np.concatenate([rows.V for rows in told])
