"""Runs that drive the real vehicle in the time domain: kept small, since every realisation is marched step by step."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

import ridefront
from ridefront.evaluate import Evaluator
from ridefront.results import read_evaluations, read_front, read_front_pieces
from ridefront.results.designs import Designs
from ridefront.results.given import figures_of, pieces_of
from ridefront.results.sampling import compared, drawn, sampled
from ridefront.run import run_study
from ridefront.run.closing import restricted, with_fewer_realisations
from ridefront.study import Study
from small_runs import GENERATIONS, Array, assert_same_results, parts_of, small_study

SHORT = ('class = "C"', 'class = "C"\nlength = "100 m"\nrealisations = 4')
TRAIN = """
[[road]]
name = "bumps"
kind = "obstacle"
shape = "half-sine"
count = 4
spacing = "6 m"
sizes = [{ height = "20 mm", length = "0.6 m" }, { height = "40 mm", length = "0.9 m" }]
realisations = 2
run_out = "10 m"
"""
SMALL = (
    SHORT,
    ("[[condition]]", f'{TRAIN}[[condition]]\nroad = "bumps"\nspeed = "30 km/h"\n[[condition]]'),
    ('criterion = "comfort"', 'criterion = "comfort"\nroad = "lane"'),
    ('criterion = "dynamic_load_coefficient"', 'criterion = "dynamic_load_coefficient"\nroad = "lane"'),
    ("sample = 64", "sample = 16"),
    ("population = 16", "population = 8"),
    (GENERATIONS, "generations = 2"),
)
AUTO = (
    ("seed = 5", 'seed = 5\nresponse = "auto"'),
    ("generations = 2", "generations = 2\nsimulated_generations = 2\nsimulated_refine = 0"),
)
ON_LANE = ["comfort (lane)", "dynamic_load_coefficient (lane)"]
MEASURES = [*ON_LANE, "bump_reserve"]


def designs_of(study: Study, folder: Path) -> Array:
    """The front's designs."""
    return read_front(folder)[[item.path for item in study.variables]].to_numpy(dtype=np.float64)


@pytest.fixture(scope="module", name="auto")
def auto_run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Study, Path]:
    """A study of a random road and a train of mixed bumps that has passed to the time domain, and its folder."""
    place = tmp_path_factory.mktemp("auto")
    study = small_study(place, *SMALL, *AUTO)
    return study, run_study(study, place / "out", workers=2).folder


def test_front_is_what_the_evaluator_says_of_its_designs(auto: tuple[Study, Path]) -> None:
    study, folder = auto
    front, X = read_front(folder), designs_of(study, folder)
    assert len(front) > 3
    driven, linear = (Evaluator(study).evaluate(X, domain=domain) for domain in ("time-domain", "frequency-domain"))
    fresh = Evaluator(study, held_out=True).evaluate(X)
    for k, item in enumerate(study.measures):
        assert front[item.label].tolist() == driven.values[:, k].tolist()
        if item.label in MEASURES:
            assert front[f"{item.label}.se"].tolist() == driven.se[:, k].tolist()
            assert front[f"{item.label}.difference"].tolist() == (driven.values[:, k] - linear.values[:, k]).tolist()
            assert front[f"{item.label}.held_out"].tolist() == fresh.values[:, k].tolist()
            assert front[f"{item.label}.held_out.se"].tolist() == fresh.se[:, k].tolist()
    assert [item.label for item in sampled(study)] == [item.label for item in compared(study)] == MEASURES


def test_held_out_roads_read_otherwise_and_within_some_standard_errors(auto: tuple[Study, Path]) -> None:
    front = read_front(auto[1])
    for name in ON_LANE:
        ours, fresh = front[name].to_numpy(), front[f"{name}.held_out"].to_numpy()
        error = np.hypot(front[f"{name}.se"].to_numpy(), front[f"{name}.held_out.se"].to_numpy())
        assert (ours != fresh).all()
        # a standard error of four realisations is itself uncertain by some 40 %
        assert np.median(np.abs(fresh - ours) / error) < 5


def test_pieces_of_both_domains_and_obstacles_once(auto: tuple[Study, Path]) -> None:
    folder = auto[1]
    pieces = read_front_pieces(folder)
    one = pieces[pieces["design"] == pieces["design"].iloc[0]]
    assert not one.duplicated(["criterion", "place", "condition", "response"]).any()
    assert set(one[one["condition"].str.startswith("bumps")]["response"]) == {"time-domain"}
    on_lane = one[one["condition"] == "lane @ 50 km/h"].groupby("response", observed=True)["criterion"].apply(set)
    assert "comfort" in on_lane["frequency-domain"] & on_lane["time-domain"]
    assert "peak_acceleration" in on_lane["time-domain"] - on_lane["frequency-domain"]
    driven = pieces[(pieces["response"] == "time-domain") & (pieces["criterion"] == "bump_reserve")]
    worst = driven.groupby("design")["value"].min().to_numpy() * 1e3
    np.testing.assert_allclose(worst, read_front(folder)["bump_reserve"], rtol=1e-12)
    assert driven["se"].notna().all()


def test_record_has_the_step(auto: tuple[Study, Path]) -> None:
    study, folder = auto
    step = json.loads((folder / "run.json").read_text())["step"]
    choice = Evaluator(study).step
    assert (step["step"], step["held"]) == (choice.step, choice.held)
    assert list(step["conditions"]) == [condition.name for condition in study.conditions]
    assert step["conditions"]["bumps @ 30 km/h"]["rms_change"] == choice.rms[0]
    assert json.loads((folder / "run.json").read_text())["realisations"] == {
        "lane": {"front": 4, "difference": 4},
        "bumps": {"front": 2, "difference": None},
    }


