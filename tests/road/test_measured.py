"""Measured profiles: samples made even and level, gaps and spikes found, and what a tyre feels of them."""

from __future__ import annotations

import numpy as np
import pytest

from ridefront.response.drive import RUN_UP, drive, steps_of
from ridefront.road import CLASSES, Profile, Road, has_spectrum, kind_of, spectral
from ridefront.road.measured import Array, estimate, evenly, gaps, level, profile_of, spikes, under_tyre, without
from ridefront.road.realisation import realisation

SURFACE = Road("lane", CLASSES["C"], length=200.0, band=(0.011, 2.5))


def surface(step: float = 0.1, index: int = 0) -> Array:
    """Heights of a random road every step over 200 m, its first sample again at the end."""
    one = realisation(SURFACE, 0.0, None, round(SURFACE.length / step), seed=3, index=index)[0]
    return np.append(one, one[0])


def lane(**more: bool) -> Profile:
    z = surface()
    return profile_of("lane", 0.1 * np.arange(len(z), dtype=np.float64), z[np.newaxis], **more)  # type: ignore[arg-type]


def test_gaps_are_spacings_over_three_medians() -> None:
    x = np.array([0.0, 0.1, 0.2, 0.5, 0.6, 0.91, 1.01])
    assert gaps(x).tolist() == [4], "0.3 m is three times, not over it"
    assert not len(gaps(0.1 * np.arange(50, dtype=np.float64)))


def spikes_by_hand(z: Array) -> list[int]:
    """The definition, sample by sample: single ones first, then pairs, until there are no more."""
    last = len(z) - 1
    found: set[int] = set()
    while True:
        kept = [j for j in range(len(z)) if j not in found]
        h = np.interp(np.arange(len(z)), kept, z[kept])
        more = set()
        for together in (1, 2):
            for k in range(last + 2 - together):
                run = range(k, k + together)
                left = h[k - 1] if k else 2 * h[together] - h[together + 1]
                right = h[k + together] if k + together <= last else 2 * h[k - 1] - h[k - 2]
                reach = 1 + together
                for side in (1, -1):
                    out = True
                    for at in run:
                        about = sorted(h[last - abs(last - abs(j))] for j in range(at - reach, at + reach + 1))
                        out &= all(side * (h[at] - other) > 0.05 for other in (left, right, about[reach]))
                    more |= set(run) if out else set()
            if more:
                break
        if not more:
            return sorted(found)
        found |= more


def test_spikes_against_their_definition() -> None:
    draw = np.random.default_rng(1)
    some = 0
    for _ in range(50):
        z = 0.02 * draw.normal(size=40).cumsum()
        z[draw.integers(0, 40, 4)] += draw.choice([-0.2, 0.045, 0.09, 1.0], 4)
        assert spikes(z).tolist() == spikes_by_hand(z)
        some += len(spikes(z))
    assert some > 50


def test_what_is_no_spike() -> None:
    kerb = np.where(np.arange(20) < 10, 0.0, 0.12)
    hill = 0.1 * np.arange(20, dtype=np.float64)
    assert not len(spikes(kerb))
    assert not len(spikes(hill))
    assert spikes(np.where(np.arange(20) == 0, 0.06, 0.0)).tolist() == [0]


def test_spikes_of_two_samples_and_at_the_ends() -> None:
    for where in (range(9, 11), range(2), range(18, 20)):
        z = np.zeros(20)
        z[list(where)] = (1.0, 0.9)
        assert spikes(z).tolist() == list(where)
        assert not len(spikes(without(np.arange(20.0), z, spikes(z))))
    three = np.where(abs(np.arange(20) - 10) <= 1, 0.1, 0.0)
    assert not len(spikes(three)), "three samples are an obstacle"


def test_coarse_samples_of_a_rough_road_are_no_spikes() -> None:
    z = np.where(np.arange(20) == 9, 0.2, 0.0)
    assert spikes(z, spacing=0.1).tolist() == [9]
    assert not len(spikes(z, spacing=2.0))


