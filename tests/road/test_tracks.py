"""Two tracks of one road: how they hang together, in realisations, in drives and on the frequency grid."""

from __future__ import annotations

import dataclasses
import math
import zlib
from typing import Literal

import numpy as np
import pytest
import scipy.integrate
from numpy.typing import NDArray

from ridefront.response.drive import drive
from ridefront.response.grid import condition_grid
from ridefront.road import CLASSES, AnyRoad, Obstacle, Profile, Road, Size
from ridefront.road.coherence import coherence
from ridefront.road.measured import estimate, under_tyre
from ridefront.road.realisation import fewest_samples, modes, realisation

Array = NDArray[np.float64]

ROAD = Road("lane", CLASSES["C"], length=200.0, realisations=2)
EQUAL = dataclasses.replace(ROAD, tracks="equal")
TRACK, WHEELBASE, PATCH, SPEED = 1.5, 2.7, 0.1, 20.0
MANY = 200  # realisations where something is estimated


# ---- how alike two lines on a surface are


@pytest.mark.parametrize("waviness", [1.0, 1.6, 2.0, 2.5, 3.0])
@pytest.mark.parametrize("x", [0.05, 0.7, 3.0])
def test_coherence_is_the_integral_over_the_surfaces_spectrum(waviness: float, x: float) -> None:
    """A line's spectrum is its surface's, (n² + m²)^-(w+1)/2, summed over m; another line turns it by cos 2πmt. Here
    2πn = 1 and m counts radians.
    """

    def surface(m: float) -> float:
        return float((1 + m**2) ** (-0.5 * (waviness + 1)))

    across = scipy.integrate.quad(surface, 0, np.inf, weight="cos", wvar=x, limlst=200)[0]
    own = scipy.integrate.quad(surface, 0, np.inf)[0]
    assert coherence(np.array([1 / (2 * np.pi)]), x, waviness)[0] == pytest.approx(across / own, abs=2e-7)


@pytest.mark.parametrize("waviness", [1.5, 2.0, 2.4])
def test_height_differences_are_those_of_a_surface_alike_in_all_directions(waviness: float) -> None:
    """Mean square of the difference of heights between two points: along one track
    ∫ n^-w (1 - cos 2πnr) dn = (2πr)^(w-1) π/(2 Γ(w) sin(π(w-1)/2)) (textbook); between tracks
    ∫ n^-w (1 - g cos 2πnx) dn, which is to be the same at r = √(x² + t²) whatever the direction.
    """
    distance = 2.3
    along = (2 * np.pi * distance) ** (waviness - 1) * np.pi
    along /= 2 * math.gamma(waviness) * np.sin(0.5 * np.pi * (waviness - 1))
    for angle in (0.2, 0.8, 1.2, 0.5 * np.pi):
        x, track = distance * np.cos(angle), distance * np.sin(angle)
        low, high = 1e-8, 60 / (2 * np.pi * track)
        n = np.geomspace(low, high, 400_001)
        lost = 1 - coherence(n, track, waviness) * np.cos(2 * np.pi * n * x)
        across = np.trapezoid(n**-waviness * lost * n, np.log(n)) + high ** (1 - waviness) / (waviness - 1)
        assert across == pytest.approx(along, rel=2e-4)


def test_coherence_at_its_ends() -> None:
    n = np.array([0.0, 0.011, 2.83, 1e6])
    np.testing.assert_array_equal(coherence(n, 0.0), 1.0)
    for waviness in (0.7, 2.0, 3.0):
        g = coherence(n, TRACK, waviness)
        assert g[0] == 1
        assert g[3] == 0
        assert np.all(np.diff(g) < 0)


# ---- realisations


