"""What moves what over a whole design space: Sobol' indices, by scipy.

A figure's variance over the unit cube falls apart into what each variable does alone and what they do together (I.M.
Sobol', Math. Comput. Simul. 55 (2001) 271-280). The first-order index of a variable is the share of the first kind; its
total index counts all that it has a part in. A quasi-random set of pairs (A, B) and, for each variable, A with that
variable taken from B (A. Saltelli et al., Comput. Phys. Commun. 181 (2010) 259-270) gives both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search.asked import check_levels, snap

Array = NDArray[np.float64]

CONFIDENCE = 0.95
RESAMPLES = 400
MOST_DROPPED = 0.2  # of the rows: beyond, what is left is another space than the one asked about
FEWEST = 16  # rows below which no index is given

_STREAM = 100  # first word of the spawn keys; stages of the search and purposes of roads are far below
_CONSTANT = 1e-9  # of a figure's size: deviations below it are rounding


@dataclass(frozen=True)
class Indices:
    """Sobol' indices of k figures for d variables; NaN where there are none to give.

    Attributes:
        first, total: (k, d), shares of a figure's variance. Estimates: they may leave [0, 1] by as much as their
            intervals are wide. Of a single variable both are 1, and so are their intervals.
        first_low, first_high, total_low, total_high: (k, d), bootstrap intervals of `CONFIDENCE` over rows. Rows of a
            quasi-random set are more even than the bootstrap takes them to be, so the intervals are wide.
        rows: how many rows stand behind them; dropped: share of those asked that had a failed design in them.
    """

    first: Array
    first_low: Array
    first_high: Array
    total: Array
    total_low: Array
    total_high: Array
    rows: int
    dropped: float


def moves_sample(levels: tuple[int, ...], rows: int, seed: int) -> Array:
    """The designs that `indices` wants figures of.

    Args:
        levels: the design space; discrete variables move over their codes, each alike.
        rows: a power of two.
        seed: of the scrambling.

    Returns:
        (n, d), n = rows (d + 2), shares of the ranges, snapped: all of A, all of B, then A with variable 0 of B, with
        variable 1 ...

    Raises:
        CallError: if the space or `rows` is not allowed.
    """
    check_levels(levels)
    if rows < 1 or rows & (rows - 1):
        raise CallError(f"rows: {rows}; allowed: a power of two")
    from scipy.stats import qmc  # half a second to import, and only the end of a run needs it

    d = len(levels)
    both = qmc.Sobol(2 * d, scramble=True, rng=_stream(seed, 0)).random_base2(rows.bit_length() - 1)
    A, B = snap(both[:, :d], levels), snap(both[:, d:], levels)
    mixed = [np.where(np.arange(d) == j, B, A) for j in range(d)]
    return np.concatenate([A, B, *mixed])


def indices(values: Array, d: int, seed: int) -> Indices:
    """Sobol' indices from the figures of a `moves_sample`.

    A row with a failed design is left out of everything. Where more than `MOST_DROPPED` of them go, or fewer than
    `FEWEST` are left, or a figure does not vary, there are no indices.

    Args:
        values: (n, k), n = rows (d + 2), each figure in a unit of its own, in the order of `moves_sample`; not finite
            where a design failed.
        d: number of variables.
        seed: of the bootstrap.

    Raises:
        CallError: if the number of designs does not fit d.
    """
    rows = len(values) // (d + 2)
    if not rows or rows * (d + 2) != len(values):
        raise CallError(f"values: {len(values)} designs; allowed: a multiple of {d + 2} for {d} variables")
    k = values.shape[1]
    figures = np.moveaxis(values.reshape(d + 2, rows, k), 2, 1).copy()  # (d + 2, k, rows)
    whole = np.isfinite(figures).all(axis=(0, 1))
    kept = int(np.count_nonzero(whole))
    found = np.full((6, k, d), np.nan)
    if kept >= FEWEST and kept >= (1 - MOST_DROPPED) * rows:
        mean = figures[:2][:, :, whole].mean(axis=(0, 2))
        size = np.abs(figures[:2][:, :, whole]).max(axis=(0, 2))
        # scipy wants a power of two. A row of means adds nothing to any sum, and falls out of the ratios.
        figures = np.where(whole, figures - mean[:, np.newaxis], 0.0)
        varies = figures[:2].std(axis=(0, 2)) > _CONSTANT * size
        if varies.any():
            found[:, varies] = _estimated(figures[:, varies], seed)
    first, first_low, first_high, total, total_low, total_high = found
    return Indices(first, first_low, first_high, total, total_low, total_high, kept, 1 - kept / rows)


def _estimated(figures: Array, seed: int) -> Array:
    """First-order indices with the ends of their intervals, then total ones, (6, k, d), of figures (d + 2, k, rows)."""
    from scipy.stats import bootstrap

    count, k, rows = figures.shape
    if count == 3:  # a single variable does everything
        return np.ones((6, k, 1))

    def both(chosen: NDArray[np.intp]) -> Array:
        return _by_scipy(figures[..., chosen])

    spread = bootstrap(
        (np.arange(rows),),
        both,
        n_resamples=RESAMPLES,
        confidence_level=CONFIDENCE,
        method="percentile",
        vectorized=False,
        rng=_stream(seed, 1),
    ).confidence_interval
    point, low, high = _by_scipy(figures), np.asarray(spread.low), np.asarray(spread.high)
    return np.stack([point[0], low[0], high[0], point[1], low[1], high[1]])


def _by_scipy(figures: Array) -> Array:
    """First-order and total indices, (2, k, d)."""
    from scipy.stats import sobol_indices

    count, k, rows = figures.shape
    found = sobol_indices(func={"f_A": figures[0], "f_B": figures[1], "f_AB": figures[2:]}, n=rows)
    return np.stack([found.first_order, found.total_order]).reshape(2, k, count - 2)


def _stream(seed: int, purpose: int) -> np.random.Generator:
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(_STREAM, purpose)))
