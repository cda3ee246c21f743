"""Chunks cover every design once, and figures do not depend on who worked them out beside what."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridefront.evaluate import Domain, Evaluation
from ridefront.run.workers import LANE, Workers, chunks
from ridefront.study.space import decode
from small_runs import Array, Formula, small_study


@pytest.mark.parametrize("workers", [1, 2, 3, 4, 7])
def test_chunks_follow_each_other_and_are_nearly_equal(workers: int) -> None:
    for n in range(200):
        cut = chunks(n, workers)
        assert [i for part in cut for i in range(part.start, part.stop)] == list(range(n))
        assert len(cut) <= workers
        lengths = [part.stop - part.start for part in cut]
        assert all(length > 0 for length in lengths)
        assert all(length % LANE == 0 for length in lengths[:-1])
        assert not lengths or max(lengths) - min(lengths) < 2 * LANE


@pytest.mark.parametrize("count", [1, 2, 4])
def test_bits_do_not_depend_on_workers_or_neighbours(tmp_path: Path, count: int) -> None:
    study = small_study(tmp_path)
    X = decode(study, np.random.default_rng(1).random((83, 3)))
    with Workers(study, 1) as alone:
        one_by_one = [alone.evaluate(X[i : i + 1]) for i in range(len(X))]
        pieces = alone.pieces(X)
    with Workers(study, count) as pool:
        together = pool.evaluate(X)
        pieces_together = pool.pieces(X)
    assert together.values.tobytes() == np.concatenate([each.values for each in one_by_one]).tobytes()
    assert together.violation.tobytes() == np.concatenate([each.violation for each in one_by_one]).tobytes()
    assert pieces_together.values.tobytes() == pieces.values.tobytes()
    assert pieces_together.criterion == pieces.criterion


def test_no_designs_are_no_work(tmp_path: Path) -> None:
    with Workers(small_study(tmp_path), 2) as pool:
        assert pool.evaluate(np.empty((0, 3))).values.shape == (0, 4)


def test_a_bug_in_evaluation_comes_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Broken(Formula):
        def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
            raise ZeroDivisionError("a bug")

    monkeypatch.setattr("ridefront.run.workers.Evaluator", Broken)
    with Workers(small_study(tmp_path), 2) as pool, pytest.raises(ZeroDivisionError, match="a bug"):
        pool.evaluate(np.ones((64, 3)))
