"""The march over obstacles against the slow obvious twin: every shape, every element, histories and figures.

Cases go through shapes and elements together, since each costs an integration. The step is 1 ms, which does for edges
and for wheels that leave the road; each case says how far the march may be from the twin.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import UNLADEN, half_car, quarter_car
from ridefront.response.drive import Drive, drive
from ridefront.response.simulate import histories
from ridefront.response.time_domain import Simulation, TimeResponse
from ridefront.road import Obstacle
from ridefront.road.obstacle import mix, profile
from ridefront.road.shapes import SHAPES, Size
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.elements import NO_TABLES, Points, Tables
from ridefront.vehicle.static import at_rest
from twins.integrator import History, drive_twin, observe, obstacle_ground, twin_of
from twins.time_figures import Counts, figures

Array = NDArray[np.float64]
SPEED, STEP, WHEELBASE = 10.0, 1e-3, 2.7
POINT = 0.4  # ahead of the centre of mass, m
FINE = 4  # samples of the twin in a step

STOPS = {
    "bump_clearance": 0.02, "bump_stop_rate": 60e3, "bump_stop_progression": 3.0,
    "rebound_clearance": 0.025, "rebound_stop_rate": 45e3, "rebound_stop_progression": 2.0,
}  # fmt: skip
KNEES = {
    "bump_share": 0.35,
    "knee_speed_bump": 0.12,
    "knee_share_bump": 0.4,
    "knee_speed_rebound": 0.2,
    "knee_share_rebound": 0.6,
}
FRICTION = {"friction": 60.0}
TYRE = {"tyre_damping": 90.0}
RATIOS = {"spring_rate": 40e3, "spring_ratio": 0.8, "damping": 2600.0, "damper_ratio": 0.75, "stop_ratio": 0.9}
TABLES = {
    f"{axle}.{key}": points
    for axle in ("front", "rear")
    for key, points in (
        ("spring_table", Points((-0.1, -0.04, 0.0, 0.03, 0.07), (-1900.0, -900.0, 150.0, 950.0, 2900.0))),
        ("damper_table", Points((-1.0, -0.3, -0.05, 0.0, 0.08, 0.5), (-2000.0, -900.0, -300.0, 0.0, 180.0, 600.0))),
    )
}
LADEN = (*UNLADEN, Load("laden", (LoadMass(320.0, 1.6, 0.6),)))


@dataclass(frozen=True)
class Case:
    """A road, what is changed at every corner, and how near the march comes.

    Attributes:
        near: displacements and contact force, share of each one's peak; sharp: accelerations, which jump or all but
            jump at edges, stops and where friction turns, likewise.
        reached: what must happen at every corner, or the case would not show what it is for.
    """

    road: Obstacle
    keys: dict[str, float]
    patch: float = 0.1
    near: float = 1e-3
    sharp: float = 2e-3
    tables: Tables = field(default_factory=lambda: NO_TABLES)
    at: int = 0
    reached: tuple[str, ...] = ()


def obstacle(shape: str, height: float, length: float = 0.0, top: float = 0.0) -> Obstacle:
    """One obstacle with the level road behind it on which a body settles."""
    return Obstacle(shape, shape, height, length, top, run_out=35.0)


TRAIN = Obstacle(
    "train", "versine", lead=1.0, run_out=12.0, count=4, spacing=1.5, sizes=(Size(0.03, 0.8), Size(-0.02, 0.5))
)

CASES = {
    "linear, half-sine": Case(obstacle("half-sine", 0.05, 1.2), {}, near=2e-6, sharp=2e-6),
    "stops, versine": Case(obstacle("versine", 0.09, 1.5), STOPS, reached=("bump stop", "rebound stop", "lift-off")),
    "knees, flat-top": Case(obstacle("flat-top", 0.06, 1.5, 0.5), KNEES),
    "friction, arc": Case(obstacle("arc", 0.05, 0.9), FRICTION),
    "tyre damping, cleat": Case(obstacle("cleat", 0.02, 0.3), TYRE | KNEES, reached=("lift-off",)),
    # The edge rises within one step that is not one of the march's: half a step of doubt about when.
    "no patch, cleat": Case(obstacle("cleat", 0.015, 0.2), KNEES, patch=0.0, sharp=5e-3),
    # So much tyre damping that a wheel that falls would feel it in the air.
    "lift-off, pothole": Case(
        obstacle("flat-top", -0.08, 0.9, 0.6),
        STOPS | FRICTION | {"tyre_damping": 600.0, "bump_clearance": 0.04, "rebound_clearance": 0.01},
        reached=("lift-off", "rebound stop", "rebound stop harder than bump stop"),
    ),
    "load on its stop, step": Case(
        obstacle("step", 0.05), STOPS | KNEES | FRICTION, at=1, reached=("bump stop at rest", "bump stop")
    ),
    "tables, half-sine": Case(
        obstacle("half-sine", 0.06, 0.8),
        {"spring_scale": 1.1, "damper_scale": 0.9, "damper_ratio": 0.9} | FRICTION | STOPS,
        tables=TABLES,
    ),
    "ratios and all, versine": Case(
        obstacle("versine", 0.1, 1.1),
        STOPS | KNEES | FRICTION | RATIOS | TYRE,
        reached=("bump stop", "rebound stop", "lift-off"),
    ),
    # Small obstacles: friction of the size of what heaves the body, and it turns often.
    "all, train": Case(TRAIN, STOPS | KNEES | FRICTION | TYRE, near=2e-3, sharp=3e-3, reached=("bump stop",)),
}


def car(model: str, keys: dict[str, float]) -> dict[str, Array]:
    """One design with these keys at every corner; the rear corner is another one all the same."""
    if model == "quarter-car":
        return quarter_car(**keys) | {"wheelbase": np.array([WHEELBASE])}
    rear = {"unsprung_mass": 45.0, "spring_rate": 1.1 * keys.get("spring_rate", 25e3), "tyre_rate": 220e3}
    changes = {f"front.{key}": value for key, value in keys.items()}
    return half_car(changes | {f"rear.{key}": value for key, value in (keys | rear).items()})


@dataclass(frozen=True)
class Pair:
    """A case integrated by the twin and marched, at the march's steps, and the figures of both."""

    road: Drive
    history: History
    marched: History
    response: TimeResponse
    want: dict[str, Array]