def test_straight_tracks_are_straight() -> None:
    along = np.linspace(0.0, 50.0, 501)
    assert not level(np.stack([0.007 + 0.03 * along, np.full(501, 0.123)])).any()


def test_without_puts_straight_lines() -> None:
    x = np.array([0.0, 1.0, 3.0, 4.0])
    assert without(x, np.array([0.0, 9.0, 9.0, 4.0]), np.array([1, 2])).tolist() == [0.0, 1.0, 3.0, 4.0]


def test_nearly_even_samples_are_taken_as_they_are() -> None:
    draw = np.random.default_rng(2)
    x = 0.1 * np.arange(400, dtype=np.float64) + draw.uniform(-0.0004, 0.0004, 400)
    z = draw.normal(size=(2, 400))
    step, even = evenly(x, z)
    assert step == pytest.approx((x[-1] - x[0]) / 399)
    assert np.array_equal(even, z)


def test_uneven_samples_become_even_at_the_median() -> None:
    """A wave of 5 m, with a gap of 0.4 m and samples up to 15 % off, comes back to 0.3 % of its amplitude outside the
    gap and 3 % within."""
    draw = np.random.default_rng(2)
    x = 0.1 * np.arange(400, dtype=np.float64) + draw.uniform(-0.015, 0.015, 400)
    x = np.delete(x, [200, 201, 202])
    step, even = evenly(x, np.sin(2 * np.pi * x / 5)[np.newaxis])
    assert step == pytest.approx(np.median(np.diff(x)))
    at = x[0] + step * np.arange(even.shape[1])
    off = np.abs(even[0] - np.sin(2 * np.pi * at / 5))
    gap = (at > x[199]) & (at < x[200])
    assert gap.sum() >= 3
    assert off[~gap].max() < 0.01
    assert off[gap].max() < 0.03
    assert 0 <= x[-1] - at[-1] < step


def test_level_takes_a_straight_line_off_each_track() -> None:
    x = np.linspace(0, 1, 300)
    tracks = np.stack([np.sin(40 * x), np.cos(25 * x)])
    hill = np.stack([3 + 7 * x, -2 * x])
    np.testing.assert_allclose(level(tracks + hill), level(tracks), atol=1e-12)
    for track, left in zip(tracks, level(tracks), strict=True):
        np.testing.assert_allclose(left, track - np.polyval(np.polyfit(x, track, 1), x), atol=1e-12)


def test_profiles_are_equal_by_what_they_are() -> None:
    one = lane()
    assert one == lane()
    z = surface()
    z[7] += 1e-6
    assert one != profile_of("lane", 0.1 * np.arange(len(z), dtype=np.float64), z[np.newaxis])
    assert (kind_of(one), one.realisations) == ("measured", 1)
    assert one.length == pytest.approx(200.0)


def test_two_tracks_are_driven_by_their_mean() -> None:
    both = np.stack([surface(), surface(index=1)])
    x = 0.1 * np.arange(both.shape[1], dtype=np.float64)
    mean = profile_of("lane", x, 0.5 * (both[:1] + both[1:]))
    np.testing.assert_allclose(profile_of("lane", x, both).driven, mean.driven, atol=1e-15)


def test_under_tyre_without_a_patch_passes_through_samples() -> None:
    road = lane()
    at = np.array([3, 700, 1999])
    np.testing.assert_allclose(under_tyre(road, 0.1 * at, 0.0), road.driven[at], atol=1e-15)


def test_average_over_the_patch_against_a_fine_sum() -> None:
    road = lane()
    for x in (0.02, 57.3, 199.99):
        fine = x + np.linspace(-0.06, 0.06, 20_001)
        mean = np.trapezoid(under_tyre(road, fine, 0.0), fine) / 0.12
        assert under_tyre(road, np.array([x]), 0.12)[0] == pytest.approx(mean, abs=1e-9)


