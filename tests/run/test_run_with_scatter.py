"""A run of a study with tolerances: the spread of its front, whatever the number of workers, and what is said of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridefront import read_front, run_study
from ridefront.evaluate import Evaluator
from ridefront.report.after_run import table_after_run
from ridefront.report.scattered import spread_notes, tolerances
from small_runs import assert_same_results, small_study

TOLERANCES = '[scatter]\nfront.spring_rate = "5 %"\nfront.damping = "15 %"\nsamples = 16\n[search]'


def changes(measure: str = "") -> tuple[tuple[str, str], ...]:
    return (
        ("[search]", TOLERANCES),
        ("sample = 64", "sample = 32"),
        ('criterion = "comfort"\n', f'criterion = "comfort"\n{measure}'),
    )


@pytest.mark.parametrize("measure", ["", 'scatter = "90 %"\n'], ids=["as drawn", "counted"])
def test_front_has_the_spread_of_every_figure(tmp_path: Path, measure: str) -> None:
    study = small_study(tmp_path, *changes(measure))
    runs = [run_study(study, tmp_path / str(workers), workers=workers).folder for workers in (1, 3)]
    assert_same_results(*runs)
    front = read_front(runs[0])
    assert len(front) > 3
    X = front[[item.path for item in study.variables]].to_numpy()
    want = Evaluator(study).spread(X, study.measures)
    units = front.attrs["units"]
    for k, item in enumerate(study.measures):
        if f"{item.label}.scatter_low" not in front:
            assert item.label.startswith(
                "ride_frequency (smallest"
            )  # equal to the one of largest figures on one corner
            continue
        low, high = front[f"{item.label}.scatter_low"].to_numpy(), front[f"{item.label}.scatter_high"].to_numpy()
        assert np.array_equal(np.stack([low, high], axis=1), want[:, k])
        assert np.all(low < high)
        assert units[f"{item.label}.scatter_low"] == item.unit
        if item.scatter is None:  # as drawn a part is in the middle of its tolerance
            assert np.mean((low < front[item.label]) & (front[item.label] < high)) > 0.9


def test_what_is_said_of_tolerances(tmp_path: Path) -> None:
    study = small_study(tmp_path, *changes('scatter = "mean"\n'))
    assert "16 vehicles" in tolerances(study)
    assert "front damping ± 15 %" in tolerances(study)
    assert "comfort (mean over scatter)" in tolerances(study)
    folder = run_study(study, tmp_path / "results", workers=1).folder
    front = read_front(folder)
    table = table_after_run(study, folder)
    assert table is not None
    assert any("from 5 % to 95 % of the vehicles built within tolerances" in note for note in table.notes)
    narrow = front.iloc[:2].copy()
    label = "comfort (mean over scatter)"
    narrow[label] = [1.0, 1.001]
    beyond = "tolerances of parts move comfort (mean over scatter) by more than the whole front does"
    assert beyond in spread_notes(study, narrow)
    narrow[label] = [1.0, 99.0]
    assert beyond not in spread_notes(study, narrow)
    narrow.loc[narrow.index[0], f"{label}.scatter_low"] = np.nan
    assert any("have no spread" in note or "has no spread" in note for note in spread_notes(study, narrow))


def test_a_front_without_tolerances_has_no_such_columns(tmp_path: Path) -> None:
    study = small_study(tmp_path, ("sample = 64", "sample = 32"), ("generations = 4", "generations = 1"))
    front = read_front(run_study(study, tmp_path / "results", workers=1).folder)
    assert not [name for name in front.columns if "scatter" in name]
    assert spread_notes(study, front) == ()
