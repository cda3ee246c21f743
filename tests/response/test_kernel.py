"""The kernel's bits depend on nothing but the design; its file stands alone; it lives without a cache."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

import ridefront
from ridefront.response import frequency, kernel_spectrum, linearise
from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import Grid
from ridefront.response.spectrum import mean_squares
from ridefront.vehicle.static import AtRest
from twins.vehicles import LOADS, grid_of, linear_car, real_car, rest

Array = NDArray[np.float64]
SIZES = [("quarter-car", 1), ("half-car", 2)]
FIELDS = (
    "damping",
    "pumped_force",
    "mean_travel",
    "wheel_rate",
    "travel",
    "travel_speed",
    "contact_force",
    "acceleration",
    "weighted",
)
FIELDS_OF_PITCH = ("pitch", "pitch_weighted", "pitch_backrest")


def block(model: str, n: int) -> tuple[Array, Grid]:
    """P (rows, n) of random designs and a grid."""
    state = rest(linear_car(np.random.default_rng(71), n), model)
    rows = [state.body.mass, state.body.pitch_inertia]
    for c in range(state.wheel_rate.shape[1]):
        damping = np.linspace(900.0, 900.0 + 300.0 * n, n)
        rows += [state.wheel_rate[:, c], damping, state.tyre_rate[:, c], state.tyre_damping[:, c]]
        rows += [state.unsprung_mass[:, c], state.body.x[:, c]]
    return np.stack(rows), grid_of(model)


def run(P: Array, corners: int, lanes: int, grid: Grid) -> NDArray[np.uint64]:
    """Bits (figures, n) of designs P (rows, n) in blocks of `lanes`; n is a multiple of `lanes`."""
    blocks = P.shape[1] // lanes
    packed = np.ascontiguousarray(P.reshape(len(P), blocks, lanes).transpose(1, 0, 2))
    figures = 3 * corners + kernel_spectrum.body_figures(corners)
    out = np.full((blocks, figures, lanes), np.nan)
    kernel_spectrum.respond((0,) * corners, (0,) * lanes, (0,), packed, grid.table, out)
    return np.ascontiguousarray(out.transpose(1, 0, 2)).reshape(figures, -1).view(np.uint64)


@pytest.mark.parametrize(("model", "corners"), SIZES)
def test_same_bits_in_any_lane_and_block(model: str, corners: int) -> None:
    P, grid = block(model, 48)
    want = run(P, corners, 16, grid)
    rng = np.random.default_rng(72)
    for _ in range(4):
        order = rng.permutation(48)
        assert np.array_equal(run(P[:, order], corners, 16, grid), want[:, order])


@pytest.mark.parametrize(("model", "corners"), SIZES)
def test_same_bits_in_every_lane_of_a_block_of_one_design(model: str, corners: int) -> None:
    P, grid = block(model, 1)
    bits = run(np.repeat(P, 16, axis=1), corners, 16, grid)
    assert np.array_equal(bits, np.repeat(bits[:, :1], 16, axis=1))


@pytest.mark.parametrize(("model", "corners"), SIZES)
def test_same_bits_one_by_one(model: str, corners: int) -> None:
    P, grid = block(model, 16)
    assert np.array_equal(run(P, corners, 1, grid), run(P, corners, 16, grid))


@pytest.mark.parametrize(("model", "corners"), SIZES)
@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 0.0, 1e300])
def test_same_bits_beside_diverging_neighbours(model: str, corners: int, bad: float) -> None:
    P, grid = block(model, 32)
    want = run(P, corners, 16, grid)
    spoilt = P.copy()
    spoilt[:, 1::3] = bad
    got = run(spoilt, corners, 16, grid)
    kept = np.ones(32, dtype=bool)
    kept[1::3] = False
    assert np.array_equal(got[:, kept], want[:, kept])
    assert not np.array_equal(got[:, ~kept], want[:, ~kept])


@pytest.mark.parametrize(("model", "corners"), SIZES)
def test_short_run_gives_the_speeds_of_the_full_one(model: str, corners: int) -> None:
    """Linearisation leaves figures out; the speed of travel must not change a bit by that."""
    P, grid = block(model, 16)
    want = run(P, corners, 16, grid)
    out = np.empty((1, len(want), 16))
    kernel_spectrum.respond((0,) * corners, (0,) * 16, (), np.ascontiguousarray(P[np.newaxis]), grid.table, out)
    for c in range(corners):
        assert np.array_equal(out[0, 3 * c + 1].view(np.uint64), want[3 * c + 1])


def bits(response: FrequencyResponse) -> NDArray[np.uint64]:
    """Every figure of every design, (n, figures)."""
    parts = [getattr(response, name) for name in FIELDS]
    parts += [getattr(response, name)[:, np.newaxis] for name in FIELDS_OF_PITCH]
    return np.ascontiguousarray(np.concatenate(parts, axis=1)).view(np.uint64)


def some(car: dict[str, Array], which: NDArray[np.intp], model: str) -> AtRest:
    with np.errstate(all="ignore"):  # as the evaluator does: hopeless designs overflow
        return rest({key: np.ascontiguousarray(value[which]) for key, value in car.items()}, model, LOADS, at=1)


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_same_bits_for_any_batch(model: str) -> None:
    """The whole way from parameters to mean squares, with statics, stops and linearisation, in batches of all sizes."""
    car, grid = real_car(np.random.default_rng(73), 200), grid_of(model)
    want = bits(frequency_response(some(car, np.arange(200), model), grid))
    for size in (1, 5, 16, 17):
        for start in (0, 37, 200 - size):
            which = np.arange(start, start + size)
            assert np.array_equal(bits(frequency_response(some(car, which, model), grid)), want[which])
    order = np.random.default_rng(74).permutation(200)
    assert np.array_equal(bits(frequency_response(some(car, order, model), grid)), want[order])


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_cars_that_need_no_linearisation_keep_their_bits_beside_those_that_do(model: str) -> None:
    """Alone a car without friction and knees takes a short cut; beside others it goes through the passes with them;
    they keep their bits too, friction and all.
    """
    car, grid = real_car(np.random.default_rng(76), 24), grid_of(model)
    car = {key: value for key, value in car.items() if "stop" not in key and "clearance" not in key}
    for axle in ("front", "rear"):
        car[f"{axle}.friction"][::2] = 0.0
        car[f"{axle}.knee_share"][::2] = 1.0
    together = bits(frequency_response(some(car, np.arange(24), model), grid))
    for part in (np.arange(0, 24, 2), np.arange(1, 24, 2)):
        assert np.array_equal(bits(frequency_response(some(car, part, model), grid)), together[part])


@pytest.mark.parametrize("letter", ["A", "B", "C"])
def test_ordinary_cars_take_three_passes(letter: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """And a fourth run of the kernel, for everything: cars with friction and knees whose stops are far away."""
    runs: list[bool] = []

    def counted(*args: Any, full: bool, **more: Any) -> Array:
        runs.append(full)
        return mean_squares(*args, full=full, **more)

    for module in (linearise, frequency):
        monkeypatch.setattr(module, "mean_squares", counted)
    car = real_car(np.random.default_rng(77), 100)
    for key in [key for key in car if key.endswith("clearance")]:
        car[key] = car[key] + 0.1
    frequency_response(rest(car, "half-car"), grid_of("half-car", 20.0, letter))
    assert runs == [False, False, False, True]


@pytest.mark.parametrize("model", ["quarter-car", "half-car"])
def test_hopeless_neighbours_change_no_bit_and_get_no_figures(model: str) -> None:
    car, grid = real_car(np.random.default_rng(75), 40), grid_of(model)
    want = bits(frequency_response(some(car, np.arange(40), model), grid))
    spoilt = {key: value.copy() for key, value in car.items()}
    spoilt["front.spring_rate"][3] = -1e4
    spoilt["body.mass"][10] = np.nan
    spoilt["front.damping"][11] = 1e308
    spoilt["front.unsprung_mass"][25] = np.inf
    got = frequency_response(some(spoilt, np.arange(40), model), grid)
    bad = np.zeros(40, dtype=bool)
    bad[[3, 10, 11, 25]] = True
    assert np.array_equal(bits(got)[~bad], want[~bad])
    assert not np.isfinite(got.travel[bad, 0]).any()


def test_kernel_imports_nothing_of_ours() -> None:
    tree = ast.parse(Path(kernel_spectrum.__file__).read_text(encoding="utf-8"))
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, "a relative import"
            names.add((node.module or "").split(".")[0])
        elif isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
    assert names == {"functools", "warnings", "numpy", "numba"}


UNCACHED = """
import warnings
with warnings.catch_warnings(record=True) as caught:
    warnings.simplefilter("default")
    from ridefront.response import kernel_spectrum as kernel
