"""What a machine does to a run: full disks, folders that cannot be written, signals while processes work."""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import ridefront
from ridefront.errors import ResultError
from ridefront.results import read_evaluations, read_progress
from ridefront.run import run_study
from small_runs import Formula, assert_same_results, parts_of, small_study

ENVIRONMENT = {**os.environ, "PYTHONPATH": str(Path(ridefront.__file__).parents[1])}

COMMAND = "from ridefront.cli import main; main()"

NARROW = """
import resource, sys
from ridefront.cli import main
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv.pop(1)), resource.RLIM_INFINITY))
main()
"""


@pytest.mark.parametrize("room", [2_000, 18_000])
def test_a_full_disk_is_named_and_the_run_goes_on(tmp_path: Path, room: int) -> None:
    """No file may be larger than the record, or than the sample's block: the system refuses to write on."""
    study = small_study(tmp_path, ("sample = 64", "sample = 1024"))
    arguments = ["run", study.path, "--output", str(tmp_path / "out"), "--workers", "1"]
    whole = run_study(study, tmp_path / "whole", workers=1)  # kernels are compiled behind this
    found = subprocess.run(
        [sys.executable, "-c", NARROW, str(room), *arguments], env=ENVIRONMENT, capture_output=True, text=True
    )
    assert found.returncode == 1, found.stderr
    assert "cannot be written: File too large\n  Make room and call again" in found.stderr
    assert "Traceback" not in found.stderr
    folder = tmp_path / "out" / "corner"
    assert not [file for file in folder.rglob("*") if file.name.endswith(".tmp")]
    if room > 10_000:
        assert len(read_evaluations(folder)) == 1  # today's setup; the sample did not fit
    assert_same_results(run_study(study, tmp_path / "out", workers=1).folder, whole.folder)


@pytest.mark.parametrize("place", ["out", "out/corner", "out/corner/evaluations"])
def test_a_file_in_the_way_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: str) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    file = tmp_path / place
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text("mine")
    with pytest.raises(ResultError, match=str(tmp_path / "out")):
        run_study(small_study(tmp_path), tmp_path / "out", workers=1)
    assert file.read_text() == "mine"


def of_session(session: int) -> list[int]:
    """Processes of a session that are not zombies, by what the kernel says."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(fields[3]) == session and fields[0] != "Z":
                found.append(int(entry.name))
    return found


@pytest.mark.parametrize(
    ("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGKILL, -signal.SIGKILL)]
)
def test_signals_leave_no_process_behind(tmp_path: Path, number: signal.Signals, status: int) -> None:
    study = small_study(
        tmp_path,
        ("generations = 4", "generations = 2000"),
        ("[search]", '[compute]\nkind = "processes"\nworkers = 2\n[search]'),
    )
    folder = tmp_path / "out" / "corner"
    process = subprocess.Popen(
        [sys.executable, "-c", COMMAND, "run", study.path, "--output", str(tmp_path / "out")],
        env=ENVIRONMENT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    deadline = time.monotonic() + 120
    while not (folder / "evaluations").is_dir() or len(parts_of(folder)) < 4:
        assert process.poll() is None, process.stderr.read() if process.stderr else b""
        assert time.monotonic() < deadline
        time.sleep(0.02)
    assert len(of_session(process.pid)) >= 3
    if number == signal.SIGINT:
        os.killpg(process.pid, number)  # as a terminal does it
    else:
        process.send_signal(number)
    _, errors = process.communicate(timeout=60)
    assert process.returncode == status, errors
    while of_session(process.pid):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    assert len(read_evaluations(folder)) == 1 + 64 + 16 * (len(parts_of(folder)) - 2)


def test_a_clock_that_jumps_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The wall clock goes back by an hour, and on by a day, whenever it is looked at: figures and durations stay."""
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    study = small_study(tmp_path, ("refine = 0", "refine = 0\nuntil.seconds = 3600"))
    whole = run_study(study, tmp_path / "whole", workers=1)
    now, jumps = time.time(), itertools.cycle([-3600.0, 86400.0])
    monkeypatch.setattr(time, "time", lambda: now + next(jumps))
    jumped = run_study(study, tmp_path / "jumped", workers=1)
    assert jumped.stopped == whole.stopped == "all generations done"
    assert_same_results(jumped.folder, whole.folder)
    seconds = read_progress(jumped.folder)["seconds"]
    assert ((seconds >= 0) & (seconds < 3000)).all()
