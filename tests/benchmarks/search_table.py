"""How many evaluations, and how many seconds, our search and others need for a share of the exact front's hypervolume.

    python -m tests.benchmarks.search_table [--quick] [--problems NAME ... | --known] [--seeds 5] [--json FILE]

For every search the same: the model, the box, and what counts is the front of everything that it evaluated, not what
last population holds. Evaluations are exact: the first design with which the share is reached, found afterwards.
Seconds are processor time of model and search together up to then. A search is stopped when it has reached the largest
share, or after as many evaluations as the table says; ours also ends by itself. Each figure is the median over seeds,
with the least and the greatest; where some seeds did not get there it says how many did.

Microseconds a design outside the model are those of the search itself; ours include the archive of everything
evaluated and its hypervolume after every block, which others do not keep.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import moocore
import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))  # where this file is run by hand

from benchmarks.search_peers import PEERS, Counter, Peer
from benchmarks.search_problems import NAMES, Problem, problem_of
from published.known_fronts import BUDGETS

Array = NDArray[np.float64]

SHARES = (0.95, 0.99, 0.995, 0.999, 0.9999)
LOOK = 500
"""Evaluations between two looks whether a search may stop."""


@dataclass(frozen=True)
class Measured:
    """One search of one problem with one seed.

    Attributes:
        problem, search: names; seed: of the search.
        evaluations, seconds: until each of `SHARES` was reached, None where it was not.
        evaluated: designs in all; share: of the exact hypervolume that they reach; front: how many are on the front.
        outside: microseconds a design outside the model.
    """

    problem: str
    search: str
    seed: int
    evaluations: tuple[int | None, ...]
    seconds: tuple[float | None, ...]
    evaluated: int
    share: float
    front: int
    outside: float


def front_of(F: Array, V: Array) -> Array:
    """The feasible designs that no other dominates, (k, m)."""
    F = F[V <= 0]
    return np.ascontiguousarray(F[moocore.is_nondominated(F, keep_weakly=False)]) if len(F) else F


def share_of(problem: Problem, front: Array) -> float:
    """Hypervolume of a front over the exact one's."""
    if not len(front):
        return 0.0
    scaled = (front - problem.ideal) / (problem.reference - problem.ideal)
    return float(moocore.hypervolume(scaled, ref=np.ones(problem.m))) / problem.volume


def first_with(problem: Problem, F: Array, V: Array, share: float) -> int | None:
    """How many of the designs F (n, m), V (n,), in their order, it takes to reach a share; None if all do not.

    More designs never dominate less, so halving finds it.
    """

    def reaches(count: int) -> bool:
        return share_of(problem, front_of(F[:count], V[:count])) >= share

    if not reaches(len(F)):
        return None
    low, high = 0, len(F)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reaches(middle) else (middle, high)
    return high


def measure(problem: Problem, peer: Peer, seed: int, until: float = SHARES[-1]) -> Measured:
    """Runs a search to its end, its stop or a share."""
    most = problem.most if peer.most is None else min(problem.most, peer.most)
    counter = Counter(problem)
    front, seen, looked = np.empty((0, problem.m)), 0, 0
    for _ in peer.method(counter, seed):
        begin = time.process_time()
        done = counter.count >= most
        if counter.count >= looked + LOOK:
            F, V = counter.rows()
            front = front_of(np.concatenate([front, F[seen:]]), np.concatenate([np.zeros(len(front)), V[seen:]]))
            seen = looked = counter.count
            done = done or share_of(problem, front) >= until
        counter.take_out(time.process_time() - begin)
        if done:
            break
    seconds = counter.seconds
    F, V = counter.rows()
    F, V = F[:most], V[:most]
    needed = tuple(first_with(problem, F, V, share) for share in SHARES)
    front = front_of(F, V)
    return Measured(
        problem.name,
        peer.name,
        seed,
        needed,
        tuple(None if count is None else counter.reached_at(count) for count in needed),
        len(F),
        share_of(problem, front),
        len(front),
        1e6 * (seconds - counter.model) / counter.count,
    )


def middle(found: Sequence[float | None], digits: int) -> str:
    """Median and range of what was found; how many were, where not all were."""
    numbers = sorted(number for number in found if number is not None)
    if not numbers:
        return "not reached"
    text = f"{np.median(numbers):,.{digits}f}"
    if len(numbers) > 1:
        text += f" ({numbers[0]:,.{digits}f}-{numbers[-1]:,.{digits}f})"
    return text if len(numbers) == len(found) else f"{text} {len(numbers)}/{len(found)}"


def lines_of(problem: Problem, peers: Sequence[Peer], measured: Sequence[Measured]) -> list[str]:
    """A problem's part of the table."""
    lines = [
        f"{problem.name}: {problem.m} objectives, {problem.d} variables; hypervolume of the front {problem.volume:.6f} "
        f"of its box; stopped after {problem.most:,} evaluations",
        f"{'':16}{'':13}" + "".join(f"{f'to {share}':>28}" for share in SHARES)
        + f"{'share at the end':>26}{'front':>8}{'µs outside':>12}",
    ]  # fmt: skip
    for peer in peers:
        rows = [row for row in measured if row.problem == problem.name and row.search == peer.name]
        if not rows:
            lines.append(f"{peer.name:16}not installed")
            continue
        counts = (middle([row.evaluations[k] for row in rows], 0) for k in range(len(SHARES)))
        seconds = (middle([row.seconds[k] for row in rows], 2) for k in range(len(SHARES)))
        least, greatest = min(row.evaluated for row in rows), max(row.evaluated for row in rows)
        after = f"{greatest:,}" if least == greatest else f"{least:,}-{greatest:,}"
        lines += [
            f"{peer.name:16}{'evaluations':13}" + "".join(f"{text:>28}" for text in counts)
            + f"{middle([row.share for row in rows], 5):>26}{np.median([row.front for row in rows]):8,.0f}"
            + f"{np.median([row.outside for row in rows]):12.1f}",
            f"{'':16}{'seconds':13}" + "".join(f"{text:>28}" for text in seconds)
            + f"{f'after {after}':>26}",
        ]  # fmt: skip
    return lines


def main(words: Sequence[str] | None = None) -> list[Measured]:
    """Measures, prints the table and gives back what was measured.

    Args:
        words: of the command line; those of this process if None.
    """
    parser = argparse.ArgumentParser(description="Searches beside each other: evaluations and seconds to a share.")
    parser.add_argument("--problems", nargs="+", choices=[*NAMES, *BUDGETS], default=NAMES)
    parser.add_argument("--known", action="store_true", help="test problems of the literature")
    parser.add_argument("--searches", nargs="+", choices=[peer.name for peer in PEERS])
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--quick", action="store_true", help="one seed, few evaluations")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args(words)
    peers = [peer for peer in PEERS if options.searches is None or peer.name in options.searches]
    measured: list[Measured] = []
    for name in BUDGETS if options.known else options.problems:
        problem = problem_of(name)
        if options.quick:
            problem = replace(problem, most=1000)
        for peer in peers:
            if peer.installed:
                count = 1 if options.quick else min(options.seeds, peer.seeds or options.seeds)
                measured += [measure(problem, peer, seed) for seed in range(1, count + 1)]
        print("\n".join(lines_of(problem, peers, measured)), end="\n\n", flush=True)
    if options.json is not None:
        options.json.write_text(json.dumps([asdict(row) for row in measured], indent=1) + "\n", encoding="utf-8")
    return measured


if __name__ == "__main__":
    main()
