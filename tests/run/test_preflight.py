"""What is refused before a run begins, and what is only said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import spearmanr

from commands import Call, caller
from ridefront.errors import StudyError
from ridefront.evaluate import Domain, Evaluation, evaluate
from ridefront.run import run_study
from ridefront.run.preflight import MOST, PART, preflight
from ridefront.run.workers import Workers
from ridefront.study import Study
from ridefront.study.model import Array
from small_runs import GENERATIONS, AllFail, Collector, Formula, small_study

NEVER_FEASIBLE = ("at_least = 1.0\nat_most = 1.6", "at_least = 50.0")
MASS_TOO = (
    'criterion = "comfort"\n',
    'criterion = "comfort"\n[[objective]]\ncriterion = "unsprung_mass"\n',
)
ONE_MASS = (
    'unsprung_mass = { choices = ["36 kg", "40 kg"] }',
    'unsprung_mass = "40 kg"',
)
NO_PRESENT_MASS = ('front.unsprung_mass = "40 kg"\n', "")


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    return caller(capsys, monkeypatch)


class Counter(Formula):
    """Counts the designs that it is asked for."""

    asked = 0

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        """Counts, and passes on."""
        Counter.asked += len(X)
        return super().evaluate(X, domain)


def looked_at(study: Study) -> tuple[str, ...]:
    with Workers(study, 1) as pool:
        return preflight(study, pool)


def test_an_objective_that_never_varies_is_refused_before_anything_is_written(tmp_path: Path, call: Call) -> None:
    study = small_study(tmp_path, MASS_TOO, ONE_MASS, NO_PRESENT_MASS)
    with pytest.raises(StudyError) as error:
        run_study(study, tmp_path / "out", workers=1)
    (mistake,) = error.value.mistakes
    assert mistake.key == "objective[2]"
    assert '"unsprung_mass" is 40 kg for all' in mistake.found
    assert mistake.allowed == "an objective that a design variable changes"
    assert not (tmp_path / "out").exists()
    for verb in (("run", "--output", tmp_path / "out"), ("check",)):
        status, _, err = call(*verb, study.path)
        assert status == 2
        assert "objective[2]" in err
    assert not (tmp_path / "out").exists()


ONE_SPRING = (
    ('damping = { low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }', 'damping = "2000 N*s/m"'),
    ('front.damping = "1900 N*s/m"\n', ""),
    ONE_MASS,
    NO_PRESENT_MASS,
)


def test_two_objectives_that_order_all_designs_alike_are_refused(tmp_path: Path) -> None:
    """Of one spring, weighted and unweighted acceleration of the body rise together."""
    study = small_study(tmp_path, *ONE_SPRING, ('criterion = "bump_reserve"', 'criterion = "body_acceleration"'))
    with pytest.raises(StudyError) as error:
        looked_at(study)
    (mistake,) = (each for each in error.value.mistakes if each.key == "objective[3]")
    assert 'as objective[1], "comfort", does' in mistake.found
    assert mistake.found.startswith('"body_acceleration" orders all')
    with pytest.raises(StudyError, match=r"objective\[3\].*orders all"):
        preflight(study)


def test_exactly_opposite_objectives_are_welcome(tmp_path: Path) -> None:
    """Of one damper beyond that of most comfort: the more of it, the harsher, and the less the wheel travels."""
    study = small_study(
        tmp_path,
        ('spring_rate = { low = "12 N/mm", high = "40 N/mm" }', 'spring_rate = "20 N/mm"'),
        ('front.spring_rate = "24 N/mm"\n', ""),
        ('low = "700 N*s/m"', 'low = "3000 N*s/m"'),
        ('front.damping = "1900 N*s/m"', 'front.damping = "3000 N*s/m"'),
        ('criterion = "dynamic_load_coefficient"\n[[objective]]\n', ""),
        ('criterion = "bump_reserve"', 'criterion = "travel_rms"'),
        ONE_MASS,
        NO_PRESENT_MASS,
    )
    X = np.linspace(3000.0, 5000.0, 21)[:, np.newaxis]
    comfort, travel = evaluate(study, X).values.T[:2]
    assert spearmanr(comfort, travel).statistic == pytest.approx(-1, abs=1e-12)
    assert looked_at(study) == ()
    assert preflight(study) == ()


def test_a_population_beyond_a_discrete_space_is_refused_and_a_large_sample_is_not(tmp_path: Path) -> None:
    few = (
        ('spring_rate = { low = "12 N/mm", high = "40 N/mm" }', 'spring_rate = { choices = ["20 N/mm", "24 N/mm"] }'),
        (
            'damping = { low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }',
            'damping = { low = "1000 N*s/m", high = "2000 N*s/m", step = "100 N*s/m" }',
        ),
    )
    study = small_study(tmp_path, *few, ("population = 16", "population = 60"))
    with pytest.raises(StudyError) as error:
        run_study(study, tmp_path / "out", workers=1)
    (mistake,) = error.value.mistakes
    assert mistake.key == "search.population"
    assert mistake.found == "60 designs, and the ranges hold 44"
    assert mistake.allowed == "44 at most"
    fits = small_study(tmp_path, *few, ("population = 16", "population = 44"))
    (note,) = preflight(fits)
    assert note == "the ranges hold 44 designs: the sample of 64 looks at every one of them"


def test_a_study_in_order_costs_a_handful_of_designs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Counter)
    Counter.asked = 0
    assert looked_at(small_study(tmp_path)) == ()
    assert Counter.asked <= 2 * PART
    Counter.asked = 0
    assert len(looked_at(small_study(tmp_path, NEVER_FEASIBLE))) == 1
    assert Counter.asked == MOST // 2 + 2**3, "all quasi-random designs and the corners"


def test_infeasible_probes_are_a_note_that_comes_before_the_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)
    study = small_study(tmp_path, NEVER_FEASIBLE)
    progress = Collector()
    run_study(study, tmp_path / "out", workers=1, progress=progress)
    (note,) = progress.notes
    assert note.startswith("none of ")
    assert note.endswith("meets all constraints")
    again = Collector()
    run_study(study, tmp_path / "out", workers=1, progress=again)
    assert again.notes == [], "what ran has been looked at"


def test_where_everything_fails_the_reason_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", AllFail)
    (note,) = looked_at(small_study(tmp_path))
    assert "have no figures: mostly a figure overflows or is undefined" in note


def test_check_leaves_what_must_be_driven_to_the_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = small_study(tmp_path, ("seed = 5", 'seed = 5\nresponse = "time-domain"'), (GENERATIONS, "generations = 1"))
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Counter)
    Counter.asked = 0
    (note,) = preflight(study)
    assert note.startswith("whether the objectives make a front is looked at when the run begins")
    assert '"comfort", "dynamic_load_coefficient", "bump_reserve"' in note
    assert Counter.asked <= PART
