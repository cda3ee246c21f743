"""Statistical linearisation against the same vehicles driven step by step, on roads from smooth to broken.

The march through time has twins of its own and takes springs, stops, knees, friction and wheels off the ground as they
are, so what differs here is the linearisation: that it knows two moments and takes every motion for Gaussian. Both have
the road's spectrum exactly (a linear car's rms figures agree to 0.05 %); what is left of chance, because realisations
are different roads to a non-linear car, is some 0.5 % in the figures of these twelve kilometres.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest

from builders import KMH, figure, iso_road, ride
from ridefront.response.drive import drive
from ridefront.response.frequency import frequency_response
from ridefront.response.grid import condition_grid
from ridefront.response.time_domain import Simulation
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, LoadMass, Seat, model_of
from ridefront.vehicle.static import GRAVITY, AtRest, at_rest
from time_rides import time_ride
from trade.vehicles import ESTATE, HATCHBACK, Vehicle

PATCH, REALISATIONS = 0.12, 12
SPEEDS = {"A": 120, "B": 90, "C": 50, "D": 30}  # km/h
DRIVEN: dict[str, tuple[Vehicle, int]] = {
    "hatchback": (HATCHBACK, 0),
    "hatchback, gross": (HATCHBACK, 1),
    "estate": (ESTATE, 0),
    "estate, gross": (ESTATE, 1),
}
LIGHT, GROSS = ("hatchback", "estate"), ("hatchback, gross", "estate, gross")
FIGURES = (
    ("comfort", "driver"), ("comfort", "back seat"), ("dynamic_load_coefficient", "front"),
    ("dynamic_load_coefficient", "rear"), ("travel_rms", "front"), ("travel_rms", "rear"),
)  # fmt: skip


@dataclass(frozen=True)
class Difference:
    """What statistical linearisation says of one figure on one road, over what the time domain says, less 1."""

    vehicle: str
    road: str
    criterion: str
    place: str
    relative: float


def _place(vehicle: Vehicle, name: str) -> str | Seat:
    return next((seat for seat in vehicle.seats if seat.name == name), name)


@lru_cache
def differences() -> tuple[Difference, ...]:
    """Every figure of every vehicle on every road."""
    found = []
    for name, (vehicle, at) in DRIVEN.items():
        for letter, kmh in SPEEDS.items():
            road = replace(iso_road(letter), realisations=REALISATIONS)
            speed, p = kmh * KMH, vehicle.parameters
            real = time_ride(p, road, speed, loads=vehicle.loads, at=at, patch=PATCH, seat=vehicle.seats[0])
            statistical = ride(p, road, speed, loads=vehicle.loads, at=at, patch=PATCH)
            for criterion, place in FIGURES:
                where = _place(vehicle, place)
                low = figure(statistical, criterion, where)[0] / figure(real, criterion, where)[0] - 1
                found.append(Difference(name, letter, criterion, place, float(low)))
    return tuple(found)


def as_text(rows: tuple[Difference, ...]) -> str:
    """A table for people, in %: a line a vehicle and road, a column a figure."""
    lines = [f"{'':18}" + "".join(f"{criterion[:9] + ' ' + place:>21}" for criterion, place in FIGURES)]
    for name in DRIVEN:
        for letter in SPEEDS:
            cells = [row.relative for row in rows if (row.vehicle, row.road) == (name, letter)]
            lines.append(f"{name + ' ' + letter:18}" + "".join(f"{100 * cell:>21.1f}" for cell in cells))
    return "\n".join(lines)


def of(criterion: str, vehicle: str, place: str) -> dict[str, float]:
    """A figure's differences by class of road."""
    return {
        row.road: row.relative
        for row in differences()
        if (row.criterion, row.vehicle, row.place) == (criterion, vehicle, place)
    }


# Lowest and highest difference allowed; beside each what was measured over the two vehicles, four roads and places.
BOUNDS = [
    (LIGHT, "comfort", -0.015, 0.006),  # -1.1 % to +0.3 %
    (LIGHT, "dynamic_load_coefficient", -0.036, -0.005),  # -3.2 % to -1.3 %
    (LIGHT, "travel_rms", -0.06, -0.015),  # -5.3 % to -2.4 %
    (GROSS, "comfort", -0.055, 0.0),  # -4.6 % to -0.7 %
    (GROSS, "dynamic_load_coefficient", -0.036, -0.005),  # -3.2 % to -1.1 %
    (GROSS, "travel_rms", -0.07, -0.01),  # -6.0 % to -1.3 %
]


@pytest.mark.parametrize(
    ("vehicles", "criterion", "low", "high"),
    BOUNDS,
    ids=[f"{criterion} {'light' if vehicles is LIGHT else 'gross'}" for vehicles, criterion, _, _ in BOUNDS],
)
def test_statistical_linearisation(vehicles: tuple[str, ...], criterion: str, low: float, high: float) -> None:
    """Comfort within 1.5 % where a car is off its stops and 6 % where it sits on them; road holding 1 to 4 % too good
    and travel 1.5 to 7 % too small. The last two are always low: a Gaussian of that rms spends less time at low speed,
    where friction and the steep part before the knee act, than the real motion does.
    """
    rows = [row for row in differences() if row.vehicle in vehicles and row.criterion == criterion]
    assert len(rows) == len(vehicles) * len(SPEEDS) * 2
    assert all(low < row.relative < high for row in rows), "\n" + as_text(differences())


