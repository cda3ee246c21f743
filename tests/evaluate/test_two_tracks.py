"""A full car's evaluator lays two tracks of every road under its wheels, and its step suits axles that rock."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from ridefront.evaluate.evaluator import Evaluator
from ridefront.evaluate.outcome import Domain
from ridefront.evaluate.stepping import STEPS, StepChoice, choose_step
from ridefront.response.drive import drive
from ridefront.response.grid import condition_grid
from ridefront.road import Road
from ridefront.study.model import Study
from ridefront.study.reader import read_study

STUDIES = Path(__file__).parents[2] / "studies"
STEP = StepChoice(1e-3, 0.0, 0, (), (), (), held=True)


def short(name: str) -> Study:
    """One of the studies on 20 m of each of its roads."""
    study = read_study(STUDIES / name)
    roads = tuple(dataclasses.replace(road, length=20.0) for road in study.roads if isinstance(road, Road))
    assert len(roads) == len(study.roads)
    return dataclasses.replace(study, roads=roads)


def test_tracks_are_as_far_apart_as_the_axles_wheels_on_average() -> None:
    study = short("van.toml")
    evaluator = Evaluator(study, step=STEP, realisations=2)
    c = 2
    condition, fixed = study.conditions[c], study.fixed
    road, track = study.roads[condition.road], 0.5 * (1.75 + 1.74)
    assert isinstance(road, Road)
    alone = drive(
        road, condition.speed, fixed["contact_patch"], 3.45, 1e-3, seed=study.seed, realisations=2, track=track
    )  # fmt: skip
    np.testing.assert_array_equal(evaluator.drive(c).heights, alone.heights)
    assert alone.heights.shape[:2] == (2, 4)
    grid = condition_grid(road, condition.speed, fixed["contact_patch"], 3.45, track=track)
    np.testing.assert_array_equal(evaluator.grid(c).difference_power, grid.difference_power)
    assert grid.difference_power.any()


def test_equal_tracks_do_not_roll_a_car_that_is_alike_on_both_sides() -> None:
    study = short("sports-car.toml")
    equal = tuple(dataclasses.replace(road, tracks="equal") for road in study.roads if isinstance(road, Road))
    assert study.present is not None
    X = study.present[np.newaxis]
    domains: tuple[Domain, ...] = ("frequency-domain", "time-domain")
    for domain in domains:
        rolls = []
        for each in (study, dataclasses.replace(study, roads=equal)):
            found = Evaluator(each, step=STEP, realisations=2).pieces(X, ["roll_acceleration"], domain)
            laden = [k for k, name in enumerate(found.condition) if name.endswith("luggage")]
            assert len(laden) == 3
            rolls.append(found.values[0, laden])
        assert np.all(rolls[0] > 0.1)
        np.testing.assert_allclose(rolls[1], 0.0, rtol=0, atol=1e-9)


@pytest.mark.parametrize("name", ["van.toml", "sports-car.toml"])
def test_the_step_suits_wheels_that_move_against_each_other(name: str) -> None:
    """Of a bar both ends give way: two wheels against each other have k + 2 k_bar + k_t (textbook). A beam of mass 2 m
    and roll inertia I rocks with t²/(2 I) for 1/m; its springs, nearer the middle, count less.
    """
    study = short(name)
    model = Evaluator(study, step=STEP).model
    found = choose_step(study, model, study.fixed["wheelbase"], 1.6)
    if name == "van.toml":
        at_least = np.sqrt(310e3 * 1.74**2 / (2 * 105.0))
    else:
        at_least = np.sqrt((114e3 * 0.70**2 + 2 * 40e3 + 240e3) / 36.0)
    assert found.fastest >= at_least
    assert found.step in STEPS
    assert found.step * found.fastest <= 0.25
