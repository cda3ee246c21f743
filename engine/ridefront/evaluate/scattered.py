"""Vehicles built within tolerances: each design many times, and what becomes of its figures.

The draws are the same for every design (common random numbers), so that two designs differ by what they are and not by
luck, and a search meets a smooth function. They are scrambled Sobol' points, a dimension a tolerance, which fill the
tolerances' box far more evenly than random points would.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ridefront.criteria import CRITERIA
from ridefront.evaluate.bench import Bench, Left, Roads
from ridefront.evaluate.outcome import Domain
from ridefront.study.model import Measure, OverScatter, Scatter, Study
from ridefront.vehicle.laws import Array

CHUNK = 2048
"""Built vehicles worked out at once, or one design's where these are more."""

SPREAD = (0.05, 0.95)
"""Shares of the built vehicles between which a figure's spread lies."""

_STREAM = 0x5CA77E2  # a spawn key that no road's stream has: theirs begin with a number below ten

Reduce = Callable[[Array], Array]
"""Figures of built vehicles (n, samples) to one a design (n,)."""


def factors(scatter: Scatter, seed: int) -> dict[str, Array]:
    """What each quantity of the built vehicles is multiplied by, (samples,) by path, without unit: uniform within
    1 ± tolerance.

    Args:
        scatter: the tolerances.
        seed: the study's.
    """
    from scipy.stats import qmc

    stream = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(_STREAM,))))
    points = qmc.Sobol(len(scatter.tolerances), scramble=True, rng=stream).random(scatter.samples)
    return {
        path: 1 + tolerance * (2 * np.ascontiguousarray(points[:, j]) - 1)
        for j, (path, tolerance) in enumerate(scatter.tolerances.items())
    }


def mean(figures: Array) -> Array:
    """Arithmetic mean of built vehicles' `figures`, (n, samples) to (n,), any unit; summed one after another."""
    total = figures[:, 0]
    for k in range(1, figures.shape[1]):
        total = total + figures[:, k]
    return np.asarray(total / figures.shape[1])


def quantile(figures: Array, share: float) -> Array:
    """The figure below which `share` of the built vehicles lie, (n, samples) to (n,).

    Each of the sorted figures stands in the middle of its own 1/samples, and the line between two is straight: the
    fifth definition of R.J. Hyndman, Y. Fan, The American Statistician 50 (1996) 361-365 (from memory; numpy's
    "hazen"), which suits points that are evenly spread. NaN where one is.
    """
    sorted_ = np.sort(figures, axis=1)
    count = figures.shape[1]
    place = min(max(share * count - 0.5, 0.0), count - 1.0)
    low = int(place)
    high = min(low + 1, count - 1)
    found = sorted_[:, low] + (place - low) * (sorted_[:, high] - sorted_[:, low])
    return np.where(np.isnan(sorted_[:, -1]), np.nan, found)  # NaN is sorted last


def reduction(measure: Measure) -> Reduce:
    """What a measure makes of the figures of its built vehicles."""
    assert measure.scatter is not None, "the measure is of the design as drawn"
    return _reduction(measure.scatter, measure.worst == "largest")


def _reduction(over: OverScatter, large_is_bad: bool) -> Reduce:
    if over == "mean":
        return mean
    share = over if large_is_bad else 1 - over
    return lambda figures: quantile(figures, share)


def drawn_again(study: Study) -> tuple[Measure, ...]:
    """The measures of a study that are taken over its built vehicles."""
    return tuple(measure for measure in study.measures if measure.scatter is not None)


def counted_by(measures: Sequence[Measure]) -> tuple[int, ...]:
    """Conditions that some of the measures count."""
    riding = [item for item in measures if CRITERIA[item.criterion].kind == "condition"]
    return tuple(sorted({c for item in riding for c in item.conditions}))


class DrawnBench(Bench):
    """A bench of designs as drawn, which builds them within tolerances when a measure first asks for that."""

    def __init__(self, roads: Roads, X: Array, wanted: Sequence[int], domain: Domain, *, backrest: bool) -> None:
        super().__init__(roads, X, wanted, domain, backrest=backrest)
        self._built: tuple[dict[str, tuple[Array, Left]], NDArray[np.int8]] | None = None

    def measure(self, measure: Measure) -> tuple[Array, Left]:
        """One measure (n,), SI, as `Bench.measure`; over the vehicles built of each design where it says so."""
        return super().measure(measure) if measure.scatter is None else self._over_scatter()[0][measure.label]

    def outcome(self, figures: Mapping[str, Array], counted: Sequence[int]) -> NDArray[np.int8]:
        """What became of each design, (n,): as drawn or, where that rides, of the first vehicle built of it that has no
        figures.

        Args:
            figures: of the measures by label, (n,) each, SI.
            counted: conditions that count.
        """
        drawn = [figures[item.label] for item in self.measures if item.scatter is None]
        status = self.status(drawn, counted)
        if any(item.scatter is not None for item in self.measures):
            status = np.where(status == 0, self._over_scatter()[1], status)
        return status

    def _over_scatter(self) -> tuple[dict[str, tuple[Array, Left]], NDArray[np.int8]]:
        if self._built is None:
            measures = drawn_again(self.study)
            reduces = {item.label: [reduction(item)] for item in measures}
            found, status = over_scatter(self.roads, self.X, self.domain, measures, reduces)
            self._built = {label: each[0] for label, each in found.items()}, status
        return self._built


