"""What a finished run says of its front beyond figures: residuals, what holds the designs, slopes along the front."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from ridefront import Evaluator, read_front
from ridefront.report.after_run import table_after_run
from ridefront.report.optimality import optimality_notes
from ridefront.results.names import FRONT_GRADIENTS, RECORD
from ridefront.run import run_study
from ridefront.run.certify import HUNDREDTH, certify, held_words
from ridefront.run.workers import Workers
from ridefront.search.residual import Held
from ridefront.study.space import decode, encode
from small_runs import AUTO, Collector, small_study

FEW = ("generations = 4", "generations = 2")


def test_columns_table_and_count_of_a_run(tmp_path: Path) -> None:
    """The slopes against differences of the figures themselves, ten times as far apart, where they have no kink."""
    study = small_study(tmp_path, FEW)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    front = read_front(folder)
    assert (front["residual"] >= 0).all()
    assert front["held_by"].notna().all()
    assert front.attrs["units"]["residual"] == "1"
    table = pd.read_parquet(folder / FRONT_GRADIENTS)
    free = ["front.spring_rate", "front.damping"]
    assert len(table) == len(front) * len(study.measures) * len(free)
    assert json.loads((folder / RECORD).read_text())["counts"]["certified"] == 5 * len(front)
    units = {item.label: item.unit for item in study.measures}
    assert table["unit"].tolist() == table["measure"].map(units).tolist()

    X = front[[item.path for item in study.variables]].to_numpy(dtype=np.float64)
    U, evaluator = encode(study, X), Evaluator(study)
    inside = np.all((U > 0.02) & (U < 0.98), axis=1)
    assert inside.sum() > 5
    for path in free:
        step = np.where([item.path == path for item in study.variables], HUNDREDTH / 2, 0.0)
        up, down = (evaluator.evaluate(decode(study, U[inside] + side * step)).values for side in (1, -1))
        for k, item in enumerate(study.measures):
            stored = table[(table["measure"] == item.label) & (table["variable"] == path)]["value"].to_numpy()
            np.testing.assert_allclose(stored[inside], (up - down)[:, k], rtol=0.02, atol=1e-4 * np.ptp(up[:, k]))


def test_residuals_do_not_depend_on_workers_or_neighbours(tmp_path: Path) -> None:
    study = small_study(tmp_path, *AUTO)
    X = decode(study, np.random.default_rng(1).random((70, 3)))
    with Workers(study, 1) as one, Workers(study, 2) as two:
        for domain in ("frequency-domain", "time-domain"):
            ours, theirs = (certify(study, domain, X, pool) for pool in (one, two))
            assert np.asarray(ours.columns["residual"]).tobytes() == np.asarray(theirs.columns["residual"]).tobytes()
            assert ours.columns["held_by"] == theirs.columns["held_by"]
            assert ours.gradients.tobytes() == theirs.gradients.tobytes()
            assert ours.evaluations == 70 * (5 if domain == "frequency-domain" else 3)


def test_one_neighbour_says_much_the_same_as_two(tmp_path: Path) -> None:
    """The time domain of a car that hardly leaves the linear: slopes within a hundredth of each measure's steepest."""
    study = small_study(
        tmp_path, *AUTO, ('class = "C"', 'class = "A"\nlength = "300 m"'), ('friction = "40 N"', 'friction = "0 N"')
    )
    X = decode(study, np.random.default_rng(2).random((8, 3)) * 0.6 + 0.2)
    with Workers(study, 1) as pool:
        linear, driven = (certify(study, domain, X, pool).gradients for domain in ("frequency-domain", "time-domain"))
    for k, item in enumerate(study.measures):
        if item.criterion in ("comfort", "dynamic_load_coefficient"):
            steepest = np.nanmax(np.abs(linear[:, k]))
            np.testing.assert_allclose(driven[:, k], linear[:, k], atol=0.02 * steepest)


def test_nothing_is_known_after_an_interrupt(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=4))
    folder = tmp_path / "out" / "corner"
    front = read_front(folder)
    assert len(front) > 0
    assert front["residual"].isna().all()
    assert front["held_by"].isna().all()
    assert len(pd.read_parquet(folder / FRONT_GRADIENTS)) == 0
    assert json.loads((folder / RECORD).read_text())["counts"]["certified"] == 0


def test_null_where_every_variable_is_stepped(tmp_path: Path) -> None:
    study = small_study(
        tmp_path,
        FEW,
        (
            'spring_rate = { low = "12 N/mm", high = "40 N/mm" }',
            "spring_rate = { choices = [16000, 18000, 20000, 22000, 24000] }",
        ),
        (
            'damping = { low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }',
            "damping = { choices = [1200, 1500, 2000, 2400] }",
        ),
    )
    folder = run_study(study, tmp_path / "out", workers=1).folder
    front = read_front(folder)
    assert len(front) > 0
    assert front["residual"].isna().all()
    assert len(pd.read_parquet(folder / FRONT_GRADIENTS)) == 0
    table = table_after_run(study, folder)
    assert table is not None
    assert not any(note.startswith("optimality") for note in table.notes)


def test_words(tmp_path: Path) -> None:
    three = ('{ choices = ["36 kg", "40 kg"] }', '{ choices = ["36 kg", "40 kg", "44 kg"] }')
    study = small_study(tmp_path, three)
    found = Held(0.0, ((1, "lower"),), (1,), ((0, (0, 1)),))
    light, middle, heavy = (np.array([(code + 0.5) / 3, 0.0, 0.5]) for code in range(3))
    assert held_words(study, found, middle) == (
        "front spring rate at its lower limit; ride frequency at most 1.60 Hz; "
        "comfort: lane @ 50 km/h and lane @ 80 km/h alike; (front unsprung mass held at its step)"
    )
    assert held_words(study, Held(0.1), middle) == "(front unsprung mass held at its step)"
    assert held_words(study, Held(0.1), light) == "front unsprung mass at its lower limit"
    assert held_words(study, Held(0.1), heavy) == "front unsprung mass at its upper limit"


def test_a_line_for_people() -> None:
    front = pd.DataFrame(
        {
            "residual": [0.0, 0.001, 0.002, np.nan],
            "held_by": ["a at its lower limit; (c held at its step)", "a at its lower limit; b at most 2", "", None],
        }
    )
    (line,) = optimality_notes(front)
    assert line.startswith("optimality: residual 0.0010 (median; 95 % of setups: 0.0019 or less)")
    assert line.endswith(
        "; setups are held, 67 % by a at its lower limit and 33 % by b at most 2; 1 of 4 have no residual"
    )
    assert optimality_notes(front[3:]) == ()