print(*(str(w.message) for w in caught if "NUMBA_CACHE_DIR" in str(w.message)))
import numpy as np
P = np.array([300.0, 0.0, 2e4, 1500.0, 2e5, 0.0, 40.0, 0.0]).reshape(1, 8, 1)
grid = np.array([[10.0, 1e-6, 1.0, 0.0, 1.0, 1.0, 1.0], [60.0, 1e-7, 1.0, 0.0, 1.0, 1.0, 1.0]])
out = np.empty((1, 5, 1))
kernel.respond((0,), (0,), (0,), P, grid, out)
print(out.view(np.uint64).ravel().tolist())
"""


def start_python(code: str, path: Path, **variables: str) -> list[str]:
    environment = os.environ | {"PYTHONPATH": str(path), "PYTHONDONTWRITEBYTECODE": "1"} | variables
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_where_no_folder_can_be_written_it_compiles_with_a_hint(tmp_path: Path) -> None:
    """Every place for compiled code is taken by a file, which stops even an administrator from making a folder there:
    the package's own cache, the user's, and the one that the environment names.
    """
    source = Path(ridefront.__file__).parent
    copy = tmp_path / "ridefront"
    shutil.copytree(source, copy, ignore=shutil.ignore_patterns("__pycache__"))
    (copy / "response" / "__pycache__").write_text("a file, no folder")
    taken = tmp_path / "taken"
    taken.write_text("a file, no folder")
    places = {"NUMBA_CACHE_DIR": str(taken), "HOME": str(taken), "XDG_CACHE_HOME": str(taken)}
    hint, got = start_python(UNCACHED, tmp_path, **places)
    assert hint.count("a writable folder") == 1, "said once, though many functions are compiled"
    kept, want = start_python(UNCACHED, source.parent)
    assert kept == ""
    assert got == want
