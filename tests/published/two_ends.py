"""A car whose ends do not know of each other, on a random road, in closed form.

A body with the square of its radius of gyration equal to the product of its axles' distances from the centre of mass
(dynamic index 1) is a point mass above each axle: the car is two quarter cars, the rear one on the front one's road, a
wheelbase later. What is between them follows from both ends; with the ends alike, heave sees the road through
(1 + e^-iωL/v)/2 and pitch through (1 - e^-iωL/v)/L, which is called wheelbase filtering (A.A. Butkunas, Power spectral
density and ride evaluation, SAE 660138 (1966); D.A. Crolla, R.P. King, Olley's "flat ride" revisited, Vehicle System
Dynamics, supplement 33 (2000): both from memory, the term seen in the abstract at taylorfrancis.com/chapters, Olley's
flat ride revisited; formulas derived).

Nothing here comes from the engine: transfer functions, weightings and spectra are written out and integrated by
Simpson's rule.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import simpson
from scipy.special import k1

Array = NDArray[np.float64]
Transfer = NDArray[np.complex128]

LOW, HIGH = 0.011, 2.83
"""Band of ISO 8608, cycles/m."""


@dataclass(frozen=True)
class End:
    """A quarter car: sprung and unsprung mass, kg; spring, N/m; damper, N·s/m; tyre, N/m."""

    m: float
    mu: float
    k: float
    c: float
    kt: float

    def body(self, f: Array) -> Transfer:
        """Body's height over the road's, kt (cs + k)/P(s); (n_freq,), 1."""
        s = 2j * np.pi * f
        return np.asarray(self.kt * (self.c * s + self.k) / self._polynomial(f))

    def travel(self, f: Array) -> Transfer:
        """Wheel's height less the body's over the road's, kt m s²/P(s); (n_freq,), 1."""
        s = 2j * np.pi * f
        return np.asarray(self.kt * self.m * s**2 / self._polynomial(f))

    def _polynomial(self, f: Array) -> Transfer:
        m, mu, k, c, kt, s = self.m, self.mu, self.k, self.c, self.kt, 2j * np.pi * f
        return np.asarray(m * mu * s**4 + (m + mu) * c * s**3 + (m * kt + (m + mu) * k) * s**2 + c * kt * s + k * kt)


@dataclass(frozen=True)
class TwoEnds:
    """The car at `speed`, m/s: its front and rear end, `wheelbase` apart, m."""

    front: End
    rear: End
    wheelbase: float
    speed: float

    def ahead(self, f: Array) -> Transfer:
        """Height above the front axle over the road's under it, (n_freq,), 1."""
        return self.front.body(f)

    def behind(self, f: Array) -> Transfer:
        """Height above the rear axle over the road's under the front one: the same road, a wheelbase later."""
        return np.asarray(self.rear.body(f) * np.exp(-2j * np.pi * f * self.wheelbase / self.speed))

    def at(self, behind_front_axle: float) -> Callable[[Array], Transfer]:
        """Height of a point of the body: between its ends as a rod is."""
        share = behind_front_axle / self.wheelbase
        return lambda f: (1 - share) * self.ahead(f) + share * self.behind(f)

    def pitch(self, f: Array) -> Transfer:
        """Angle, nose down, over the road's height, (n_freq,), rad/m."""
        return np.asarray((self.behind(f) - self.ahead(f)) / self.wheelbase)


CONSTANTS = {
    "Wk": (12.5, 12.5, 0.63, (2.37, 0.91, 3.35, 0.91)),
    "Wd": (2.0, 2.0, 0.63, None),
    "We": (1.0, 1.0, 0.63, None),
    "Wc": (8.0, 8.0, 0.63, None),
}
"""f3, f4 (Hz), Q4, and f5, Q5, f6, Q6 of ISO 2631-1's weightings (test_iso2631.py holds them against its tables)."""


def weighting(name: str, f: Array) -> Array:
    """|W|² of ISO 2631-1, its factors one by one; (n_freq,)."""
    f3, f4, q4, step = CONSTANTS[name]
    band = f**4 / (f**4 + 0.4**4) * 100.0**4 / (f**4 + 100.0**4)
    squared = band * (1 + (f / f3) ** 2) / ((1 - (f / f4) ** 2) ** 2 + (f / (q4 * f4)) ** 2)
    if step is not None:
        f5, q5, f6, q6 = step
        up = ((1 - (f / f5) ** 2) ** 2 + (f / (q5 * f5)) ** 2) / ((1 - (f / f6) ** 2) ** 2 + (f / (q6 * f6)) ** 2)
        squared = squared * up * (f5 / f6) ** 4
    return np.asarray(squared)


def half_difference(n: Array, track: float) -> Array:
    """Share of a track's spectrum that half the difference of two has, `track` m apart on a surface that is alike in
    all directions: (1 - x K1(x))/2, x = 2πn·track; a half where nothing is in common. (n_freq,)
    """
    x = 2 * np.pi * n * track
    return np.asarray((1 - x * k1(x)) / 2)


def rms(
    transfer: Callable[[Array], Transfer],
    roughness: float,
    speed: float,
    *,
    order: int = 2,
    weighted: str | None = None,
    share: Callable[[Array], Array] | None = None,
    points: int = 40_001,
) -> float:
    """√∫ ω^(2·order) |W|² |T|² share S df on the band of ISO 8608, S = G_d(n0) (n/n0)^-2/v.

    Args:
        transfer: motion over the road's height, of frequencies, Hz.
        roughness: G_d(n0), m³; speed: m/s.
        order: 2 for accelerations, 0 for displacements.
        weighted: a weighting of ISO 2631-1.
        share: of the road's spectrum, of spatial frequencies, cycles/m; all of it if None.
        points: of Simpson's rule, even in ln f.
    """
    f = speed * np.geomspace(LOW, HIGH, points)
    spectrum = roughness * (f / speed / 0.1) ** -2.0 / speed
    square = (2 * np.pi * f) ** (2 * order) * np.abs(transfer(f)) ** 2 * spectrum
    if weighted is not None:
        square = square * weighting(weighted, f)
    if share is not None:
        square = square * share(f / speed)
    return float(np.sqrt(simpson(square * f, x=np.log(f))))
