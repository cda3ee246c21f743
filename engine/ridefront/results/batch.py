"""The rows of one block: arrays for the loop, a table for the disk, and no bit lost between the two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from ridefront.evaluate import STATUS, Evaluation, Pieces
from ridefront.results.columns import BEFORE, PIECES, schema_of
from ridefront.study.model import Array

WHOLE_VEHICLE = "vehicle"
"""Place of pieces that have none: a word, because grouping drops null."""


@dataclass(frozen=True)
class Batch:
    """Designs that were asked and evaluated together.

    Attributes:
        start: number of the first design.
        stage: who asked: ``present`` or a stage of the search.
        generation: of the stage.
        X: (n, d), in the units of the study's variables.
        values: (n, k), of the study's measures in their units; NaN where a design failed.
        violation: (n,), NaN where a design failed.
        status: index into `ridefront.evaluate.STATUS`, (n,).
        seconds: spent on the block.
    """

    start: int
    stage: str
    generation: int
    X: Array
    values: Array
    violation: Array
    status: NDArray[np.int8]
    seconds: float = 0.0

    def __len__(self) -> int:
        return len(self.X)

    @property
    def designs(self) -> NDArray[np.int64]:
        """(n,): the designs' numbers."""
        return np.arange(self.start, self.start + len(self.X), dtype=np.int64)

    @property
    def ok(self) -> NDArray[np.bool_]:
        """(n,): False where a design failed."""
        return np.equal(self.status, 0)

    @property
    def feasible(self) -> NDArray[np.bool_]:
        """(n,): whether all constraints hold."""
        return np.equal(self.violation, 0.0)


def batch_of(start: int, stage: str, generation: int, X: Array, found: Evaluation, seconds: float) -> Batch:
    """A block's designs and what evaluation says of them."""
    return Batch(start, stage, generation, X, found.values, found.violation, found.status, seconds)


def to_table(batch: Batch, schema: pa.Schema, response: str) -> pa.Table:
    """The stored form of a batch: null for every figure that a failed design does not have.

    Args:
        batch: n rows.
        schema: of the evaluations of its study.
        response: of the study.
    """
    n = len(batch)
    columns = [
        pa.array(batch.designs),
        _one_word(batch.stage, n),
        pa.array(np.full(n, batch.generation, dtype=np.int32)),
        _one_word(response, n),
        pa.nulls(n, pa.int32()),
        *(numbers(column) for column in batch.X.T),
        *(numbers(column) for column in batch.values.T),
        pa.array(batch.feasible),
        numbers(batch.violation),
        pa.DictionaryArray.from_arrays(pa.array(batch.status.astype(np.int32)), pa.array(STATUS)),
    ]
    return pa.Table.from_arrays(columns, schema=schema)


def from_table(table: pa.Table, variables: int, measures: int, seconds: float) -> Batch:
    """The batch that `to_table` stored.

    Args:
        table: at least one row, of the schema of its study's evaluations.
        variables: how many of them; measures: likewise.
        seconds: spent on the block.

    Raises:
        ValueError: if the rows are not those of one block.
    """
    first = len(BEFORE)
    last = first + variables + measures
    designs = table.column(0).to_numpy()
    if len(designs) == 0 or not np.array_equal(designs, np.arange(designs[0], designs[0] + len(designs))):
        raise ValueError("designs are not numbered in order")
    stages, generations = table.column(1).unique().to_pylist(), table.column(2).unique().to_pylist()
    if len(stages) != 1 or len(generations) != 1:
        raise ValueError("rows of several blocks")
    status = table.column(last + 2).combine_chunks()
    codes = np.array([STATUS.index(name) for name in status.dictionary.to_pylist()], dtype=np.int8)
    return Batch(
        int(designs[0]),
        stages[0],
        generations[0],
        _matrix(table, first, first + variables),
        _matrix(table, first + variables, last),
        table.column(last + 1).to_numpy(),
        codes[status.indices.to_numpy()],
        seconds,
    )


def selected_table(batches: Sequence[Batch], designs: NDArray[np.int64], schema: pa.Schema, response: str) -> pa.Table:
    """Stored rows of some designs, in the order of their numbers.

    Args:
        batches: in which the designs are.
        designs: their numbers.
        schema: of the result, with the columns of evaluations.
        response: of the study.
    """
    tables = [schema.empty_table()]
    for batch in batches:
        wanted = np.isin(batch.designs, designs)
        if wanted.any():
            tables.append(to_table(batch, schema, response).filter(pa.array(wanted)))
    return pa.concat_tables(tables).unify_dictionaries().combine_chunks()


def pieces_table(
    designs: NDArray[np.int64], found: Pieces, response: str, metadata: Mapping[str, str] | None = None
) -> pa.Table:
    """Pieces as a long table, a design's pieces together; columns as in `PIECES`.

    Args:
        designs: their numbers, (n,).
        found: p pieces of n designs.
        response: of the study.
        metadata: of the file.
    """
    n, p = found.values.shape
    repeated = {
        "criterion": found.criterion,
        "place": tuple(place or WHOLE_VEHICLE for place in found.place),
        "condition": found.condition,
        "unit": found.unit,
    }
    columns = {
        "design": pa.array(np.repeat(designs, p)),
        "response": _one_word(response, n * p),
        "value": numbers(found.values.reshape(-1)),
        "se": pa.nulls(n * p, pa.float64()),
        **{name: _tiled(words, n) for name, words in repeated.items()},
    }
    return pa.Table.from_arrays([columns[column.name] for column in PIECES], schema=schema_of(PIECES, metadata or {}))


def numbers(values: Array) -> pa.Array:
    """(n,) as an Arrow column: null where there is NaN."""
    return pa.array(np.ascontiguousarray(values), type=pa.float64(), from_pandas=True)


def _one_word(word: str, n: int) -> pa.Array:
    return pa.DictionaryArray.from_arrays(pa.array(np.zeros(n, dtype=np.int32)), pa.array([word], pa.string()))


def _tiled(words: tuple[str, ...], n: int) -> pa.Array:
    known = list(dict.fromkeys(words))
    codes = np.array([known.index(word) for word in words], dtype=np.int32)
    return pa.DictionaryArray.from_arrays(pa.array(np.tile(codes, n)), pa.array(known, pa.string()))


def _matrix(table: pa.Table, first: int, last: int) -> Array:
    if first == last:
        return np.empty((len(table), 0))
    return np.stack([table.column(j).to_numpy() for j in range(first, last)], axis=1)
