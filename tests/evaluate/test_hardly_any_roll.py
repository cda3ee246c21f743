"""Loads that balance across the centre line but for rounding, or all but balance: nobody's figures hang on that."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from builders import at_rest_under, full_car
from ridefront.evaluate.evaluator import Evaluator
from ridefront.evaluate.stepping import choose_step
from ridefront.response.spectrum import off_centre
from ridefront.road import Road
from ridefront.study.reader import read_study
from ridefront.vehicle import Load, LoadMass

STUDIES = Path(__file__).parents[2] / "studies"
DRIVER_ALONE = '{ mass = "75 kg", behind_front_axle = "1.35 m", left_of_centre = "0.38 m" }'
CANCELLING = (LoadMass(80.0, 1.3, left_of_centre=0.36), LoadMass(57.6, 1.3, left_of_centre=-0.5))


def test_masses_that_cancel_leave_both_sides_alike() -> None:
    assert sum(mass.mass * mass.left_of_centre for mass in CANCELLING) != 0.0, "but for rounding"
    loads = (Load("cancelling", CANCELLING, reference=True),)
    state = at_rest_under(full_car({"front.spring_rate": [20e3, 30e3]}), loads)
    np.testing.assert_array_equal(state.body.left, 0.0)
    np.testing.assert_array_equal(state.travel[:, 0], state.travel[:, 1])
    assert not off_centre(state)
    off = at_rest_under(full_car(), (Load("off", (*CANCELLING, LoadMass(0.001, 1.3, left_of_centre=0.1))),))
    assert off.body.left[0] == pytest.approx(1e-4 / 1537.601, rel=1e-6), "what little there is counts"
    assert off_centre(off)


@pytest.mark.parametrize("left", [0.0, 1e-16])
def test_roll_by_rounding_does_not_shorten_the_step(left: float, tmp_path: Path) -> None:
    """On equal tracks a car whose load lies next to nothing off the centre line rolls by rounding alone."""
    text = (STUDIES / "sports-car.toml").read_text(encoding="utf-8")
    assert DRIVER_ALONE in text
    path = tmp_path / "study.toml"
    path.write_text(text.replace(DRIVER_ALONE, DRIVER_ALONE.replace('"0.38 m"', str(left))), encoding="utf-8")
    study = read_study(path)
    roads = tuple(dataclasses.replace(road, length=40.0, tracks="equal") for road in study.roads if type(road) is Road)
    study = dataclasses.replace(study, roads=roads)
    found = choose_step(study, Evaluator(study).model, study.fixed["wheelbase"], 1.545)
    assert found.held
    assert found.step == 1e-3
