"""Designs into the kernel's lanes, figures out of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridefront.response.grid import Grid
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import AtRest

LANES = 16
"""Designs side by side in the kernel."""


def mean_squares(state: AtRest, rate: Array, damping: Array, grid: Grid, *, full: bool) -> list[Array]:
    """One run of the kernel over the frequencies of a condition.

    Args:
        state: n designs at rest, for masses, tyres and geometry.
        rate, damping: linear, of each corner, (n, corners), N/m and N·s/m.
        grid: of the condition.
        full: everything, or travel and its speed alone.

    Returns:
        Figures, each (n,), in the order that `kernel_spectrum` says.
    """
    from ridefront.response import kernel_spectrum as kernel

    n, corners = damping.shape
    if n == 0:
        return [np.empty(0)] * (3 * corners + kernel.body_figures(corners))
    blocks = -(-n // LANES)
    rows: list[NDArray[np.float64]] = [state.body.mass, state.body.pitch_inertia]
    for c in range(corners):
        rows += [
            rate[:, c],
            damping[:, c],
            state.tyre_rate[:, c],
            state.tyre_damping[:, c],
            state.unsprung_mass[:, c],
            state.body.x[:, c],
        ]
    P = np.empty((len(rows), blocks * LANES))
    for i, row in enumerate(rows):
        P[i, :n] = row
        P[i, n:] = row[-1]
    P = np.ascontiguousarray(P.reshape(len(rows), blocks, LANES).transpose(1, 0, 2))
    count = 3 * corners + kernel.body_figures(corners)
    out = np.empty((blocks, count, LANES))
    one = (0,)
    kernel.respond(one * corners, one * LANES, one if full else (), P, grid.table, out)
    flat = np.ascontiguousarray(out.transpose(1, 0, 2)).reshape(count, blocks * LANES)
    return [np.ascontiguousarray(flat[i, :n]) for i in range(count)]