@lru_cache
def pair(model: str, name: str) -> Pair:
    case, parameters = CASES[name], car(model, CASES[name].keys)
    wheelbase = None if model == "quarter-car" else WHEELBASE
    state = at_rest(parameters, model_of(model), LADEN, 0, case.tables)[case.at]
    road = drive(case.road, SPEED, case.patch, wheelbase, STEP, seed=0)
    twin = twin_of(parameters, LADEN, case.at, case.tables)
    ground, breaks = obstacle_ground(case.road, SPEED, case.patch, wheelbase, STEP)
    t = np.arange(FINE * road.steps + 1, dtype=np.float64) * (road.step / FINE)
    history = drive_twin(twin, ground, breaks, t)
    displacements, speeds = histories(state, road)
    marched = observe(twin, ground, t[::FINE], np.concatenate([displacements[0], speeds[0]]))
    response = Simulation(state, road, np.array([[POINT]]), backrest=model == "half-car").response()
    counts = Counts(road.first * road.step, (road.window[0] * road.step, road.window[1] * road.step), road.floor)
    return Pair(road, history.every(FINE), marched, response, figures(history, counts, POINT))


every_case = pytest.mark.parametrize("name", CASES)
either_model = pytest.mark.parametrize("model", ["quarter-car", "half-car"])


def test_every_shape_has_its_turn() -> None:
    assert {case.road.shape for case in CASES.values()} == set(SHAPES)


@every_case
@pytest.mark.parametrize("patch", [0.0, 0.1])
def test_road_of_the_twin(name: str, patch: float) -> None:
    """The twin's own shapes, averaged over the patch, are the road that the march is given."""
    road, width = CASES[name].road, SPEED * STEP
    ground, _ = obstacle_ground(road, SPEED, patch, WHEELBASE, STEP)
    t = np.random.default_rng(5).uniform(0.0, 1.0, 400)
    got = np.array([[height for height, _ in ground(time)] for time in t])
    for k, lag in enumerate((0.0, WHEELBASE)):
        want = profile(road, SPEED * t - lag, patch, width, mix(road, seed=0, index=0))
        assert np.ptp(want) > 0.01
        np.testing.assert_allclose(got[:, k], want, rtol=0, atol=1e-5 if patch == 0 else 1e-12)


