"""Choices from a small run: reasons in words, figures beside the present setup, catalogue parts against brute force."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ridefront.errors import CallError
from ridefront.evaluate import Evaluator
from ridefront.report.asked import Requirement, read_requirements, read_weights
from ridefront.report.choices import Choices, choose, gains
from ridefront.report.chosen import chosen, in_parts, unbettered, unmet
from ridefront.report.rounding import rounded
from ridefront.results.stored import Result, read_result
from ridefront.run import run_study
from small_runs import AUTO, small_study

PARTS = '[catalogue]\nfront.spring_rate = { step = "2 N/mm" }\nfront.damping = { step = "250 N*s/m" }\n[search]'


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    """A quarter car's run; springs and dampers come in steps, unsprung masses are two."""
    folder = tmp_path_factory.mktemp("runs")
    study = small_study(folder, ("[search]", PARTS), ("generations = 4", "generations = 8"))
    return read_result(run_study(study, folder / "out", workers=1).folder)


def figures(result: Result) -> tuple[np.ndarray, np.ndarray]:
    """Objectives of the front (n, 3), small is better, and of the present setup (3,)."""
    names = ["comfort", "dynamic_load_coefficient", "bump_reserve"]
    signs = np.array([1.0, 1.0, -1.0])
    return result.front[names].to_numpy() * signs, result.present[names].to_numpy()[0] * signs


def by_kind(found: Choices) -> dict[str, list[int]]:
    kinds: dict[str, list[int]] = {}
    for choice in found.found:
        for pick in choice.picks:
            kinds.setdefault(pick.kind, []).append(choice.row)
    return kinds


def test_usual_choices(result: Result) -> None:
    F, now = figures(result)
    found = choose(result)
    kinds = by_kind(found)
    assert [F[row, j] for j, row in enumerate(kinds["best"])] == F.min(axis=0).tolist()
    rows = [choice.row for choice in found.found]
    assert len(set(rows)) == len(rows)
    assert [choice.design for choice in found.found] == result.front["design"].to_numpy()[rows].tolist()
    better = (now > F).all(axis=1)
    assert ("better" in kinds) == better.any() == (not found.unheld)
    if better.any():
        least = ((now - F) / np.ptp(F, axis=0)).min(axis=1)
        assert kinds["better"] == [int(np.argmax(least))]
    X = result.front[["front.unsprung_mass", "front.spring_rate", "front.damping"]].to_numpy()
    x = result.present[["front.unsprung_mass", "front.spring_rate", "front.damping"]].to_numpy()[0]
    X, x = np.column_stack([X[:, :2], np.log(X[:, 2])]), np.append(x[:2], np.log(x[2]))
    off = np.square((X - x) / [4, 28, np.log(5000 / 700)]).sum(axis=1)
    assert kinds["nearest"] == [int(np.argmin(off))]


def test_table_shows_figures_and_changes(result: Result) -> None:
    found = choose(result)
    table = chosen(found)
    cells = {row[0]: row for row in table.rows}
    first = found.found[0]
    comfort, now = float(result.front["comfort"].iloc[first.row]), float(result.present["comfort"].iloc[0])
    assert cells["comfort"][1] == "m/s²"
    shown, change, sign = cells["comfort"][3].replace("(", "").replace(")", "").split()
    assert sign == "%"
    assert float(shown) == pytest.approx(comfort, rel=5e-3)
    assert float(change) == pytest.approx(100 * (comfort - now) / now, abs=0.06)
    reserve, before = float(result.front["bump_reserve"].iloc[first.row]), float(result.present["bump_reserve"].iloc[0])
    bracket = cells["bump reserve"][3].split("(")[1].rstrip(")")
    assert float(bracket) == pytest.approx(reserve - before, rel=0.06)
    assert cells["design"][2:4] == ("0", str(first.design))
    assert all(len(row) == len(table.columns) for row in table.rows)
    assert all(note.startswith(("A", "B", "C", "D", "E", "F", "G", "no ")) for note in table.notes)


