"""How sure places on a front are, with real rides: probabilities that come true, budgets, bits."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import binom

from ridefront.evaluate import Evaluator
from ridefront.evaluate.stepping import StepChoice
from ridefront.results import read_front
from ridefront.results.sampling import drawn, random_roads
from ridefront.run import run_study
from ridefront.run.closing import restricted
from ridefront.run.sureness import Front, sureness
from ridefront.run.workers import Workers
from ridefront.search import nondominated
from ridefront.study import Study
from ridefront.study.space import decode
from small_runs import small_study

IN_TIME = (
    ("seed = 5", 'seed = 5\nresponse = "time-domain"'),
    ('class = "C"', 'class = "D"\nlength = "60 m"\nrealisations = 4'),
    ('bump_travel = "90 mm"', 'bump_travel = "80 mm"\nbump_clearance = "35 mm"\nbump_stop_rate = "60 N/mm"'),
    ('speed = ["50 km/h", "80 km/h"]', 'speed = "60 km/h"'),
    ("at_most = 1.6", "at_most = 1.9"),
)
SIGNS = np.array([1.0, 1.0, -1.0])
NOTHING = 1e-9  # a budget that buys no design


def driven_times(study: Study, count: int) -> Study:
    """The study with so many realisations of its road."""
    (road,) = random_roads(study)
    return replace(study, roads=(replace(road, realisations=count),))


def driven(
    study: Study, seed: int, count: int = 150, step: StepChoice | None = None
) -> tuple[Front, NDArray[np.bool_]]:
    """Random designs' front by figures on the search's roads, and who is on it by 120 other realisations."""
    study = replace(study, seed=seed)
    X = decode(study, np.random.default_rng(seed).random((count, len(study.variables))))
    search = Evaluator(study, step=step)
    found = search.evaluate(X)
    on = nondominated(found.values[:, :3] * SIGNS, found.violation)
    long = driven_times(study, 120)
    truth = Evaluator(long, held_out=True, ensemble=1, step=search.step).evaluate(X[on])
    true = nondominated(truth.values[:, :3] * SIGNS, truth.violation)
    asked = restricted(study, drawn(study))
    return Front(study, asked, "time-domain", X[on], found.values[on], Workers(study, 1), search.step), true


def columns(front: Front, budget: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    found = sureness(front, front.driven(np.arange(len(front.X)), 0), budget)
    return found["nondominated"], found["nondominated_realisations"]


def test_probabilities_come_true_on_real_roads(tmp_path: Path) -> None:
    """Five fronts, each on roads of its own, against 120 other realisations: as many are true as was stated, within
    binomial bounds of 0.1 %, of the sure and of the doubtful; with a budget fewer are doubtful, and it still holds.
    """
    study = small_study(tmp_path, *IN_TIME)
    first = driven(study, 40)
    fronts = [first, *(driven(study, seed, step=first[0].step) for seed in range(41, 45))]
    true = np.concatenate([each for _, each in fronts])
    doubtful = []
    for budget in (NOTHING, 150.0):
        found = [columns(front, budget) for front, _ in fronts]
        p, behind = (np.concatenate([each[k] for each in found]) for k in (0, 1))
        assert set(behind) == ({4} if budget == NOTHING else set(behind) & {4, 8, 16, 32, 64})
        unsure = (p > 0.05) & (p < 0.95)
        for some in (unsure, ~unsure, p >= 0.95):
            mean, count, hits = float(p[some].mean()), int(some.sum()), int(true[some].sum())
            assert binom.ppf(0.001, count, mean) <= hits <= binom.ppf(0.999, count, mean), (budget, mean, count, hits)
        doubtful.append(unsure.mean())
    assert doubtful[1] < 0.8 * doubtful[0]


def test_same_bits_for_any_order_and_workers(tmp_path: Path) -> None:
    front, _ = driven(small_study(tmp_path, *IN_TIME), 7, 80)
    p, behind = columns(front, 60)
    order = np.random.default_rng(2).permutation(len(p))
    again = replace(front, X=front.X[order], values=front.values[order], pool=Workers(front.study, 2))
    q, other = columns(again, 60)
    np.testing.assert_array_equal(q, p[order])
    np.testing.assert_array_equal(other, behind[order])
    assert behind.max() > 4


def test_left_out_figures_are_those_of_fewer_realisations(tmp_path: Path) -> None:
    """Without the last of four realisations: the figures of a study that has three; ensembles follow each other."""
    study = small_study(tmp_path, *IN_TIME)
    X = decode(study, np.random.default_rng(3).random((5, 3)))
    four = Evaluator(study)
    found, left = four.evaluate_left_out(X)
    np.testing.assert_array_equal(found.values, four.evaluate(X).values)
    three = Evaluator(study, realisations=3, step=four.step).evaluate(X)
    assert left.road == (0, 0, 0, 0)
    np.testing.assert_allclose(left.values[:, :, 3], three.values, rtol=1e-12)
    pair = driven_times(study, 2)
    first, second = (Evaluator(pair, ensemble=k, step=four.step).evaluate(X).values[:, 0] for k in (0, 1))
    np.testing.assert_allclose(np.sqrt((first**2 + second**2) / 2), found.values[:, 0], rtol=1e-12)


@pytest.mark.parametrize(
    ("changes", "known"),
    [
        (IN_TIME, True),
        ((*IN_TIME, ("sample = 64", "sample = 64\ncertainty_share = 0")), False),
        ((*IN_TIME[:1], ('class = "C"', 'class = "D"\nlength = "60 m"\nrealisations = 1'), *IN_TIME[2:]), False),
        ((), False),
    ],
    ids=["time domain", "switched off", "one realisation", "frequency domain"],
)
def test_columns_of_a_run(tmp_path: Path, changes: tuple[tuple[str, str], ...], known: bool) -> None:
    """Numbers where there is a sampling error that is known and asked for, else null."""
    small = (("sample = 64", "sample = 32"), ("generations = 4", "generations = 1"))
    changes = tuple((old, new.replace("sample = 64", "sample = 32")) for old, new in changes)
    plain = [pair for pair in small if pair[0] not in [old for old, _ in changes]]
    result = run_study(small_study(tmp_path, *changes, *plain), tmp_path / "out", workers=1)
    front = read_front(result.folder)
    assert front["nondominated"].notna().all() == known
    assert front["nondominated"].isna().all() != known
    assert front["nondominated_realisations"].notna().all() == known
    if known:
        assert front["nondominated"].between(0, 1).all()
        assert front["nondominated_realisations"].isin([4, 8, 16, 32, 64]).all()