def waves_of(road: Road, patch: float, held_out: bool) -> list[tuple[float, float, float, float, float]]:
    """Each wave's radians a metre, amplitude and phase of the mean track, and of half the difference; by definition."""
    name = zlib.crc32(road.name.encode())
    drawn = []
    for purpose in (0, 4):
        sequence = np.random.SeedSequence(11, spawn_key=(purpose + int(held_out), name, 2))
        drawn.append(np.random.Generator(np.random.PCG64(sequence)).random(10_000) * 2 * np.pi)
    found = []
    for k in range(1, 10_000):
        low, high = max((k - 0.5) / road.length, road.band[0]), min((k + 0.5) / road.length, road.band[1])
        if low < high:
            n = 0.5 * (low + high)
            a = np.sqrt(2 * road.roughness * (n / 0.1) ** -road.waviness * (high - low)) * np.sinc(n * patch)
            g = float(coherence(np.array([n]), TRACK, road.waviness)[0])
            found.append((
                2 * np.pi * k / road.length,
                a * np.sqrt((1 + g) / 2), drawn[0][k], a * np.sqrt((1 - g) / 2), drawn[1][k],
            ))  # fmt: skip
    return found


@pytest.mark.parametrize(("waviness", "held_out"), [(2.0, False), (2.6, True)])
def test_is_the_sum_of_cosines_of_mean_and_difference(waviness: float, held_out: bool) -> None:
    road = dataclasses.replace(ROAD, waviness=waviness, length=30.0)
    samples = fewest_samples(road) + 7
    found = realisation(road, PATCH, WHEELBASE, samples, seed=11, index=2, held_out=held_out, track=TRACK)
    x = np.arange(samples) * (road.length / samples)
    rows = []
    for lag in (0.0, WHEELBASE):
        mean, half = np.zeros(samples), np.zeros(samples)
        for k, a, phase, b, other in waves_of(road, PATCH, held_out):
            mean += a * np.cos(k * (x - lag) + phase)
            half += b * np.cos(k * (x - lag) + other)
        rows += [mean + half, mean - half]
    assert found.shape == (4, samples)
    np.testing.assert_allclose(found, rows, rtol=0, atol=1e-12 * len(rows[0]))
    one_axle = realisation(road, PATCH, None, samples, seed=11, index=2, held_out=held_out, track=TRACK)
    np.testing.assert_array_equal(one_axle, found[:2])


def many(track: float, road: Road = ROAD) -> tuple[Array, Array]:
    """Amplitudes of the road's waves under the front wheels, left and right, (MANY, n_modes) each."""
    number = modes(road, 0.0).number
    left, right = [], []
    for index in range(MANY):
        heights = realisation(road, 0.0, None, 2000, seed=4, index=index, track=track)
        spectra = np.fft.rfft(heights, axis=1)[:, number] / 1000
        left.append(spectra[0])
        right.append(spectra[1])
    return np.array(left), np.array(right)


def bands(values: Array) -> Array:
    """Means over eight bands of neighbouring waves; values (n_modes,)."""
    return np.array([part.mean() for part in np.array_split(values, 8)])


@pytest.mark.parametrize("track", [0.3, TRACK])
def test_coherence_is_found_again_in_realisations(track: float) -> None:
    left, right = many(track)
    expected = bands(coherence(modes(ROAD, 0.0).frequency, track))
    across = (left * right.conj()).mean(axis=0)
    own = np.sqrt((np.abs(left) ** 2).mean(axis=0) * (np.abs(right) ** 2).mean(axis=0))
    # The mean over some 70 waves and MANY realisations scatters by less than 1/√14000 = 0.008.
    np.testing.assert_allclose(bands((across / own).real), expected, rtol=0, atol=0.03)
    np.testing.assert_allclose(bands((across / own).imag), 0.0, rtol=0, atol=0.03)
    assert expected[0] > 0.1
    assert expected[0] > 3 * expected[-1]


def test_each_track_has_the_roads_spectrum() -> None:
    waves = modes(ROAD, 0.0)
    for spectra in many(TRACK):
        ratio = (np.abs(spectra) ** 2).mean(axis=0) / waves.amplitude**2
        np.testing.assert_allclose(bands(ratio), 1.0, rtol=0, atol=0.03)
        assert np.abs(ratio - 1).max() < 6 / np.sqrt(MANY), "no wave stands out"