def over_scatter(
    roads: Roads, X: Array, domain: Domain, measures: Sequence[Measure], reduces: Mapping[str, Sequence[Reduce]]
) -> tuple[dict[str, list[tuple[Array, Left]]], NDArray[np.int8]]:
    """Measures of designs over their built vehicles.

    Args:
        roads: the study, which has tolerances, and its roads.
        X: (n, d), in the units of the study's variables.
        domain: of rides on random roads.
        measures: worked out for every built vehicle as if it were a design as drawn.
        reduces: by label of a measure, what is made of it.

    Returns:
        By label, what each reduction makes of it, (n,), SI, and that with each realisation of a road left out; and the
        status of each design, (n,): of the first of its vehicles that has no figures, else 0.
    """
    assert roads.study.scatter is not None, "the study has no tolerances"
    draws = factors(roads.study.scatter, roads.study.seed)
    samples = roads.study.scatter.samples
    size = max(1, CHUNK // samples)
    parts: list[dict[str, list[tuple[Array, Left]]]] = []
    status = []
    for start in range(0, max(len(X), 1), size):
        part = X[start : start + size]
        bench = bench_of_built(roads, part, draws, domain, measures)
        shape = (len(part), samples)
        figures = {item.label: bench.measure(item) for item in measures}
        parts.append(
            {label: [_reduced(reduce, *figures[label], shape) for reduce in each] for label, each in reduces.items()}
        )
        status.append(first_failure(bench.status((f for f, _ in figures.values()), bench.wanted).reshape(shape)))
    joined = {
        label: [_joined([part[label][k] for part in parts]) for k in range(len(each))]
        for label, each in reduces.items()
    }
    return joined, np.concatenate(status)


def bench_of_built(
    roads: Roads, X: Array, draws: Mapping[str, Array], domain: Domain, measures: Sequence[Measure]
) -> Bench:
    """A bench of the vehicles built of designs X (n, d), those of a design side by side.

    Args:
        roads, X, domain, measures: as in `over_scatter`.
        draws: (samples,) by path, in shares of the design's own, as `factors` gives them.
    """
    n, samples = len(X), len(next(iter(draws.values())))
    built = {path: np.tile(factor, n) for path, factor in draws.items()}
    backrest = any(measure.criterion == "comfort_total" for measure in measures)
    wanted = counted_by(measures)
    copies = np.repeat(X, samples, axis=0)
    return Bench(roads, copies, wanted, domain, backrest=backrest, measures=measures, built=built)


def first_failure(status: NDArray[np.int8]) -> NDArray[np.int8]:
    """`status` (n, samples) to (n,): that of the first vehicle that has no figures; 0 where all have."""
    first = np.argmax(status != 0, axis=1)
    return np.asarray(status[np.arange(len(status)), first])


def as_drawn(measure: Measure) -> Measure:
    """The same measure of one vehicle."""
    return replace(measure, scatter=None)


def _reduced(reduce: Reduce, figure: Array, left: Left, shape: tuple[int, int]) -> tuple[Array, Left]:
    return reduce(figure.reshape(shape)), {
        road: [reduce(each.reshape(shape)) for each in figures] for road, figures in left.items()
    }


def _joined(parts: Sequence[tuple[Array, Left]]) -> tuple[Array, Left]:
    if len(parts) == 1:
        return parts[0]
    first = parts[0][1]
    left = {
        road: [np.concatenate([part[1][road][k] for part in parts]) for k in range(len(figures))]
        for road, figures in first.items()
    }
    return np.concatenate([part[0] for part in parts]), left


def spread(roads: Roads, X: Array, domain: Domain, measures: Sequence[Measure]) -> Array:
    """How far figures of designs spread over their built vehicles.

    Args:
        roads, X, domain: as in `over_scatter`.
        measures: in whose units the figures are; each is taken of every built vehicle by itself.

    Returns:
        The figures at both shares of `SPREAD`, (n, measures, 2); NaN where a built vehicle has none.
    """
    ends = [partial(quantile, share=share) for share in SPREAD]
    with np.errstate(all="ignore"):
        found, status = over_scatter(
            roads, X, domain, [as_drawn(item) for item in measures], {item.label: ends for item in measures}
        )
        values = np.stack(
            [np.stack([figure / item.factor for figure, _ in found[item.label]], axis=1) for item in measures], axis=1
        )
    values[status != 0] = np.nan
    return values
