"""Many small convex quadratic programmes at once: the steps of a local search.

Each is: make p'Bp/2 + t + penalty s small, so that all rows of objectives stay below t, all rows of limits below s, and
p within its bounds. It always has a solution, because s may take up what limits cannot keep.

A primal-dual interior point method with Mehrotra's predictor and corrector (SIAM J. Optimization 2 (1992) 575-601),
batch axis first, a fixed number of steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEPS = 25  # of Newton, at most; some ten are enough
ENOUGH = 1e-9  # of complementarity; further on, rounding wins over what is left
SOFT = 1e-3  # curvature given to t and s, which scales multipliers by 1 + SOFT t and moves nothing
LEAST_ROOM = 1e-3  # of a start from rows' edges, and its multipliers
BACK_OFF = 0.995  # of the way to the boundary
LIFT = 1e-15  # on the diagonal of Newton's matrix, whose diagonal is 1


@dataclass(frozen=True)
class Steps:
    """Solutions of n programmes.

    Attributes:
        p: (n, d), within its bounds; here as everywhere a step, in shares of the ranges.
        objectives: multipliers of the objectives' rows, (n, r), about 1 in sum.
        limits: multipliers of the limits' rows, (n, l), spans per unit of what limits are missed by.
    """

    p: Array
    objectives: Array
    limits: Array


def solve(B: Array, G: Array, c: Array, A: Array, b: Array, low: Array, high: Array, penalty: Array) -> Steps:
    """Solves min p'Bp/2 + t + penalty s with G p + c <= t, A p + b <= s, s >= 0, low <= p <= high.

    Args:
        B: (n, d, d), positive definite, in spans per range squared.
        G: (n, r, d); c: (n, r); of objectives, in spans, r at least 1.
        A: (n, l, d); b: (n, l); of limits, over their scales, l may be 0.
        low: (n, d), at most 0; high: (n, d), at least 0, and above low; shares of the ranges.
        penalty: (n,), of what limits are missed by at the most.

    Returns:
        Steps, each as far as `STEPS` of Newton's steps bring it.
    """
    n, r, d = G.shape
    rows = A.shape[1]
    H = np.zeros((n, d + 2, d + 2))
    H[:, :d, :d] = B
    H[:, d, d] = H[:, d + 1, d + 1] = SOFT
    g = np.zeros((n, d + 2))
    g[:, d], g[:, d + 1] = 1.0, penalty
    C = np.zeros((n, r + rows + 1 + 2 * d, d + 2))
    C[:, :r, :d], C[:, :r, d] = G, -1.0
    C[:, r : r + rows, :d], C[:, r : r + rows + 1, d + 1] = A, -1.0
    C[:, -2 * d : -d, :d], C[:, -d:, :d] = np.eye(d), -np.eye(d)
    e = np.concatenate([-c, -b, np.zeros((n, 1)), high, -low], axis=1)
    x, z = _interior(H, g, C, e, *_start(H, g, C, e, r))
    return Steps(np.minimum(np.maximum(x[:, :d], low), high), z[:, :r], z[:, r : r + rows])


def _start(H: Array, g: Array, C: Array, e: Array, r: int) -> tuple[Array, Array]:
    """A start (n, d + 2) and multipliers (n, rows) that keep all rows and balance all slopes, well within.

    p is the middle of its bounds; t and s lie above all rows by what rows may change by within bounds.
    """
    d = g.shape[1] - 2
    half = 0.5 * (e[:, -2 * d : -d] + e[:, -d:])
    x = np.zeros_like(g)
    x[:, :d] = 0.5 * (e[:, -2 * d : -d] - e[:, -d:])
    rows, z = _times(C, x) - e, np.empty_like(e)
    room = (np.abs(C[:, :, :d]) @ half[..., None])[..., 0]
    for k, own in ((d, slice(0, r)), (d + 1, slice(r, -2 * d))):
        x[:, k] = rows[:, own].max(axis=1) + np.maximum(room[:, own].max(axis=1), LEAST_ROOM)
        z[:, own] = ((g[:, k] + SOFT * x[:, k]) / (rows[:, own].shape[1]))[:, None]
    slope = (_times(H, x) + g + _times(C[:, : -2 * d].transpose(0, 2, 1), z[:, : -2 * d]))[:, :d]
    even = np.abs(slope).max(axis=1, keepdims=True) + LEAST_ROOM
    z[:, -2 * d : -d], z[:, -d:] = even + np.maximum(-slope, 0.0), even + np.maximum(slope, 0.0)
    return x, z


def _interior(H: Array, g: Array, C: Array, e: Array, x: Array, z: Array) -> tuple[Array, Array]:
    """min x'Hx/2 + g'x with C x <= e, from within: solutions (n, k) and multipliers (n, rows).

    Each stays where it is solved, so that its bits do not depend on those beside it.
    """
    found_x, found_z = np.empty_like(x), np.empty(e.shape)
    Ct = np.ascontiguousarray(C.transpose(0, 2, 1))
    slack = e - _times(C, x)
    left = np.arange(len(x))
    for _ in range(STEPS):
        dual = _times(H, x) + g + _times(Ct, z)
        primal = _times(C, x) + slack - e
        mu = (slack * z).mean(axis=1)
        far = mu >= ENOUGH
        if not far.all():
            found_x[left[~far]], found_z[left[~far]] = x[~far], z[~far]
            left, H, g, C, Ct, e = left[far], H[far], g[far], C[far], Ct[far], e[far]
            x, slack, z, dual, primal, mu = x[far], slack[far], z[far], dual[far], primal[far], mu[far]
            if not len(left):
                return found_x, found_z
        weight = z / slack
        N = H + (Ct * weight[:, None, :]) @ C
        diagonal = np.einsum("nkk->nk", N)
        size = 1.0 / np.sqrt(diagonal)
        both = size[:, :, None] * size[:, None, :]
        N *= both
        diagonal += LIFT
        inverse: Array = np.asarray(np.linalg.inv(N), dtype=np.float64) * both
        # predictor
        dx = _times(inverse, -dual - _times(Ct, weight * primal - z))
        ds = -primal - _times(C, dx)
        dz = -z - weight * ds
        reach_s, reach_z = _reach(slack, ds), _reach(z, dz)
        after = ((slack + reach_s[:, None] * ds) * (z + reach_z[:, None] * dz)).mean(axis=1)
        centre = (after / mu) ** 3 * mu
        # corrector
        bend = (ds * dz - centre[:, None]) / slack
        dx = _times(inverse, -dual - _times(Ct, weight * primal - z - bend))
        ds = -primal - _times(C, dx)
        dz = -z - bend - weight * ds
        step = (BACK_OFF * np.minimum(_reach(slack, ds), _reach(z, dz)))[:, None]
        x, slack, z = x + step * dx, slack + step * ds, z + step * dz
    found_x[left], found_z[left] = x, z
    return found_x, found_z


def _times(M: Array, v: Array) -> Array:
    return np.asarray((M @ v[..., None])[..., 0], dtype=np.float64)


def _reach(v: Array, dv: Array) -> Array:
    """How far (n,) along dv every v stays above 0, at most 1."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(dv < 0, -v / dv, 1.0)
    return np.asarray(np.minimum(ratio.min(axis=1), 1.0))
