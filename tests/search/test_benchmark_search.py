"""The benchmark runs, and the plan finds at least as much as pymoo's own NSGA-II with as many evaluations."""

from __future__ import annotations

import pytest

from ridefront.search import Settings
from search.benchmark_search import main


@pytest.mark.benchmark
def test_benchmark(capsys: pytest.CaptureFixture[str]) -> None:
    table = main(Settings(seed=1, sample=400, population=40, generations=60), sizes=(50,))
    plan, archive, pymoo, *fronts = table
    assert [line.name for line in table[:3]] == ["plan", "archive with hypervolume", "pymoo NSGA-II, ask and tell"]
    assert plan.designs == archive.designs == 59 * 40
    assert pymoo.designs == 400 + 60 * 40
    assert 0.9 < pymoo.share <= 1
    assert pymoo.share - 0.01 < plan.share <= 1
    assert len(fronts) == 3
    assert all(line.microseconds > 0 for line in table)
    assert len(capsys.readouterr().out.splitlines()) == 1 + len(table)
