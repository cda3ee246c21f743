"""How sure a front is whose figures carry sampling error: the probability that a design is on it.

Figures are means over realisations of roads that were drawn. Another set would have moved them, all designs together,
because every design meets the same roads. What the long-run figures may be, given those that were found, is drawn many
times, with the same draw for all designs; the share of draws in which a design is feasible and not dominated is its
probability.

A draw moves the figures by Σ_k z_k I_k √(ν/χ²) / √(R ν), with I_k the influence of realisation k of R (its jackknife
pseudo-value less the mean of these), z_k standard normal and χ² with ν degrees of freedom, once for all figures; ν is
R - 1, or less by one for each further ensemble that is put together. So the difference of any two designs in any
objective follows Student's t with ν degrees of freedom about what was found, as it should for a few normal
observations. Resampling the realisations is too narrow with few of them: the variance comes out too small by (R - 1)/R,
with the weights of the Bayesian bootstrap by (R - 1)/(R + 1), and no draw leaves the range of what was observed. Roads
are drawn independently and have a χ² each.

What is drawn is the posterior of the long-run figures under a flat prior. It is right for designs that a search has
selected by its figures if those figures count too: given everything that was driven, how designs were selected tells
nothing more. From roads alone that the search never saw it forgets that all these designs did well before, and calls
good designs doubtful (`tests/search/test_sure.py`).

B. Efron, C. Stein, The jackknife estimate of variance, Annals of Statistics 9 (1981) 586-596; D. B. Rubin, The
Bayesian bootstrap, Annals of Statistics 9 (1981) 130-134; D. B. Rubin, Inference and missing data, Biometrika 63 (1976)
581-592, on selection that can be ignored (all from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import moocore
import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

DRAWS = 400
"""Draws behind a probability: it is known to 0.025 at worst (one standard deviation)."""

_STREAM = 0x5E1F  # a spawn key that neither roads nor stages of a search have: theirs begin with small numbers


@dataclass(frozen=True)
class Uncertain:
    """Figures of n designs, and what each realisation has to do with them.

    Attributes:
        values: (n, k), finite, each figure in a unit of its own.
        influence: (n, k, r), finite, of each realisation on each figure, in its unit, summing to 0 over an ensemble's
            realisations of a road; 0 where it has none.
        road: of which each of the r realisations is, any numbers not negative.
        ensembles: how many were put together, each with as many realisations of a road as any other.

    Raises:
        CallError: shapes that do not match, NaN, infinity, or one realisation of a road in an ensemble.
    """

    values: Array
    influence: Array
    road: tuple[int, ...]
    ensembles: int = 1

    def __post_init__(self) -> None:
        shape = (*self.values.shape, len(self.road))
        if self.values.ndim != 2 or self.influence.shape != shape:
            raise CallError(
                f"figures {self.values.shape}, influence {self.influence.shape} and {len(self.road)} realisations do "
                "not match; allowed: (n, k), (n, k, r) and r"
            )
        if not (np.isfinite(self.values).all() and np.isfinite(self.influence).all()):
            raise CallError("figures or influence have NaN or infinity; allowed: finite figures")
        for road in sorted(set(self.road)):
            if self.road.count(road) < 2 * self.ensembles or self.road.count(road) % self.ensembles:
                raise CallError(
                    f"{self.road.count(road)} realisations of road {road} in {self.ensembles} ensembles; "
                    "allowed: as many in each, two or more"
                )

    def of(self, rows: NDArray[np.int64]) -> Uncertain:
        """Some of the designs: those of the rows (a,), in their order."""
        return Uncertain(self.values[rows], self.influence[rows], self.road, self.ensembles)


@dataclass(frozen=True)
class Wanted:
    """What makes a front of figures.

    Attributes:
        objectives: columns of the figures; signs: 1 where one is to be made small, -1 where large.
        limits: column, 1 for at most or -1 for at least, and the limit, of each constraint.
    """

    objectives: tuple[int, ...]
    signs: tuple[int, ...]
    limits: tuple[tuple[int, int, float], ...] = ()


def uncertain(values: Array, left_out: Array, road: tuple[int, ...]) -> Uncertain:
    """Figures of one ensemble.

    The influence of a realisation is (R - 1) times the mean of a road's left-out figures less its own: of a plain mean,
    what was observed less the mean.

    Args:
        values: (n, k), finite, each figure in a unit of its own.
        left_out: (n, k, r), the same figures, in their units, without each realisation.
        road: of which each of the r realisations is, any numbers not negative.

    Raises:
        CallError: as `Uncertain`.
    """
    influence = np.zeros_like(left_out)
    for each in sorted(set(road)):
        places = [k for k, other in enumerate(road) if other == each]
        mean = left_out[:, :, places[0]]
        for k in places[1:]:
            mean = mean + left_out[:, :, k]
        mean = mean / len(places)
        for k in places:
            influence[:, :, k] = (len(places) - 1) * (mean - left_out[:, :, k])
    return Uncertain(values, influence, road)


def together(parts: Sequence[Uncertain]) -> Uncertain:
    """Figures of the same designs over several ensembles of the same size, which were drawn independently.

    Raises:
        CallError: as `Uncertain`.
    """
    ensembles = sum(part.ensembles for part in parts)
    values = parts[0].values * (parts[0].ensembles / ensembles)
    for part in parts[1:]:
        values = values + part.values * (part.ensembles / ensembles)
    influence = np.concatenate([part.influence for part in parts], axis=2)
    return Uncertain(values, influence, tuple(road for part in parts for road in part.road), ensembles)


def probability(given: Uncertain, wanted: Wanted, seed: int, draws: int = DRAWS) -> Array:
    """Probability of each design to be feasible and not dominated by a feasible one of the others, (n,), a share of 1.

    It does not depend on the order of the designs; of designs with exactly equal objectives none dominates.

    Args:
        given: the designs.
        wanted: objectives and limits.
        seed: the study's, not negative.
        draws: how many.
    """
    kept = np.zeros(len(given.values), dtype=np.int64)
    for _, on in _drawn(given, wanted, seed, draws):
        kept += on
    return kept / draws


def rivals(
    given: Uncertain, wanted: Wanted, rows: NDArray[np.int64], seed: int, draws: int = DRAWS
) -> NDArray[np.bool_]:
    """Which designs, on the front of some draw, dominate the designs asked about in that draw.

    Args:
        given, wanted, seed, draws: as in `probability`, so that the draws are the same.
        rows: (a,), of the designs asked about.

    Returns:
        (a, n), True where one of the n dominates one of those asked about.
    """
    found = np.zeros((len(rows), len(given.values)), dtype=np.bool_)
    for F, on in _drawn(given, wanted, seed, draws):
        beaten, others = np.flatnonzero(~on[rows]), np.flatnonzero(on)
        found[np.ix_(beaten, others)] |= _dominated(F[rows[beaten]], F[others])
    return found


def _dominated(F: Array, others: Array) -> Flags:
    """Whether each of F (n, m) is worse than each of the others (b, m) in something and better in nothing, (n, b)."""
    no_better = np.ones((len(F), len(others)), dtype=np.bool_)
    worse = np.zeros_like(no_better)
    for j in range(F.shape[1]):
        no_better &= F[:, j, np.newaxis] >= others[:, j]
        worse |= F[:, j, np.newaxis] > others[:, j]
    return np.asarray(no_better & worse)


def _drawn(given: Uncertain, wanted: Wanted, seed: int, draws: int) -> Iterator[tuple[Array, Flags]]:
    """Objectives to be minimised (n, m), and who is feasible and not dominated (n,), draw by draw."""
    for index in range(draws):
        values = given.values.copy()
        for k, weight in enumerate(weights(given.road, given.ensembles, seed, index)):
            values += weight * given.influence[:, :, k]
        F = np.stack([sign * values[:, j] for j, sign in zip(wanted.objectives, wanted.signs, strict=True)], axis=1)
        on = np.ones(len(F), dtype=np.bool_)
        for column, side, limit in wanted.limits:
            on &= side * values[:, column] <= side * limit
        if on.any():
            on[on] = moocore.is_nondominated(F[on], keep_weakly=True)
        yield F, on


def weights(road: Sequence[int], ensembles: int, seed: int, index: int) -> Array:
    """What each realisation's influence is multiplied by in one draw, (r,), without unit.

    Args:
        road, ensembles: as in `Uncertain`.
        seed: the study's, not negative.
        index: of the draw, from 0.
    """
    found = np.empty(len(road))
    for each in sorted(set(road)):
        places = [k for k, other in enumerate(road) if other == each]
        count, freedom = len(places), len(places) - ensembles
        stream = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(_STREAM, index, each))))
        scale = np.sqrt(freedom / stream.chisquare(freedom)) / np.sqrt(count * freedom)
        found[places] = scale * stream.standard_normal(count)
    return found
