"""One part of a setup changed: within its own range and those of the ratios in which it has a part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridefront.evaluate import Evaluator
from ridefront.report.sheet.trials import Trial, reach, trials_of
from ridefront.study import Study, read_study
from ridefront.study.model import Array
from sheets import STUDIES

FRONT, REAR = "front.spring_rate", "rear.spring_rate"


@pytest.fixture
def study() -> Study:
    """The estate, whose rear springs are 1.6 to 4 times as stiff as those in front; catalogues of 1 and 2 N/mm."""
    return read_study(STUDIES / "estate.toml")


def with_springs(study: Study, front: float, rear: float) -> Array:
    """The present setup with springs of so many N/mm."""
    assert study.present is not None
    x = study.present.copy()
    names = [item.path for item in study.variables]
    x[names.index(FRONT)], x[names.index(REAR)] = front, rear
    return x


def tried(study: Study, front: float, rear: float, path: str, kind: str) -> list[float]:
    """To which values a part is changed."""
    few = replace(study, conditions=study.conditions[:1], constraints=(), objectives=study.objectives[:1])
    measure = replace(few.objectives[0].measure, conditions=(0,))
    few = replace(few, objectives=(replace(few.objectives[0], measure=measure),))
    X = with_springs(study, front, rear)[None, :]
    found: tuple[Trial, ...] = trials_of(Evaluator(few), X, "frequency-domain")[0]
    return [item.after for item in found if (item.kind, item.path) == (kind, path)]


def test_near_the_highest_ratio_neither_part_leaves_it(study: Study) -> None:
    front, rear = 25.0, 98.0  # 3.92 times
    assert tried(study, front, rear, REAR, "step") == pytest.approx([0.9 * rear, 4.0 * front])
    assert tried(study, front, rear, FRONT, "step") == pytest.approx([rear / 4.0, 1.1 * front])
    assert tried(study, front, rear, REAR, "catalogue") == [96, 98, 100]
    assert tried(study, front, rear, FRONT, "catalogue") == [25, 26]  # 98 is more than four times 24


def test_near_the_lowest_ratio_neither(study: Study) -> None:
    front, rear = 37.0, 60.0  # 1.62 times
    assert tried(study, front, rear, REAR, "step") == pytest.approx([1.6 * front, 1.1 * rear])
    assert tried(study, front, rear, FRONT, "step") == pytest.approx([0.9 * front, rear / 1.6])


def test_away_from_the_ends_a_tenth_is_a_tenth(study: Study) -> None:
    assert tried(study, 27.0, 68.0, REAR, "step") == pytest.approx([0.9 * 68, 1.1 * 68])
    assert tried(study, 27.0, 68.0, FRONT, "step") == pytest.approx([0.9 * 27, 1.1 * 27])


def test_at_the_end_of_a_ratio_there_is_no_step_that_way(study: Study) -> None:
    assert tried(study, 25.0, 100.0, REAR, "step") == pytest.approx([90.0])
    assert tried(study, 25.0, 100.0, FRONT, "step") == pytest.approx([27.5])


def test_reach_keeps_every_ratio_and_goes_as_far_as_one_allows(study: Study) -> None:
    names = [item.path for item in study.variables]
    i, j = names.index(FRONT), names.index(REAR)
    rng = np.random.default_rng(3)
    for front in rng.uniform(17, 40, 20):
        x = with_springs(study, front, front * rng.uniform(1.6, 4.0))
        for k in (i, j):
            for end, beyond in zip(reach(study, x, k), (1 - 1e-6, 1 + 1e-6), strict=True):
                moved, past = x.copy(), x.copy()
                moved[k], past[k] = end, end * beyond
                inside = [within(each[i], each[j], slack) for each, slack in ((moved, 1e-9), (past, 0.0))]
                assert inside == [True, False]


def within(front: float, rear: float, slack: float) -> bool:
    """Whether the study allows two springs, by its own words."""
    return 17 - slack <= front <= 40 + slack and 1.6 - slack <= rear / front <= 4 + slack
