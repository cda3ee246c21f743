"""Runs that are stopped, in every way there is, and go on as if they never had been."""

from __future__ import annotations

import json
import signal
import subprocess
import time
from pathlib import Path

import numpy as np
import pytest

from killed_runs import start_killed
from ridefront.errors import ResultError
from ridefront.evaluate import Domain, Evaluation
from ridefront.results import read_evaluations, read_front, read_front_pieces, read_progress
from ridefront.results.folder import RunFolder
from ridefront.run import run_study
from ridefront.study import Study
from small_runs import (
    GENERATIONS,
    Array,
    Collector,
    Formula,
    assert_same_results,
    evaluations_of,
    parts_of,
    small_study,
)

BLOCKS = 1 + 1 + 4  # present, sample, generations
LARGE_SAMPLE = ("sample = 64", "sample = 4096")  # several blocks


@pytest.fixture
def formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)


def state_of(folder: Path) -> str:
    return str(json.loads((folder / "run.json").read_text())["state"])


@pytest.mark.parametrize("blocks", [1, 2, 4, BLOCKS])
def test_interrupt_after_any_block_and_resume(tmp_path: Path, formula: None, blocks: int) -> None:
    study = small_study(tmp_path)
    whole = run_study(study, tmp_path / "whole", workers=1)
    collector = Collector(interrupt_after=blocks)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=collector)
    folder = tmp_path / "out" / "corner"
    assert collector.closed == 1
    assert state_of(folder) == "interrupted"
    assert len(parts_of(folder)) == blocks
    everything, front = read_evaluations(folder), read_front(folder)
    assert set(front["design"]) <= set(everything["design"])
    assert len(read_progress(folder)) == max(blocks - 1, 0)
    resumed = run_study(study, tmp_path / "out", workers=2)
    assert resumed.evaluations == whole.evaluations
    assert resumed.added == whole.evaluations - len(everything)
    assert_same_results(resumed.folder, whole.folder)
    assert resumed.hypervolume == whole.hypervolume


def test_seconds_of_earlier_calls_are_kept(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=4))
    before = read_progress(tmp_path / "out" / "corner")["seconds"].tolist()
    (tmp_path / "out" / "corner" / "progress.parquet").unlink()  # as after a kill
    resumed = run_study(study, tmp_path / "out", workers=1)
    after = read_progress(resumed.folder)["seconds"].tolist()
    assert after[: len(before)] == before
    assert len(after) == 5


class InterruptedIn(Formula):
    """Interrupted inside an evaluation."""

    calls = 0

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        InterruptedIn.calls += 1
        if InterruptedIn.calls == 5:  # the first one is before the run
            raise KeyboardInterrupt
        return super().evaluate(X, domain)


def test_interrupt_within_an_evaluation_loses_that_block_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    study = small_study(tmp_path)
    whole = run_study(study, tmp_path / "whole", workers=1)
    InterruptedIn.calls = 0
    monkeypatch.setattr("ridefront.run.workers.Evaluator", InterruptedIn)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1)
    assert len(parts_of(tmp_path / "out" / "corner")) == 3
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    assert_same_results(run_study(study, tmp_path / "out", workers=1).folder, whole.folder)


def test_interrupt_within_the_sample_makes_no_box_of_part_of_it(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path, LARGE_SAMPLE)
    whole = run_study(study, tmp_path / "whole", workers=1)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=3))
    rows = read_progress(tmp_path / "out" / "corner")
    assert rows["evaluations"].tolist() == [1 + 2 * 1024]
    assert rows["hypervolume"].isna().all()
    assert_same_results(run_study(study, tmp_path / "out", workers=1).folder, whole.folder)


def test_interrupt_while_stored_blocks_are_read_loses_nothing(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path)
    whole = run_study(study, tmp_path / "whole", workers=1)
    first = run_study(study, tmp_path / "out", workers=1)
    grown = small_study(tmp_path, (GENERATIONS, "generations = 5"))
    with pytest.raises(KeyboardInterrupt):
        run_study(grown, tmp_path / "out", workers=1, progress=Collector(interrupt_after=2))
    assert state_of(first.folder) == "interrupted"
    assert_same_results(first.folder, whole.folder, closed=False)
    assert read_front(first.folder)["comfort.difference"].isna().all()
    assert read_front(whole.folder)["comfort.difference"].notna().all()


