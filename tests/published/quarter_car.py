"""The linear quarter car on white-noise road velocity in closed form.

M. Gobbi, G. Mastinu, Analytical description and optimization of the dynamic behaviour of passively suspended road
vehicles, Journal of Sound and Vibration 245(3) (2001) 457-481, doi 10.1006/jsvi.2001.3591. Its abstract was seen; the
formulas here were derived anew and checked against two numerical ways (test_quarter_car_white_noise.py). No tyre
damping.

Symbols: ms, mu sprung and unsprung mass, M = ms + mu, ks, c, kt; E[w(t) w(t+s)] = W δ(s) for the road's vertical speed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class QuarterCar:
    """Masses, kg, and tyre rate, N/m; springs (N/m) and dampers (N·s/m) are arguments of the formulas."""

    ms: float = 380.0
    mu: float = 38.0
    kt: float = 190e3

    @property
    def M(self) -> float:
        return self.ms + self.mu

    def acceleration(self, ks: Array, c: Array, W: float) -> Array:
        """Variance of the body's acceleration, m²/s⁴."""
        return W / 2 * (self.M * ks**2 / (self.ms**2 * c) + self.kt * c / self.ms**2)

    def travel(self, c: Array, W: float) -> Array:
        """Variance of travel, m²; neither spring nor tyre is in it."""
        return W / 2 * self.M / c

    def tyre_force(self, ks: Array, c: Array, W: float) -> Array:
        """Variance of the dynamic tyre force, N²."""
        ms, mu, kt, M = self.ms, self.mu, self.kt, self.M
        over_c = M**3 * ks**2 / ms**2 - 2 * mu * kt * M * ks / ms + kt**2 * mu
        return W / 2 * (over_c / c + kt * M**2 * c / ms**2)

    def travel_speed(self, c: Array, W: float) -> Array:
        """Variance of the speed of travel, m²/s²: the power kt W/2 that the tyre takes up is spent in the damper."""
        return self.kt * W / (2 * c)

    def damping_of_least_acceleration(self, ks: Array) -> Array:
        return np.asarray(ks * np.sqrt(self.M / self.kt))

    @property
    def spring_of_least_tyre_force(self) -> float:
        """Whatever the damper."""
        return self.mu * self.ms * self.kt / self.M**2

    def pareto_damping(self, ks: Array) -> Array:
        """Damping on the exact set of compromises between acceleration and tyre force, for springs up to
        `spring_of_least_tyre_force`.
        """
        return np.sqrt(ks * self.ms - self.M * ks**2 / self.kt)


def intensity(roughness: float, speed: float) -> float:
    """W of an ISO 8608 road with waviness 2 and G_d(0.1 cycles/m) = `roughness`, m³, at `speed`, m/s; m²/s.

    The road's vertical speed has the one-sided spectrum (2πf)² G_d(f/v)/v = v (2π n0)² G_d(n0), and a two-sided white
    spectrum is half of the one-sided.
    """
    return speed * (2 * np.pi * 0.1) ** 2 * roughness / 2
