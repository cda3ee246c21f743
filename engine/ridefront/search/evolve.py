"""NSGA-II on plain arrays (Deb, Pratap, Agarwal, Meyarivan, IEEE Trans. Evol. Comput. 6 (2002) 182-197).

Ranking is moocore's, crossover and mutation are pymoo's; selection, survival and the order of things are here.
Crossover is simulated binary (Deb, Agrawal, Complex Systems 9 (1995) 115-148), mutation polynomial (Deb, Goyal,
Computer Science and Informatics 26 (1996) 30-45; both from memory).
Constraints come first everywhere: a feasible design beats an infeasible one, of two infeasible ones the smaller
violation wins, and only feasible designs are compared by their objectives.
"""

from __future__ import annotations

from dataclasses import dataclass

import moocore
import numpy as np
from numpy.typing import NDArray
from pymoo.operators.crossover.sbx import cross_sbx
from pymoo.operators.mutation.pm import mut_pm

from ridefront.search.asked import Asked, snap
from ridefront.search.niche import MANY, fill_up

Array = NDArray[np.float64]
Ranks = NDArray[np.int64]

CROSSOVER_INDEX = 15.0  # distribution index of simulated binary crossover: larger keeps children nearer to parents
CROSSOVER_SHARE = 0.5  # of the variables of a pair that are crossed
MUTATION_INDEX = 20.0  # distribution index of polynomial mutation; each variable mutates with probability 1 / d
SPARE_SHARE = 0.04  # children bred beyond the number wanted, to replace those that are no news without another mating
MATINGS = 4  # before random designs fill the rest


@dataclass(frozen=True)
class Population:
    """Designs that may become parents, best first.

    Attributes:
        U: (n, d), shares of the ranges, snapped.
        F: (n, m), finite, each objective in a unit of its own, to be minimised.
        V: (n,), violation, without unit; 0 is feasible.
        crowding: (n,), as `crowding` gives it: larger is lonelier, infinity at an end.
    """

    U: Array
    F: Array
    V: Array
    crowding: Array


def ranks(F: Array, V: Array) -> Ranks:
    """Non-dominated sorting under constraints.

    Args:
        F: (n, m), finite, each objective in a unit of its own, to be minimised.
        V: (n,), violation, without unit; 0 is feasible.

    Returns:
        (n,): feasible designs by the front that they belong to, from 0; then infeasible ones by violation, equal ones
        alike.
    """
    feasible = V <= 0
    if feasible.all():
        return np.asarray(moocore.pareto_rank(F), dtype=np.int64)
    rank = np.empty(len(F), dtype=np.int64)
    best = F[feasible]
    rank[feasible] = moocore.pareto_rank(best)
    worst = rank[feasible].max() + 1 if len(best) else 0
    rank[~feasible] = worst + np.unique(V[~feasible], return_inverse=True)[1]
    return rank


def crowding(F: Array, rank: Ranks) -> Array:
    """Crowding distance within each rank: over objectives, the sum of the gap between neighbours over the rank's span.

    Args:
        F: (n, m), each objective in a unit of its own.
        rank: (n,), as `ranks` gives it.

    Returns:
        (n,): inf at a rank's ends in any objective; an objective that is constant over a rank adds nothing but these
        ends.
    """
    n = len(F)
    distance = np.zeros(n)
    by_rank = np.argsort(rank, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(rank[by_rank]) > 0])
    ends = np.r_[starts[1:], n] - 1
    sizes = ends - starts + 1
    for f in F.T:
        order = np.lexsort((f, rank))
        sorted_f = f[order]
        span = sorted_f[ends] - sorted_f[starts]
        span[span == 0] = 1.0
        gap = np.zeros(n)
        gap[1:-1] = sorted_f[2:] - sorted_f[:-2]
        gap /= np.repeat(span, sizes)
        gap[starts] = np.inf
        gap[ends] = np.inf
        distance[order] += gap
    return distance


