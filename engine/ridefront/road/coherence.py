"""Two tracks of one road: how alike they are, and what that makes of their mean and their half difference.

A surface with the same statistics in every direction says how its tracks hang together: the one-sided spectrum along
any line, G ∝ n^-w, is that of a surface whose two-dimensional spectrum falls with κ^-(w+1); two lines a distance t
apart then have the cross-spectrum g(n) G(n) with (Basset's integral for K, Abramowitz and Stegun 9.6.25)

    g(n) = ∫ (n² + m²)^-(w+1)/2 cos 2πmt dm / ∫ (n² + m²)^-(w+1)/2 dm = 2^(1-ν)/Γ(ν) (2πnt)^ν K_ν(2πnt),  ν = w/2,

which is real: no track leads. With left = m + d and right = m - d, the mean m of the tracks and half their difference d
are not correlated and have the spectra (1 + g)/2 G and (1 - g)/2 G.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import k1, kv

Array = NDArray[np.float64]


def coherence(n: Array, track: float, waviness: float = 2.0) -> Array:
    """Cross-spectrum of two tracks of an isotropic surface over the spectrum of each, g; 1 where they move alike.

    For w = 2, g = 2πnt K1(2πnt) (C.J. Dodds, J.D. Robson, Journal of Sound and Vibration 31 (1973) 175-183, from
    memory). The square of g is what signal processing calls coherence.

    Args:
        n: spatial frequencies (n_freq,), cycles/m.
        track: distance t between the tracks, not negative, m.
        waviness: exponent w of the spectrum, above 0.

    Returns:
        (n_freq,), from 1 down to 0.
    """
    order = 0.5 * waviness
    x = np.asarray(2 * np.pi * n * track)
    apart = np.where(x > 0, x, 1.0)
    if waviness == 2:
        g = apart * k1(apart)
    else:
        g = 2 ** (1 - order) / math.gamma(order) * apart**order * kv(order, apart)
    return np.where(x > 0, np.clip(g, 0.0, 1.0), 1.0)
