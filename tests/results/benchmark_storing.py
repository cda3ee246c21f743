"""What storing costs: microseconds a design for each step, at the search's usual block of 200 designs and 20 columns.

Run by hand: ``python tests/results/benchmark_storing.py``. Times depend on the disk; compare figures of one run only.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa

from ridefront.evaluate import STATUS
from ridefront.results.batch import Asking, Batch, from_table, to_table
from ridefront.results.columns import AFTER, BEFORE, PARTS, Column, schema_of
from ridefront.results.tables import read_table, write_table

DESIGNS = 200
VARIABLES, MEASURES = 6, 6


def made_up(designs: int) -> tuple[Batch, pa.Schema]:
    """A block of random figures and its schema: 20 columns and no parts."""
    rng = np.random.default_rng(1)
    figures = [
        Column(f"figure {k}", pa.float64(), "N/mm", "a figure with a description as long as such descriptions are")
        for k in range(VARIABLES + MEASURES)
    ]
    status = np.zeros(designs, dtype=np.int8)
    status[::50] = STATUS.index("not-finite")
    values, violation = rng.random((designs, MEASURES)), rng.random(designs)
    values[status != 0], violation[status != 0] = np.nan, np.nan
    se = np.full_like(values, np.nan)
    asking = Asking("evolve", 1, "frequency-domain", None)
    batch = Batch(0, asking, rng.random((designs, VARIABLES)), values, violation, status, se)
    return batch, schema_of([*BEFORE, *figures, *AFTER, PARTS], {"study": "made up"})


def seconds_of(work: Callable[[], object], repeats: int) -> float:
    """Median time of one call, s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return float(np.median(times))


def measure(folder: Path, designs: int = DESIGNS, repeats: int = 100) -> dict[str, float]:
    """Microseconds a design of each step.

    Args:
        folder: on the disk to be measured.
        designs: rows of a part.
        repeats: calls of each step.
    """
    batch, schema = made_up(designs)
    table = to_table(batch, schema, ())
    part = folder / "part-000000.parquet"
    real_fsync = os.fsync
    steps: dict[str, Callable[[], object]] = {
        "arrays to table": lambda: to_table(batch, schema, ()),
        "table to disk": lambda: write_table(part, table),
        "disk to arrays": lambda: from_table(read_table(part, schema), VARIABLES, MEASURES, (), 0.0),
    }
    found = {name: seconds_of(work, repeats) / designs * 1e6 for name, work in steps.items()}
    try:
        os.fsync = lambda fd: None
        found["table to disk, not synced"] = seconds_of(steps["table to disk"], repeats) / designs * 1e6
    finally:
        os.fsync = real_fsync
    found["stored, all in all"] = found["arrays to table"] + found["table to disk"]
    return found


def main() -> None:
    """Prints the table."""
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as folder:
        for name, figure in measure(Path(folder)).items():
            print(f"{name:<28} {figure:7.2f} µs a design")


if __name__ == "__main__":
    main()
