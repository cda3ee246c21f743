"""Whole studies with every quantity in another unit: the same vehicles, the same figures but for last digits."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from evaluate.studies import study_of
from rewritten import IMPERIAL, POWERS_OF_TEN, in_other_units
from ridefront.evaluate import Evaluator
from ridefront.study import Study
from ridefront.study.space import decode, parameters
from study_texts import changed

Array = NDArray[np.float64]
STUDIES = Path(__file__).parents[2] / "studies"
SHIPPED = ("corner-hatchback", "estate", "sports-car", "van")
EITHER = pytest.mark.parametrize("instead", [IMPERIAL, POWERS_OF_TEN], ids=["imperial", "powers of ten"])


def pair(text: str, instead: dict[str, str], folder: Path) -> tuple[Study, Study]:
    """The study and its twin in other units, in a folder with the tables that studies name."""
    rewritten = in_other_units(text, instead)
    assert rewritten.count('"') == text.count('"')
    (folder / "van-rear-leaf.csv").write_bytes((STUDIES / "van-rear-leaf.csv").read_bytes())
    return study_of(text, folder), study_of(rewritten, folder)


def in_si(study: Study, X: Array) -> tuple[Array, Array]:
    """Figures (n, k) in SI, and violations (n,)."""
    found = Evaluator(study).evaluate(X)
    assert not found.status.any()
    return found.values * [measure.factor for measure in study.measures], found.violation


@EITHER
@pytest.mark.parametrize("name", SHIPPED)
def test_studies_that_ship(name: str, instead: dict[str, str], tmp_path: Path) -> None:
    """What is fixed becomes the same number to the last bit, designs from the same point of the unit cube differ by a
    rounding, figures by the few of them that linearisation makes of one.
    """
    one, other = pair((STUDIES / f"{name}.toml").read_text(encoding="utf-8"), instead, tmp_path)
    assert [v.unit for v in one.variables] != [v.unit for v in other.variables]
    assert one.fixed == other.fixed
    assert one.loads == other.loads
    assert one.seats == other.seats
    assert one.roads == other.roads
    assert [replace(item, name="") for item in one.conditions] == [replace(item, name="") for item in other.conditions]
    assert [item.scale * item.measure.factor for item in one.constraints] == pytest.approx(
        [item.scale * item.measure.factor for item in other.constraints], rel=1e-15
    )
    U = np.random.default_rng(3).random((8, len(one.variables)))
    X, Y = decode(one, U), decode(other, U)
    left, right = parameters(one, X), parameters(other, Y)
    assert left.keys() == right.keys()
    for path, values in left.items():
        np.testing.assert_allclose(right[path], values, rtol=1e-15, err_msg=path)
    (figures, violation), (again, also) = in_si(one, X), in_si(other, Y)
    np.testing.assert_allclose(again, figures, rtol=1e-12)
    np.testing.assert_allclose(also, violation, rtol=0, atol=1e-12)


DRIVEN = (
    ('response = "auto"                      ', 'response = "time-domain"               '),
    ('length = "500 m"\nrealisations = 4', 'length = "100 m"\nrealisations = 2'),
    ("count = 10", "count = 3"),
    ("realisations = 3", "realisations = 1"),
    ("simulated_generations = 8\nsimulated_refine = 600", ""),
    ("[present] ", '[[constraint]]\ncriterion = "travel_rms"\nroad = "country road"\nat_most = "40 mm"\n[present] '),
)


def test_a_study_that_is_driven(tmp_path: Path) -> None:
    """The same step is found, and every criterion at every place over potholes, humps and a random road is the same,
    standard errors too. 1e-10: some ten thousand steps add up their roundings, and a dose takes their fourth power;
    1e-8: errors come of small differences.
    """
    text = changed((STUDIES / "hatchback-harsh.toml").read_text(encoding="utf-8"), *DRIVEN)
    one, other = pair(text, IMPERIAL, tmp_path)
    U = np.random.default_rng(4).random((3, len(one.variables)))
    drivers = Evaluator(one), Evaluator(other)
    assert drivers[0].step.step == drivers[1].step.step
    (figures, found), (others, again) = (
        each.evaluate_and_pieces(decode(study, U)) for each, study in zip(drivers, (one, other), strict=True)
    )
    assert set(found.response) == {"time-domain", "at rest"}
    assert (found.criterion, found.place) == (again.criterion, again.place)
    names = dict(zip([c.name for c in one.conditions], [c.name for c in other.conditions], strict=True))
    assert tuple(names.get(name, name) for name in found.condition) == again.condition
    assert not found.status.any()
    np.testing.assert_allclose(again.values, found.values, rtol=1e-10, atol=1e-12)
    sampled = [condition.startswith("country road") for condition in found.condition]
    assert np.array_equal(np.isfinite(found.se).all(axis=0), sampled), "one realisation of what is not a random road"
    assert np.mean(found.se[:, sampled] > 0) > 0.5
    np.testing.assert_allclose(again.se, found.se, rtol=1e-8, atol=1e-12)
    errors = [each.se * [item.factor for item in study.measures] for each, study in ((figures, one), (others, other))]
    np.testing.assert_allclose(errors[1], errors[0], rtol=1e-8, atol=1e-12)
    travel = [study.measures.index(item) for study in (one, other) for item in study.measures if "travel" in item.label]
    assert np.all(figures.se[:, travel[0]] > 10 * others.se[:, travel[1]]), "of millimetres and of inches"
