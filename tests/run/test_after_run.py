"""What people are told about a finished front's two domains, and what `check` says a run will cost."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from ridefront.evaluate import Evaluator
from ridefront.evaluate.stepping import StepChoice
from ridefront.report.after_run import picture_after_run, table_after_run
from ridefront.report.at_rest import cost
from ridefront.report.given import printed
from ridefront.results import read_evaluations
from ridefront.results.designs import one_by_hand
from ridefront.results.given import figures_of, pieces_of
from ridefront.run import run_study
from small_runs import AUTO, GENERATIONS, Formula, small_study

TIME = ("seed = 5", 'seed = 5\nresponse = "time-domain"')
LONG = ('class = "C"', 'class = "C"\nlength = "20 km"')
FEW = (GENERATIONS, "generations = 1")


@pytest.fixture
def formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)


def notes_of(tmp_path: Path, *changes: tuple[str, str]) -> list[str]:
    study = small_study(tmp_path, *changes)
    table = table_after_run(study, run_study(study, tmp_path / "out", workers=1).folder)
    assert table is not None
    return list(table.notes)


def test_differences_and_held_out_roads_in_words(tmp_path: Path, formula: None) -> None:
    """The stand-in's rides are 5 % larger in the time domain and 7 % on held-out roads, its errors 1 %."""
    notes = notes_of(tmp_path, *AUTO)
    (linear,) = (note for note in notes if note.startswith("the linearised ride reads"))
    assert "realisations" not in linear
    assert "comfort 4.8 % low (up to 4.8 %)" in linear, "1/1.05 - 1"
    assert "dynamic load coefficient 4.8 % low" in linear
    assert re.search(r"bump reserve [\d.]+ mm low \(up to [\d.]+ mm\)", linear), "no per cent of a reserve"
    (fresh,) = (note for note in notes if note.startswith("on roads that the search never saw"))
    # 0.02/1.05 of the figure over √(1 + (1.07/1.05)²) per cent of it
    assert "comfort +1.9 % (+1.3 standard errors)" in fresh
    assert re.search(r"bump reserve \+[\d.]+ mm \(\+1\.3 standard errors\)", fresh)
    (step,) = (note for note in notes if "halving it" in note)
    assert "shortest step, 1.00 ms" in step
    assert "rms figures by 0.020 %" in step
    assert "largest values by some" in step


def test_words_for_a_study_of_the_frequency_domain(tmp_path: Path, formula: None) -> None:
    notes = notes_of(tmp_path)
    (linear,) = (note for note in notes if note.startswith("the linearised ride reads"))
    assert "one realisation a road" in linear
    assert "comfort 4.8 % low" in linear
    assert not [note for note in notes if "never saw" in note]


