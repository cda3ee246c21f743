"""The frequency grid: how exact it is, seen by making it finer, and what it holds."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import at_rest_under, quarter_car
from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import LEAST_DAMPING, POINTS, condition_grid
from ridefront.road import CLASSES, Road
from ridefront.road.iso8608 import BAND, patch_filter, temporal_spectrum, velocity_intensity
from ridefront.vehicle.equations import equations_of_motion, state_matrix
from twins.vehicles import linear_car, rest

Array = NDArray[np.float64]
ROAD = Road("B", CLASSES["B"])
DAMPING_RATIOS = np.geomspace(0.02, 1.5, 24)


def cars() -> dict[str, Array]:
    """A car for each damping ratio: that of the body's or of the wheel's mode, whichever is damped less; no damping in
    the tyres.
    """
    n = len(DAMPING_RATIOS)
    car = linear_car(np.random.default_rng(61), n)
    for axle, share in (("front", car["front_share"]), ("rear", 1 - car["front_share"])):
        rate = car[f"{axle}.spring_rate"] * car[f"{axle}.spring_ratio"] ** 2
        body = np.sqrt(rate * 0.5 * car["body.mass"] * share)
        hop = np.sqrt((rate + car[f"{axle}.tyre_rate"]) * car[f"{axle}.unsprung_mass"])
        # A third more, since pitch and bounce of a half car share what damping there is unevenly.
        car[f"{axle}.damping"] = 2.65 * DAMPING_RATIOS * np.maximum(body, hop) / car[f"{axle}.damper_ratio"] ** 2
        car[f"{axle}.tyre_damping"] = np.zeros(n)
    return car


def rms(response: FrequencyResponse) -> Array:
    """All rms figures side by side, (n, figures)."""
    squares = [response.travel, response.travel_speed, response.contact_force, response.acceleration[:, [0, 2]]]
    squares.append(response.weighted[:, [0, 2]])
    squares += [part[:, np.newaxis] for part in (response.pitch, response.pitch_weighted, response.pitch_backrest)]
    return np.sqrt(np.concatenate(squares, axis=1))


def error(model: str, road: Road, speed: float, wheelbase: float, density: int = 1, reference: int = 8) -> float:
    """Largest relative difference of any rms between two densities of the grid."""
    state = rest(cars(), model)
    coarse, fine = (
        rms(frequency_response(state, condition_grid(road, speed, 0.1, wheelbase, density=d)))
        for d in (density, reference)
    )
    there = fine > 0
    return float(np.max(np.abs(coarse[there] / fine[there] - 1)))


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_cars_span_the_damping_ratios_that_are_promised(model: str) -> None:
    state = rest(cars(), model)
    damping = frequency_response(state, condition_grid(ROAD, 20.0, 0.1, 2.7)).damping
    values = np.linalg.eigvals(state_matrix(equations_of_motion(state, damping)))
    least = np.min(-values.real / np.abs(values), axis=1)
    assert 0.02 <= np.min(least) < 0.027
    assert np.max(least) > 0.5


@pytest.mark.parametrize("speed", [8.0, 14.0, 22.0, 45.0])
def test_quarter_car_is_within_1e4(speed: float) -> None:
    assert error("quarter-car", ROAD, speed, 0.0) < 1e-4
    assert error("quarter-car", ROAD, speed, 0.0, reference=2) < 1e-4


@pytest.mark.parametrize("wheelbase", [2.2, 2.7, 6.0])
@pytest.mark.parametrize("speed", [8.0, 14.0, 22.0, 45.0])
def test_half_car_is_within_1e4(speed: float, wheelbase: float) -> None:
    assert error("half-car", ROAD, speed, wheelbase) < 1e-4
    assert error("half-car", ROAD, speed, wheelbase, reference=2) < 1e-4


@pytest.mark.parametrize(("model", "wheelbase"), [("quarter-car", 0.0), ("half-car", 2.2), ("half-car", 6.0)])
@pytest.mark.parametrize("speed", [3.0, 4.0, 5.0, 6.0])
def test_a_band_that_ends_in_wheel_hop_is_as_exact(model: str, wheelbase: float, speed: float) -> None:
    """At 3 to 6 m/s the ISO band ends at 8 to 17 Hz and cuts a hardly damped wheel's resonance in two: end corrections
    converge slowly there, so the grid is twice as fine.
    """
    assert error(model, ROAD, speed, wheelbase) < 1e-4


def test_a_sharper_resonance_falls_between_two_frequencies() -> None:
    """Quarter cars whose bodies are damped too little for the grid, class B at 15 and 25 m/s: what is said of how far
    off rms figures are.
    """
    ratios = np.array([0.002, 0.005, 0.01, LEAST_DAMPING])
    state = at_rest_under(quarter_car(damping=2 * ratios * np.sqrt(25e3 * 400.0)))
    worst = np.zeros(len(ratios))
    for speed in (15.0, 25.0):
        coarse, fine = (
            np.sqrt(frequency_response(state, condition_grid(ROAD, speed, 0.0, 0.0, density=d)).travel[:, 0])
            for d in (1, 16)
        )
        worst = np.maximum(worst, np.abs(coarse / fine - 1))
    assert 0.3 < worst[0] < 0.35
    assert 0.06 < worst[1] < 0.08
    assert 0.005 < worst[2] < 0.01
    assert worst[3] < 1e-4


def test_wider_band_has_points_in_proportion_and_is_as_exact() -> None:
    wide = Road("wide", CLASSES["B"], band=(0.002, 12.0))
    ratio = np.log(12.0 / 0.002) / np.log(BAND[1] / BAND[0])
    grid = condition_grid(wide, 20.0, 0.1, 2.7)
    assert len(grid.omega) - 1 == np.ceil((POINTS - 1) * ratio)
    assert error("half-car", wide, 20.0, 2.7) < 1e-4


def test_narrow_band_keeps_enough_points() -> None:
    narrow = Road("narrow", CLASSES["B"], band=(0.05, 0.06))
    assert len(condition_grid(narrow, 20.0, 0.1, 2.7).omega) == 129, "twice 64 intervals: it ends below wheel hop"
    assert error("half-car", narrow, 20.0, 2.7) < 1e-4


def test_iso_band_has_the_documented_number_of_points() -> None:
    for speed, times in ((2.0, 2), (8.8, 2), (8.9, 1), (17.3, 1), (60.0, 1)):
        grid = condition_grid(ROAD, speed, 0.1, 2.7)
        assert len(grid.omega) == times * (POINTS - 1) + 1
        assert len(condition_grid(ROAD, speed, 0.1, 2.7, density=4).omega) == 4 * times * (POINTS - 1) + 1


def test_end_corrections_are_of_fourth_order() -> None:
    """Weights over power are those of a rule whose error falls with the fourth power of the step."""
    errors = []
    for density in (1, 2, 4):
        grid = condition_grid(Road("w", 1e-6, band=(0.5, 5.0)), 1.0, 0.0, 0.0, density)
        f = grid.omega / (2 * np.pi)
        # ∫ S f^1.7 df of S = G n0² f^-2 in closed form.
        exact = 1e-6 * 0.01 * (5.0**0.7 - 0.5**0.7) / 0.7
        errors.append(abs(float(np.sum(grid.power * f**1.7)) / exact - 1))
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(orders > 3.7), orders
    assert errors[0] < 1e-9


def test_power_adds_up_to_the_roads_mean_square() -> None:
    """Σ power = ∫ G_d dn = G_d(n0) n0² (1/n_low - 1/n_high), whatever the speed."""
    exact = CLASSES["B"] * 0.1**2 * (1 / BAND[0] - 1 / BAND[1])
    for speed in (3.0, 40.0):
        assert np.sum(condition_grid(ROAD, speed, 0.0, 0.0).power) == pytest.approx(exact, rel=1e-8)


def test_band_ends_are_met_and_nothing_lies_outside() -> None:
    for speed in (3.0, 7.7, 33.3):
        grid = condition_grid(ROAD, speed, 0.1, 2.7)
        f = grid.omega / (2 * np.pi)
        assert f[0] == pytest.approx(BAND[0] * speed, rel=1e-14)
        assert f[-1] == pytest.approx(BAND[1] * speed, rel=1e-14)
        assert np.all(grid.power > 0)
        np.testing.assert_allclose(np.diff(np.log(f)), np.log(f[-1] / f[0]) / (len(f) - 1), rtol=1e-9)
    assert np.array_equal(ROAD.spectrum(np.array([0.0109, 2.84])), np.zeros(2))


def test_columns_of_the_table() -> None:
    grid = condition_grid(ROAD, 25.0, 0.1, 2.5)
    assert grid.lag == pytest.approx(0.1)
    assert grid.duration == pytest.approx(40.0)
    assert np.array_equal(grid.table[:, 0], grid.omega)
    assert np.array_equal(grid.table[:, 1], grid.power)
    np.testing.assert_allclose(grid.table[:, 2] - 1j * grid.table[:, 3], np.exp(-0.1j * grid.omega), atol=1e-13)
    assert np.array_equal(grid.table[:, 4:].T, grid.weightings)
    assert grid.table.flags.c_contiguous


def test_contact_patch_is_a_moving_average() -> None:
    """A sine of n cycles/m averaged over L keeps the share sinc(n L), whose square the spectrum keeps."""
    x = np.linspace(-0.5, 0.5, 200001)
    for n in (0.3, 1.7, 6.0):
        kept = np.trapezoid(np.cos(2 * np.pi * n * 0.2 * x), x)
        assert patch_filter(np.array([n]), 0.2)[0] == pytest.approx(kept**2, rel=1e-6)
    assert np.array_equal(patch_filter(np.array([0.1, 2.0]), 0.0), np.ones(2))
    with_patch, without = condition_grid(ROAD, 20.0, 0.3, 0.0), condition_grid(ROAD, 20.0, 0.0, 0.0)
    np.testing.assert_allclose(
        with_patch.power, without.power * patch_filter(with_patch.omega / (2 * np.pi * 20.0), 0.3), rtol=1e-12
    )


def test_intensity_is_that_of_the_roads_vertical_speed() -> None:
    """Two-sided: half of (2πf)² S(f), at any frequency for waviness 2, about wheel hop for others."""
    for waviness, f in ((2.0, 1.0), (2.0, 12.0), (2.6, 10.0)):
        road = Road("r", 30e-6, waviness)
        half = 0.5 * (2 * np.pi * f) ** 2 * temporal_spectrum(road, 15.0, 0.0, np.array([f]))[0]
        assert velocity_intensity(road, 15.0, f) == pytest.approx(half, rel=1e-12)
        assert condition_grid(road, 15.0, 0.0, 0.0).intensity == pytest.approx(velocity_intensity(road, 15.0, 10.0))
    closed = 15.0 * (2 * np.pi * 0.1) ** 2 * 30e-6 / 2
    assert velocity_intensity(Road("r", 30e-6), 15.0, 3.0) == pytest.approx(closed, rel=1e-12)
