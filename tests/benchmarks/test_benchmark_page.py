"""The benchmark of the page runs, so that it does not rot; it asserts no times."""

from __future__ import annotations

from pathlib import Path

from benchmarks.benchmark_page import measure
from pages import browser


def test_it_measures_every_step(tmp_path: Path) -> None:
    with browser():
        pass
    found = measure(tmp_path, designs=100, times=2)
    assert list(found) == [
        "make the page",
        "size [MB]",
        "open, first figure drawn",
        "draw all the others",
        "select a setup",
    ]
    assert all(value > 0 for value in found.values())
