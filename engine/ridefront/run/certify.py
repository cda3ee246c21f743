"""What is known of a front beyond its figures: how far each design is from where nothing is better in all objectives,
what holds it there, and what moves its figures.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from ridefront.evaluate import Domain
from ridefront.evaluate.evaluator import CHUNK
from ridefront.results.batch import numbers
from ridefront.results.columns import GRADIENTS, HELD_BY, RESIDUAL, schema_of
from ridefront.results.words import measure, measured_in, number, quantity
from ridefront.run.anatomy import anatomy, measures_made, smooth, study_parts
from ridefront.run.workers import PART, Workers
from ridefront.search import branches
from ridefront.search.gradients import continuous, derivatives, neighbours
from ridefront.search.residual import Held, held
from ridefront.study.model import Array, Study
from ridefront.study.space import decode, encode, levels

HUNDREDTH = 0.01
"""Of a variable's range: what gradients are stored for."""


@dataclass(frozen=True)
class Certified:
    """What is known of the n designs of a front.

    Attributes:
        columns: residual (n,), NaN where there is none, and held_by, n texts, by name.
        gradients: (n, k, d), change of each of the study's measures for a hundredth of a variable's range; NaN where
            there is none.
        evaluations: how many designs were worked out for it.
    """

    columns: Mapping[str, Array | tuple[str | None, ...]]
    gradients: Array
    evaluations: int


def certify(study: Study, domain: Domain, X: Array, pool: Workers) -> Certified:
    """Works out the neighbours of a front's designs and takes derivatives from them.

    Two neighbours a continuous variable where nothing is driven, one where something is.

    Args:
        study: as read and checked.
        domain: of the front.
        X: (n, d), n at least 1, in the variables' units.
        pool: workers of the study.
    """
    driven = bool(study.driven) or domain == "time-domain"
    U, stepped = encode(study, X), levels(study)
    around = neighbours(U, stepped, paired=not driven)
    n, q, d = around.shape
    size = (PART if driven else CHUNK) * pool.count
    P = _parts(pool, X, domain, size)
    beside = _parts(pool, decode(study, around.reshape(n * q, d)), domain, size).reshape(n, q, P.shape[1])
    D = derivatives(U, P, around, beside, stepped)
    sloping = smooth(study, domain)
    found = held(anatomy(study), U, P, D, stepped, sloping)
    D[:, :, ~sloping] = np.nan
    return Certified(
        {
            RESIDUAL.name: np.array([each.residual for each in found]),
            HELD_BY.name: tuple(
                None if np.isnan(each.residual) else held_words(study, each, u)
                for each, u in zip(found, U, strict=True)
            ),
        },
        HUNDREDTH * _by_measure(study, P, D),
        n * (1 + q),
    )


def held_words(study: Study, found: Held, u: Array) -> str:
    """What holds a design u (d,), in [0, 1], things apart by semicolons; empty for nothing. A quantity with steps or
    choices is said to be at the limit of its range where it is; else it stands last, in brackets: it is not looked at.
    """
    words = [f"{quantity(study.variables[j].path)} at its {side} limit" for j, side in found.bounds]
    for constraint in (study.constraints[k] for k in found.limits):
        side = "least" if constraint.kind == "at_least" else "most"
        limit = f"{number(constraint.limit)} {measured_in(constraint.measure)}".rstrip()
        words.append(f"{measure(constraint.measure.label)} at {side} {limit}")
    parts = study_parts(study)
    for i, columns in found.alike:
        names = _distinct([(parts[k].place, parts[k].condition) for k in columns])
        words.append(f"{measure(study.objectives[i].measure.label)}: {' and '.join(names)} alike")
    steps = [(item, min(int(u[j] * len(item.levels)), len(item.levels) - 1)) for j, item in enumerate(study.variables)]
    for item, code in steps:
        if item.levels and code in (0, len(item.levels) - 1):
            words.append(f"{quantity(item.path)} at its {'upper' if code else 'lower'} limit")
    words += [
        f"({quantity(item.path)} held at its step)"
        for item, code in steps
        if item.levels and 0 < code < len(item.levels) - 1
    ]
    return "; ".join(words)


def _distinct(names: list[tuple[str, str]]) -> list[str]:
    """Places, or conditions, or both: whatever sets parts apart."""
    places, conditions = [place for place, _ in names], [condition for _, condition in names]
    if len(set(places)) > 1:
        return [place.replace("_", " ") for place in dict.fromkeys(places)]
    return list(dict.fromkeys(conditions))


def gradients_table(
    study: Study, designs: NDArray[np.int64], found: Certified | None, metadata: Mapping[str, str]
) -> pa.Table:
    """front_gradients.parquet: a row for each front design, measure and continuous variable.

    Args:
        study: as read and checked.
        designs: (n,), numbers of the front's designs.
        found: of these; None before a run is done.
        metadata: of the file.
    """
    schema = schema_of(GRADIENTS, metadata)
    if found is None:
        return schema.empty_table()
    free = continuous(levels(study))
    n, k, d = len(designs), len(study.measures), len(free)

    def repeated(words: list[str], each: int, times: int) -> pa.Array:
        codes = np.tile(np.repeat(np.arange(len(words), dtype=np.int32), each), times)
        return pa.DictionaryArray.from_arrays(pa.array(codes), pa.array(words, pa.string()))

    units = list(dict.fromkeys(item.unit for item in study.measures))
    of_unit = np.tile(np.repeat([units.index(item.unit) for item in study.measures], d), n).astype(np.int32)
    columns = [
        pa.array(np.repeat(designs, k * d)),
        repeated([item.label for item in study.measures], d, n),
        repeated([study.variables[j].path for j in free], 1, n * k),
        numbers(found.gradients[:, :, free].reshape(-1)),
        pa.DictionaryArray.from_arrays(pa.array(of_unit), pa.array(units, pa.string())),
    ]
    return pa.Table.from_arrays(columns, schema=schema)


def _parts(pool: Workers, X: Array, domain: Domain, size: int) -> Array:
    """P of designs, so many at a time, for which an interrupt waits."""
    return np.concatenate(
        [pool.evaluate_with_parts(X[start : start + size], domain)[1] for start in range(0, max(len(X), 1), size)]
    )


def _by_measure(study: Study, P: Array, D: Array) -> Array:
    """Derivatives of the measures, (n, k, d), of parts P (n, parts) with derivatives D (n, d, parts); at a kink those
    of the part that is worst.
    """
    found = np.full((len(P), len(study.measures), D.shape[1]), np.nan)
    for k, made in enumerate(measures_made(study)):
        for i in np.flatnonzero(np.isfinite(P).all(axis=1)):
            row = branches(made, P[i], 0.0, 1)[0]
            looked_at = np.flatnonzero(row)
            found[i, k] = D[i][:, looked_at] @ row[looked_at]
    return found
