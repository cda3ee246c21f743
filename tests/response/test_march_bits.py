"""The march's bits depend on nothing but the design and the road; a design that diverges does so alone; histories and
figures are of the same march; and what a shorter step changes.
"""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import at_rest_under, half_car
from ridefront.response import simulate
from ridefront.response.drive import Drive, drive
from ridefront.response.simulate import histories
from ridefront.response.time_domain import Simulation, TimeResponse
from ridefront.road import CLASSES, Obstacle, Road
from ridefront.road.shapes import Size
from ridefront.vehicle.static import AtRest
from twins.vehicles import AXLES, LOADS, PATCH, WHEELBASE, real_car, rest

Array = NDArray[np.float64]
DESIGNS, STEP, SPEED = 40, 2e-3, 20.0
ROUGH = Road("rough", CLASSES["D"], length=60.0, realisations=3)
HUMP = Obstacle("hump", "versine", 0.07, 1.2, run_out=20.0)
TRAIN = Obstacle(
    "train",
    "half-sine",
    lead=1.0,
    run_out=20.0,
    count=3,
    spacing=2.0,
    sizes=(Size(0.04, 1.0), Size(-0.03, 0.8)),
    realisations=3,
)
NOT_FIGURES = ("state", "drive")

either_model = pytest.mark.parametrize("model", ["quarter-car", "half-car"])


def cars(seed: int = 81) -> dict[str, Array]:
    return real_car(np.random.default_rng(seed), DESIGNS)


def some(car: dict[str, Array], which: NDArray[np.intp], model: str) -> AtRest:
    with np.errstate(all="ignore"):  # as the evaluator does: hopeless designs overflow
        return rest({key: np.ascontiguousarray(value[which]) for key, value in car.items()}, model, LOADS, at=1)


def road(model: str, kind: Road | Obstacle = ROUGH, realisations: int | None = None) -> Drive:
    wheelbase = WHEELBASE if model == "half-car" else None
    return drive(kind, SPEED, PATCH, wheelbase, STEP, seed=7, realisations=realisations)


def run(state: AtRest, on: Drive, places: int = 1) -> Simulation:
    ahead = np.array([0.5, -0.8])[:places]
    return Simulation(state, on, np.repeat(ahead[np.newaxis], len(state.travel), axis=0))


def bits(response: TimeResponse) -> NDArray[np.uint64]:
    """Every figure of every design, (n, figures)."""
    figures = [getattr(response, item.name) for item in fields(response) if item.name not in NOT_FIGURES]
    n = len(response.travel)
    return np.concatenate([np.ascontiguousarray(figure).reshape(n, -1).view(np.uint64) for figure in figures], axis=1)


@either_model
@pytest.mark.parametrize("kind", [ROUGH, HUMP], ids=["random", "obstacle"])
def test_same_bits_for_any_batch(model: str, kind: Road | Obstacle) -> None:
    """The whole way from parameters to figures, with statics, in batches that fill lanes, leave some empty, and none
    at all.
    """
    car, on = cars(), road(model, kind)
    want = bits(run(some(car, np.arange(DESIGNS), model), on).response())
    assert len(np.unique(want[:, 0])) == DESIGNS
    for size in (1, 7, 8, 9, 17):
        for start in (0, 13, DESIGNS - size):
            which = np.arange(start, start + size)
            assert np.array_equal(bits(run(some(car, which, model), on).response()), want[which])
    for lane in range(simulate.LANES):
        which = np.roll(np.arange(simulate.LANES), lane)
        assert np.array_equal(bits(run(some(car, which, model), on).response()), want[which])
    order = np.random.default_rng(82).permutation(DESIGNS)
    assert np.array_equal(bits(run(some(car, order, model), on).response()), want[order])
    none = run(some(car, np.arange(0), model), on)
    assert none.diverged.shape == (0,)
    assert none.response().peak.shape == (0, 1)


