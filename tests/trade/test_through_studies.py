"""The same vehicles as study files: what goes in through a study and the evaluator comes out as what the rooms below
say.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from builders import KMH, figure, iso_road, ride
from ridefront.evaluate import Evaluator
from ridefront.study import Study, read_study
from trade.vehicles import ESTATE, HATCHBACK, SPORTS_CAR, VAN, Vehicle, study_text

VEHICLES = {"hatchback": HATCHBACK, "estate": ESTATE, "van": VAN, "sports car": SPORTS_CAR}
ROADS = {"country road @ 80 km/h": ("B", 80), "broken lane @ 40 km/h": ("D", 40)}


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
    seats = {seat.name: seat for seat in vehicle.seats}
    rides = {
        f"{name}, {load.name}": ride(
            vehicle.parameters, iso_road(letter), kmh * KMH, loads=vehicle.loads, at=at, patch=0.12
        )
        for name, (letter, kmh) in ROADS.items()
        for at, load in enumerate(vehicle.loads)
    }
    seen = set()
    for criterion, place, condition, value in zip(
        pieces.criterion, pieces.place, pieces.condition, pieces.values[0], strict=True
    ):
        if condition in rides:
            expected = figure(rides[condition], criterion, seats.get(place, place))[0]
            assert value == pytest.approx(expected, rel=1e-12), (criterion, place, condition)
            seen.add((criterion, condition))
    assert {condition for _, condition in seen} == set(rides)
    assert {"comfort", "bump_reserve", "dynamic_load_coefficient", "damping_ratio"} <= {name for name, _ in seen}


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
