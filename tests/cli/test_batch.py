"""A night's batch: what fails does not keep the others waiting, and what became of each is on disk at any moment."""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import ridefront
from commands import Call, caller
from ridefront.errors import Terminated
from ridefront.evaluate import Domain, Evaluation
from ridefront.results import read_front
from ridefront.results.lock import locked
from small_runs import TEXT, Array, Formula, assert_same_results, small_study

BRIEF = (("sample = 64", "sample = 16"), ("generations = 4", "generations = 1"))
HOPELESS = (("at_least = 1.0", "at_least = 7.0"), ("at_most = 1.6", "at_most = 7.1"))


class Stormy(Formula):
    """Interrupted in studies that are called so, once the preliminaries are over."""

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        title = self.study.title
        if len(X) == 1:  # the run begins with the present setup
            if title == "Ctrl-C":
                raise KeyboardInterrupt
            if title == "SIGTERM":
                raise Terminated
        return super().evaluate(X, domain)


def drawn(study: ridefront.Study, folder: Path) -> None:
    """Draws nothing, and goes wrong in studies that are called so."""
    if study.title == "memory":
        raise MemoryError("unable to allocate 9 GiB")
    if study.title == "bug":
        raise ZeroDivisionError("of a spring by nothing")


@pytest.fixture(autouse=True)
def stormy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Stormy)
    monkeypatch.setattr("ridefront.report.after_run.picture_after_run", drawn)


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Calls ``ridefront run``: exit status, stdout, stderr."""
    return caller(capsys, monkeypatch, "run")


def studies(folder: Path, **titles: str) -> Path:
    """A folder of small studies by the names of their files, each called as said; "hopeless" has no feasible design."""
    inside = folder / "night"
    inside.mkdir(exist_ok=True)
    for name, title in titles.items():
        more = HOPELESS if title == "hopeless" else ()
        small_study(inside, *BRIEF, *more, ("Corner for tests", title), name=f"{name}.toml")
    return inside


def summary(output: Path) -> dict[str, dict[str, Any]]:
    """Entries of batch.json by the name of the study's folder."""
    record = json.loads((output / "batch.json").read_text(encoding="utf-8"))
    return {Path(entry["folder"]).name: entry for entry in record["studies"]}


def states(output: Path) -> dict[str, tuple[str, int | None]]:
    return {name: (entry["state"], entry["status"]) for name, entry in summary(output).items()}


def test_what_fails_does_not_keep_the_others_waiting(call: Call, tmp_path: Path) -> None:
    folder, output = studies(tmp_path, a="good", b="bug", c="hopeless", d="memory", e="alien", f="fine"), tmp_path / "o"
    (output / "e").mkdir(parents=True)
    (output / "e" / "holiday.jpg").touch()
    status, out, err = call(folder, "--output", output, "--workers", "1")
    assert status == 1
    assert states(output) == {
        "a": ("done", 0),
        "b": ("failed", 1),
        "c": ("infeasible", 3),
        "d": ("failed", 1),
        "e": ("failed", 1),
        "f": ("done", 0),
    }
    entries = summary(output)
    assert (entries["a"]["evaluations"], entries["a"]["added"]) == (33, 33), "1 present, 16 sampled, 16 evolved"
    assert entries["a"]["front"] == len(read_front(output / "a"))
    assert "holiday.jpg" in entries["e"]["error"]
    assert "out of memory: unable to allocate 9 GiB" in entries["d"]["error"]
    log = output / "b.traceback.txt"
    assert entries["b"]["log"] == str(log)
    assert "ZeroDivisionError: of a spring by nothing" in log.read_text(encoding="utf-8")
    assert not (output / "d.traceback.txt").exists(), "that is foreseen"
    assert "Traceback (most" not in err + out
    table = out[out.index("6 studies") :]
    assert [line.split()[0] for line in table.splitlines()[3:9]] == list("abcdef")
    assert "b: " in table
    assert "an error of the program: ZeroDivisionError" in table
    assert "study 6 of 6" in err


def test_an_error_of_the_program_in_a_single_study_keeps_its_traceback(call: Call, tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError):
        call(studies(tmp_path, b="bug") / "b.toml", "--output", tmp_path / "o", "--workers", "1")
    assert not (tmp_path / "o" / "batch.json").exists()


