"""A run's folder: one run at a time, and nothing mixed with it that does not belong."""

from __future__ import annotations

import json
import multiprocessing
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np
import pytest

from ridefront.errors import ResultError
from ridefront.results.batch import Asking, Batch, batch_of
from ridefront.results.folder import RunFolder
from ridefront.study import Study, read_study
from ridefront.study.space import decode
from small_runs import GENERATIONS, Formula, parts_of, small_study


def block(study: Study, start: int, n: int = 20) -> Batch:
    X = decode(study, np.random.default_rng(start).random((n, 3)))
    return batch_of(start, Asking("sample", 0, "frequency-domain", None), X, Formula(study).evaluate(X), 0.5)


def stored(study: Study, output: Path, blocks: int = 3) -> Path:
    """A folder with some blocks in it, as a killed run leaves it."""
    with RunFolder(study, output) as folder:
        folder.begin(1)
        for k in range(blocks):
            folder.append(block(study, 20 * k))
        return folder.path


def test_blocks_come_back_in_order(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    path = stored(study, tmp_path / "out", blocks=11)
    assert path == tmp_path / "out" / "corner"
    assert [part.name for part in parts_of(path)] == [f"part-{k:06d}.parquet" for k in range(11)]
    with RunFolder(study, tmp_path / "out") as folder:
        assert folder.blocks == 11
        for k, batch in enumerate(folder.batches()):
            assert batch.X.tobytes() == block(study, 20 * k).X.tobytes()
            assert (batch.start, batch.seconds) == (20 * k, 0.5)
    assert (path / "study.toml").read_bytes() == study.text


def hold(file: str, output: str, pipe: Connection) -> None:
    with RunFolder(read_study(file), Path(output)):
        pipe.send("held")
        pipe.recv()


def test_a_second_run_is_refused_until_the_first_is_over(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    ours, theirs = multiprocessing.Pipe()
    other = multiprocessing.get_context("spawn").Process(target=hold, args=(study.path, str(tmp_path / "out"), theirs))
    other.start()
    assert ours.recv() == "held"
    with pytest.raises(ResultError, match=rf"corner: in use by another run \(process {other.pid} on "):
        RunFolder(study, tmp_path / "out")
    ours.send("over")
    other.join()
    with (
        RunFolder(study, tmp_path / "out"),
        pytest.raises(ResultError, match="in use by another run"),
    ):
        RunFolder(study, tmp_path / "out", overwrite=True)
    RunFolder(study, tmp_path / "out").close()


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (('friction = "40 N"', 'friction = "41 N"'), "fixed: front.friction"),
        (("seed = 5", "seed = 6"), "seed"),
        (('high = "40 N/mm"', 'high = "41 N/mm"'), "variables"),
        (('class = "C"', 'class = "D"'), "roads"),
        (("at_most = 1.6", "at_most = 1.7"), "constraints"),
        (("population = 16", "population = 18"), "population"),
        (('front.damping = "1900 N*s/m"', 'front.damping = "1901 N*s/m"'), "present"),
    ],
)
def test_another_study_is_refused_and_the_difference_named(tmp_path: Path, change: tuple[str, str], named: str) -> None:
    path = stored(small_study(tmp_path), tmp_path / "out")
    with pytest.raises(ResultError) as caught:
        RunFolder(small_study(tmp_path, change), tmp_path / "out")
    assert str(path) in caught.value.message
    assert f"({named})" in caught.value.message
    assert "--overwrite" in caught.value.hint
    assert "--output" in caught.value.hint


def test_other_words_for_the_same_study_go_on(tmp_path: Path) -> None:
    stored(small_study(tmp_path), tmp_path / "out")
    same = small_study(
        tmp_path, ("Corner for tests", "Another title"), ('"40 N"', "40"), (GENERATIONS, "generations = 9")
    )
    with RunFolder(same, tmp_path / "out") as folder:
        assert folder.blocks == 3
        assert not folder.finished


def test_another_engine_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = small_study(tmp_path)
    stored(study, tmp_path / "out")
    monkeypatch.setattr("ridefront.results.record.engine_digest", lambda: "changed")
    monkeypatch.setattr("ridefront.results.record.figures_digest", lambda study: "changed")
    with pytest.raises(ResultError, match=r"before a change \(the engine that works figures out\)"):
        RunFolder(study, tmp_path / "out")