@pytest.mark.parametrize(("model", "lanes"), [("quarter-car", 1), ("quarter-car", 16)])
def test_same_bits_for_any_number_of_lanes(model: str, lanes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    state, on = some(cars(), np.arange(DESIGNS), model), road(model)
    want = bits(run(state, on).response())
    monkeypatch.setattr(simulate, "LANES", lanes)
    assert np.array_equal(bits(run(state, on).response()), want)


@either_model
@pytest.mark.parametrize(
    ("key", "bad", "all_diverge"),
    [
        ("spring_rate", 1e9, True),
        ("damping", 1e7, True),
        ("damping", -1e5, True),
        ("unsprung_mass", np.nan, True),
        ("tyre_rate", 1e10, False),
    ],
)
def test_same_bits_beside_diverging_neighbours(model: str, key: str, bad: float, all_diverge: bool) -> None:
    """Rates that no step of 2 ms carries, a damper that drives, a mass that is no number: they diverge, and nobody else
    does or notices. Not all with a tyre too stiff for the step do: thrown off the road, they fly.
    """
    car, on = cars(), road(model, realisations=2)
    want = run(some(car, np.arange(DESIGNS), model), on)
    assert not want.diverged.any()
    spoilt = np.zeros(DESIGNS, dtype=np.bool_)
    spoilt[1::3] = True
    bad_car = car | {f"front.{key}": np.where(spoilt, bad, car[f"front.{key}"])}
    with np.errstate(all="ignore"):
        found = run(some(bad_car, np.arange(DESIGNS), model), on)
    assert not found.diverged[~spoilt].any()
    assert found.diverged[spoilt].all() if all_diverge else found.diverged.any()
    with np.errstate(all="ignore"):
        assert np.array_equal(bits(found.response())[~spoilt], bits(want.response())[~spoilt])


@either_model
def test_same_bits_beside_cars_with_friction(model: str) -> None:
    """Alone, cars without friction go through a kernel that does not know it; those with it keep theirs."""
    car, smooth, rough = cars(), np.arange(0, DESIGNS, 2), np.arange(1, DESIGNS, 2)
    for axle in AXLES:
        car[f"{axle}.friction"][smooth] = 0.0
    on = road(model, HUMP)
    alone = some(car, smooth, model)
    assert not alone.friction.any()
    all_of_them = run(some(car, np.arange(DESIGNS), model), on).response()
    together = bits(all_of_them)
    for part, found in ((smooth, run(alone, on).response()), (rough, run(some(car, rough, model), on).response())):
        assert np.array_equal(bits(found), together[part])
        assert np.array_equal(found.damping, all_of_them.damping[part])
    for axle in AXLES:
        car[f"{axle}.friction"][:] = 0.0
    assert np.all(np.any(bits(run(some(car, rough, model), on).response()) != together[rough], axis=1))


def test_more_places_change_nothing_but_their_own_figures() -> None:
    state, on = some(cars(), np.arange(DESIGNS), "half-car"), road("half-car", HUMP)
    one, two = run(state, on).response(), run(state, on, places=2).response()
    own = {name: getattr(two, name) for name in ("dose", "peak", "running")}
    assert all(np.all(figure[:, 1] != figure[:, 0]) for figure in own.values())
    assert np.array_equal(bits(replace(two, **{name: figure[:, :1] for name, figure in own.items()})), bits(one))


def test_backrest_changes_nothing_but_its_own_figures() -> None:
    state, on = some(cars(), np.arange(DESIGNS), "half-car"), road("half-car")
    points = np.full((DESIGNS, 1), 0.5)
    without = Simulation(state, on, points).response()
    with_it = Simulation(state, on, points, backrest=True).response()
    assert not without.pitch_weighted.any()
    assert with_it.pitch_weighted.all()
    none = np.zeros(DESIGNS)
    assert np.array_equal(bits(replace(with_it, pitch_weighted=none, pitch_backrest=none)), bits(without))


@either_model
@pytest.mark.parametrize("kind", [ROUGH, TRAIN], ids=["random", "mixed sizes"])
def test_first_realisations_are_the_same_however_many_follow(model: str, kind: Road | Obstacle) -> None:
    state = some(cars(), np.arange(DESIGNS), model)
    three, two = run(state, road(model, kind)), run(state, road(model, kind, realisations=2))
    assert (three.realisations, two.realisations) == (3, 2)
    assert np.array_equal(bits(three.response(without=2)), bits(two.response()))
    one = run(state, road(model, kind, realisations=1)).response()
    assert np.array_equal(bits(two.response(without=1)), bits(one))
    assert not np.array_equal(bits(two.response(without=0)), bits(one))
    # A mean of all is a mean of what each leaves out of it.
    mean = np.mean([three.response(without=k).travel_speed for k in range(3)], axis=0)
    assert three.response().travel_speed == pytest.approx(mean, rel=1e-12)


@either_model
@pytest.mark.parametrize("kind", [ROUGH, HUMP], ids=["random", "obstacle"])
def test_histories_are_those_of_the_figures(model: str, kind: Road | Obstacle) -> None:
    """Extremes to the bit, and sums, one step after the other, as well."""
    state, on = some(cars(), np.arange(DESIGNS), model), road(model, kind, realisations=1)
    x, v = histories(state, on)
    found, B = run(state, on).response(), len(state.model.motions)
    assert x.shape == v.shape == (DESIGNS, 2 * B, on.steps + 1)
    assert not x[:, :, 0].any()
    counted = slice(on.first, on.steps)
    for c in range(B):
        body, rate = (y[:, 0] - (state.body.x[:, c : c + 1] * y[:, 1] if B > 1 else 0.0) for y in (x, v))
        s, w = (x[:, B + c] - body)[:, counted], (v[:, B + c] - rate)[:, counted]
        static = state.travel[:, c]
        assert np.array_equal(found.highest[:, c], static + np.maximum(s.max(axis=1), 0.0))
        assert np.array_equal(found.lowest[:, c], static + np.minimum(s.min(axis=1), 0.0))
        assert np.array_equal(found.largest[:, c], np.abs(s).max(axis=1))
        total = np.cumsum(w * w, axis=1)[:, -1]  # strictly in order, unlike a sum
        assert np.array_equal(found.travel_speed[:, c], total / (on.steps - on.first))
    if B > 1:
        pitch = x[:, 1, on.window[0] : on.window[1]]
        assert found.residual_pitch == pytest.approx(np.mean(pitch * pitch, axis=1), rel=1e-9)


def test_histories_of_a_design_alone() -> None:
    state, on = some(cars(), np.arange(DESIGNS), "half-car"), road("half-car")
    x, v = histories(state, on)
    for j in (0, 9, DESIGNS - 1):
        alone_x, alone_v = histories(some(cars(), np.array([j]), "half-car"), on)
        assert np.array_equal(alone_x[0], x[j])
        assert np.array_equal(alone_v[0], v[j])


SMOOTH = Road("smooth", CLASSES["A"], band=(0.011, 0.4), length=240.0, realisations=1)  # up to 8 Hz


@pytest.mark.parametrize("tyre_damping", [0.0, 100.0])
def test_halving_the_step(tyre_damping: float) -> None:
    """On a smooth road linear cars' rms figures come nearer by 16 with every halving: the method is of fourth order.
    The rms of the contact force of a damped tyre comes nearer by 4, for the road's slope is a parabola's, of second
    order; at 2 ms it is within 1e-5 all the same.
    """
    keys = {"damping": np.array([2500.0, 3500.0, 4500.0]), "tyre_damping": np.full(3, tyre_damping)}
    state = at_rest_under(half_car({f"{axle}.{key}": value for axle in AXLES for key, value in keys.items()}))
    found = []
    for step in (4e-3, 2e-3, 1e-3):
        on = drive(SMOOTH, SPEED, PATCH, WHEELBASE, step, seed=1)
        assert on.step == step
        found.append(Simulation(state, on, np.zeros((3, 1))).response())
    for name in ("travel", "travel_speed", "weighted", "pitch", "contact_force"):
        rms = [np.sqrt(getattr(response, name).reshape(3, -1)[:, 0]) for response in found]
        coarse, fine = (after / before - 1 for before, after in pairwise(rms))
        if name == "contact_force" and tyre_damping:
            assert np.all((coarse / fine > 3.5) & (coarse / fine < 6)), name
        else:
            assert np.all((coarse / fine > 14) & (coarse / fine < 24)), name
        assert np.abs(fine) == pytest.approx(0, abs=1.5e-4 if name == "weighted" else 1e-5), name