def survivors(U: Array, F: Array, V: Array, size: int) -> Population:
    """The best `size` designs: by rank, and within the last rank that fits in part by crowding; with `MANY` objectives
    or more, where that rank is of feasible designs, by reference directions.

    Args:
        U: (n, d), shares of the ranges.
        F: (n, m), finite, each objective in a unit of its own, to be minimised.
        V: (n,), violation, without unit; 0 is feasible.
        size: how many; fewer where there are fewer.

    Returns:
        Population, best first, what reference directions have picked in the order picked; of equal ones the earlier row
        comes first. Crowding is that among all n, not among the survivors.
    """
    rank = ranks(F, V)
    if len(rank) > size:
        # ranks that will not survive need no crowding
        near = np.flatnonzero(rank <= np.partition(rank, size - 1)[size - 1])
        U, F, V, rank = U[near], F[near], V[near], rank[near]
    distance = crowding(F, rank)
    keep = np.lexsort((-distance, rank))
    if F.shape[1] >= MANY and len(keep) > size and (V[keep[: size + 1]] <= 0).all():
        last = rank[keep[size - 1]]
        sure, candidates = keep[rank[keep] < last], keep[rank[keep] == last]
        keep = np.concatenate([sure, fill_up(F, sure, candidates, size - len(sure), size)])
    keep = keep[:size]
    return Population(U[keep], F[keep], V[keep], distance[keep])


def tournament(population: Population, count: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Binary tournaments: constrained domination decides, then crowding; everyone meets as often as everyone else, but
    for one meeting more or less.

    Domination rather than rank, because rank favours the few designs of a first front that is still small so strongly
    that the population may collapse onto them: on ZDT2, in 60 generations of 100, 12 runs of 60 did so by rank, one by
    domination.

    Args:
        population: who takes part.
        count: how many winners.
        rng: where the randomness comes from.

    Returns:
        (count,): rows of the population; of equals the first drawn wins.
    """
    n = len(population.V)
    rounds = -(-2 * count // n)
    drawn = np.concatenate([rng.permutation(n) for _ in range(rounds)])[: 2 * count]
    first, second = drawn[0::2], drawn[1::2]
    F, V, lonely = population.F, population.V, population.crowding
    both = (V[first] <= 0) & (V[second] <= 0)
    first_covers = both & (F[first] <= F[second]).all(axis=1)
    second_covers = both & (F[second] <= F[first]).all(axis=1)
    first_wins = (V[first] < V[second]) | (first_covers & ~second_covers)
    second_wins = (V[second] < V[first]) | (second_covers & ~first_covers)
    loses = second_wins | (~first_wins & (lonely[second] > lonely[first]))
    return np.where(loses, second, first)


def mate(population: Population, count: int, rng: np.random.Generator) -> Array:
    """Children by simulated binary crossover and polynomial mutation.

    Args:
        population: the parents.
        count: how many children.
        rng: where the randomness comes from.

    Returns:
        (count, d), shares of the ranges, in [0, 1], not snapped.
    """
    pairs = -(-count // 2)
    d = population.U.shape[1]
    low, high = np.zeros(d), np.ones(d)
    parents = population.U[tournament(population, 2 * pairs, rng)].reshape(2, pairs, d)
    children = cross_sbx(
        parents,
        low,
        high,
        np.full((pairs, 1), CROSSOVER_INDEX),
        np.full((pairs, 1), CROSSOVER_SHARE),
        np.full((pairs, 1), 0.5),
        random_state=rng,
    )
    # a spare child is one of the last pairs, so both children of a pair stand side by side
    children = np.ascontiguousarray(children.transpose(1, 0, 2)).reshape(2 * pairs, d)
    mutated: Array = mut_pm(
        children,
        low,
        high,
        np.full(2 * pairs, MUTATION_INDEX),
        np.full(2 * pairs, 1.0 / d),
        at_least_once=False,
        random_state=rng,
    )
    return mutated[:count]


def offspring(population: Population, count: int, asked: Asked, rng: np.random.Generator) -> Array:
    """The next designs to evaluate: children, none asked before; where mating finds nothing new, random ones.

    Args:
        population: the parents.
        count: how many are wanted.
        asked: every design asked so far; the new ones are added to it.
        rng: where the randomness comes from.

    Returns:
        (k, d), shares of the ranges, snapped, all different and new; k < count only where the space holds no more new
        designs.
    """
    found = np.empty((0, population.U.shape[1]))
    for _ in range(MATINGS):
        missing = count - len(found)
        if missing == 0 or len(asked) == asked.size:
            return found
        children = snap(mate(population, missing + 2 + int(SPARE_SHARE * missing), rng), asked.levels)
        found = np.concatenate([found, asked.add_new(children, missing)])
    missing = count - len(found)
    return np.concatenate([found, asked.random(missing, rng)]) if missing else found
