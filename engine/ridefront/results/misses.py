"""By how much designs miss constraints, and the table of those that miss least."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pyarrow as pa

from ridefront.results.batch import Batch, selected_table, with_columns
from ridefront.results.columns import closest_columns, evaluation_columns, schema_of
from ridefront.results.sampling import sampled_columns
from ridefront.search import closest
from ridefront.study.model import Array, Study

MOST = 20
"""Designs in the table."""


def misses(study: Study, values: Array) -> Array:
    """What each limit is missed by, (n, c), in the unit of its measure; 0 where it holds, NaN where a design failed.

    Args:
        study: with c constraints.
        values: (n, k), of the study's measures.
    """
    labels = [item.label for item in study.measures]
    missing = np.empty((len(values), len(study.constraints)))
    for j, item in enumerate(study.constraints):
        figure = values[:, labels.index(item.measure.label)]
        missing[:, j] = np.maximum(item.limit - figure if item.kind == "at_least" else figure - item.limit, 0.0)
    return missing


def closest_table(study: Study, batches: Sequence[Batch], response: str, metadata: Mapping[str, str]) -> pa.Table:
    """The least violating designs, the least violation first: no rows where a design meets all constraints.

    Args:
        study: as read and checked.
        batches: all that was evaluated.
        response: domain of the front, whose designs are looked at.
        metadata: of the file.
    """
    schema = schema_of(closest_columns(study), metadata)
    asked = [batch for batch in batches if batch.asking.stage != "present" and batch.asking.response == response]
    if not asked or any(bool(np.any(batch.feasible)) for batch in asked):
        return schema.empty_table()
    ok = [batch.ok for batch in asked]
    designs = np.concatenate([batch.designs[good] for batch, good in zip(asked, ok, strict=True)])
    missing = misses(study, np.concatenate([batch.values[good] for batch, good in zip(asked, ok, strict=True)]))
    chosen = closest(missing / np.array([item.scale for item in study.constraints]), MOST)
    stored = np.sort(chosen)  # numbers rise with rows
    rows = selected_table(
        asked, designs[stored], schema_of(evaluation_columns(study), metadata), sampled_columns(study)
    )
    columns: dict[str, Array] = {}
    for j, item in enumerate(study.constraints):
        name = f"{item.measure.label}.missed"
        columns[name] = columns.get(name, 0.0) + missing[stored, j]
    return with_columns(rows, schema, columns).take(pa.array(np.searchsorted(stored, chosen)))