def test_gains_in_words(result: Result) -> None:
    study = result.study
    before, after = np.array([0.50, 0.20, 10.0, 1.2]), np.array([0.47, 0.21, 14.0, 1.3])
    labels = [item.label for item in study.measures]
    assert labels[:3] == ["comfort", "dynamic_load_coefficient", "bump_reserve"]
    before, after = before[: len(labels)], after[: len(labels)]
    said = gains(study, np.resize(before, len(labels)), np.resize(after, len(labels)))
    assert said == ["6.0 % in comfort", "-5.0 % in dynamic load coefficient", "4.0 mm of bump reserve"]


def test_weights_pull_towards_their_objective(result: Result) -> None:
    F, _ = figures(result)
    picked = []
    for text in ("comfort=0.1", "comfort=1", "comfort=10"):
        found = choose(result, read_weights(result.study, [text])).found
        assert len(found) == 1
        picked.append(F[found[0].row, 0])
    assert picked[0] > picked[1] > picked[2]
    reason = choose(result, read_weights(result.study, ["comfort=2"])).found[0].reasons[0]
    assert "weights comfort 2, dynamic load coefficient 1, bump reserve 1" in reason


def test_requirements_keep_out_and_say_by_how_much(result: Result) -> None:
    F, _ = figures(result)
    middle = float(np.median(F[:, 0]))
    asked = read_requirements(result.front, [f"comfort<={middle} m/s^2", "front.spring_rate >= 12000 N/m"])
    assert asked[1] == Requirement("front.spring_rate", -1, 12.0, "N/mm")
    found = choose(result, None, asked)
    assert found.suitable == int((F[:, 0] <= middle).sum())
    assert all(F[choice.row, 0] <= middle for choice in found.found)
    lowest = float(F[:, 0].min())
    hopeless = choose(result, None, read_requirements(result.front, [f"comfort<={lowest / 2}", "bump_reserve>=-1 m"]))
    assert not hopeless.found
    lines = unmet(hopeless)
    assert f"design {result.front['design'].iloc[int(F[:, 0].argmin())]} comes nearest" in lines[0]
    assert f"without it {len(F):,} setups meet all others" in lines[1]
    assert "met; without it no setup" in lines[2]


def test_better_than_the_present_setup_or_why_not(result: Result) -> None:
    F, now = figures(result)
    strong = result.present.copy()
    strong["comfort"] = float(F[:, 0].min()) * 0.99
    found = choose(replace(result, present=strong), beat_present=True)
    assert not found.found
    assert found.unheld == ((0,),)
    assert unbettered(found) == ("no setup is better than the present one in comfort",)
    weak = result.present.copy()
    weak["comfort"], weak["dynamic_load_coefficient"], weak["bump_reserve"] = now[0] * 9, now[1] * 9, -1e3
    assert len(choose(replace(result, present=weak), beat_present=True).found) == len(
        choose(replace(result, present=weak)).found
    )


def test_catalogue_parts_are_the_best_by_brute_force(result: Result) -> None:
    """Every neighbour worked out by itself; the figures are the evaluator's, to the bit."""
    F, _ = figures(result)
    low, span = F.min(axis=0), np.ptp(F, axis=0)
    evaluator = Evaluator(result.study)
    weights = np.array([2.0, 1.0, 1.0])
    found = choose(result, weights)
    part = rounded(found, evaluator)[0]
    x = found.front.X[found.found[0].row]
    options = [
        (36.0, 40.0),
        (2 * np.floor(x[1] / 2), 2 * np.ceil(x[1] / 2)),
        (250 * np.floor(x[2] / 250), 250 * np.ceil(x[2] / 250)),
    ]
    scores = {}
    for values in itertools.product(*options):
        one = evaluator.evaluate(np.array([values]))
        if one.violation[0] == 0:
            s = (one.values[0, :3] * [1, 1, -1] - low) / span
            scores[values] = max(s * weights / 4) + 1e-4 * sum(s)
    assert scores
    assert part.holds
    assert (part.tried, part.good) == (8, len(scores))
    assert tuple(part.x.tolist()) == min(scores, key=scores.__getitem__)
    assert np.array_equal(part.values, evaluator.evaluate(part.x[None, :]).values[0])


