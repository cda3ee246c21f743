"""What a long night costs a design: time, memory and files of ever longer runs, and of coming back to them.

    python tests/benchmarks/benchmark_growth.py [--designs 10000 100000 1000000] [--population 200] [--folder DIR]

Each run is a process of its own: a quarter car with three objectives, no refinement, its front thinned where it is too
large. Prints for each: seconds and the share of them that the vehicle takes (a second pass over as many designs), the
largest memory, files and bytes; then seconds to take in what is stored (a longer run, until it asks for more), and to
read the front's rows out of all. Ten million take ten minutes and more, and some GB of disk.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

TEXT = """
title = "Corner of a delivery cart, for benchmarks"
seed = 11
response = "frequency-domain"
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "310 kg"
[vehicle.front]
unsprung_mass = "33 kg"
spring_rate = { low = "9 N/mm", high = "45 N/mm" }
damping = { low = "500 N*s/m", high = "5000 N*s/m", scale = "log" }
tyre_rate = { low = "150 N/mm", high = "230 N/mm" }
bump_travel = "90 mm"
[[road]]
name = "lane"
kind = "iso8608"
class = "C"
[[condition]]
road = "lane"
speed = "60 km/h"
[[objective]]
criterion = "comfort"
[[objective]]
criterion = "dynamic_load_coefficient"
[[objective]]
criterion = "rattle_space"
[search]
sample = 1024
population = POPULATION
generations = GENERATIONS
refine = 0
"""
"""A study of some designs in all; its capitals are filled in."""

SAMPLE = 1024


def written(folder: Path, designs: int, population: int) -> Path:
    """The study of a run of about so many designs."""
    generations = max(1, round((designs - SAMPLE) / population))
    text = TEXT.replace("POPULATION", str(population)).replace("GENERATIONS", str(generations))
    file = folder / "cart.toml"
    file.write_text(text, encoding="utf-8")
    return file


def whole(folder: Path, designs: int, population: int) -> dict[str, float]:
    """One run from the start: to be called in a process of its own."""
    from ridefront import read_study, run_study
    from ridefront.results.parts import stored_files
    from ridefront.results.record import read_record

    study = read_study(written(folder, designs, population))
    start = time.perf_counter()
    result = run_study(study, folder, workers=1)
    seconds = time.perf_counter() - start
    files = stored_files(result.folder / "evaluations")
    spacing = read_record(result.folder / "run.json")["front_spacing"]
    return {
        "designs": result.evaluations,
        "search_seconds": result.seconds,
        "closing_seconds": seconds - result.seconds,
        "memory_MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "front": result.front,
        "spacing": spacing or 0.0,
        "files": len(files),
        "stored_MB": sum(file.stat().st_size for file in files) / 1e6,
    }


def vehicle(folder: Path, designs: int, population: int) -> dict[str, float]:
    """The vehicle alone on as many designs in blocks of the same size; at most 200,000, scaled."""
    import numpy as np

    from ridefront import Evaluator, read_study
    from ridefront.study.space import decode

    study = read_study(written(folder, designs, population))
    evaluator = Evaluator(study)
    X = decode(study, np.random.default_rng(1).random((population, 3)))
    evaluator.evaluate(X)
    count = max(1, min(designs, 200_000) // population)
    start = time.perf_counter()
    for _ in range(count):
        evaluator.evaluate(X)
    return {"vehicle_seconds": (time.perf_counter() - start) * designs / (count * population)}


def back(folder: Path, designs: int, population: int) -> dict[str, float]:
    """A longer run in the folder of `whole`, stopped as soon as it has asked for more than was there."""
    from ridefront import read_study, run_study
    from ridefront.results.columns import evaluation_columns, schema_of
    from ridefront.results.folder import RunFolder
    from ridefront.results.read import read_front
    from ridefront.run import Snapshot

    study = read_study(written(folder, designs + population, population))
    start = time.perf_counter()
    found: dict[str, float] = {}

    class UntilMore:
        def update(self, snapshot: Snapshot) -> None:
            if snapshot.evaluations > snapshot.stored and not found:
                found["resume_seconds"] = time.perf_counter() - start
                raise KeyboardInterrupt

        def note(self, text: str) -> None:
            pass

        def close(self) -> None:
            pass

    front = read_front(folder / "cart")["design"].to_numpy()
    try:
        run_study(study, folder, workers=1, progress=UntilMore())
    except KeyboardInterrupt:
        found["memory_MB_resume"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    with RunFolder(study, folder) as stored:
        start = time.perf_counter()
        rows = stored.rows(front, schema_of(evaluation_columns(study), {}))
        found["front_seconds"] = time.perf_counter() - start
    assert len(rows) == len(front)
    return found


STEPS = {"whole": whole, "vehicle": vehicle, "back": back}


def measure(folder: Path, designs: int, population: int) -> dict[str, float]:
    """All figures of one size, each step in a process of its own."""
    found: dict[str, float] = {}
    for step in STEPS:
        call = [sys.executable, __file__, "--step", step, str(folder), str(designs), str(population)]
        done = subprocess.run(call, check=True, capture_output=True, text=True)
        found |= json.loads(done.stdout.splitlines()[-1])
    return found


def line(found: dict[str, float]) -> str:
    """One size for people."""
    n = found["designs"]
    return (
        f"{n:>10,.0f} designs: {1e6 * found['search_seconds'] / n:6.1f} µs a design"
        f" ({100 * found['vehicle_seconds'] / found['search_seconds']:.0f} % of it the vehicle),"
        f" closing {found['closing_seconds']:.1f} s, {found['memory_MB']:.0f} MB; front {found['front']:,.0f},"
        f" spacing {found['spacing']:.2g}; {found['files']:.0f} files, {found['stored_MB']:.1f} MB;"
        f" back to it in {found['resume_seconds']:.1f} s and {found['memory_MB_resume']:.0f} MB,"
        f" its front read in {found['front_seconds']:.2f} s"
    )


def main(words: Sequence[str] | None = None) -> None:
    """Prints a line a size; or, called by itself, does one step."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--designs", type=int, nargs="+", default=[10_000, 100_000, 1_000_000])
    parser.add_argument("--population", type=int, default=200)
    parser.add_argument("--folder", type=Path, help="on the disk to be measured; a temporary one unless given")
    parser.add_argument("--step", nargs=4, help=argparse.SUPPRESS)
    options = parser.parse_args(words)
    if options.step:
        step, folder, designs, population = options.step
        print(json.dumps(STEPS[step](Path(folder), int(designs), int(population))))
        return
    for designs in options.designs:
        with tempfile.TemporaryDirectory(dir=options.folder) as name:
            print(line(measure(Path(name), designs, options.population)), flush=True)


if __name__ == "__main__":
    main()
