"""The response of linearised vehicles to random roads, by integration over the road's spectrum.

Exact for the linear model. Dampers and friction are put in by statistical linearisation: the damping that a corner
has depends on how fast it moves, and how fast it moves on the damping. The fixed point is found in a fixed number of
passes, each one run of the kernel for the speed of travel alone, then one full run.

A wheel whose road moves as white noise of intensity W takes up the power k_t W/2, which its damper spends: c σ² = k_t
W/2 (no tyre damping), whatever the springs and masses. So σ goes with 1/√c, which gives the first guess and lets each
pass solve for the fixed point on the curve through what it has just measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.response.grid import Grid
from ridefront.vehicle.laws import Array, friction_mean_slope
from ridefront.vehicle.static import AtRest

LANES = 16
"""Designs side by side in the kernel."""

PASSES = 2
"""Runs of the kernel spent on statistical linearisation; the damping is then within 1e-4 of the converged one (see
tests).
"""


@dataclass(frozen=True)
class FrequencyResponse:
    """Mean squares of a batch of designs on one road at one speed under one load.

    Attributes:
        damping: linearised, of each corner, (n, corners), N·s/m.
        pumped_force: mean force of the dampers on the body, (n, corners), N; negative pulls the body down.
        travel, travel_speed, contact_force: mean squares, (n, corners), m², m²/s², N².
        acceleration: mean products z"z", z"θ", θ"θ" at the centre of mass, (n, 3), SI.
        weighted: the same, Wk-weighted, (n, 3).
        pitch: mean square of the pitch angle, (n,), rad²; zeros for a quarter car, like the next two.
        pitch_weighted, pitch_backrest: of pitch acceleration weighted by We and by Wc, (n,), rad²/s⁴.
        grid: what it was integrated over.
    """

    damping: Array
    pumped_force: Array
    travel: Array
    travel_speed: Array
    contact_force: Array
    acceleration: Array
    weighted: Array
    pitch: Array
    pitch_weighted: Array
    pitch_backrest: Array
    grid: Grid


def frequency_response(
    state: AtRest, grid: Grid, *, at_rest_damping: bool = False, passes: int = PASSES
) -> FrequencyResponse:
    """Response of designs at rest under one load to one road at one speed.

    Args:
        state: n designs.
        grid: of the condition.
        at_rest_damping: take dampers by the mean of their two slopes at rest and leave friction out, instead of
            statistical linearisation.
        passes: for checks of convergence.

    Returns:
        Mean squares; a design that cannot stand under this load, or whose figures overflow, has NaN somewhere.
    """
    with np.errstate(all="ignore"):
        if at_rest_damping:
            damping = state.speed_law.slope_at(np.zeros_like(state.friction))
        else:
            damping = _linearise(state, grid, passes)
        figures = _run(state, damping, grid, full=True)
        corners = damping.shape[1]
        axle = [[figures[3 * c + k] for c in range(corners)] for k in range(3)]
        travel, speed, contact = (np.ascontiguousarray(np.stack(part, axis=1)) for part in axle)
        pumped = state.speed_law.mean_force(np.sqrt(speed))
    body = figures[3 * corners :]
    none = np.zeros_like(body[0])
    if corners == 1:
        plain, weighted, rest = [body[0], none, none], [body[1], none, none], [none, none, none]
    else:
        plain, weighted, rest = body[0:3], body[3:6], body[6:9]
    return FrequencyResponse(
        damping=damping,
        pumped_force=pumped,
        travel=travel,
        travel_speed=speed,
        contact_force=contact,
        acceleration=np.stack(plain, axis=1),
        weighted=np.stack(weighted, axis=1),
        pitch=rest[0],
        pitch_weighted=rest[1],
        pitch_backrest=rest[2],
        grid=grid,
    )


def _equivalent(state: AtRest, sigma: Array) -> Array:
    """Damping of dampers and friction together at a deviation of the speed of travel, (n, corners)."""
    damping = state.speed_law.mean_slope(sigma)
    if np.any(state.friction):
        damping = damping + friction_mean_slope(sigma, state.friction, state.friction_speed)
    return damping


def _linearise(state: AtRest, grid: Grid, passes: int) -> Array:
    """Statistically linearised damping, (n, corners)."""
    if state.speed_law.linear_in_mean and not np.any(state.friction):
        return state.speed_law.mean_slope(np.ones_like(state.friction))
    slope = np.maximum(state.speed_law.slope_at(np.zeros_like(state.friction)), _LEAST_DAMPING)
    power = np.full_like(slope, -0.5)
    sigma = np.sqrt(0.5 * state.tyre_rate * grid.intensity / slope)
    damping = _on_the_curve(state, sigma, slope, power)
    before = (damping, sigma)
    for k in range(passes):
        figures = _run(state, damping, grid, full=False)
        sigma = np.sqrt(np.stack([figures[3 * c + 1] for c in range(damping.shape[1])], axis=1))
        if k > 0:
            power = _power(before[0], before[1], damping, sigma)
        before = (damping, sigma)
        damping = _on_the_curve(state, sigma, damping, power)
    return damping


_LEAST_DAMPING = 1.0  # N·s/m: keeps the first guess finite for a corner without a damper
_TINY = 1e-6  # N·s/m: a corner without damper and friction


def _power(c1: Array, sigma1: Array, c2: Array, sigma2: Array) -> Array:
    """The exponent of σ ∝ c^power through two measured points; near -1/2, and -1/2 where the points lie too close to
    tell.
    """
    apart = np.log(c2 / c1)
    told = np.abs(apart) > 1e-4
    power = np.log(sigma2 / sigma1) / np.where(told, apart, 1.0)
    return np.asarray(np.where(told, np.clip(power, -0.8, -0.2), -0.5))


def _on_the_curve(state: AtRest, sigma: Array, damping: Array, power: Array) -> Array:
    """Damping that fits its own speed of travel, on the curve σ ∝ c^power through (sigma, damping).

    Two steps of plain iteration in ln c from where we are, then Aitken's extrapolation.
    """
    c1 = np.maximum(_equivalent(state, sigma), _TINY)
    d1 = np.log(c1 / damping)
    c2 = np.maximum(_equivalent(state, sigma * np.exp(power * d1)), _TINY)
    d2 = np.log(c2 / c1)
    bend = d2 - d1
    ahead = np.where(np.abs(bend) > 1e-13, -d2 * d2 / np.where(bend == 0, 1.0, bend), 0.0)
    # The plain iteration contracts; an extrapolation further than a few of its own steps is rounding.
    return np.asarray(c2 * np.exp(np.clip(ahead, -4 * np.abs(d2), 4 * np.abs(d2))))


def _run(state: AtRest, damping: Array, grid: Grid, *, full: bool) -> list[Array]:
    """One run of the kernel; a list of figures, each (n,)."""
    from ridefront.response import kernel_spectrum as kernel

    n, corners = damping.shape
    blocks = -(-n // LANES)
    rows: list[NDArray[np.float64]] = [state.body.mass, state.body.pitch_inertia]
    for c in range(corners):
        rows += [
            state.wheel_rate[:, c],
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
