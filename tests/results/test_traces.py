"""Histories as a table, and the setups that they are of."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ridefront.errors import CallError, StudyError
from ridefront.evaluate import Evaluator
from ridefront.evaluate.stepping import StepChoice
from ridefront.evaluate.tracing import trace
from ridefront.results import traces as module
from ridefront.results.traces import Lineup, line_up, traces_table, write_traces
from ridefront.study import Study
from traced_studies import CAR, CORNER, TWO_SIDES, traced_study


@pytest.fixture(scope="module")
def car(tmp_path_factory: pytest.TempPathFactory) -> Evaluator:
    return Evaluator(traced_study(tmp_path_factory.mktemp("car")), realisations=1)


@pytest.fixture(scope="module")
def study(car: Evaluator) -> Study:
    return car.study


def written(folder: Path, *rows: str) -> Path:
    file = folder / "designs.csv"
    head = "design,front.spring_rate,front.damping,rear.spring_rate,rear.damping"
    file.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return file


def test_the_file_holds_every_moment_of_every_setup_in_every_condition(car: Evaluator, tmp_path: Path) -> None:
    lineup = line_up(car.study, ["front.spring_rate=30 N/mm"], written(tmp_path, "17,18,1200,18,1300"))
    file = tmp_path / "histories.parquet"
    write_traces(car, lineup, (1, 2), file)
    frame = pd.read_parquet(file)
    by_condition = {c: trace(car, lineup.X, c) for c in (1, 2)}
    assert len(frame) == 3 * sum(len(found.time) for found in by_condition.values())
    assert list(frame.groupby(["condition", "setup"], observed=True, sort=False).groups) == [
        (car.study.conditions[c].name, label)
        for c in (1, 2)
        for label in ("present", "front.spring_rate=30 N/mm", "design 17")
    ]
    for c, found in by_condition.items():
        for k, label in enumerate(lineup.labels):
            rows = frame[(frame["condition"] == found.condition) & (frame["setup"] == label)]
            for name, values in {
                "time": found.time,
                "distance": found.distance,
                "pitch": found.pitch[k],
                "road.rear": found.road[1],
                "travel.front": found.travel[k, 0],
                "contact_force.rear": found.contact_force[k, 1],
                "lift_off.rear": found.lift_off[k, 1],
                "acceleration.back seat": found.acceleration[k, 1],
                "smooth.body": found.smooth[k, 2],
            }.items():
                assert np.array_equal(rows[name].to_numpy(), values), (c, label, name)
            np.testing.assert_allclose(rows["bump_stop.front"], 0.040)
            np.testing.assert_allclose(rows["static_travel.rear"], found.static_travel[k, 1])
    assert frame[frame["setup"] == "design 17"]["design"].eq(17).all()
    assert frame[frame["setup"] == "present"]["design"].isna().all()
    assert frame.attrs["units"]["damper_force.front"] == "N"
    assert frame.attrs["units"]["weighted.driver"] == "m/s^2"
    assert "reference position" in frame.attrs["descriptions"]["travel.rear"]


def test_the_metadata_says_what_the_setups_are(car: Evaluator) -> None:
    lineup = line_up(car.study, ["rear.damping=2.5 kN*s/m"])
    table = traces_table(car, lineup, (0,))
    setups = json.loads(table.schema.metadata[b"setups"])
    assert setups["present"]["front.spring_rate"] == 22.0
    assert setups["rear.damping=2500 N*s/m"]["rear.damping"] == 2500.0
    assert setups["rear.damping=2500 N*s/m"]["front.spring_rate"] == 22.0
    assert json.loads(table.schema.metadata[b"setup_units"])["rear.damping"] == "N*s/m"
    assert all(field.metadata[b"unit"] and field.metadata[b"description"] for field in table.schema)


def test_a_setup_without_histories_has_nulls_and_a_status(tmp_path: Path) -> None:
    evaluator = Evaluator(traced_study(tmp_path, CORNER, ('high = "4000 N*s/m"', 'high = "600000 N*s/m"')))
    evaluator._step = StepChoice(5e-3, 0.0, 0, (), (), (), held=True)
    lineup = Lineup(("mild", "wild"), (None, None), np.array([[20.0, 1500.0], [25.0, 600000.0]]))
    frame = traces_table(evaluator, lineup, (0,)).to_pandas()
    wild, mild = frame[frame["setup"] == "wild"], frame[frame["setup"] == "mild"]
    assert wild["status"].eq("diverged").all()
    assert mild["status"].eq("ok").all()
    assert len(wild) == len(mild)
    missing = ["travel.front", "lift_off.front", "bump_stop.front", "acceleration.body"]
    assert wild[missing].isna().all(axis=None)
    assert mild[missing].notna().all(axis=None)
    assert "pitch" not in frame.columns, "a corner has none"


def test_a_full_car_has_four_corners_and_rolls(tmp_path: Path) -> None:
    evaluator = Evaluator(traced_study(tmp_path, CAR, *TWO_SIDES), realisations=1)
    lineup = line_up(evaluator.study)
    table, found = traces_table(evaluator, lineup, (1,)), trace(evaluator, lineup.X, 1)
    frame = table.to_pandas()
    for name, values in {
        "roll": found.roll[0],
        "road.front_left": found.road[0],
        "road.rear_right": found.road[3],
        "travel.front_right": found.travel[0, 1],
        "contact_force.rear_left": found.contact_force[0, 2],
        "lift_off.rear_right": found.lift_off[0, 3],
        "acceleration.driver": found.acceleration[0, 0],
    }.items():
        assert np.array_equal(frame[name].to_numpy(), values), name
    assert frame["road.front_left"].max() > 0.05
    assert not frame["road.front_right"].any()
    assert "travel.front" not in frame.columns
    assert b"left side up" in table.schema.field("roll").metadata[b"description"]


def test_more_rows_than_fit_are_refused(car: Evaluator, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_ROWS", 1000)
    with pytest.raises(CallError, match=r"rows of histories \(setups × conditions: 1 × 2\); allowed: 1,000"):
        traces_table(car, line_up(car.study), (0, 1))


def test_setups_line_up_in_the_order_present_by_hand_file(study: Study, tmp_path: Path) -> None:
    file = written(tmp_path, "17,18,1200,18,1300", "4,30,2000,30,2000")
    lineup = line_up(study, ["rear.spring_rate = 20", "front.damping=2 kN*s/m"], file)
    assert lineup.labels == (
        "present",
        "front.damping=2000 N*s/m, rear.spring_rate=20 N/mm",
        "design 17",
        "design 4",
    )
    assert lineup.designs == (None, None, 17, 4)
    assert lineup.X.tolist() == [
        [22.0, 1700.0, 24.0, 1800.0],
        [22.0, 2000.0, 20.0, 1800.0],
        [18.0, 1200.0, 18.0, 1300.0],
        [30.0, 2000.0, 30.0, 2000.0],
    ]
    again = line_up(study, (), written(tmp_path, "17,18,1200,18,1300", "17,30,2000,30,2000"))
    assert again.labels == ("present", "design 17, row 1", "design 17, row 2")
    assert len(again.head(2)) == 2


def test_setups_that_cannot_be_traced_are_refused(study: Study, tmp_path: Path) -> None:
    file = written(tmp_path, "1,18,1200,18,1300", "2,18,1200,18,9000")
    with pytest.raises(CallError, match=r"designs.csv: design in row 2: rear.damping = 9000 N\*s/m"):
        line_up(study, (), file)
    with pytest.raises(CallError, match=r"^front.spring_rate = 50 N/mm \(allowed: 16 to 40\)"):
        line_up(study, ["front.spring_rate=50"])
    with pytest.raises(StudyError, match="no such file"):
        line_up(study, (), tmp_path / "nothing.csv")
    corner = traced_study(tmp_path, CORNER)
    with pytest.raises(CallError, match=r"no setup to trace: the study has no \[present\] setup"):
        line_up(corner)
    with pytest.raises(CallError, match=r"no value for front\.damping"):
        line_up(corner, ["front.spring_rate=20"])
