"""The benchmark runs, and the plan finds about as much as pymoo's own NSGA-II with as many evaluations."""

from __future__ import annotations

import pytest

from ridefront.search import Settings
from search.benchmark_search import main


@pytest.mark.benchmark
def test_benchmark(capsys: pytest.CaptureFixture[str]) -> None:
    table = main(Settings(seed=1, sample=400, population=40, generations=60), sizes=(50,))
    pymoo, like, _, plan, archive = table[:5]
    assert pymoo.designs == 70 * 40
    assert like.designs == 68 * 40  # the last generation's answer ends the plan, which is not timed
    assert plan.designs == archive.designs == 59 * 40
    assert 0.9 < pymoo.share < like.share + 0.01 < 1.01
    assert 0.9 < plan.share < 1
    assert len(table) == 8
    assert all(line.microseconds > 0 for line in table)
    assert len(capsys.readouterr().out.splitlines()) == 1 + len(table)
