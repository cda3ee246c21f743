"""The full car's march against its slow obvious twin, its mirror image, and the half car."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import at_rest_under, full_car, half_car
from ridefront.response.drive import Drive, drive
from ridefront.response.simulate import histories
from ridefront.response.time_domain import Simulation, TimeResponse
from ridefront.road import CLASSES, Obstacle, Road
from ridefront.vehicle import Load, LoadMass
from ridefront.vehicle.static import AtRest
from twins.integrator import Ground, obstacle_ground
from twins.lagrange import FullTwin, full_twin
from twins.time_figures import filtered, low_pass, running, weighting
from twins.vehicles import LOADS, PATCH, real_car, rest, with_sides

Array = NDArray[np.float64]
Side = Literal["left", "right"]
SPEED, STEP, WHEELBASE, TRACK = 10.0, 1e-3, 2.7, 1.5
POINT = (0.4, -0.3)  # ahead of the centre of mass and left of it, m
FINE = 4  # samples of the twin in a step
MIRROR = [1, 0, 3, 2]

STOPS = {
    "bump_clearance": 0.02, "bump_stop_rate": 60e3, "bump_stop_progression": 3.0,
    "rebound_clearance": 0.025, "rebound_stop_rate": 45e3, "rebound_stop_progression": 2.0,
}  # fmt: skip
KNEES = {
    "bump_share": 0.35, "knee_speed_bump": 0.12, "knee_share_bump": 0.4, "knee_speed_rebound": 0.2,
    "knee_share_rebound": 0.6,
}  # fmt: skip
ALL = STOPS | KNEES | {"friction": 60.0, "tyre_damping": 90.0, "damper_ratio": 0.8}
BEAM = {"axle_roll_inertia": 25.0, "spring_spacing": 1.05, "damper_spacing": 1.2}
BARS = {"front.anti_roll_rate": 14e3, "rear.anti_roll_rate": 6e3}
TO_ONE_SIDE = (
    Load("driver", (LoadMass(80.0, 1.3, left_of_centre=0.36),), reference=True),
    Load("right", (LoadMass(80.0, 1.3, left_of_centre=0.36), LoadMass(250.0, 2.3, 0.7, left_of_centre=-0.4))),
)


def car(keys: Mapping[str, float], beams: Collection[str] = ()) -> dict[str, Array]:
    """A car with these keys at every corner, another one at the rear; tracks differ too."""
    corner = {f"{axle}.{key}": value for axle in ("front", "rear") for key, value in keys.items()}
    rear = {"rear.unsprung_mass": 45.0, "rear.spring_rate": 28e3, "rear.tyre_rate": 220e3, "rear.track": 1.46}
    beam = {f"{axle}.{key}": value for axle in beams for key, value in BEAM.items()}
    return full_car(corner | rear | beam | BARS)


@dataclass(frozen=True)
class Case:
    """A car on a road under a load to one side, and what must happen, or it would not show what it is for."""

    car: dict[str, Array]
    road: Obstacle
    beams: tuple[str, ...] = ()
    reached: tuple[str, ...] = ()


CASES = {
    "independent, hump under the left": Case(
        car(ALL), Obstacle("hump", "versine", 0.09, 1.2, run_out=20.0, side="left"),
        reached=("bump stop", "rebound stop"),
    ),
    "beam behind, hole under the right": Case(
        car(ALL, ("rear",)), Obstacle("hole", "flat-top", -0.08, 0.9, 0.6, run_out=20.0, side="right"),
        ("rear",), reached=("bump stop", "rebound stop", "lift-off"),
    ),
    "two beams, hump under the left": Case(
        car({"damping": 2000.0}, ("front", "rear")),
        Obstacle("hump", "half-sine", 0.05, 0.8, run_out=20.0, side="left"), ("front", "rear"),
    ),
}  # fmt: skip


def sided(road: Obstacle) -> Drive:
    return drive(road, SPEED, 0.1, WHEELBASE, STEP, seed=0, track=TRACK)


@dataclass(frozen=True)
class History:
    """What follows from states (14, times): displacements (7, times), travel and its speed at the springs' and at the
    dampers' places and contact forces (4, times), accelerations (7, times), stops (4, times).
    """

    displacements: Array
    travel: Array
    speed: Array
    contact: Array
    acceleration: Array
    bump: Array
    rebound: Array


def observe(twin: FullTwin, t: Array, states: Array, road: Obstacle) -> History:
    """Histories by the twin's own laws, from where it rests."""
    ground, still = _ground(road)[0], twin.at_rest()
    rows = []
    for time, y in zip(t.tolist(), states.T, strict=True):
        q, v, under = still + y[:7], y[7:], np.array(ground(time))
        _, bump, rebound = twin.spring_forces(twin.springs @ q)
        acceleration, contact = twin.accelerations(q, v, under), twin.contacts(q, v, under)
        rows.append(np.concatenate([y[:7], twin.springs @ q, twin.dampers @ v, contact, acceleration, bump, rebound]))
    return History(*np.split(np.array(rows).T, np.cumsum([7, 4, 4, 4, 7, 4])))