@pytest.mark.parametrize(
    ("titles", "status"),
    [({"a": "good", "b": "fine"}, 0), ({"a": "hopeless", "b": "fine"}, 3), ({"a": "memory", "b": "hopeless"}, 1)],
)
def test_exit_status(call: Call, tmp_path: Path, titles: dict[str, str], status: int) -> None:
    folder = studies(tmp_path, **titles)
    assert call(folder, "--output", tmp_path / "o", "--workers", "1")[0] == status
    assert json.loads((tmp_path / "o" / "batch.json").read_text())["status"] == status


def test_a_study_that_cannot_make_a_front_is_refused_and_the_next_one_runs(call: Call, tmp_path: Path) -> None:
    folder = studies(tmp_path, a="good", b="fine")
    one = (folder / "a.toml").read_text(encoding="utf-8")
    twice = one.replace('criterion = "dynamic_load_coefficient"', 'criterion = "comfort"\nover = "worst"')
    (folder / "a.toml").write_text(twice, encoding="utf-8")  # of one formula: ranks designs alike
    status, out, _ = call(folder, "--output", tmp_path / "o", "--workers", "1")
    assert (status, states(tmp_path / "o")) == (1, {"a": ("refused", 2), "b": ("done", 0)})
    assert call(folder / "a.toml", "--output", tmp_path / "o")[0] == 2, "by itself"
    assert "refused" in out


@pytest.mark.parametrize(("title", "status"), [("Ctrl-C", 130), ("SIGTERM", 143)])
def test_an_interrupt_ends_the_batch_and_the_same_call_goes_on(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, title: str, status: int
) -> None:
    folder, output = studies(tmp_path, a="good", b=title, c="fine"), tmp_path / "o"
    ended, out, err = call(folder, "--output", output, "--workers", "1")
    assert ended == status
    assert states(output) == {"a": ("done", 0), "b": ("interrupted", status), "c": ("not begun", None)}
    assert summary(output)["b"]["evaluations"] == 0
    assert "goes on from here" in err
    assert "not begun" in out
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    ended, out, _ = call(folder, "--output", output, "--workers", "1")
    assert ended == 0
    assert states(output) == {"a": ("finished before", 0), "b": ("done", 0), "c": ("done", 0)}
    assert f"{output / 'a'}: finished before; nothing to do" in out.replace("\n", "")
    call(folder, "--output", tmp_path / "whole", "--workers", "1")
    for name in "abc":
        assert_same_results(output / name, tmp_path / "whole" / name)
    ended, out, _ = call(folder, "--output", output, "--workers", "1")
    assert (ended, {state for state, _ in states(output).values()}) == (0, {"finished before"})


KILLED = """
import time
import ridefront.run.workers as workers
from small_runs import Formula

class Slow(Formula):
    def evaluate(self, X, domain=None):
        time.sleep(0.05 if self.study.title == "slow" else 0.0)
        return super().evaluate(X, domain)

workers.Evaluator = Slow
import ridefront.report.after_run as after_run
after_run.picture_after_run = lambda study, folder: None
from ridefront.cli import main
main()
"""


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 143), (signal.SIGKILL, -signal.SIGKILL)])
def test_a_batch_killed_at_three_says_at_seven_what_was_done(
    call: Call, tmp_path: Path, number: signal.Signals, status: int
) -> None:
    folder, output = studies(tmp_path, a="good", b="slow", c="fine"), tmp_path / "o"
    text = (folder / "b.toml").read_text(encoding="utf-8")
    (folder / "b.toml").write_text(text.replace("generations = 1", "generations = 30"), encoding="utf-8")
    paths = os.pathsep.join((str(Path(ridefront.__file__).parents[1]), str(Path(__file__).parents[1])))
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED, "run", folder, "--output", output, "--workers", "1"],
        env={**os.environ, "PYTHONPATH": paths},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    deadline = time.monotonic() + 60
    while len(list((output / "b" / "evaluations").glob("part-*.parquet"))) < 4:
        assert process.poll() is None, process.stderr.read() if process.stderr else b""
        assert time.monotonic() < deadline
        time.sleep(0.02)
    process.send_signal(number)
    _, err = process.communicate(timeout=60)
    assert process.returncode == status, err
    left = "interrupted" if number == signal.SIGTERM else "running"
    assert {name: state for name, (state, _) in states(output).items()} == {"a": "done", "b": left, "c": "not begun"}
    done = summary(output)["b"]["evaluations"]
    assert (done is not None and 33 <= done < 17 + 30 * 16) == (number == signal.SIGTERM)
    assert call(folder, "--output", output, "--workers", "1")[0] == 0
    assert {name: state for name, (state, _) in states(output).items()} == {
        "a": "finished before",
        "b": "done",
        "c": "done",
    }


