"""Tables of designs that were handed in: objectives and constraints, or every criterion piece by piece."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from ridefront.errors import CallError
from ridefront.evaluate import STATUS, Evaluator
from ridefront.results.batch import numbers, pieces_table
from ridefront.results.columns import AFTER, BEFORE, WORDS, Column, evaluation_columns, schema_of
from ridefront.results.designs import Designs
from ridefront.results.sampling import realisations, sampled_columns
from ridefront.results.tables import write_bytes, write_table
from ridefront.study.model import Study

_KEPT_BEFORE = ("design", "response", "realisations")


def given_columns(study: Study) -> tuple[Column, ...]:
    """Columns of `figures_of`: those of evaluations, less what only a search knows."""
    left_out = {column.name for column in BEFORE} - set(_KEPT_BEFORE)
    return tuple(column for column in evaluation_columns(study) if column.name not in left_out)


def figures_of(evaluator: Evaluator, designs: Designs) -> pa.Table:
    """Objectives and constraints of designs, a row a design, in the study's units and worked out as its front is; null
    where a design failed.
    """
    study = evaluator.study
    found = evaluator.evaluate(designs.X)
    n, errors = len(designs.X), sampled_columns(study)
    columns = [
        pa.array(designs.numbers),
        pa.array([evaluator.domain] * n, WORDS),
        pa.array([realisations(study, evaluator.domain)] * n, pa.int32()),
        *(numbers(column) for column in designs.X.T),
        *(numbers(column) for column in found.values.T),
        *(numbers(found.se[:, k]) for k in errors),
        pa.array(np.equal(found.violation, 0.0)),
        numbers(found.violation),
        pa.array([STATUS[code] for code in found.status], WORDS),
    ]
    assert len(columns) == len(_KEPT_BEFORE) + designs.X.shape[1] + found.values.shape[1] + len(errors) + len(AFTER)
    return pa.Table.from_arrays(columns, schema=schema_of(given_columns(study), {"study": study.title}))


def pieces_of(evaluator: Evaluator, designs: Designs) -> pa.Table:
    """Every criterion that applies, of designs, at every place in every condition: long, SI; columns as `PIECES`."""
    return pieces_table(designs.numbers, evaluator.pieces(designs.X), {"study": evaluator.study.title})


def write_given(table: pa.Table, path: Path) -> None:
    """Write a table as .csv or .parquet, by way of a temporary name.

    Raises:
        CallError: the path ends in neither.
    """
    if path.suffix == ".parquet":
        write_table(path, table)
    elif path.suffix == ".csv":
        write_bytes(path, _csv(table))
    else:
        raise CallError(f"{path}: allowed: a file that ends in .csv or .parquet")


def _csv(table: pa.Table) -> bytes:
    import pyarrow.csv

    plain: list[Any] = [
        column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column for column in table.columns
    ]
    sink = pa.BufferOutputStream()
    pyarrow.csv.write_csv(pa.Table.from_arrays(plain, names=table.column_names), sink)
    written: bytes = sink.getvalue().to_pybytes()
    return written
