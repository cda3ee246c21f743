"""Frequency weightings of ISO 2631-1:1997 (constants as in ISO 8041).

Each weighting is a product of four factors: a high-pass at f1 and a low-pass at f2 (second order, Butterworth), an
acceleration-velocity transition (f3, f4, Q4) and an upward step (f5, Q5, f6, Q6). Constants seen in two agreeing
public copies; the tests hold them against the standard's tables of factors at third-octave frequencies.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_BUTTERWORTH = float(np.sqrt(0.5))


@dataclass(frozen=True)
class Weighting:
    """Constants of one weighting, Hz and 1; infinity leaves a factor out.

    Attributes:
        f1, f2: band limits. f3, f4, q4: transition. f5, q5, f6, q6: step (infinite: no step).
    """

    f1: float
    f2: float
    f3: float
    f4: float
    q4: float
    f5: float = float("inf")
    q5: float = 1.0
    f6: float = float("inf")
    q6: float = 1.0

    def response(self, f: Array) -> ComplexArray:
        """Transfer function at frequencies `f` (n_freq,), Hz; complex (n_freq,), 1."""
        s = 2j * np.pi * f
        w1, w2, w4 = (2 * np.pi * x for x in (self.f1, self.f2, self.f4))
        high = s**2 / (s**2 + s * w1 / _BUTTERWORTH + w1**2)
        low = w2**2 / (s**2 + s * w2 / _BUTTERWORTH + w2**2)
        rise = 1.0 if np.isinf(self.f3) else 1 + s / (2 * np.pi * self.f3)
        transition = rise / (1 + s / (self.q4 * w4) + (s / w4) ** 2)
        total = high * low * transition
        if np.isfinite(self.f5):
            w5, w6 = 2 * np.pi * self.f5, 2 * np.pi * self.f6
            total = total * (1 + s / (self.q5 * w5) + (s / w5) ** 2) / (1 + s / (self.q6 * w6) + (s / w6) ** 2)
            total = total * (self.f5 / self.f6) ** 2
        return np.asarray(total, dtype=np.complex128)

    def squared(self, f: Array) -> Array:
        """|H|² at frequencies `f` (n_freq,), Hz."""
        H = self.response(f)
        return H.real**2 + H.imag**2


WEIGHTINGS = {
    "Wk": Weighting(0.4, 100.0, 12.5, 12.5, 0.63, 2.37, 0.91, 3.35, 0.91),
    "Wd": Weighting(0.4, 100.0, 2.0, 2.0, 0.63),
    "We": Weighting(0.4, 100.0, 1.0, 1.0, 0.63),
    "Wc": Weighting(0.4, 100.0, 8.0, 8.0, 0.63),
    "Wf": Weighting(0.08, 0.63, float("inf"), 0.25, 0.86, 0.0625, 0.80, 0.10, 0.80),
}
"""Wk vertical on the seat, Wd horizontal, We rotation, Wc fore-aft at the backrest, Wf motion sickness."""
