"""What ends a search: evaluations, time, a front that has stopped growing; refinement that is killed and goes on."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest

from killed_runs import start_killed
from ridefront.errors import ResultError, StudyError
from ridefront.results import read_evaluations, read_front, read_progress
from ridefront.run import run_study
from ridefront.study import Study
from small_runs import AUTO, Collector, Formula, assert_same_results, evaluations_of, parts_of, small_study

PRESENT = 1


def until(folder: Path, text: str, *changes: tuple[str, str], refine: int = 0) -> Study:
    return small_study(folder, *changes, ("\nrefine = 0", f"\nrefine = {refine}\n{text}"))


def auto(folder: Path, text: str, *, refine: int = 0, again: int = 0) -> Study:
    dear = ("simulated_refine = 0", f"simulated_refine = {again}")
    return until(folder, text, *AUTO, dear, refine=refine)


@pytest.fixture
def formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", Formula)


def stages(folder: Path) -> dict[str, int]:
    return {str(key): int(n) for key, n in read_evaluations(folder)["stage"].value_counts().items() if n}


@pytest.mark.parametrize("bound", [64, 70, 80, 127])
def test_evaluations_are_exact(tmp_path: Path, formula: None, bound: int) -> None:
    result = run_study(until(tmp_path, f"until.evaluations = {bound}"), tmp_path / "out", workers=1)
    assert result.evaluations == PRESENT + bound
    assert result.stopped == "all evaluations spent"


def test_generations_leave_refinement_its_share(tmp_path: Path, formula: None) -> None:
    result = run_study(until(tmp_path, "until.evaluations = 250", refine=150), tmp_path / "out", workers=1)
    found = stages(result.folder)
    assert found["evolve"] == 250 - 64 - 150
    assert 0 < found["refine"] <= 150


def test_the_frequency_domain_leaves_the_time_domain_its_share(tmp_path: Path, formula: None) -> None:
    """64 of the sample, 16 repeated, 3 generations of 16; what is over goes to the first domain."""
    result = run_study(auto(tmp_path, "until.evaluations = 138"), tmp_path / "out", workers=1)
    found = stages(result.folder)
    assert found == {"present": 2, "sample": 64, "evolve": 10, "repeat": 16, "continue": 48}
    assert set(read_front(result.folder)["response"]) == {"time-domain"}
    with pytest.raises(StudyError, match=r"until\.evaluations: 79 stands here.*80 or more: the sample, 64, the popul"):
        auto(tmp_path, "until.evaluations = 79")


def test_a_bound_may_not_be_moved(tmp_path: Path, formula: None) -> None:
    """Its last generation is cut short, so that another bound asks for other designs."""
    run_study(until(tmp_path, "until.evaluations = 70"), tmp_path / "out", workers=1)
    with pytest.raises(ResultError, match=r"\(evaluations\)") as caught:
        run_study(until(tmp_path, "until.evaluations = 75"), tmp_path / "out", workers=1)
    assert "--overwrite" in str(caught.value)


class Ticking:
    """A clock that goes on by a second whenever it is looked at."""

    def __init__(self) -> None:
        self.now = 0.0

    def perf_counter(self) -> float:
        self.now += 1.0
        return self.now


@pytest.mark.parametrize("seconds", [1, 2, 3, 5])
def test_seconds_leave_the_beginning_of_the_longer_run(
    tmp_path: Path, formula: None, monkeypatch: pytest.MonkeyPatch, seconds: int
) -> None:
    monkeypatch.setattr("ridefront.run.loop.time", Ticking())
    large = ("sample = 64", "sample = 4096")
    whole = run_study(until(tmp_path, "", large), tmp_path / "whole", workers=1)
    short = run_study(until(tmp_path, f"until.seconds = {seconds}", large), tmp_path / "out", workers=1)
    assert (short.state, short.stopped) == ("done", "time is up")
    assert len(parts_of(short.folder)) == seconds  # the present setup is the first block
    rows = evaluations_of(short.folder)
    assert rows.equals(evaluations_of(whole.folder).slice(0, len(rows)))
    if seconds < 5:
        assert read_progress(short.folder)["hypervolume"].isna().all(), "no box of part of a sample"
    assert run_study(until(tmp_path, f"until.seconds = {seconds}", large), tmp_path / "out", workers=1).added == 0
    more = run_study(until(tmp_path, "until.seconds = 1000", large), tmp_path / "out", workers=2)
    assert more.added == whole.evaluations - len(rows)
    assert_same_results(more.folder, whole.folder)


def test_a_stalled_stage_ends_and_the_next_one_begins(tmp_path: Path, formula: None) -> None:
    """A share that no front keeps up: evolution ends as soon as it may be looked at, refinement then begins."""
    text = "until = { stalled_share = 0.9, stalled_generations = 2 }"
    many = ("generations = 4", "generations = 40")
    study = until(tmp_path, text, many, refine=200)
    result = run_study(study, tmp_path / "out", workers=1)
    progress = read_progress(result.folder)
    assert (progress["stage"] == "evolve").sum() == 3
    assert 0 < (progress["stage"] == "refine").sum() <= 3
    volumes = progress.loc[progress["stage"] == "evolve", "hypervolume"].tolist()
    assert volumes[2] - volumes[0] < 0.9 * volumes[2]
    assert run_study(study, tmp_path / "out", workers=1).added == 0
    with pytest.raises(ResultError, match="stalled"):
        run_study(until(tmp_path, text.replace("0.9", "0.8"), many, refine=200), tmp_path / "out", workers=1)


def test_a_stalled_frequency_domain_passes_to_the_time_domain(tmp_path: Path, formula: None) -> None:
    text = "until = { stalled_share = 0.9, stalled_generations = 1 }"
    found = stages(run_study(auto(tmp_path, text), tmp_path / "out", workers=1).folder)
    assert found == {"present": 2, "sample": 64, "evolve": 32, "repeat": 16, "continue": 32}


def test_more_refinement_goes_on_and_less_is_refused(tmp_path: Path, formula: None) -> None:
    first = run_study(until(tmp_path, "", refine=40), tmp_path / "out", workers=1)
    assert run_study(until(tmp_path, "", refine=40), tmp_path / "out", workers=1).added == 0
    whole = run_study(until(tmp_path, "", refine=160), tmp_path / "whole", workers=1)
    assert whole.evaluations > first.evaluations
    grown = run_study(until(tmp_path, "", refine=160), tmp_path / "out", workers=2)
    assert grown.added == whole.evaluations - first.evaluations
    assert_same_results(grown.folder, whole.folder)
    with pytest.raises(ResultError, match=r"holds a longer run than search\.refine"):
        run_study(until(tmp_path, "", refine=40), tmp_path / "out", workers=1)
    with pytest.raises(ResultError, match=r"\(generations\)") as caught:
        run_study(until(tmp_path, "", ("generations = 4", "generations = 5"), refine=160), tmp_path / "out", workers=1)
    assert "Raise search.refine" in str(caught.value)


def test_auto_refines_in_both_domains_and_goes_on_from_any_block(tmp_path: Path, formula: None) -> None:
    study = auto(tmp_path, "", refine=160, again=160)
    whole = run_study(study, tmp_path / "whole", workers=1)
    rows = read_evaluations(whole.folder)
    refined = rows[rows["stage"] == "refine"]
    assert set(refined["response"]) == {"frequency-domain", "time-domain"}
    assert rows["parts"].notna().tolist() == (rows["stage"] == "refine").tolist()
    blocks = len(parts_of(whole.folder))
    for stop in {blocks - 1, blocks - 3, 8}:
        output = tmp_path / str(stop)
        with pytest.raises(KeyboardInterrupt):
            run_study(study, output, workers=1, progress=Collector(interrupt_after=stop))
        assert_same_results(run_study(study, output, workers=2).folder, whole.folder)


@pytest.mark.parametrize("response", ["frequency-domain", "time-domain"])
def test_kill_9_within_refinement_and_resume(tmp_path: Path, response: str) -> None:
    """With the real vehicle, on a road of 100 m where it is driven."""
    short = ('class = "C"', 'class = "C"\nlength = "100 m"\nrealisations = 1')
    domain = ("seed = 5", f'seed = 5\nresponse = "{response}"')
    small = (
        ("sample = 64", "sample = 16"),
        ("population = 16", "population = 4"),
        ("generations = 4", "generations = 1"),
    )
    study = until(tmp_path, "", short, domain, *small, refine=80)
    folder = tmp_path / "out" / "corner"
    process = start_killed(Path(study.path), tmp_path / "out")
    before = 1 + 1 + 1  # present, sample, generation
    while not (folder / "evaluations").is_dir() or len(parts_of(folder)) < before + 2:
        assert process.poll() is None, process.stderr.read() if process.stderr else b""
    process.send_signal(signal.SIGKILL)
    process.communicate()
    assert set(read_evaluations(folder)["stage"].tail(1)) == {"refine"}
    resumed = run_study(study, tmp_path / "out", workers=1)
    whole = run_study(study, tmp_path / "whole", workers=2)
    assert 0 < resumed.added < whole.evaluations
    assert_same_results(resumed.folder, whole.folder)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("until.evaluations = 0", r"until\.evaluations: 0 stands here; allowed: a whole number from 1"),
        ("until.evaluations = 63", r"until\.evaluations: 63 stands here; allowed: 64 or more: the sample, 64"),
        ('until.seconds = "-1 s"', r"until\.seconds: .* is not above 0"),
        ('until.seconds = "2 m"', r"until\.seconds: .* has the wrong unit"),
        ("until.stalled_share = 1", r"until\.stalled_share: 1 is out of bounds"),
        ("until.stalled_generations = 3", r"until\.stalled_generations: given without stalled_share"),
        ("until.second = 3", r"until\.second: unknown key"),
        ("until = 3", r"search\.until: 3 stands here; allowed: a table"),
        ("simulated_refine = 3", r"search\.simulated_refine: given with response"),
    ],
)
def test_bad_keys(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(StudyError, match=words):
        until(tmp_path, text)
