"""Vehicles built within tolerances: the same bits however designs are cut up, twins with a loop and numpy, failures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

import ridefront.evaluate.scattered as scattered
from evaluate.studies import HALF, QUARTER, REAL, random_designs, study_of
from ridefront.evaluate import STATUS, Evaluator
from ridefront.evaluate.scattered import factors, quantile
from ridefront.study import Study
from ridefront.study.model import Scatter
from study_texts import FULL, changed, read

Array = NDArray[np.float64]

TOLERANCES = """
[scatter]
front.spring_rate = "5 %"
rear.spring_rate = "5 %"
front.damping = "15 %"
rear.damping = "15 %"
front.tyre_rate = 0.15
body.mass = "3 %"
samples = 16
"""
MEASURES = (
    ('criterion = "comfort"\n[[objective]]', 'criterion = "comfort"\nscatter = "mean"\n[[objective]]'),
    ('criterion = "bump_reserve"', 'criterion = "bump_reserve"\nscatter = "90 %"'),
    ('criterion = "ride_height_change.rear"', 'criterion = "ride_height_change.rear"\nscatter = "75 %"'),
)


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    text = changed(HALF.replace("FRONT", REAL).replace("REAR", REAL) + TOLERANCES, *MEASURES)
    return study_of(text, tmp_path_factory.mktemp("scatter"))


def one_by_one(study: Study, x: Array) -> Array:
    """Each vehicle built of a design as a study of its own that fixes its quantities outright, (samples, measures).

    Its reference position is its own, so only figures that do not depend on how high the body stands are the same.
    """
    assert study.scatter is not None
    draws, rows = factors(study.scatter, study.seed), []
    plain = replace(
        study,
        scatter=None,
        objectives=tuple(replace(o, measure=replace(o.measure, scatter=None)) for o in study.objectives),
        constraints=tuple(replace(c, measure=replace(c.measure, scatter=None)) for c in study.constraints),
    )
    for k in range(study.scatter.samples):
        fixed = {path: value * float(draws[path][k]) if path in draws else value for path, value in study.fixed.items()}
        variables = [
            float(x[j]) * float(draws[v.path][k]) if v.path in draws else float(x[j])
            for j, v in enumerate(study.variables)
        ]
        rows.append(Evaluator(replace(plain, fixed=fixed)).evaluate(np.array([variables])).values[0])
    return np.array(rows)


def test_twin_builds_each_vehicle_by_itself(tmp_path: Path) -> None:
    """A linear car rides alike wherever its body stands. The quantile's twin is numpy's."""
    text = changed(
        QUARTER + "[scatter]\nfront.spring_rate = 0.05\nfront.damping = 0.15\nfront.tyre_rate = 0.15\nsamples = 16\n",
        ('criterion = "comfort"', 'criterion = "comfort"\nscatter = "mean"'),
        ('criterion = "dynamic_load_coefficient"', 'criterion = "dynamic_load_coefficient"\nscatter = "90 %"'),
    )
    study = study_of(text, tmp_path)
    for x in random_designs(study, 4):
        found, each = Evaluator(study).evaluate(x[np.newaxis]).values[0], one_by_one(study, x)
        np.testing.assert_allclose(found[0], np.mean(each[:, 0]), rtol=1e-12)
        np.testing.assert_allclose(found[1], np.quantile(each[:, 1], 0.9, method="hazen"), rtol=1e-12)
        assert not each[:, 1].min() < found[1] < np.median(each[:, 1])  # the bad side


def test_quantile_is_numpys() -> None:
    figures = np.random.default_rng(0).standard_normal((7, 32))
    for share in (0.05, 0.5, 0.61, 0.9, 0.95, 0.99):
        np.testing.assert_allclose(
            quantile(figures, share), np.quantile(figures, share, axis=1, method="hazen"), rtol=1e-13
        )
    figures[2, 5] = np.nan
    assert np.array_equal(np.isnan(quantile(figures, 0.5)), np.arange(7) == 2)


def test_factors_are_even_within_tolerances_and_depend_on_the_seed_alone() -> None:
    """Of 32 Sobol' points each thirty-second of a range has one."""
    scatter = Scatter({"front.spring_rate": 0.05, "rear.damping": 0.15}, 32)
    found = factors(scatter, 7)
    for path, tolerance in scatter.tolerances.items():
        strip = np.floor((found[path] - 1 + tolerance) / (2 * tolerance) * 32).astype(int)
        assert sorted(strip) == list(range(32))
    assert all(np.array_equal(found[path], factors(scatter, 7)[path]) for path in found)
    assert not np.array_equal(found["rear.damping"], factors(scatter, 8)["rear.damping"])


