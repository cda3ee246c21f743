"""Blocks packed into parts: the same rows whatever is packed when, and nothing lost or doubled by a stop in between."""

from __future__ import annotations

import json
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from ridefront.errors import ResultError
from ridefront.results import read_evaluations, read_front
from ridefront.results.folder import RunFolder
from ridefront.results.parts import Parts, stored_files
from ridefront.results.record import read_record
from ridefront.results.stored import same_designs
from ridefront.results.tables import read_table, write_table
from ridefront.run import Snapshot, run_study
from ridefront.study import Study
from small_runs import (
    Collector,
    Formula,
    assert_same_results,
    evaluations_of,
    parts_of,
    small_study,
)

ROWS = 80
NAMES = ["part-000000-000002.parquet", *(f"part-{k:06d}.parquet" for k in (3, 4, 5))]
"""One present setup and 64, 16, 16, 16 and 16 designs: the first 81 rows make a part of more than `ROWS`."""


@pytest.fixture
def packing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    monkeypatch.setattr("ridefront.results.parts.ROWS", ROWS)


@pytest.fixture
def whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of a run that nothing was packed in."""
    with monkeypatch.context() as patch:
        patch.setattr("ridefront.run.workers.Evaluator", Formula)
        return run_study(small_study(tmp_path), tmp_path / "whole", workers=1).folder


def names(folder: Path) -> list[str]:
    return [file.name for file in parts_of(folder)]


def test_a_packed_run_has_the_same_rows(tmp_path: Path, whole: Path, packing: None) -> None:
    folder = run_study(small_study(tmp_path), tmp_path / "out", workers=1).folder
    assert names(folder) == NAMES
    assert len(names(whole)) == 6
    assert_same_results(folder, whole)
    assert read_evaluations(folder).equals(read_evaluations(whole))
    some = read_evaluations(folder, ["design", "comfort"])
    assert some.equals(read_evaluations(whole)[["design", "comfort"]])
    with pytest.raises(ResultError, match=r"part-000000-000002\.parquet: no column 'confort'; allowed: design, stage"):
        read_evaluations(folder, ["confort"])


@pytest.mark.parametrize("blocks", range(1, 6))
def test_stopped_after_any_block_and_resumed(tmp_path: Path, whole: Path, packing: None, blocks: int) -> None:
    study = small_study(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=blocks))
    folder = tmp_path / "out" / "corner"
    assert len(read_evaluations(folder)) == [1, 65, 81, 97, 113][blocks - 1]
    result = run_study(study, tmp_path / "out", workers=1)
    assert names(result.folder) == NAMES
    assert_same_results(result.folder, whole)
    with RunFolder(study, tmp_path / "out") as again:
        assert [batch.seconds for batch in again.batches()] != []
        assert again.blocks == 6


class Cut(BaseException):
    """What takes the power away."""


def cut_while_packing(study: Study, output: Path, removed: int) -> Path:
    """A run whose power goes after so many of the packed blocks' own files are gone."""
    unlink, left = Path.unlink, [removed]

    def until(self: Path, missing_ok: bool = False) -> None:
        if self.name.startswith("part-"):
            if not left[0]:
                raise Cut
            left[0] -= 1
        unlink(self, missing_ok=missing_ok)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "unlink", until)
        with pytest.raises(Cut):
            run_study(study, output, workers=1)
    return output / "corner"


@pytest.mark.parametrize("removed", [0, 1, 2])
def test_what_a_kill_leaves_twice_is_read_once_and_removed(
    tmp_path: Path, whole: Path, packing: None, removed: int
) -> None:
    study = small_study(tmp_path)
    folder = cut_while_packing(study, tmp_path / "out", removed)
    assert len(names(folder)) == 1 + 3 - removed
    assert len(stored_files(folder / "evaluations")) == 1
    assert read_evaluations(folder)["design"].tolist() == list(range(81))
    result = run_study(study, tmp_path / "out", workers=1)
    assert names(result.folder) == NAMES
    assert_same_results(result.folder, whole)


def test_a_kill_before_the_part_has_its_name_leaves_the_blocks(tmp_path: Path, whole: Path, packing: None) -> None:
    study = small_study(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=2))
    folder = tmp_path / "out" / "corner"
    half = folder / "evaluations" / ".part-000000-000002.parquet.tmp"
    half.write_bytes(b"PAR1")
    assert len(read_evaluations(folder)) == 65
    assert_same_results(run_study(study, tmp_path / "out", workers=1).folder, whole)
    assert not half.exists()