def test_a_setup_of_the_catalogue_costs_nothing(result: Result) -> None:
    """Steps so fine that each setup is its own neighbour; limits then hold as they did."""
    study = replace(result.study, catalogue={})
    found = choose(replace(result, study=study))
    for choice, part in zip(found.found, rounded(found, Evaluator(study)), strict=True):
        same = part.x == found.front.X[choice.row]
        assert same[1:].all()
        if same.all():
            assert np.array_equal(part.values, found.front.values[choice.row])
        assert part.holds


def test_parts_are_worked_out_as_the_front_was(tmp_path: Path) -> None:
    """A front of the time domain: its setups, worked out once more, have their stored figures to the bit."""
    brief = (("sample = 64", "sample = 32"), ("generations = 4", "generations = 1"))
    driven = ("seed = 5", 'seed = 5\nresponse = "time-domain"')
    study = small_study(tmp_path, driven, AUTO[-1], *brief)
    result = read_result(run_study(study, tmp_path / "out", workers=1).folder)
    assert result.response == "time-domain"
    found = choose(result)
    same = 0
    for choice, part in zip(found.found, rounded(found, Evaluator(result.study)), strict=True):
        if np.array_equal(part.x, found.front.X[choice.row]):
            same += 1
            assert np.array_equal(part.values, found.front.values[choice.row])
    assert same


def test_what_rounding_breaks_is_named(result: Result) -> None:
    """A requirement that the setup only just meets, and that no step of 2 N/mm keeps."""
    stiff = result.front["front.spring_rate"]
    off = (stiff / 2 - np.floor(stiff / 2)).to_numpy()
    value = float(stiff.iloc[int(np.argmin(np.abs(off - 0.5)))])
    column = "front.spring_rate"
    narrow = (Requirement(column, 1, value * 1.0001, "N/mm"), Requirement(column, -1, value * 0.9999, "N/mm"))
    found = choose(result, None, narrow)
    parts = rounded(found, Evaluator(result.study))
    assert parts
    assert not any(part.holds for part in parts)
    table = in_parts(found, parts)
    assert {row[0]: row[2] for row in table.rows}["limits"] == "broken"
    assert f"where {column} " in table.notes[0]
    assert "keeps all limits" in table.notes[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("comfort", "NAME<=VALUE"),
        ("comfort<0.4", "NAME<=VALUE"),
        ("comfort<=0.4<=1", "NAME<=VALUE"),
        ("comfrt<=0.4", '"comfort"'),
        ("status<=1", "holds no numbers"),
        ("comfort<=4 N", "wrong unit"),
        ("comfort<=soft", "does not start with a number"),
    ],
)
def test_requirements_that_are_refused(result: Result, text: str, words: str) -> None:
    with pytest.raises(CallError, match=words):
        read_requirements(result.front, [text])


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (["comfort"], "NAME=WEIGHT"),
        (["comfrt=1"], 'nearest: "comfort"'),
        (["comfort=-1"], "0 or above"),
        (["comfort=2 m"], "no weight"),
        (["comfort=1", "comfort=2"], "given twice"),
        (["comfort=0", "dynamic_load_coefficient=0", "bump_reserve=0"], "at least one above 0"),
    ],
)
def test_weights_that_are_refused(result: Result, texts: list[str], words: str) -> None:
    with pytest.raises(CallError, match=words):
        read_weights(result.study, texts)


def test_an_empty_front_offers_nothing(result: Result, tmp_path: Path) -> None:
    found = choose(replace(result, front=result.front.iloc[:0]))
    assert (found.found, found.shape, found.suitable) == ((), None, 0)


def test_one_setup_is_every_choice(result: Result) -> None:
    found = choose(replace(result, front=result.front.iloc[[3]].reset_index(drop=True)))
    assert [choice.row for choice in found.found] == [0]
    assert found.found[0].reasons[0] == "best compromise: gives up nothing"
