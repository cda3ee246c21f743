"""sensitivity.parquet of whole runs: against variances by quadrature, sizes, domains, failures, interrupts."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from published.quarter_car import QuarterCar, intensity
from ridefront import read_study
from ridefront.report.moves import moves_notes
from ridefront.results import read_sensitivity
from ridefront.results.tables import read_table
from ridefront.run import run_study
from ridefront.run.sensitivity import FEWEST_DRIVEN, FEWEST_LINEAR, MOST_ROWS, rows_driven, rows_linear
from ridefront.study import Study
from run.test_driven_runs import AUTO as DRIVEN_AUTO
from run.test_driven_runs import SMALL
from small_runs import GENERATIONS, Array, Collector, Formula, plain, small_study

CAR = QuarterCar(ms=320.0, mu=36.0, kt=190e3)

WHITE = """
title = "quarter car on a white road"
seed = 11
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "320 kg"
[vehicle.front]
unsprung_mass = "36 kg"
tyre_rate = "190 N/mm"
spring_rate = { low = "6 N/mm", high = "60 N/mm" }
damping = { low = "300 N*s/m", high = "6000 N*s/m", scale = "log" }
[[road]]
name = "white"
kind = "iso8608"
class = "C"
band = ["0.001 1/m", "300 1/m"]
[[condition]]
road = "white"
speed = "20 m/s"
[[objective]]
criterion = "body_acceleration"
[[objective]]
criterion = "dynamic_load_coefficient"
[[constraint]]
criterion = "travel_rms"
at_most = "30 mm"
[search]
sample = 4096
population = 16
generations = 1
refine = 0
"""


@pytest.fixture
def formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)


def by_quadrature(f: Array, weights: Array) -> tuple[Array, Array]:
    """First-order and total indices, (2,) each, of a function on nodes (n, n) of two variables."""
    means = [f @ weights, weights @ f]
    mean = float(weights @ f @ weights)
    variance = float(weights @ (f - mean) ** 2 @ weights)
    first = np.array([weights @ (each - mean) ** 2 for each in means]) / variance
    return first, 1 - first[::-1]


def indices_of(frame: pd.DataFrame, label: str, kind: str) -> pd.DataFrame:
    return frame[(frame["measure"] == label) & (frame["kind"] == kind)]


def test_indices_of_a_quarter_car_on_a_white_road(tmp_path: Path) -> None:
    """Closed forms of Gobbi and Mastinu (see quarter_car.py), integrated by Gauss and Legendre, against a whole run."""
    file = tmp_path / "white.toml"
    file.write_text(WHITE, encoding="utf-8")
    study = read_study(file)
    assert rows_linear(study) == MOST_ROWS
    folder = run_study(study, tmp_path / "out", workers=2).folder
    frame = read_sensitivity(folder)
    assert len(frame) == 3 * 2 * 2
    nodes, weights = np.polynomial.legendre.leggauss(40)
    u = 0.5 * (1 + nodes)
    ks, c = np.meshgrid(6e3 + u * 54e3, 300 * np.exp(u * np.log(20)), indexing="ij")
    W = intensity(256e-6, 20.0)
    exact = {
        "body_acceleration": np.sqrt(CAR.acceleration(ks, c, W)),
        "dynamic_load_coefficient": np.sqrt(CAR.tyre_force(ks, c, W)),
        "travel_rms": np.sqrt(CAR.travel(c, W)),
    }
    for label, f in exact.items():
        for kind, shares in zip(("first-order", "total"), by_quadrature(f, 0.5 * weights), strict=True):
            found = indices_of(frame, label, kind)
            assert found["variable"].tolist() == ["front.spring_rate", "front.damping"]
            np.testing.assert_allclose(found["value"], shares, atol=0.01)
            assert np.all((found["low"] <= shares + 1e-9) & (shares <= found["high"] + 1e-9))
    assert set(frame["response"]) == {"frequency-domain"}
    assert set(frame["designs"]) == {4 * MOST_ROWS}
    assert set(frame["dropped"]) == {0}
    record = json.loads((folder / "run.json").read_text())
    assert record["counts"]["sensitivity"] == 4 * MOST_ROWS
    notes = moves_notes(study, folder)
    totals = by_quadrature(exact["body_acceleration"], 0.5 * weights)[1]
    for name, share in zip(("spring rate", "damping"), totals, strict=True):
        said = re.search(rf"body acceleration: [^;]*front {name} (\d+) %", notes[0])
        assert said
        assert float(said[1]) == pytest.approx(100 * share, abs=1.5)
    assert "of the whole space meets all constraints" in notes[-1]


def test_the_table_says_what_its_columns_are(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    table = read_table(folder / "sensitivity.parquet")
    assert all(field.metadata[b"unit"] and field.metadata[b"description"] for field in table.schema)
    frame = read_sensitivity(folder)
    assert frame.attrs["units"]["value"] == "1"
    assert frame["measure"].unique().tolist() == [item.label for item in study.measures]
    assert dict(zip(frame["measure"], frame["response"], strict=True))["ride_frequency"] == "at rest"


def test_more_than_a_fifth_failed_gives_null_and_says_how_many(tmp_path: Path, formula: None) -> None:
    """The stand-in's designs fail below 16 N/mm and beyond 4500 N·s/m: 22 % of all, and of rows with 5 designs more."""
    folder = run_study(small_study(tmp_path), tmp_path / "out", workers=1).folder
    table = read_table(folder / "sensitivity.parquet")
    assert table["value"].null_count == table["high"].null_count == len(table)
    dropped = set(table["dropped"].to_pylist())
    assert len(dropped) == 1
    assert 0.22 < dropped.pop() < 0.7
    (line,) = (note for note in moves_notes(small_study(tmp_path), folder) if "what moves what" in note)
    assert "comfort: not known" in line


