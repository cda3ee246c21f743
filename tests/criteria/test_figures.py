"""Every criterion's figure against its formula worked out by hand, one design at a time, from the response and rest."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from builders import figure, half_car, iso_road, quarter_car, ride, spread
from ridefront.criteria import CRITERIA
from ridefront.criteria.ride import Ride
from ridefront.criteria.travel import EULER, peak_factor
from ridefront.vehicle import Load, LoadMass, Seat

G = 9.80665
SPEED = 25.0
LENGTH = 800.0
LOADS = (Load("reference", reference=True), Load("laden", (LoadMass(250.0, 2.4),)))
DRIVER = Seat("driver", 1.3, height=0.75)
BACK = Seat("back", 2.2, height=0.8)
AXLES = ("front", "rear")


def cars() -> dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]]:
    """Three half cars with stops, knees, friction and uneven dampers."""
    changes: dict[str, float | list[float]] = {"mass_centre_height": 0.55, "front.spring_rate": [18e3, 25e3, 40e3]}
    for axle in AXLES:
        changes |= {
            f"{axle}.bump_share": 0.35,
            f"{axle}.knee_speed": 0.12,
            f"{axle}.knee_share": 0.4,
            f"{axle}.friction": 40.0,
            f"{axle}.bump_travel": 0.1,
            f"{axle}.rebound_travel": 0.09,
            f"{axle}.bump_clearance": [0.01, 0.04, 0.05],
            f"{axle}.bump_stop_rate": 40e3,
            f"{axle}.bump_stop_progression": 1.0,
        }
    return half_car(changes)


@pytest.fixture(scope="module")
def laden() -> Ride:
    return ride(cars(), iso_road("C", LENGTH), SPEED, loads=LOADS, at=1, patch=0.1)


@pytest.fixture(scope="module")
def quarter() -> Ride:
    return ride(quarter_car(400.0, damping=[800.0, 1600.0]), iso_road("B", LENGTH), SPEED)


def by_hand(of: Ride, formula: Callable[[int, int], float]) -> list[list[float]]:
    """formula(design, corner) for all, [design][corner]."""
    n, corners = of.state.wheel_rate.shape
    return [[formula(j, c) for c in range(corners)] for j in range(n)]


def assert_corners(of: Ride, criterion: str, formula: Callable[[int, int], float]) -> None:
    want = np.array(by_hand(of, formula))
    for c, axle in enumerate(of.state.model.axles):
        np.testing.assert_allclose(figure(of, criterion, axle), want[:, c], rtol=1e-12, atol=0)


def seat_mean_square(
    of: Ride, products: np.ndarray[tuple[int, ...], np.dtype[np.float64]], j: int, seat: Seat
) -> float:
    """E[(z" - x θ")²] with x ahead of the loaded centre of mass."""
    x = of.state.body.centre[j] - seat.behind_front_axle
    return float(products[j, 0] - 2 * x * products[j, 1] + x**2 * products[j, 2])


@pytest.mark.parametrize("seat", [DRIVER, BACK])
def test_comfort_and_body_acceleration_at_seats(laden: Ride, seat: Seat) -> None:
    weighted = [math.sqrt(seat_mean_square(laden, laden.response.weighted, j, seat)) for j in range(3)]
    plain = [math.sqrt(seat_mean_square(laden, laden.response.acceleration, j, seat)) for j in range(3)]
    np.testing.assert_allclose(figure(laden, "comfort", seat), weighted, rtol=1e-12)
    np.testing.assert_allclose(figure(laden, "body_acceleration", seat), plain, rtol=1e-12)


def test_seats_and_body_agree_at_the_centre_of_mass(laden: Ride) -> None:
    for j in range(3):
        there = Seat("there", float(laden.state.body.centre[j]))
        for criterion in ("comfort", "body_acceleration"):
            assert figure(laden, criterion, there)[j] == figure(laden, criterion, "body")[j]


def test_comfort_of_the_body(laden: Ride, quarter: Ride) -> None:
    for of in (laden, quarter):
        np.testing.assert_allclose(figure(of, "comfort", "body") ** 2, of.response.weighted[:, 0], rtol=1e-14)
        np.testing.assert_allclose(figure(of, "body_acceleration", "body") ** 2, of.response.acceleration[:, 0])
        assert np.all(figure(of, "comfort", "body") < figure(of, "body_acceleration", "body"))


def test_comfort_total(laden: Ride) -> None:
    for seat in (DRIVER, BACK):
        assert seat.height is not None
        want = []
        for j in range(3):
            vertical = seat_mean_square(laden, laden.response.weighted, j, seat)
            pitch = (0.4) ** 2 * laden.response.pitch_weighted[j]
            fore_aft = (0.8 * (seat.height - 0.55)) ** 2 * laden.response.pitch_backrest[j]
            want.append(math.sqrt(vertical + pitch + fore_aft))
        np.testing.assert_allclose(figure(laden, "comfort_total", seat), want, rtol=1e-12)


def test_pitch(laden: Ride) -> None:
    np.testing.assert_allclose(figure(laden, "pitch_angle") ** 2, laden.response.pitch, rtol=1e-14)
    np.testing.assert_allclose(figure(laden, "pitch_acceleration") ** 2, laden.response.acceleration[:, 2], rtol=1e-14)


def static_load(of: Ride, j: int, c: int) -> float:
    return float((of.state.body.corner_mass[j, c] + of.state.unsprung_mass[j, c]) * G)


def test_road_holding(laden: Ride, quarter: Ride) -> None:
    for of in (laden, quarter):

        def coefficient(j: int, c: int, of: Ride = of) -> float:
            return math.sqrt(of.response.contact_force[j, c]) / static_load(of, j, c)

        assert_corners(of, "dynamic_load_coefficient", coefficient)
        shares = norm.cdf(-1 / np.array(by_hand(of, coefficient)))
        for c, axle in enumerate(of.state.model.axles):
            np.testing.assert_allclose(figure(of, "wheel_lift_off", axle), shares[:, c], rtol=1e-9)


def test_damping_ratios(laden: Ride) -> None:
    state, damping, rate = laden.state, laden.response.damping, laden.response.wheel_rate
    assert_corners(
        laden,
        "damping_ratio",
        lambda j, c: damping[j, c] / (2 * math.sqrt(rate[j, c] * state.body.corner_mass[j, c])),
    )
    assert_corners(
        laden,
        "hop_damping_ratio",
        lambda j, c: damping[j, c] / (2 * math.sqrt((rate[j, c] + state.tyre_rate[j, c]) * state.unsprung_mass[j, c])),
    )


def peak(crossings: float) -> float:
    q = math.sqrt(2 * math.log(max(crossings, math.e)))
    return q + 0.5772156649015329 / q


def crossings(of: Ride, j: int, c: int) -> float:
    """ν T, ν = σ_ds/dt/(2π σ_s)."""
    rate = math.sqrt(of.response.travel_speed[j, c] / of.response.travel[j, c]) / (2 * math.pi)
    return rate * LENGTH / SPEED


def test_travel(laden: Ride) -> None:
    """The largest travel counts from where the load has put the corner: jacking and stops are part of it."""
    s, mean = laden.response.travel, laden.response.mean_travel
    shifts = np.abs(mean - laden.state.travel)
    assert np.all(shifts > 1e-3)
    assert_corners(laden, "travel_rms", lambda j, c: math.sqrt(s[j, c]))
    assert_corners(
        laden, "rattle_space", lambda j, c: shifts[j, c] + math.sqrt(s[j, c]) * peak(2 * crossings(laden, j, c))
    )


def test_reserves(laden: Ride) -> None:
    """What is left is used up by the mean travel (load, jacking, stops) and by the peak one way."""

    def shift(j: int, c: int) -> float:
        return float(laden.response.mean_travel[j, c])

    def one_way(j: int, c: int) -> float:
        return math.sqrt(laden.response.travel[j, c]) * peak(crossings(laden, j, c))

    assert_corners(laden, "bump_reserve", lambda j, c: 0.1 - shift(j, c) - one_way(j, c))
    assert_corners(laden, "rebound_reserve", lambda j, c: 0.09 + shift(j, c) - one_way(j, c))


def test_peak_factor_by_hand_and_where_it_has_no_meaning() -> None:
    """N = e²: q = 2, factor 2 + γ/2; below e the value at e, √2 + γ/√2."""
    got = peak_factor(np.array([math.e**2, math.e, 1.0, 0.0]))
    np.testing.assert_allclose(got[0], 2 + EULER / 2)
    np.testing.assert_allclose(got[1:], math.sqrt(2) + EULER / math.sqrt(2))


def test_peak_factor_is_the_mean_largest_value_of_many() -> None:
    """Of the largest of N Rayleigh peaks, E = ∫ 1 - (1 - exp(-x²/2))^N dx; the formula is an expansion for large N."""
    x = np.linspace(0, 12, 200001)
    for count, close in ((50.0, 0.015), (1000.0, 0.006)):
        exact = np.trapezoid(1 - (1 - np.exp(-(x**2) / 2)) ** count, x)
        assert peak_factor(np.array([count]))[0] == pytest.approx(exact, rel=close)


def test_longer_roads_have_larger_peaks_and_the_same_rms() -> None:
    short, long = (ride(cars(), iso_road("B", length), SPEED) for length in (500.0, 5000.0))
    for axle in AXLES:
        assert np.all(figure(long, "rattle_space", axle) > figure(short, "rattle_space", axle))
        assert np.all(figure(long, "bump_reserve", axle) < figure(short, "bump_reserve", axle))
        assert np.array_equal(figure(long, "travel_rms", axle), figure(short, "travel_rms", axle))


def test_frequencies(laden: Ride) -> None:
    state = laden.state
    k, k_t, m, m_u = state.wheel_rate, state.tyre_rate, state.body.corner_mass, state.unsprung_mass

    def ride_frequency(j: int, c: int) -> float:
        return math.sqrt(1 / (1 / k[j, c] + 1 / k_t[j, c]) / m[j, c]) / (2 * math.pi)

    assert_corners(laden, "ride_frequency", ride_frequency)
    assert_corners(
        laden, "wheel_hop_frequency", lambda j, c: math.sqrt((k[j, c] + k_t[j, c]) / m_u[j, c]) / (2 * math.pi)
    )
    ratios = [ride_frequency(j, 1) / ride_frequency(j, 0) for j in range(3)]
    np.testing.assert_allclose(figure(laden, "frequency_ratio"), ratios, rtol=1e-12)


def test_deflections(laden: Ride) -> None:
    """Static deflection belongs to the reference load, whichever load it is asked for."""
    reference, state = laden.reference, laden.state
    assert_corners(
        laden,
        "static_deflection",
        lambda j, c: (
            reference.body.corner_mass[j, c] * G * (1 / reference.wheel_rate[j, c] + 1 / reference.tyre_rate[j, c])
        ),
    )
    assert_corners(
        laden,
        "ride_height_change",
        lambda j, c: (
            state.travel[j, c]
            + (state.body.corner_mass[j, c] - reference.body.corner_mass[j, c]) * G / state.tyre_rate[j, c]
        ),
    )


def test_masses(laden: Ride, quarter: Ride) -> None:
    np.testing.assert_allclose(figure(laden, "sprung_mass"), 1650.0, rtol=1e-14)
    np.testing.assert_allclose(figure(quarter, "sprung_mass"), 400.0, rtol=1e-14)
    for axle in AXLES:
        np.testing.assert_allclose(figure(laden, "unsprung_mass", axle), 40.0)


def test_every_criterion_is_worked_out_by_hand_somewhere_here() -> None:
    """A new criterion needs its formula in this file, or beside it for the time domain and for the full car."""
    here = Path(__file__).parent
    files = ("test_figures.py", "test_figures_in_time.py", "test_full_car_figures.py")
    text = "".join((here / file).read_text(encoding="utf-8") for file in files)
    assert [name for name in CRITERIA if f'"{name}"' not in text] == []


def test_failed_designs_have_no_figure_and_harm_no_neighbour() -> None:
    """A design without damping or spring somewhere overflows to NaN or infinity; the others keep their bits."""
    good = cars()
    bad = {key: value.copy() for key, value in good.items()} | spread({"body.mass": [1400.0, np.nan, 1400.0]})
    with np.errstate(all="ignore"):
        of, spoilt = (ride(car, iso_road("B"), SPEED, loads=LOADS, at=1) for car in (good, bad))
        for name, row in CRITERIA.items():
            if of.state.model.name not in row.models:
                continue
            for place in row.counted(of.state.model, (DRIVER,)) if not row.simulated else ():
                clean, dirty = row.figure(of, place), row.figure(spoilt, place)
                assert clean.shape == (3,)
                assert np.array_equal(clean[[0, 2]], dirty[[0, 2]]), name
                assert np.all(np.isfinite(clean)), name
                if name != "unsprung_mass":
                    assert np.isnan(dirty[1]), name
