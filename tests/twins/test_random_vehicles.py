"""Vehicles, loads and roads drawn in wider ranges than anybody would build, against the slow twins.

The other twins take ordinary cars or cars made for a purpose; here every key of a corner may be there or not. Draws are
the same at every run, and each test says what must have come up among them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.response.drive import drive
from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import condition_grid
from ridefront.response.simulate import histories
from ridefront.road import CLASSES, Obstacle, Road
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.elements import Points
from ridefront.vehicle.static import AtRest, at_rest
from twins import dense, dense_full
from twins.integrator import Ground, drive_twin, observe, obstacle_ground, twin_of
from twins.lagrange import FullTwin, full_twin
from twins.vehicles import WHEELBASE

Array = NDArray[np.float64]
STEP = 2.5e-4
AXLES = ("front", "rear")
SOME = ((), ("rear",), ("front",), AXLES)


@dataclass(frozen=True)
class Vehicle:
    """One vehicle by path, SI, its measured curves and its axles that are beams."""

    model: str
    values: dict[str, Array]
    tables: dict[str, Points]
    beams: tuple[str, ...] = ()

    def between_tracks(self) -> float | None:
        """As studies take it, m."""
        if self.model != "full-car":
            return None
        return 0.5 * float(self.values["front.track"][0] + self.values["rear.track"][0])

    def traits(self) -> set[str]:
        """What of an axle is there, and what is not, by words."""
        found = {"both beams"} if len(self.beams) == 2 else set()
        for axle in AXLES[: 1 if self.model == "quarter-car" else 2]:
            keys = {path.removeprefix(f"{axle}.") for path in self.values if path.startswith(f"{axle}.")}
            found |= keys & {"stop_ratio", "damping_bump", "knee_speed", "knee_speed_bump", "spring_scale"}
            missing = {"bump_stop_rate", "rebound_stop_rate", "spring_spacing"} - keys
            found |= {f"no {key}" for key in missing}
            found |= {f"no {key}" for key in ("friction", "tyre_damping") if not self.values[f"{axle}.{key}"][0]}
        return found


ANY_WAY = {"stop_ratio", "damping_bump", "knee_speed", "knee_speed_bump", "no friction", "no tyre_damping"}
ANY_WAY |= {"no bump_stop_rate", "no rebound_stop_rate", "spring_scale"}


@dataclass(frozen=True)
class Draw:
    """Draws of one example."""

    rng: np.random.Generator

    def some(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def often(self, share: float = 0.5) -> bool:
        """True in that share of examples."""
        return float(self.rng.random()) < share

    def stops(self) -> dict[str, float]:
        found = {"stop_ratio": self.some(0.5, 1.2)} if self.often() else {}
        for way in ("bump", "rebound"):
            if self.often(0.75):
                found |= {
                    f"{way}_clearance": self.some(0.005, 0.06),
                    f"{way}_stop_rate": self.some(5e3, 150e3),
                    f"{way}_stop_progression": self.some(0.0, 5.0),
                }
        return found

    def damper(self, damping: float) -> dict[str, float]:
        """Two slopes or their mean and a share; knees alike both ways, each way its own, in rebound alone, or none."""
        share = self.some(0.15, 0.85)
        found = {"damping": damping, "bump_share": share}
        if self.often():
            found = {"damping_bump": 2 * damping * share, "damping_rebound": 2 * damping * (1 - share)}
        knees: tuple[tuple[str, ...], ...] = (("",), ("_bump", "_rebound"), ("_rebound",), ())
        for way in knees[self.rng.integers(4)]:
            found |= {f"knee_speed{way}": self.some(0.03, 0.5), f"knee_share{way}": self.some(0.1, 1.0)}
        return found

    def curve(self, x: tuple[float, ...], slope: float) -> Points:
        """Through these places, each span as steep as drawn about a slope; no force at 0, which is among them."""
        steps = [(right - left) * slope * self.some(0.4, 1.6) for left, right in pairwise(x)]
        force = np.cumsum([0.0, *steps])
        return Points(x, tuple((force - force[x.index(0.0)]).tolist()))

    def vehicle(self, model: str) -> Vehicle:
        """Ride frequencies from 0.7 to 3 Hz, damping ratios from 0.05 to 1, wheels of 15 to 120 kg that hop at 8 to
        20 Hz; measured curves of one axle or both; beams of a full car.
        """
        mass, share = self.some(500.0, 3000.0), self.some(0.35, 0.65)
        car = {"wheelbase": WHEELBASE}
        if model == "quarter-car":
            car["body.corner_mass"] = 0.5 * mass * share
        else:
            car |= {"front_share": share, "body.mass": mass, "body.dynamic_index": self.some(0.6, 1.4)}
        if model == "full-car":
            car["body.roll_inertia"] = mass * self.some(0.4, 0.8) ** 2
        # No curves on full cars: that would be one more kind of kernel, which takes seconds to compile.
        drawn = SOME[self.rng.integers(4)]
        curved, beams = ((), drawn) if model == "full-car" else (drawn, ())
        tables: dict[str, Points] = {}
        for axle, part in (("front", share), ("rear", 1 - share))[: 1 if model == "quarter-car" else 2]:
            corner = self.axle(0.5 * mass * part, axle in curved, tables, axle)
            if model == "full-car":
                corner |= self.sides(corner["unsprung_mass"])
            car |= {f"{axle}.{key}": value for key, value in corner.items()}
        return Vehicle(model, {path: np.array([value]) for path, value in car.items()}, tables, beams)

    def axle(self, carries: float, curved: bool, tables: dict[str, Points], name: str) -> dict[str, float]:
        """Keys of an axle that carries so much on a wheel, kg; its curves go into `tables`."""
        rate = carries * (2 * np.pi * self.some(0.7, 3.0)) ** 2
        ratio, damper_ratio, wheel = self.some(0.5, 1.2), self.some(0.5, 1.2), self.some(15.0, 120.0)
        spring = rate / ratio**2
        damping = 2 * self.some(0.05, 1.0) * float(np.sqrt(rate * carries)) / damper_ratio**2
        corner = {
            "unsprung_mass": wheel,
            "spring_ratio": ratio,
            "damper_ratio": damper_ratio,
            "tyre_rate": wheel * (2 * np.pi * self.some(8.0, 20.0)) ** 2,
            "tyre_damping": self.some(10.0, 300.0) if self.often() else 0.0,
            "friction": self.some(1.0, 200.0) if self.often(0.7) else 0.0,
            "friction_speed": 0.005,
        }
        corner |= self.stops()
        if not curved:
            return corner | {"spring_rate": spring} | self.damper(damping)
        tables[f"{name}.spring_table"] = self.curve((-0.1, -0.04, 0.0, 0.03, 0.07), spring)
        tables[f"{name}.damper_table"] = self.curve((-1.0, -0.3, -0.05, 0.0, 0.08, 0.5), damping)
        return corner | {"spring_scale": self.some(0.7, 1.4), "damper_scale": self.some(0.7, 1.4)}

    def sides(self, wheel: float) -> dict[str, float]:
        """What a full car's axle has beside, a beam's inertia among it."""
        track = self.some(1.3, 1.8)
        found = {"track": track, "anti_roll_rate": self.some(0.0, 40e3) if self.often(0.75) else 0.0}
        found["axle_roll_inertia"] = 2 * wheel * self.some(0.3, 0.6) ** 2
        for kind in ("spring", "damper"):
            if self.often():
                found[f"{kind}_spacing"] = track * self.some(0.5, 1.0)
        return found

    def loads(self, aside: float) -> tuple[Load, ...]:
        """A reference load and a heavier one, up to `aside` off the centre line, m."""
        driver = LoadMass(self.some(0.0, 150.0), 1.3, left_of_centre=self.some(-aside, aside))
        place = self.some(0.8, 2.6), self.some(0.0, 1.2), self.some(-aside, aside)
        boot = LoadMass(self.some(10.0, 400.0), *place)
        return (Load("driver", (driver,), reference=True), Load("laden", (driver, boot)))

    def condition(self) -> tuple[Road, float, float]:
        """A random road, a speed, m/s, and a tyre's patch, m, none in a quarter of examples."""
        road = Road("road", CLASSES["ABCD"[self.rng.integers(4)]])
        return road, self.some(2.0, 60.0), self.some(0.0, 0.3) if self.often(0.75) else 0.0

    def obstacle(self) -> Obstacle:
        """A bump or a hole."""
        height = self.some(0.03, 0.08) if self.often() else self.some(-0.06, -0.03)
        shape = ("half-sine", "versine", "arc")[self.rng.integers(3)]
        return Obstacle("bump", shape, height, self.some(0.4, 2.0), lead=0.5, run_out=4.0)


