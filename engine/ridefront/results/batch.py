"""The rows of one block: arrays for the loop, a table for the disk, and no bit lost between the two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from ridefront.evaluate import STATUS, Domain, Evaluation, Pieces
from ridefront.results.columns import BEFORE, PARTS, PIECES, schema_of
from ridefront.study.model import Array, Study

WHOLE_VEHICLE = "vehicle"
"""Place of pieces that have none: a word, because grouping drops null."""


@dataclass(frozen=True)
class Asking:
    """Who asked for a block, and how its rides are worked out.

    Attributes:
        stage: ``present`` or a stage of the search.
        generation: of the stage.
        response: the domain of rides on random roads.
        realisations: how many of each random road are driven; None in the frequency domain.
    """

    stage: str
    generation: int
    response: Domain
    realisations: int | None


@dataclass(frozen=True)
class Batch:
    """Designs that were asked and evaluated together.

    Attributes:
        start: number of the first design.
        asking: what the block is of.
        X: (n, d), in the units of the study's variables.
        values: (n, k), of the study's measures in their units; NaN where a design failed.
        violation: (n,), NaN where a design failed.
        status: index into `ridefront.evaluate.STATUS`, (n,).
        se: standard errors of `values`, (n, k); NaN where there is no sampling error.
        seconds: spent on the block.
        parts: what the measures are made of, (n, parts), NaN where a design failed; None unless the search asked for
            it.
    """

    start: int
    asking: Asking
    X: Array
    values: Array
    violation: Array
    status: NDArray[np.int8]
    se: Array
    seconds: float = 0.0
    parts: Array | None = None

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


def batch_of(
    start: int, asking: Asking, X: Array, found: Evaluation, seconds: float, parts: Array | None = None
) -> Batch:
    """A block's designs and what evaluation says of them."""
    return Batch(start, asking, X, found.values, found.violation, found.status, found.se, seconds, parts)


def to_table(batch: Batch, schema: pa.Schema, sampled: Sequence[int]) -> pa.Table:
    """The stored form of a batch: null for every figure that a failed design does not have.

    Args:
        batch: n rows.
        schema: of the evaluations of its study, with parts or without.
        sampled: the measures that have a column for their standard error.
    """
    n, asking = len(batch), batch.asking
    columns = [
        pa.array(batch.designs),
        _one_word(asking.stage, n),
        pa.array(np.full(n, asking.generation, dtype=np.int32)),
        _one_word(asking.response, n),
        pa.array([asking.realisations] * n, pa.int32()),
        *(numbers(column) for column in batch.X.T),
        *(numbers(column) for column in batch.values.T),
        *(numbers(batch.se[:, k]) for k in sampled),
        pa.array(batch.feasible),
        numbers(batch.violation),
        pa.DictionaryArray.from_arrays(pa.array(batch.status.astype(np.int32)), pa.array(STATUS)),
    ]
    if PARTS.name in schema.names:
        columns.append(_lists(batch.parts, n))
    return pa.Table.from_arrays(columns, schema=schema)


def from_table(table: pa.Table, variables: int, measures: int, sampled: Sequence[int], seconds: float) -> Batch:
    """The batch that `to_table` stored.

    Args:
        table: at least one row, of the schema of its study's evaluations.
        variables: how many of them; measures: likewise.
        sampled: the measures that have a column for their standard error.
        seconds: spent on the block.

    Raises:
        ValueError: if the rows are not those of one block.
    """
    first = len(BEFORE)
    middle = first + variables
    last = middle + measures
    after = last + len(sampled)
    designs = table.column(0).to_numpy()
    if len(designs) == 0 or not np.array_equal(designs, np.arange(designs[0], designs[0] + len(designs))):
        raise ValueError("designs are not numbered in order")
    askings = [table.column(j).unique().to_pylist() for j in range(1, first)]
    if any(len(found) != 1 for found in askings):
        raise ValueError("rows of several blocks")
    se = np.full((len(table), measures), np.nan)
    se[:, sampled] = _matrix(table, last, after)
    status = table.column(after + 2).combine_chunks()
    codes = np.array([STATUS.index(name) for name in status.dictionary.to_pylist()], dtype=np.int8)
    return Batch(
        int(designs[0]),
        Asking(*(found[0] for found in askings)),
        _matrix(table, first, middle),
        _matrix(table, middle, last),
        table.column(after + 1).to_numpy(),
        codes[status.indices.to_numpy()],
        se,
        seconds,
        _from_lists(table.column(PARTS.name)),
    )


def figures(table: pa.Table, study: Study) -> tuple[Array, Array]:
    """Stored designs and figures: X (n, d) and values (n, k), in the study's units.

    Args:
        table: n rows with the columns of the study's evaluations.
        study: whose variables and measures they are.
    """
    first = len(BEFORE)
    middle = first + len(study.variables)
    return _matrix(table, first, middle), _matrix(table, middle, middle + len(study.measures))


def with_columns(table: pa.Table, schema: pa.Schema, columns: Mapping[str, Array | tuple[str | None, ...]]) -> pa.Table:
    """A table with further columns behind its own.

    Args:
        table: n rows.
        schema: of the result, beginning with the table's columns.
        columns: n numbers or texts each, by name; those of the schema that are not given are null.
    """
    n = len(table)
    more = []
    for column in list(schema)[table.num_columns :]:
        given = columns.get(column.name)
        if given is None:
            more.append(pa.nulls(n, column.type))
        else:
            more.append(pa.array(given, type=column.type, from_pandas=True))
    return pa.Table.from_arrays([*table.columns, *more], schema=schema)


def pieces_table(designs: NDArray[np.int64], found: Pieces, metadata: Mapping[str, str] | None = None) -> pa.Table:
    """Pieces as a long table, a design's pieces together; columns as in `PIECES`.

    Args:
        designs: their numbers, (n,).
        found: p pieces of n designs.
        metadata: of the file.
    """
    n, p = found.values.shape
    repeated = {
        "criterion": found.criterion,
        "place": tuple(place or WHOLE_VEHICLE for place in found.place),
        "condition": found.condition,
        "response": found.response,
        "unit": found.unit,
    }
    columns = {
        "design": pa.array(np.repeat(designs, p)),
        "value": numbers(found.values.reshape(-1)),
        "se": numbers(found.se.reshape(-1)),
        **{name: _tiled(words, n) for name, words in repeated.items()},
    }
    return pa.Table.from_arrays([columns[column.name] for column in PIECES], schema=schema_of(PIECES, metadata or {}))


def numbers(values: Array) -> pa.Array:
    """(n,) as an Arrow column: null where there is NaN."""
    return pa.array(np.ascontiguousarray(values), type=pa.float64(), from_pandas=True)


def _lists(values: Array | None, n: int) -> pa.Array:
    """(n, k) as a column of lists, null entries where there is NaN; null throughout where there are no values."""
    if values is None:
        return pa.nulls(n, PARTS.type)
    offsets = np.arange(n + 1, dtype=np.int32) * values.shape[1]
    return pa.ListArray.from_arrays(pa.array(offsets), numbers(values.reshape(-1)), type=PARTS.type)


def _from_lists(column: pa.ChunkedArray) -> Array | None:
    """What `_lists` made.

    Raises:
        ValueError: lists of several lengths, or rows with and without.
    """
    rows = column.combine_chunks()
    if rows.null_count == len(rows):
        return None
    sizes = set(rows.value_lengths().to_pylist())
    if len(sizes) > 1:
        raise ValueError("parts of several lengths")
    values: Array = rows.flatten().to_numpy(zero_copy_only=False).reshape(len(rows), sizes.pop())
    return values


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
