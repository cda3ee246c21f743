"""Realisations of random roads against a plain sum of cosines, their own spectrum and the road's."""

from __future__ import annotations

import zlib
from collections.abc import Callable

import numpy as np
import pytest
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.road import CLASSES, Road
from ridefront.road.iso8608 import temporal_spectrum
from ridefront.road.realisation import fewest_samples, modes, realisation
from ridefront.road.streams import stream

Array = NDArray[np.float64]

ROAD = Road("lane", CLASSES["C"], length=200.0)


def sum_of_cosines(road: Road, patch: float, seed: int, index: int, held_out: bool) -> Callable[[Array], Array]:
    """The definition, wave by wave: amplitude from the part of the cell inside the band, phase from the stream."""
    key = (int(held_out), zlib.crc32(road.name.encode()), index)
    random = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=key)))
    phases = [2 * np.pi * random.random() for _ in range(100_000)]

    def height(x: Array) -> Array:
        z = np.zeros_like(x)
        for k in range(1, 100_000):
            low = max((k - 0.5) / road.length, road.band[0])
            high = min((k + 0.5) / road.length, road.band[1])
            if low >= road.band[1]:
                break
            if high > low:
                n = (low + high) / 2
                a = np.sqrt(2 * road.roughness * (n / 0.1) ** -road.waviness * (high - low))
                seen = np.sin(np.pi * n * patch) / (np.pi * n * patch) if patch else 1.0
                z += a * seen * np.cos(2 * np.pi * k / road.length * x + phases[k])
        return z

    return height


@settings(derandomize=True, max_examples=25, deadline=None)
@given(
    length=st.floats(5.0, 120.0),
    low=st.floats(0.005, 0.5),
    ratio=st.floats(1.5, 60.0),
    waviness=st.floats(1.0, 3.0),
    patch=st.sampled_from([0.0, 0.12, 0.5]),
    wheelbase=st.floats(0.5, 5.0),
    extra=st.integers(0, 40),
    seed=st.integers(0, 2**63),
    held_out=st.booleans(),
)
def test_is_the_sum_of_cosines(
    length: float, low: float, ratio: float, waviness: float, patch: float, wheelbase: float, extra: int, seed: int,
    held_out: bool,
) -> None:  # fmt: skip
    road = Road("any", 1e-4, waviness, (low, low * ratio), length)
    samples = fewest_samples(road) + extra
    heights = realisation(road, patch, wheelbase, samples, seed=seed, index=3, held_out=held_out)
    x = np.arange(samples, dtype=np.float64) * (length / samples)
    slow = sum_of_cosines(road, patch, seed, 3, held_out)
    size = np.abs(slow(x)).max() + 1e-12
    np.testing.assert_allclose(heights, np.stack([slow(x), slow(x - wheelbase)]), rtol=0, atol=1e-10 * size)
    assert np.array_equal(realisation(road, patch, None, samples, seed=seed, index=3, held_out=held_out), heights[:1])


@pytest.mark.parametrize("patch", [0.0, 0.12])
def test_variance_is_exact_whatever_the_phases(patch: float) -> None:
    exact = float((modes(ROAD, patch).amplitude ** 2 / 2).sum())
    for index in range(4):
        heights = realisation(ROAD, patch, 2.7, 3000, seed=5, index=index)
        assert heights.mean(axis=1) == pytest.approx([0.0, 0.0], abs=1e-15)
        assert (heights**2).mean(axis=1) == pytest.approx([exact, exact], rel=1e-12)


@pytest.mark.parametrize("patch", [0.0, 0.12, 0.6])
def test_spectrum_is_the_roads_through_the_patch(patch: float) -> None:
    """A moving average over a length p takes sin²(π n p)/(π n p)² of a spectrum (textbook)."""
    samples = 4000
    heights = realisation(ROAD, patch, None, samples, seed=1, index=0)[0]
    n, density = scipy.signal.periodogram(heights, fs=samples / ROAD.length, detrend=False)
    whole = (n > ROAD.band[0] + 1 / ROAD.length) & (n < ROAD.band[1] - 1 / ROAD.length)
    expected = ROAD.roughness * (n[whole] / 0.1) ** -2.0
    if patch:
        expected *= (np.sin(np.pi * n[whole] * patch) / (np.pi * n[whole] * patch)) ** 2
    assert whole.sum() > 500
    np.testing.assert_allclose(density[whole], expected, rtol=1e-8, atol=1e-18)
    outside = (n < ROAD.band[0] - 1 / ROAD.length) | (n > ROAD.band[1] + 1 / ROAD.length)
    assert density[outside].max() < 1e-20


@pytest.mark.parametrize(("letter", "mean"), [("A", 16e-6), ("B", 64e-6), ("C", 256e-6), ("D", 1024e-6)])
def test_a_class_is_found_again_in_its_realisation(letter: str, mean: float) -> None:
    """Geometric means of G_d at 0.1 cycles/m, ISO 8608 table of classes (from memory); waves of 10 m fit 1000 m."""
    heights = realisation(Road(letter, CLASSES[letter]), 0.0, None, 8000, seed=0, index=0)[0]
    n, density = scipy.signal.periodogram(heights, fs=8.0, detrend=False)
    assert n[100] == pytest.approx(0.1, rel=1e-12)
    assert density[100] == pytest.approx(mean, rel=1e-9)