@dataclass(frozen=True)
class Example:
    """A vehicle under the second of its loads, and further draws."""

    draw: Draw
    vehicle: Vehicle
    loads: tuple[Load, ...]
    state: AtRest


def examples(seed: int, count: int, model: str) -> Iterator[Example]:
    """So many vehicles that can stand."""
    rng = np.random.default_rng(seed)
    while count:
        draw = Draw(rng)
        vehicle, loads = draw.vehicle(model), draw.loads(0.4 if model == "full-car" else 0.0)
        state = at_rest(vehicle.values, model_of(model), loads, 0, vehicle.tables, vehicle.beams)[1]
        if state.possible.all():
            count -= 1
            yield Example(draw, vehicle, loads, state)


PRODUCTS = ("acceleration", "weighted")
one_side = pytest.mark.parametrize("model", ["quarter-car", "half-car"])


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


@one_side
def test_one_side_at_every_frequency(model: str) -> None:
    """Whatever damping and rates were found, mean squares are those of a dense solve with them."""
    met: set[str] = set()
    for example in examples(1, 20, model):
        road, speed, patch = example.draw.condition()
        grid = condition_grid(road, speed, patch, WHEELBASE if model == "half-car" else 0.0)
        found = frequency_response(example.state, grid)
        want = dense.mean_squares(example.state, found.damping, grid, found.wheel_rate)
        assert_agree(found, want, ((0, 0), (0, 1), (1, 1)))
        met |= example.vehicle.traits()
    assert met >= ANY_WAY