def test_folder_with_files_and_no_run_is_refused(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    inside = tmp_path / "out" / "corner"
    inside.mkdir(parents=True)
    (inside / "thesis.txt").write_text("mine")
    for overwrite in (False, True):
        with pytest.raises(ResultError, match=r"holds files that no run wrote, and no run\.json \(thesis\.txt\)"):
            RunFolder(study, tmp_path / "out", overwrite=overwrite)
    assert (inside / "thesis.txt").read_text() == "mine"


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", '{"state": "done"}', '{"name": "app", "version": 1}'])
def test_foreign_record_is_refused(tmp_path: Path, text: str) -> None:
    study = small_study(tmp_path)
    inside = tmp_path / "out" / "corner"
    inside.mkdir(parents=True)
    (inside / "run.json").write_text(text)
    for overwrite in (False, True):
        with pytest.raises(ResultError, match=r"run\.json: damaged, or not written by a run"):
            RunFolder(study, tmp_path / "out", overwrite=overwrite)
    assert (inside / "run.json").read_text() == text


def test_output_that_is_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(ResultError, match="cannot be used as a run's folder"):
        RunFolder(small_study(tmp_path), tmp_path / "out")


def test_missing_part_is_named(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    path = stored(study, tmp_path / "out")
    parts_of(path)[1].unlink()
    with pytest.raises(ResultError, match=r"part-000001\.parquet: missing, while part-000002\.parquet is there"):
        RunFolder(study, tmp_path / "out")


def test_foreign_file_among_the_parts_is_named(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    path = stored(study, tmp_path / "out")
    (path / "evaluations" / "extra.parquet").write_bytes(b"")
    with pytest.raises(ResultError, match=r"extra\.parquet: foreign"):
        RunFolder(study, tmp_path / "out")
    with pytest.raises(ResultError, match=r"extra\.parquet: foreign"):
        RunFolder(study, tmp_path / "out", overwrite=True)
    assert len(parts_of(path)) == 3


def test_parts_of_another_run_are_named(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    path = stored(study, tmp_path / "out")
    other = stored(small_study(tmp_path, ("seed = 5", "seed = 6")), tmp_path / "other")
    parts_of(path)[2].write_bytes(parts_of(other)[2].read_bytes())
    study = small_study(tmp_path)
    with (
        pytest.raises(ResultError, match=r"part-000002\.parquet: foreign: it is of another study"),
        RunFolder(study, tmp_path / "out") as folder,
    ):
        list(folder.batches())
    parts_of(path)[2].write_bytes(parts_of(path)[1].read_bytes())
    with (
        pytest.raises(ResultError, match=r"part-000002\.parquet: foreign: its first design is 20, 40 comes next"),
        RunFolder(study, tmp_path / "out") as folder,
    ):
        list(folder.batches())


def test_parts_with_other_columns_are_named(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    path = stored(study, tmp_path / "out")
    fewer = small_study(tmp_path, ('[[objective]]\ncriterion = "bump_reserve"\n', ""))
    other = stored(fewer, tmp_path / "other")
    parts_of(path)[1].write_bytes(parts_of(other)[1].read_bytes())
    with (
        pytest.raises(ResultError, match=r"part-000001\.parquet: foreign: .*\(bump_reserve\)"),
        RunFolder(small_study(tmp_path), tmp_path / "out") as folder,
    ):
        list(folder.batches())


def test_what_a_kill_left_half_written_is_removed_and_nothing_else(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    path = stored(study, tmp_path / "out")
    half = [path / ".run.json.tmp", path / "evaluations" / ".part-000003.parquet.tmp"]
    mine = path / ".mine.tmp"
    for file in (*half, mine):
        file.write_bytes(b"half")
    with RunFolder(study, tmp_path / "out") as folder:
        assert folder.blocks == 3
    assert not any(file.exists() for file in half)
    assert mine.exists()


def test_overwrite_deletes_what_a_run_writes_and_nothing_else(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    path = stored(study, tmp_path / "out")
    for name in ("report.html", "setup_a.md", "front.png", "front.parquet"):
        (path / name).write_text("for people")
    with RunFolder(small_study(tmp_path, ("seed = 5", "seed = 6")), tmp_path / "out", overwrite=True) as folder:
        assert (folder.blocks, folder.earlier) == (0, None)
    left = {file.name for file in path.rglob("*") if file.is_file()}
    assert left == {"setup_a.md", ".lock"}


def test_first_start_is_remembered(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    path = stored(study, tmp_path / "out")
    record = json.loads((path / "run.json").read_text())
    record["timings"]["first_started"] = "2024-01-31T22:00:00+0100"
    (path / "run.json").write_text(json.dumps(record))
    with RunFolder(study, tmp_path / "out") as folder:
        again = folder.begin(2)
    assert again["timings"]["first_started"] == "2024-01-31T22:00:00+0100"
    assert again["timings"]["started"] != again["timings"]["first_started"]
    assert again["state"] == "running"
