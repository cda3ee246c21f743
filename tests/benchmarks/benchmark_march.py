"""How fast the march through time is: steps a second and core, lanes, threads, start, and beside other ways to do it.

Run by hand: ``python tests/benchmarks/benchmark_march.py``. Every figure is the minimum over short runs in one process;
what a ratio compares takes turns, since machines and their neighbours differ. Answers are compared too. Bodies that
pitch have the filters of a backrest too.

The other ways (see march_rivals.py) take quarter cars of the same designs over the same road: scipy's adaptive
Runge-Kutta method, and the march's own method in numpy. Both sum fewer figures than the march does, and filter nothing,
which is in their favour.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import ridefront
from ridefront.response import kernel_march
from ridefront.response.digital import low_pass, running_share, sections
from ridefront.response.drive import RUN_UP, Drive, drive
from ridefront.response.simulate import LANES, PEAK_FREQUENCY, march
from ridefront.response.weighting import WEIGHTINGS
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, model_of
from ridefront.vehicle.elements import PROGRESSION_DEPTH
from ridefront.vehicle.static import AtRest, at_rest

sys.path.insert(0, str(Path(__file__).parents[1]))  # where this file is run by hand

from march_rivals import FIGURES, Corner, adaptive, one_of, population

Array = NDArray[np.float64]

TESTS = Path(__file__).parents[1]
STEP, SPEED, WHEELBASE, PATCH = 1e-3, 100 / 3.6, 2.7, 0.1
KNEE, KNEE_SHARE, TYRE_DAMPING = 0.12, 0.4, 50.0
MODELS = {1: "quarter-car", 2: "half-car", 4: "four corners"}
MOTIONS = {1: 1, 2: 2, 4: 3}
AIMS = {1: 100, 2: 60, 4: 25}
TOLERANCES = (1e-9, 1e-6)
"""Absolute ones for scipy: one that leaves centimetres of travel to the relative tolerance, 1e-6, and scipy's own."""


@dataclass(frozen=True)
class Timing:
    """What was measured of one size.

    Attributes:
        corners: one, two or four.
        smooth, rough: seconds a step and design without and with friction, of `march` on vehicles, packing included;
            of the kernel alone for four corners.
        kernel, one_lane: the same of the kernel alone, without friction, all lanes and one.
        alike: whether the figures of all lanes and of one lane agree to the last bit.
        threads: seconds of one thread over those of two, each with half of the blocks.
    """

    corners: int
    smooth: float
    rough: float
    kernel: float
    one_lane: float
    alike: bool
    threads: float


@dataclass(frozen=True)
class Rivals:
    """The march beside other ways, on quarter cars.

    Attributes:
        n: how many, and seconds: how long the road is.
        march, population: seconds a design of the march, of numpy on all designs at once.
        adaptive: the same of scipy, for each of `TOLERANCES`.
        travel: rms travel of the designs that scipy drove, mm; adaptive_travel: scipy's, for each tolerance.
        apart: largest relative difference of any of `FIGURES` of any design, numpy against the march.
        stop, lift_off: largest share of time that a design spends on its bump stop, and off the road.
    """

    n: int
    seconds: float
    march: float
    population: float
    adaptive: tuple[float, ...]
    travel: Array
    adaptive_travel: tuple[Array, ...]
    apart: float
    stop: float
    lift_off: float


def shortest(*calls: Callable[[], object], runs: int) -> list[float]:
    """Seconds of the fastest of several runs of each call, taking turns, after one of each to warm up."""
    best = [np.inf] * len(calls)
    for run in range(runs + 1):
        for i, call in enumerate(calls):
            start = time.perf_counter()
            call()
            if run:
                best[i] = min(best[i], time.perf_counter() - start)
    return best


@dataclass(frozen=True)
class Case:
    """One call of the kernel.

    Attributes:
        sizes: the tuples that come first; P: the designs; given: road, filters and what else comes between; out: for
            the figures.
    """

    sizes: tuple[tuple[int, ...], ...]
    P: Array
    given: tuple[Any, ...]
    out: Array

    def run(self) -> None:
        """Fill `out`."""
        kernel_march.march(*self.sizes, self.P, *self.given, self.out, np.empty((0, 0, 0, 0, 0)))

    def halves(self) -> tuple[Case, Case]:
        """Each half of the blocks."""
        half = len(self.P) // 2
        return replace(self, P=self.P[:half], out=self.out[:half]), replace(self, P=self.P[half:], out=self.out[half:])

    def figures(self) -> Array:
        """What was filled, (figures, designs)."""
        return self.out[:, 0].transpose(1, 0, 2).reshape(self.out.shape[2], -1)


