"""The one fixed frequency grid of a study: frequencies and quadrature weights, the same for every design.

Even in ln f over the road's band, trapezoid with end corrections. The integrand is smooth in ln f (resonances of a
ratio ζ are some ζ wide there), so the trapezoid converges fast; a grid fitted to each design would differ between
designs side by side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.response.weighting import WEIGHTINGS
from ridefront.road.iso8608 import Spectral, temporal_spectrum, velocity_intensity

Array = NDArray[np.float64]

POINTS = 513
"""Frequencies on the ISO band; in proportion to its logarithm on another one, and twice as many at a crawl, where the
band ends among wheel hop. Any rms is then within 1e-4 where every mode's damping ratio is from 0.02 to 1.5, as the
tests show by making it finer. A sharper resonance lies between two frequencies: of a quarter car on class B at 15 and
25 m/s rms figures are within 0.7 % with a ratio of 0.01, 8 % with 0.005, and up to a third off with 0.002.
"""

LEAST_DAMPING = 0.02
"""Damping ratio from which on the grid is fine enough."""

_ISO_SPAN = float(np.log(2.83 / 0.011))
_FEWEST = 65
_WHEEL_HOP = 10.0  # Hz
_ABOVE_HOP = 25.0  # Hz: a band that ends below is cut off where the wheels still move

# Gregory's end corrections of the trapezoidal rule, first and second differences kept, error of fourth order:
# 1/2 - 1/12 - 1/24, 1 + 1/12 + 2/24, 1 - 1/24 (A. Ralston, A First Course in Numerical Analysis, 1965, from memory;
# checked in the tests by the order of convergence).
_END = (3.0 / 8.0, 7.0 / 6.0, 23.0 / 24.0)


@dataclass(frozen=True)
class Grid:
    """Frequencies of one condition and everything that does not depend on the design.

    Attributes:
        omega: (n_freq,), rad/s.
        power: spectrum of the height under the tyre times the quadrature weight, (n_freq,), m².
        mean_power, difference_power: likewise of the mean of left and right track and of half their difference, which
            are not correlated, (n_freq,), m²; with one track the power itself, and zeros.
        lag: wheelbase over speed, s; 0 for one axle.
        weightings: |Wk|², |We|², |Wc|² at the frequencies, (3, n_freq).
        table: columns for the kernel: ω, power, cos ω·lag, sin ω·lag, |Wk|², |We|², |Wc|²; (n_freq, 7).
        intensity: of the white noise that the road's vertical speed resembles about wheel hop, m²/s.
        speed: m/s; duration: of the road at that speed, s.
    """

    omega: Array
    power: Array
    mean_power: Array
    difference_power: Array
    lag: float
    weightings: Array
    table: Array
    intensity: float
    speed: float
    duration: float


def condition_grid(
    road: Spectral, speed: float, patch: float, wheelbase: float, density: int = 1, *, track: float | None = None
) -> Grid:
    """The grid of one road at one speed.

    Args:
        road: the road; its band at this speed is what is integrated over.
        speed: m/s.
        patch: length of the contact patch, m.
        wheelbase: m; 0 for one axle.
        density: multiplies the number of intervals, for checks of convergence.
        track: distance between left and right wheels, m; None for one track.
    """
    low, high = road.band[0] * speed, road.band[1] * speed
    span = float(np.log(high / low))
    density = 2 * density if high < _ABOVE_HOP else density
    points = density * max(_FEWEST - 1, int(np.ceil((POINTS - 1) * span / _ISO_SPAN - 1e-9))) + 1
    step = span / (points - 1)
    f = low * np.exp(step * np.arange(points))
    f[-1] = high
    weight = np.full(points, step)
    weight[:3] *= _END
    weight[-3:] *= _END[::-1]
    omega = 2 * np.pi * f
    lag = wheelbase / speed
    power = temporal_spectrum(road, speed, patch, f) * f * weight
    mean, difference = (np.ones(points), np.zeros(points)) if track is None else road.shares(f / speed, track)
    weightings = np.stack([WEIGHTINGS[name].squared(f) for name in ("Wk", "We", "Wc")])
    table = np.stack([omega, power, np.cos(omega * lag), np.sin(omega * lag), *weightings], axis=1)
    return Grid(
        omega=omega,
        power=power,
        mean_power=power * mean,
        difference_power=power * difference,
        lag=lag,
        weightings=weightings,
        table=np.ascontiguousarray(table),
        intensity=velocity_intensity(road, speed, _WHEEL_HOP),
        speed=speed,
        duration=road.length / speed,
    )
