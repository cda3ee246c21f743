"""Evaluation in the time domain: against the frequency domain, its sampling error, its bits, what it refuses."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from evaluate.studies import HALF, QUARTER, REAL, Array, half_study, random_designs, study_of
from ridefront.errors import CallError
from ridefront.evaluate import STATUS, Evaluator
from ridefront.evaluate.stepping import StepChoice
from ridefront.road import Obstacle, Road
from ridefront.study import Study

IN_TIME = '\nresponse = "time-domain"\n'
BUMPS = """
[[road]]
name = "bump"
kind = "obstacle"
shape = "half-sine"
height = "50 mm"
length = "0.6 m"
[[condition]]
road = "bump"
speed = "30 km/h"
load = "full"
[[road]]
name = "lane of patches"
kind = "obstacle"
shape = "versine"
count = 8
spacing = "5 m"
realisations = 4
sizes = [
    { height = "30 mm", length = "0.5 m" },
    { height = "-40 mm", length = "1.2 m" },
    { height = "60 mm", length = "2 m" },
]
[[condition]]
road = "lane of patches"
speed = "40 km/h"
load = "full"
"""
COUNTED = """
[[objective]]
criterion = "comfort"
road = ["smooth", "broken"]
[[objective]]
criterion = "peak_acceleration"
road = ["bump", "lane of patches"]
[[objective]]
criterion = "rattle_space"
"""


def in_time(folder: Path, *, real: bool = True, realisations: int = 4, length: str = "200 m") -> Study:
    """The half car in the time domain, on short roads."""
    extra = REAL if real else ""
    text = IN_TIME + HALF.replace("FRONT", extra).replace("REAR", extra)
    text = text.replace('class = "A"', f'class = "A"\nlength = "{length}"\nrealisations = {realisations}')
    text = text.replace(
        'class = "C"\nlength = "500 m"', f'class = "C"\nlength = "{length}"\nrealisations = {realisations}'
    )
    return study_of(text, folder)


def over_bumps(folder: Path) -> Study:
    """The half car in the frequency domain, with obstacles besides."""
    head, tail = HALF.replace("FRONT", REAL).replace("REAR", REAL).split("[[objective]]", 1)
    del tail
    return study_of(head + BUMPS + COUNTED, folder)


def test_linear_vehicles_agree_with_the_frequency_domain(tmp_path: Path) -> None:
    """Rms of a linear vehicle has no scatter: every realisation has the road's spectrum exactly."""
    study = in_time(tmp_path, real=False, realisations=2, length="1000 m")
    X = random_designs(study, 6)
    evaluator = Evaluator(study)
    time, frequency = evaluator.evaluate(X), evaluator.evaluate(X, "frequency-domain")
    names = [measure.criterion for measure in study.measures]
    off = [evaluator.pieces(X, ["wheel_lift_off"]).values]
    stays = np.all(off[0] == 0, axis=1)  # a wheel that leaves the ground is not linear
    assert stays.sum() >= 3
    for name in ("comfort", "dynamic_load_coefficient", "damping_ratio", "pitch_angle"):
        k = names.index(name)
        np.testing.assert_allclose(time.values[stays, k], frequency.values[stays, k], rtol=2e-3)
        assert np.all(time.se[stays, k] < 1e-3 * time.values[stays, k])
    reserve = names.index("bump_reserve")
    assert np.all(time.se[:, reserve] > 0)
    # Davenport's expectation of the largest value against a mean of two.
    np.testing.assert_allclose(time.values[stays, reserve], frequency.values[stays, reserve], atol=15.0)
    static = names.index("frequency_ratio")
    assert np.array_equal(time.values[:, static], frequency.values[:, static])
    assert np.all(np.isnan(time.se[:, static]))
    assert np.all(np.isnan(frequency.se))