def test_between_samples_it_is_the_road_itself() -> None:
    """Every 100 mm, waves down to 0.4 m come back to 3 % of the road's rms (a shortest wave has four samples)."""
    road, fine = lane(), surface(0.01)
    x = 0.01 * np.arange(len(fine), dtype=np.float64)
    inside = (x > 1) & (x < 199)
    line = np.polyfit(0.1 * np.arange(2001, dtype=np.float64), surface(), 1)
    off = under_tyre(road, x, 0.0) - (fine - np.polyval(line, x))
    assert np.sqrt(np.mean(off[inside] ** 2)) < 0.03 * np.std(fine)


def test_beyond_its_ends_it_is_its_own_image() -> None:
    road = lane()
    x = np.linspace(0.05, 190.0, 777)
    for end in (0.0, road.length):
        here = under_tyre(road, np.array([end]), 0.0)[0]
        back, ahead = under_tyre(road, end - x, 0.0), under_tyre(road, end + x, 0.0)
        np.testing.assert_allclose(back + ahead, 2 * here, atol=1e-9)


@pytest.mark.parametrize("speed", [5.0, 60.0])
def test_drive_counts_the_whole_profile_once(speed: float) -> None:
    """From level, smoothly, past the mirror image of its beginning; heights at the counted steps are the road's."""
    road = lane()
    way = drive(road, speed, 0.1, 2.5, 1e-3, seed=1, realisations=5)
    assert way.heights.shape == (1, 2, 2 * way.steps + 1)
    assert way.window == (way.first, way.steps)
    assert way.first * way.step >= RUN_UP
    assert (way.steps - way.first) * way.step == pytest.approx(road.length / speed)
    assert way.start == pytest.approx(-way.first * way.step * speed)
    assert steps_of(road, speed, 2.5, 1e-3) == pytest.approx(way.steps, abs=2)
    assert np.abs(way.heights[0, :, 0]).max() == 0
    assert np.abs(np.diff(way.heights[0], axis=1)).max() < 0.5e-3 * speed * 0.2, (
        "no step anywhere: slopes of 20 % at most"
    )
    x = 0.5 * way.step * speed * np.arange(2 * (way.steps - way.first) + 1)
    np.testing.assert_allclose(way.heights[0, 0, 2 * way.first :], under_tyre(road, x, 0.1), atol=1e-12)
    np.testing.assert_allclose(way.heights[0, 1, 2 * way.first :], under_tyre(road, x - 2.5, 0.1), atol=1e-12)
    held_out = drive(road, speed, 0.1, 2.5, 1e-3, seed=9, held_out=True)
    assert np.array_equal(held_out.heights, way.heights), "there is no other road"


def test_half_the_step_is_the_same_road() -> None:
    coarse, fine = (drive(lane(), 10.0, 0.0, None, step, seed=1) for step in (2e-3, 1e-3))
    np.testing.assert_allclose(
        coarse.heights[0, 0, 2 * coarse.first :], fine.heights[0, 0, 2 * fine.first :: 2], atol=1e-12
    )


def test_estimated_spectrum_is_near_the_roads() -> None:
    """Of 1 km of class C: each third of an octave to 40 %, the mean square of slopes to 5 %. Nothing outside what it
    shows."""
    road = Road("lane", CLASSES["C"], length=1000.0, band=(0.011, 4.9))
    z = realisation(road, 0.0, None, 10_000, seed=3, index=0)
    found = estimate(profile_of("lane", 0.1 * np.arange(10_000, dtype=np.float64), z))
    n = np.geomspace(*found.band, 4000)
    ratio = found.spectrum(n) / road.spectrum(n)
    assert found.band[0] < 0.013
    assert (ratio > 0.6).all()
    assert (ratio < 1.4).all()
    slopes = np.trapezoid(n**2 * found.spectrum(n), n) / np.trapezoid(n**2 * road.spectrum(n), n)
    assert slopes == pytest.approx(1.0, abs=0.05)
    assert not found.spectrum(np.array([0.9 * found.band[0], 1.1 * found.band[1]])).any()


def test_only_an_estimated_profile_has_a_spectrum() -> None:
    assert has_spectrum(SURFACE)
    assert spectral(SURFACE) is SURFACE
    assert not has_spectrum(lane())
    assert spectral(lane()) is None
    assert has_spectrum(lane(estimated=True))
    assert spectral(lane(estimated=True)) is not None
