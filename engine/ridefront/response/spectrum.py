"""Designs into the kernel's lanes, figures out of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridefront.response.grid import Grid
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import AtRest

LANES = 16
"""Designs side by side in the kernel."""


def mean_squares(state: AtRest, rate: Array, damping: Array, grids: Sequence[Grid], *, full: bool) -> Array:
    """Runs the kernel over the frequencies of each condition.

    Args:
        state: designs at rest, for masses, tyres and geometry: the n designs of the first condition, then those of the
            second, and so on.
        rate, damping: linear, of each corner, (conditions * n, corners), N/m and N·s/m.
        grids: of the conditions.
        full: everything, or travel and its speed alone.

    Returns:
        (figures, conditions * n), in the order that `kernel_spectrum` says.
    """
    from ridefront.response import kernel_spectrum as kernel

    corners = damping.shape[1]
    count = 3 * corners + kernel.body_figures(corners)
    n = len(damping) // len(grids)
    if n == 0:
        return np.empty((count, 0))
    rows = [state.body.mass, state.body.pitch_inertia]
    for c in range(corners):
        axle = (rate, damping, state.tyre_rate, state.tyre_damping, state.unsprung_mass, state.body.x)
        rows += [quantity[:, c] for quantity in axle]
    blocks = -(-n // LANES)
    P = np.empty((len(rows), len(grids), blocks * LANES))
    for i, row in enumerate(rows):
        P[i, :, :n] = row.reshape(len(grids), n)
    P[:, :, n:] = P[:, :, n - 1 : n]
    P = np.ascontiguousarray(P.reshape(len(rows), len(grids), blocks, LANES).transpose(1, 2, 0, 3))
    out = np.empty((len(grids), blocks, count, LANES))
    one = (0,)
    for k, grid in enumerate(grids):
        kernel.respond(one * corners, one * LANES, one if full else (), P[k], grid.table, out[k])
    flat = out.transpose(2, 0, 1, 3).reshape(count, len(grids), blocks * LANES)
    return np.ascontiguousarray(flat[:, :, :n]).reshape(count, len(grids) * n)