@dataclass(frozen=True)
class Pair:
    """A case integrated by the twin, at every step and at `FINE` samples a step, and marched."""

    state: AtRest
    road: Drive
    fine: History
    twin: History
    marched: History
    response: TimeResponse


@lru_cache
def pair(name: str) -> Pair:
    case = CASES[name]
    state, road = at_rest_under(case.car, TO_ONE_SIDE, 1, case.beams), sided(case.road)
    twin = full_twin(case.car, TO_ONE_SIDE, 1, case.beams)
    t = np.arange(FINE * road.steps + 1, dtype=np.float64) * (road.step / FINE)
    ground, breaks = _ground(case.road)
    states = twin.drive(ground, breaks, t)
    fine = observe(twin, t, states, case.road)
    displacements, speeds = histories(state, road)
    marched = observe(twin, t[::FINE], np.concatenate([displacements[0], speeds[0]]), case.road)
    ahead, left = (np.array([[place]]) for place in POINT)
    response = Simulation(state, road, ahead, left, backrest=True).response()
    every = History(**{item.name: getattr(fine, item.name)[:, ::FINE] for item in fields(fine)})
    return Pair(state, road, fine, every, marched, response)


def _ground(road: Obstacle) -> tuple[Ground, list[float]]:
    """Height and rate under four wheels, and the times of kinks."""
    axles, breaks = obstacle_ground(road, SPEED, 0.1, WHEELBASE, STEP)
    level = (0.0, 0.0)

    def ground(t: float) -> tuple[tuple[float, float], ...]:
        pairs = [(under, level) if road.side == "left" else (level, under) for under in axles(t)]
        return tuple(wheel for pair in pairs for wheel in pair)

    return ground, breaks


every_case = pytest.mark.parametrize("name", CASES)


@every_case
def test_where_it_rests(name: str) -> None:
    run = pair(name)
    assert run.state.travel[0] == pytest.approx(run.twin.travel[:, 0], abs=1e-9)
    assert run.state.contact_force[0] == pytest.approx(run.twin.contact[:, 0], rel=1e-9)
    assert np.ptp(run.state.contact_force[0]) > 1000


@every_case
def test_histories(name: str) -> None:
    run = pair(name)
    for quantity in ("displacements", "travel", "contact", "acceleration"):
        want, got = getattr(run.twin, quantity), getattr(run.marched, quantity)
        peak = np.abs(want - want[:, :1]).max(axis=1)
        if quantity == "acceleration":
            want, got, peak = want[:3], got[:3], peak[:3]
        assert np.all(peak > 0)
        assert np.abs(got - want).max(axis=1) / peak == pytest.approx(0, abs=1.5e-3), quantity
    happens = {
        "bump stop": np.any(run.twin.bump > 1.5 * run.twin.bump[:, :1], axis=1),
        "rebound stop": np.any(run.twin.rebound > 0, axis=1),
        "lift-off": np.any(run.twin.contact == 0, axis=1),
    }
    for what in CASES[name].reached:
        assert np.any(happens[what]), what


