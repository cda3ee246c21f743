"""Random roads by their displacement spectrum, ISO 8608 (1995, 2016)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from ridefront.road.coherence import coherence

Array = NDArray[np.float64]

REFERENCE_FREQUENCY = 0.1
"""n0, cycles/m."""

BAND = (0.011, 2.83)
"""Spatial frequencies that the standard's classes cover, cycles/m (seen in a public copy)."""

CLASSES = {letter: 16e-6 * 4**k for k, letter in enumerate("ABCDEFGH")}
"""Geometric mean of G_d(n0) of each class, m³ (ISO 8608 table of classes, seen in public copies)."""


@dataclass(frozen=True)
class Road:
    """A random road, G_d(n) = roughness (n/n0)^-waviness within the band, nothing outside it.

    Attributes:
        name: as people call it.
        roughness: G_d(n0) at n0 = 0.1 cycles/m, one-sided, m³.
        waviness: exponent w.
        band: lowest and highest spatial frequency, cycles/m.
        length: m; peaks are expected over this length, and realisations repeat after it.
        realisations: how many stretches of it are driven in the time domain.
        tracks: of a car with two: those of a surface that is alike in all directions, or one as the other.
    """

    name: str
    roughness: float
    waviness: float = 2.0
    band: tuple[float, float] = BAND
    length: float = 1000.0
    realisations: int = 8
    tracks: Literal["isotropic", "equal"] = "isotropic"

    def spectrum(self, n: Array) -> Array:
        """One-sided displacement spectrum at spatial frequencies `n` (n_freq,), cycles/m; m³, m² per cycle/m."""
        inside = (n >= self.band[0] * (1 - 1e-12)) & (n <= self.band[1] * (1 + 1e-12))
        return np.where(inside, self.roughness * (n / REFERENCE_FREQUENCY) ** -self.waviness, 0.0)

    def shares(self, n: Array, track: float) -> tuple[Array, Array]:
        """What of the spectrum the mean m of two tracks has, and what half their difference d has (left m + d, right
        m - d, not correlated): (1 + g)/2 and (1 - g)/2 with g of `coherence`; (n_freq,) each.

        Args:
            n: spatial frequencies (n_freq,), cycles/m.
            track: distance between the tracks, m.
        """
        g = np.ones_like(n) if self.tracks == "equal" else coherence(n, track, self.waviness)
        return 0.5 * (1 + g), 0.5 * (1 - g)


class Spectral(Protocol):
    """A road by its spectrum: what the frequency domain needs of it; names as in `Road`."""

    @property
    def roughness(self) -> float:
        """G_d(n0) of the line that its spectrum is near, m³."""

    @property
    def waviness(self) -> float:
        """Exponent of that line."""

    @property
    def band(self) -> tuple[float, float]:
        """Cycles/m."""

    @property
    def length(self) -> float:
        """m."""

    def spectrum(self, n: Array) -> Array:
        """(n_freq,), m³, at spatial frequencies `n`, cycles/m."""

    def shares(self, n: Array, track: float) -> tuple[Array, Array]:
        """Shares of the spectrum at spatial frequencies `n`, cycles/m: that of the mean of two tracks, `track` m apart,
        and that of half their difference; (n_freq,) each, 1.
        """


def patch_filter(n: Array, patch: float) -> Array:
    """What a moving average over the contact patch leaves of a spectrum, sinc²(n L), sinc x = sin πx/πx; (n_freq,).

    Args:
        n: spatial frequencies, cycles/m.
        patch: length L of the contact patch, m; 0 leaves everything.
    """
    return np.sinc(n * patch) ** 2


def temporal_spectrum(road: Spectral, speed: float, patch: float, f: Array) -> Array:
    """One-sided spectrum of the height under a tyre, in time.

    Args:
        road: the road.
        speed: m/s.
        patch: length of the contact patch, m.
        f: frequencies (n_freq,), Hz.

    Returns:
        (n_freq,), m²/Hz: S(f) = G_d(f/v)/v times the patch filter.
    """
    n = f / speed
    return road.spectrum(n) * patch_filter(n, patch) / speed


def velocity_intensity(road: Spectral, speed: float, f: float) -> float:
    """Intensity W of the white noise, E[w(t) w(t+s)] = W δ(s), that the road's vertical speed resembles about `f` Hz;
    m²/s.

    Exact for all frequencies where w = 2: W = v (2π n0)² G_d(n0)/2.
    """
    n = f / speed
    density = road.roughness * (n / REFERENCE_FREQUENCY) ** -road.waviness / speed
    return float(0.5 * (2 * np.pi * f) ** 2 * density)
