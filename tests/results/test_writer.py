"""Blocks are stored in order beside the work, and an error in storing comes out."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

from ridefront.errors import ResultError
from ridefront.results.batch import Asking, Batch, batch_of
from ridefront.results.folder import RunFolder
from ridefront.results.writer import PartWriter
from ridefront.study import Study
from ridefront.study.space import decode
from small_runs import Formula, parts_of, small_study


def block(study: Study, start: int) -> Batch:
    X = decode(study, np.random.default_rng(start).random((20, 3)))
    return batch_of(start, Asking("sample", 0, "frequency-domain", None), X, Formula(study).evaluate(X), 0.5)


def store(folder: RunFolder, blocks: list[Batch], then: BaseException | None = None) -> None:
    """Hands blocks over, then leaves, or fails."""
    with PartWriter(folder) as writer:
        for each in blocks:
            writer.put(each)
        if then is not None:
            raise then


def test_everything_handed_over_is_on_disk_at_the_end(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    with RunFolder(study, tmp_path) as folder:
        folder.begin(1)
        store(folder, [block(study, 20 * k) for k in range(6)])
        assert folder.blocks == len(parts_of(folder.path)) == 6
        assert [batch.start for batch in folder.batches()] == list(range(0, 120, 20))


def test_block_is_stored_beside_the_work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = small_study(tmp_path)
    release, entered = threading.Event(), threading.Event()
    append = RunFolder.append

    def slow(folder: RunFolder, batch: Batch) -> None:
        entered.set()
        assert release.wait(20)
        append(folder, batch)

    monkeypatch.setattr(RunFolder, "append", slow)
    with RunFolder(study, tmp_path) as folder:
        folder.begin(1)
        with PartWriter(folder) as writer:
            writer.put(block(study, 0))  # comes back although nothing has been stored yet
            assert entered.wait(20)
            assert folder.blocks == 0
            release.set()
        assert folder.blocks == 1


def test_error_comes_out_and_nothing_is_stored_after_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = small_study(tmp_path)
    append = RunFolder.append

    def full(folder: RunFolder, batch: Batch) -> None:
        if batch.start == 20:
            raise ResultError("no space")
        append(folder, batch)

    monkeypatch.setattr(RunFolder, "append", full)
    with RunFolder(study, tmp_path) as folder:
        folder.begin(1)
        with pytest.raises(ResultError, match="no space"):
            store(folder, [block(study, 20 * k) for k in range(6)])
        assert folder.blocks == len(parts_of(folder.path)) == 1
        with pytest.raises(ResultError, match="no space"):
            store(folder, [block(study, 20)])  # the last one: found out on leaving


def test_an_interrupt_waits_for_the_block_being_stored(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    with RunFolder(study, tmp_path) as folder:
        folder.begin(1)
        with pytest.raises(KeyboardInterrupt):
            store(folder, [block(study, 0)], then=KeyboardInterrupt())
        assert folder.blocks == 1
