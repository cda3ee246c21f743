"""How long the time domain's run-up has to be: what is missing from figures of a body that is hardly damped."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from builders import Array, iso_road, quarter_car
from ridefront.response import drive
from ridefront.road.realisation import fewest_samples
from time_rides import time_ride

ROAD = replace(iso_road("B", 500.0), realisations=4)
SPEED, TYRE, MASS = 25.0, 200e3, 400.0
LONG = 40.0  # s: of a first swing that dies away with 0.13/s half a per cent is left


def cars(frequency: Array, ratio: Array) -> dict[str, Array]:
    """Quarter cars whose body swings at that frequency on spring and tyre, Hz."""
    rate = 1 / (1 / (MASS * (2 * np.pi * frequency) ** 2) - 1 / TYRE)
    return quarter_car(MASS, tyre_rate=TYRE, spring_rate=rate, damping=2 * ratio * np.sqrt(rate * MASS))


def test_where_a_drive_begins_and_how_many_steps_it_takes() -> None:
    """The run-up's way before the road, at the front axle; and steps short enough to show the shortest wave, of which
    their ends and middles are two samples each.
    """
    for road, step in ((ROAD, 2e-3), (replace(ROAD, band=(0.1, 20.0), length=100.0), 5e-3)):
        way = drive.drive(road, SPEED, 0.1, 2.6, step, seed=1, realisations=1)
        steps = way.steps - way.first
        assert way.start == pytest.approx(-way.first * way.step * SPEED, rel=1e-12)
        assert way.first * way.step == pytest.approx(drive.RUN_UP, abs=way.step)
        assert way.step * steps == pytest.approx(road.length / SPEED, rel=1e-12)
        assert way.window == (way.first, way.steps)
        assert way.step <= step
        assert 2 * steps >= fewest_samples(road)
    assert steps == math.ceil(fewest_samples(road) / 2), "the second road needs more than the longest step gives"


def test_a_body_damped_too_little_has_not_swung_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ratios 0.02, 0.05, 0.05 and 0.1: against a run-up of 40 s acceleration and travel are 12 %, 1.3 %, 0.8 % and not
    at all low, more than 1 % where swings die away more slowly than is said to be needed.
    """
    car = cars(np.array([1.0, 0.8, 1.0, 1.0]), np.array([0.02, 0.05, 0.05, 0.1]))
    decay = 0.5 * car["front.damping"] / MASS
    usual = time_ride(car, ROAD, SPEED, step=2e-3).response
    monkeypatch.setattr(drive, "RUN_UP", LONG)
    settled = time_ride(car, ROAD, SPEED, step=2e-3).response
    for name in ("acceleration", "travel"):
        low = np.sqrt(getattr(usual, name)[:, 0] / getattr(settled, name)[:, 0]) - 1
        assert np.array_equal(low < -0.01, decay < drive.LEAST_DECAY)
        assert low[:2] == pytest.approx([-0.12, -0.0128], rel=0.2)
        assert low[2] == pytest.approx(-0.008, rel=0.2)
        assert abs(low[3]) < 1e-3
