"""Two other ways to drive quarter cars over a road in time, for a benchmark of the march: scipy's adaptive Runge-Kutta
method, a design at a time in plain numbers, and the march's own method in numpy, all designs at once.

Their equations are a textbook's, written out anew: spring, bilinear damper with a knee each way, progressive stops,
a tyre that pushes and does not pull.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from ridefront.response.drive import Drive

Array = NDArray[np.float64]
Value = TypeVar("Value", float, Array)

FIGURES = ("mean square travel", "highest travel", "mean square load", "lift-off", "mean square acceleration")
"""What `population` gives, in this order; loads about the one at rest."""


@dataclass(frozen=True)
class Corner(Generic[Value]):
    """Quarter cars, arrays (n,), or one of them, numbers; SI.

    Attributes:
        body, wheel: masses.
        rate: of the spring.
        bump, rebound: of the damper up to `knee_speed`, beyond which `knee_share` of them is left.
        clearance, stop, growth: of the bump stop, (stop + growth d) d at depth d; the next three of the rebound stop.
        tyre, tyre_damping: of the tyre.
        contact: force at rest.
    """

    body: Value
    wheel: Value
    rate: Value
    bump: Value
    rebound: Value
    knee_speed: Value
    knee_share: Value
    clearance: Value
    stop: Value
    growth: Value
    rebound_clearance: Value
    rebound_stop: Value
    rebound_growth: Value
    tyre: Value
    tyre_damping: Value
    contact: Value


def one_of(corners: Corner[Array], k: int) -> Corner[float]:
    """The quarter car with that index."""
    return Corner[float](**{field.name: float(getattr(corners, field.name)[k]) for field in fields(corners)})


def adaptive(corner: Corner[float], road: Drive, tolerance: float) -> float:
    """Rms travel about its mean, m, over the steps that count, by scipy's RK45 with steps of at most 5 ms.

    The relative tolerance is 1e-6 and the road is straight between its half steps.

    Args:
        corner: one quarter car.
        road: one realisation; its first one is driven.
        tolerance: absolute, m and m/s alike.
    """
    r = road.heights[0, 0]
    times = np.arange(len(r)) * (0.5 * road.step)
    slopes = np.gradient(r, 0.5 * road.step)
    knee, share = corner.knee_speed, corner.knee_share

    def rates(t: float, y: Array) -> tuple[float, float, float, float]:
        z, u, dz, du = y.tolist()
        s, w = u - z, du - dz
        inner = min(max(w, -knee), knee)
        force = corner.rate * s + (corner.bump if w > 0 else corner.rebound) * (inner + share * (w - inner))
        if s > corner.clearance:
            depth = s - corner.clearance
            force += (corner.stop + corner.growth * depth) * depth
        elif -s > corner.rebound_clearance:
            depth = -s - corner.rebound_clearance
            force -= (corner.rebound_stop + corner.rebound_growth * depth) * depth
        elastic = corner.contact + corner.tyre * (float(np.interp(t, times, r)) - u)
        slope = float(np.interp(t, times, slopes))
        contact = max(elastic + corner.tyre_damping * (slope - du), 0.0) if elastic > 0 else 0.0
        return dz, du, force / corner.body, (contact - corner.contact - force) / corner.wheel

    counted = np.arange(road.first, road.steps) * road.step
    found = solve_ivp(
        rates, (0.0, road.steps * road.step), np.zeros(4), t_eval=counted, rtol=1e-6, atol=tolerance, max_step=5e-3
    )
    assert found.success, found.message
    return float(np.std(found.y[1] - found.y[0]))


def population(corners: Corner[Array], road: Drive) -> Array:
    """`FIGURES` of all quarter cars at once, (figures, n), by the classical Runge-Kutta method in numpy.

    Steps, heights and slopes are the march's.
    """
    r, step = road.heights[0, 0], road.step
    n = len(corners.body)
    y, trial, total, k = np.zeros((4, n)), np.empty((4, n)), np.empty((4, n)), np.empty((4, n))
    sums, highest = np.zeros((4, n)), np.zeros(n)
    knee, share = corners.knee_speed, corners.knee_share

    def rates(y: Array, height: float, slope: float) -> tuple[Array, Array]:
        """Fills k; gives travel and contact force."""
        z, u, dz, du = y
        s, w = u - z, du - dz
        inner = np.minimum(np.maximum(w, -knee), knee)
        force = corners.rate * s + np.where(w > 0, corners.bump, corners.rebound) * (inner + share * (w - inner))
        depth = np.maximum(s - corners.clearance, 0.0)
        force += (corners.stop + corners.growth * depth) * depth
        depth = np.maximum(-s - corners.rebound_clearance, 0.0)
        force -= (corners.rebound_stop + corners.rebound_growth * depth) * depth
        elastic = corners.contact + corners.tyre * (height - u)
        contact = np.maximum(elastic + corners.tyre_damping * (slope - du), 0.0) * (elastic > 0)
        k[:2] = y[2:]
        np.divide(force, corners.body, out=k[2])
        np.divide(contact - corners.contact - force, corners.wheel, out=k[3])
        return s, contact

    for t in range(road.steps):
        start, middle, end = r[2 * t : 2 * t + 3].tolist()
        s, contact = rates(y, start, (4 * middle - 3 * start - end) / step)
        if t >= road.first:
            for figure, value in zip(
                sums, (s * s, (contact - corners.contact) ** 2, contact <= 0, k[2] ** 2), strict=True
            ):
                figure += value
            np.maximum(highest, s, out=highest)
        total[:] = k
        across = (end - start) / step
        for height, slope, reach, weight in (
            (middle, across, 0.5 * step, 2.0),
            (middle, across, 0.5 * step, 2.0),
            (end, (3 * end - 4 * middle + start) / step, step, 1.0),
        ):
            np.multiply(k, reach, out=trial)
            trial += y
            rates(trial, height, slope)
            total += weight * k
        total *= step / 6
        y += total
    square, load, lift_off, acceleration = sums / (road.steps - road.first)
    return np.stack([square, highest, load, lift_off, acceleration])