def test_full_car_at_every_frequency() -> None:
    """The same for two tracks, a load off centre and whichever axles are beams."""
    met: set[str] = set()
    for example in examples(2, 20, "full-car"):
        road, speed, patch = example.draw.condition()
        grid = condition_grid(road, speed, patch, WHEELBASE, track=example.vehicle.between_tracks())
        found = frequency_response(example.state, grid)
        want = dense_full.mean_squares(example.state, found.wheel_rate, found.damping, grid)
        assert_agree(found, want, dense_full.PAIRS)
        met |= example.vehicle.traits()
    assert met >= (ANY_WAY - {"spring_scale"}) | {"both beams", "no spring_spacing"}


@one_side
def test_where_one_side_rests(model: str) -> None:
    """Travel by root finding on forces written anew, weights by the lever rule; 1e-9 m."""
    met: set[str] = set()
    for example in examples(3, 40, model):
        state, vehicle = example.state, example.vehicle
        twin = twin_of(vehicle.values, example.loads, 1, vehicle.tables)
        for c, corner in enumerate(twin.corners):
            assert abs(state.travel[0, c] - corner.static) < 1e-9
            assert abs(state.contact_force[0, c] / corner.static_contact - 1) < 1e-12
            met |= {"bump stop"} if corner.bump(corner.static) else set()
        met |= vehicle.traits()
    assert met >= ANY_WAY | {"bump stop"}


def test_where_a_full_car_rests() -> None:
    """All seven balances at once by root finding, which ends some 1e-6 N out of balance on rates above 1e4 N/m."""
    met: set[str] = set()
    for example in examples(4, 30, "full-car"):
        twin = full_twin(example.vehicle.values, example.loads, 1, example.vehicle.beams)
        travel = twin.springs @ twin.at_rest()
        np.testing.assert_allclose(example.state.travel[0], travel, rtol=0, atol=1e-8)
        met |= example.vehicle.traits() | ({"bump stop"} if np.any(twin.spring_forces(travel)[1]) else set())
    assert met >= (ANY_WAY - {"spring_scale"}) | {"both beams", "no spring_spacing", "bump stop"}


SPEED = 15.0


