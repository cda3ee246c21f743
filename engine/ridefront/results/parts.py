"""The stored evaluations of a run: a file a block, and every so many rows the blocks so far packed into one file.

A block is on disk as soon as it is evaluated, so that a kill loses one at most. But a run of ten million designs has a
hundred thousand blocks. So whenever blocks of `ROWS` rows and more stand alone, the first ones that make so many become
one part, which says in its metadata how long each block is and took; then their own files go. What a kill in between
leaves there twice, the next call removes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from ridefront.errors import ResultError
from ridefront.results.names import is_temporary, part_blocks, part_name
from ridefront.results.tables import file_errors, read_table, write_table

ROWS = 65536
"""Rows of a packed part, at least; a block more at most."""

BLOCKS, SECONDS = b"blocks", b"seconds"


@dataclass(frozen=True)
class Block:
    """Rows that were evaluated together.

    Attributes:
        rows: as stored; seconds: spent on them; path: of the file that they are in.
    """

    rows: pa.Table
    seconds: float
    path: Path


def stored_files(folder: Path) -> list[Path]:
    """The files of a run's evaluations in the order of their blocks, each block in one of them only; none where there
    is no such folder.

    Raises:
        ResultError: a file is there that no run wrote.
    """
    found = sorted(folder.iterdir()) if folder.is_dir() else []
    blocks: dict[Path, tuple[int, int]] = {}
    for file in found:
        if is_temporary(file.name):
            continue
        known = part_blocks(file.name)
        if known is None:
            raise ResultError(f"{file}: foreign: no run wrote it", "Move it away.")
        blocks[file] = known
    files: list[Path] = []
    end = -1
    for file in sorted(blocks, key=lambda file: (blocks[file][0], -blocks[file][1])):
        if blocks[file][1] > end:
            files.append(file)
            end = blocks[file][1]
    return files


class Parts:
    """The folder of evaluations of one run, which alone writes into it.

    Args:
        folder: where the files are; need not be there before something is appended.
        schema: of their rows.
        way_on: what a message says of a part that cannot be read.

    Attributes:
        blocks: how many are stored.
    """

    def __init__(self, folder: Path, schema: pa.Schema, way_on: str) -> None:
        self._folder, self._schema, self._way_on = folder, schema, way_on
        self.blocks = 0
        self._packed: list[Path] = []
        self._alone: list[Block] = []  # blocks that are not packed; those on disk that nobody has read yet are missing

    def files(self) -> list[Path]:
        """The files in the order of their blocks; raises as `stored_files`."""
        return stored_files(self._folder)

    def open(self) -> None:
        """Looks at what is there, and removes what a kill left there twice.

        Raises:
            ResultError: a file is foreign, or one is missing.
        """
        files = self.files()
        for file in sorted(self._folder.iterdir()) if self._folder.is_dir() else []:
            if file not in files and not is_temporary(file.name):
                with file_errors(file, "removed"):
                    file.unlink()
        self.blocks, self._packed, self._alone = 0, [], []
        for file in files:
            first, last = _blocks(file)
            if first != self.blocks:
                raise ResultError(
                    f"{self._folder / part_name(self.blocks)}: missing, while {file.name} is there", self._way_on
                )
            self.blocks = last + 1
            if last > first or file.name != part_name(first):
                self._packed.append(file)

    def read(self) -> Iterator[Block]:
        """The blocks in their order.

        Raises:
            ResultError: a part is damaged, has other columns, or does not say which blocks it holds.
        """
        self._alone = []
        for file in self.files():
            table = self._table(file)
            if file in self._packed:
                yield from _unpacked(file, table, self._way_on)
            else:
                block = Block(table, _seconds(file, table, self._way_on), file)
                self._alone.append(block)
                yield block

    def tables(self, columns: list[str] | None = None) -> Iterator[pa.Table]:
        """The rows in their order, a file at a time; only some columns where they are named. Raises as `read`."""
        for file in self.files():
            table = self._table(file)
            yield table if columns is None else table.select(columns)

    def path(self, index: int) -> Path:
        """The file that a block is in, or would be."""
        for file in self._packed:
            first, last = _blocks(file)
            if first <= index <= last:
                return file
        return self._folder / part_name(index)

    def append(self, rows: pa.Table, seconds: float, metadata: Mapping[bytes, bytes]) -> None:
        """Stores one block; it is on disk when this returns.

        Args:
            rows: of the block.
            seconds: spent on it.
            metadata: of the file, beside what is said of the block.
        """
        path = self._folder / part_name(self.blocks)
        rows = rows.replace_schema_metadata({**metadata, SECONDS: repr(seconds).encode()})
        write_table(path, rows)
        self.blocks += 1
        self._alone.append(Block(rows, seconds, path))
        while sum(len(block.rows) for block in self._alone) >= ROWS:
            self._pack(metadata)

    def _pack(self, metadata: Mapping[bytes, bytes]) -> None:
        """Makes one part of the first blocks that have rows enough."""
        count, rows = 0, 0
        while rows < ROWS:
            rows += len(self._alone[count].rows)
            count += 1
        blocks = self._alone[:count]
        first, last = _blocks(blocks[0].path)[0], _blocks(blocks[-1].path)[1]
        said = json.dumps([[len(block.rows), block.seconds] for block in blocks]).encode()
        table = pa.concat_tables([block.rows.replace_schema_metadata(None) for block in blocks]).unify_dictionaries()
        path = self._folder / part_name(first, last)
        write_table(path, table.combine_chunks().replace_schema_metadata({**metadata, BLOCKS: said}))
        self._packed.append(path)
        self._alone = self._alone[count:]
        for block in blocks:
            with file_errors(block.path, "removed"):
                block.path.unlink()

    def _table(self, file: Path) -> pa.Table:
        try:
            return read_table(file, self._schema)
        except ResultError as error:
            way_on = f"Without it and the parts after it the run goes on from there. {self._way_on}"
            raise ResultError(error.message, way_on) from error


def _blocks(file: Path) -> tuple[int, int]:
    known = part_blocks(file.name)
    assert known is not None, "only files of such names are listed"
    return known


def _seconds(file: Path, table: pa.Table, way_on: str) -> float:
    try:
        return float((table.schema.metadata or {})[SECONDS])
    except (KeyError, ValueError) as error:
        raise _foreign(file, way_on) from error


def _unpacked(file: Path, table: pa.Table, way_on: str) -> Iterator[Block]:
    first, last = _blocks(file)
    try:
        said = [(int(rows), float(seconds)) for rows, seconds in json.loads((table.schema.metadata or {})[BLOCKS])]
    except (KeyError, ValueError, TypeError) as error:
        raise _foreign(file, way_on) from error
    if len(said) != last - first + 1 or sum(rows for rows, _ in said) != len(table):
        raise _foreign(file, way_on)
    start = 0
    for rows, seconds in said:
        yield Block(table.slice(start, rows), seconds, file)
        start += rows


def _foreign(file: Path, way_on: str) -> ResultError:
    return ResultError(f"{file}: foreign: no run wrote it in this form", way_on)
