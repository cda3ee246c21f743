"""Digital sections as `scipy.signal` and as a plain loop run them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import scipy.signal
from numpy.typing import NDArray

from ridefront.response.digital import Section

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def sos(sections: Sequence[Section]) -> Array:
    """scipy's layout (n_sections, 6): b0, b1, b2, 1, a1, a2."""
    return np.array([[b0, b1, b2, 1.0, a1, a2] for b0, b1, b2, a1, a2 in sections])


def response(sections: Sequence[Section], f: Array, step: float) -> ComplexArray:
    """Transfer function (n_freq,) at frequencies f (n_freq,), Hz."""
    _, H = scipy.signal.freqz_sos(sos(sections), f, fs=1 / step)
    return np.asarray(H, dtype=np.complex128)


def through(sections: Sequence[Section], y: Array) -> Array:
    """Samples y (n,) through the sections, from rest."""
    return np.asarray(scipy.signal.sosfilt(sos(sections), y), dtype=np.float64)


def through_by_hand(sections: Sequence[Section], y: Array) -> Array:
    """The same, sample by sample, in the form that the sections are documented for."""
    out = []
    states = [[0.0, 0.0] for _ in sections]
    for sample in y:
        o = float(sample)
        for (b0, b1, b2, a1, a2), s in zip(sections, states, strict=True):
            u, o = o, b0 * o + s[0]
            s[0] = b1 * u - a1 * o + s[1]
            s[1] = b2 * u - a2 * o
        out.append(o)
    return np.array(out)
