"""A design's figures are the same bits whatever stands beside it, and whether worked out in one go or in pieces."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

import ridefront.evaluate
from evaluate.studies import half_study, quarter_study, random_designs
from ridefront.evaluate import Evaluation, Evaluator, evaluate
from ridefront.study import Study

N = 200


@pytest.fixture(scope="module", params=["quarter", "half", "half at rest"])
def study(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder: Path = tmp_path_factory.mktemp("study")
    if request.param == "quarter":
        return quarter_study(folder)
    found = half_study(folder)
    return found if request.param == "half" else replace(found, linearisation="at-rest")


def bits(evaluation: Evaluation) -> NDArray[np.uint64]:
    """Values, violation and status of each design, (n, columns)."""
    status = evaluation.status.astype(np.float64)
    return np.column_stack([evaluation.values, evaluation.violation, status]).view(np.uint64)


def test_one_by_one_in_blocks_and_shuffled(study: Study) -> None:
    X, evaluator = random_designs(study, N), Evaluator(study)
    want = bits(evaluator.evaluate(X))
    assert np.all(evaluator.evaluate(X).status == 0)
    for j in range(0, N, 7):
        assert np.array_equal(bits(evaluator.evaluate(X[j : j + 1])), want[j : j + 1])
    for size in (2, 15, 16, 17, 33, 101):
        assert np.array_equal(bits(evaluator.evaluate(X[50 : 50 + size])), want[50 : 50 + size])
    order = np.random.default_rng(1).permutation(N)
    assert np.array_equal(bits(evaluator.evaluate(X[order])), want[order])


def test_any_chunk_gives_the_same_bits(study: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    X = random_designs(study, N)
    want, pieces = bits(evaluate(study, X)), Evaluator(study).pieces(X)
    for chunk in (1, 13, 64):
        monkeypatch.setattr(ridefront.evaluate, "CHUNK", chunk)
        some = 20 if chunk == 1 else N
        assert np.array_equal(bits(evaluate(study, X[:some])), want[:some])
        again = Evaluator(study).pieces(X[:some])
        assert np.array_equal(again.values.view(np.uint64), pieces.values[:some].view(np.uint64))
        assert again.criterion == pieces.criterion


def test_threads_share_one_evaluator(study: Study) -> None:
    X, evaluator = random_designs(study, N), Evaluator(study)
    want = bits(evaluator.evaluate(X))
    starts = range(0, N, 20)
    with ThreadPoolExecutor(4) as pool:
        parts = list(pool.map(lambda start: bits(evaluator.evaluate(X[start : start + 20])), starts))
    assert np.array_equal(np.concatenate(parts), want)


def test_memory_layout_of_the_designs_does_not_matter(study: Study) -> None:
    X = random_designs(study, 40)
    want = bits(evaluate(study, X))
    wide = np.full((40, 3 * X.shape[1]), np.nan)
    wide[:, ::3] = X
    assert np.array_equal(bits(evaluate(study, np.asfortranarray(X))), want)
    assert np.array_equal(bits(evaluate(study, wide[:, ::3])), want)


def test_designs_are_not_changed(study: Study) -> None:
    X = random_designs(study, 20)
    kept = X.copy()
    X.flags.writeable = False
    evaluate(study, X)
    Evaluator(study).pieces(X)
    assert np.array_equal(X, kept)


def test_no_designs_have_no_figures_but_their_columns(study: Study) -> None:
    X = random_designs(study, 3)[:0]
    found = evaluate(study, X)
    assert found.values.shape == (0, len(study.measures))
    assert found.violation.shape == found.status.shape == (0,)
    pieces = Evaluator(study).pieces(X)
    assert pieces.criterion == Evaluator(study).pieces(random_designs(study, 3)).criterion
    assert pieces.values.shape == (0, len(pieces.criterion))