def test_given_designs_are_worked_out_as_the_front_is(auto: tuple[Study, Path]) -> None:
    study, folder = auto
    front = read_front(folder)
    asked = Designs(front["design"].to_numpy(), designs_of(study, folder))
    table = figures_of(Evaluator(study), asked)
    for name in (*MEASURES, *(f"{name}.se" for name in MEASURES), "ride_frequency", "violation"):
        assert table[name].to_pylist() == front[name].tolist()
    assert set(table["response"].to_pylist()) == {"time-domain"}
    assert table["realisations"].to_pylist() == [4] * len(front)
    pieces = pieces_of(Evaluator(study), asked).to_pandas()
    stored = read_front_pieces(folder)
    assert pieces["value"].sum() == pytest.approx(stored[stored["response"] != "frequency-domain"]["value"].sum())


def test_frequency_domain_with_a_mixed_train(tmp_path: Path) -> None:
    """Only what looks at the train depends on the seed; only what looks at the random road differs by domain."""
    study = small_study(tmp_path, *SMALL)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    front, X = read_front(folder), designs_of(study, folder)
    assert [item.label for item in sampled(study)] == [item.label for item in drawn(study)] == ["bump_reserve"]
    assert front["bump_reserve.se"].notna().all()
    assert front["realisations"].isna().all()
    assert [name for name in map(str, front) if name.endswith(".held_out")] == ["bump_reserve.held_out"]
    assert front["bump_reserve.held_out"].tolist() == Evaluator(study, held_out=True).evaluate(X).values[:, 2].tolist()
    fewer = with_fewer_realisations(restricted(study, compared(study)))
    assert [road.realisations for road in fewer.roads] == [1, 2]
    driven = Evaluator(fewer).evaluate(X, domain="time-domain").values
    linear = Evaluator(study).evaluate(X).values
    for k, name in enumerate(MEASURES):
        assert front[f"{name}.difference"].tolist() == (driven[:, k] - linear[:, k]).tolist()


def test_linear_car_reads_alike_in_both_domains(tmp_path: Path) -> None:
    """No friction, no knees, no stops, wheels on the ground: rms figures agree; each realisation has the road's own
    spectrum, so there is no sampling error either.
    """
    text = (
        ('friction = "40 N"\n', ""),
        ('class = "C"', 'class = "A"\nrealisations = 2'),
        ('[[objective]]\ncriterion = "bump_reserve"\n', ""),
        ("sample = 64", "sample = 16"),
        (GENERATIONS, "generations = 0"),
    )
    front = read_front(run_study(small_study(tmp_path, *text), tmp_path / "out", workers=1).folder)
    for name in ("comfort", "dynamic_load_coefficient"):
        assert (front[f"{name}.difference"].abs() < 1e-3 * front[name]).all()
        assert (front[f"{name}.difference"] != 0).any()


def test_no_standard_error_and_no_other_domain_without_random_roads(tmp_path: Path) -> None:
    """One bump: driven in any case, the same for every seed."""
    lines = [line for line in TRAIN.splitlines() if not line.startswith(("count", "spacing", "sizes", "realisations"))]
    bump = "\n".join([*lines, 'height = "30 mm"', 'length = "1 m"', ""])
    text = (
        ('[[road]]\nname = "lane"\nkind = "iso8608"\nclass = "C"\n', bump),
        ('road = "lane"\nspeed = ["50 km/h", "80 km/h"]', 'road = "bumps"\nspeed = "30 km/h"'),
        ('criterion = "comfort"', 'criterion = "peak_acceleration"'),
        ('[[objective]]\ncriterion = "dynamic_load_coefficient"\n', ""),
        ("sample = 64", "sample = 8"),
        (GENERATIONS, "generations = 0"),
    )
    folder = run_study(small_study(tmp_path, *text), tmp_path / "out", workers=1).folder
    front = read_front(folder)
    assert not [name for name in map(str, front) if name.endswith((".se", ".difference", ".held_out"))]
    record = json.loads((folder / "run.json").read_text())
    assert record["realisations"] == {"bumps": {"front": 1, "difference": None}}
    assert record["step"]["step"] > 0


KILLED = """
import sys, time
from pathlib import Path
from ridefront import read_study, run_study

class Slow:
    def update(self, snapshot):
        time.sleep(0.3 if snapshot.stage in ("repeat", "continue") else 0)
    def close(self):
        pass

run_study(read_study(sys.argv[1]), Path(sys.argv[2]), workers=2, progress=Slow())
"""


def test_kill_9_in_the_time_domain_and_resume(auto: tuple[Study, Path], tmp_path: Path) -> None:
    study, whole = auto
    folder = tmp_path / whole.name
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED, study.path, str(tmp_path)],
        env={**os.environ, "PYTHONPATH": str(Path(ridefront.__file__).parents[1])},
        stderr=subprocess.PIPE,
    )
    deadline = time.monotonic() + 120
    while not (folder / "evaluations").is_dir() or len(parts_of(folder)) < 6:  # present, sample, 2, present, repeat
        assert process.poll() is None, process.stderr.read() if process.stderr else b""
        assert time.monotonic() < deadline
        time.sleep(0.01)
    process.send_signal(signal.SIGKILL)
    process.communicate()
    assert process.returncode == -signal.SIGKILL
    stored = len(parts_of(folder))
    assert 6 <= stored < len(parts_of(whole))
    resumed = run_study(study, tmp_path, workers=1)
    assert resumed.added > 0
    assert_same_results(resumed.folder, whole)
    assert len(read_evaluations(resumed.folder)) == 1 + 16 + 2 * 8 + 1 + 8 + 2 * 8
