"""The same vehicles as study files: what goes in through a study and the evaluator comes out as what the rooms below
say.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from builders import KMH, figure, iso_road, ride
from full_car_rides import driven_on_two_tracks, ride_on_two_tracks
from ridefront.criteria.ride import Ride
from ridefront.evaluate import Evaluator, Pieces
from ridefront.evaluate.stepping import StepChoice
from ridefront.road import CLASSES, Road
from ridefront.study import Study, read_study
from ridefront.vehicle import Seat
from study_texts import changed, read
from time_rides import STEP, time_ride
from trade.vehicles import ESTATE, HATCHBACK, SPORTS_CAR, VAN, Vehicle, study_text

VEHICLES = {"hatchback": HATCHBACK, "estate": ESTATE, "van": VAN, "sports car": SPORTS_CAR}
ROADS = {"country road @ 80 km/h": ("B", 80), "broken lane @ 40 km/h": ("D", 40)}
COUNTED = {"comfort", "bump_reserve", "dynamic_load_coefficient", "damping_ratio", "travel_rms", "rattle_space"}
DRIVEN = COUNTED | {
    "peak_acceleration",
    "vibration_dose",
    "transient_vibration",
    "bump_stop_engagement",
    "stop_force",
    "wheel_lift_off",
}
ROLLING = {"roll_angle", "roll_acceleration"}
ONE_SEAT = pytest.mark.parametrize("vehicle", [VAN, SPORTS_CAR], ids=["van", "sports car"])


@pytest.fixture(params=VEHICLES)
def case(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Vehicle, Study]:
    vehicle = VEHICLES[request.param]
    path = tmp_path / "invented.toml"
    path.write_text(study_text(vehicle), encoding="utf-8")
    return vehicle, read_study(path)


def test_pieces_of_the_present_setup(case: tuple[Vehicle, Study]) -> None:
    """Every criterion of a ride at every place in every condition, against the same ride built without a study. 1e-12:
    only speeds take another way into SI.
    """
    vehicle, study = case
    assert study.present is not None
    pieces = Evaluator(study).pieces(study.present[np.newaxis])
    rides = {
        f"{name}, {load.name}": ride(
            vehicle.parameters, iso_road(letter), kmh * KMH, loads=vehicle.loads, at=at, patch=0.12
        )
        for name, (letter, kmh) in ROADS.items()
        for at, load in enumerate(vehicle.loads)
    }
    assert assert_those_rides(pieces, rides, vehicle.seats) >= COUNTED


def assert_those_rides(pieces: Pieces, rides: dict[str, Ride], seats: Sequence[Seat]) -> set[str]:
    """Every piece of one design in these conditions against their rides; returns which criteria there were."""
    named, seen = {seat.name: seat for seat in seats}, set()
    for criterion, place, condition, value in zip(
        pieces.criterion, pieces.place, pieces.condition, pieces.values[0], strict=True
    ):
        if condition in rides:
            expected = figure(rides[condition], criterion, named.get(place, place))[0]
            assert value == pytest.approx(expected, rel=1e-12), (criterion, place, condition)
            seen.add((criterion, condition))
    assert {condition for _, condition in seen} == set(rides)
    return {criterion for criterion, _ in seen}


def short(text: str) -> str:
    """The same study on roads of 60 m of which two are drawn, from another seed."""
    for letter in "BD":
        text = changed(text, (f'class = "{letter}"', f'class = "{letter}"\nlength = 60.0\nrealisations = 2'))
    return changed(text, ('title = "invented"', 'title = "invented"\nseed = 1'))


def short_road(name: str, letter: str) -> Road:
    """As a drive takes it by hand: its name is part of what its waves are drawn from."""
    return Road(name.split(" @ ")[0], CLASSES[letter], length=60.0, realisations=2)


def driven(study: Study) -> Pieces:
    assert study.present is not None
    held = StepChoice(STEP, 0.0, 0, (), (), (), held=True)
    return Evaluator(study, step=held).pieces(study.present[np.newaxis], None, "time-domain")


@ONE_SEAT
def test_pieces_of_the_present_setup_in_time(vehicle: Vehicle) -> None:
    """The same where every road is driven, at a step that is given."""
    (driver,) = vehicle.seats
    rides = {
        f"{name}, {load.name}": time_ride(
            vehicle.parameters, short_road(name, letter), kmh * KMH,
            loads=vehicle.loads, at=at, patch=0.12, seat=driver,
        )
        for name, (letter, kmh) in ROADS.items()
        for at, load in enumerate(vehicle.loads)
    }  # fmt: skip
    pieces = driven(read(short(study_text(vehicle))))
    assert assert_those_rides(pieces, rides, vehicle.seats) >= DRIVEN


@ONE_SEAT
@pytest.mark.parametrize("domain", ["frequency-domain", "time-domain"])
def test_pieces_of_a_full_car_with_its_driver_to_one_side(vehicle: Vehicle, domain: str) -> None:
    """The same of both sides, on a beam behind or not, in either domain."""
    study, driver = read(short(study_text(vehicle, "full-car"))), vehicle.driver_aside
    assert study.present is not None
    rides = {}
    for name, (letter, kmh) in ROADS.items():
        for at, load in enumerate(vehicle.loads):
            road, speed = short_road(name, letter), kmh * KMH
            if domain == "time-domain":
                of = driven_on_two_tracks(
                    vehicle.full, road, speed, loads=vehicle.loads, at=at, patch=0.12, beams=vehicle.beams, seat=driver
                )
            else:
                of = ride_on_two_tracks(
                    vehicle.full, road, speed, loads=vehicle.loads, at=at, patch=0.12, beams=vehicle.beams
                )
            rides[f"{name}, {load.name}"] = of
    pieces = driven(study) if domain == "time-domain" else Evaluator(study).pieces(study.present[np.newaxis])
    counted = DRIVEN if domain == "time-domain" else COUNTED
    assert assert_those_rides(pieces, rides, (driver,)) >= counted | ROLLING


def test_springs_through_the_evaluator(case: tuple[Vehicle, Study]) -> None:
    """Ten springs from 0.6 to 1.4 times today's, front and rear alike: with two up on a country road stiffer is rougher
    at every seat and leaves more reserve at every wheel; and where designs stand among others does not matter.
    """
    _, study = case
    assert study.present is not None
    evaluator = Evaluator(study)
    X = study.present * np.linspace(0.6, 1.4, 10)[:, np.newaxis]
    pieces = evaluator.pieces(X, ["comfort", "bump_reserve"])
    of_interest = [i for i, name in enumerate(pieces.condition) if name == "country road @ 80 km/h, design"]
    assert len(of_interest) == 2 + len(study.seats)
    assert np.all(np.diff(pieces.values[:, of_interest], axis=0) > 0)
    together = evaluator.evaluate(X).values
    alone = np.concatenate([evaluator.evaluate(x[np.newaxis]).values for x in X])
    np.testing.assert_array_equal(together, alone)
