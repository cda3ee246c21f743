"""A failed design is a status and no figures; its neighbours keep their bits."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from evaluate.studies import HALF, REAL, half_study, quarter_study, random_designs, rougher, study_of
from ridefront.evaluate import STATUS, Evaluator
from ridefront.road import Road
from ridefront.study import Measure, Study

UNSTABLE, INFINITE = STATUS.index("no-static-equilibrium"), STATUS.index("not-finite")


@pytest.fixture(scope="module", params=["quarter", "half"])
def study(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder: Path = tmp_path_factory.mktemp("study")
    return quarter_study(folder) if request.param == "quarter" else half_study(folder)


@pytest.mark.parametrize(
    ("path", "value", "status"),
    [
        ("front.spring_rate", -20.0, UNSTABLE),
        ("front.spring_rate", 0.0, UNSTABLE),
        ("front.spring_rate", np.nan, UNSTABLE),
        ("front.damping", np.nan, INFINITE),
        ("front.damping", np.inf, INFINITE),
        ("front.damping", 1e308, INFINITE),
    ],
)
def test_status_no_figures_and_unharmed_neighbours(study: Study, path: str, value: float, status: int) -> None:
    X, evaluator = random_designs(study, 40), Evaluator(study)
    good, pieces = evaluator.evaluate(X), evaluator.pieces(X)
    assert np.all(good.status == 0)
    assert np.all(np.isfinite(good.values))
    assert np.all(np.isfinite(pieces.values))
    spoilt = X.copy()
    bad = np.zeros(40, dtype=bool)
    bad[[0, 17, 39]] = True
    spoilt[bad, [variable.path for variable in study.variables].index(path)] = value
    found, parts = evaluator.evaluate(spoilt), evaluator.pieces(spoilt)
    assert np.array_equal(found.status, np.where(bad, status, 0))
    assert np.array_equal(parts.status, found.status)
    assert np.all(np.isnan(found.values[bad]))
    assert np.all(np.isnan(found.violation[bad]))
    assert np.all(np.isnan(parts.values[bad]))
    assert np.array_equal(found.values[~bad], good.values[~bad])
    assert np.array_equal(found.violation[~bad], good.violation[~bad])
    assert np.array_equal(parts.values[~bad], pieces.values[~bad])


def test_a_batch_of_nothing_but_failures(study: Study) -> None:
    X = np.full((20, len(study.variables)), np.nan)
    found = Evaluator(study).evaluate(X)
    assert np.all(found.status == UNSTABLE)
    assert np.all(np.isnan(found.values))


def test_a_load_that_lifts_an_axle_fails_the_light_bodies_only(tmp_path: Path) -> None:
    """The body's mass is a variable; a trailer hitch takes the front axle off the ground where it is low."""
    text = HALF.replace("FRONT", REAL).replace("REAR", REAL)
    text = text.replace('mass = "1350 kg"', 'mass = { low = "300 kg", high = "1500 kg" }')
    text = text.replace(
        '{ mass = "300 kg", behind_front_axle = "2.6 m" }', '{ mass = "600 kg", behind_front_axle = "4 m" }'
    )
    study = study_of(text, tmp_path)
    at = [variable.path for variable in study.variables].index("body.mass")
    X = random_designs(study, 50)
    mass = X[:, at]
    # Moments about the rear axle of body, two people and load; positive keeps the front on the ground.
    holds = mass * 0.53 * 2.7 + 150 * (2.7 - 1.35) - 600 * (4 - 2.7) > 0
    found = Evaluator(study).evaluate(X)
    assert 0 < np.sum(holds) < 50
    assert np.array_equal(found.status == 0, holds)
    assert np.all(found.status[~holds] == UNSTABLE)


def test_no_warning_leaks_from_overflow(study: Study) -> None:
    """Warnings are errors in these tests, so reaching the end is the point; every magnitude is tried."""
    X = random_designs(study, 8)
    for value in (0.0, -0.0, 1e-300, -1e300, 1e300, np.inf, -np.inf):
        for j in range(X.shape[1]):
            wild = X.copy()
            wild[::2, j] = value
            found = Evaluator(study).evaluate(wild)
            ok = found.status == 0
            assert np.all(np.isfinite(found.values[ok]))
            assert np.all(np.isnan(found.values[~ok]))
            assert np.all(ok[1::2])


def test_a_design_that_lives_on_its_stops_has_no_figures(tmp_path: Path) -> None:
    """Stops at 15 mm, roads of class D and F at 40 to 110 km/h: some do not settle, the others do."""
    text = HALF.replace("FRONT", REAL).replace("REAR", REAL)
    study = rougher(study_of(text, tmp_path), 4.0**3)
    fixed = {**study.fixed}
    for axle in ("front", "rear"):
        fixed |= {f"{axle}.bump_clearance": 0.015, f"{axle}.bump_stop_rate": 8e4, f"{axle}.rebound_clearance": 0.015}
        fixed |= {f"{axle}.rebound_stop_rate": 8e4, f"{axle}.rebound_stop_progression": 3.0}
    X = random_designs(study, 400)
    wild = replace(study, fixed=fixed)
    found, calm = Evaluator(wild).evaluate(X), Evaluator(study_of(text, tmp_path)).evaluate(X)
    loose = found.status == STATUS.index("not-settled")
    assert 0 < np.count_nonzero(loose) < 400
    assert np.all(np.isnan(found.values[loose]))
    assert np.all(np.isfinite(found.values[~loose]))
    assert np.all(calm.status == 0)


def test_a_condition_that_no_measure_counts_fails_no_design(tmp_path: Path) -> None:
    """Roads are as rough as can be where nothing counts: figures are those without these roads."""
    text = HALF.replace("FRONT", REAL).replace("REAR", REAL)
    study = study_of(text, tmp_path)
    kept = study.conditions[0].road
    only = {c for c, condition in enumerate(study.conditions) if condition.road == kept}

    def narrowed(measure: Measure) -> Measure:
        return replace(measure, conditions=tuple(c for c in measure.conditions if c in only))

    narrow = replace(
        study,
        objectives=tuple(replace(item, measure=narrowed(item.measure)) for item in study.objectives),
        constraints=tuple(replace(item, measure=narrowed(item.measure)) for item in study.constraints),
    )
    roads = tuple(
        road if k == kept or not isinstance(road, Road) else replace(road, roughness=1e3)
        for k, road in enumerate(study.roads)
    )
    wild = replace(narrow, roads=roads)
    X = random_designs(study, 60)
    found, calm = Evaluator(wild).evaluate(X), Evaluator(narrow).evaluate(X)
    assert np.all(found.status == 0)
    assert np.array_equal(found.values, calm.values)
    pieces = Evaluator(wild).pieces(X)
    assert np.all(pieces.status == 0)
    names = {study.conditions[c].name for c in only}
    counted = [k for k, name in enumerate(pieces.condition) if name in names]
    assert np.all(np.isfinite(pieces.values[:, counted]))