def test_the_summary_is_whole_while_a_study_runs(call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[list[str]] = []

    class Looking(Formula):
        def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
            if len(X) == 1:
                seen.append([state for state, _ in states(tmp_path / "o").values()])
            return super().evaluate(X, domain)

    monkeypatch.setattr("ridefront.run.workers.Evaluator", Looking)
    call(studies(tmp_path, a="one", b="two", c="three"), "--output", tmp_path / "o", "--workers", "1")
    assert seen == [
        ["running", "not begun", "not begun"],
        ["done", "running", "not begun"],
        ["done", "done", "running"],
    ]


def test_every_study_is_read_before_one_runs(call: Call, tmp_path: Path) -> None:
    folder = studies(tmp_path, a="good", b="fine", c="wrong")
    (folder / "c.toml").write_text(TEXT.replace("spring_rate", "spring_rat"), encoding="utf-8")
    again = studies(tmp_path / "night", a="same stem")
    status, _, err = call(folder, again, tmp_path / "none.toml", tmp_path, "--output", tmp_path / "o")
    assert status == 2
    for words in ("spring_rat", "same folder: a", "none.toml: no such file", "no study in it; allowed: a folder with"):
        assert words in err
    assert not (tmp_path / "o").exists()


def test_of_a_folder_the_studies_directly_in_it_run_in_the_order_of_their_names(call: Call, tmp_path: Path) -> None:
    folder = studies(tmp_path, b="second", a="first")
    studies(folder, z="deeper")
    (folder / "notes.txt").write_text("no study")
    (folder / "old.toml").mkdir()
    assert call(folder, "--output", tmp_path / "o", "--workers", "1")[0] == 0
    assert list(states(tmp_path / "o")) == ["a", "b"]


def share_of_box(F: Array, ideal: Array, reference: Array) -> float:
    """Dominated share of a box that may be left below its ideal: cell by cell between all figures that occur."""
    scaled = (F - ideal) / (reference - ideal)
    edges = [np.unique(np.append(scaled[:, j][scaled[:, j] < 1], 1.0)) for j in range(F.shape[1])]
    total = 0.0
    for i, x in enumerate(edges[0][:-1]):
        for j, y in enumerate(edges[1][:-1]):
            lower = scaled[(scaled[:, 0] <= x) & (scaled[:, 1] <= y), 2]
            area = (edges[0][i + 1] - x) * (edges[1][j + 1] - y)
            total += area * max(0.0, 1.0 - lower.min()) if len(lower) else 0.0
    return total


@pytest.mark.parametrize("change", [("generations = 1", "generations = 3"), ("seed = 5", "seed = 8")])
def test_hypervolumes_before_and_after_are_of_one_box(call: Call, tmp_path: Path, change: tuple[str, str]) -> None:
    """The earlier front's hypervolume in the new box, by a slow count of cells."""
    folder, output = studies(tmp_path, a="good", b="fine"), tmp_path / "o"
    call(folder, "--output", output, "--workers", "1")
    first, old = summary(output)["a"], read_front(output / "a")
    assert first["before"] is None
    text = (folder / "a.toml").read_text(encoding="utf-8")
    (folder / "a.toml").write_text(text.replace(*change), encoding="utf-8")
    anew = ["--overwrite"] if change[0].startswith("seed") else []
    _, out, _ = call(folder, "--output", output, "--workers", "1", *anew)
    entry = summary(output)["a"]
    box = json.loads((output / "a" / "run.json").read_text())["hypervolume_box"]
    signs = {"comfort": 1, "dynamic_load_coefficient": 1, "bump_reserve": -1}
    F = np.stack([sign * old[name].to_numpy() for name, sign in signs.items()], axis=1)
    ideal, reference = (np.array([sign * box[end][name] for name, sign in signs.items()]) for end in box)
    assert entry["before"] == pytest.approx(share_of_box(F, ideal, reference), rel=1e-9)
    assert entry["same_figures"] is True
    if anew:
        assert entry["before"] != first["hypervolume"], "another sample makes another box"
    else:
        assert entry["before"] == first["hypervolume"] <= entry["hypervolume"]
        assert summary(output)["b"]["state"] == "finished before"
    assert f"{entry['before']:.4f} to {entry['hypervolume']:.4f}" in out


def test_nothing_is_compared_where_the_objectives_are_others(call: Call, tmp_path: Path) -> None:
    folder, output = studies(tmp_path, a="good", b="fine"), tmp_path / "o"
    call(folder, "--output", output, "--workers", "1")
    for name, old, new in (
        ("a", '[[objective]]\ncriterion = "bump_reserve"\n', ""),
        ("b", 'friction = "40 N"', 'friction = "45 N"'),
    ):
        text = (folder / f"{name}.toml").read_text(encoding="utf-8")
        assert old in text
        (folder / f"{name}.toml").write_text(text.replace(old, new), encoding="utf-8")
    _, out, _ = call(folder, "--output", output, "--workers", "1", "--overwrite")
    entries = summary(output)
    assert entries["a"]["before"] is None
    assert (entries["b"]["before"], entries["b"]["same_figures"]) == (entries["b"]["hypervolume"], False)
    assert "not what they were" in out


def test_a_summary_that_cannot_be_written_is_said_before_anything_runs(call: Call, tmp_path: Path) -> None:
    folder, output = studies(tmp_path, a="good", b="fine"), tmp_path / "o"
    (output / "batch.json").mkdir(parents=True)
    status, out, err = call(folder, "--output", output, "--workers", "1")
    assert (status, out) == (1, "")
    assert "batch.json: cannot be written" in err
    assert not (output / "a").exists()
    (tmp_path / "file").touch()
    status, _, err = call(folder, "--output", tmp_path / "file", "--workers", "1")
    assert status == 1
    assert "file: cannot be used as the folder of a batch" in err


def test_two_batches_in_one_folder_are_not_mixed(call: Call, tmp_path: Path) -> None:
    folder, output = studies(tmp_path, a="good", b="fine"), tmp_path / "o"
    output.mkdir()
    lock = locked(output / ".lock")
    status, _, err = call(folder, "--output", output)
    assert status == 1
    assert f"in use by another run (process {os.getpid()} on" in err
    os.close(lock)
    assert call(folder, "--output", output, "--workers", "1")[0] == 0


def test_a_disk_that_is_full_for_one_study_is_said_and_the_next_one_runs(call: Call, tmp_path: Path) -> None:
    """A limit on the size of a file stands for a full disk: the system refuses to write on."""
    folder, output = studies(tmp_path, a="large", b="fine"), tmp_path / "o"
    text = (folder / "a.toml").read_text(encoding="utf-8")
    (folder / "a.toml").write_text(text.replace("sample = 16", "sample = 4096"), encoding="utf-8")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, before[1]))
    try:
        status, _, err = call(folder, "--output", output, "--workers", "1")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert (status, states(output)) == (1, {"a": ("failed", 1), "b": ("done", 0)})
    assert "cannot be written: File too large" in summary(output)["a"]["error"]
    assert "Traceback" not in err
    assert call(folder, "--output", output, "--workers", "1")[0] == 0
    assert {name: state for name, (state, _) in states(output).items()} == {"a": "done", "b": "finished before"}


