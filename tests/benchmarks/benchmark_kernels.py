"""How fast the compiled kernel is: designs a second, core and condition; lanes against one lane; cold and cached start.

Run by hand: ``python tests/benchmarks/benchmark_kernels.py``. Every figure is the minimum over short runs in one
process on one core; ratios come from one run, since machines and their neighbours differ. Answers are compared too.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import ridefront
from ridefront.response import kernel_spectrum
from ridefront.response.frequency import frequency_response
from ridefront.response.grid import Grid, condition_grid
from ridefront.response.spectrum import LANES
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, model_of
from ridefront.vehicle.static import AtRest, at_rest

Array = NDArray[np.float64]
MODELS = (("quarter-car", 1), ("half-car", 2))


@dataclass(frozen=True)
class Timing:
    """What was measured of one model.

    Attributes:
        model: its name.
        kernel: seconds a design of one full run of the kernel; one_lane: the same without designs side by side.
        linear, linearised: seconds a design of `frequency_response` with linear dampers, and with knees and friction.
        alike: whether the figures of all lanes and of one lane agree to the last bit.
    """

    model: str
    kernel: float
    one_lane: float
    linear: float
    linearised: float
    alike: bool


def cars(n: int, *, linear: bool) -> dict[str, Array]:
    """Parameters of n half cars (a quarter car takes their front corners)."""
    rng = np.random.default_rng(0)
    car = {
        "wheelbase": np.full(n, 2.7),
        "front_share": rng.uniform(0.48, 0.6, n),
        "body.mass": rng.uniform(900, 1800, n),
    }
    car["body.dynamic_index"] = rng.uniform(0.85, 1.05, n)
    for axle in ("front", "rear"):
        values = {"spring_ratio": 1.0, "damper_ratio": 1.0, "tyre_damping": 0.0, "friction_speed": 0.005}
        values |= {"bump_share": 0.5 if linear else 0.35, "friction": 0.0 if linear else 40.0}
        values |= {} if linear else {"knee_speed": 0.12, "knee_share": 0.4}
        car |= {f"{axle}.{key}": np.full(n, value) for key, value in values.items()}
        for key, low, high in (
            ("unsprung_mass", 30.0, 60.0),
            ("spring_rate", 15e3, 40e3),
            ("damping", 900.0, 3500.0),
            ("tyre_rate", 180e3, 240e3),
        ):
            car[f"{axle}.{key}"] = rng.uniform(low, high, n)
    return car


def rest_and_grid(model: str, n: int, *, linear: bool) -> tuple[AtRest, Grid]:
    """n designs at rest, and the shipped grid of a class B road at 80 km/h."""
    wheelbase = 2.7 if model == "half-car" else 0.0
    grid = condition_grid(Road("B", CLASSES["B"]), 80 / 3.6, 0.1, wheelbase)
    return at_rest(cars(n, linear=linear), model_of(model), (Load("", reference=True),), 0)[0], grid


def packed(state: AtRest, damping: Array, lanes: int) -> Array:
    """The kernel's input (blocks, rows, lanes); the number of designs is a multiple of `lanes`."""
    rows = [state.body.mass, state.body.pitch_inertia]
    for c in range(damping.shape[1]):
        rows += [state.wheel_rate[:, c], damping[:, c], state.tyre_rate[:, c], state.tyre_damping[:, c]]
        rows += [state.unsprung_mass[:, c], state.body.x[:, c]]
    P = np.stack(rows)
    return np.ascontiguousarray(P.reshape(len(P), -1, lanes).transpose(1, 0, 2))


def shortest(call: Callable[[], object], runs: int) -> float:
    """Seconds of the fastest of several runs, after one to warm up."""
    call()
    best = np.inf
    for _ in range(runs):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return float(best)


def measure(model: str, corners: int, n: int, runs: int) -> Timing:
    """Times of one model with n designs, a multiple of the lanes."""
    state, grid = rest_and_grid(model, n, linear=True)
    rough, _ = rest_and_grid(model, n, linear=False)
    damping = state.speed_law.slope_at(np.zeros_like(state.friction))
    figures = 3 * corners + kernel_spectrum.body_figures(corners)
    seconds, answers = [], []
    for lanes in (LANES, 1):
        P, out = packed(state, damping, lanes), np.empty((n // lanes, figures, lanes))

        def run(P: Array = P, out: Array = out, lanes: int = lanes) -> None:
            kernel_spectrum.respond((0,) * corners, (0,) * lanes, (0,), P, grid.table, out)

        seconds.append(shortest(run, runs) / n)
        answers.append(out.transpose(1, 0, 2).reshape(figures, n))
    return Timing(
        model=model,
        kernel=seconds[0],
        one_lane=seconds[1],
        linear=shortest(lambda: frequency_response(state, grid), runs) / n,
        linearised=shortest(lambda: frequency_response(rough, grid), runs) / n,
        alike=bool(np.array_equal(answers[0].view(np.uint64), answers[1].view(np.uint64))),
    )


_START = """
import time
start = time.perf_counter()
import numpy as np
from ridefront.response import kernel_spectrum as kernel
for axles, figures in ((1, 5), (2, 15)):
    P = np.ones((1, 2 + 6 * axles, {lanes}))
    for which in ((0,), ()):
        kernel.respond((0,) * axles, (0,) * {lanes}, which, P, np.ones((2, 7)), np.empty((1, figures, {lanes})))
print(time.perf_counter() - start)
"""


def start_seconds() -> tuple[float, float]:
    """Seconds of a new process until both sizes of the kernel have answered: with an empty cache, with a full one."""
    package = str(Path(ridefront.__file__).parents[1])
    with tempfile.TemporaryDirectory() as cache:
        environment = os.environ | {"NUMBA_CACHE_DIR": cache, "PYTHONPATH": package}
        call = [sys.executable, "-c", _START.format(lanes=LANES)]
        cold, cached = (
            float(subprocess.run(call, capture_output=True, text=True, check=True, env=environment).stdout)
            for _ in range(2)
        )
    return cold, cached


def table(timings: list[Timing], starts: tuple[float, float] | None) -> str:
    """The figures as lines of text."""
    lines = [f"{'designs a second, core and condition':44}" + "".join(f"{t.model:>14}" for t in timings)]
    for name, seconds in (
        ("kernel, full run, all lanes", [t.kernel for t in timings]),
        ("kernel, full run, one lane", [t.one_lane for t in timings]),
        ("frequency_response, linear dampers", [t.linear for t in timings]),
        ("frequency_response, knees and friction", [t.linearised for t in timings]),
    ):
        lines.append(f"{name:44}" + "".join(f"{1 / s:14,.0f}" for s in seconds))
    lines.append(f"{f'ratio of {LANES} lanes to one':44}" + "".join(f"{t.one_lane / t.kernel:14.2f}" for t in timings))
    lines.append(f"{'lanes agree to the last bit':44}" + "".join(f"{'yes' if t.alike else 'NO':>14}" for t in timings))
    if starts is not None:
        lines.append(
            f"first answer of a new process: {starts[0]:.1f} s compiled anew, {starts[1]:.1f} s from the cache"
        )
    return "\n".join(lines)


def main(n: int = 512, runs: int = 20, starts: bool = True) -> list[Timing]:
    """Measure, print, and give back what was measured.

    Args:
        n: designs a run, a multiple of the lanes.
        runs: of which the fastest counts.
        starts: whether to time new processes as well (some ten seconds).
    """
    timings = [measure(model, corners, n, runs) for model, corners in MODELS]
    print(table(timings, start_seconds() if starts else None))
    return timings


if __name__ == "__main__":
    main()