def test_mean_and_difference_are_not_correlated_and_exact() -> None:
    left, right = many(TRACK)
    waves = modes(ROAD, 0.0)
    mean, half = 0.5 * (left + right), 0.5 * (left - right)
    g = coherence(waves.frequency, TRACK)
    for spectra, share in ((mean, 0.5 * (1 + g)), (half, 0.5 * (1 - g))):
        np.testing.assert_allclose(np.abs(spectra) / waves.amplitude, np.sqrt(np.tile(share, (MANY, 1))), rtol=1e-9)
    across = (mean * half.conj()).mean(axis=0) / (np.abs(mean[0]) * np.abs(half[0]))
    assert np.abs(bands(across.real)).max() < 0.04
    assert np.abs(bands(across.imag)).max() < 0.04


def test_far_apart_tracks_are_strangers_and_close_ones_the_same() -> None:
    far = realisation(ROAD, 0.0, None, 2000, seed=1, index=0, track=100.0)
    several = [realisation(ROAD, 0.0, None, 2000, seed=1, index=k, track=100.0) for k in range(MANY)]
    together = np.mean([pair[0] @ pair[1] for pair in several]) / np.mean([pair[0] @ pair[0] for pair in several])
    assert abs(together) < 0.15, "few long waves make up the variance"
    assert not np.allclose(far[0], far[1], rtol=0, atol=0.1 * far.std())
    close = realisation(ROAD, 0.0, None, 2000, seed=1, index=0, track=1e-3)
    assert np.abs(close[0] - close[1]).std() < 0.03 * close.std()


def test_equal_tracks_are_the_single_track_to_the_bit() -> None:
    single = realisation(ROAD, PATCH, WHEELBASE, 2000, seed=3, index=1)
    both = realisation(EQUAL, PATCH, WHEELBASE, 2000, seed=3, index=1, track=TRACK)
    np.testing.assert_array_equal(both, single[[0, 0, 1, 1]])


def test_no_waves_no_heights() -> None:
    none = Road("none", 1e-6, band=(0.001, 0.002), length=100.0)
    assert np.array_equal(realisation(none, 0.1, 2.5, 6, seed=0, index=0, track=TRACK), np.zeros((4, 6)))


# ---- drives


def driven(road: AnyRoad, track: float | None = TRACK) -> Array:
    return drive(road, SPEED, PATCH, WHEELBASE, 1e-3, seed=6, track=track).heights


def test_a_drive_has_four_corners() -> None:
    way = drive(ROAD, SPEED, PATCH, WHEELBASE, 1e-3, seed=6, track=TRACK)
    steps = way.steps - way.first
    lane = np.stack([
        realisation(ROAD, PATCH, WHEELBASE, 2 * steps, seed=6, index=index, track=TRACK) for index in range(2)
    ])  # fmt: skip
    assert way.heights.shape == (2, 4, 2 * way.steps + 1)
    np.testing.assert_array_equal(way.heights[:, :, 2 * way.first : -1], lane)
    assert not way.heights[:, :, 0].any()
    np.testing.assert_array_equal(driven(EQUAL), driven(ROAD, None)[:, [0, 0, 1, 1]])


@pytest.mark.parametrize("shape", ["versine", "step"])
def test_an_obstacle_under_one_side(shape: str) -> None:
    whole = Obstacle("bump", shape, 0.05, 0.0 if shape == "step" else 0.4)
    front, rear = driven(whole, None)[0]
    level = np.zeros_like(front)
    sides: tuple[Literal["both", "left", "right"], ...] = ("both", "left", "right")
    rows = ([front, front, rear, rear], [front, level, rear, level], [level, front, level, rear])
    for side, expected, share in zip(sides, rows, (1.0, 0.5, 0.5), strict=True):
        road = dataclasses.replace(whole, side=side)
        np.testing.assert_array_equal(driven(road)[0], expected)
        np.testing.assert_array_equal(driven(road, None)[0], [front, rear])
        way = drive(road, SPEED, PATCH, WHEELBASE, 1e-3, seed=6, track=TRACK)
        assert way.floor == (share * 0.05 if shape == "step" else 0.0)
        assert way.floor == pytest.approx(way.heights[0, :, -1].mean(), abs=1e-12)