@either_model
@every_case
def test_histories(model: str, name: str) -> None:
    case, run = CASES[name], pair(model, name)
    for quantity in ("body", "wheels", "travel", "contact", "acceleration"):
        want, got = getattr(run.history, quantity), getattr(run.marched, quantity)
        peak = np.abs(want - want[:, :1]).max(axis=1)
        assert np.all(peak > 0)
        near = case.sharp if quantity == "acceleration" else case.near
        assert np.abs(got - want).max(axis=1) / peak == pytest.approx(0, abs=near), quantity
    happens = {
        "bump stop": np.any(run.history.bump > 1.5 * run.history.bump[:, :1], axis=1),
        "rebound stop": np.any(run.history.rebound > 0, axis=1),
        "rebound stop harder than bump stop": run.history.rebound.max(axis=1) > run.history.bump.max(axis=1),
        "lift-off": np.any(run.history.contact == 0, axis=1),
        "bump stop at rest": run.history.bump[:, 0] > 0,
    }
    for what in case.reached:
        assert np.all(happens[what]), what


@either_model
@every_case
def test_largest_and_lasting_figures(model: str, name: str) -> None:
    """Travel and stop force at the march's steps against four times as many: (ω step)²/8 of a peak at wheel hop,
    0.1 %; shares of time within a step at either end of a handful of contacts.
    """
    run = pair(model, name)
    found, want, step = run.response, run.want, run.road.step
    reach = want["largest"]
    for figure in ("highest", "lowest", "largest"):
        assert np.abs(getattr(found, figure)[0] - want[figure]) / reach == pytest.approx(0, abs=1e-3), figure
    assert np.abs(found.mean_travel[0] - want["mean_travel"]) / reach == pytest.approx(0, abs=2e-4)
    assert found.stop_force[0] == pytest.approx(want["stop_force"], rel=2e-3)
    for figure in ("lift_off", "bump_stop"):
        assert getattr(found, figure)[0] == pytest.approx(want[figure], rel=0, abs=4 * step / run.road.duration), figure
    if run.road.single:
        assert found.settling[0] == pytest.approx(want["settling"][0], abs=2 * step)


@either_model
@every_case
def test_mean_squares(model: str, name: str) -> None:
    """Sums over the march's steps against sums over four times as many: what jumps at an edge differs by a step there,
    0.5 % of the contact force's square over a bare cleat and less than 0.2 % elsewhere.
    """
    run = pair(model, name)
    found, want = run.response, run.want
    for figure in ("travel", "travel_speed", "contact_force"):
        near = 5e-3 if figure == "contact_force" and CASES[name].patch == 0 else 2e-3
        assert getattr(found, figure)[0] == pytest.approx(want[figure], rel=near), figure
    for figure in ("acceleration", "weighted"):
        (zz, zt, tt), wanted = getattr(found, figure)[0], want[figure]
        assert zz == pytest.approx(wanted[0], rel=2e-3), figure
        assert tt == pytest.approx(wanted[2], rel=2e-3), figure
        assert zt == pytest.approx(wanted[1], rel=0, abs=1e-3 * np.sqrt(wanted[0] * wanted[2])), figure
    if model == "half-car":
        for figure in ("pitch", "pitch_weighted", "pitch_backrest"):
            assert getattr(found, figure)[0] == pytest.approx(want[figure][0], rel=2e-3), figure
        # Over one second alone half a step at either end shows, most where the body is all but still.
        still = 1e-4 * np.max(run.history.body[1] ** 2)
        assert found.residual_pitch[0] == pytest.approx(want["residual_pitch"][0], rel=3e-3, abs=still)


@either_model
@every_case
def test_dose_peak_and_running_rms(model: str, name: str) -> None:
    """Digital filters at the march's step against analogue ones on four times as many samples. A dose is a fourth
    power, so four times 0.05 %; the largest of samples of 30 Hz is within (ω step)²/8, 0.4 %, and 0.1 % as it happens;
    so is the largest running rms.
    """
    run = pair(model, name)
    assert run.response.dose[0, 0] == pytest.approx(run.want["dose"][0], rel=2e-3)
    assert run.response.peak[0, 0] == pytest.approx(run.want["peak"][0], rel=1e-3)
    assert run.response.running[0, 0] == pytest.approx(run.want["running"][0], rel=1e-3)
