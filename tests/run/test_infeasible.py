"""Runs of which no design meets all constraints: the closest designs, which constraint binds, exit status 3."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from commands import Call, caller
from ridefront.report.infeasible import nearest_table, why_none
from ridefront.results import read_closest, read_evaluations
from ridefront.results.misses import MOST
from ridefront.results.tables import read_table
from ridefront.run import run_study
from ridefront.study import Study
from small_runs import AUTO, AllFail, Collector, Formula, small_study

LIMITS = "at_least = 1.0\nat_most = 1.6"
HOPELESS = (LIMITS, "at_least = 50.0")
AT_ODDS = (
    LIMITS,
    'at_least = 1.5\n[[constraint]]\ncriterion = "comfort"\nat_most = 0.6\n'
    '[[constraint]]\ncriterion = "bump_reserve"\nat_least = "10 mm"',
)
"""In the stand-in, ride frequency above 1.5 Hz wants springs beyond 31 N/mm, comfort below 0.6 softer than 24 N/mm."""


@pytest.fixture
def formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)


def run(tmp_path: Path, *changes: tuple[str, str]) -> tuple[Study, Path]:
    study = small_study(tmp_path, *changes)
    return study, run_study(study, tmp_path / "out", workers=1).folder


def test_closest_designs_are_the_trade_offs_between_constraints(tmp_path: Path, formula: None) -> None:
    _, folder = run(tmp_path, AT_ODDS)
    frame, rows = read_closest(folder), read_evaluations(folder)
    rows = rows[(rows["stage"] != "present") & (rows["status"] == "ok")]
    assert 2 <= len(frame) <= MOST
    assert frame["violation"].is_monotonic_increasing
    assert frame["violation"].iloc[0] == rows["violation"].min()
    missed = np.stack(
        [
            np.maximum(1.5 - rows["ride_frequency"], 0),
            np.maximum(rows["comfort"] - 0.6, 0),
            np.maximum(10 - rows["bump_reserve"], 0),
        ],
        axis=1,
    )
    by_design = dict(zip(rows["design"], missed, strict=True))
    columns = [f"{name}.missed" for name in ("ride_frequency", "comfort", "bump_reserve")]
    for design, *amounts in frame[["design", *columns]].itertuples(index=False):
        assert amounts == pytest.approx(list(by_design[design]), abs=1e-12)
        beaten = (missed <= by_design[design]).all(axis=1) & (missed < by_design[design]).any(axis=1)
        assert not beaten.any()
    assert frame.attrs["units"]["ride_frequency.missed"] == "Hz"


def test_which_constraint_binds_and_which_are_at_odds(tmp_path: Path, formula: None) -> None:
    study, folder = run(tmp_path, AT_ODDS)
    rows = read_evaluations(folder)
    rows = rows[(rows["stage"] != "present") & (rows["status"] == "ok")]
    stiff, soft = rows["ride_frequency"] >= 1.5, rows["comfort"] <= 0.6
    assert stiff.any()
    assert soft.any()
    assert not (stiff & soft).any()
    lines = why_none(study, folder)
    fewest = "ride frequency at least 1.50 Hz" if stiff.sum() <= soft.sum() else "comfort at most 0.600 m/s²"
    assert f"met by the fewest: {fewest} ({min(stiff.sum(), soft.sum()):,} designs)" in lines
    assert f"without ride frequency at least 1.50 Hz: {soft.sum():,} designs meet all that is left" in lines
    assert f"without comfort at most 0.600 m/s²: {stiff.sum():,} designs meet all that is left" in lines
    assert not [line for line in lines if line.startswith("without bump reserve")]
    (odds,) = (line for line in lines if line.startswith("never met together"))
    assert "ride frequency at least 1.50 Hz" in odds
    assert "comfort at most 0.600 m/s²" in odds


def test_the_table_shows_each_miss_in_its_unit(tmp_path: Path, formula: None) -> None:
    study, folder = run(tmp_path, AT_ODDS)
    table, frame = nearest_table(study, folder), read_closest(folder)
    assert table is not None
    shown = {row[0]: row[1:] for row in table.rows}
    assert shown["design"][1] == str(frame["design"].iloc[0])
    assert shown["  ride frequency missed by"][0] == "Hz"
    cells = [shown["  ride frequency missed by"][1], shown["  comfort missed by"][1]]
    exact = [frame["ride_frequency.missed"].iloc[0], frame["comfort.missed"].iloc[0]]
    for cell, figure in zip(cells, exact, strict=True):
        assert (cell == "–") if figure == 0 else (float(cell) == pytest.approx(figure, rel=6e-3))
    assert "  bump reserve missed by" not in shown


def test_a_feasible_run_has_no_closest_designs(tmp_path: Path, formula: None) -> None:
    study, folder = run(tmp_path)
    assert not len(read_closest(folder))
    assert nearest_table(study, folder) is None
    names = read_table(folder / "closest.parquet").schema.names
    assert "ride_frequency.missed" in names
    assert len(names) == len(set(names))


def test_closest_designs_are_of_the_last_domain(tmp_path: Path, formula: None) -> None:
    _, folder = run(tmp_path, *AUTO, HOPELESS)
    rows = read_evaluations(folder)
    second = set(rows[rows["response"] == "time-domain"]["design"])
    assert set(read_closest(folder)["design"]) <= second


def test_where_all_fail_the_reason_is_all_there_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", AllFail)
    study, folder = run(tmp_path)
    assert not len(read_closest(folder))
    (line,) = why_none(study, folder)
    assert "have no figures: a figure overflows or is undefined" in line


def test_pairs_are_tried_where_no_single_constraint_opens_the_space(tmp_path: Path, formula: None) -> None:
    third = '[[constraint]]\ncriterion = "bump_reserve"\nat_least = "10 mm"'
    study, folder = run(tmp_path, (AT_ODDS[0], AT_ODDS[1].replace(third, third.replace("10 mm", "900 mm"))))
    lines = why_none(study, folder)
    assert "bump reserve at least 900 mm: 0.0 % of designs; nearest" in "\n".join(lines)
    opened = [line for line in lines if line.startswith("without ")]
    assert len(opened) == 2
    assert all("and bump reserve at least 900 mm" in line for line in opened)


def test_an_interrupted_infeasible_run_says_what_it_has(tmp_path: Path, formula: None) -> None:
    study = small_study(tmp_path, HOPELESS)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=2))
    found = read_closest(tmp_path / "out" / "corner")
    rows = read_evaluations(tmp_path / "out" / "corner")
    least = rows[rows["stage"] != "present"].nsmallest(1, "violation")
    assert found["design"].iloc[0] == least["design"].iloc[0]


def test_the_command_ends_with_3(
    tmp_path: Path, formula: None, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    study = small_study(tmp_path, AT_ODDS)
    call: Call = caller(capsys, monkeypatch)
    status, out, err = call("run", study.path, "--output", tmp_path / "out", "--workers", "1")
    assert status == 3
    for text in ("no design meets all constraints", "met by the fewest", "never met together", "closest.parquet"):
        assert text in out
    assert "none of " in err
    assert call("run", study.path, "--output", tmp_path / "out")[0] == 3
