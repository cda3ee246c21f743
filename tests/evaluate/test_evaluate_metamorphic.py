"""Changes of a study whose effect on the figures is known without knowing the figures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from evaluate.studies import half_study, random_designs, rougher
from ridefront.criteria import CRITERIA
from ridefront.evaluate import evaluate, pieces
from ridefront.study import Condition, Study

RMS = (
    "comfort",
    "comfort_total",
    "body_acceleration",
    "pitch_angle",
    "pitch_acceleration",
    "dynamic_load_coefficient",
    "travel_rms",
    "rattle_space",
)


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder: Path = tmp_path_factory.mktemp("study")
    return half_study(folder)


@pytest.fixture(scope="module")
def linear(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder: Path = tmp_path_factory.mktemp("study")
    return half_study(folder, real=False)


def with_conditions(study: Study, conditions: tuple[Condition, ...]) -> Study:
    """The study with those conditions, all of which count for every measure."""
    every = tuple(range(len(conditions)))
    return replace(
        study,
        conditions=conditions,
        objectives=tuple(replace(o, measure=replace(o.measure, conditions=every)) for o in study.objectives),
        constraints=tuple(replace(c, measure=replace(c.measure, conditions=every)) for c in study.constraints),
    )


def test_order_of_conditions_does_not_matter(real: Study) -> None:
    X = random_designs(real, 20)
    other = with_conditions(real, real.conditions[::-1])
    there, back = evaluate(real, X).values, evaluate(other, X).values
    np.testing.assert_allclose(back, there, rtol=1e-14)
    worst = [k for k, measure in enumerate(real.measures) if measure.over == "worst"]
    assert np.array_equal(back[:, worst], there[:, worst])


def test_a_condition_split_in_two_of_half_the_weight_changes_nothing(real: Study) -> None:
    X = random_designs(real, 20)
    first, *rest = real.conditions
    half = replace(first, weight=first.weight / 2)
    split = with_conditions(real, (half, replace(half, name="again"), *rest))
    np.testing.assert_allclose(evaluate(split, X).values, evaluate(real, X).values, rtol=1e-14)


def test_weights_have_no_scale(real: Study) -> None:
    X = random_designs(real, 20)
    heavier = with_conditions(real, tuple(replace(c, weight=7 * c.weight) for c in real.conditions))
    np.testing.assert_allclose(evaluate(heavier, X).values, evaluate(real, X).values, rtol=1e-14)


def test_four_times_the_roughness_doubles_every_rms_of_a_linear_car(linear: Study) -> None:
    """To the last bit, since two is a power of two."""
    X = random_designs(linear, 20)
    smooth, rough = pieces(linear, X), pieces(rougher(linear, 4.0), X)
    for k, name in enumerate(smooth.criterion):
        if name in RMS:
            assert np.array_equal(rough.values[:, k], 2 * smooth.values[:, k]), name
        elif CRITERIA[name].kind != "condition" or name in ("damping_ratio", "hop_damping_ratio"):
            assert np.array_equal(rough.values[:, k], smooth.values[:, k]), name
    reserves = [k for k, name in enumerate(smooth.criterion) if name.endswith("_reserve")]
    assert reserves
    assert np.all(rough.values[:, reserves] < smooth.values[:, reserves])


def test_a_car_with_knees_and_friction_does_not_scale(real: Study) -> None:
    """Friction stiffens the ride of smooth roads, so comfort less than doubles; knees take damping on rough ones."""
    X = random_designs(real, 20)
    smooth, rough = pieces(real, X), pieces(rougher(real, 4.0), X)
    damping = [k for k, name in enumerate(smooth.criterion) if name == "damping_ratio"]
    assert np.all(rough.values[:, damping] < smooth.values[:, damping])
    travel = [k for k, name in enumerate(smooth.criterion) if name == "travel_rms"]
    grown = rough.values[:, travel] / smooth.values[:, travel]
    assert np.median(grown) > 2, "less damping past the knee"
    assert grown.min() > 1.3, "stops hold the rest back"


def test_a_load_of_nothing_is_the_reference(real: Study) -> None:
    """Adding no mass to the reference load gives its very figures."""
    X = random_designs(real, 10)
    twin = replace(real, loads=(real.loads[0], replace(real.loads[0], name="full", reference=False)))
    found = pieces(twin, X)
    names = list(zip(found.criterion, found.place, found.condition, strict=True))
    compared = 0
    for k, (criterion, place, condition) in enumerate(names):
        if condition.endswith("full"):
            same = names.index((criterion, place, condition.replace("full", "two up")))
            assert np.array_equal(found.values[:, k], found.values[:, same])
            compared += 1
    assert compared > 20


def test_a_seat_over_another_feels_the_same(real: Study) -> None:
    X = random_designs(real, 10)
    doubled = replace(real, seats=(*real.seats, replace(real.seats[0], name="twin")))
    found = pieces(doubled, X, ["comfort", "comfort_total"])
    at = {place: [k for k, name in enumerate(found.place) if name == place] for place in ("driver", "twin")}
    assert np.array_equal(found.values[:, at["driver"]], found.values[:, at["twin"]])


def test_more_mass_on_the_same_springs_lowers_every_ride_frequency(linear: Study) -> None:
    X = random_designs(linear, 10)
    heavier = replace(linear, fixed={**linear.fixed, "body.mass": 1.1 * linear.fixed["body.mass"]})
    before, after = (pieces(study, X, ["ride_frequency"]).values for study in (linear, heavier))
    assert np.all(after < before)
