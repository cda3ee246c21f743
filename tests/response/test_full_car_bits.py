"""The full car's bits in the frequency domain depend on nothing but the design; its kernel's file stands alone."""

from __future__ import annotations

import ast
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import at_rest_under
from ridefront.response import kernel_full
from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import condition_grid
from ridefront.response.spectrum import mean_squares, off_centre
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, LoadMass
from ridefront.vehicle.static import AtRest
from twins.vehicles import PATCH, WHEELBASE, linear_car, real_car, with_sides

Array = NDArray[np.float64]

GRID = condition_grid(Road("B", CLASSES["B"]), 22.0, PATCH, WHEELBASE, track=1.5)
LOADS = (
    Load("empty", reference=True),
    Load("centred", (LoadMass(150.0, 1.4), LoadMass(300.0, 2.6))),
    Load("aside", (LoadMass(150.0, 1.4, left_of_centre=0.4), LoadMass(300.0, 2.6, left_of_centre=-0.1))),
)

either_way = pytest.mark.parametrize("at", [1, 2], ids=["alike", "off centre"])


def cars(n: int, *, stops: bool) -> dict[str, Array]:
    rng = np.random.default_rng(91)
    return with_sides(real_car(rng, n) if stops else linear_car(rng, n), rng)


def some(car: dict[str, Array], which: NDArray[np.intp], at: int) -> AtRest:
    with np.errstate(all="ignore"):  # as the evaluator does: hopeless designs overflow
        part = {key: np.ascontiguousarray(value[which]) for key, value in car.items()}
        return at_rest_under(part, LOADS, at, ("rear",))


def run(state: AtRest, damping: Array, lanes: int = 16) -> NDArray[np.uint64]:
    """Bits of the kernels' figures, (figures, n)."""
    return mean_squares(state, state.wheel_rate, damping, [GRID], full=True, lanes=lanes).view(np.uint64)


def damping_of(state: AtRest) -> Array:
    return state.speed_law.slope_at(np.zeros_like(state.friction))


@either_way
def test_same_bits_in_any_lane_and_block(at: int) -> None:
    car = cars(50, stops=False)
    state = some(car, np.arange(50), at)
    assert off_centre(state) == (at == 2)
    damping = damping_of(state)
    want = run(state, damping)
    for lanes in (1, 8):
        assert np.array_equal(run(state, damping, lanes), want)
    rng = np.random.default_rng(92)
    for _ in range(4):
        order = rng.permutation(50)
        assert np.array_equal(run(some(car, order, at), damping[order]), want[:, order])


@either_way
@pytest.mark.parametrize("bad", [np.nan, np.inf, 0.0, 1e300])
def test_same_bits_beside_diverging_neighbours(at: int, bad: float) -> None:
    state = some(cars(40, stops=False), np.arange(40), at)
    damping = damping_of(state)
    want = run(state, damping)
    spoilt = np.arange(40) % 3 == 1
    mass = np.where(spoilt, bad, state.body.mass)
    rate = np.where(spoilt[:, np.newaxis], bad, state.wheel_rate)
    worse = replace(state, body=replace(state.body, mass=mass), wheel_rate=rate)
    with np.errstate(all="ignore"):
        got = run(worse, np.where(spoilt[:, np.newaxis], bad, damping))
    assert np.array_equal(got[:, ~spoilt], want[:, ~spoilt])
    assert not np.array_equal(got[:, spoilt], want[:, spoilt])


def bits(response: FrequencyResponse) -> NDArray[np.uint64]:
    """Every figure of every design, (n, figures)."""
    parts = [getattr(response, item.name) for item in fields(response) if item.name != "grid"]
    return np.concatenate([part.reshape(len(part), -1) for part in parts], axis=1).view(np.uint64)


@either_way
def test_same_bits_for_any_batch(at: int) -> None:
    """The whole way from parameters to mean squares, with statics, stops and linearisation, in batches of all sizes."""
    n = 60
    car = cars(n, stops=True)
    want = bits(frequency_response(some(car, np.arange(n), at), GRID))
    for size in (1, 5, 17):
        for start in (0, 23, n - size):
            which = np.arange(start, start + size)
            assert np.array_equal(bits(frequency_response(some(car, which, at), GRID)), want[which])
    order = np.random.default_rng(94).permutation(n)
    assert np.array_equal(bits(frequency_response(some(car, order, at), GRID)), want[order])


@either_way
def test_hopeless_neighbours_leave_no_trace(at: int) -> None:
    n = 40
    car = cars(n, stops=True)
    want = bits(frequency_response(some(car, np.arange(n), at), GRID))
    spoilt = {key: value.copy() for key, value in car.items()}
    bad = np.arange(n) % 4 == 2
    spoilt["front.spring_rate"][bad] = -1e5
    got = frequency_response(some(spoilt, np.arange(n), at), GRID)
    assert np.array_equal(bits(got)[~bad], want[~bad])
    assert not np.isfinite(got.travel[bad, 0]).any()


def test_no_designs_have_no_figures() -> None:
    for at in (1, 2):
        state = some(cars(4, stops=False), np.arange(0), at)
        assert mean_squares(state, state.wheel_rate, damping_of(state), [GRID], full=True).shape == (29, 0)


def test_kernel_imports_nothing_of_ours() -> None:
    tree = ast.parse(Path(kernel_full.__file__).read_text(encoding="utf-8"))
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
    names = set()
    for node in imports:
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, "a relative import"
            names.add((node.module or "").split(".")[0])
        else:
            names |= {alias.name.split(".")[0] for alias in node.names}
    assert names == {"functools", "warnings", "numpy", "numba"}