def test_interrupt_before_anything_is_stored(tmp_path: Path, formula: None, monkeypatch: pytest.MonkeyPatch) -> None:
    evaluate = Formula.evaluate

    def at_once(self: Formula, X: Array, domain: Domain | None = None) -> Evaluation:
        if len(X) == 1:  # the run begins with the present setup
            raise KeyboardInterrupt
        return evaluate(self, X, domain)

    study = small_study(tmp_path)
    with monkeypatch.context() as patch:
        patch.setattr(Formula, "evaluate", at_once)
        with pytest.raises(KeyboardInterrupt):
            run_study(study, tmp_path / "out", workers=1)
    folder = tmp_path / "out" / "corner"
    assert len(read_front(folder)) == 0
    assert state_of(folder) == "interrupted"
    assert run_study(study, tmp_path / "out", workers=1).state == "done"


def stopped_by(number: signal.Signals, folder: Path, study: Study, output: Path) -> subprocess.Popen[bytes]:
    """Starts a run, checks that no second one may start beside it, and stops it after some blocks."""
    process = start_killed(Path(study.path), output)
    deadline = time.monotonic() + 60
    while not (folder / "evaluations").is_dir() or len(parts_of(folder)) < 5:
        assert process.poll() is None, process.stderr.read() if process.stderr else b""
        assert time.monotonic() < deadline
        time.sleep(0.01)
    with pytest.raises(ResultError, match=rf"in use by another run \(process {process.pid} on"):
        run_study(study, output)
    process.send_signal(number)
    return process


def test_kill_9_and_resume_with_the_real_vehicle(tmp_path: Path) -> None:
    """A kill that no handler sees: parts are whole and the lock is free."""
    study = small_study(tmp_path, (GENERATIONS, "generations = 20"))
    folder = tmp_path / "out" / "corner"
    process = stopped_by(signal.SIGKILL, folder, study, tmp_path / "out")
    process.communicate()
    assert process.returncode == -signal.SIGKILL
    stored = read_evaluations(folder)
    assert state_of(folder) == "running"
    assert 5 <= len(parts_of(folder)) < 22
    resumed = run_study(study, tmp_path / "out", workers=1)
    whole = run_study(study, tmp_path / "whole", workers=1)
    assert resumed.added == whole.evaluations - len(stored)
    assert_same_results(resumed.folder, whole.folder)


def test_interrupt_from_outside_leaves_a_folder_to_read(tmp_path: Path) -> None:
    """Ctrl-C at whatever moment: front, pieces and progress are those of what is stored."""
    study = small_study(tmp_path, (GENERATIONS, "generations = 20"))
    folder = tmp_path / "out" / "corner"
    process = stopped_by(signal.SIGINT, folder, study, tmp_path / "out")
    _, errors = process.communicate()
    assert process.returncode == -signal.SIGINT
    assert errors.rstrip().endswith(b"KeyboardInterrupt")
    record = json.loads((folder / "run.json").read_text())
    stored = read_evaluations(folder)
    assert (record["state"], record["stopped"]) == ("interrupted", "interrupted")
    assert record["counts"]["evaluations"] == len(stored) == read_progress(folder)["evaluations"].iloc[-1]
    assert 0 < record["counts"]["front"] == len(read_front(folder))
    assert set(read_front_pieces(folder)["design"]) == set(read_front(folder)["design"])


def test_parts_that_do_not_follow_from_the_search_are_refused(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path)
    result = run_study(study, tmp_path / "out", workers=1)
    with RunFolder(study, tmp_path / "out") as folder:
        batch = list(folder.batches())[3]
        X = batch.X.copy()
        X[5, 1] = np.nextafter(X[5, 1], np.inf)
        object.__setattr__(batch, "X", X)
        folder._parts.blocks = 3
        folder.append(batch)
    (result.folder / "front.parquet").unlink()
    with pytest.raises(ResultError, match=r"part-000003\.parquet: damaged or foreign"):
        run_study(study, tmp_path / "out", workers=1)


@pytest.mark.parametrize("keep", [0, 0.5])
def test_truncated_part_is_named_and_the_way_on_works(tmp_path: Path, formula: None, keep: float) -> None:
    study = small_study(tmp_path)
    whole = run_study(study, tmp_path / "out", workers=1)
    before = evaluations_of(whole.folder)
    part = parts_of(whole.folder)[4]
    data = part.read_bytes()
    part.write_bytes(data[: int(keep * len(data))])
    (whole.folder / "front.parquet").unlink()
    with pytest.raises(ResultError, match=r"part-000004\.parquet: damaged"):
        run_study(study, tmp_path / "out", workers=1)
    with pytest.raises(ResultError, match=r"part-000004\.parquet: damaged"):
        read_evaluations(whole.folder)
    for file in parts_of(whole.folder)[4:]:
        file.unlink()
    resumed = run_study(study, tmp_path / "out", workers=1)
    assert resumed.added == 2 * 16
    assert evaluations_of(resumed.folder).equals(before)
