"""Parts make up the figures that evaluation gives, in every shipped study and in both domains."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from evaluate.studies import half_study, random_designs
from ridefront import read_study
from ridefront.evaluate import Domain, Evaluator, parts_of
from ridefront.evaluate.stepping import StepChoice
from ridefront.road import Road
from ridefront.run.anatomy import anatomy, measures_made, smooth, study_parts
from ridefront.search import excess, figure
from ridefront.study import Study
from ridefront.study.space import decode

Array = NDArray[np.float64]

STUDIES = sorted((Path(__file__).parents[2] / "studies").glob("*.toml"))
DOMAINS: tuple[Domain, ...] = ("frequency-domain", "time-domain")
STEP = StepChoice(1e-3, 300.0, 1, (), (), (), True)  # any will do: both sides are driven with it


def on_short_roads(study: Study) -> Study:
    """The study with random roads that are driven in no time."""
    return replace(
        study,
        roads=tuple(
            replace(road, length=60.0, realisations=2) if isinstance(road, Road) else road for road in study.roads
        ),
    )


@pytest.mark.parametrize("domain", DOMAINS)
@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_parts_make_up_the_figures(path: Path, domain: Domain) -> None:
    """Bit for bit where a figure is the worst of its parts, or its unit is SI's. A mean of converted parts is within
    rounding of the converted mean.
    """
    study = read_study(path) if domain == "frequency-domain" else on_short_roads(read_study(path))
    evaluator = Evaluator(study, step=STEP)
    X = decode(study, np.random.default_rng(3).random((4 if domain == "frequency-domain" else 2, len(study.variables))))
    alone = evaluator.evaluate(X, domain)
    found, P = evaluator.evaluate_with_parts(X, domain)
    for ours, theirs in ((found.values, alone.values), (found.violation, alone.violation), (found.se, alone.se)):
        assert ours.tobytes() == theirs.tobytes()
    assert P.shape == (len(X), len(parts_of(study, evaluator.model)))
    assert (alone.status == 0).any()
    for k, (measure, made) in enumerate(zip(study.measures, measures_made(study), strict=True)):
        recombined = figure(made, P)
        if made.over == "worst" or measure.factor == 1:
            assert recombined.tobytes() == alone.values[:, k].tobytes(), measure.label
        else:
            np.testing.assert_allclose(recombined, alone.values[:, k], rtol=1e-14)


def test_limits_add_up_to_the_violation(tmp_path: Path) -> None:
    study = half_study(tmp_path)
    found, P = Evaluator(study).evaluate_with_parts(random_designs(study, 60))
    whole = sum(np.maximum(excess(limit, P), 0.0) for limit in anatomy(study).limits)
    np.testing.assert_allclose(found.violation, np.asarray(whole), rtol=1e-12, atol=1e-15)
    assert (found.violation > 0).any()


def harsh() -> Study:
    return read_study(next(path for path in STUDIES if path.stem == "hatchback-harsh"))


def test_parts_say_what_they_are() -> None:
    study = harsh()
    labels = [item.label for item in study.measures]
    parts = study_parts(study)
    comfort = [part for part in parts if labels[part.measure] == labels[0]]
    assert [(part.place, part.condition, part.group) for part in comfort] == [
        ("front seats", "country road @ 80 km/h, driver", 0),
        ("back seat", "country road @ 80 km/h, driver", 0),
        ("front seats", "country road @ 80 km/h, full", 1),
        ("back seat", "country road @ 80 km/h, full", 1),
    ]
    ratio = [part for part in parts if study.measures[part.measure].criterion == "frequency_ratio"]
    assert {(part.place, part.condition, part.group) for part in ratio} == {("", "", 0)}


@pytest.mark.parametrize("domain", DOMAINS)
def test_figures_that_jump_have_no_slope_where_they_are_driven(domain: Domain) -> None:
    """Settling on a hump is driven in either domain; nothing else of this study jumps."""
    study = harsh()
    jumping = {study.measures[part.measure].criterion for part, slope in zip(
        study_parts(study), smooth(study, domain), strict=True) if not slope}  # fmt: skip
    assert jumping == {"settling_time"}


def test_failed_designs_have_no_parts(tmp_path: Path) -> None:
    study = half_study(tmp_path)
    X = random_designs(study, 6)
    X[2] = 1e300
    found, P = Evaluator(study).evaluate_with_parts(X)
    assert found.status[2] != 0
    assert np.isnan(P[2]).all()
    assert np.isfinite(P[[0, 1, 3, 4, 5]][found.status[[0, 1, 3, 4, 5]] == 0]).all()
