"""Runs that pass from the frequency domain to the time domain: what is asked in which, one kind of front, stops and
starts; with a stand-in for the vehicle, whose rides are 5 % rougher in the time domain and 7 % on held-out roads.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from ridefront.errors import ResultError
from ridefront.evaluate import Domain, Evaluation
from ridefront.results import read_evaluations, read_front, read_front_pieces, read_progress
from ridefront.results.read import read_present
from ridefront.run import run_study
from ridefront.run.progress import CLOSING
from ridefront.study import Study
from small_runs import AUTO, AllFail, Array, Collector, Formula, assert_same_results, parts_of, small_study

RIDES = ["comfort", "dynamic_load_coefficient", "bump_reserve"]
FIRST = 1 + 1 + 4  # blocks in the frequency domain: present, sample, generations
BLOCKS = FIRST + 1 + 1 + 3  # and in the time domain: present, the last population, generations


@pytest.fixture(autouse=True)
def formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)


def auto(folder: Path, *changes: tuple[str, str]) -> Study:
    return small_study(folder, *AUTO, *changes)


def test_rows_of_both_domains_in_the_order_asked(tmp_path: Path) -> None:
    result = run_study(auto(tmp_path), tmp_path / "out", workers=1)
    rows = read_evaluations(result.folder)
    stages = rows.groupby(["stage", "generation", "response"], observed=True, sort=False).size()
    assert list(stages.items()) == [
        (("present", 0, "frequency-domain"), 1),
        (("sample", 0, "frequency-domain"), 64),
        *((("evolve", g, "frequency-domain"), 16) for g in range(1, 5)),
        (("present", 0, "time-domain"), 1),
        (("repeat", 0, "time-domain"), 16),
        *((("continue", g, "time-domain"), 16) for g in range(1, 4)),
    ]
    assert result.evaluations == len(rows) == result.added
    driven = rows["response"] == "time-domain"
    assert rows["realisations"].isna().tolist() == (~driven).tolist()
    assert rows.loc[driven, "realisations"].eq(3).all()
    ok = rows["status"] == "ok"
    for name in RIDES:
        assert rows[f"{name}.se"].notna().tolist() == (driven & ok).tolist()
        np.testing.assert_allclose(rows.loc[driven & ok, f"{name}.se"], 0.01 * rows.loc[driven & ok, name], rtol=1e-14)
    assert "ride_frequency.se" not in rows
    # what is repeated was asked before, and the figures of its rides have grown
    names = ["front.unsprung_mass", "front.spring_rate", "front.damping"]
    again = rows[rows["stage"] == "repeat"].merge(rows[~driven], on=names, suffixes=("", " before"))
    assert len(again) == 16
    np.testing.assert_allclose(again["comfort"], 1.05 * again["comfort before"], rtol=1e-14)


def test_front_is_of_one_kind_only(tmp_path: Path) -> None:
    """In the frequency domain every figure is better; none of those rows may be on the front."""
    result = run_study(auto(tmp_path), tmp_path / "out", workers=1)
    front, rows = read_front(result.folder), read_evaluations(result.folder)
    assert set(front["response"]) == {"time-domain"}
    second = rows[(rows["response"] == "time-domain") & (rows["stage"] != "present")]
    F = second.loc[second["feasible"], RIDES].to_numpy() * (1, 1, -1)
    beaten = np.array([(np.all(f >= F, axis=1) & np.any(f > F, axis=1)).any() for f in F])
    assert front["design"].tolist() == second.loc[second["feasible"], "design"][~beaten].tolist()
    assert result.feasible == second["feasible"].sum() < rows["feasible"].sum()
    assert result.failed == (rows["status"] != "ok").sum()
    record = json.loads((result.folder / "run.json").read_text())
    assert record["front_response"] == "time-domain"
    assert record["realisations"] == {"lane": {"front": 3, "difference": 3}}
    assert record["search"]["simulated_generations"] == 3
    assert record["step"]["step"] == 1e-3
    assert record["step"]["held"] is False
    assert record["step"]["conditions"]["two"] == {"rms_change": 2e-4, "peak_change": None}, "no infinity in JSON"


def test_progress_goes_on_in_a_box_of_its_own(tmp_path: Path) -> None:
    collector = Collector()
    study = auto(tmp_path)
    result = run_study(study, tmp_path / "out", workers=1, progress=collector)
    rows = read_progress(result.folder)
    assert rows["stage"].tolist() == ["sample"] + ["evolve"] * 4 + ["repeat"] + ["continue"] * 3
    assert rows["generation"].tolist() == [0, 1, 2, 3, 4, 0, 1, 2, 3]
    assert rows["front"].iloc[5] <= 16, "a new front"
    assert rows["front"].iloc[-1] == result.front
    assert rows["hypervolume"].iloc[-1] == result.hypervolume
    alone = run_study(small_study(tmp_path, name="alone.toml"), tmp_path / "out", workers=1)
    first = json.loads((alone.folder / "run.json").read_text())["hypervolume_box"]
    second = json.loads((result.folder / "run.json").read_text())["hypervolume_box"]
    assert second["ideal"] != first["ideal"]
    np.testing.assert_array_equal(rows["hypervolume"][:5], read_progress(alone.folder)["hypervolume"])
    seen = collector.seen
    assert [snapshot.stage for snapshot in seen[FIRST:]] == ["present", "repeat", *["continue"] * 3, CLOSING]
    assert {snapshot.planned for snapshot in seen} == {result.evaluations}
    assert all(snapshot.seconds_left is None for snapshot in seen[: FIRST + 1]), "the slow part is still to come"
    assert seen[-2].seconds_left == 0


@pytest.mark.parametrize("blocks", [FIRST - 1, FIRST, FIRST + 1, FIRST + 2, BLOCKS - 1, BLOCKS, BLOCKS + 1])
def test_interrupt_after_any_block_and_resume(tmp_path: Path, blocks: int) -> None:
    """The last one: while the front is worked out once more."""
    study = auto(tmp_path)
    whole = run_study(study, tmp_path / "whole", workers=1)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=blocks))
    folder = tmp_path / "out" / "corner"
    assert len(parts_of(folder)) == min(blocks, BLOCKS)
    front = read_front(folder)
    kind = "time-domain" if blocks >= FIRST + 2 else "frequency-domain"
    assert set(front["response"]) == {kind}, "today's setup alone makes no front"
    assert set(read_front_pieces(folder)["response"]) == {kind, "at rest"}
    assert json.loads((folder / "run.json").read_text())["front_response"] == kind
    assert len(read_present(folder, kind)) == 1
    for name in RIDES:
        assert front[f"{name}.difference"].isna().all()
        assert front[f"{name}.held_out"].isna().all()
    resumed = run_study(study, tmp_path / "out", workers=2)
    assert_same_results(resumed.folder, whole.folder)
    assert (resumed.hypervolume, resumed.feasible) == (whole.hypervolume, whole.feasible)


class InterruptedInTime(Formula):
    """Interrupted while the last population is worked out anew."""

    armed = True

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        if domain == "time-domain" and len(X) > 1 and InterruptedInTime.armed:
            InterruptedInTime.armed = False
            raise KeyboardInterrupt
        return super().evaluate(X, domain)


def test_interrupt_within_the_repeated_population(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = auto(tmp_path)
    whole = run_study(study, tmp_path / "whole", workers=1)
    monkeypatch.setattr("ridefront.run.workers.Evaluator", InterruptedInTime)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1)
    assert len(parts_of(tmp_path / "out" / "corner")) == FIRST + 1
    assert_same_results(run_study(study, tmp_path / "out", workers=1).folder, whole.folder)


def test_parts_of_the_other_domain_are_refused(tmp_path: Path) -> None:
    """A part whose rows say that they were worked out otherwise than the search asks for here."""
    result = run_study(auto(tmp_path), tmp_path / "out", workers=1)
    parts = parts_of(result.folder)
    parts[FIRST].write_bytes(parts[0].read_bytes())  # today's setup, in the frequency domain
    (result.folder / "front.parquet").unlink()
    with pytest.raises(ResultError, match=r"part-000006\.parquet: foreign"):
        run_study(auto(tmp_path), tmp_path / "out", workers=1)


MORE = ("simulated_generations = 3", "simulated_generations = 5")


def test_more_generations_in_the_time_domain_go_on_and_equal_the_longer_run(tmp_path: Path) -> None:
    short, long = auto(tmp_path), auto(tmp_path, MORE)
    whole = run_study(long, tmp_path / "whole", workers=1)
    first = run_study(short, tmp_path / "out", workers=1)
    assert run_study(short, tmp_path / "out", workers=1).added == 0
    grown = run_study(long, tmp_path / "out", workers=1)
    assert grown.added == 2 * 16 == grown.evaluations - first.evaluations
    assert_same_results(grown.folder, whole.folder)
    with pytest.raises(ResultError, match=r"longer run than search\.simulated_gen(.|\n)*Raise search\.simulated_gen"):
        run_study(short, tmp_path / "out", workers=1)
    with pytest.raises(ResultError, match=r"\(generations\)"):
        run_study(auto(tmp_path, ("generations = 4\n", "generations = 5\n")), tmp_path / "out", workers=1)


def test_difference_and_held_out_roads_of_the_front(tmp_path: Path) -> None:
    result = run_study(auto(tmp_path), tmp_path / "out", workers=2)
    front, pieces = read_front(result.folder), read_front_pieces(result.folder)
    for name in RIDES:
        np.testing.assert_allclose(front[f"{name}.difference"], front[name] * (0.05 / 1.05), rtol=1e-12)
        np.testing.assert_allclose(front[f"{name}.held_out"], front[name] * (1.07 / 1.05), rtol=1e-12)
        np.testing.assert_allclose(front[f"{name}.held_out.se"], 0.01 * front[f"{name}.held_out"], rtol=1e-12)
    assert not [name for name in map(str, front) if name.startswith("ride_frequency.")], (
        "the same in both, and on any road"
    )
    units = front.attrs["units"]
    assert {units["bump_reserve.difference"], units["bump_reserve.held_out"], units["bump_reserve.se"]} == {"mm"}
    # a piece of each domain, and one that needs no road once
    assert len(pieces) == 3 * len(front)
    at_rest = pieces[pieces["response"] == "at rest"]
    assert at_rest["design"].tolist() == front["design"].tolist()
    comfort = pieces[pieces["criterion"] == "comfort"].pivot(index="design", columns="response", values="value")
    np.testing.assert_allclose(comfort["time-domain"], 1.05 * comfort["frequency-domain"], rtol=1e-12)
    assert pieces["se"].notna().tolist() == (pieces["response"] == "time-domain").tolist()


def test_front_is_the_same_in_whatever_parts_it_is_worked_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = run_study(auto(tmp_path), tmp_path / "whole", workers=1)
    monkeypatch.setattr("ridefront.run.closing.PART", 3)
    assert whole.front > 3 * 2
    assert_same_results(run_study(auto(tmp_path), tmp_path / "out", workers=2).folder, whole.folder)


def test_front_of_the_frequency_domain_is_compared_too(tmp_path: Path) -> None:
    result = run_study(small_study(tmp_path), tmp_path / "out", workers=1)
    front = read_front(result.folder)
    for name in RIDES:
        np.testing.assert_allclose(front[f"{name}.difference"], 0.05 * front[name], rtol=1e-12)
    assert not [name for name in map(str, front) if ".held_out" in name or name.endswith(".se")], (
        "no figure depends on a seed"
    )
    assert "one realisation of each random road" in front.attrs["descriptions"]["comfort.difference"]
    record = json.loads((result.folder / "run.json").read_text())
    assert record["realisations"] == {"lane": {"front": None, "difference": 1}}
    assert record["search"]["simulated_generations"] is None


class LinearFails(Formula):
    """Every other design has no figures in the frequency domain."""

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        found = super().evaluate(X, domain)
        if (domain or self.domain) == "frequency-domain":
            found.values[X[:, 0] < 38] = np.nan
        return found


def test_difference_is_null_where_the_other_domain_has_no_figure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", LinearFails)
    study = small_study(tmp_path, ("seed = 5", 'seed = 5\nresponse = "time-domain"'))
    front = read_front(run_study(study, tmp_path / "out", workers=1).folder)
    light = front["front.unsprung_mass"] < 38
    assert light.any()
    assert not light.all()
    assert front["comfort.difference"].isna().tolist() == light.tolist()
    assert front["comfort.held_out"].notna().all()


def test_study_of_the_time_domain_is_searched_in_it_from_the_start(tmp_path: Path) -> None:
    study = small_study(tmp_path, ("seed = 5", 'seed = 5\nresponse = "time-domain"'))
    result = run_study(study, tmp_path / "out", workers=1)
    rows = read_evaluations(result.folder)
    assert set(rows["response"]) == {"time-domain"}
    assert rows["realisations"].eq(8).all(), "the road's default"
    assert set(rows["stage"]) == {"present", "sample", "evolve"}
    assert json.loads((result.folder / "run.json").read_text())["front_response"] == "time-domain"


def test_one_realisation_has_no_standard_error_but_may_be_held_out(tmp_path: Path) -> None:
    study = auto(tmp_path, ("realisations = 3", "realisations = 1"))
    front = read_front(run_study(study, tmp_path / "out", workers=1).folder)
    assert not [name for name in map(str, front) if name.endswith(".se")]
    np.testing.assert_allclose(front["comfort.held_out"], front["comfort"] * (1.07 / 1.05), rtol=1e-12)


def test_todays_setup_is_there_in_both_domains(tmp_path: Path) -> None:
    result = run_study(auto(tmp_path), tmp_path / "out", workers=1)
    linear, driven = (read_present(result.folder, kind) for kind in ("frequency-domain", "time-domain"))
    assert (linear["design"].tolist(), driven["design"].tolist()) == ([0], [1 + 64 + 4 * 16])
    np.testing.assert_allclose(driven["comfort"], 1.05 * linear["comfort"], rtol=1e-14)


def test_all_failed_run_ends_well(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", AllFail)
    result = run_study(auto(tmp_path), tmp_path / "out", workers=1)
    assert (result.front, result.hypervolume, result.failed) == (0, None, result.evaluations)
    front = read_front(result.folder)
    assert len(front) == len(read_front_pieces(result.folder)) == 0
    assert "comfort.held_out.se" in front
