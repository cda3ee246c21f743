"""A run from end to end: the same tables whoever works, a front that nothing beats, and what a second call does."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from ridefront.errors import CallError, ResultError
from ridefront.results import read_evaluations, read_front, read_front_pieces, read_progress
from ridefront.run import run_study
from small_runs import (
    GENERATIONS,
    AllFail,
    Collector,
    Formula,
    assert_same_results,
    evaluations_of,
    parts_of,
    small_study,
)

PRESENT_SETUP = """[present]
front.unsprung_mass = "40 kg"
front.spring_rate = "24 N/mm"
front.damping = "1900 N*s/m"
"""

OBJECTIVES = {"comfort": 1, "dynamic_load_coefficient": 1, "bump_reserve": -1}


@pytest.fixture
def formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)


def test_tables_are_the_same_for_any_number_of_workers(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    one, two, four = (run_study(study, tmp_path / str(workers), workers=workers) for workers in (1, 2, 4))
    assert_same_results(one.folder, two.folder)
    assert_same_results(one.folder, four.folder)
    assert one.hypervolume == two.hypervolume == four.hypervolume
    assert (one.state, one.stopped, one.evaluations) == ("done", "all generations done", 1 + 64 + 4 * 16)
    assert one.added == one.evaluations
    assert one.front == len(read_front(one.folder)) > 5


def test_front_is_what_nothing_beats(tmp_path: Path, formula: None) -> None:
    """Against a slow twin: every pair compared."""
    result = run_study(small_study(tmp_path), tmp_path / "out", workers=1)
    everything = read_evaluations(result.folder)
    asked = everything[(everything["stage"] != "present") & everything["feasible"]]
    F = np.stack([sign * asked[name].to_numpy() for name, sign in OBJECTIVES.items()], axis=1)
    beaten = [any(np.all(f >= G) and np.any(f > G) for G in F) for f in F]
    expected = asked["design"].to_numpy()[~np.array(beaten)]
    front = read_front(result.folder)
    assert front["design"].tolist() == expected.tolist()
    assert front["status"].unique().tolist() == ["ok"]
    assert front["feasible"].all()
    rows = everything.set_index("design").loc[front["design"]].reset_index()
    columns = [name for name in rows.columns if name not in ("stage", "response", "status", "parts")]
    assert rows[columns].equals(front[columns])


def test_failed_designs_are_rows_without_figures(tmp_path: Path, formula: None) -> None:
    result = run_study(small_study(tmp_path), tmp_path / "out", workers=2)
    rows = read_evaluations(result.folder)
    failed = rows[rows["status"] != "ok"]
    assert set(failed["status"].unique()) == {"no-static-equilibrium", "not-finite"}
    assert len(failed) == result.failed > 5
    assert failed[[*OBJECTIVES, "ride_frequency", "violation"]].isna().all(axis=None)
    assert not failed["feasible"].any()
    assert not set(failed["design"]) & set(read_front(result.folder)["design"])
    table = evaluations_of(result.folder)
    assert table.column("comfort").null_count == result.failed


def test_present_setup_comes_first_and_is_never_on_the_front(tmp_path: Path, formula: None) -> None:
    good = ('front.unsprung_mass = "40 kg"', 'front.unsprung_mass = "36 kg"')
    result = run_study(small_study(tmp_path, good), tmp_path / "out", workers=1)
    rows, front = read_evaluations(result.folder), read_front(result.folder)
    assert (rows["stage"] == "present").sum() == 1
    assert (rows["stage"].iloc[0], rows["design"].iloc[0], rows["generation"].iloc[0]) == ("present", 0, 0)
    assert rows["front.spring_rate"].iloc[0] == 24.0
    assert 0 not in front["design"].tolist()
    F = np.stack([sign * front[name].to_numpy() for name, sign in OBJECTIVES.items()], axis=1)
    now = np.array([sign * float(rows[name].iloc[0]) for name, sign in OBJECTIVES.items()])
    assert not np.all(now >= F, axis=1).any(), "it would belong on the front"
    # the search asks for the same designs with and without it
    alone = run_study(small_study(tmp_path, (PRESENT_SETUP, ""), name="alone.toml"), tmp_path / "out", workers=1)
    others = read_evaluations(alone.folder)
    assert others["front.damping"].tolist() == rows["front.damping"].tolist()[1:]
    assert others["design"].tolist() == list(range(len(others)))


def test_progress_adds_up(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path, (GENERATIONS, "generations = 12"))
    collector = Collector()
    result = run_study(study, tmp_path / "out", workers=1, progress=collector)
    rows, everything = read_progress(result.folder), read_evaluations(result.folder)
    assert rows["stage"].tolist() == ["sample"] + ["evolve"] * 12
    assert rows["generation"].tolist() == list(range(13))
    assert rows["evaluations"].iloc[-1] == len(everything) == result.evaluations
    assert rows["front"].iloc[-1] == result.front
    assert (rows["seconds"] > 0).all()
    assert rows["hypervolume"].notna().all()
    assert (np.diff(rows["hypervolume"]) >= -1e-12).all()
    for row in rows.itertuples():
        mine = everything[(everything["stage"] == row.stage) & (everything["generation"] == row.generation)]
        assert row.feasible_share == pytest.approx(mine["feasible"].mean(), rel=1e-15)
        assert row.designs_per_second == pytest.approx(len(mine) / float(str(row.seconds)), rel=1e-12)
    assert [snapshot.evaluations for snapshot in collector.seen][-1] == result.evaluations
    assert collector.seen[-1].planned == 1 + 64 + 12 * 16
    assert collector.seen[-1].hypervolume == result.hypervolume
    assert collector.closed == 1


def test_record_says_what_the_run_was(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path)
    result = run_study(study, tmp_path / "out", workers=2)
    record = json.loads((result.folder / "run.json").read_text())
    assert record["state"] == "done"
    assert record["stopped"] == result.stopped
    assert (record["seed"], record["workers"]) == (5, 2)
    counts = record["counts"]
    assert {name: counts[name] for name in ("evaluations", "feasible", "failed", "front")} == {
        "evaluations": result.evaluations,
        "feasible": result.feasible,
        "failed": result.failed,
        "front": result.front,
    }
    box, front = record["hypervolume_box"], read_front(result.folder)
    assert set(box["ideal"]) == set(OBJECTIVES)
    assert box["ideal"]["bump_reserve"] > box["reference"]["bump_reserve"]  # large is better, in the study's unit
    assert front["bump_reserve"].max() >= box["ideal"]["bump_reserve"]
    assert record["timings"]["busy_seconds"] == pytest.approx(result.seconds)
    assert (result.folder / "study.toml").read_bytes() == study.text
    assert {"ridefront", "numpy", "numba", "pyarrow", "python"} <= set(record["versions"])


def test_pieces_belong_to_the_front(tmp_path: Path) -> None:
    result = run_study(small_study(tmp_path), tmp_path / "out", workers=2)
    front, pieces = read_front(result.folder), read_front_pieces(result.folder)
    assert pieces["design"].drop_duplicates().tolist() == front["design"].tolist()
    linear = pieces[pieces["response"] == "frequency-domain"]
    reserve = linear[linear["criterion"] == "bump_reserve"].groupby("design")["value"].min()
    np.testing.assert_allclose(reserve.to_numpy() * 1e3, front["bump_reserve"], rtol=1e-12)
    assert set(pieces["condition"].cat.categories) >= {"lane @ 50 km/h", "lane @ 80 km/h"}
    assert pieces[pieces["response"] != "time-domain"]["se"].isna().all()


def written(folder: Path) -> dict[Path, int]:
    """When each file was written last."""
    return {file: file.stat().st_mtime_ns for file in folder.rglob("*") if file.is_file() and file.name != ".lock"}


def test_finished_run_is_left_alone(tmp_path: Path, formula: None, monkeypatch: pytest.MonkeyPatch) -> None:
    study = small_study(tmp_path)
    first = run_study(study, tmp_path / "out", workers=1)
    before = written(first.folder)
    monkeypatch.setattr("ridefront.run.workers.Evaluator", AllFail)  # would show at once
    again = run_study(study, tmp_path / "out", workers=2)
    assert again.added == 0
    assert (again.front, again.hypervolume, again.stopped) == (first.front, first.hypervolume, first.stopped)
    assert written(first.folder) == before


def test_lost_tables_are_made_again_from_the_parts(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path)
    whole = run_study(study, tmp_path / "whole", workers=1)
    first = run_study(study, tmp_path / "out", workers=1)
    (first.folder / "front.parquet").unlink()
    again = run_study(study, tmp_path / "out", workers=1)
    assert again.added == 0
    assert_same_results(again.folder, whole.folder)


def test_more_generations_go_on_and_equal_the_longer_run(tmp_path: Path) -> None:
    longer = (GENERATIONS, "generations = 7")
    whole = run_study(small_study(tmp_path, longer), tmp_path / "whole", workers=1)
    run_study(small_study(tmp_path), tmp_path / "out", workers=2)
    grown = run_study(small_study(tmp_path, longer), tmp_path / "out", workers=1)
    assert grown.added == 3 * 16
    assert_same_results(grown.folder, whole.folder)
    assert grown.hypervolume == whole.hypervolume


def test_fewer_generations_are_refused(tmp_path: Path, formula: None) -> None:
    run_study(small_study(tmp_path), tmp_path / "out", workers=1)
    with pytest.raises(ResultError, match=r"longer run than search\.generations(.|\n)*--overwrite"):
        run_study(small_study(tmp_path, (GENERATIONS, "generations = 2")), tmp_path / "out", workers=1)


def test_no_generations_and_overwrite(tmp_path: Path, formula: None) -> None:
    run_study(small_study(tmp_path), tmp_path / "out", workers=1)
    note = tmp_path / "out" / "corner" / "notes.txt"
    note.write_text("mine")
    sample = small_study(tmp_path, (GENERATIONS, "generations = 0"))
    result = run_study(sample, tmp_path / "out", workers=1, overwrite=True)
    assert result.evaluations == result.added == 65
    assert len(parts_of(result.folder)) == 2
    assert result.hypervolume is not None
    assert note.read_text() == "mine"


def test_all_failed_and_all_infeasible_runs_end_well(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", AllFail)
    failed = run_study(small_study(tmp_path), tmp_path / "failed", workers=1)
    assert (failed.front, failed.feasible, failed.hypervolume) == (0, 0, None)
    assert failed.failed == failed.evaluations
    assert len(read_front(failed.folder)) == len(read_front_pieces(failed.folder)) == 0
    assert read_front(failed.folder).attrs["units"]["comfort"] == "m/s^2"
    assert read_progress(failed.folder)["hypervolume"].isna().all()
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    never = ("at_least = 1.0\nat_most = 1.6", "at_least = 50.0")
    infeasible = run_study(small_study(tmp_path, never), tmp_path / "infeasible", workers=1)
    assert infeasible.evaluations > infeasible.failed
    assert (infeasible.front, infeasible.feasible, infeasible.hypervolume) == (0, 0, None)
    assert json.loads((infeasible.folder / "run.json").read_text())["hypervolume_box"] is None
    assert (read_evaluations(infeasible.folder)["violation"].dropna() > 0).all()


def test_small_space_is_exhausted(tmp_path: Path, formula: None) -> None:
    springs = ('{ low = "12 N/mm", high = "40 N/mm" }', '{ choices = ["20 N/mm", "24 N/mm", "28 N/mm"] }')
    dampers = (
        '{ low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }',
        '{ choices = ["1900 N*s/m", "2500 N*s/m"] }',
    )
    few = ("population = 16", "population = 12")
    result = run_study(small_study(tmp_path, springs, dampers, few), tmp_path / "out", workers=1)
    assert result.stopped == "space exhausted"
    assert result.evaluations == 1 + 2 * 3 * 2
    again = run_study(small_study(tmp_path, springs, dampers, few), tmp_path / "out", workers=1)
    assert again.added == 0


def test_workers_below_one_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="workers: 0; allowed: 1 or more"):
        run_study(small_study(tmp_path), tmp_path / "out", workers=0)
    assert not (tmp_path / "out").exists()