def test_a_step_that_holds_is_no_matter_for_words(
    tmp_path: Path, formula: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    step = StepChoice(1e-3, 80.0, 17, ("one",), (1e-4,), (1e-3,), True)
    monkeypatch.setattr(Formula, "step", step)
    assert not [note for note in notes_of(tmp_path, *AUTO) if "halving" in note]


def test_todays_setup_stands_beside_the_front_in_its_own_domain(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path, *AUTO)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    table = table_after_run(study, folder)
    assert table is not None
    rows = read_evaluations(folder)
    present = rows[rows["stage"] == "present"]
    shown = {row[0]: row[2] for row in table.rows}
    assert shown["design"] == str(present["design"].iloc[1])
    assert float(shown["comfort"]) == pytest.approx(present["comfort"].iloc[1], rel=5e-3)
    assert present["comfort"].iloc[1] > 1.04 * present["comfort"].iloc[0]


HALF = (
    ('model = "quarter-car"', 'model = "half-car"\nwheelbase = "2.6 m"\nfront_share = 0.55'),
    ('corner_mass = "400 kg"', 'mass = "1400 kg"\ndynamic_index = 0.9'),
    (
        "[[road]]",
        '[vehicle.rear]\nunsprung_mass = "40 kg"\nspring_rate = "26 N/mm"\ndamping = "2500 N*s/m"\n'
        'tyre_rate = "200 N/mm"\nbump_travel = "90 mm"\n[[road]]',
    ),
    (
        "[[condition]]",
        '[[road]]\nname = "bump"\nkind = "obstacle"\nshape = "half-sine"\nheight = "30 mm"\nlength = "0.8 m"\n'
        'run_out = "15 m"\n[[condition]]\nroad = "bump"\nspeed = "30 km/h"\n[[condition]]',
    ),
    ('criterion = "comfort"', 'criterion = "comfort"\nroad = "lane"'),
    ('criterion = "dynamic_load_coefficient"', 'criterion = "dynamic_load_coefficient"\nroad = "lane"'),
    ('class = "C"', 'class = "C"\nlength = "60 m"\nrealisations = 1'),
    ("sample = 64", "sample = 16"),
    (GENERATIONS, "generations = 0"),
)


def test_picture_of_a_half_car_with_an_obstacle(tmp_path: Path) -> None:
    """Pitch on random roads, in the front's domain: pieces of both domains are there, none of it on the obstacle."""
    study = small_study(tmp_path, *HALF)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    path = picture_after_run(study, folder)
    assert path is not None
    assert path.read_bytes().startswith(b"\x89PNG")


def test_given_designs_are_printed_with_errors_and_domain(tmp_path: Path) -> None:
    study = small_study(tmp_path, TIME, ('class = "C"', 'class = "C"\nlength = "60 m"\nrealisations = 2'))
    asked = one_by_hand(study, [])
    table = printed(figures_of(Evaluator(study), asked))
    shown = {row[0]: row[1:] for row in table.rows}
    assert shown["response"] == ("", "time-domain")
    assert shown["realisations"][1] == "2"
    assert shown["comfort.se"][0] == "m/s²"
    assert float(shown["comfort.se"][1]) > 0
    pieces = pieces_of(Evaluator(study), asked)
    words = printed(pieces)
    at = {name: words.columns.index(name) for name in ("criterion", "response", "standard error")}
    comfort = next(row for row in words.rows if row[at["criterion"]] == "comfort")
    assert comfort[at["response"]] == "time-domain"
    first = next(row for row in pieces.to_pylist() if row["criterion"] == "comfort")
    assert float(comfort[at["standard error"]]) == pytest.approx(first["se"], rel=0.1)
    assert next(row for row in words.rows if row[at["response"]] == "at rest")[at["standard error"]] == "–"
    assert pa.types.is_int32(figures_of(Evaluator(study), asked).schema.field("realisations").type)


def seconds_of(text: str) -> float:
    """The time that `cost` names."""
    found = re.search(r"about ([\d.]+) (s|min|h) of one core", text)
    assert found, text
    return float(found[1]) * {"s": 1, "min": 60, "h": 3600}[found[2]]


def test_cost_of_the_time_domain(tmp_path: Path) -> None:
    """Steps of 2 ms at 9 ns, 40 % more with friction; 6 s of run-up; the road's eight realisations."""
    linear, driven = small_study(tmp_path), small_study(tmp_path, TIME, LONG, name="time.toml")
    assert seconds_of(cost(linear)) == 1, "at least a second"
    designs = 64 + 4 * 16
    steps = 8 * sum((20e3 / speed + 6) / 2e-3 for speed in (50 / 3.6, 80 / 3.6))
    expected = designs * steps * 9e-9 * 1.4
    assert seconds_of(cost(driven)) == pytest.approx(expected, rel=0.05)
    assert f"{designs} designs" in cost(driven)
    smooth = small_study(tmp_path, TIME, LONG, ('friction = "40 N"\n', ""), name="smooth.toml")
    assert seconds_of(cost(smooth)) == pytest.approx(expected / 1.4, rel=0.05)


def test_cost_counts_both_domains_and_the_front(tmp_path: Path) -> None:
    driven = small_study(tmp_path, TIME, LONG, name="time.toml")
    auto = small_study(tmp_path, *AUTO, ("realisations = 3", 'realisations = 8\nlength = "20 km"'))
    assert "192 designs" in cost(auto), "64 sampled, 4 generations, the last one again, 3 generations"
    share = 16 * 4 / (64 + 16 * 4)
    assert seconds_of(cost(auto)) == pytest.approx(share * seconds_of(cost(driven)), rel=0.1)
    setup = re.search(r"and ([\d.]+) ms for each setup of the front", cost(driven))
    assert setup
    assert float(setup[1]) * 1e-3 == pytest.approx(2 * seconds_of(cost(driven)) / 128, rel=0.05)
    few = re.search(r"and ([\d.]+) ms for each setup of the front", cost(small_study(tmp_path, LONG)))
    assert few
    assert float(few[1]) == pytest.approx(float(setup[1]) / 16, rel=0.05), "one realisation of eight, once"


def test_cost_in_hours(tmp_path: Path) -> None:
    study = small_study(tmp_path, TIME, LONG)
    long = replace(study, search=replace(study.search, generations=20000))
    assert " h of one core" in cost(long)
    assert seconds_of(cost(long)) == pytest.approx(
        seconds_of(cost(replace(study, search=replace(study.search, generations=2000)))) * 10, rel=0.05
    )


def test_record_is_whole_where_nothing_was_driven(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path, ("at_least = 1.0\nat_most = 1.6", "at_least = 50.0"), FEW)
    record = json.loads((run_study(study, tmp_path / "out", workers=1).folder / "run.json").read_text())
    assert record["step"] is None
    assert record["front_response"] == "frequency-domain"
    assert np.isfinite(record["timings"]["busy_seconds"])
