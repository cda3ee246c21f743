"""A real dask scheduler and two worker processes of this machine."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from clusters import cluster, free_port
from ridefront.errors import CallError
from ridefront.run import Snapshot, run_study
from small_runs import AUTO, Collector, assert_same_results, small_study

pytest.importorskip("distributed", reason="no cluster is tested: the extra ridefront[cluster] is not installed")


class Killer(Collector):
    """Kills a worker of the cluster after some blocks."""

    def __init__(self, victim: subprocess.Popen[bytes]) -> None:
        super().__init__()
        self.victim = victim

    def update(self, snapshot: Snapshot) -> None:
        super().update(snapshot)
        if len(self.seen) == 4:
            self.victim.send_signal(signal.SIGKILL)


def test_a_run_on_a_cluster_that_loses_a_worker_has_the_bits_of_a_run_at_home(tmp_path: Path) -> None:
    study = small_study(tmp_path, *AUTO)
    whole = run_study(study, tmp_path / "whole", workers=1)
    with cluster(tmp_path) as (address, workers):
        wait_for(address, 2)
        progress = Killer(workers[0])
        result = run_study(study, tmp_path / "out", cluster=address, progress=progress)
        assert workers[0].wait() == -signal.SIGKILL
    assert result.workers == 2
    assert_same_results(result.folder, whole.folder)


def wait_for(address: str, count: int) -> None:
    from distributed import Client

    deadline = time.monotonic() + 60
    while True:
        try:
            with Client(address, timeout=5, set_as_default=False) as client:
                client.wait_for_workers(count, timeout=60)
                return
        except OSError:
            assert time.monotonic() < deadline


def test_no_scheduler_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.crew.CONNECT", 1)
    address = f"tcp://127.0.0.1:{free_port()}"
    with pytest.raises(CallError, match=rf"cluster {address}: no scheduler answers there within 1 s"):
        run_study(small_study(tmp_path), tmp_path / "out", cluster=address)
    with pytest.raises(CallError, match="cluster nonsense"):
        run_study(small_study(tmp_path), tmp_path / "out", cluster="nonsense")
    with pytest.raises(CallError, match="workers: 3; a cluster has workers of its own"):
        run_study(small_study(tmp_path), tmp_path / "out", cluster=address, workers=3)
    assert not (tmp_path / "out").exists()


def test_the_extra_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(CallError, match=r"(?s)package distributed is not installed.*ridefront\[cluster\]"):
        run_study(small_study(tmp_path), tmp_path / "out", cluster="tcp://127.0.0.1:1")
