"""By how much designs miss constraints, and the table of those that miss least."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from ridefront.results.batch import with_columns
from ridefront.results.columns import closest_columns, evaluation_columns, schema_of
from ridefront.results.folder import RunFolder
from ridefront.search import closest, nondominated
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


def closest_table(study: Study, folder: RunFolder, response: str, metadata: Mapping[str, str]) -> pa.Table:
    """The least violating designs, the least violation first.

    Args:
        study: as read and checked.
        folder: with all that was evaluated, none of it feasible.
        response: domain of the front, whose designs are looked at.
        metadata: of the file.
    """
    labels = [item.label for item in study.measures]
    scale = np.array([item.scale for item in study.constraints])
    designs, missing = np.empty(0, dtype=np.int64), np.empty((0, len(scale)))
    for table in folder.tables(["design", "stage", "response", "status", *labels]):
        wanted = pc.and_(pc.not_equal(table["stage"], "present"), pc.equal(table["response"], response))
        asked = table.filter(pc.and_(wanted, pc.equal(table["status"], "ok")))
        values = np.stack([asked[label].to_numpy() for label in labels], axis=1)
        designs = np.concatenate([designs, asked["design"].to_numpy()])
        missing = np.concatenate([missing, misses(study, values)])
        if len(scale):
            best = nondominated(missing / scale, np.zeros(len(missing)))
            designs, missing = designs[best], missing[best]
    chosen = closest(missing / scale, MOST)
    stored = np.sort(chosen)  # numbers rise with rows
    rows = folder.rows(designs[stored], schema_of(evaluation_columns(study), metadata))
    columns: dict[str, Array] = {}
    for j, item in enumerate(study.constraints):
        name = f"{item.measure.label}.missed"
        columns[name] = columns.get(name, 0.0) + missing[stored, j]
    schema = schema_of(closest_columns(study), metadata)
    return with_columns(rows, schema, columns).take(pa.array(np.searchsorted(stored, chosen)))
