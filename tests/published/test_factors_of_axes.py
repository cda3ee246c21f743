"""Multiplying factors of ISO 2631-1:1997 for comfort, found in what `comfort_total` makes of a body that only pitches
or only rolls.

Clause 8.2.2, from memory: rotation of the seat with We, 0.63 m/rad about the fore-aft axis (roll), 0.4 about the
lateral one (pitch), 0.2 about the vertical one (yaw, which no car here has); clause 8.2.3: the backrest
0.8 fore-aft with Wc (seen, with the tables of test_iso2631.py), 0.5 sideways and 0.4 up with Wd (from memory). Of the
backrest `comfort_total` has the fore-aft axis alone.

The body is made to move in one way: a car alike at both ends only pitches on waves twice as long as its wheelbase; one
alike left and right only rolls where one track is the other upside down. Weightings are `two_ends`', which come from
the constants and not from the engine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from builders import Array, figure, full_car
from checks import check
from full_car_rides import states
from published.two_ends import weighting
from ridefront.criteria.ride import Ride
from ridefront.response.frequency import frequency_response
from ridefront.response.grid import condition_grid
from ridefront.road import Road
from ridefront.vehicle import Seat

SOURCE = "ISO 2631-1:1997, multiplying factors of the axes"
ROTATION = "memory: 8.2.2"
BACKREST = "seen in public code, class ISO2631Analyzer: seat-back vibration, Wc"
SPEED, WHEELBASE, HEIGHT, TRACK = 20.0, 2.7, 0.55, 1.5
MIDDLE = 0.5 * WHEELBASE
LEVEL, RAISED = Seat("level", MIDDLE, height=HEIGHT), Seat("raised", MIDDLE, height=HEIGHT + 1.0)
"""Above the centre of mass: one at its height, where pitch moves no backrest, one a metre higher."""


@dataclass(frozen=True)
class UpsideDown(Road):
    """A road whose right track is its left one upside down."""

    def shares(self, n: Array, track: float) -> tuple[Array, Array]:
        del track
        return np.zeros_like(n), np.ones_like(n)


@dataclass(frozen=True)
class Equal(Road):
    """A road whose tracks are alike."""

    def shares(self, n: Array, track: float) -> tuple[Array, Array]:
        del track
        return np.ones_like(n), np.zeros_like(n)


def on_waves(road: type[Road], wheelbases: float) -> tuple[Ride, float]:
    """A car alike at both ends and on both sides on waves so many wheelbases long, and their frequency, Hz."""
    alike = full_car({"front_share": 0.5, "mass_centre_height": HEIGHT})
    n = 1 / (wheelbases * WHEELBASE)
    waves = road("waves", 1e-7, band=(n * (1 - 1e-7), n * (1 + 1e-7)))
    (state,) = states(alike)
    grid = condition_grid(waves, SPEED, 0.0, WHEELBASE, track=TRACK)
    return Ride(state, state, alike, frequency_response(state, grid)), n * SPEED


def weight(name: str, f: float) -> float:
    return float(np.sqrt(weighting(name, np.array([f]))[0]))


def check_factor(figure: str, theirs: str, ours: float, unit: str, how: str) -> None:
    check(figure=figure, source=SOURCE, theirs=theirs, ours=ours, unit=unit, rel=1e-4, how=how)


def test_pitch_and_backrest() -> None:
    """Waves of two wheelbases leave pitch alone; a metre above the centre of mass a rad/s² of it is a m/s² fore-aft."""
    pitching, f = on_waves(Equal, 2.0)
    pitch = figure(pitching, "pitch_acceleration")[0]
    level, raised = (figure(pitching, "comfort_total", seat)[0] for seat in (LEVEL, RAISED))
    assert figure(pitching, "comfort", LEVEL)[0] < 1e-5 * pitch
    assert figure(pitching, "roll_acceleration")[0] < 1e-9 * pitch
    check_factor(
        "pitch, of a body that only pitches", "0.4", level / (weight("We", f) * pitch), "m/rad", "memory: 8.2.2"
    )
    backrest = float(np.sqrt(raised**2 - level**2)) / (weight("Wc", f) * pitch)
    check_factor("fore-aft at the backrest, of a body that only pitches", "0.8", backrest, "", BACKREST)


def test_roll() -> None:
    """Tracks upside down to each other leave roll alone; both axles roll together on waves as long as the wheelbase."""
    rolling, f = on_waves(UpsideDown, 1.0)
    roll = figure(rolling, "roll_acceleration")[0]
    level, raised = (figure(rolling, "comfort_total", seat)[0] for seat in (LEVEL, RAISED))
    assert max(figure(rolling, "comfort", LEVEL)[0], figure(rolling, "pitch_acceleration")[0]) < 1e-9 * roll
    seat = level / (weight("We", f) * roll)
    check_factor("roll, of a body that only rolls", "0.63", seat, "m/rad", ROTATION)
    assert raised == pytest.approx(level, rel=1e-12), "sideways motion at the backrest is left out"
