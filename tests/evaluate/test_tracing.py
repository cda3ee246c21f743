"""Histories: the same ride as the figures are of, forces that move what they should, designs that fail."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.signal import lfilter

from ridefront.errors import CallError
from ridefront.evaluate import STATUS, Evaluator
from ridefront.evaluate.stepping import StepChoice
from ridefront.evaluate.tracing import Trace, samples, trace, traced_places, traces
from ridefront.response.digital import running_share
from ridefront.response.time_domain import Simulation, TimeResponse
from ridefront.study.space import parameters
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import GRAVITY, AtRest, at_rest
from traced_studies import CAR, CORNER, TWO_SIDES, traced_study

HUMP, HUMP_FULL, LANE = range(3)


@pytest.fixture(scope="module")
def car(tmp_path_factory: pytest.TempPathFactory) -> Evaluator:
    return Evaluator(traced_study(tmp_path_factory.mktemp("car")), realisations=1)


@pytest.fixture(scope="module")
def corner(tmp_path_factory: pytest.TempPathFactory) -> Evaluator:
    return Evaluator(traced_study(tmp_path_factory.mktemp("corner"), CORNER))


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Evaluator:
    return Evaluator(traced_study(tmp_path_factory.mktemp("full"), CAR, *TWO_SIDES), realisations=1)


def designs(evaluator: Evaluator) -> Array:
    """Three designs of either study: soft, middling, stiff."""
    X = np.array([[18.0, 1100.0], [24.0, 1900.0], [38.0, 3600.0]])
    return X if evaluator.study.model == "quarter-car" else np.concatenate([X, 0.98 * X[::-1]], axis=1)


def state_of(evaluator: Evaluator, X: Array, c: int) -> AtRest:
    study = evaluator.study
    loads = at_rest(parameters(study, X), evaluator.model, study.loads, study.reference, study.points, study.beams)
    return loads[study.conditions[c].load]


def response(evaluator: Evaluator, X: Array, c: int) -> TimeResponse:
    """The march's own figures of the only realisation that the evaluator drives."""
    state = state_of(evaluator, X, c)
    none = np.zeros(len(X))
    seats = [place.seat for place in traced_places(evaluator)]
    ahead = [none if seat is None else state.body.centre - seat.behind_front_axle for seat in seats]
    left = [none if seat is None else seat.left_of_centre - state.body.left for seat in seats]
    assert evaluator.drive(c).realisations == 1
    return Simulation(state, evaluator.drive(c), np.stack(ahead, axis=1), np.stack(left, axis=1)).response()


