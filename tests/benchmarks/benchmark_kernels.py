"""How fast the compiled kernels are: designs a second, core and condition; lanes against one; cold and cached start.

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
from ridefront.response.frequency import frequency_response
from ridefront.response.grid import Grid, condition_grid
from ridefront.response.spectrum import LANES, mean_squares
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.static import AtRest, at_rest

Array = NDArray[np.float64]
CASES = ("quarter-car", "half-car", "full-car", "off centre")
"""Off centre: the full car with a driver on one side."""

TRACK = 1.5


@dataclass(frozen=True)
class Timing:
    """What was measured of one case.

    Attributes:
        case: its name.
        kernel: seconds a design of one full run of the kernel, packing included; one_lane: the same without designs
            side by side.
        linear, linearised: seconds a design of `frequency_response` with linear dampers, and with knees and friction.
        alike: whether the figures of all lanes and of one lane agree to the last bit.
    """

    case: str
    kernel: float
    one_lane: float
    linear: float
    linearised: float
    alike: bool


def cars(n: int, *, linear: bool) -> dict[str, Array]:
    """Parameters of n full cars (a half car takes one side of them, a quarter car their front corners)."""
    rng = np.random.default_rng(0)
    car = {
        "wheelbase": np.full(n, 2.7),
        "front_share": rng.uniform(0.48, 0.6, n),
        "body.mass": rng.uniform(900, 1800, n),
    }
    car["body.dynamic_index"] = rng.uniform(0.85, 1.05, n)
    car["body.roll_inertia"] = 0.4 * car["body.mass"]
    for axle in ("front", "rear"):
        values = {"spring_ratio": 1.0, "damper_ratio": 1.0, "tyre_damping": 0.0, "friction_speed": 0.005}
        values |= {"bump_share": 0.5 if linear else 0.35, "friction": 0.0 if linear else 40.0}
        values |= {} if linear else {"knee_speed": 0.12, "knee_share": 0.4}
        values |= {"track": TRACK, "anti_roll_rate": 15e3}
        car |= {f"{axle}.{key}": np.full(n, value) for key, value in values.items()}
        for key, low, high in (
            ("unsprung_mass", 30.0, 60.0),
            ("spring_rate", 15e3, 40e3),
            ("damping", 900.0, 3500.0),
            ("tyre_rate", 180e3, 240e3),
        ):
            car[f"{axle}.{key}"] = rng.uniform(low, high, n)
    return car


def rest_and_grid(case: str, n: int, *, linear: bool) -> tuple[AtRest, Grid]:
    """n designs at rest, and the shipped grid of a class B road at 80 km/h."""
    model = model_of("full-car" if case == "off centre" else case)
    wheelbase = 0.0 if case == "quarter-car" else 2.7
    track = TRACK if len(model.corners) == 4 else None
    grid = condition_grid(Road("B", CLASSES["B"]), 80 / 3.6, 0.1, wheelbase, track=track)
    masses = (LoadMass(80.0, 1.4, left_of_centre=0.4),) if case == "off centre" else ()
    return at_rest(cars(n, linear=linear), model, (Load("", masses, reference=True),), 0)[0], grid


def shortest(call: Callable[[], object], runs: int) -> float:
    """Seconds of the fastest of several runs, after one to warm up."""
    call()
    best = np.inf
    for _ in range(runs):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return float(best)


def measure(case: str, n: int, runs: int) -> Timing:
    """Times of one case with n designs, a multiple of the lanes."""
    state, grid = rest_and_grid(case, n, linear=True)
    rough, _ = rest_and_grid(case, n, linear=False)
    damping = state.speed_law.slope_at(np.zeros_like(state.friction))

    def run(lanes: int) -> Array:
        return mean_squares(state, state.wheel_rate, damping, [grid], full=True, lanes=lanes)

    return Timing(
        case=case,
        kernel=shortest(lambda: run(LANES), runs) / n,
        one_lane=shortest(lambda: run(1), runs) / n,
        linear=shortest(lambda: frequency_response(state, grid), runs) / n,
        linearised=shortest(lambda: frequency_response(rough, grid), runs) / n,
        alike=bool(np.array_equal(run(LANES).view(np.uint64), run(1).view(np.uint64))),
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
    """Seconds of a new process until quarter and half car have answered: with an empty cache, with a full one."""
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
    lines = [f"{'designs a second, core and condition':44}" + "".join(f"{t.case:>14}" for t in timings)]
    for name, seconds in (
        ("kernel, full run, all lanes", [t.kernel for t in timings]),
        ("kernel, full run, one lane", [t.one_lane for t in timings]),
        ("frequency_response, linear dampers", [t.linear for t in timings]),
        ("frequency_response, knees and friction", [t.linearised for t in timings]),
    ):
        lines.append(f"{name:44}" + "".join(f"{1 / s:14,.0f}" for s in seconds))
    lines.append(f"{f'ratio of {LANES} lanes to one':44}" + "".join(f"{t.one_lane / t.kernel:14.2f}" for t in timings))
    half = next(t for t in timings if t.case == "half-car")
    lines.append(
        f"{'kernel, ratio of time to the half car':44}" + "".join(f"{t.kernel / half.kernel:14.2f}" for t in timings)
    )
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
    timings = [measure(case, n, runs) for case in CASES]
    print(table(timings, start_seconds() if starts else None))
    return timings


if __name__ == "__main__":
    main()
