"""The full car's compiled kernels against its seven equations solved at every frequency, against each other, against
the half car, and against the same car seen in a mirror.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import at_rest_under
from ridefront.response import spectrum
from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import Grid, condition_grid
from ridefront.response.spectrum import off_centre
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, LoadMass
from ridefront.vehicle.static import AtRest, stacked
from twins.dense_full import PAIRS, mean_squares
from twins.vehicles import PATCH, WHEELBASE, linear_car, real_car, rest, with_sides

Array = NDArray[np.float64]

EMPTY = Load("empty", reference=True)
DRIVER = LoadMass(120.0, 1.3, left_of_centre=0.45)
TRUNK = LoadMass(250.0, 2.6, 0.8, left_of_centre=-0.3)
ASIDE = (EMPTY, Load("aside", (DRIVER, TRUNK)))
DIAGONAL = (
    EMPTY,
    Load("diagonal", (LoadMass(150.0, 0.4, left_of_centre=0.5), LoadMass(150.0, 2.4, left_of_centre=-0.5))),
)
FROM_ASIDE = (Load("aside", (DRIVER, TRUNK), reference=True), Load("empty"))
FROM_THE_LEFT = (Load("left", (LoadMass(150.0, 1.4, left_of_centre=0.4),), reference=True), Load("empty"))
CENTRED = (EMPTY, Load("gross", (LoadMass(150.0, 1.4), LoadMass(330.0, 2.6, 0.8))))
BEAMS: tuple[tuple[str, ...], ...] = ((), ("rear",), ("front", "rear"))
PRODUCTS = ("acceleration", "weighted")
WHEELS = ("travel", "travel_speed", "contact_force")
TURNING = ("pitch", "pitch_weighted", "pitch_backrest", "roll", "roll_weighted")

any_beams = pytest.mark.parametrize("beams", BEAMS, ids=lambda beams: " and ".join(beams) or "independent")


def sample(seed: int, *, stops: bool, n: int = 17) -> dict[str, Array]:
    rng = np.random.default_rng(seed)
    return with_sides(real_car(rng, n) if stops else linear_car(rng, n), rng)


def tracks(speed: float = 22.0, letter: str = "B", road: Road | None = None) -> Grid:
    return condition_grid(road or Road(letter, CLASSES[letter]), speed, PATCH, WHEELBASE, track=1.5)


def figures(response: FrequencyResponse) -> dict[str, Array]:
    return {name: getattr(response, name) for name in (*WHEELS, *PRODUCTS, *TURNING)}


def assert_agree(got: dict[str, Array], want: dict[str, Array], tolerance: float = 1e-12) -> None:
    """Mean squares relative to themselves; cross products, which may vanish, to the root of their two squares."""
    assert set(got) == set(want)
    for name, wanted in want.items():
        size = wanted
        if name in PRODUCTS:
            root = {m: np.sqrt(wanted[:, PAIRS.index((m, m))]) for m in range(3)}
            size = np.stack([root[one] * root[two] for one, two in PAIRS], axis=1)
        assert np.all(size > 0), name
        assert np.max(np.abs(got[name] - wanted) / size) <= tolerance, name


@any_beams
@pytest.mark.parametrize("speed", [5.0, 22.0, 45.0])
def test_alike_left_and_right(beams: tuple[str, ...], speed: float) -> None:
    state = at_rest_under(sample(1, stops=False), beams=beams)
    assert not off_centre(state)
    grid = tracks(speed)
    response = frequency_response(state, grid)
    assert_agree(figures(response), mean_squares(state, response.wheel_rate, response.damping, grid))
    assert np.all(response.acceleration[:, 3:5] == 0)


@any_beams
@pytest.mark.parametrize("speed", [5.0, 22.0, 45.0])
def test_load_off_centre(beams: tuple[str, ...], speed: float) -> None:
    state = at_rest_under(sample(2, stops=False), ASIDE, 1, beams)
    assert np.all(np.abs(state.body.product) > 1)
    grid = tracks(speed)
    response = frequency_response(state, grid)
    assert_agree(figures(response), mean_squares(state, response.wheel_rate, response.damping, grid))
    assert np.all(response.acceleration[:, 3:5] != 0)


@any_beams
@pytest.mark.parametrize(
    "loads", [CENTRED, ASIDE, DIAGONAL, FROM_ASIDE], ids=["centred", "aside", "diagonal", "reference aside"]
)
@pytest.mark.parametrize("at_rest", [False, True], ids=["statistical", "at rest"])
def test_whatever_was_found_the_response_is_that_of_it(
    beams: tuple[str, ...], loads: tuple[Load, ...], at_rest: bool
) -> None:
    """Stops, knees and friction; they leave the two sides of a car that leans unlike rates and damping."""
    state = at_rest_under(sample(3, stops=True), loads, 1, beams)
    grid = tracks(15.0, "C")
    response = frequency_response(state, grid, at_rest=at_rest)
    assert_agree(figures(response), mean_squares(state, response.wheel_rate, response.damping, grid))
    assert np.all(response.unsettled < 1e-3)
    unlike = bool(np.any(response.wheel_rate[:, ::2] != response.wheel_rate[:, 1::2]))
    assert unlike == (loads in (ASIDE, FROM_ASIDE) or (loads == DIAGONAL and not at_rest))


@any_beams
def test_rates_and_damping_of_our_own_left_and_right(beams: tuple[str, ...]) -> None:
    """The kernel for the whole car takes anything, far from what a load would do."""
    rng = np.random.default_rng(4)
    state = at_rest_under(sample(5, stops=False), ASIDE, 1, beams)
    rate, damping = (
        values * np.exp(rng.uniform(-1.0, 1.0, values.shape)) for values in (state.wheel_rate, still(state))
    )
    grid = tracks()
    found = spectrum.mean_squares(state, rate, damping, [grid], full=True)
    assert_agree(named(found), mean_squares(state, rate, damping, grid))


def still(state: AtRest) -> Array:
    """Damping of linear dampers, (n, 4)."""
    return state.speed_law.slope_at(np.zeros_like(state.friction))


def named(found: Array) -> dict[str, Array]:
    """Rows of `spectrum.mean_squares` by name."""
    wheels = {name: np.stack([found[3 * c + k] for c in range(4)], axis=1) for k, name in enumerate(WHEELS)}
    products = {name: found[12 + 6 * k : 18 + 6 * k].T for k, name in enumerate(PRODUCTS)}
    return wheels | products | {name: found[24 + k] for k, name in enumerate(TURNING)}


@any_beams
@pytest.mark.parametrize("stops", [False, True], ids=["linear", "stops"])
def test_both_ways_agree_where_left_and_right_are_alike(
    beams: tuple[str, ...], stops: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    state = at_rest_under(sample(6, stops=stops), CENTRED, 1, beams)
    linear = frequency_response(state, tracks())
    apart, short = (
        spectrum.mean_squares(state, linear.wheel_rate, linear.damping, [tracks()], full=full) for full in (True, False)
    )
    monkeypatch.setattr(spectrum, "off_centre", lambda *_: True)
    whole, whole_short = (
        spectrum.mean_squares(state, linear.wheel_rate, linear.damping, [tracks()], full=full) for full in (True, False)
    )
    assert_agree(named(whole), named(apart))
    for c in range(4):  # travel and its speed are what linearisation asks for
        assert np.array_equal(short[3 * c : 3 * c + 2], apart[3 * c : 3 * c + 2])
        assert np.array_equal(whole_short[3 * c : 3 * c + 2], whole[3 * c : 3 * c + 2])


@pytest.mark.parametrize("at", [0, 1])
def test_equal_tracks_make_it_the_half_car(at: int) -> None:
    """Whatever bars and beams do, both wheels of an axle move alike and the body does not roll."""
    car = sample(7, stops=True)
    half = rest(car, "half-car", CENTRED, at)
    want = frequency_response(half, condition_grid(Road("B", CLASSES["B"]), 22.0, PATCH, WHEELBASE))
    for beams in BEAMS:
        got = frequency_response(
            at_rest_under(car, CENTRED, at, beams), tracks(road=Road("B", CLASSES["B"], tracks="equal"))
        )
        for name in (*WHEELS, "wheel_rate", "damping", "mean_travel", "pumped_force"):
            for c in range(4):
                np.testing.assert_allclose(getattr(got, name)[:, c], getattr(want, name)[:, c // 2], rtol=1e-12)
        for name in PRODUCTS:
            z, theta = np.sqrt(getattr(want, name)[:, 0]), np.sqrt(getattr(want, name)[:, 2])
            room = 1e-12 * np.stack([z * z, z * theta, theta * theta], axis=1)
            assert np.all(np.abs(getattr(got, name)[:, :3] - getattr(want, name)) <= room)
            assert np.all(getattr(got, name)[:, 3:] == 0)
        for name in TURNING[:3]:
            np.testing.assert_allclose(getattr(got, name), getattr(want, name), rtol=1e-12)
        assert np.all(got.roll == 0)
        assert np.all(got.roll_weighted == 0)


def test_quarter_and_half_cars_do_not_roll() -> None:
    for model in ("quarter-car", "half-car"):
        grid = condition_grid(Road("B", CLASSES["B"]), 22.0, PATCH, WHEELBASE if model == "half-car" else 0.0)
        response = frequency_response(rest(linear_car(np.random.default_rng(8), 3), model), grid)
        assert response.acceleration.shape == response.weighted.shape == (3, 3)
        assert np.array_equal(response.roll, np.zeros(3))
        assert np.array_equal(response.roll_weighted, np.zeros(3))


def mirrored(load: Load) -> Load:
    return replace(load, masses=tuple(replace(m, left_of_centre=-m.left_of_centre) for m in load.masses))


@any_beams
def test_seen_in_a_mirror(beams: tuple[str, ...]) -> None:
    """A load on the other side: left and right change places, and what goes with roll its sign."""
    car, grid = sample(9, stops=True), tracks()
    one = frequency_response(at_rest_under(car, ASIDE, 1, beams), grid)
    other = frequency_response(at_rest_under(car, tuple(mirrored(load) for load in ASIDE), 1, beams), grid)
    got, want = figures(other), figures(one)
    for name in WHEELS:
        got[name] = got[name][:, [1, 0, 3, 2]]
    for name in PRODUCTS:
        got[name] = got[name] * np.array([1, 1, 1, -1, -1, 1])
    assert_agree(got, want, 1e-9)  # the rest and the linearised rates are found by iteration
    assert not np.allclose(one.travel[:, 0], one.travel[:, 1], rtol=1e-3)


def test_conditions_are_worked_out_each_by_its_own_load() -> None:
    """Three conditions at once, one off centre between two that are not: bit by bit what each gives alone."""
    car = sample(10, stops=False)
    states = [at_rest_under(car, ASIDE, at, ("rear",)) for at in (0, 1, 0)]
    grids = [tracks(15.0), tracks(22.0), tracks(30.0)]
    together = spectrum_of(states, grids)
    alone = [
        spectrum.mean_squares(s, s.wheel_rate, still(s), [g], full=True) for s, g in zip(states, grids, strict=True)
    ]
    assert np.array_equal(together, np.concatenate(alone, axis=1))


def spectrum_of(states: list[AtRest], grids: list[Grid]) -> Array:
    rate, damping = (np.concatenate(parts) for parts in ([s.wheel_rate for s in states], [still(s) for s in states]))
    return spectrum.mean_squares(stacked(states), rate, damping, grids, full=True)


PASSENGERS = tuple(
    LoadMass(75.0, behind, left_of_centre=left) for behind, left in ((1.3, 0.36), (2.2, -0.4), (1.3, -0.36), (2.2, 0.4))
)


@pytest.mark.parametrize(
    ("loads", "told"),
    [
        (CENTRED, False),
        (ASIDE, True),
        (DIAGONAL, True),
        (FROM_ASIDE, True),
        (FROM_THE_LEFT, True),
        ((EMPTY, Load("four", PASSENGERS)), False),
        ((Load("four", PASSENGERS, reference=True), CENTRED[1]), False),
    ],
    ids=["centred", "aside", "diagonal", "reference aside", "reference left", "in pairs", "reference in pairs"],
)
def test_off_centre_is_said_of_a_load_not_of_designs(loads: tuple[Load, ...], told: bool) -> None:
    """Alike for every design alone; one that cannot stand changes nothing for the others."""
    car = sample(11, stops=True, n=60)
    assert off_centre(at_rest_under(car, loads, 1, ("rear",))) == told
    for j in range(60):
        assert off_centre(at_rest_under({key: value[j : j + 1] for key, value in car.items()}, loads, 1)) == told
    car["front.spring_rate"][::3] = np.nan
    assert off_centre(at_rest_under(car, loads, 1)) == told
