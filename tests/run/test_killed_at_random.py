"""kill -9 at random instants, again and again in one folder, and then to the end: as if nothing had happened.

Twelve kills of runs with threads. With worker processes and a cluster, and more, by hand:

    KILLS=200 python -m pytest tests/run/test_killed_at_random.py -n 0 -s

`KILL_SEED` takes other instants. Workers that are killed: `test_workers_elsewhere` and `test_cluster`.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from contextlib import ExitStack, suppress
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

NURSERY = """
import os, sys, time
import ridefront.results.parts
from ridefront import read_study
from ridefront.run import run_study

class Slow:
    def update(self, snapshot):
        time.sleep(0.01)
    def note(self, text):
        pass
    def close(self):
        pass

ridefront.results.parts.ROWS = 150  # so that kills fall into packing too
run_study(read_study(sys.argv[1]), sys.argv[2], workers=1)  # everything is loaded and compiled once
print("ready", flush=True)
for line in sys.stdin:
    study, output, cluster = line.rstrip("\\n").split("\\t")
    child = os.fork()
    if not child:
        os.setsid()
        code = 1
        try:
            run_study(read_study(study), output, cluster=cluster or None, progress=Slow())
            code = 0
        finally:
            os._exit(code)
    print(child, flush=True)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
"""Forks a run for each line that it is given, says its process and, when it has ended, its status."""

COMPUTE = {
    "threads": "workers = 2\n",
    "processes": 'kind = "processes"\nworkers = 2\n',
    "cluster": "",
}


class Nursery:
    """Runs in processes of their own, forked from one that has everything loaded.

    Args:
        study: run once to load everything; folder: where to.
    """

    def __init__(self, study: Path, folder: Path) -> None:
        self._errors = (folder / "errors.txt").open("w+b")
        self._process = subprocess.Popen(
            [sys.executable, "-c", NURSERY, str(study), str(folder / "warm")],
            env={**os.environ, "PYTHONPATH": str(Path(ridefront.__file__).parents[1])},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._errors,
        )
        assert self.line() == "ready", self.errors()

    def begun(self, study: Path, output: Path, cluster: str) -> int:
        """The process of a run that has just begun."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{study}\t{output}\t{cluster}\n".encode())
        self._process.stdin.flush()
        return int(self.line())

    def ended(self) -> int:
        """The exit status of that run, once it has ended."""
        return int(self.line())

    def line(self) -> str:
        """The next line that the process writes."""
        assert self._process.stdout is not None
        return self._process.stdout.readline().decode().strip()

    def errors(self) -> str:
        """What was said of errors so far."""
        self._errors.seek(0)
        return self._errors.read().decode()

    def close(self) -> None:
        """Ends the process."""
        self._process.kill()
        self._process.communicate()
        self._errors.close()


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
    stored = names(folder) if (folder / "evaluations").is_dir() else []
    state = json.loads(record.read_text())["state"]
    packed = any("-" in name[5:] for name in stored)
    return f"{state}, {'packed parts' if packed else 'blocks' if stored else 'nothing'}"


@pytest.mark.parametrize(("kind", "kills"), [("threads", 12), ("processes", 0), ("cluster", 0)])
def test_a_run_killed_at_random_instants_is_whole_in_the_end(tmp_path: Path, kind: str, kills: int) -> None:
    if kind == "cluster":
        pytest.importorskip("distributed", reason="no cluster is tested: ridefront[cluster] is not installed")
    kills = KILLS or kills
    if not kills:
        pytest.skip("by hand, for its time: KILLS=100")
    study = small_study(tmp_path, *CHANGES, ("[search]", f"[compute]\n{COMPUTE[kind]}[search]"))
    instants = random.Random(f"{SEED} {kind}")
    with ExitStack() as stack:
        address = stack.enter_context(cluster(tmp_path))[0] if kind == "cluster" else ""
        nursery = Nursery(Path(small_study(tmp_path, *CHANGES, name="warm.toml").path), tmp_path)
        stack.callback(nursery.close)
        begin = time.monotonic()
        nursery.begun(Path(study.path), tmp_path / "first", address)
        assert nursery.ended() == 0, nursery.errors()
        lasts = time.monotonic() - begin
        whole = run_study(small_study(tmp_path, *CHANGES), tmp_path / "whole", workers=1)
        packed = tmp_path / "warm" / "warm"
        assert_same_results(packed, whole.folder)
        assert len(parts_of(packed)) < len(parts_of(whole.folder)) / 2
        hit: Counter[str] = Counter()
        for folder in count():
            output = tmp_path / f"killed {folder}"
            for _ in range(min(IN_ONE_FOLDER, kills - hit.total())):
                process = nursery.begun(Path(study.path), output, address)
                time.sleep(instants.uniform(0, 2 * lasts / IN_ONE_FOLDER))
                with suppress(ProcessLookupError):  # it has ended
                    os.kill(process, signal.SIGKILL)
                status = nursery.ended()
                wait_for_none_of(process)
                if status == 0:
                    break
                assert status == -signal.SIGKILL, nursery.errors()
                hit[standing(output / "corner")] += 1
            nursery.begun(Path(study.path), output, address)
            assert nursery.ended() == 0, nursery.errors()
            assert_same_results(output / "corner", whole.folder)
            assert names(output / "corner") == names(packed)
            assert not [file for file in (output / "corner").rglob("*") if file.name.endswith(".tmp")]
            shutil.rmtree(output)
            if hit.total() == kills:
                break
    assert hit.keys() & {"running, blocks", "running, packed parts"}
    print(f"\n{kind}: {hit.total()} kills of runs of {lasts:.1f} s: {dict(hit)}")
