"""The table of searches runs, its counts are right, and the estate's stored front is what its head says."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import moocore
import numpy as np
import pytest

from benchmarks.reference_front import brute_force, limit_of, share_of_box, thinned
from benchmarks.search_peers import PEERS, Counter, Peer
from benchmarks.search_problems import Array, estate_figures, problem_of, stored_front, stored_notes
from benchmarks.search_table import first_with, front_of, main, measure, middle, share_of
from published.quarter_car_fronts import DAMPERS, SPRINGS, set_of, two

TWO = problem_of("quarter car, 2")


def along_the_set(points: int) -> Array:
    """U (n, 2) of setups on the exact set, from the softest on."""
    ks, c = set_of(DAMPERS[0], points)
    (soft, stiff), (weak, strong) = SPRINGS, DAMPERS
    return np.stack([(ks - soft) / (stiff - soft), np.log(c / weak) / np.log(strong / weak)], axis=1)


def test_the_first_count_that_reaches_a_share_is_found() -> None:
    """Against looking after every single design."""
    F = two(np.random.default_rng(3).permutation(along_the_set(200)))
    V = np.zeros(len(F))
    shares = [share_of(TWO, front_of(F[:n], V[:n])) for n in range(1, len(F) + 1)]
    for share in (0.5, 0.9, 0.99):
        assert first_with(TWO, F, V, share) == 1 + int(np.argmax(np.array(shares) >= share))
    assert first_with(TWO, F, V, 0.9999) is None


def test_infeasible_designs_reach_nothing() -> None:
    F = two(along_the_set(200))
    assert first_with(TWO, F, np.ones(len(F)), 0.5) is None


def test_a_search_that_knows_the_set_reaches_what_one_that_guesses_does_not() -> None:
    def knows(counter: Counter, seed: int) -> Iterator[None]:
        counter(along_the_set(15_000))
        yield

    def guesses(counter: Counter, seed: int) -> Iterator[None]:
        rng = np.random.default_rng(seed)
        while True:
            counter(rng.random((100, 2)))
            yield

    known, guessed = (measure(replace(TWO, most=30_000), Peer(m.__name__, m), 1) for m in (knows, guesses))
    assert known.evaluations[-1] is not None
    assert known.share <= 1
    assert guessed.evaluations[-1] is None
    assert guessed.evaluated == 30_000
    assert known.share > guessed.share


def test_the_table_runs_with_every_search(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    measured = main(["--quick", "--problems", "quarter car, 2", "--json", str(tmp_path / "table.json")])
    names = [peer.name for peer in PEERS if peer.installed]
    assert [row.search for row in measured] == names
    assert all(0.9 < row.share < 1 and row.outside > 0 for row in measured)
    printed = capsys.readouterr().out
    assert all(peer.name in printed for peer in PEERS)
    assert printed.count("not installed") == len(PEERS) - len(names)
    assert "not reached" in printed
    stored = json.loads((tmp_path / "table.json").read_text(encoding="utf-8"))
    assert [row["evaluated"] for row in stored] == [row.evaluated for row in measured]


def test_medians_say_how_many_arrived() -> None:
    assert middle([3, None, 5], 0) == "4 (3-5) 2/3"
    assert middle([1234.0], 0) == "1,234"
    assert middle([None], 0) == "not reached"


def test_the_stored_front_is_what_its_head_says() -> None:
    """Worked out anew: the same figures, feasible, none dominated, the volume as noted, below the limit."""
    U, F = stored_front()
    notes = stored_notes()
    evaluate, d = estate_figures()
    assert U.shape == (len(F), d)
    again, V = evaluate(U)
    # variables are stored to seven digits behind the point, and some setups stand right at a limit
    np.testing.assert_allclose(again, F, rtol=2e-5, atol=2e-5)
    assert V.max() < 1e-5
    assert moocore.is_nondominated(F).all()
    ideal, reference = (np.array([float(word) for word in notes[key].split()]) for key in ("ideal", "reference"))
    volume = share_of_box(F, ideal, reference)
    assert volume == pytest.approx(float(notes["volume of stored"]), abs=1e-6)
    assert volume < float(notes["volume"]) < float(notes["limit"]) < 1.01 * volume


def test_brute_force_comes_close_to_an_exact_front() -> None:
    """On the quarter car with three objectives, where the limit is known: the limit estimated from halves is within
    3e-4 of it, and closer than the set itself.
    """
    problem = problem_of("quarter car, 3")
    _, F = brute_force(lambda U: problem.parted(U)[:2], 2, 60_000, 16_384, 5, lambda tried, front: None)
    limit, _, volumes = limit_of(F, problem.ideal, problem.reference, 6)
    assert volumes[2] < volumes[1] < volumes[0] < problem.volume
    assert volumes[0] > 0.998 * problem.volume
    assert limit == pytest.approx(problem.volume, abs=3e-4)
    assert abs(limit - problem.volume) < problem.volume - volumes[0]


def test_thinned_sets_are_even() -> None:
    F = np.random.default_rng(0).random((2000, 3))
    rows = thinned(F, 50)
    assert len(rows) == 50
    gaps = np.sqrt(np.square(F[rows][:, None] - F[rows]).sum(axis=2))
    np.fill_diagonal(gaps, np.inf)
    at_random = np.sqrt(np.square(F[:50][:, None] - F[:50]).sum(axis=2))
    np.fill_diagonal(at_random, np.inf)
    assert gaps.min() > 2 * at_random.min()