@pytest.mark.parametrize(
    ("vehicle", "c"), [("car", HUMP_FULL), ("car", LANE), ("corner", 0), ("full", HUMP_FULL), ("full", LANE)]
)
def test_figures_of_a_history_are_those_of_the_march(vehicle: str, c: int, request: pytest.FixtureRequest) -> None:
    evaluator: Evaluator = request.getfixturevalue(vehicle)
    X = designs(evaluator)
    found, figures = trace(evaluator, X, c), response(evaluator, X, c)
    counted = slice(found.first, None)
    travel, contact = found.travel[..., counted], found.contact_force[..., counted]
    np.testing.assert_allclose(travel.max(axis=-1), figures.highest, rtol=1e-12)
    np.testing.assert_allclose(travel.min(axis=-1), figures.lowest, rtol=1e-12)
    np.testing.assert_allclose(travel.mean(axis=-1), figures.mean_travel, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(travel.var(axis=-1), figures.travel, rtol=1e-9)
    np.testing.assert_allclose((found.travel_speed[..., counted] ** 2).mean(axis=-1), figures.travel_speed, rtol=1e-9)
    about_rest = contact - found.static_contact_force[..., None]
    np.testing.assert_allclose((about_rest**2).mean(axis=-1), figures.contact_force, rtol=1e-9)
    assert np.array_equal(found.lift_off[..., counted].mean(axis=-1), figures.lift_off)
    np.testing.assert_allclose((found.stop_force[..., counted] > 0).mean(axis=-1), figures.bump_stop, rtol=1e-12)
    np.testing.assert_allclose(np.abs(found.stop_force[..., counted]).max(axis=-1), figures.stop_force, rtol=1e-9)
    np.testing.assert_allclose(np.abs(found.smooth[..., counted]).max(axis=-1), figures.peak, rtol=1e-9)
    dose = evaluator.drive(c).step * (found.weighted[..., counted] ** 4).sum(axis=-1)
    np.testing.assert_allclose(dose, figures.dose, rtol=1e-9)
    if c != LANE:  # of which the run-up, which is not in the history, counts for the running mean
        share = running_share(evaluator.drive(c).step)
        running = lfilter([share], [1.0, share - 1.0], found.weighted**2, axis=-1)[..., counted].max(axis=-1)
        np.testing.assert_allclose(np.sqrt(running), figures.running, rtol=1e-9)
    heave = found.acceleration[:, found.points.index("body"), counted]
    np.testing.assert_allclose((heave**2).mean(axis=-1), figures.acceleration[:, 0], rtol=1e-9)
    np.testing.assert_allclose(found.pitch[:, counted].var(axis=-1), figures.pitch, rtol=1e-9, atol=1e-20)
    np.testing.assert_allclose(found.roll[:, counted].var(axis=-1), figures.roll, rtol=1e-9, atol=1e-20)
    assert np.all(found.roll[:, counted].any(axis=-1) == (vehicle == "full"))
    assert figures.lift_off.max() > 0, "a ride on which wheels leave the ground"
    assert figures.stop_force.max() > 0, "and stops are met"
    assert found.status.tolist() == [0, 0, 0]


def test_forces_accelerate_what_they_act_on(car: Evaluator) -> None:
    """Newton for the whole vehicle and its two ends, with accelerations differenced from the heights in the trace."""
    X = designs(car)
    found, state = trace(car, X, HUMP_FULL), state_of(car, X, HUMP_FULL)
    step = car.drive(HUMP_FULL).step

    def twice(history: Array) -> Array:
        return np.asarray((history[..., 2:] - 2 * history[..., 1:-1] + history[..., :-2]) / step**2)

    inner = slice(1, -1)
    heave = twice(found.height[:, found.points.index("body")])
    np.testing.assert_allclose(heave, found.acceleration[:, found.points.index("body"), inner], atol=0.4)
    up = found.contact_force.sum(axis=1) - found.static_contact_force.sum(axis=1)[:, None]
    momentum = state.body.mass[:, None] * heave
    for c in range(2):
        momentum = momentum + state.unsprung_mass[:, c, None] * twice(found.wheel[:, c])
    assert np.abs(up).max() > 5e3
    assert np.sqrt(np.mean((up[:, inner] - momentum) ** 2)) < 0.02 * np.sqrt(np.mean(up**2))
    weight = (2 * state.body.mass + 2 * (state.unsprung_mass[:, 0] + state.unsprung_mass[:, 1])) * GRAVITY
    np.testing.assert_allclose(2 * found.static_contact_force.sum(axis=1), weight, rtol=1e-12)


def test_moments_roll_and_pitch_a_full_car(full: Evaluator) -> None:
    """About the centre line and the front axle, of the whole vehicle: what the road does to the tyres beyond rest
    changes its momentum, with accelerations differenced from the heights in the trace. Places of masses by hand.
    """
    X = designs(full)
    found, state = trace(full, X, HUMP_FULL), state_of(full, X, HUMP_FULL)
    step, body = full.drive(HUMP_FULL).step, state.body

    def twice(history: Array) -> Array:
        return np.asarray((history[..., 2:] - 2 * history[..., 1:-1] + history[..., :-2]) / step**2)

    up = (found.contact_force - found.static_contact_force[..., None])[..., 1:-1]
    heave, pitch, roll = (twice(x) for x in (found.height[:, found.points.index("body")], found.pitch, found.roll))
    mass, product = body.mass[:, None], body.product[:, None]
    aside, aft = (0.75, -0.75, 0.73, -0.73), (0.0, 0.0, 2.7, 2.7)
    # About fixed axes: of the centre's own momentum, and of what turns about it.
    rolling = body.left[:, None] * mass * heave + body.roll_inertia[:, None] * roll - product * pitch
    pitching = body.centre[:, None] * mass * heave + body.pitch_inertia[:, None] * pitch - product * roll
    for c in range(4):
        wheel = twice(found.wheel[:, c])
        # Of a beam of 92 kg and 24 kg m2 on wheels 1.46 m apart, what is not in the middle of its wheels.
        apart = 0.0 if c < 2 else (24 / 1.46**2 - 92 / 4)
        other = twice(found.wheel[:, c - 1 if c % 2 else c + 1])
        rolling = rolling + aside[c] * (state.unsprung_mass[:, c, None] * wheel + apart * (wheel - other))
        pitching = pitching + aft[c] * state.unsprung_mass[:, c, None] * wheel
    for name, moment, arms in (("roll", rolling, aside), ("pitch", pitching, aft)):
        force = sum(arms[c] * up[:, c] for c in range(4))
        assert np.sqrt(np.mean((force - moment) ** 2)) < 0.02 * np.sqrt(np.mean(force**2)), name
    # Straight above a hump of 60 mm under one side of 1.5 m the body would roll by 0.04 to the other one.
    assert 0.01 < found.roll.max() < 0.04


def test_a_level_road_leaves_everything_at_rest(car: Evaluator) -> None:
    found = trace(car, designs(car), HUMP_FULL)
    level = found.distance < 0.94  # 1 m of lead, less half the contact patch
    assert level.sum() > 30
    for history in (found.road, found.wheel, found.body, found.height, found.pitch, found.travel_speed):
        np.testing.assert_allclose(history[..., level], 0, atol=1e-12)
    np.testing.assert_allclose(found.travel[..., level], found.static_travel[..., None] + np.zeros(level.sum()))
    np.testing.assert_allclose(found.acceleration[..., level], 0, atol=1e-9)
    contact = found.static_contact_force[..., None] + np.zeros(level.sum())
    np.testing.assert_allclose(found.contact_force[..., level], contact)
    assert found.static_travel[:, 1].min() > 0.02, "the full load sits on the rear springs"


def test_the_rear_meets_the_road_a_wheelbase_later(car: Evaluator) -> None:
    for c in (HUMP, LANE):
        found = trace(car, designs(car)[:1], c)
        later = np.interp(found.distance - 2.7, found.distance, found.road[0])
        after = found.distance > 2.7
        np.testing.assert_allclose(found.road[1, after], later[after], atol=1e-3 if c == LANE else 2e-4)
    assert trace(car, designs(car)[:1], LANE).distance[0] == 0.0
    assert samples(car, LANE) == len(found.time) == round(200 / (60 / 3.6) / car.drive(LANE).step)


def test_limits_and_dampers_are_at_the_wheel_and_at_the_damper(car: Evaluator) -> None:
    """Ratios of 0.9: clearances of 36 and 54 mm are met after 40 and 60 mm at the wheel."""
    found = trace(car, designs(car), HUMP)
    np.testing.assert_allclose(found.bump_stop, 0.040)
    np.testing.assert_allclose(found.rebound_stop, -0.060)
    np.testing.assert_allclose(found.bump_end, 0.085)
    np.testing.assert_allclose(found.rebound_end, -0.095)
    past = found.travel > 0.040 + 1e-9
    assert past.any()
    assert np.all((found.stop_force > 0) == past)
    np.testing.assert_allclose(found.damper_speed, 0.9 * found.travel_speed)
    # 2 c share up to the knee at 0.12 m/s, 0.4 of that beyond it.
    bump = 2 * designs(car)[:, 0 + 1] * 0.35
    speed = found.damper_speed[:, 0]
    rising = speed > 0.2
    expected = bump[:, None] * (0.12 + 0.4 * (speed - 0.12))
    np.testing.assert_allclose(found.damper_force[:, 0][rising], expected[rising])


def test_corners_without_stops_or_ends_have_none(tmp_path: Path) -> None:
    bare = CORNER
    for line in CORNER.splitlines():
        if line.startswith(("bump_clearance", "bump_stop", "rebound_", "bump_travel")):
            bare = bare.replace(line + "\n", "")
    evaluator = Evaluator(traced_study(tmp_path, bare))
    found = trace(evaluator, designs(evaluator), 0)
    for limit in (found.bump_stop, found.rebound_stop, found.bump_end, found.rebound_end):
        assert np.all(np.isnan(limit))
    assert not found.stop_force.any()
    assert found.points == ("body",)


def test_some_at_a_time_gives_the_same_bits(car: Evaluator) -> None:
    X = np.tile(designs(car), (4, 1))
    whole = trace(car, X, HUMP)
    rows = []
    for part, found in traces(car, X, HUMP):
        rows += list(range(part.start, part.stop))
        for name in ("travel", "contact_force", "acceleration", "weighted", "pitch"):
            assert getattr(found, name).tobytes() == getattr(whole, name)[part].tobytes(), name
    assert rows == list(range(12))
    alone = trace(car, X[1:2], HUMP)
    assert alone.smooth.tobytes() == whole.smooth[1:2].tobytes()


def all_missing(found: Trace, k: int) -> bool:
    """Whether a design has no histories at all."""
    histories = (found.wheel, found.body, found.height, found.pitch, found.travel, found.contact_force, found.weighted)
    return all(bool(np.isnan(history[k]).all()) for history in histories) and not found.lift_off[k].any()


def test_designs_that_diverge_are_marked_and_harm_no_neighbour(tmp_path: Path) -> None:
    """A step of 5 ms for a damper some hundred times as stiff as that allows."""
    evaluator = Evaluator(traced_study(tmp_path, CORNER, ('high = "4000 N*s/m"', 'high = "600000 N*s/m"')))
    evaluator._step = StepChoice(5e-3, 0.0, 0, (), (), (), held=True)
    mixed = np.array([[20.0, 1500.0], [25.0, 600000.0], [30.0, 2000.0]])
    found = trace(evaluator, mixed, 0)
    assert [STATUS[code] for code in found.status] == ["ok", "diverged", "ok"]
    assert all_missing(found, 1)
    assert found.ok.tolist() == [True, False, True]
    good = trace(evaluator, mixed[[0, 2]], 0)
    assert found.travel[[0, 2]].tobytes() == good.travel.tobytes()


def test_designs_that_cannot_stand_are_marked(tmp_path: Path) -> None:
    """A load behind the rear axle lifts the front of a light body, though it is not the load that is traced."""
    evaluator = Evaluator(
        traced_study(
            tmp_path,
            CAR,
            ('mass = "1250 kg"', 'mass = { low = "300 kg", high = "1250 kg" }'),
            ('mass = "250 kg", behind_front_axle = "2.6 m"', 'mass = "700 kg", behind_front_axle = "4 m"'),
            ("[present]", '[present]\nbody.mass = "1250 kg"'),
        )
    )
    present = evaluator.study.present
    assert present is not None
    X = np.stack([present, present])
    X[1, [variable.path for variable in evaluator.study.variables].index("body.mass")] = 300.0
    found = trace(evaluator, X, HUMP)
    assert [STATUS[code] for code in found.status] == ["ok", "no-static-equilibrium"]
    assert all_missing(found, 1)


def test_designs_beyond_the_steps_bounds_are_refused(car: Evaluator) -> None:
    X = designs(car)
    X[1, 0] = 55.0
    with pytest.raises(CallError, match=r"row 2: front.spring_rate = 55 N/mm \(allowed: 16 to 40\)"):
        trace(car, X, HUMP)
