"""What moves what over the whole design space, worked out when a run ends.

How many designs that takes is fixed by the study, never by how fast they come out. Figures that the frequency domain
has are worked out there whatever the study's response, since it is so much cheaper; the others are driven, over fewer
designs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from ridefront.criteria import CRITERIA
from ridefront.evaluate import AT_REST, CHUNK, Domain
from ridefront.results.columns import SENSITIVITY, schema_of
from ridefront.results.sampling import domains, undriven
from ridefront.run.closing import restricted
from ridefront.run.workers import PART, Workers
from ridefront.search import Indices, indices, moves_sample
from ridefront.study.model import Array, Measure, Study
from ridefront.study.space import decode, levels

MOST_ROWS = 1024
"""Rows of the sample in the frequency domain: intervals are then ±0.05 on average."""

FEWEST_LINEAR = 64
FEWEST_DRIVEN = 32
DRIVEN_SHARE = 0.1
"""Of the search's designs, how many more may be driven."""


@dataclass(frozen=True)
class Moved:
    """Sobol' indices of some measures.

    Attributes:
        measures: k of them; response: how each was worked out.
        found: their indices, for the study's variables.
        designs: how many were evaluated.
    """

    measures: tuple[Measure, ...]
    response: tuple[str, ...]
    found: Indices
    designs: int


def whole_space(study: Study, pool: Workers) -> tuple[Moved, ...]:
    """Sobol' indices of every measure of a study for every variable.

    Args:
        study: as read and checked.
        pool: workers of the study, whose step is taken for what must be driven.
    """
    linear = undriven(study)
    driven = tuple(item for item in study.measures if item not in linear)
    found = []
    if linear:
        with pool.beside(restricted(study, linear)) as workers:
            found.append(_moved(workers, study, linear, "frequency-domain", rows_linear(study), CHUNK))
    if driven:
        with pool.beside(restricted(study, driven), step=pool.step) as workers:
            found.append(_moved(workers, study, driven, domains(study)[-1], rows_driven(study), PART * pool.count))
    return tuple(found)


def sensitivity_table(study: Study, moved: Sequence[Moved], metadata: Mapping[str, str]) -> pa.Table:
    """Indices as sensitivity.parquet has them: a row a measure, kind and variable, measures in the study's order.

    Args:
        study: whose measures and variables they are.
        moved: as `whole_space` gives them; none after an interrupt.
        metadata: of the file.
    """
    rows: dict[str, list[tuple[str | int | float, ...]]] = {item.label: [] for item in study.measures}
    for each in moved:
        found, designs = each.found, each.found.rows * (len(study.variables) + 2)
        for k, (item, response) in enumerate(zip(each.measures, each.response, strict=True)):
            for kind, triple in (
                ("first-order", (found.first, found.first_low, found.first_high)),
                ("total", (found.total, found.total_low, found.total_high)),
            ):
                for j, variable in enumerate(study.variables):
                    figures = tuple(float(part[k, j]) for part in triple)
                    rows[item.label].append(
                        (item.label, variable.path, kind, response, *figures, designs, found.dropped)
                    )
    schema = schema_of(SENSITIVITY, metadata)
    columns = list(zip(*(row for of_one in rows.values() for row in of_one), strict=True)) or [()] * len(schema)
    return pa.Table.from_arrays(
        [pa.array(column, field.type, from_pandas=True) for column, field in zip(columns, schema, strict=True)],
        schema=schema,
    )


def rows_linear(study: Study) -> int:
    """Rows of the sample in the frequency domain: not more designs than the search has, within limits."""
    return min(MOST_ROWS, max(FEWEST_LINEAR, _power(_planned(study) / (len(study.variables) + 2))))


def rows_driven(study: Study) -> int:
    """Rows of the sample that is driven."""
    return max(FEWEST_DRIVEN, _power(DRIVEN_SHARE * _planned(study) / (len(study.variables) + 2)))


def _power(most: float) -> int:
    """The largest power of two that is not more, 1 at least."""
    return int(2 ** max(0, int(np.floor(np.log2(most))))) if most >= 1 else 1


def _planned(study: Study) -> int:
    """Designs that the search asks for at most."""
    return sum(study.planned)


def _moved(workers: Workers, study: Study, measures: Sequence[Measure], domain: Domain, rows: int, size: int) -> Moved:
    """The indices of some measures, from a sample of so many rows, worked out so many designs at a time, for which an
    interrupt waits.
    """
    X = decode(study, moves_sample(levels(study), rows, study.seed))
    values: list[Array] = [workers.evaluate(X[start : start + size], domain).values for start in range(0, len(X), size)]
    response = tuple(domain if CRITERIA[item.criterion].kind == "condition" else AT_REST for item in measures)
    return Moved(tuple(measures), response, indices(np.concatenate(values), len(study.variables), study.seed), len(X))
