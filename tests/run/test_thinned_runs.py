"""Runs whose front is too large to keep whole: what is kept, what is said, and that a stop changes nothing."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path

import pytest

from ridefront.report.after_run import table_after_run
from ridefront.results import read_evaluations, read_front, read_progress
from ridefront.run import run_study
from ridefront.search import Archive
from small_runs import Collector, Formula, assert_same_results, small_study

MOST = 40


@pytest.fixture
def thinning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    monkeypatch.setattr("ridefront.run.history.Archive", partial(Archive, most=MOST))


def test_a_front_too_large_stands_for_all_that_was_tried(tmp_path: Path, thinning: None) -> None:
    study = small_study(tmp_path, ("generations = 4", "generations = 12"))
    folder = run_study(study, tmp_path / "out", workers=1).folder
    front, tried = read_front(folder), read_evaluations(folder)
    assert read_progress(folder)["front"].max() <= MOST
    spacing = json.loads((folder / "run.json").read_text())["front_spacing"]
    assert 0 < spacing < 0.2
    feasible = tried[tried["feasible"] & (tried["stage"] != "present")]
    signs = {"comfort": 1, "dynamic_load_coefficient": 1, "bump_reserve": -1}
    seen, kept = (frame[list(signs)].to_numpy() * list(signs.values()) for frame in (feasible, front))
    for f in kept:
        assert not ((seen <= f).all(1) & (seen < f).any(1)).any()
    side = (1 + 1e-12) * spacing * (kept.max(0) - kept.min(0))
    for f in seen:
        assert (kept <= f + side).all(1).any()
    table = table_after_run(study, folder)
    assert table is not None
    assert any(note.startswith("the front was thinned: every setup tried") for note in table.notes)


def test_a_stop_changes_nothing(tmp_path: Path, thinning: None) -> None:
    study = small_study(tmp_path, ("generations = 4", "generations = 12"))
    whole = run_study(study, tmp_path / "whole", workers=1)
    for blocks in (3, 9, 13):
        with pytest.raises(KeyboardInterrupt):
            run_study(study, tmp_path / f"out{blocks}", workers=1, progress=Collector(interrupt_after=blocks))
        assert_same_results(run_study(study, tmp_path / f"out{blocks}", workers=1).folder, whole.folder)