@every_case
def test_figures(name: str) -> None:
    """Sums over the march's steps against sums over four times as many, filters of the march against analogue ones."""
    run = pair(name)
    found, step = run.response, run.road.step / FINE
    counted = slice(FINE * run.road.first, FINE * run.road.steps)
    fine = run.fine
    travel = fine.travel[:, counted]
    reach = np.abs(travel - fine.travel[:, :1]).max(axis=1)
    assert np.abs(found.highest[0] - travel.max(axis=1)) / reach == pytest.approx(0, abs=2e-3)
    assert np.abs(found.lowest[0] - travel.min(axis=1)) / reach == pytest.approx(0, abs=2e-3)
    assert found.travel[0] == pytest.approx(travel.var(axis=1), rel=4e-3)
    assert found.travel_speed[0] == pytest.approx(np.mean(fine.speed[:, counted] ** 2, axis=1), rel=4e-3)
    from_rest = (fine.contact - fine.contact[:, :1])[:, counted]
    assert found.contact_force[0] == pytest.approx(np.mean(from_rest**2, axis=1), rel=4e-3)
    assert found.lift_off[0] == pytest.approx(np.mean(fine.contact[:, counted] == 0, axis=1), abs=2e-3)
    forces = np.maximum(fine.bump, fine.rebound)[:, counted].max(axis=1)
    assert found.stop_force[0] == pytest.approx(forces, rel=5e-3, abs=1e-9)
    bodies = fine.acceleration[:3]
    weighted = np.array([filtered(weighting("Wk"), row, step) for row in bodies])
    for name_of, motions in (("acceleration", bodies[:, counted]), ("weighted", weighted[:, counted])):
        products = motions @ motions.T / motions.shape[1]
        got = np.zeros((3, 3))
        for k, (i, j) in enumerate(((0, 0), (0, 1), (1, 1), (0, 2), (1, 2), (2, 2))):
            got[i, j] = got[j, i] = getattr(found, name_of)[0, k]
        scale = np.sqrt(np.outer(np.diag(products), np.diag(products)))
        assert np.abs(got - products) / scale == pytest.approx(0, abs=4e-3), name_of
    for angle, row in (("pitch", 1), ("roll", 2)):
        assert getattr(found, angle)[0] == pytest.approx(fine.displacements[row, counted].var(), rel=4e-3), angle
    for figure, curve, row in (("pitch_weighted", "We", 1), ("pitch_backrest", "Wc", 1), ("roll_weighted", "We", 2)):
        want = np.mean(filtered(weighting(curve), bodies[row], step)[counted] ** 2)
        assert getattr(found, figure)[0] == pytest.approx(want, rel=4e-3), figure
    ahead, left = POINT
    there = weighted[0] - ahead * weighted[1] + left * weighted[2]
    assert found.dose[0, 0] == pytest.approx(np.sum(there[counted] ** 4) * step, rel=5e-3)
    assert found.running[0, 0] == pytest.approx(running(there, step)[counted].max(), rel=5e-3)
    there = filtered(low_pass(), bodies[0] - ahead * bodies[1] + left * bodies[2], step)
    assert found.peak[0, 0] == pytest.approx(np.abs(there[counted]).max(), rel=5e-3)


@pytest.mark.parametrize("beams", [(), ("rear",)], ids=["independent", "beam"])
def test_mirrored_car_on_a_mirrored_road(beams: tuple[str, ...]) -> None:
    """Left and right change places; what joins heave or pitch with roll changes its sign."""
    mirrored = tuple(
        replace(load, masses=tuple(replace(item, left_of_centre=-item.left_of_centre) for item in load.masses))
        for load in TO_ONE_SIDE
    )
    sides: tuple[tuple[tuple[Load, ...], Side, int], ...] = ((TO_ONE_SIDE, "left", 1), (mirrored, "right", -1))
    one, other = (
        Simulation(
            at_rest_under(car(ALL, beams), loads, 1, beams),
            sided(Obstacle("hump", "versine", 0.08, 1.0, run_out=15.0, side=side)),
            np.array([[POINT[0]]]),
            np.array([[sign * POINT[1]]]),
            backrest=True,
        ).response()
        for loads, side, sign in sides
    )
    assert np.ptp(one.highest[0, :2]) > 5e-3
    for item in fields(TimeResponse):
        want, got = getattr(one, item.name), getattr(other, item.name)
        if item.name in ("state", "drive"):
            continue
        if item.name in ("acceleration", "weighted"):
            assert np.all(np.abs(want[0, 3:5]) > 1e-3)
            want = want * np.array([1, 1, 1, -1, -1, 1])
        elif want.ndim == 2 and want.shape[1] == 4:
            want = want[:, MIRROR]
        np.testing.assert_allclose(got, want, rtol=1e-6, atol=1e-12, err_msg=item.name)


