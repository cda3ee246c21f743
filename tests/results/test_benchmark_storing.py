"""The benchmark of storing still runs."""

from __future__ import annotations

import os
import runpy
from pathlib import Path


def test_benchmark_measures_every_step(tmp_path: Path) -> None:
    fsync = os.fsync
    measure = runpy.run_path(str(Path(__file__).with_name("benchmark_storing.py")))["measure"]
    found = measure(tmp_path, designs=32, repeats=2)
    assert len(found) == 5
    assert all(figure > 0 for figure in found.values())
    assert os.fsync is fsync