def test_standard_error_of_a_largest_value_is_the_textbooks(tmp_path: Path) -> None:
    """A mean over realisations of one condition: the jackknife is s/√r exactly."""
    study = in_time(tmp_path)
    X = random_designs(study, 3)
    evaluator = Evaluator(study)
    found = evaluator.pieces(X, ["rattle_space", "comfort"])
    by_one = []
    for k in range(4):
        alone = _only(evaluator, k)
        by_one.append(alone.pieces(X, ["rattle_space", "comfort"]).values)
    each = np.stack(by_one)
    peaks = [k for k, name in enumerate(found.criterion) if name == "rattle_space"]
    np.testing.assert_allclose(found.values[:, peaks], each[:, :, peaks].mean(axis=0), rtol=1e-12)
    np.testing.assert_allclose(found.se[:, peaks], each[:, :, peaks].std(axis=0, ddof=1) / 2, rtol=1e-9)
    comfort = [k for k, name in enumerate(found.criterion) if name == "comfort"]
    squares = each[:, :, comfort] ** 2
    np.testing.assert_allclose(found.values[:, comfort], np.sqrt(squares.mean(axis=0)), rtol=1e-12)
    by_delta = squares.std(axis=0, ddof=1) / 2 / (2 * found.values[:, comfort])
    np.testing.assert_allclose(found.se[:, comfort], by_delta, rtol=0.02)


def _only(evaluator: Evaluator, k: int) -> Evaluator:
    """The same, with one realisation of each road alone."""
    alone = Evaluator(evaluator.study)
    for c in range(len(evaluator.study.conditions)):
        whole = evaluator.drive(c)
        alone._drives[c] = replace(whole, heights=np.ascontiguousarray(whole.heights[k : k + 1]))
    return alone


def test_standard_error_over_conditions_is_that_of_a_slow_twin(tmp_path: Path) -> None:
    """Each road's realisations left out in turn in all its conditions; roads are independent of each other."""
    study = in_time(tmp_path, realisations=3)
    X = random_designs(study, 2)
    evaluator = Evaluator(study)
    found = evaluator.evaluate(X)
    variance = np.zeros_like(found.values)
    for road in range(len(study.roads)):
        left = []
        for k in range(3):
            less = Evaluator(study)
            for c, condition in enumerate(study.conditions):
                whole = evaluator.drive(c)
                kept = [i for i in range(3) if condition.road != road or i != k]
                less._drives[c] = replace(whole, heights=np.ascontiguousarray(whole.heights[kept]))
            left.append(less.evaluate(X).values)
        variance += np.var(np.stack(left), axis=0) * 2  # (r - 1)/r Σ(θ - mean)²
    sampled = ~np.isnan(found.se)
    np.testing.assert_allclose(found.se[sampled], np.sqrt(variance)[sampled], rtol=1e-6, atol=1e-12)
    of_conditions = [measure.criterion not in ("frequency_ratio", "ride_height_change") for measure in study.measures]
    assert sampled.all(axis=0).tolist() == of_conditions


def test_roads_that_no_search_sees_are_other_roads(tmp_path: Path) -> None:
    study = in_time(tmp_path)
    X = random_designs(study, 3)
    seen, unseen = Evaluator(study).evaluate(X), Evaluator(study, held_out=True).evaluate(X)
    again = Evaluator(study, held_out=True).evaluate(X)
    sampled = ~np.isnan(seen.se)
    assert np.all(seen.values[sampled] != unseen.values[sampled])
    assert np.array_equal(unseen.values, again.values)
    apart = (unseen.values - seen.values)[sampled] / np.hypot(unseen.se, seen.se)[sampled]
    # Standard errors from four realisations are rough; a mistake of √2 or of the seed would still show.
    assert np.median(np.abs(apart)) < 2.5


