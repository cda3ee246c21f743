"""The whole plan on test problems whose exact front is known."""

from __future__ import annotations

import moocore
import numpy as np
import pytest

from ridefront.search import Settings
from search.known_problems import PROBLEMS, archive_of, follow

# share of the exact front's hypervolume that everything evaluated reaches: 512 designs sampled, 100 generations of 100
SHARES = {
    "sphere": 0.9999,
    "ZDT1": 0.995,
    "ZDT2": 0.99,
    "BNH": 0.999,
    "CONSTR": 0.995,
    "DTLZ2": 0.97,
    "DTLZ2 of four": 0.92,
}


@pytest.mark.parametrize("name", PROBLEMS)
@pytest.mark.parametrize("seed", [0, 11])
def test_reaches_the_exact_front(name: str, seed: int) -> None:
    problem = PROBLEMS[name]
    _, sent, _ = follow(problem.evaluate, problem.levels, problem.m, Settings(seed, 512, 100, 100))
    archive = archive_of(sent, problem.m)
    reached = moocore.hypervolume(archive.F, ref=np.array(problem.reference)) / problem.volume
    assert SHARES[name] <= reached <= 1 + 1e-12


@pytest.mark.parametrize("name", PROBLEMS)
def test_no_front_is_beaten_by_what_was_evaluated_on_it(name: str) -> None:
    """The closed forms are upper bounds: the front's own designs, evaluated finely, come close from below."""
    problem = PROBLEMS[name]
    d, m = len(problem.levels), problem.m
    t = np.linspace(0, 1, 2001)
    if name == "sphere":
        U = np.full((1, d), 0.3)
    elif name == "BNH":
        x = 5 * t
        U = np.stack([t, np.minimum(x, 3) / 3], axis=1)
    elif name == "CONSTR":
        x = 7 / 18 + (1 - 7 / 18) * t
        U = np.stack([(x - 0.1) / 0.9, np.maximum(6 - 9 * x, 0) / 5 + 1e-12], axis=1)
    elif name.startswith("ZDT"):
        U = np.concatenate([t[:, None], np.zeros((len(t), d - 1))], axis=1)
    else:
        side = np.linspace(0, 1, 41 if m == 3 else 13)
        angles = np.stack([a.ravel() for a in np.meshgrid(*[side] * (m - 1))], axis=1)
        U = np.concatenate([angles, np.full((len(angles), d - m + 1), 0.5)], axis=1)
    F, V = problem.evaluate(U)
    assert (V <= 1e-12).mean() > 0.99
    volume = moocore.hypervolume(F[V <= 1e-12], ref=np.array(problem.reference))
    assert (0.998 if m < 3 else 0.96 if m == 3 else 0.85) * problem.volume < volume <= problem.volume * (1 + 1e-12)


def test_gets_better_than_its_sample_by_much() -> None:
    problem = PROBLEMS["ZDT1"]
    _, sent, _ = follow(problem.evaluate, problem.levels, problem.m, Settings(3, 1000, 100, 90))
    rest = archive_of(sent[1:], 2)
    sample = archive_of(sent[:1], 2)
    reference = np.array(problem.reference)
    assert moocore.hypervolume(sample.F, ref=reference) < 0.3 * moocore.hypervolume(rest.F, ref=reference)