def test_a_mixed_train_under_the_other_side_is_its_mirror_image() -> None:
    sizes = (Size(0.03, 0.4), Size(-0.05, 0.6))
    train = Obstacle("train", "versine", count=4, spacing=5.0, sizes=sizes, realisations=3, side="left")
    other = dataclasses.replace(train, side="right")
    np.testing.assert_array_equal(driven(train), driven(other)[:, [1, 0, 3, 2]])
    assert np.ptp(driven(train)[:, 0]) > 0.07


def measured(tracks: int) -> Profile:
    lanes = realisation(ROAD, 0.0, None, 4000, seed=8, index=0, track=TRACK)[:tracks]
    return Profile("lane", ROAD.length / 4000, lanes, estimated=True)


def test_a_measured_road_lays_its_tracks_under_left_and_right() -> None:
    two, one = measured(2), measured(1)
    half = SPEED * 0.5 * drive(two, SPEED, PATCH, WHEELBASE, 1e-3, seed=0, track=TRACK).step
    way = drive(two, SPEED, PATCH, WHEELBASE, 1e-3, seed=0, track=TRACK)
    x = half * np.arange(2 * (way.steps - way.first) + 1)
    counted = way.heights[0, :, 2 * way.first :]
    for row, lag, track in ((0, 0.0, 0), (1, 0.0, 1), (2, WHEELBASE, 0), (3, WHEELBASE, 1)):
        alone = dataclasses.replace(two, heights=two.heights[[track]])
        # Splines that begin elsewhere differ by little about their ends.
        np.testing.assert_allclose(counted[row], under_tyre(alone, x - lag, PATCH), rtol=0, atol=1e-8)
    np.testing.assert_array_equal(driven(one), driven(one, None)[:, [0, 0, 1, 1]])


# ---- the frequency grid


def test_the_grid_parts_the_power() -> None:
    single, double = (condition_grid(ROAD, SPEED, PATCH, WHEELBASE, track=track) for track in (None, TRACK))
    np.testing.assert_array_equal(double.table, single.table)
    np.testing.assert_allclose(double.mean_power + double.difference_power, double.power, rtol=1e-14)
    g = coherence(double.omega / (2 * np.pi * SPEED), TRACK)
    np.testing.assert_allclose(double.mean_power - double.difference_power, g * double.power, rtol=0, atol=1e-18)
    for grid in (single, condition_grid(EQUAL, SPEED, PATCH, WHEELBASE, track=TRACK)):
        np.testing.assert_array_equal(grid.mean_power, grid.power)
        np.testing.assert_array_equal(grid.difference_power, 0.0)


@pytest.mark.parametrize("waviness", [2.0, 2.4])
def test_both_domains_drive_the_same_tracks(waviness: float) -> None:
    """Variances of mean and half difference are the same from realisations and from the grid, but for whole waves that
    stand for what is about them.
    """
    road = dataclasses.replace(ROAD, waviness=waviness, length=2000.0)
    grid = condition_grid(road, SPEED, PATCH, WHEELBASE, track=TRACK)
    left, right = realisation(road, PATCH, None, 2**14, seed=2, index=0, track=TRACK)
    assert np.var(0.5 * (left + right)) == pytest.approx(grid.mean_power.sum(), rel=5e-3)
    assert np.var(0.5 * (left - right)) == pytest.approx(grid.difference_power.sum(), rel=5e-3)


def test_a_measured_roads_difference_counts_as_measured() -> None:
    two, one = estimate(measured(2)), estimate(measured(1))
    grid = condition_grid(two, SPEED, 0.0, WHEELBASE, track=TRACK)
    left, right = measured(2).heights
    inside = (two.band[0], two.band[1])
    n = np.fft.rfftfreq(len(left), measured(2).step)
    power = 2 * np.abs(np.fft.rfft(0.5 * (left - right)) / len(left)) ** 2
    expected = power[(n >= inside[0]) & (n <= inside[1])].sum()
    assert grid.difference_power.sum() == pytest.approx(expected, rel=0.15), "an estimate, by windows"
    np.testing.assert_array_equal(grid.mean_power, grid.power)
    assert not condition_grid(one, SPEED, 0.0, WHEELBASE, track=TRACK).difference_power.any()