def test_bits_do_not_depend_on_neighbours_or_threads(tmp_path: Path) -> None:
    study = in_time(tmp_path, realisations=2, length="100 m")
    X = random_designs(study, 21)
    whole = Evaluator(study).evaluate(X)
    shared = Evaluator(study)
    with ThreadPoolExecutor(3) as threads:
        parts = list(threads.map(shared.evaluate, [X[:1], X[1:10], X[10:]]))
    for name in ("values", "violation", "status", "se"):
        joined = np.concatenate([getattr(part, name) for part in parts])
        assert joined.tobytes() == getattr(whole, name).tobytes(), name
    order = np.random.default_rng(1).permutation(21)
    assert Evaluator(study).evaluate(X[order]).values.tobytes() == whole.values[order].tobytes()


def test_obstacles_are_driven_in_time_whatever_the_response(tmp_path: Path) -> None:
    study = over_bumps(tmp_path)
    X = random_designs(study, 4)
    evaluator = Evaluator(study)
    found = evaluator.pieces(X)
    by = dict(zip(zip(found.criterion, found.place, found.condition, strict=True), found.response, strict=True))
    bump, lane = "bump @ 30 km/h, full", "lane of patches @ 40 km/h, full"
    assert by["rattle_space", "front", bump] == by["peak_acceleration", "driver", lane] == "time-domain"
    assert by["rattle_space", "front", "smooth @ 110 km/h, two up"] == "frequency-domain"
    assert by["ride_frequency", "front", "at rest, full"] == "at rest"
    assert ("comfort", "driver", bump) not in by  # rms on an obstacle depends on the run-out
    assert ("settling_time", "", bump) in by
    assert ("settling_time", "", lane) not in by  # of one obstacle only
    assert ("peak_acceleration", "driver", "smooth @ 110 km/h, two up") not in by
    evaluation = evaluator.evaluate(X)
    labels = [measure.criterion for measure in study.measures]
    assert np.all(evaluation.status == 0)
    assert np.all(np.isnan(evaluation.se[:, labels.index("comfort")]))
    assert np.all(evaluation.se[:, labels.index("peak_acceleration")] >= 0)  # the mixes differ
    peak = [k for k, name in enumerate(found.criterion) if name == "peak_acceleration"]
    np.testing.assert_allclose(
        evaluation.values[:, labels.index("peak_acceleration")], found.values[:, peak].max(axis=1), rtol=1e-15
    )


def test_exposure_scales_the_dose_by_its_fourth_root(tmp_path: Path) -> None:
    text = IN_TIME + QUARTER.replace('class = "B"', 'class = "B"\nlength = "200 m"\nrealisations = 2')
    once = study_of(text, tmp_path)
    long = study_of(text.replace('speed = "80 km/h"', 'speed = "80 km/h"\nexposure = "144 s"'), tmp_path)
    X = random_designs(once, 2)
    doses = [Evaluator(study).pieces(X, ["vibration_dose"]).values for study in (once, long)]
    np.testing.assert_allclose(doses[1] / doses[0], 2.0, rtol=1e-12)  # 200 m at 80 km/h take 9 s: sixteen times


def test_designs_beyond_the_bounds_of_the_step_are_refused(tmp_path: Path) -> None:
    study = in_time(tmp_path, realisations=2, length="100 m")
    X = random_designs(study, 2)
    X[1, 0] = 46.0
    with pytest.raises(CallError) as caught:
        Evaluator(study).evaluate(X)
    message = str(caught.value)
    assert "row 2: front.spring_rate = 46 N/mm (allowed: 14 to 45)" in message
    assert "step" in message
    assert "widen the ranges" in message
    assert np.all(Evaluator(study).evaluate(X, "frequency-domain").status == 0)


