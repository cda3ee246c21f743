"""Realisations of random roads: heights along the way whose spectrum is the road's, with random phases.

A realisation is a sum of cosines that fit the road's length, z(x) = Σ a_k cos(2π k x/L + φ_k), so it repeats after the
length without a seam and every one of them has the spectrum's amplitudes exactly; only the phases are drawn. Of two
tracks this holds for their mean and half their difference, which have phases of their own; each track has the spectrum
over many realisations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.road.iso8608 import Road
from ridefront.road.streams import stream

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Modes:
    """Waves that fit a road's length and lie in its band.

    Attributes:
        number: whole waves in the length, k, rising, from 1; (n_modes,).
        frequency: middle of what a wave stands for, cycles/m; (n_modes,).
        amplitude: a_k, m; negative where the contact patch turns a wave round; (n_modes,).
    """

    number: NDArray[np.int64]
    frequency: Array
    amplitude: Array


def modes(road: Road, patch: float) -> Modes:
    """Amplitudes of a road under a tyre.

    A wave stands for the frequencies nearest to it, from (k - 1/2)/L to (k + 1/2)/L, as far as the band reaches:
    a_k = √(2 G(n) Δn) sinc(n p) with Δn the part of that cell inside the band and n its middle, which for a whole cell
    is k/L. Waves longer than two lengths of the road do not fit and are left out.

    Args:
        road: the road.
        patch: length p of the contact patch over which the tyre averages, centred, m; 0 leaves everything.
    """
    low, high = road.band
    first = max(1, math.floor(low * road.length + 0.5))
    last = math.ceil(high * road.length - 0.5)
    number = np.arange(first, last + 1, dtype=np.int64)
    start = np.maximum((number - 0.5) / road.length, low)
    end = np.minimum((number + 0.5) / road.length, high)
    inside = end > start
    number, start, end = number[inside], start[inside], end[inside]
    middle = 0.5 * (start + end)
    amplitude = np.sqrt(2 * road.spectrum(middle) * (end - start)) * np.sinc(middle * patch)
    return Modes(number, middle, amplitude)


def fewest_samples(road: Road) -> int:
    """How many samples the length needs at least: more than two for the road's shortest wave."""
    number = modes(road, 0.0).number
    return 2 * int(number[-1]) + 1 if len(number) else 1


def realisation(
    road: Road,
    patch: float,
    wheelbase: float | None,
    samples: int,
    *,
    seed: int,
    index: int,
    held_out: bool = False,
    track: float | None = None,
) -> Array:
    """Heights under the tyres along one realisation, the same bits in every process.

    Heights are those of the sum of cosines itself, for the rear axle as well: its waves are shifted, not its samples.
    The mean of two tracks is what a single track is, to the bit where the road's tracks are equal.
    Beside the result it takes some 24 bytes a sample while it works, with tracks that differ some 40.

    Args:
        road: the road.
        patch: length of the contact patch, m.
        wheelbase: m; None for one axle.
        samples: over the road's length, at x = j L/samples with j from 0; `fewest_samples` at least.
        seed: the study's, not negative.
        index: of the realisation, from 0.
        held_out: for roads that a search never sees.
        track: distance between left and right wheels, m; None for one track.

    Returns:
        (axles, samples), m: the height at x under the front axle, then that at x - wheelbase under the rear one; with
        two tracks (2 axles, samples): front left, front right, rear left, rear right.

    Raises:
        CallError: too few samples for the road's shortest wave.
    """
    waves = modes(road, patch)
    needed = fewest_samples(road)
    if samples < needed:
        raise CallError(
            f'{samples} samples of road "{road.name}" cannot carry its shortest wave', f"at least {needed} samples"
        )
    lags = (0.0,) if wheelbase is None else (0.0, wheelbase)
    sides = 1 if track is None else 2
    rows = np.zeros((len(lags) * sides, samples))
    if not len(waves.number):
        return rows
    phase = _phases(waves, stream("phases", road.name, seed, index, held_out=held_out))
    if track is None or road.tracks == "equal":
        for k, lag in enumerate(lags):
            rows[k * sides : (k + 1) * sides] = _sum(road, waves, phase, lag, samples)
        return rows
    mean_share, difference_share = road.shares(waves.frequency, track)
    mean = replace(waves, amplitude=waves.amplitude * np.sqrt(mean_share))
    difference = replace(waves, amplitude=waves.amplitude * np.sqrt(difference_share))
    apart = _phases(waves, stream("differences", road.name, seed, index, held_out=held_out))
    for k, lag in enumerate(lags):
        middle, half = _sum(road, mean, phase, lag, samples), _sum(road, difference, apart, lag, samples)
        rows[2 * k], rows[2 * k + 1] = middle + half, middle - half
    return rows


def _phases(waves: Modes, draw: np.random.Generator) -> Array:
    """One phase for every k from 0 on, used or not: a wave has the same phase whatever the band; (n_modes,)."""
    return np.asarray(2 * np.pi * draw.random(int(waves.number[-1]) + 1)[waves.number])


def _sum(road: Road, waves: Modes, phase: Array, lag: float, samples: int) -> Array:
    """The sum of cosines at x - lag, (samples,)."""
    angle = phase - 2 * np.pi * (waves.number * (lag / road.length))
    spectrum = np.zeros(samples // 2 + 1, dtype=np.complex128)
    spectrum[waves.number] = 0.5 * samples * waves.amplitude * np.exp(1j * angle)
    return np.asarray(np.fft.irfft(spectrum, samples))