def test_rows_come_from_the_study_alone() -> None:
    study = read_study(Path(__file__).parents[2] / "studies" / "corner-hatchback.toml")
    sizes = [(64, 16, 4), (4096, 200, 120), (2, 2, 0)]
    found = [rows_linear(with_search(study, *size)) for size in sizes]
    assert found == [FEWEST_LINEAR, MOST_ROWS, FEWEST_LINEAR]
    assert [rows_driven(with_search(study, *size)) for size in sizes] == [FEWEST_DRIVEN, 512, FEWEST_DRIVEN]


def with_search(study: Study, sample: int, population: int, generations: int) -> Study:
    search = replace(study.search, sample=sample, population=population, generations=generations, refine=0)
    return replace(study, search=search)


def test_bits_do_not_depend_on_workers(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    folders = [run_study(study, tmp_path / str(count), workers=count).folder for count in (1, 3)]
    one, other = (plain([read_table(folder / "sensitivity.parquet")]) for folder in folders)
    assert one.equals(other)
    assert one["value"].null_count == 0


def test_what_must_be_driven_is_and_the_rest_is_not(tmp_path: Path) -> None:
    """A lane and a train of bumps: comfort on the lane has a spectrum, travel left looks at the bumps too."""
    study = small_study(tmp_path, *SMALL, *DRIVEN_AUTO)
    folder = run_study(study, tmp_path / "out", workers=2).folder
    frame = read_sensitivity(folder)
    ways = dict(zip(frame["measure"], zip(frame["response"], frame["designs"], strict=True), strict=True))
    assert ways["comfort (lane)"] == ("frequency-domain", 5 * FEWEST_LINEAR)
    assert ways["ride_frequency"] == ("at rest", 5 * FEWEST_LINEAR)
    assert ways["bump_reserve"] == ("time-domain", 5 * FEWEST_DRIVEN)
    assert np.isfinite(frame["value"]).all()
    assert json.loads((folder / "run.json").read_text())["counts"]["sensitivity"] == 5 * (FEWEST_LINEAR + FEWEST_DRIVEN)
    damping = indices_of(frame, "comfort (lane)", "total").set_index("variable")["value"]
    assert damping["front.damping"] > damping["front.unsprung_mass"], "unlike two kinds of wheel"


def test_no_rows_after_an_interrupt_and_all_of_them_when_it_went_on(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path, (GENERATIONS, "generations = 3"))
    whole = run_study(study, tmp_path / "whole", workers=1).folder
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=3))
    folder = tmp_path / "out" / "corner"
    assert not len(read_sensitivity(folder))
    assert moves_notes(study, folder) == ()
    run_study(study, tmp_path / "out", workers=1)
    one, other = (plain([read_table(path / "sensitivity.parquet")]) for path in (whole, folder))
    assert one.equals(other)
    before = (folder / "sensitivity.parquet").stat().st_mtime_ns
    run_study(study, tmp_path / "out", workers=1)
    assert (folder / "sensitivity.parquet").stat().st_mtime_ns == before, "a finished run is left"
    (folder / "sensitivity.parquet").unlink()
    run_study(study, tmp_path / "out", workers=1)
    assert plain([read_table(folder / "sensitivity.parquet")]).equals(one), "made anew where it is lost"
