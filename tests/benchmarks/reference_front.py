"""The front of studies/estate.toml by brute force: a million designs, by a search that shares nothing with ours.

    python tests/benchmarks/reference_front.py [--designs 1000000] [--sample 131072] [--output FILE]

A Sobol' sample, then rounds of designs drawn around some of what is on the front by then: in each cell of a grid over
two of the objectives, which is laid anew each round, the best in the third. Half of the designs are such a parent and a
random step, of any length from the whole range down to 1e-5 of it; half lie on the line through a parent and one of
its neighbours, between and beyond them. Nothing is ever thrown away but what is dominated, so the front grows to some
ten thousands of designs. There is no population, no rank, no crowding, no crossover and no gradient; ranking and
hypervolume are moocore's.

The hypervolume of a finite set falls short of the continuous front's: of N designs strewn over a front in three
objectives by about N^(-1/2). The limit is estimated from random halves of the set (`limit_of`), and how far that can be
trusted from halves of halves. What is stored: box, hypervolumes, limit, and some thousands of the designs that hold
most of the volume, with their variables on the unit cube.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

import moocore
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.stats import qmc

sys.path.insert(0, str(Path(__file__).parents[1]))  # where this file is run by hand

from benchmarks.search_problems import ESTATE_FRONT, estate_figures

Array = NDArray[np.float64]
Evaluate = Callable[[Array], tuple[Array, Array]]

ROUND = 8192
"""Designs between two looks at the front."""
NEIGHBOURS = 12
CELLS = 40
"""Of the grid, along each of its two objectives."""
MARGIN = 0.1
"""Of the front's span, between its worst figures and the reference point."""
KEEP = 2500
"""Designs that are stored."""


def share_of_box(F: Array, ideal: Array, reference: Array) -> float:
    """Hypervolume of F (n, m) over the volume of its box."""
    return float(moocore.hypervolume((F - ideal) / (reference - ideal), ref=np.ones(F.shape[1])))


def best_in_cells(F: Array, rng: np.random.Generator) -> NDArray[np.intp]:
    """Rows of F (n, 3): of each cell of a grid over two objectives, at random, the one least in the third."""
    scaled = (F - F.min(axis=0)) / np.ptp(F, axis=0)
    first, second, third = rng.permutation(3)
    cells = np.floor(CELLS * scaled[:, [first, second]] + rng.random(2)).astype(np.int64)
    order = np.lexsort((scaled[:, third], cells[:, 1], cells[:, 0]))
    begins = np.r_[True, (np.diff(cells[order], axis=0) != 0).any(axis=1)]
    return np.asarray(order[begins])


def around(U: Array, F: Array, count: int, rng: np.random.Generator) -> Array:
    """Designs near those on a front: half by random steps, half on lines through neighbours.

    Args:
        U: (n, d), of the front, in [0, 1]; F: (n, m), their objectives, for who is whose neighbour.
        count: how many.
        rng: where the randomness comes from.

    Returns:
        (count, d), in [0, 1].
    """
    rows = best_in_cells(F, rng)
    U, F = U[rows], F[rows]
    n, d = U.shape
    member = rng.integers(n, size=count)
    length = 10.0 ** rng.uniform(-5, 0, (count, 1))
    moved = rng.random((count, d)) < 0.6
    step = np.where(moved, length * rng.normal(size=(count, d)) * 0.3, 0.0)
    half = count // 2
    if n > NEIGHBOURS:
        scaled = (F - F.min(axis=0)) / np.ptp(F, axis=0)
        near = np.asarray(cKDTree(scaled).query(scaled[member[:half]], k=NEIGHBOURS + 1)[1])
        other = near[np.arange(half), rng.integers(1, NEIGHBOURS + 1, half)]
        along = rng.normal(0.5, 0.7, (half, 1))
        step[:half] = along * (U[other] - U[member[:half]]) + 0.02 * step[:half]
    return np.clip(U[member] + step, 0.0, 1.0)


def brute_force(
    evaluate: Evaluate, d: int, designs: int, sample: int, seed: int, tell: Callable[[int, Array], None]
) -> tuple[Array, Array]:
    """The front of everything tried.

    Args:
        evaluate: U (n, d) -> F (n, m), V (n,); V = 0 is feasible.
        d: number of variables.
        designs: how many are tried in all; sample: of these, by Sobol'.
        seed: of everything random.
        tell: is told after each round how many were tried, and the front.

    Returns:
        U (n, d) and F (n, m) of the front.
    """
    rng = np.random.default_rng(seed)
    tried = 0
    kept_U: Array | None = None
    kept_F: Array | None = None
    sobol = qmc.Sobol(d, rng=rng)
    while tried < designs:
        if tried < sample or kept_U is None or kept_F is None:
            U = sobol.random(ROUND)
        else:
            U = around(kept_U, kept_F, ROUND, rng)
        F, V = evaluate(U)
        tried += len(U)
        U, F = U[V <= 0], F[V <= 0]
        if kept_U is not None and kept_F is not None:
            U, F = np.concatenate([kept_U, U]), np.concatenate([kept_F, F])
        best = moocore.is_nondominated(F, keep_weakly=False)
        kept_U, kept_F = U[best], F[best]
        tell(tried, kept_F)
    assert kept_U is not None
    assert kept_F is not None
    return kept_U, kept_F


