"""Vehicles, loads and roads that hypothesis draws, in wider ranges than anybody would build, against the slow twins.

The other twins take cars from a seed or cars made for a purpose; here a failure shrinks to the plainest car that shows
it. Draws are the same at every run.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from builders import at_rest_under
from ridefront.response.drive import drive
from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import condition_grid
from ridefront.response.simulate import histories
from ridefront.road import CLASSES, Obstacle, Road
from ridefront.vehicle import Load, LoadMass
from twins import dense, dense_full
from twins.integrator import drive_twin, observe, obstacle_ground, twin_of
from twins.lagrange import full_twin
from twins.vehicles import WHEELBASE

Array = NDArray[np.float64]
Car = dict[str, Array]
STEP = 2.5e-4
TRACK = 1.5
AXLES = ("front", "rear")


def few(examples: int) -> settings:
    return settings(
        max_examples=examples, derandomize=True, deadline=None, database=None, suppress_health_check=list(HealthCheck),
        phases=(Phase.explicit, Phase.generate),  # a car that fails is told as it is: making it simpler takes minutes
    )  # fmt: skip


@st.composite
def cars(draw: st.DrawFn, *, sides: bool = False) -> Car:
    """One car by path, SI: ride frequencies from 0.7 to 3 Hz, damping ratios from 0.05 to 1, wheels of 15 to 120 kg
    that hop at 8 to 20 Hz; stops, knees and friction, and two sides where asked for.
    """

    def some(low: float, high: float) -> float:
        return draw(st.floats(low, high))

    mass, share = some(500.0, 3000.0), some(0.35, 0.65)
    car = {
        "wheelbase": WHEELBASE, "front_share": share, "body.mass": mass, "body.dynamic_index": some(0.6, 1.4),
        "mass_centre_height": 0.6, "contact_patch": 0.1,
    }  # fmt: skip
    for axle, carries in (("front", 0.5 * mass * share), ("rear", 0.5 * mass * (1 - share))):
        rate = carries * (2 * np.pi * some(0.7, 3.0)) ** 2
        ratio, damper_ratio = some(0.5, 1.2), some(0.5, 1.2)
        wheel = some(15.0, 120.0)
        corner = {
            "unsprung_mass": wheel,
            "spring_rate": rate / ratio**2,
            "spring_ratio": ratio,
            "damping": 2 * some(0.05, 1.0) * np.sqrt(rate * carries) / damper_ratio**2,
            "damper_ratio": damper_ratio,
            "bump_share": some(0.15, 0.85),
            "tyre_rate": wheel * (2 * np.pi * some(8.0, 20.0)) ** 2,
            "tyre_damping": some(0.0, 300.0),
            "friction": some(1.0, 200.0),
            "friction_speed": 0.005,
        }
        corner |= {"knee_speed": some(0.03, 0.5), "knee_share": some(0.1, 1.0)}
        for way in ("bump", "rebound"):
            corner |= {
                f"{way}_clearance": some(0.005, 0.08),
                f"{way}_stop_rate": some(5e3, 150e3),
                f"{way}_stop_progression": some(0.0, 5.0),
            }
        if sides:
            corner |= {
                "track": TRACK,
                "anti_roll_rate": some(0.0, 40e3),
                "axle_roll_inertia": 2 * corner["unsprung_mass"] * some(0.3, 0.6) ** 2,
                "spring_spacing": TRACK * some(0.5, 1.0),
                "damper_spacing": TRACK * some(0.5, 1.0),
            }
        car |= {f"{axle}.{key}": value for key, value in corner.items()}
    if sides:
        car["body.roll_inertia"] = mass * some(0.4, 0.8) ** 2
    return {path: np.array([value]) for path, value in car.items()}


@st.composite
def loads(draw: st.DrawFn, aside: float = 0.0) -> tuple[Load, ...]:
    """A reference load and a heavier one; `aside`: how far off the centre line it may lie, m."""
    driver = LoadMass(draw(st.floats(0.0, 150.0)), 1.3, left_of_centre=draw(st.floats(-aside, aside)))
    boot = LoadMass(
        draw(st.floats(10.0, 400.0)),
        draw(st.floats(0.8, 2.6)),
        draw(st.floats(0.0, 1.2)),
        draw(st.floats(-aside, aside)),
    )
    return (Load("driver", (driver,), reference=True), Load("laden", (driver, boot)))


any_beams = st.sampled_from([(), ("rear",), AXLES])
speeds, patches, letters = st.floats(2.0, 60.0), st.floats(0.0, 0.3), st.sampled_from("ABCD")
PRODUCTS = ("acceleration", "weighted")


def assert_agree(found: FrequencyResponse, want: dict[str, Array], pairs: tuple[tuple[int, int], ...]) -> None:
    """Mean squares relative to themselves, cross products, which may vanish, to the root of their two squares, to
    1e-9: where tyres are a hundred times as stiff as springs a dense solve leaves some 1e-11.
    """
    for name, wanted in want.items():
        size = wanted
        if name in PRODUCTS:
            root = {m: np.sqrt(wanted[:, k]) for k, (m, other) in enumerate(pairs) if m == other}
            size = np.stack([root[one] * root[two] for one, two in pairs], axis=1)
        assert np.all(np.abs(getattr(found, name) - wanted) <= 1e-9 * size), name


@given(cars(), loads(), speeds, patches, letters)
@few(12)
def test_half_car_at_every_frequency(
    car: Car, under: tuple[Load, ...], speed: float, patch: float, letter: str
) -> None:
    """Whatever damping and rates were found, mean squares are those of a dense solve with them."""
    state = at_rest_under(car, under, 1)
    assume(bool(state.possible.all()))
    grid = condition_grid(Road("road", CLASSES[letter]), speed, patch, WHEELBASE)
    found = frequency_response(state, grid)
    want = dense.mean_squares(state, found.damping, grid, found.wheel_rate)
    assert_agree(found, want, ((0, 0), (0, 1), (1, 1)))


@given(cars(sides=True), loads(0.4), any_beams, speeds, patches, letters)
@few(10)
def test_full_car_at_every_frequency(
    car: Car, under: tuple[Load, ...], beams: tuple[str, ...], speed: float, patch: float, letter: str
) -> None:
    """The same for two tracks, a load off centre and whichever axles are beams."""
    state = at_rest_under(car, under, 1, beams)
    assume(bool(state.possible.all()))
    grid = condition_grid(Road("road", CLASSES[letter]), speed, patch, WHEELBASE, track=TRACK)
    found = frequency_response(state, grid)
    want = dense_full.mean_squares(state, found.wheel_rate, found.damping, grid)
    assert_agree(found, want, dense_full.PAIRS)


@given(cars(), loads())
@few(40)
def test_where_a_half_car_rests(car: Car, under: tuple[Load, ...]) -> None:
    """Travel by root finding on forces written anew, weights by the lever rule; 1e-9 m."""
    state, twin = at_rest_under(car, under, 1), twin_of(car, under, 1)
    assume(bool(state.possible.all()))
    for c, corner in enumerate(twin.corners):
        assert abs(state.travel[0, c] - corner.static) < 1e-9
        assert abs(state.contact_force[0, c] / corner.static_contact - 1) < 1e-12


@given(cars(sides=True), loads(0.4), any_beams)
@few(15)
def test_where_a_full_car_rests(car: Car, under: tuple[Load, ...], beams: tuple[str, ...]) -> None:
    """All seven balances at once by root finding, which ends some 1e-6 N out of balance on rates above 1e4 N/m."""
    state, twin = at_rest_under(car, under, 1, beams), full_twin(car, under, 1, beams)
    assume(bool(state.possible.all()))
    np.testing.assert_allclose(state.travel[0], twin.springs @ twin.at_rest(), rtol=0, atol=1e-8)


SHAPES = st.sampled_from(["half-sine", "versine", "arc"])
obstacles = st.builds(
    lambda shape, height, length: Obstacle("bump", shape, height, length, lead=0.5, run_out=4.0),
    SHAPES, st.floats(-0.06, 0.08).filter(lambda h: abs(h) > 0.01), st.floats(0.4, 2.0),
)  # fmt: skip
SPEED = 15.0


def assert_same_ride(want: Array, got: Array) -> None:
    """Rows (quantities, times) within 0.3 % of their largest change, and of a hundredth of the largest of all rows,
    below which a row is what others leave over. The march takes steps of 0.25 ms over knees, stops and friction that
    bends within millimetres a second, where the twin's steps are as short as 1e-8 asks for. Runs find their step by
    halving it; at 1 ms some of these cars, with friction of 180 N or wheels that hop at 31 Hz, are 0.6 % off.
    """
    size = np.abs(want - want[:, :1]).max(axis=1)
    assert np.all(np.abs(got - want).max(axis=1) <= 3e-3 * np.maximum(size, 1e-2 * size.max()))


@given(cars(), loads(), obstacles, st.floats(0.02, 0.2))
@few(4)
def test_half_car_over_an_obstacle(car: Car, under: tuple[Load, ...], road: Obstacle, patch: float) -> None:
    """Displacements, travel and contact forces, step by step."""
    state, twin = at_rest_under(car, under, 1), twin_of(car, under, 1)
    assume(bool(state.possible.all()))
    way = drive(road, SPEED, patch, WHEELBASE, STEP, seed=0)
    t = np.arange(way.steps + 1, dtype=np.float64) * way.step
    ground, breaks = obstacle_ground(road, SPEED, patch, WHEELBASE, STEP)
    want = drive_twin(twin, ground, breaks, t)
    displacements, speeds = histories(state, way)
    got = observe(twin, ground, t, np.concatenate([displacements[0], speeds[0]]))
    for quantity in ("body", "wheels", "travel", "contact"):
        assert_same_ride(getattr(want, quantity), getattr(got, quantity))


@given(cars(sides=True), loads(0.4), any_beams, obstacles, st.sampled_from(["left", "right"]))
@few(2)
def test_full_car_over_an_obstacle_under_one_side(
    car: Car, under: tuple[Load, ...], beams: tuple[str, ...], road: Obstacle, side: Literal["left", "right"]
) -> None:
    """All seven displacements, step by step."""
    state, twin = at_rest_under(car, under, 1, beams), full_twin(car, under, 1, beams)
    assume(bool(state.possible.all()))
    way = drive(replace(road, side=side), SPEED, 0.1, WHEELBASE, STEP, seed=0, track=TRACK)
    t = np.arange(way.steps + 1, dtype=np.float64) * way.step
    axles, breaks = obstacle_ground(road, SPEED, 0.1, WHEELBASE, STEP)
    level = (0.0, 0.0)

    def ground(time: float) -> tuple[tuple[float, float], ...]:
        pairs = [(under, level) if side == "left" else (level, under) for under in axles(time)]
        return tuple(wheel for pair in pairs for wheel in pair)

    want = twin.drive(ground, breaks, t)[:7]
    got = histories(state, way)[0][0]
    for rows in (slice(1), slice(1, 3), slice(3, 7)):  # heave; pitch and roll; wheels
        assert_same_ride(want[rows], got[rows])
