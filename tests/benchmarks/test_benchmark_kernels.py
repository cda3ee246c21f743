"""The benchmark of the kernel runs, and its answers agree; times are for people to read."""

from __future__ import annotations

import pytest

from benchmarks.benchmark_kernels import main

pytestmark = pytest.mark.benchmark


def test_benchmark_runs_small_and_lanes_agree(capsys: pytest.CaptureFixture[str]) -> None:
    timings = main(n=32, runs=1, starts=False)
    assert [timing.case for timing in timings] == ["quarter-car", "half-car", "full-car", "off centre"]
    assert all(timing.alike for timing in timings)
    assert all(min(t.kernel, t.one_lane, t.linear, t.linearised) > 0 for t in timings)
    printed = capsys.readouterr().out
    assert "quarter-car" in printed
    assert printed.count("yes") == 4
