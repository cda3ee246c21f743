"""The benchmark of growth runs, so that it does not rot; it asserts no times."""

from __future__ import annotations

from pathlib import Path

from benchmarks.benchmark_growth import line, measure


def test_it_measures_every_step(tmp_path: Path) -> None:
    found = measure(tmp_path, designs=1200, population=50)
    assert found["designs"] == 1024 + 200
    assert found["files"] == 1 + 4
    assert all(value > 0 for name, value in found.items() if name != "spacing")
    assert "1,224 designs" in line(found)
