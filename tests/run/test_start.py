"""Runs that begin with the front of an earlier one: what is taken, what is refused, and that the earlier one stays."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ridefront.errors import Mistake, ResultError, StudyError
from ridefront.results import read_evaluations, read_front
from ridefront.results.read import read_progress
from ridefront.results.stored import read_result
from ridefront.run import run_study
from ridefront.run.start import start_points
from ridefront.study import Study
from ridefront.study.digest import plan_digest
from ridefront.study.space import decode
from small_runs import GENERATIONS, Collector, Formula, assert_same_results, evaluations_of, small_study

NAMES = ["front.unsprung_mass", "front.spring_rate", "front.damping"]
SPRING = 'spring_rate = { low = "12 N/mm", high = "40 N/mm" }'


@pytest.fixture(autouse=True)
def formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)


@pytest.fixture
def earlier(tmp_path: Path) -> Path:
    return run_study(small_study(tmp_path, name="first.toml"), tmp_path / "out", workers=1).folder


def later(folder: Path, *changes: tuple[str, str], start: str = "out/first", name: str = "corner.toml") -> Study:
    return small_study(folder, (GENERATIONS, f'{GENERATIONS}\nstart = "{start}"'), *changes, name=name)


def refused(folder: Path, *changes: tuple[str, str], start: str = "out/first") -> Sequence[Mistake]:
    with pytest.raises(StudyError) as caught:
        later(folder, *changes, start=start)
    return caught.value.mistakes


def asked(folder: Path, stage: str) -> pd.DataFrame:
    rows = read_evaluations(folder)
    return rows[rows["stage"] == stage].reset_index(drop=True)


def content(folder: Path) -> dict[str, tuple[bytes, int]]:
    files = [file for file in sorted(folder.rglob("*")) if file.is_file()]
    return {str(file): (file.read_bytes(), file.stat().st_mtime_ns) for file in files}


@pytest.mark.parametrize("start", ["out/first", "out/first/front.parquet"])
def test_front_is_asked_first_and_the_sample_as_ever(tmp_path: Path, earlier: Path, start: str) -> None:
    before, front = content(earlier), read_front(earlier)
    result = run_study(later(tmp_path, start=start), tmp_path / "out", workers=1)
    first = asked(result.folder, "start")
    np.testing.assert_allclose(first[NAMES], front[NAMES], rtol=1e-11)
    assert first["comfort"].to_numpy() == pytest.approx(front["comfort"].to_numpy(), rel=1e-9)
    known = {row.tobytes() for row in first[NAMES].to_numpy()}
    new = [row.tolist() for row in asked(earlier, "sample")[NAMES].to_numpy() if row.tobytes() not in known]
    assert asked(result.folder, "sample")[NAMES].to_numpy().tolist() == new
    assert len(new) == 64 - (read_front(earlier)["stage"] == "sample").sum(), "none is asked twice"
    assert read_progress(result.folder)["stage"].tolist()[:2] == ["start", "sample"]
    assert result.evaluations == len(front) + 1 + len(new) + 4 * 16
    assert json.loads((result.folder / "run.json").read_text())["start"] == {
        "path": start,
        "found": len(front),
        "taken": len(front),
        "outside": 0,
        "alike": 0,
        "beyond": 0,
    }
    assert content(earlier) == before, "the earlier result is only read"


def test_the_new_front_is_no_worse_anywhere(tmp_path: Path, earlier: Path) -> None:
    """Nothing that the earlier run found is lost: each of its designs is equalled or dominated."""
    result = run_study(later(tmp_path), tmp_path / "out", workers=1)
    signs = {"comfort": 1, "dynamic_load_coefficient": 1, "bump_reserve": -1}
    old, new = (
        np.stack([sign * read_front(folder)[name].to_numpy() for name, sign in signs.items()], axis=1)
        for folder in (earlier, result.folder)
    )
    for f in old:
        assert (new <= f + 1e-9 * np.abs(f)).all(axis=1).any()


def test_other_ranges_and_units(tmp_path: Path, earlier: Path) -> None:
    changes = ((SPRING, 'spring_rate = { low = "20 N/mm", high = "25 N/mm" }'),)
    in_metres = ((SPRING, 'spring_rate = { low = "20 kN/m", high = "25 kN/m" }'),)
    study, other = later(tmp_path, *changes), later(tmp_path, *in_metres, name="other.toml")
    front = read_front(earlier)
    inside = front[front["front.spring_rate"].between(20, 25)]
    assert 0 < len(inside) < len(front)
    assert study.start is not None
    assert other.start is not None
    np.testing.assert_allclose(decode(study, study.start.U)[:, 1], inside["front.spring_rate"], rtol=1e-11)
    assert np.array_equal(study.start.U, other.start.U)
    assert (study.start.outside, study.start.taken) == (len(front) - len(inside), len(inside))
    note = f"{len(inside)} of the {len(front)} designs of out/first; {study.start.outside} outside the ranges"
    assert any(note in line for line in study.notes)


def test_discrete_values_are_the_nearest_admissible_ones_each_design_once(tmp_path: Path, earlier: Path) -> None:
    steps = (SPRING, 'spring_rate = { low = "12 N/mm", high = "40 N/mm", step = "14 N/mm" }')
    dampers = (
        'damping = { low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }',
        'damping = { choices = ["700 N*s/m", "2000 N*s/m", "5000 N*s/m"] }',
    )
    study = later(tmp_path, steps, dampers)
    assert study.start is not None
    front = read_front(earlier)[NAMES].to_numpy()
    expected = list(
        dict.fromkeys(
            (
                mass,
                min((12.0, 26.0, 40.0), key=lambda level: abs(level - spring)),
                min((700.0, 2000.0, 5000.0), key=lambda level: abs(level - damper)),
            )
            for mass, spring, damper in front.tolist()
        )
    )
    assert [tuple(row) for row in decode(study, study.start.U).tolist()] == expected
    assert study.start.alike == len(front) - len(expected) > 0


def test_interrupted_it_goes_on_bit_for_bit(tmp_path: Path, earlier: Path) -> None:
    study = later(tmp_path)
    whole = run_study(study, tmp_path / "whole", workers=2)
    for blocks in (1, 2, 3):
        output = tmp_path / str(blocks)
        with pytest.raises(KeyboardInterrupt):
            run_study(study, output, workers=1, progress=Collector(interrupt_after=blocks))
        assert_same_results(run_study(study, output, workers=1).folder, whole.folder)


def test_the_folder_alone_is_enough_to_repeat_the_run(tmp_path: Path, earlier: Path) -> None:
    study = later(tmp_path)
    result = run_study(study, tmp_path / "out", workers=1)
    assert (result.folder / "tables" / "start.parquet").read_bytes() == (earlier / "front.parquet").read_bytes()
    for file in sorted(earlier.rglob("*"), reverse=True):
        file.rmdir() if file.is_dir() else file.unlink()
    again = read_result(result.folder).study
    assert plan_digest(again) == plan_digest(study)
    repeated = run_study(again, tmp_path / "again", workers=1)
    assert evaluations_of(repeated.folder).equals(evaluations_of(result.folder))


def test_another_front_is_another_run_but_the_same_one_elsewhere_is_not(tmp_path: Path, earlier: Path) -> None:
    result = run_study(later(tmp_path), tmp_path / "out", workers=1)
    (tmp_path / "copy.parquet").write_bytes((earlier / "front.parquet").read_bytes())
    assert run_study(later(tmp_path, start="copy.parquet"), tmp_path / "out", workers=1).added == 0
    other = small_study(tmp_path, ("seed = 5", "seed = 6"), name="second.toml")
    run_study(other, tmp_path / "out", workers=1)
    for study in (later(tmp_path, start="out/second"), small_study(tmp_path)):
        with pytest.raises(ResultError, match=r"another study.*\(start\)"):
            run_study(study, tmp_path / "out", workers=1)
    assert result.state == "done"


@pytest.mark.parametrize("overwrite", [False, True])
def test_the_own_folder_is_refused(tmp_path: Path, earlier: Path, overwrite: bool) -> None:
    before = content(earlier)
    study = later(tmp_path, start="out/first/front.parquet", name="first.toml")
    with pytest.raises(StudyError, match=r"search\.start: .*into which this run writes"):
        run_study(study, tmp_path / "out", workers=1, overwrite=overwrite)
    assert content(earlier) == before


def test_more_than_are_taken_are_spread(tmp_path: Path, earlier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a small cap: the picks' nearest neighbours are farther apart than those of as many in a row."""
    monkeypatch.setattr("ridefront.study.model.STARTED", 8)
    monkeypatch.setattr("ridefront.run.start.STARTED", 8)
    study = later(tmp_path)
    U = start_points(study)
    assert U is not None
    assert study.start is not None
    assert len(U) == study.start.taken == 8 < len(study.start.U)
    assert {row.tobytes() for row in U} <= {row.tobytes() for row in study.start.U}

    def nearest(points: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> float:
        away = np.linalg.norm(points[:, None] - points[None], axis=2)
        return float(away[~np.eye(len(points), dtype=bool)].min())

    assert nearest(U) > nearest(study.start.U[:8])


def test_what_is_no_front_is_refused(tmp_path: Path, earlier: Path) -> None:
    (tmp_path / "text.parquet").write_text("no table")
    (tmp_path / "empty").mkdir()
    cases = {
        "out/nobody": "no such file",
        "empty": "no front.parquet in it",
        "text.parquet": "damaged, or not a Parquet file",
        "out/first/evaluations/part-000001.parquet": "not a front",
        "out/first/front_pieces.parquet": "not a front",
        "out/first/sensitivity.parquet": "not a front",
    }
    for start, words in cases.items():
        (mistake,) = refused(tmp_path, start=start)
        assert mistake.key == "search.start"
        assert f'"{start}"' in mistake.found
        assert words in mistake.found
        assert "the front.parquet in it" in mistake.allowed
    for raw in ("3", "true", '""', "[]"):
        with pytest.raises(StudyError, match=r"search\.start: .* stands here"):
            small_study(tmp_path, (GENERATIONS, f"{GENERATIONS}\nstart = {raw}"))


def test_other_variables_are_named(tmp_path: Path, earlier: Path) -> None:
    fixed = (SPRING, 'spring_rate = "20 N/mm"')
    present = ('front.spring_rate = "24 N/mm"\n', "")
    (mistake,) = refused(tmp_path, fixed, present)
    assert (mistake.key, mistake.allowed) == ("search.start", "a front of the same variables")
    assert "has front.spring_rate, which this study does not vary" in mistake.found
    more = ('friction = "40 N"', 'friction = { low = "20 N", high = "60 N" }')
    with_present = ('front.damping = "1900 N*s/m"', 'front.damping = "1900 N*s/m"\nfront.friction = "40 N"')
    (mistake,) = refused(tmp_path, more, with_present)
    assert "lacks front.friction" in mistake.found


def test_no_design_within_the_ranges(tmp_path: Path, earlier: Path) -> None:
    (mistake,) = refused(tmp_path, (SPRING, 'spring_rate = { low = "80 N/mm", high = "90 N/mm" }'))
    count = len(read_front(earlier))
    assert mistake.key == "search.start"
    assert f"none of its {count} designs lies within the ranges" in mistake.found
    assert mistake.hint == f"outside their range: front.spring_rate in {count}"


def test_a_bound_that_leaves_nothing_to_the_sample(tmp_path: Path, earlier: Path) -> None:
    count = len(read_front(earlier))
    few = ("refine = 0", f"refine = 0\nuntil.evaluations = {count + 63}")
    (mistake,) = refused(tmp_path, few)
    assert mistake.key == "search.until.evaluations"
    assert mistake.allowed == f"{count + 64} or more: search.start, {count}, the sample, 64"