def limit_of(F: Array, ideal: Array, reference: Array, seed: int, draws: int = 8) -> tuple[float, float, list[float]]:
    """The hypervolume that a front would have if it were drawn ever more finely.

    With the shortfall as N^(-1/2), H(N) and H(N/2) give H(∞) = H(N) + (H(N) - H(N/2)) / (√2 - 1), and so do H(N/2) and
    H(N/4); halves and quarters are random subsets, several of them averaged.

    Args:
        F: (n, 3), a front; ideal, reference: (3,), its box.
        seed: of the subsets; draws: how many of each size.

    Returns:
        The limit from the set and its halves; from halves and quarters; H(N), H(N/2), H(N/4), as shares of the box.
    """
    rng = np.random.default_rng(seed)
    volumes = [share_of_box(F, ideal, reference)]
    for part in (2, 4):
        found = [
            share_of_box(F[rng.choice(len(F), len(F) // part, replace=False)], ideal, reference) for _ in range(draws)
        ]
        volumes.append(float(np.mean(found)))
    first, second = (volumes[k] + (volumes[k] - volumes[k + 1]) / (np.sqrt(2) - 1) for k in (0, 1))
    return float(first), float(second), volumes


def thinned(F: Array, count: int) -> NDArray[np.intp]:
    """Rows of F (n, m) spread evenly: again and again the farthest from those picked, over the front's range."""
    scaled = (F - F.min(axis=0)) / np.ptp(F, axis=0)
    picked = [int(k) for k in scaled.argmin(axis=0)]
    distance = np.full(len(F), np.inf)
    for k in picked:
        distance = np.minimum(distance, np.square(scaled - scaled[k]).sum(axis=1))
    while len(picked) < min(count, len(F)):
        picked.append(int(distance.argmax()))
        distance = np.minimum(distance, np.square(scaled - scaled[picked[-1]]).sum(axis=1))
    return np.unique(np.array(picked))


def main() -> None:
    """Works the front out (some eight minutes) and stores it."""
    parser = argparse.ArgumentParser(description="The front of the estate by brute force.")
    parser.add_argument("--designs", type=int, default=1_000_000)
    parser.add_argument("--sample", type=int, default=131_072)
    parser.add_argument("--seed", type=int, default=2024)
    parser.add_argument("--whole", type=Path, help="store the whole front here too, as .npz")
    parser.add_argument("--output", type=Path, default=ESTATE_FRONT)
    options = parser.parse_args()
    started = time.perf_counter()

    def tell(tried: int, F: Array) -> None:
        span = F.max(axis=0) - F.min(axis=0)
        volume = share_of_box(F, F.min(axis=0), F.max(axis=0) + MARGIN * span)
        print(f"{tried:9d} designs, {len(F):7d} on the front, hypervolume {volume:.6f}, "
              f"{time.perf_counter() - started:6.0f} s", flush=True)  # fmt: skip

    evaluate, d = estate_figures()
    U, F = brute_force(evaluate, d, options.designs, options.sample, options.seed, tell)
    if options.whole is not None:
        np.savez_compressed(options.whole, U=U, F=F)
    print(store(options.output, U, F, -(-options.designs // ROUND) * ROUND, options.seed))


def store(file: Path, U: Array, F: Array, designs: int, seed: int) -> str:
    """Writes the thinned front with what is known of the whole one; returns the head of the file."""
    ideal, nadir = F.min(axis=0), F.max(axis=0)
    reference = nadir + MARGIN * (nadir - ideal)
    limit, before, volumes = limit_of(F, ideal, reference, seed)
    rows = thinned(F, KEEP)
    kept = share_of_box(F[rows], ideal, reference)
    lines = [
        "The front of studies/estate.toml by brute force, made by tests/benchmarks/reference_front.py.",
        f"designs tried: {designs}; on the front: {len(F)}; stored: {len(rows)}, evenly spread",
        "objectives to be made small, as the study's units have them: comfort, dynamic_load_coefficient, -bump_reserve",
        "hypervolumes are shares of the box from ideal to reference; of halves and quarters: means of random subsets",
        f"ideal: {' '.join(repr(float(f)) for f in ideal)}",
        f"reference: {' '.join(repr(float(f)) for f in reference)}",
        f"volume: {volumes[0]:.7f}",
        f"volume of halves: {volumes[1]:.7f}",
        f"volume of quarters: {volumes[2]:.7f}",
        f"volume of stored: {kept:.7f}",
        f"limit: {limit:.7f}",
        f"limit from halves and quarters: {before:.7f}",
    ]
    names = ["comfort", "dynamic_load_coefficient", "minus_bump_reserve", *(f"u{j + 1}" for j in range(U.shape[1]))]
    head = "\n".join(f"# {line}" for line in lines)
    body = "\n".join(
        ",".join([*(f"{f:.9g}" for f in F[k]), *(f"{u:.7f}" for u in U[k])]) for k in rows[np.argsort(F[rows, 0])]
    )
    file.write_text(f"{head}\n{','.join(names)}\n{body}\n", encoding="utf-8")
    return head


if __name__ == "__main__":
    main()