def case(corners: int, lanes: int, designs: int, steps: int, *, friction: bool = False) -> Case:
    """Made-up designs over random walks, with stops, knees, tyre damping, roll, bars and a beam axle at the rear; the
    same for any `lanes`.
    """
    rng = np.random.default_rng(0)
    motions, rows = MOTIONS[corners], kernel_march.corner_rows(0, 3)
    P = np.zeros((kernel_march.parameter_rows(corners, 1, 0, 3), designs))

    def between(low: float, high: float) -> Array:
        return rng.uniform(low, high, designs)

    mass = between(300.0, 380.0) * corners
    P[: len(kernel_march.BODY)] = 1 / mass, 1 / (1.4 * mass), 1 / (0.4 * mass), 0.02 / mass
    for c in range(corners):
        bump = between(700.0, 2500.0)
        rebound = bump * between(1.0, 2.5)
        wheel, beam = 1 / between(34.0, 55.0), corners > 2 and c > 1
        constant = -(1 - KNEE_SHARE) * rebound * KNEE
        corner: dict[str, Array | float] = {
            "rate": between(14e3, 40e3),
            "damping": KNEE_SHARE * rebound,
            "constant force": 0.0 if corners > 2 else constant,
            "tyre rate": between(180e3, 240e3),
            "tyre damping": TYRE_DAMPING,
            "contact force": 3800.0,
            "inverse unsprung mass": wheel,
            "x": 0.0 if corners == 1 else 1.1 if c < corners // 2 else -1.5,
            "friction": between(20.0, 60.0),
            "friction speed": 0.005,
            "axle y": -0.02,
            "track": 1.5,
            "anti-roll rate": between(0.0, 2e4),
            "half spring mix": 0.35 if beam else 0.5,
            "half damper mix": 0.4 if beam else 0.5,
            "cross inverse unsprung mass": 0.2 * wheel if beam else 0.0,
            "constant damper force": constant if corners > 2 else 0.0,
        }
        stops: list[Array | float] = [between(0.02, 0.06), 2e5, 1e6, between(0.02, 0.06), 2e5, 1e6]
        knees: list[Array | float] = [
            -KNEE,
            (1 - KNEE_SHARE) * rebound,
            0.0,
            bump - rebound,
            KNEE,
            -(1 - KNEE_SHARE) * bump,
        ]
        first = len(kernel_march.BODY) + c * rows
        for k, value in enumerate([*(corner[name] for name in kernel_march.CORNER), *stops, *knees]):
            P[first + k] = value
    P[-2], P[-1] = 0.3, 0.4
    one = (0,)
    wanted = (one if friction else (), one if corners > 1 else ())
    sizes = (one * motions, one * corners, one * lanes, one, (), one * 3, *wanted)
    both, own = (rng.standard_normal((1, count, 2 * steps + 1)) for count in (1, corners))
    road = 0.0012 * np.cumsum(both + 0.2 * own, axis=2)
    wk, we, wc = (sections(WEIGHTINGS[name], STEP) for name in ("Wk", "We", "Wc"))
    floor = np.zeros((P.shape[1] // lanes, lanes))
    given = (
        road,
        STEP,
        0,
        (0, steps),
        floor,
        wk,
        (low_pass(PEAK_FREQUENCY, STEP),),
        we,
        wc,
        running_share(STEP),
        False,
    )
    blocks = np.ascontiguousarray(P.reshape(len(P), -1, lanes).transpose(1, 0, 2))
    return Case(sizes, blocks, given, np.empty((len(blocks), 1, kernel_march.figure_rows(motions, corners, 1), lanes)))


def cars(n: int, *, friction: bool = False) -> dict[str, Array]:
    """Parameters of n half cars (a quarter car takes their front corners) whose stops a poor road reaches."""
    rng = np.random.default_rng(1)
    car = {"wheelbase": np.full(n, WHEELBASE), "front_share": rng.uniform(0.48, 0.6, n)}
    car |= {"body.mass": rng.uniform(900, 1800, n), "body.dynamic_index": rng.uniform(0.85, 1.05, n)}
    same = {
        "spring_ratio": 1.0, "damper_ratio": 1.0, "tyre_damping": TYRE_DAMPING, "bump_share": 0.35,
        "friction": 40.0 if friction else 0.0, "friction_speed": 0.005, "knee_speed": KNEE, "knee_share": KNEE_SHARE,
    }  # fmt: skip
    for axle in ("front", "rear"):
        car |= {f"{axle}.{key}": np.full(n, value) for key, value in same.items()}
        for key, low, high in (
            ("unsprung_mass", 30.0, 60.0),
            ("spring_rate", 15e3, 40e3),
            ("damping", 900.0, 3500.0),
            ("tyre_rate", 180e3, 240e3),
            ("bump_clearance", 0.02, 0.06),
            ("bump_stop_rate", 30e3, 80e3),
            ("bump_stop_progression", 1.0, 3.0),
            ("rebound_clearance", 0.02, 0.06),
            ("rebound_stop_rate", 60e3, 120e3),
            ("rebound_stop_progression", 0.0, 1.0),
        ):
            car[f"{axle}.{key}"] = rng.uniform(low, high, n)
    return car


def standing(corners: int, n: int, *, friction: bool = False) -> AtRest:
    """n of `cars` at rest."""
    return at_rest(cars(n, friction=friction), model_of(MODELS[corners]), (Load("", reference=True),), 0)[0]


def class_c(corners: int, seconds: float) -> Drive:
    """A class C road at 100 km/h, driven for that long, the run-up of some seconds included."""
    road = Road("C", CLASSES["C"], length=(seconds - RUN_UP) * SPEED, realisations=1)
    return drive(road, SPEED, PATCH, WHEELBASE if corners > 1 else None, STEP, seed=1)


def measure(corners: int, n: int = 128, seconds: float = 10.0, steps: int = 2000, runs: int = 40) -> Timing:
    """Times of one size.

    Args:
        corners: one, two or four.
        n: designs, a multiple of twice the lanes.
        seconds: of the road, above the run-up, for `march`.
        steps: for the kernel alone.
        runs: of which the fastest counts.
    """
    many, single, creeping = (
        case(corners, lanes, n, steps, friction=friction)
        for lanes, friction in ((LANES, False), (1, False), (LANES, True))
    )
    parts = many.halves()
    with ThreadPoolExecutor(len(parts)) as pool:
        kernel, one_lane, threads = shortest(many.run, single.run, lambda: list(pool.map(Case.run, parts)), runs=runs)
    many.run()
    alike = np.array_equal(many.figures().view(np.uint64), single.figures().view(np.uint64))
    if corners < 4:
        road, points = class_c(corners, seconds), np.zeros((n, 1))
        smooth_cars, rough_cars = (standing(corners, n, friction=friction) for friction in (False, True))
        calls = (partial(march, cars, road, points, backrest=corners > 1) for cars in (smooth_cars, rough_cars))
        found = shortest(*calls, runs=runs)
        smooth, rough = (each / (n * road.steps) for each in found)
    else:
        smooth, rough = kernel / (n * steps), shortest(creeping.run, runs=runs)[0] / (n * steps)
    return Timing(corners, smooth, rough, kernel / (n * steps), one_lane / (n * steps), alike, kernel / threads)


def textbook(n: int) -> Corner[Array]:
    """The front corners of `cars`."""
    front = {key.removeprefix("front."): value for key, value in cars(n).items()}
    state = standing(1, n)
    return Corner(
        body=state.body.mass,
        wheel=front["unsprung_mass"],
        rate=front["spring_rate"],
        bump=2 * front["bump_share"] * front["damping"],
        rebound=2 * (1 - front["bump_share"]) * front["damping"],
        knee_speed=front["knee_speed"],
        knee_share=front["knee_share"],
        clearance=front["bump_clearance"],
        stop=front["bump_stop_rate"],
        growth=front["bump_stop_rate"] * front["bump_stop_progression"] / PROGRESSION_DEPTH,
        rebound_clearance=front["rebound_clearance"],
        rebound_stop=front["rebound_stop_rate"],
        rebound_growth=front["rebound_stop_rate"] * front["rebound_stop_progression"] / PROGRESSION_DEPTH,
        tyre=front["tyre_rate"],
        tyre_damping=front["tyre_damping"],
        contact=state.contact_force[:, 0],
    )


def compare(n: int = 256, seconds: float = 10.0, few: int = 3, runs: int = 5) -> Rivals:
    """The march beside the other ways on n quarter cars, of which scipy drives a few, each once; as `measure`."""
    state, road, corners, points = standing(1, n), class_c(1, seconds), textbook(n), np.zeros((n, 1))
    slow, travels = [], []
    for tolerance in TOLERANCES:
        times, found = [], []
        for k in range(few):
            start = time.perf_counter()
            found.append(1e3 * adaptive(one_of(corners, k), road, tolerance))
            times.append(time.perf_counter() - start)
        slow.append(min(times))
        travels.append(np.array(found))
    ours, theirs = shortest(lambda: march(state, road, points), lambda: population(corners, road), runs=runs)
    answer = march(state, road, points)
    row = {name: answer.corners[0, 0, k] for k, name in enumerate(kernel_march.CORNER_FIGURES)}
    row["mean square acceleration"] = answer.body[0, 0]
    same = np.stack([row[name] for name in FIGURES])
    apart = np.abs(population(corners, road) - same) / np.maximum(np.abs(same), np.finfo(np.float64).tiny)
    return Rivals(
        n=n,
        seconds=road.steps * road.step,
        march=ours / n,
        population=theirs / n,
        adaptive=tuple(slow),
        travel=1e3 * np.sqrt(row["mean square travel"] - row["mean travel"] ** 2)[:few],
        adaptive_travel=tuple(travels),
        apart=float(apart.max()),
        stop=float(row["bump stop"].max()),
        lift_off=float(row["lift-off"].max()),
    )


def first_answers() -> list[float]:
    """Seconds until the kernel of each size has answered for the first time in this process."""
    return [_once(case(corners, LANES, LANES, 1).run) for corners in MODELS]


def _once(call: Callable[[], object]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


_START = """
import time
start = time.perf_counter()
from benchmarks.benchmark_march import first_answers
imported = time.perf_counter() - start
print(imported, *first_answers())
"""


def start_seconds() -> tuple[list[float], list[float]]:
    """Seconds of a new process for imports and for each kernel's first answer: with an empty cache, with a full one."""
    paths = os.pathsep.join(str(path) for path in (Path(ridefront.__file__).parents[1], TESTS))
    call = [sys.executable, "-c", _START]
    with tempfile.TemporaryDirectory() as cache:
        environment = os.environ | {"NUMBA_CACHE_DIR": cache, "PYTHONPATH": paths}
        cold, cached = (
            subprocess.run(call, capture_output=True, text=True, check=True, env=environment).stdout.split()
            for _ in range(2)
        )
    return [float(word) for word in cold], [float(word) for word in cached]


def table(timings: list[Timing], starts: tuple[list[float], list[float]] | None) -> str:
    """The figures of each size as lines of text."""
    lines = [f"{'million steps a second and core':44}" + "".join(f"{MODELS[t.corners]:>14}" for t in timings)]
    for name, seconds in (
        ("march (four corners: kernel)", [t.smooth for t in timings]),
        ("the same with friction", [t.rough for t in timings]),
        (f"kernel, {LANES} lanes", [t.kernel for t in timings]),
        ("kernel, one lane", [t.one_lane for t in timings]),
    ):
        lines.append(f"{name:44}" + "".join(f"{1e-6 / s:14.1f}" for s in seconds))
    lines.append(f"{'aim without friction':44}" + "".join(f"{AIMS[t.corners]:14d}" for t in timings))
    lines.append(
        f"{f'ratio of {LANES} lanes to one (aim 3)':44}" + "".join(f"{t.one_lane / t.kernel:14.2f}" for t in timings)
    )
    lines.append(f"{'lanes agree to the last bit':44}" + "".join(f"{'yes' if t.alike else 'NO':>14}" for t in timings))
    lines.append(f"{'ratio of two threads to one':44}" + "".join(f"{t.threads:14.2f}" for t in timings))
    for name, found in zip(("compiled anew", "from the cache"), starts or (), strict=False):
        words = f"first answer, {name}, s (imports {found[0]:.1f})"
        lines.append(f"{words:44}" + "".join(f"{each:14.2f}" for each in found[1:]))
    return "\n".join(lines)


def beside(rivals: Rivals) -> str:
    """The comparison with other ways as lines of text."""
    lines = [
        f"quarter cars, {rivals.seconds:.0f} s of class C at {3.6 * SPEED:.0f} km/h; "
        f"up to {rivals.stop:.1%} of the time on the bump stop, up to {rivals.lift_off:.1%} off the road",
        f"{'march, µs a design':44}{1e6 * rivals.march:14.1f}",
        f"{f'numpy, {rivals.n} designs at once, µs a design':44}{1e6 * rivals.population:14.0f}",
        f"{'    times the march (aim 30)':44}{rivals.population / rivals.march:14.1f}",
        f"{'    figures apart, relative (aim 1e-9)':44}{rivals.apart:14.1e}",
    ]
    for tolerance, seconds, travel in zip(TOLERANCES, rivals.adaptive, rivals.adaptive_travel, strict=True):
        lines += [
            f"{f'scipy RK45, rtol 1e-6, atol {tolerance:g}, µs a design':44}{1e6 * seconds:14,.0f}",
            f"{'    times the march (aim 20,000)':44}{seconds / rivals.march:14,.0f}",
            f"{'    rms travel, mm':44}" + "".join(f"{each:14.4f}" for each in travel),
        ]
    lines.append(f"{'    of the march':44}" + "".join(f"{each:14.4f}" for each in rivals.travel))
    return "\n".join(lines)


def main() -> None:
    """Measure and print (about a minute)."""
    print(f"load average {os.getloadavg()[0]:.2f} on {os.cpu_count()} cores")
    print(table([measure(corners) for corners in MODELS], start_seconds()))
    print(beside(compare()))
    print(f"load average {os.getloadavg()[0]:.2f}")


if __name__ == "__main__":
    main()
