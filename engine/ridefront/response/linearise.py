"""The linear vehicle that stands for the real one on a road: statistical linearisation of dampers, friction and stops.

The damping that a corner has depends on how fast it moves, the rate on how often it meets its stops, and how it moves
on both. The fixed point is found in a few passes, each one run of the kernel for travel and its speed
alone.

A wheel whose road moves as white noise of intensity W takes up the power k_t W/2, which its damper spends: c σ_w² = k_t
W/2 (no tyre damping), whatever springs and masses are. Likewise σ_s² = W M/2c whatever the spring. So both go with
1/√c, which gives the first guess and lets each pass solve for the fixed point on the curve through what it has just
measured.

Stops are taken the same way, by their mean slope over the travel about its mean: a corner that rests just short of its
stop meets it on half of the waves. Their slope at rest instead would jump where the stop is touched, and a search would
find setups that hang a hair above their stops and look a third softer than they are.

Statistical linearisation: J.B. Roberts, P.D. Spanos, Random Vibration and Statistical Linearization, Wiley 1990 (from
memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.response.grid import Grid
from ridefront.response.spectrum import mean_squares
from ridefront.vehicle.laws import Array, friction_mean_slope
from ridefront.vehicle.static import AtRest

PASSES = 3
"""Runs of the kernel spent on it; see the tests for how close to convergence that is."""

MORE = 24
"""Further runs at most, while a design of the batch has not settled: one that meets its stops often."""

_CLOSE = 1e-3  # relative change of rate and damping in a pass that counts as settled
_SHORT = 0.3  # of a further pass's step in logarithms: what has not settled by then goes to and fro
_LEAST_DAMPING = 1.0  # N·s/m: keeps the first guess finite for a corner without a damper
_TINY = 1e-6  # N·s/m: a corner without damper and friction


@dataclass(frozen=True)
class Linear:
    """A linear vehicle in place of the real one, in one condition.

    Attributes:
        rate: of springs and stops at each corner, (n, corners), N/m.
        damping: of dampers and friction, (n, corners), N·s/m.
    """

    rate: Array
    damping: Array


def linearise(state: AtRest, grids: Sequence[Grid], passes: int = PASSES, more: int = MORE) -> Linear:
    """The statistically linearised vehicles on some roads at some speeds.

    Args:
        state: designs at rest, condition after condition, as in `mean_squares`.
        grids: of the conditions.
        passes: that every design takes; more: that those take which have not settled by then. What has settled is
            frozen, so that a design's bits do not depend on its neighbours.
    """
    still = np.zeros_like(state.friction)
    if state.speed_law.linear_in_mean and not np.any(state.friction) and not state.travel_law.hinges:
        return Linear(state.wheel_rate, np.maximum(state.speed_law.mean_slope(np.ones_like(state.friction)), _TINY))
    damping = np.maximum(state.speed_law.slope_at(still), _LEAST_DAMPING)
    intensity = np.repeat([grid.intensity for grid in grids], len(damping) // len(grids))[:, np.newaxis]
    sigma_w = np.sqrt(0.5 * state.tyre_rate * intensity / damping)
    sigma_s = np.sqrt(0.5 * intensity * (state.corner_mass + state.unsprung_mass) / damping)
    power = np.full_like(damping, -0.5)
    linear, mean = _fitting(state, damping, sigma_w, sigma_s, power, state.travel)
    corners = range(damping.shape[1])
    before = (linear, linear, sigma_w)
    loose = np.ones((len(damping), 1), dtype=np.bool_)
    for k in range(passes + more):
        if k >= passes and not loose.any():
            break
        figures = mean_squares(state, linear.rate, linear.damping, grids, full=False)
        sigma_s = np.sqrt(np.stack([figures[3 * c] for c in corners], axis=1))
        sigma_w = np.sqrt(np.stack([figures[3 * c + 1] for c in corners], axis=1))
        if k > 0:
            power = _power(before[0].damping, before[2], linear.damping, sigma_w)
        fitting, found = _fitting(state, linear.damping, sigma_w, sigma_s, power, mean)
        ahead = fitting
        if k > 0 and state.travel_law.hinges:
            ahead = Linear(_secant(before[0].rate, before[1].rate, linear.rate, fitting.rate), fitting.damping)
        change = _largest(
            np.maximum(np.abs(fitting.rate / linear.rate - 1), np.abs(fitting.damping / linear.damping - 1))
        )
        before = (linear, fitting, sigma_w)
        if k >= passes:
            ahead = Linear(
                np.where(loose, linear.rate * (ahead.rate / linear.rate) ** _SHORT, linear.rate),
                np.where(loose, linear.damping * (ahead.damping / linear.damping) ** _SHORT, linear.damping),
            )
            found = np.where(loose, found, mean)
        linear, mean = ahead, found
        loose = loose & (change > _CLOSE)[:, np.newaxis] if k >= passes else (change > _CLOSE)[:, np.newaxis]
    return linear


def _largest(change: Array) -> Array:
    """The largest of the corners, (n,)."""
    largest = change[:, 0]
    for c in range(1, change.shape[1]):
        largest = np.maximum(largest, change[:, c])
    return largest


def _secant(used1: Array, found1: Array, used2: Array, found2: Array) -> Array:
    """Where a map of rates meets itself, on the line through two of its points in logarithms.

    A stop that is met often makes the corner stiffer, which moves it less, and so on: plain iteration may go to and
    fro.
    """
    apart = np.log(used2 / used1)
    told = np.abs(apart) > 1e-6
    slope = np.where(told, np.log(found2 / found1) / np.where(told, apart, 1.0), 0.0)
    return np.asarray(used2 * np.exp(np.log(found2 / used2) / (1 - np.clip(slope, -30.0, 0.5))))


def mean_travel(state: AtRest, pumped: Array, sigma: Array, guess: Array) -> Array:
    """Where a corner is on average: springs and stops carry the load less what the dampers pump; (n, corners), m.

    Of a full car that is alike left and right this is the balance of the whole. Where one side pumps more than the
    other, or its stops push back more, every corner is still taken by itself: that the body then rolls, against bars
    and the tyres, is left out. Mean travel of four invented full cars with their loads 0.3 m aside is still within
    0.7 mm of that driven in time.

    Args:
        state: n designs at rest under one load.
        pumped: mean force of the dampers on the body, (n, corners), N.
        sigma: deviation of travel, (n, corners), m.
        guess: (n, corners), m.
    """
    return state.travel_law.mean_inverse(state.extra - pumped, sigma, guess)


def unsettled(state: AtRest, linear: Linear, sigma_s: Array, sigma_w: Array, mean: Array) -> Array:
    """How far a linear vehicle is from the one that its own motion calls for.

    Args:
        state: designs at rest.
        linear: what the motion was worked out with.
        sigma_s, sigma_w: deviations of travel and of its speed, (n, corners), m and m/s.
        mean: mean travel, (n, corners), m.

    Returns:
        (n,): largest relative change of a corner's rate or damping. Ordinary setups have 1e-4 and less; the
        iteration may not arrive for one that lives on very hard stops.
    """
    rate = state.travel_law.mean_slope(sigma_s, mean) if state.travel_law.hinges else state.wheel_rate
    damping = np.maximum(_equivalent(state, sigma_w), _TINY)
    return _largest(np.maximum(np.abs(rate / linear.rate - 1), np.abs(damping / linear.damping - 1)))


def _fitting(
    state: AtRest, damping: Array, sigma_w: Array, sigma_s: Array, power: Array, guess: Array
) -> tuple[Linear, Array]:
    """The vehicle that fits its own motion, given how it moves with `damping`, and its mean travel."""
    fitting = _on_the_curve(state, sigma_w, damping, power)
    ratio = damping / fitting
    if not state.travel_law.hinges:
        return Linear(state.wheel_rate, fitting), guess
    sigma_s = sigma_s * np.sqrt(ratio)
    pumped = state.speed_law.mean_force(sigma_w * np.sqrt(ratio))
    mean = mean_travel(state, pumped, sigma_s, guess)
    return Linear(state.travel_law.mean_slope(sigma_s, mean), fitting), mean


def _equivalent(state: AtRest, sigma: Array) -> Array:
    """Damping of dampers and friction together at a deviation of the speed of travel, (n, corners)."""
    damping = state.speed_law.mean_slope(sigma)
    if np.any(state.friction):
        damping = damping + friction_mean_slope(sigma, state.friction, state.friction_speed)
    return damping


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