@pytest.mark.parametrize("keep", [0, 0.3, 0.999])
def test_a_truncated_part_is_named_and_the_way_on_works(
    tmp_path: Path, whole: Path, packing: None, keep: float
) -> None:
    study = small_study(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    part = parts_of(folder)[0]
    data = part.read_bytes()
    part.write_bytes(data[: int(keep * len(data))])
    (folder / "front.parquet").unlink()
    with pytest.raises(ResultError, match=r"part-000000-000002\.parquet: damaged") as caught:
        run_study(study, tmp_path / "out", workers=1)
    assert "Without it and the parts after it the run goes on from there" in caught.value.hint
    for file in parts_of(folder):
        file.unlink()
    assert_same_results(run_study(study, tmp_path / "out", workers=1).folder, whole)


def test_every_byte_of_a_page_is_checked(tmp_path: Path, packing: None) -> None:
    """A flipped bit among the figures is found by the pages' checksums."""
    study = small_study(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    part = parts_of(folder)[0]
    data = bytearray(part.read_bytes())
    column = pq.read_metadata(part).row_group(0).column(pq.read_schema(part).names.index("comfort"))
    data[column.data_page_offset + column.total_compressed_size // 2] ^= 1
    part.write_bytes(data)
    with pytest.raises(ResultError, match=r"part-000000-000002\.parquet: damaged"):
        read_evaluations(folder)


@pytest.mark.parametrize("said", ["[]", "[[65, 1.0], [16, 1.0]]", "[[1, 1.0], [64, 1.0], [15, 1.0]]", "{", "[1, 2, 3]"])
def test_a_part_that_does_not_say_its_blocks_is_foreign(tmp_path: Path, packing: None, said: str) -> None:
    study = small_study(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    part = parts_of(folder)[0]
    table = read_table(part)
    write_table(part, table.replace_schema_metadata({**table.schema.metadata, b"blocks": said.encode()}))
    (folder / "front.parquet").unlink()
    with pytest.raises(ResultError, match=r"part-000000-000002\.parquet: foreign: no run wrote it in this form"):
        run_study(study, tmp_path / "out", workers=1)


def test_a_missing_part_is_named(tmp_path: Path, packing: None) -> None:
    study = small_study(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    parts_of(folder)[0].unlink()
    with pytest.raises(ResultError, match=r"part-000000\.parquet: missing, while part-000003\.parquet is there"):
        run_study(study, tmp_path / "out", workers=1)


def test_overwrite_removes_parts_and_what_is_there_twice(tmp_path: Path, packing: None) -> None:
    study = small_study(tmp_path)
    folder = cut_while_packing(study, tmp_path / "out", 1)
    with RunFolder(study, tmp_path / "out", overwrite=True) as again:
        assert again.blocks == 0
    assert names(folder) == []


def test_a_reader_beside_a_run_that_packs_sees_each_row_once(
    tmp_path: Path, packing: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files vanish between the list of them and their reading: the list is made anew."""
    study = small_study(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=2))
    folder = tmp_path / "out" / "corner"
    listed = stored_files(folder / "evaluations")
    run_study(study, tmp_path / "out", workers=1)
    answers = iter([listed])
    monkeypatch.setattr("ridefront.results.read.whole_files", lambda inner: next(answers, None) or stored_files(inner))
    assert read_evaluations(folder)["design"].tolist() == list(range(129))


def test_the_record_of_blocks_is_what_was_stored(tmp_path: Path, packing: None) -> None:
    folder = run_study(small_study(tmp_path), tmp_path / "out", workers=1).folder
    said = json.loads(pq.read_schema(parts_of(folder)[0]).metadata[b"blocks"])
    assert [rows for rows, _ in said] == [1, 64, 16]
    assert sum(seconds for _, seconds in said) > 0
    front = read_front(folder)
    rows = evaluations_of(folder).to_pandas().set_index("design").loc[front["design"]]
    assert rows["comfort"].tolist() == front["comfort"].tolist()


def test_a_list_with_a_hole_is_made_anew_and_a_missing_block_said(
    tmp_path: Path, whole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A list of files made while a run packs may lack the new part and have what comes after it."""
    monkeypatch.setattr("ridefront.results.parts.PAUSE", 0.0)
    files = stored_files(whole / "evaluations")
    answers = iter([[*files[:2], *files[3:]], files[1:]])
    with monkeypatch.context() as patch:
        patch.setattr("ridefront.results.parts.stored_files", lambda inner: next(answers, None) or files)
        assert read_evaluations(whole)["design"].tolist() == list(range(129))
    files[2].unlink()
    with pytest.raises(ResultError, match=r"part-000002\.parquet: missing, while later ones are there"):
        read_evaluations(whole)


def test_columns_that_are_not_asked_for_are_not_read(tmp_path: Path, whole: Path) -> None:
    part = stored_files(whole / "evaluations")[1]
    data = bytearray(part.read_bytes())
    column = pq.read_metadata(part).row_group(0).column(pq.read_schema(part).names.index("comfort"))
    data[column.data_page_offset + column.total_compressed_size // 2] ^= 1
    part.write_bytes(data)
    assert len(read_evaluations(whole, ["design", "violation"])) == 129
    with pytest.raises(ResultError, match="damaged"):
        read_evaluations(whole, ["comfort"])


def test_a_foreign_part_over_our_blocks_is_refused_and_ours_stay(tmp_path: Path, packing: None) -> None:
    study = small_study(tmp_path)
    other = run_study(small_study(tmp_path, ("seed = 5", "seed = 6")), tmp_path / "other", workers=1).folder
    study = small_study(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=2))
    folder = tmp_path / "out" / "corner"
    before = names(folder)
    stranger = folder / "evaluations" / NAMES[0]
    stranger.write_bytes(parts_of(other)[0].read_bytes())
    with pytest.raises(ResultError, match=r"part-000000-000002\.parquet: foreign: it is of another study"):
        run_study(study, tmp_path / "out", workers=1)
    assert set(names(folder)) == {*before, NAMES[0]}


def test_files_that_are_nobodys_business_stop_nobody(tmp_path: Path, packing: None) -> None:
    """A network's file system leaves hidden files where one is removed that somebody reads."""
    study = small_study(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=2))
    hidden = tmp_path / "out" / "corner" / "evaluations" / ".nfs000000000123"
    hidden.write_bytes(b"")
    assert len(read_evaluations(tmp_path / "out" / "corner")) == 65
    assert run_study(study, tmp_path / "out", workers=1).state == "done"
    assert hidden.exists()


def test_a_kill_between_the_last_block_and_its_packing_is_made_good(
    tmp_path: Path, whole: Path, packing: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = small_study(tmp_path, ("generations = 4", "generations = 1"))
    once = run_study(study, tmp_path / "once", workers=1).folder
    assert names(once) == NAMES[:1]
    with monkeypatch.context() as patch:
        patch.setattr("ridefront.results.parts.ROWS", 10_000)
        folder = run_study(study, tmp_path / "out", workers=1).folder
    assert len(names(folder)) == 3
    assert same_designs(folder, once)
    (folder / "front.parquet").unlink()
    run_study(study, tmp_path / "out", workers=1)
    assert names(folder) == NAMES[:1]
    assert same_designs(folder, once)
    assert not same_designs(folder, whole)


def test_a_kill_while_starting_anew_leaves_a_run_that_is_not_done(
    tmp_path: Path, whole: Path, packing: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = small_study(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    unlink, left = Path.unlink, [3]

    def until(self: Path, missing_ok: bool = False) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise Cut
        unlink(self, missing_ok=missing_ok)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "unlink", until)
        with pytest.raises(Cut):
            RunFolder(study, tmp_path / "out", overwrite=True)
    assert names(folder) == NAMES[:2]
    assert run_study(study, tmp_path / "out", workers=1).added == 32
    assert_same_results(folder, whole)


def test_a_second_interrupt_waits_for_the_block_that_is_being_stored(
    tmp_path: Path, whole: Path, packing: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C twice while blocks are packed: the storing thread has ended before anything looks at the folder again."""
    study = small_study(tmp_path)
    pack, packing_on = Parts.pack, threading.Event()
    shutdown, again = ThreadPoolExecutor.shutdown, [True]

    def slowly(self: Parts) -> None:
        if len(self._alone) == 3:
            packing_on.set()
            time.sleep(0.2)
        pack(self)

    def interrupted(self: ThreadPoolExecutor, wait: bool = True, **more: bool) -> None:
        if again[0] and packing_on.is_set():
            again[0] = False
            raise KeyboardInterrupt
        shutdown(self, wait=wait, **more)

    class OnPacking(Collector):
        def update(self, snapshot: Snapshot) -> None:
            if snapshot.evaluations == 81:
                assert packing_on.wait(10)
                raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(Parts, "pack", slowly)
        patch.setattr(ThreadPoolExecutor, "shutdown", interrupted)
        with pytest.raises(KeyboardInterrupt):
            run_study(study, tmp_path / "out", workers=1, progress=OnPacking())
    assert not again[0]
    folder = tmp_path / "out" / "corner"
    assert names(folder) == NAMES[:1]
    assert read_record(folder / "run.json")["counts"]["evaluations"] == 81
    assert_same_results(run_study(study, tmp_path / "out", workers=1).folder, whole)