def test_bits_do_not_depend_on_neighbours_or_chunks(study: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    X = random_designs(study, 40)
    want = Evaluator(study).evaluate(X)
    assert np.all(want.status == 0)
    evaluator = Evaluator(study)
    for part in (slice(3, 4), slice(10, 27)):
        assert evaluator.evaluate(X[part]).values.tobytes() == want.values[part].tobytes()
    order = np.random.default_rng(3).permutation(40)
    assert evaluator.evaluate(X[order]).values.tobytes() == want.values[order].tobytes()
    monkeypatch.setattr(scattered, "CHUNK", 48)
    assert evaluator.evaluate(X).values.tobytes() == want.values.tobytes()
    assert evaluator.evaluate_and_pieces(X[:9])[0].values.tobytes() == want.values[:9].tobytes()


def test_figures_of_the_design_as_drawn_stay(study: Study) -> None:
    """What does not count built vehicles is what it is without tolerances, bit by bit."""
    X = random_designs(study, 20)
    plain = replace(study, scatter=None)
    k = [i for i, item in enumerate(study.measures) if item.scatter is None]
    asked = replace(
        plain,
        objectives=tuple(o for o in plain.objectives if o.measure.scatter is None),
        constraints=tuple(c for c in plain.constraints if c.measure.scatter is None),
    )
    assert Evaluator(study).evaluate(X).values[:, k].tobytes() == Evaluator(asked).evaluate(X).values.tobytes()


def test_no_tolerance_to_speak_of_is_the_design_as_drawn(study: Study) -> None:
    assert study.scatter is not None
    tiny = replace(study, scatter=replace(study.scatter, tolerances=dict.fromkeys(study.scatter.tolerances, 1e-9)))
    plain = replace(
        study,
        objectives=tuple(replace(o, measure=replace(o.measure, scatter=None)) for o in study.objectives),
        constraints=tuple(replace(c, measure=replace(c.measure, scatter=None)) for c in study.constraints),
    )
    X = random_designs(study, 20)
    np.testing.assert_allclose(Evaluator(tiny).evaluate(X).values, Evaluator(plain).evaluate(X).values, rtol=1e-5)


@pytest.mark.parametrize("path", ["front.spring_rate", "rear.damping", "front.tyre_rate"])
def test_spread_widens_with_the_tolerance(study: Study, path: str) -> None:
    """Common practice, no source."""
    X = random_designs(study, 6)
    widths = []
    for tolerance in (0.02, 0.08, 0.2):
        wider = replace(study, scatter=Scatter({path: tolerance}, 16))
        found = Evaluator(wider).spread(X, study.measures[:1])
        widths.append(found[:, 0, 1] - found[:, 0, 0])
    assert np.all(widths[0] < widths[1])
    assert np.all(widths[1] < widths[2])


def test_a_vehicle_that_cannot_ride_fails_its_design(study: Study) -> None:
    """Bodies that are light enough lift an axle: the load that lies behind the rear axle takes the front one off."""
    assert study.scatter is not None
    loads = tuple(
        replace(load, masses=tuple(replace(m, behind_front_axle=m.behind_front_axle + 3.9) for m in load.masses))
        if load.name == "full"
        else load
        for load in study.loads
    )
    heavy = replace(study, loads=loads)
    X = random_designs(heavy, 2)
    assert np.all(Evaluator(replace(heavy, scatter=Scatter({"body.mass": 1e-3}, 16))).evaluate(X).status == 0)
    found = Evaluator(replace(heavy, scatter=Scatter({"body.mass": 0.5}, 16))).evaluate(X)
    assert [STATUS[s] for s in found.status] == ["no-static-equilibrium"] * 2
    assert np.all(np.isnan(found.values))


def test_full_car_counts_both_sides(tmp_path: Path) -> None:
    """A beam, a load to one side: means of built vehicles stand near the design as drawn, quantiles on the bad side."""
    more = "[scatter]\nfront.spring_rate = 0.05\nrear.spring_rate = 0.05\nrear.damping = 0.15\n[search]"
    text = changed(FULL, ("[search]", more))
    counted = changed(
        text, ('over = "worst"', 'over = "worst"\nscatter = "90 %"'), ('criterion = "bump_reserve"',
        'criterion = "bump_reserve"\nscatter = "90 %"'),
    )  # fmt: skip
    plain, study = read(text), read(counted)
    X = random_designs(plain, 8)
    drawn, built = Evaluator(plain).evaluate(X), Evaluator(study).evaluate(X)
    assert np.all(built.values[:, 1] > drawn.values[:, 1])
    assert np.all(built.values[:, 2] < drawn.values[:, 2])
    assert np.array_equal(built.values[:, 0], drawn.values[:, 0])


def test_standard_errors_in_time(tmp_path: Path) -> None:
    """The jackknife of the reduced figure: with hardly any tolerance it is the one of the design as drawn."""
    text = changed(
        QUARTER + '[scatter]\nfront.damping = "0.0001 %"\nsamples = 16\n',
        ('class = "B"', 'class = "B"\nlength = "200 m"\nrealisations = 3'),
        ('title = "Quarter car of the tests"', 'response = "time-domain"'),
        ("[vehicle.front]\n", '[vehicle.front]\nfriction = "40 N"\n'),
    )
    plain = study_of(text, tmp_path)
    study = study_of(changed(text, ('criterion = "comfort"', 'criterion = "comfort"\nscatter = "mean"')), tmp_path)
    X = random_designs(plain, 3)
    drawn, built = Evaluator(plain).evaluate(X), Evaluator(study).evaluate(X)
    assert np.all(drawn.se[:, 0] > 0)
    np.testing.assert_allclose(built.se[:, 0], drawn.se[:, 0], rtol=1e-3)
