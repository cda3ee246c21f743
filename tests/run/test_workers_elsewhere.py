"""Workers in processes: the bits of threads, designs that raise or kill, and nobody left behind."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

import faulty
from ridefront.errors import ResultError
from ridefront.evaluate import STATUS
from ridefront.results.record import read_record
from ridefront.run import run_study
from ridefront.run.crew import Crew, Job, Processes, Threads
from ridefront.run.tasks import Answer, Lost, Work
from ridefront.run.workers import Workers
from ridefront.study.space import decode
from small_runs import Array, Collector, Formula, assert_same_results, small_study


def children() -> set[int]:
    """Processes of which this one is the parent, by what the kernel says; zombies not counted."""
    found = set()
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                state, parent = (entry / "stat").read_text().rpartition(")")[2].split()[:2]
            except OSError:
                continue
            if int(parent) == os.getpid() and state != "Z" and b"resource_tracker" not in _command(entry):
                found.add(int(entry.name))
    return found


def _command(entry: Path) -> bytes:
    try:
        return (entry / "cmdline").read_bytes()
    except OSError:
        return b""


def designs(count: int = 40) -> Array:
    """Designs of the small study, none stiff."""
    X = np.random.default_rng(3).random((count, 3)) * [4.0, 20.0, 3000.0] + [36.0, 17.0, 800.0]
    return np.ascontiguousarray(X)


def test_a_real_study_in_time_has_the_bits_of_threads(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    X = decode(study, np.random.default_rng(1).random((40, 3)))
    before = children()
    with Workers(study, 1) as here, Workers(study, Processes(2)) as there:
        for domain in ("frequency-domain", "time-domain"):
            one, two = here.evaluate(X, domain), there.evaluate(X, domain)
            for name in ("values", "violation", "status", "se"):
                assert getattr(one, name).tobytes() == getattr(two, name).tobytes()
        assert here.step == there.step
        assert len(children() - before) == 2
        one_piece, two_piece = here.pieces(X[:20]), there.pieces(X[:20])
        assert one_piece.values.tobytes() == two_piece.values.tobytes()
    assert children() == before


@pytest.mark.parametrize("crew", [lambda: Threads(1), lambda: Threads(3), lambda: Processes(2)])
def test_designs_that_raise_are_alone_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, crew: Callable[[], Crew]
) -> None:
    X = designs()
    X[[5, 6, 31], 1] = 39.0
    study = small_study(tmp_path)
    expected = Formula(study).evaluate(X)
    monkeypatch.setattr("ridefront.run.workers.Evaluator", faulty.Raising)
    with Workers(study, crew()) as pool:
        found, P = pool.evaluate_with_parts(X)
        assert pool.faults == {"raised: ZeroDivisionError: a stiff spring": 3}
        (alone,) = pool.evaluate(X[5:6]).status
    bad = np.zeros(len(X), dtype=bool)
    bad[[5, 6, 31]] = True
    assert (found.status[bad] == STATUS.index("raised")).all()
    assert STATUS[alone] == "raised"
    for figures in (found.values, P, found.violation):
        assert np.isnan(figures[bad]).all()
    assert found.values[~bad].tobytes() == expected.values[~bad].tobytes()
    assert (found.status[~bad] == expected.status[~bad]).all()


def test_a_bug_in_a_process_comes_out_with_its_history(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", faulty.RaisingAlways)
    with (
        Workers(small_study(tmp_path), Processes(1)) as pool,
        pytest.raises(ZeroDivisionError, match="a bug") as caught,
    ):
        pool.evaluate(designs(2))
    assert "faulty.py" in "".join(caught.value.__notes__)


def test_no_room_for_kernels_is_nobodys_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", faulty.Full)
    with Workers(small_study(tmp_path), 2) as pool, pytest.raises(ResultError, match=r"kernel\.nbi: .*No space left"):
        pool.evaluate(designs())


class Deadly(Threads):
    """Workers that die over the stiffest springs, and take work beside it with them."""

    def answers(self, job: Job, works: Sequence[Work]) -> list[Answer]:
        if any((work.X[:, 1] == 40.0).any() for work in works):
            return [Lost() for _ in works]
        return super().answers(job, works)


def test_a_design_that_kills_is_alone_in_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    X = designs()
    X[[2, 30], 1] = 40.0
    good = np.delete(np.arange(len(X)), [2, 30])
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    study = small_study(tmp_path)
    with Workers(study, Deadly(2)) as pool:
        found = pool.evaluate(X)
        assert pool.faults == {"worker-lost": 2}
    assert [STATUS[code] for code in found.status[[2, 30]]] == ["worker-lost"] * 2
    assert np.isnan(found.values[[2, 30]]).all()
    assert found.values[good].tobytes() == Formula(study).evaluate(X[good]).values.tobytes()


def test_workers_that_always_die_end_the_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    X = designs(5)
    X[:, 1] = 40.0
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    with (
        Workers(small_study(tmp_path), Deadly(1)) as pool,
        pytest.raises(ResultError, match="lost, killed or out of memory, over each of 5"),
    ):
        pool.evaluate(X)


def test_a_run_whose_worker_is_killed_ends_as_if_it_had_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = small_study(tmp_path)
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    whole = run_study(study, tmp_path / "whole", workers=1)
    monkeypatch.setattr("ridefront.run.workers.Evaluator", faulty.KillingOnce)
    other = small_study(tmp_path, ("[search]", '[compute]\nkind = "processes"\nworkers = 2\n[search]'))
    assert (other.kind, other.workers) == ("processes", 2)
    result = run_study(other, tmp_path / "out")
    assert (tmp_path / "killed").exists()
    assert_same_results(result.folder, whole.folder)


def test_kill_9_of_a_worker_from_outside(tmp_path: Path) -> None:
    """Killed between two blocks, so that the pool is found broken when work is handed out."""
    study = small_study(tmp_path)
    X = decode(study, np.random.default_rng(1).random((40, 3)))
    before = children()
    with Workers(study, Processes(1)) as pool:
        one = pool.evaluate(X)
        (worker,) = children() - before
        os.kill(worker, signal.SIGKILL)
        deadline = time.monotonic() + 20
        while worker in children() and time.monotonic() < deadline:
            time.sleep(0.02)
        two = pool.evaluate(X)
        assert not pool.faults
    assert one.values.tobytes() == two.values.tobytes()


def test_faults_of_earlier_calls_are_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", faulty.Raising)
    monkeypatch.setattr("ridefront.run.loop.preflight", lambda study, pool: ())
    study = small_study(tmp_path)
    whole = run_study(study, tmp_path / "whole", workers=1)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=2))
    before = read_record(tmp_path / "out" / "corner" / "run.json")["faults"]
    after = read_record(run_study(study, tmp_path / "out", workers=1).folder / "run.json")["faults"]
    assert sum(before.values()) > 0
    assert after == read_record(whole.folder / "run.json")["faults"]
