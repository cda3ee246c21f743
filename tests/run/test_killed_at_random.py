"""kill -9 at random instants, again and again in one folder, and then to the end: as if nothing had happened.

Twelve kills with threads and a few with worker processes and a cluster. More by hand:

    KILLS=200 python -m pytest tests/run/test_killed_at_random.py -n 0 -s

`KILL_SEED` takes other instants.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from contextlib import ExitStack
from itertools import count
from pathlib import Path

import pytest

import ridefront
from clusters import cluster
from ridefront.run import run_study
from small_runs import assert_same_results, parts_of, small_study

KILLS = int(os.environ.get("KILLS", "0"))
SEED = int(os.environ.get("KILL_SEED", "1"))
IN_ONE_FOLDER = 4
"""Kills, one after another, before a run is let go to its end."""

CHANGES = (
    ("population = 16", "population = 12"),
    ("generations = 4", "generations = 12"),
    ("refine = 0", "refine = 60"),
)

CALL = """
import sys, time
import ridefront.results.parts
from ridefront import read_study
from ridefront.run import run_study

ridefront.results.parts.ROWS = 60  # so that kills fall into packing too
study, output, cluster = sys.argv[1:]

class Slow:
    def update(self, snapshot):
        time.sleep(0.01)
    def note(self, text):
        pass
    def close(self):
        pass

print("begins", flush=True)
run_study(read_study(study), output, cluster=cluster or None, progress=Slow())
"""

COMPUTE = {
    "threads": "workers = 2\n",
    "processes": 'kind = "processes"\nworkers = 2\n',
    "cluster": "",
}


def begun(study: Path, output: Path, address: str) -> subprocess.Popen[bytes]:
    """A run in a process of its own, once it has loaded what it needs."""
    process = subprocess.Popen(
        [sys.executable, "-c", CALL, str(study), str(output), address],
        env={**os.environ, "PYTHONPATH": str(Path(ridefront.__file__).parents[1])},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    assert process.stdout is not None
    process.stdout.readline()
    return process


def others(session: int) -> set[int]:
    """Processes of a session that are alive."""
    found = set()
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(fields[3]) == session and fields[0] != "Z":
                found.add(int(entry.name))
    return found


def wait_for_none_of(session: int) -> None:
    """A run's worker processes leave when it is dead."""
    deadline = time.monotonic() + 30
    while others(session):
        assert time.monotonic() < deadline, f"still there: {others(session)}"
        time.sleep(0.05)


def names(folder: Path) -> list[str]:
    return [file.name for file in parts_of(folder)]


def standing(folder: Path) -> str:
    """What a kill has left."""
    record = folder / "run.json"
    if not record.is_file():
        return "not begun"
    stored = parts_of(folder) if (folder / "evaluations").is_dir() else []
    state = json.loads(record.read_text())["state"]
    packed = any("-" in name[5:] for name in names(folder))
    return f"{state}, {'packed parts' if packed else 'blocks' if stored else 'nothing'}"


@pytest.mark.parametrize(("kind", "kills"), [("threads", 12), ("processes", 4), ("cluster", 4)])
def test_a_run_killed_at_random_instants_is_whole_in_the_end(tmp_path: Path, kind: str, kills: int) -> None:
    if kind == "cluster":
        pytest.importorskip("distributed", reason="no cluster is tested: ridefront[cluster] is not installed")
    kills = KILLS or kills
    study = small_study(tmp_path, *CHANGES, ("[search]", f"[compute]\n{COMPUTE[kind]}[search]"))
    instants = random.Random(f"{SEED} {kind}")
    with ExitStack() as stack:
        address = stack.enter_context(cluster(tmp_path))[0] if kind == "cluster" else ""
        first = begun(Path(study.path), tmp_path / "first", address)
        begin = time.monotonic()
        _, errors = first.communicate()
        assert first.returncode == 0, errors
        lasts = time.monotonic() - begin
        whole = run_study(small_study(tmp_path, *CHANGES), tmp_path / "whole", workers=1)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("ridefront.results.parts.ROWS", 60)
            packed = run_study(small_study(tmp_path, *CHANGES), tmp_path / "packed", workers=1)
        assert_same_results(packed.folder, whole.folder)
        assert len(parts_of(packed.folder)) < len(parts_of(whole.folder)) / 3
        hit: Counter[str] = Counter()
        for folder in count():
            output = tmp_path / f"killed {folder}"
            for _ in range(min(IN_ONE_FOLDER, kills - hit.total())):
                process = begun(Path(study.path), output, address)
                time.sleep(instants.uniform(0, 2 * lasts / IN_ONE_FOLDER))
                process.send_signal(signal.SIGKILL)
                _, errors = process.communicate()
                wait_for_none_of(process.pid)
                if process.returncode == 0:
                    break
                assert process.returncode == -signal.SIGKILL, errors
                hit[standing(output / "corner")] += 1
            process = begun(Path(study.path), output, address)
            _, errors = process.communicate()
            assert process.returncode == 0, errors
            assert_same_results(output / "corner", whole.folder)
            assert [file.name for file in parts_of(output / "corner")] == [
                file.name for file in parts_of(packed.folder)
            ]
            assert not [file for file in (output / "corner").rglob("*") if file.name.endswith(".tmp")]
            if hit.total() == kills:
                break
    print(f"\n{kind}: {hit.total()} kills of runs of {lasts:.1f} s: {dict(hit)}")