def test_whether_roughness_makes_it_worse() -> None:
    """Off the stops it does not: comfort's difference grows from A to C and no further, by less than 1.5 %, and what
    friction and knees make of travel is largest on A to C and least on D, where they are left behind. On the stops it
    does: at the rear of a full car comfort's and travel's grow from road to road up to C, and are twice and more on D
    what they are on A.
    """
    for vehicle in LIGHT:
        comfort = of("comfort", vehicle, "driver")
        assert comfort["A"] > comfort["B"] > comfort["C"]
        for axle in ("front", "rear"):
            travel = of("travel_rms", vehicle, axle)
            assert travel["D"] > 0.8 * min(travel["B"], travel["C"])
    for vehicle in GROSS:
        for criterion, place in (("comfort", "back seat"), ("travel_rms", "rear")):
            low = of(criterion, vehicle, place)
            assert low["A"] > low["B"] > low["C"]
            assert low["D"] < 1.9 * low["A"] < 0


def test_the_difference_is_the_linearisation() -> None:
    """Without friction, knees, stops and unequal ways the same comparison is within 0.3 %: a car on class A, whose
    wheels stay on the ground.
    """
    plain = {f"{axle}.friction": 0.0 for axle in ("front", "rear")}
    for axle in ("front", "rear"):
        plain |= {f"{axle}.knee_share_{way}": 1.0 for way in ("bump", "rebound")}
        plain |= {f"{axle}.damping_{way}": 1500.0 for way in ("bump", "rebound")}
        plain |= {f"{axle}.bump_stop_rate": 0.0}
    parameters, road = ESTATE.with_changes(plain), iso_road("A")
    driver = ESTATE.seats[0]
    real = time_ride(parameters, road, 120 * KMH, loads=ESTATE.loads, patch=PATCH, seat=driver)
    statistical = ride(parameters, road, 120 * KMH, loads=ESTATE.loads, patch=PATCH)
    for criterion, place in FIGURES:
        where = _place(ESTATE, place)
        ratio = figure(statistical, criterion, where)[0] / figure(real, criterion, where)[0]
        assert ratio == pytest.approx(1.0, abs=3e-3), criterion


# A rear corner near its stop, alone: empty and laden sprung mass, where the stop begins.
EMPTY, LADEN, GAP, SPEED = 350.0, 550.0, 0.068, 60 * KMH
RATES = np.array([24e3, 27e3, 29.5e3, 31e3, 34e3, 40e3])


def corners(rates: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> AtRest:
    """Corners with these springs under their load."""
    keys = {
        "body.corner_mass": EMPTY, "wheelbase": 2.8, "rear.unsprung_mass": 42.0, "rear.spring_ratio": 1.0,
        "rear.damping_bump": 1550.0, "rear.damping_rebound": 3100.0, "rear.damper_ratio": 1.0, "rear.friction": 35.0,
        "rear.friction_speed": 0.005, "rear.tyre_rate": 215e3, "rear.tyre_damping": 0.0, "rear.bump_clearance": GAP,
        "rear.bump_stop_rate": 31e3, "rear.bump_stop_progression": 2.4,
    }  # fmt: skip
    loads = (Load("empty", (), True), Load("laden", (LoadMass(2 * (LADEN - EMPTY), 2.8),)))
    parameters = {key: np.full(len(rates), value) for key, value in keys.items()} | {"rear.spring_rate": rates}
    return at_rest(parameters, model_of("quarter-car", "rear"), loads, 0)[1]


@pytest.mark.parametrize("letter", ["B", "C"])
def test_a_corner_near_its_stop(letter: str) -> None:
    """Laden it rests from 6 mm past the touch to 19 mm short of it, over the six springs. The linearisation is
    0.3 % to 2.7 % off, no worse where the stop is touched than on either side: body acceleration 1 %, contact force
    1.5 %, travel 2.7 %, its mean 0.1 mm.
    """
    road = Road(letter, CLASSES[letter], realisations=REALISATIONS)
    state = corners(RATES)
    touch = (LADEN - EMPTY) * GRAVITY / GAP
    assert RATES.min() < touch < RATES.max()
    assert np.all((state.travel[:, 0] > GAP) == (touch > RATES))
    real = Simulation(state, drive(road, SPEED, PATCH, None, 1e-3, seed=1), np.zeros((len(RATES), 1))).response()
    statistical = frequency_response(state, condition_grid(road, SPEED, PATCH, 0.0))
    for name, bound in (("acceleration", 0.015), ("contact_force", 0.02), ("travel", 0.035)):
        ratio = np.sqrt(getattr(statistical, name)[:, 0] / getattr(real, name)[:, 0])
        assert ratio == pytest.approx(1.0, abs=bound), name
    assert statistical.mean_travel == pytest.approx(real.mean_travel, abs=0.2e-3)
    assert np.ptp(real.bump_stop) > 0.3


def test_nothing_jumps_where_the_stop_is_touched() -> None:
    """The slope at rest doubles between two springs that differ by a thousandth; the ride's figures hardly move, in
    either domain.
    """
    state = corners((LADEN - EMPTY) * GRAVITY / GAP * np.array([0.9995, 1.0005]))
    assert state.wheel_rate[0, 0] > 1.9 * state.wheel_rate[1, 0]
    road = Road("C", CLASSES["C"], realisations=1)
    real = Simulation(state, drive(road, SPEED, PATCH, None, 1e-3, seed=1), np.zeros((2, 1))).response()
    statistical = frequency_response(state, condition_grid(road, SPEED, PATCH, 0.0))
    for response in (real, statistical):
        assert np.sqrt(response.acceleration[0, 0] / response.acceleration[1, 0]) == pytest.approx(1, abs=2e-3)
        assert response.wheel_rate[0, 0] == pytest.approx(response.wheel_rate[1, 0], rel=5e-3)