@pytest.mark.parametrize("patch", [0.0, 0.12])
def test_rms_is_the_spectrums_by_parseval(patch: float) -> None:
    """The variance over the length is the integral of the spectrum under the tyre at any speed; midpoints of cells come
    near it with the square of the cell.
    """
    speed, errors = 20.0, []
    for length in (500.0, 1000.0):
        road = Road("B", CLASSES["B"], length=length)
        f = np.geomspace(road.band[0] * speed, road.band[1] * speed, 200_001)
        integral = np.trapezoid(temporal_spectrum(road, speed, patch, f), f)
        variance = (realisation(road, patch, None, 8000, seed=2, index=0) ** 2).mean()
        errors.append(abs(variance / integral - 1))
    assert errors[0] < 5e-3
    assert errors[1] < errors[0] / 3


def test_band_is_kept_where_it_cuts_a_cell() -> None:
    """Widths of the cells add up to the band, whatever the length."""
    for length in (10.0, 33.3, 200.0, 1234.5):
        flat = Road("flat", 1.0, 1e-12, (0.07, 2.0), length)
        waves = modes(flat, 0.0)
        assert (waves.amplitude**2 / 2).sum() == pytest.approx(2.0 - 0.07, rel=1e-9)
        assert waves.number[0] == pytest.approx(0.07 * length, abs=0.5)
        assert waves.number[-1] == pytest.approx(2.0 * length, abs=0.5)
        assert np.array_equal(np.diff(waves.number), np.ones(len(waves.number) - 1))


def test_waves_that_do_not_fit_are_left_out() -> None:
    short = Road("short", 1e-6, band=(0.001, 0.5), length=10.0)
    assert list(modes(short, 0.0).number) == [1, 2, 3, 4, 5]
    none = Road("none", 1e-6, band=(0.001, 0.04), length=10.0)
    assert fewest_samples(none) == 1
    assert np.array_equal(realisation(none, 0.1, 2.5, 6, seed=0, index=0), np.zeros((2, 6)))
    assert np.array_equal(realisation(none, 0.1, None, 6, seed=0, index=0), np.zeros((1, 6)))


def test_repeats_after_its_length_without_a_seam() -> None:
    """Shifted by a whole length the rear axle is where the front axle is."""
    heights = realisation(ROAD, 0.12, ROAD.length, 2000, seed=9, index=0)
    np.testing.assert_allclose(heights[1], heights[0], rtol=0, atol=1e-12)
    step = np.abs(np.diff(heights[0]))
    assert abs(heights[0, 0] - heights[0, -1]) <= step.max()


def test_patch_that_turns_a_wave_round() -> None:
    """Averaged over one and a half of its lengths, a wave is upside down: sinc 1.5 = -2/3π."""
    line = Road("line", 1e-6, band=(0.99, 1.01), length=10.0)
    plain, averaged = (realisation(line, patch, None, 50, seed=0, index=0) for patch in (0.0, 1.5))
    np.testing.assert_allclose(averaged, -2 / (3 * np.pi) * plain, rtol=1e-9, atol=1e-15)


def test_each_stream_is_its_own() -> None:
    def heights(name: str = "lane", seed: int = 1, index: int = 0, held_out: bool = False) -> Array:
        road = Road(name, CLASSES["C"], length=200.0)
        drawn: Array = realisation(road, 0.0, None, 2000, seed=seed, index=index, held_out=held_out)[0]
        return drawn

    drawn = [
        heights(), heights(name="Lane"), heights(seed=2), heights(index=1), heights(held_out=True),
        heights(seed=2**40 + 1),
    ]  # fmt: skip
    correlation = np.corrcoef(drawn)
    # The longest of some 560 waves carry half the variance, so unlike roads correlate by chance, but never nearly as 1.
    assert np.abs(correlation - np.eye(len(drawn))).max() < 0.9
    assert np.array_equal(heights(), drawn[0])


def test_phases_do_not_depend_on_the_band() -> None:
    """A wave of two roads alike but for their bands is the same wave."""
    wide, narrow = (Road("lane", 1e-6, band=band, length=100.0) for band in ((0.02, 2.0), (0.5, 1.0)))
    spectra = [np.fft.rfft(realisation(road, 0.0, None, 1000, seed=3, index=1)[0]) for road in (wide, narrow)]
    inside = slice(51, 100)
    np.testing.assert_allclose(spectra[0][inside], spectra[1][inside], rtol=1e-9)


def test_streams_of_roads_and_mixes_differ() -> None:
    draws = [
        tuple(stream(purpose, "lane", 1, 0, held_out=held_out).random(4))
        for purpose in ("phases", "sizes")
        for held_out in (False, True)
    ]
    assert len(set(draws)) == 4


def test_too_few_samples_are_refused() -> None:
    least = fewest_samples(ROAD)
    assert least == 2 * 566 + 1  # 2.83 cycles/m · 200 m
    assert realisation(ROAD, 0.0, None, least, seed=0, index=0).shape == (1, least)
    with pytest.raises(CallError, match=r'1132 samples of road "lane".*\n.*at least 1133 samples'):
        realisation(ROAD, 0.0, None, least - 1, seed=0, index=0)
