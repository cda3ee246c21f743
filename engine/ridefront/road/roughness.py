"""How rough a profile is: its displacement spectrum, the class and waviness of ISO 8608 fitted to it, and its
International Roughness Index (IRI). Arrays in, arrays out.

Sources: ISO 8608 (1995, 2016), bands of smoothing from memory. P.D. Welch, IEEE Transactions on Audio and
Electroacoustics 15 (1967) 70-73, from memory. M.W. Sayers, On the calculation of International Roughness Index from
longitudinal road profile, Transportation Research Record 1501 (1995) 1-12; M.W. Sayers, T.D. Gillespie, W.D.O.
Paterson, World Bank Technical Paper 46 (1986); ASTM E1926.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.linalg
import scipy.signal
import scipy.special
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.road.iso8608 import BAND, CLASSES, REFERENCE_FREQUENCY

Array = NDArray[np.float64]

SHORTEST_SPECTRUM = 100.0
"""m of profile that a spectrum needs."""

SHORTEST_INDEX = 11.0
"""m of profile that the roughness index needs: over them its quarter car gets its first slope."""

SEGMENT = 100.0
"""m for which a roughness index is usually given, common practice."""

FEWEST_BANDS = 6
"""Bands that a class and a waviness are fitted to, at least."""

_SEGMENTS = 8  # that a spectrum is averaged over where the profile is long enough
_SEGMENT_LENGTHS = (50.0, 250.0)  # m, of such a segment: shortest and longest
_FIRST_BIN = 2.0  # below so many bins a segment's detrending and its window show
_OVERLAP = 1 / 36  # correlation of the power of neighbouring segments, Hann's window, half overlapped (Welch)
_SPREAD = 1 + 2 * (4 / 9 + 1 / 36)  # bins of Hann's window for one that is independent, from their correlations


@dataclass(frozen=True)
class Spectrum:
    """A displacement spectrum at even spatial frequencies.

    Attributes:
        n: spatial frequencies, cycles/m; density: one-sided, m³; both (n_freq,).
        averages: how many independent segments are behind each.
    """

    n: Array
    density: Array
    averages: float

    @property
    def bin(self) -> float:
        """Distance of frequencies, cycles/m."""
        return float(self.n[1] - self.n[0])


@dataclass(frozen=True)
class Bands:
    """A spectrum smoothed: its mean over bands that touch, all of them (n_bands,).

    Attributes:
        low, high: edges, cycles/m.
        density: m³.
        freedom: degrees of freedom of the χ² law that the density follows about its mean.
        weight: how much each tells beside its neighbours: 1 over the variance of ln density. A band narrower than a
            bin shares that bin with others.
    """

    low: Array
    high: Array
    density: Array
    freedom: Array
    weight: Array

    @property
    def middle(self) -> Array:
        """Geometric middle of each band, (n_bands,), cycles/m."""
        return np.sqrt(self.low * self.high)

    def to_fit(self) -> tuple[Array, Array, Array]:
        """Middles, densities and weights of the bands within the classes' frequencies, (n_inside,) each, in the units
        of the attributes, as `fit` takes them: a density's logarithm is low on average, by ln(ν/2) - ψ(ν/2) for ν
        degrees of freedom, which is put back.
        """
        inside = (self.middle >= BAND[0]) & (self.middle <= BAND[1])
        half = 0.5 * self.freedom[inside]
        put_back = np.exp(np.log(half) - scipy.special.digamma(half))
        return self.middle[inside], self.density[inside] * put_back, self.weight[inside]


@dataclass(frozen=True)
class Fit:
    """A straight line through a spectrum in logarithms, G_d(n) = roughness (n/n0)^-waviness.

    Attributes:
        roughness: G_d(n0) at n0 = 0.1 cycles/m, m³; roughness_error: standard error of its logarithm.
        waviness: w; waviness_error: standard error.
        at_two: G_d(n0) with a waviness of 2, every octave counting alike, by which roads are classed; at_two_error:
            standard error of its logarithm.
        letter: of the class; "H+" far beyond the roughest, which is our own word.
        band: lowest and highest middle of the bands used, cycles/m.
    """

    roughness: float
    roughness_error: float
    waviness: float
    waviness_error: float
    at_two: float
    at_two_error: float
    letter: str
    band: tuple[float, float]


@dataclass(frozen=True)
class Index:
    """The roughness index of a profile.

    Attributes:
        whole: over all of it, mm/m (m/km).
        start, end: of each segment, m; segments: the index of each, mm/m; all (n_segments,).
    """

    whole: float
    start: Array
    end: Array
    segments: Array


def spectrum(heights: Array, step: float) -> Spectrum:
    """Displacement spectrum by Welch's method: Hann's window, half overlap, a straight line off each segment.

    Segments are a 4.5th of the profile, so that there are eight, but 50 m long at least and 250 m at most.

    Args:
        heights: at an even step, (n,), m.
        step: m.

    Raises:
        CallError: the profile is shorter than `SHORTEST_SPECTRUM`.
    """
    length = step * len(heights)
    if length < SHORTEST_SPECTRUM * (1 - 1e-9):
        raise CallError(f"{length:.4g} m of profile are too short for a spectrum", f"{SHORTEST_SPECTRUM:g} m or more")
    shortest, longest = _SEGMENT_LENGTHS
    segment = min(max(2 * length / (_SEGMENTS + 1), shortest), longest)
    each = min(max(round(segment / step), 4), len(heights))
    overlap = each // 2
    n, density = scipy.signal.welch(
        heights,
        fs=1 / step,
        window="hann",
        nperseg=each,
        noverlap=overlap,
        detrend=scipy.signal.detrend,
        scaling="density",
    )
    count = (len(heights) - overlap) // (each - overlap)
    averages = count / (1 + 2 * _OVERLAP * (count - 1) / count)
    return Spectrum(np.asarray(n), np.asarray(density), averages)


def iso_bands(found: Spectrum) -> Bands:
    """Smoothed as ISO 8608 does (from memory): octaves to the one about 0.0312 cycles/m, thirds of octaves to the one
    about 0.25, twelfths above, as far as the profile shows them.
    """
    octaves = 2.0 ** np.arange(-9.5, -4.4)
    thirds = 2.0 ** (-4.5 + np.arange(1, 9) / 3)
    twelfths = 2.0 ** (-2 + 1 / 6 + np.arange(1, 97) / 12)
    return _smoothed(found, np.concatenate([octaves, thirds, twelfths]))


def third_octaves(found: Spectrum) -> Bands:
    """Smoothed to thirds of octaves, as far as the profile shows them."""
    return _smoothed(found, 2.0 ** (np.arange(-60, 31) / 3 + 1 / 6))


def _smoothed(found: Spectrum, edges: Array) -> Bands:
    """Means over bands between edges; each bin is even over its width."""
    last = found.n[-1] * (1 + 1e-9)
    good = (edges[:-1] >= _FIRST_BIN * found.bin) & (edges[1:] <= last)
    low, high = edges[:-1][good], edges[1:][good]
    # Band by band: differences of one running sum would lose the digits of faint bands behind strong ones.
    start, end = found.n - 0.5 * found.bin, found.n + 0.5 * found.bin
    density = np.empty_like(low)
    for k, (a, b) in enumerate(zip(low, high, strict=True)):
        first, behind = np.searchsorted(end, a, side="right"), np.searchsorted(start, b)
        part = slice(first, behind)
        inside = np.minimum(end[part], b) - np.maximum(start[part], a)
        density[k] = np.sum(found.density[part] * inside) / (b - a)
    bins = (high - low) / found.bin
    freedom = 2 * found.averages * np.maximum(bins / _SPREAD, 1.0)
    return Bands(low, high, density, freedom, found.averages * bins / _SPREAD)


def fit(n: Array, density: Array, weight: Array) -> Fit:
    """The straight line of least squares through ln G over ln n, and what class that is.

    Standard errors are those of the weights, larger by the root of χ² over its degrees of freedom where the spectrum is
    less straight than its scatter would make it.

    Args:
        n: spatial frequencies, cycles/m; density: there, m³; weight: 1 over the variance of its logarithm; all
            (n_bands,).

    Raises:
        CallError: there are fewer than `FEWEST_BANDS`, or the profile has no height at all.
    """
    if len(n) < FEWEST_BANDS:
        raise CallError(f"{len(n)} bands of the spectrum are too few for a class", "a longer profile, or a finer one")
    if not np.all(density > 0):
        raise CallError("the profile is level", "heights that change")
    x, y = np.log(n / REFERENCE_FREQUENCY), np.log(density)
    total, middle = np.sum(weight), np.sum(weight * x) / np.sum(weight)
    scatter = np.sum(weight * (x - middle) ** 2)
    slope = np.sum(weight * (x - middle) * y) / scatter
    at_reference = np.sum(weight * y) / total - slope * middle
    more = _more(weight * (y - at_reference - slope * x) ** 2, 2)
    # With the slope of the classes every octave counts alike: there are far more bands, and surer ones, of short waves.
    share = np.gradient(x) / np.sum(np.gradient(x))
    at_two = np.sum(share * (y + 2 * x))
    more_at_two = _more(weight * (y + 2 * x - at_two) ** 2, 1)
    return Fit(
        roughness=float(np.exp(at_reference)),
        roughness_error=float(more * np.sqrt(1 / total + middle**2 / scatter)),
        waviness=float(-slope),
        waviness_error=float(more / np.sqrt(scatter)),
        at_two=float(np.exp(at_two)),
        at_two_error=float(more_at_two * np.sqrt(np.sum(share**2 / weight))),
        letter=letter_of(float(np.exp(at_two))),
        band=(float(n[0]), float(n[-1])),
    )


def _more(squares: Array, parameters: int) -> float:
    return math.sqrt(max(1.0, float(np.sum(squares)) / (len(squares) - parameters)))


def letter_of(roughness: float) -> str:
    """Class of a roughness G_d(n0), m³: from A to G the standard's upper limits are twice the geometric means.

    Its H has no upper limit; "H+" above twice H's mean is ours, for roads far beyond what the classes were made for.
    """
    return next((letter for letter, mean in CLASSES.items() if roughness < 2 * mean), "H+")


# The golden car of the index, per unit of sprung mass: tyre and spring rates, 1/s², damping, 1/s, and unsprung mass.
_TYRE, _SPRING, _DAMPING, _UNSPRUNG = 653.0, 63.3, 6.0, 0.15
_SPEED = 80 / 3.6  # m/s
_BASE = 0.25  # m, of the moving average that stands for the tyre
_REST = 0.1  # of a segment, left at the end, that is none of its own


def golden_car(step: float) -> tuple[Array, Array]:
    """How the index's quarter car goes on from one sample to the next, on a slope that stays as it is between them.

    Args:
        step: m.

    Returns:
        Transition (4, 4) and input (4,) of slopes and their rates in time, body first: (z', z", u', u"), 1 and 1/s.
    """
    own = np.array(
        [
            [0.0, 1.0, 0.0, 0.0],
            [-_SPRING, -_DAMPING, _SPRING, _DAMPING],
            [0.0, 0.0, 0.0, 1.0],
            [_SPRING / _UNSPRUNG, _DAMPING / _UNSPRUNG, -(_TYRE + _SPRING) / _UNSPRUNG, -_DAMPING / _UNSPRUNG],
        ]
    )
    from_road = np.array([0.0, 0.0, 0.0, _TYRE / _UNSPRUNG])
    transition = np.asarray(scipy.linalg.expm(own * step / _SPEED), dtype=np.float64)
    return transition, np.linalg.solve(own, (transition - np.eye(4)) @ from_road)


def iri(heights: Array, step: float, segment: float = SEGMENT) -> Index:
    """International Roughness Index: mean speed of travel of the golden car over its own, at 80 km/h.

    The slope is averaged over 250 mm, to the nearest whole number of samples; from 250 mm of step on it is that from
    sample to sample. The car starts on the mean slope of the first 11 m.

    Args:
        heights: of one track at an even step, (n,), m.
        step: m; the longer, the more of the short waves is lost: the source wants 250 mm at most.
        segment: m for each of which an index is given; what is left at the end is one of its own, or goes with the last
            where it is less than a tenth.

    Raises:
        CallError: the profile is shorter than `SHORTEST_INDEX`.
    """
    length = step * (len(heights) - 1)
    if length < SHORTEST_INDEX * (1 - 1e-9):
        raise CallError(f"{length:.4g} m of profile are too short for an IRI", f"{SHORTEST_INDEX:g} m or more")
    base = max(int(_BASE / step + 0.5), 1)
    slope = (heights[base:] - heights[:-base]) / (base * step)
    first = max(int(SHORTEST_INDEX / step + 0.5), 1)
    start = float(heights[first] - heights[0]) / (first * step)
    travel = np.abs(_travel(slope, start, step))
    count = max(math.ceil(len(slope) * step / segment - _REST), 1)
    ends = np.minimum(np.rint(segment * np.arange(count + 1) / step).astype(np.intp), len(slope))
    ends[-1] = len(slope)
    ends = np.unique(ends)
    each = np.add.reduceat(travel, ends[:-1]) / np.diff(ends)
    edges = step * ends
    edges[-1] = length
    return Index(1000 * float(np.mean(travel)), edges[:-1], edges[1:], 1000 * each)


def _travel(slope: Array, start: float, step: float) -> Array:
    """Rate of the golden car's travel over its speed behind each sample, (n,): mode by mode, each a filter of first
    order.
    """
    transition, from_road = golden_car(step)
    root, shape = np.linalg.eig(transition)
    push = np.linalg.solve(shape, from_road.astype(np.complex128))
    begin = np.linalg.solve(shape, np.array([start, 0.0, start, 0.0], dtype=np.complex128))
    travel = np.zeros(len(slope))
    for k in range(4):
        mode, _ = scipy.signal.lfilter([push[k]], [1.0, -root[k]], slope, zi=[root[k] * begin[k]])
        travel += ((shape[0, k] - shape[2, k]) * mode).real
    return travel