def test_a_run_that_only_had_to_be_closed_was_not_finished_before(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed when all designs were stored and nothing else was written."""
    study = small_study(tmp_path, *BRIEF)
    assert call(study.path, "--output", str(tmp_path / "out"))[0] == 0
    front = tmp_path / "out" / "corner" / "front.parquet"
    front.unlink()
    status, out, _ = call(study.path, "--output", str(tmp_path / "out"))
    assert (status, front.is_file()) == (0, True)
    assert "finished before" not in out
    status, out, _ = call(study.path, "--output", str(tmp_path / "out"))
    assert (status, "finished before; nothing to do" in out) == (0, True)


def test_a_study_that_starts_with_what_the_same_call_will_change_is_pointed_out(call: Call, tmp_path: Path) -> None:
    first = small_study(tmp_path, *BRIEF, name="first.toml")
    output = tmp_path / "out"
    assert call(first.path, "--output", str(output))[0] == 0
    start = ("generations = 1", 'generations = 1\nstart = "out/first"')
    second = small_study(tmp_path, *BRIEF, start, name="second.toml")
    status, _, err = call(first.path, second.path, "--output", str(output))
    assert status == 0
    assert f"{second.path}: starts with out/first as it stands now, not as {first.path} of the same call" in err
    assert "as it stands now" not in call(second.path, "--output", str(output))[2]
