"""The stored evaluations of a run: a file a block, and every so many rows the blocks so far packed into one file.

A block is on disk as soon as it is evaluated, so that a kill loses one at most. But a run of ten million designs has a
hundred thousand blocks. So whenever blocks of `ROWS` rows and more stand alone, the first ones that make so many become
one part, which says in its metadata how long each block is and took; then their own files go. What a kill in between
leaves there twice, the next call removes.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from ridefront.errors import ResultError
from ridefront.results.names import part_blocks, part_name
from ridefront.results.tables import file_errors, read_table, write_table

ROWS = 65536
"""Rows of a packed part, at least; a block more at most."""

BLOCKS, SECONDS = b"blocks", b"seconds"

TRIES, PAUSE = 20, 0.05
"""How often a list of files is made that lacks a block, and how long, in s, is waited in between."""


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
    is no such folder. Files of other names are not looked at.
    """
    return _chosen(_listed(folder))


def whole_files(folder: Path) -> list[Path]:
    """As `stored_files`, for who reads beside a run: a list that lacks a block, as one may that was made while the run
    was packing, is made anew.

    Raises:
        ResultError: a block is missing.
    """
    files = stored_files(folder)
    for _ in range(TRIES):
        gap = _gap(files)
        if gap is None:
            return files
        time.sleep(PAUSE)
        files = stored_files(folder)
    gap = _gap(files)
    if gap is None:
        return files
    raise ResultError(f"{folder / part_name(gap)}: missing, while later ones are there")


def _listed(folder: Path) -> dict[Path, tuple[int, int]]:
    """The parts in a folder, and their first and last blocks."""
    files = sorted(folder.iterdir()) if folder.is_dir() else []
    return {file: blocks for file in files if (blocks := part_blocks(file.name)) is not None}


def _chosen(listed: Mapping[Path, tuple[int, int]]) -> list[Path]:
    """Of parts that hold the same block the longest one, in the order of blocks."""
    files: list[Path] = []
    end = -1
    for file in sorted(listed, key=lambda file: (listed[file][0], -listed[file][1])):
        if listed[file][1] > end:
            files.append(file)
            end = listed[file][1]
    return files


def _gap(files: Sequence[Path]) -> int | None:
    """The first block that is in none of the files while a later one is."""
    end = -1
    for file in files:
        first, last = _blocks(file)
        if first != end + 1:
            return end + 1
        end = last
    return None


class Parts:
    """The folder of evaluations of one run, which alone writes into it.

    Args:
        folder: where the files are; need not be there before something is appended.
        schema: of their rows; digests: of the run, as they stand in the metadata of its files.
        way_on: what a message says of a part that cannot be read.

    Attributes:
        blocks: how many are stored.
    """

    def __init__(self, folder: Path, schema: pa.Schema, digests: str, way_on: str) -> None:
        self._folder, self._schema, self._digests, self._way_on = folder, schema, digests, way_on
        self.blocks = 0
        self._alone: list[Block] = []  # blocks that are not packed; those on disk that nobody has read yet are missing
        self._rows_alone = 0

    def refuse_foreign(self) -> None:
        """Raises ResultError where a file is there that no run wrote; hidden files are nobody's business."""
        for file in sorted(self._folder.iterdir()) if self._folder.is_dir() else []:
            if part_blocks(file.name) is None and not file.name.startswith("."):
                raise ResultError(f"{file}: foreign: no run wrote it", "Move it away.")

    def open(self) -> None:
        """Looks at what is there, and removes what a kill left there twice, once the part that has it has been read.

        Raises:
            ResultError: a file is foreign or missing, or a part cannot be read of which blocks are there beside it.
        """
        self.refuse_foreign()
        listed = _listed(self._folder)
        files = _chosen(listed)
        gap = _gap(files)
        if gap is not None:
            later = next(file.name for file in files if _blocks(file)[0] > gap)
            raise ResultError(f"{self._folder / part_name(gap)}: missing, while {later} is there", self._way_on)
        kept = set(files)
        twice = [file for file in listed if file not in kept]
        for file in files:
            first, last = _blocks(file)
            if any(first <= listed[other][0] <= last for other in twice):
                list(self._read(file))
        for file in twice:
            with file_errors(file, "removed"):
                file.unlink(missing_ok=True)
        self.blocks = _blocks(files[-1])[1] + 1 if files else 0
        self._alone, self._rows_alone = [], 0

    def read(self) -> Iterator[Block]:
        """The blocks in their order.

        Raises:
            ResultError: a part is damaged, of another run, or does not say which blocks it holds.
        """
        self._alone, self._rows_alone = [], 0
        for file in stored_files(self._folder):
            for block in self._read(file):
                if not _packed(file):
                    self._stands_alone(block)
                yield block

    def tables(self, columns: Sequence[str] | None = None) -> Iterator[pa.Table]:
        """The rows in their order, a file at a time; only some columns where they are named. Raises as `read`."""
        for file in stored_files(self._folder):
            yield self._table(file, columns)

    def path(self, index: int) -> Path:
        """The file that a block is in, or would be."""
        for file in stored_files(self._folder):
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
        self._stands_alone(Block(rows, seconds, path))
        self.pack()

    def pack(self) -> None:
        """Makes parts of blocks that stand alone, as long as they have rows enough."""
        while self._rows_alone >= ROWS:
            count, rows = 0, 0
            while rows < ROWS:
                rows += len(self._alone[count].rows)
                count += 1
            blocks = self._alone[:count]
            first, last = _blocks(blocks[0].path)[0], _blocks(blocks[-1].path)[1]
            said = json.dumps([[len(block.rows), block.seconds] for block in blocks]).encode()
            metadata = {name: text for name, text in blocks[0].rows.schema.metadata.items() if name != SECONDS}
            plain = [block.rows.replace_schema_metadata(None) for block in blocks]
            table = pa.concat_tables(plain).unify_dictionaries().combine_chunks()
            write_table(
                self._folder / part_name(first, last), table.replace_schema_metadata({**metadata, BLOCKS: said})
            )
            self._alone, self._rows_alone = self._alone[count:], self._rows_alone - rows
            for block in blocks:
                with file_errors(block.path, "removed"):
                    block.path.unlink(missing_ok=True)

    def _stands_alone(self, block: Block) -> None:
        self._alone.append(block)
        self._rows_alone += len(block.rows)

    def _read(self, file: Path) -> Iterator[Block]:
        """The blocks in a file."""
        table = self._table(file)
        if _packed(file):
            yield from _unpacked(file, table, self._way_on)
        else:
            yield Block(table, _seconds(file, table, self._way_on), file)

    def _table(self, file: Path, columns: Sequence[str] | None = None) -> pa.Table:
        try:
            table = read_table(file, self._schema, columns)
        except ResultError as error:
            way_on = f"Without it and the parts after it the run goes on from there. {self._way_on}"
            raise ResultError(error.message, way_on) from error
        try:
            ours = json.loads(table.schema.metadata[b"digests"]) == json.loads(self._digests)
        except (KeyError, TypeError, ValueError) as error:
            raise _foreign(file, self._way_on) from error
        if not ours:
            raise ResultError(f"{file}: foreign: it is of another study", self._way_on)
        return table


def _blocks(file: Path) -> tuple[int, int]:
    known = part_blocks(file.name)
    assert known is not None, "only files of such names are listed"
    return known


def _packed(file: Path) -> bool:
    """Whether a part is one that blocks were packed into."""
    return file.name != part_name(_blocks(file)[0])


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