def test_a_design_that_diverges_has_a_status_and_harms_no_neighbour(tmp_path: Path) -> None:
    """A step of 5 ms for a damper that lets go of the wheel 1500 times a second."""
    text = IN_TIME + QUARTER.replace('high = "4000 N*s/m"', 'high = "60000 N*s/m"')
    text = text.replace('class = "B"', 'class = "B"\nlength = "100 m"\nrealisations = 2')
    study = study_of(text, tmp_path)
    good = np.array([[20.0, 1500.0], [30.0, 2000.0], [40.0, 900.0]])
    mixed = np.concatenate([good[:2], [[25.0, 60000.0]], good[2:]])
    coarse = StepChoice(5e-3, 0.0, 0, (), (), (), held=True)
    evaluators = [Evaluator(study) for _ in range(2)]
    for evaluator in evaluators:
        evaluator._step = coarse
    clean, dirty = (evaluator.evaluate(X) for evaluator, X in zip(evaluators, (good, mixed), strict=True))
    assert [STATUS[code] for code in dirty.status] == ["ok", "ok", "diverged", "ok"]
    assert np.all(np.isnan(dirty.values[2]))
    assert np.isnan(dirty.violation[2])
    assert dirty.values[[0, 1, 3]].tobytes() == clean.values.tobytes()
    assert Evaluator(study).evaluate(mixed).status.tolist() == [0, 0, 0, 0]  # the study's own step is short enough


def test_a_body_that_still_moves_where_the_road_ends_has_no_settling_time(tmp_path: Path) -> None:
    """Without friction and with hardly any damping; where nobody asks for the settling time the figures are there."""
    text = QUARTER.replace('low = "600 N*s/m"', 'low = "1 N*s/m"').split("[[objective]]")[0]
    text += """
[[road]]
name = "bump"
kind = "obstacle"
shape = "versine"
height = "40 mm"
length = "1 m"
[[condition]]
road = "bump"
speed = "30 km/h"
[[objective]]
criterion = "rattle_space"
[[objective]]
criterion = "peak_acceleration"
road = "bump"
"""
    asked = text + '[[constraint]]\ncriterion = "settling_time"\nroad = "bump"\nat_most = "3 s"\n'
    X = np.array([[20.0, 5.0], [20.0, 1500.0]])
    found = Evaluator(study_of(asked, tmp_path)).evaluate(X)
    assert [STATUS[code] for code in found.status] == ["still-moving", "ok"]
    assert np.all(np.isnan(found.values[0]))
    evaluator = Evaluator(study_of(text, tmp_path))
    assert evaluator.evaluate(X).status.tolist() == [0, 0]
    pieces = evaluator.pieces(X, ["settling_time", "rattle_space"])
    assert pieces.status.tolist() == [0, 0]
    settling = pieces.values[:, pieces.criterion.index("settling_time")]
    assert np.isnan(settling[0])
    assert 0.2 < settling[1] < 3.0


def test_the_step_comes_from_the_design_space(tmp_path: Path) -> None:
    ordinary = Evaluator(in_time(tmp_path, realisations=2, length="100 m")).step
    assert ordinary.held
    assert ordinary.step in (1e-3, 2e-3)
    assert max(ordinary.rms) <= 2e-3
    assert max(ordinary.peak) <= 1e-2
    assert len(ordinary.conditions) == len(ordinary.rms) == 5
    text = IN_TIME + QUARTER.replace('high = "4000 N*s/m"', 'high = "60000 N*s/m"')
    stiff = Evaluator(study_of(text, tmp_path)).step
    assert stiff.step <= 5e-4  # 60 kN·s/m on 41 kg: 1463 1/s


def test_frequency_domain_studies_make_no_step_until_one_is_needed(tmp_path: Path) -> None:
    evaluator = Evaluator(half_study(tmp_path))
    evaluator.evaluate(random_designs(evaluator.study, 2))
    assert evaluator._step is None


def test_mixed_trains_are_drawn_from_the_seed(tmp_path: Path) -> None:
    study = over_bumps(tmp_path)
    assert any(isinstance(road, Obstacle) for road in study.roads)
    assert any(isinstance(r, Road) for r in study.roads)
    X: Array = random_designs(study, 2)
    figures = []
    for seed in (1, 1, 2):
        found = Evaluator(replace(study, seed=seed)).pieces(X, ["peak_acceleration"])
        k = found.condition.index("lane of patches @ 40 km/h, full")
        figures.append(found.values[:, k])
    assert np.array_equal(figures[0], figures[1])
    assert not np.array_equal(figures[0], figures[2])