@pytest.mark.parametrize("beams", [(), ("front", "rear")], ids=["independent", "beams"])
@pytest.mark.parametrize("kind", ["random", "obstacle"])
def test_wheels_that_move_alike_are_the_half_car(kind: str, beams: tuple[str, ...]) -> None:
    """On equal tracks, under loads on the centre line, neither sides nor bars nor beams matter."""
    keys = ALL | {"rebound_stop_rate": 50e3}
    corner = {f"{axle}.{key}": value for axle in ("front", "rear") for key, value in keys.items()}
    beam = {f"{axle}.{key}": value for axle in beams for key, value in BEAM.items()}
    loads = (Load("empty", reference=True), Load("laden", (LoadMass(300.0, 1.7, 0.5),)))
    half, full = (
        at_rest_under(made, loads, 1, beams if made is not None and "front.track" in made else ())
        for made in (half_car(corner), full_car(corner | beam | BARS))
    )
    road: Road | Obstacle = Obstacle("hump", "versine", 0.07, 1.2, run_out=20.0)
    if kind == "random":
        road = Road("rough", CLASSES["D"], length=60.0, realisations=2, tracks="equal")
    # A seat anywhere across the car feels what the one on the centre line does.
    ahead, left = np.array([[0.5]]), np.array([[0.37]])
    want = Simulation(half, drive(road, 20.0, PATCH, WHEELBASE, STEP, seed=7), ahead, backrest=True).response()
    driven = drive(road, 20.0, PATCH, WHEELBASE, STEP, seed=7, track=TRACK)
    got = Simulation(full, driven, ahead, left, backrest=True).response()
    assert want.stop_force.max() > 0
    for item in fields(TimeResponse):
        one, other = getattr(want, item.name), getattr(got, item.name)
        if item.name in ("state", "drive"):
            continue
        if item.name in ("acceleration", "weighted"):
            assert np.all(np.abs(other[:, 3:]) < 1e-12)
            other = other[:, :3]
        elif one.ndim == 2 and one.shape[1] == 2:
            one = np.repeat(one, 2, axis=1)
        np.testing.assert_allclose(other, one, rtol=1e-8, atol=1e-15, err_msg=item.name)


def test_same_bits_for_any_batch_and_beside_diverging_neighbours() -> None:
    rng = np.random.default_rng(83)
    n = 20
    cars = with_sides(real_car(rng, n), rng)
    road = drive(
        Road("rough", CLASSES["D"], length=60.0, realisations=2), 20.0, PATCH, WHEELBASE, 2e-3, seed=7, track=1.5
    )

    def bits(which: NDArray[np.intp], of: dict[str, Array] = cars) -> NDArray[np.uint64]:
        with np.errstate(all="ignore"):  # as the evaluator does: hopeless designs overflow
            state = rest({key: np.ascontiguousarray(value[which]) for key, value in of.items()}, "full-car", LOADS, 1)
        points = np.full((len(which), 1), 0.5)
        found = Simulation(state, road, points, -points, backrest=True).response()
        figures = [getattr(found, item.name) for item in fields(found) if item.name not in ("state", "drive")]
        whole = [np.ascontiguousarray(figure).reshape(len(which), -1).view(np.uint64) for figure in figures]
        return np.concatenate(whole, axis=1)

    want = bits(np.arange(n))
    assert len(np.unique(want[:, 0])) == n
    for which in (np.array([3]), np.arange(5, 14), rng.permutation(n)):
        assert np.array_equal(bits(which), want[which])
    spoilt = np.arange(n) % 3 == 1
    bad = cars | {"front.damping": np.where(spoilt, 1e7, cars["front.damping"])}
    assert np.array_equal(bits(np.arange(n), bad)[~spoilt], want[~spoilt])
    assert not np.array_equal(bits(np.arange(n), bad)[spoilt], want[spoilt])