def assert_same_ride(want: Array, got: Array) -> None:
    """Rows (quantities, times) within 0.05 % of their largest change, and of a hundredth of the largest of all rows,
    below which a row is what others leave over. The march takes steps of 0.25 ms over knees, stops and friction that
    bends within millimetres a second, where the twin's steps are as short as 1e-8 asks for. Of 300 cars drawn like this
    none was further than 0.05 % from steps a quarter as long (median 0.002 %), and 0.3 % at 1 ms; runs find their step
    by halving it.
    """
    size = np.abs(want - want[:, :1]).max(axis=1)
    assert np.all(np.abs(got - want).max(axis=1) <= 5e-4 * np.maximum(size, 1e-2 * size.max()))


def reached(bump: Array, rebound: Array, contact: Array) -> set[str]:
    """What happened on the way, from rows of stop and contact forces (corners, times)."""
    happens = {
        "bump stop": np.any(bump > 1.5 * bump[:, :1] + 1.0),
        "rebound stop": np.any(rebound > 1.5 * rebound[:, :1] + 1.0),
        "lift-off": np.any(contact == 0),
    }
    return {what for what, so in happens.items() if so}


DRIVEN = {"bump stop", "rebound stop", "lift-off"}


@one_side
def test_one_side_over_an_obstacle(model: str) -> None:
    """Displacements, travel and contact forces, step by step."""
    met: set[str] = set()
    for example in examples(10, 3, model):
        road, patch = example.draw.obstacle(), example.draw.some(0.02, 0.2)
        wheelbase = WHEELBASE if model == "half-car" else None
        twin = twin_of(example.vehicle.values, example.loads, 1, example.vehicle.tables)
        way = drive(road, SPEED, patch, wheelbase, STEP, seed=0)
        t = np.arange(way.steps + 1, dtype=np.float64) * way.step
        ground, breaks = obstacle_ground(road, SPEED, patch, wheelbase, STEP)
        want = drive_twin(twin, ground, breaks, t)
        displacements, speeds = histories(example.state, way)
        got = observe(twin, ground, t, np.concatenate([displacements[0], speeds[0]]))
        for quantity in ("body", "wheels", "travel", "contact"):
            assert_same_ride(getattr(want, quantity), getattr(got, quantity))
        met |= example.vehicle.traits() | reached(want.bump, want.rebound, want.contact)
    assert met >= DRIVEN | {"spring_scale", "no friction", "damping_bump", "knee_speed_bump"}


def test_full_car_over_an_obstacle_under_one_side() -> None:
    """All seven displacements, step by step."""
    met: set[str] = set()
    for example in examples(22, 2, "full-car"):
        road, vehicle = example.draw.obstacle(), example.vehicle
        left = example.draw.often()
        way = drive(
            replace(road, side="left" if left else "right"), SPEED, 0.1, WHEELBASE, STEP, seed=0,
            track=vehicle.between_tracks(),
        )  # fmt: skip
        t = np.arange(way.steps + 1, dtype=np.float64) * way.step
        axles, breaks = obstacle_ground(road, SPEED, 0.1, WHEELBASE, STEP)
        ground = _under_one_side(axles, left)
        twin = full_twin(vehicle.values, example.loads, 1, vehicle.beams)
        want = twin.drive(ground, breaks, t)
        got = histories(example.state, way)[0][0]
        for rows in (slice(1), slice(1, 3), slice(3, 7)):  # heave; pitch and roll; wheels
            assert_same_ride(want[rows], got[rows])
        met |= vehicle.traits() | _reached_by(twin, ground, t, want)
    assert met >= DRIVEN | {"both beams", "no friction", "damping_bump", "knee_speed_bump"}


def _under_one_side(axles: Ground, left: bool) -> Ground:
    """The road of both axles under their left or right wheels, and none under the others."""

    def ground(time: float) -> tuple[tuple[float, float], ...]:
        level = (0.0, 0.0)
        pairs = [(under, level) if left else (level, under) for under in axles(time)]
        return tuple(wheel for pair in pairs for wheel in pair)

    return ground


def _reached_by(twin: FullTwin, ground: Ground, t: Array, states: Array) -> set[str]:
    """What happened to a full car, its states (14, times)."""
    still, rows = twin.at_rest(), []
    for time, y in zip(t[::8].tolist(), states.T[::8], strict=True):
        _, bump, rebound = twin.spring_forces(twin.springs @ (still + y[:7]))
        rows.append([*bump, *rebound, *twin.contacts(still + y[:7], y[7:], np.array(ground(time)))])
    return reached(*np.split(np.array(rows).T, 3))
