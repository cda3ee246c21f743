"""Pieces make up measures, exactly; units are converted once; violations follow from what is stored."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from evaluate.studies import half_study, quarter_study, random_designs
from ridefront.criteria import CRITERIA
from ridefront.evaluate import Evaluator, Pieces, evaluate, pieces
from ridefront.study import Measure, Study

Array = NDArray[np.float64]


@pytest.fixture(scope="module", params=["quarter", "half"])
def study(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder: Path = tmp_path_factory.mktemp("study")
    return quarter_study(folder) if request.param == "quarter" else half_study(folder)


def column(found: Pieces, criterion: str, place: str, condition: str) -> Array:
    """The one piece of that name, (n,)."""
    names = list(zip(found.criterion, found.place, found.condition, strict=True))
    assert names.count((criterion, place, condition)) == 1
    return found.values[:, names.index((criterion, place, condition))]


def recombined(study: Study, found: Pieces, measure: Measure, j: int) -> float:
    """A measure of one design from its pieces, in plain Python: the worst place, then the conditions."""
    row = CRITERIA[measure.criterion]
    worst = max if measure.worst == "largest" else min
    if row.kind == "condition":
        names = [study.conditions[c].name for c in measure.conditions]
    elif row.kind == "load":
        names = [
            f"at rest, {study.loads[load].name}" if study.loads[load].name else "at rest" for load in measure.loads
        ]
    else:
        names = ["at rest"]
    places = {p for c, p in zip(found.criterion, found.place, strict=True) if c == measure.criterion}
    if measure.place is not None:
        places = {measure.place}
    figures = [worst(column(found, measure.criterion, place, name)[j] for place in places) for name in names]
    if row.kind != "condition" or measure.over == "worst":
        return float(worst(figures))
    weights = [study.conditions[c].weight for c in measure.conditions]
    total = 0.0
    for x, weight in zip(figures, weights, strict=True):
        total += weight * (x if measure.over == "mean" else x * x)
    total = total / sum(weights)
    return float(total if measure.over == "mean" else np.sqrt(total))


def test_measures_are_their_pieces_combined_and_divided_by_the_unit(study: Study) -> None:
    """Exactly: stored = SI / factor, once."""
    X = random_designs(study, 12)
    values, found = evaluate(study, X).values, pieces(study, X)
    for k, measure in enumerate(study.measures):
        for j in range(12):
            assert values[j, k] == recombined(study, found, measure, j) / measure.factor, measure.label


def test_some_measure_is_stored_in_another_unit_than_si(study: Study) -> None:
    assert any(measure.factor != 1.0 for measure in study.measures)


def test_pieces_are_complete(study: Study) -> None:
    """Every criterion that applies at each of its places in each condition or load, once; SI units."""
    evaluator = Evaluator(study)
    found = evaluator.pieces(random_designs(study, 2))
    for row in CRITERIA.values():
        count = {"condition": len(study.conditions), "load": len(study.loads), "design": 1}[row.kind]
        places = len(row.counted(evaluator.model, study.seats)) if not row.simulated else 0
        assert found.criterion.count(row.name) == (count * places if evaluator.applies(row) else 0), row.name
    names = list(zip(found.criterion, found.place, found.condition, strict=True))
    assert len(set(names)) == len(names)
    assert found.unit == tuple(CRITERIA[name].unit for name in found.criterion)


def test_pieces_of_named_criteria_are_those_of_all(study: Study) -> None:
    X = random_designs(study, 5)
    all_of_them, some = pieces(study, X), pieces(study, X, ["travel_rms", "ride_frequency"])
    assert set(some.criterion) == {"travel_rms", "ride_frequency"}
    kept = [k for k, name in enumerate(all_of_them.criterion) if name in ("travel_rms", "ride_frequency")]
    by_name = {(c, p, n): k for k, (c, p, n) in enumerate(zip(*_names(some), strict=True))}
    order = [by_name[name] for name in (tuple(part[k] for part in _names(all_of_them)) for k in kept)]  # type: ignore[index]
    assert np.array_equal(all_of_them.values[:, kept], some.values[:, order])
    with pytest.raises(KeyError):
        pieces(study, X, ["no_such_criterion"])


def _names(found: Pieces) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    return found.criterion, found.place, found.condition


def test_what_the_study_lacks_gives_no_piece(tmp_path: Path) -> None:
    study = half_study(tmp_path)
    row = CRITERIA["bump_reserve"]
    assert Evaluator(study).applies(row)
    less = replace(study, fixed={k: v for k, v in study.fixed.items() if k != "rear.bump_travel"})
    assert not Evaluator(less).applies(row)
    assert Evaluator(study).applies(CRITERIA["comfort_total"])
    blind = replace(study, seats=(*study.seats, replace(study.seats[0], name="third", height=None)))
    assert not Evaluator(blind).applies(CRITERIA["comfort_total"])
    assert not Evaluator(quarter_study(tmp_path)).applies(CRITERIA["pitch_angle"])


def test_violation_is_the_scaled_excess_of_what_is_stored(study: Study) -> None:
    X = random_designs(study, 60)
    found = evaluate(study, X)
    labels = [measure.label for measure in study.measures]
    for j in range(60):
        want = 0.0
        for constraint in study.constraints:
            figure = found.values[j, labels.index(constraint.measure.label)]
            excess = constraint.limit - figure if constraint.kind == "at_least" else figure - constraint.limit
            want += max(excess, 0.0) / constraint.scale
        assert found.violation[j] == want
    assert 0 < np.sum(found.violation > 0) < 60


def test_evaluating_stored_numbers_again_gives_the_same_row(study: Study) -> None:
    """A row read back from a table is the design that was evaluated: nothing is converted back."""
    X = random_designs(study, 30)
    again = np.array([[float(repr(float(x))) for x in row] for row in X])
    assert np.array_equal(evaluate(study, again).values, evaluate(study, X).values)


def test_conditions_that_a_measure_leaves_out_do_not_count(tmp_path: Path) -> None:
    study = half_study(tmp_path)
    objective = study.objectives[0]
    only = replace(objective.measure, conditions=(0,))
    X = random_designs(study, 6)
    found = evaluate(replace(study, objectives=(replace(objective, measure=only),), constraints=()), X)
    by_place = pieces(study, X, ["comfort"])
    want = np.max([column(by_place, "comfort", seat.name, study.conditions[0].name) for seat in study.seats], axis=0)
    np.testing.assert_allclose(found.values[:, 0], want, rtol=1e-15)


def test_finer_grid_moves_figures_by_less_than_1e4(study: Study) -> None:
    X = random_designs(study, 16)
    coarse, fine = Evaluator(study).evaluate(X).values, Evaluator(study, density=3).evaluate(X).values
    assert not np.array_equal(coarse, fine)
    np.testing.assert_allclose(coarse, fine, rtol=1e-4)
