"""The folder of a run: locked while in use, append-only parts, and no mixing of what does not belong together."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from ridefront.errors import ResultError
from ridefront.results.batch import Batch, from_table, to_table
from ridefront.results.columns import schema_of, stored_columns
from ridefront.results.lock import locked
from ridefront.results.names import (
    CLEARED,
    EVALUATIONS,
    FRONT,
    FRONT_PIECES,
    LOCK,
    PROGRESS_FILE,
    RECORD,
    START,
    STUDY_FILE,
    TABLES,
    WRITTEN,
    is_table,
    is_temporary,
    part_blocks,
    road_name,
)
from ridefront.results.parts import Block, Parts
from ridefront.results.record import (
    GROWN,
    Record,
    differences,
    file_metadata,
    growing,
    new_record,
    read_record,
    search_sizes,
)
from ridefront.results.sampling import sampled_columns
from ridefront.results.tables import file_errors, sync_folder, write_bytes, write_json, write_table
from ridefront.study.model import Study

ANEW = "--overwrite starts anew in this folder; another --output leaves it as it is."

SHOWN = 6
"""How many differences between two studies a message names."""


class RunFolder:
    """``OUTPUT/<stem of the study file>/``, locked from opening to closing. Use it as a context manager.

    Args:
        study: whose run it is.
        output: folder that holds the run's folder.
        overwrite: delete what an earlier run has written; files that a run does not write are left alone.

    Attributes:
        path: the folder.
        metadata: of every table in it.
        schema: of evaluations; sampled: the measures that have a column for their standard error.
        earlier: record of the run so far; None if there is none.

    Raises:
        ResultError: if the folder is in use, cannot be written, belongs to another study, or holds files and no run.
    """

    def __init__(self, study: Study, output: Path, *, overwrite: bool = False) -> None:
        self.study = study
        self.path = output / study.stem
        self.metadata = file_metadata(study)
        self.schema = schema_of(stored_columns(study), self.metadata)
        self.sampled = sampled_columns(study)
        self.earlier: Record | None = None
        self._parts = Parts(self.path / EVALUATIONS, self.schema, self.metadata["digests"], ANEW)
        self._before: dict[str, bytes | None] = {}
        with file_errors(self.path, "used as a run's folder"):
            self.path.mkdir(parents=True, exist_ok=True)
        self._lock: int | None = locked(self.path / LOCK)
        try:
            with file_errors(self.path, "used as a run's folder"):
                self._open(overwrite)
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Lets go of the lock; closing twice does no harm."""
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None

    @property
    def finished(self) -> bool:
        """Whether the run is done and asks for nothing more, its tables being there."""
        if self.earlier is None or self.earlier["state"] != "done":
            return False
        return self.earlier["search"] == search_sizes(self.study) and all(
            (self.path / name).is_file() for name in (*WRITTEN, *self._as_read())
        )

    def begin(self, workers: int) -> Record:
        """Says on disk that a run is on, stores the study and its tables as read, and returns the run's record."""
        record = new_record(self.study, workers, self.earlier)
        files = self._as_read()
        self._before = {name: _bytes(self.path / name) for name in (RECORD, *files)}
        self.write_record(record)
        if any(Path(name).parent.name for name in files):
            with file_errors(self.path / TABLES, "made"):
                (self.path / TABLES).mkdir(exist_ok=True)
        for name, content in files.items():
            write_bytes(self.path / name, content)
        with file_errors(self.path / EVALUATIONS, "made"):
            (self.path / EVALUATIONS).mkdir(exist_ok=True)
            sync_folder(self.path)
        return record

    def undo(self) -> None:
        """Puts back what `begin` replaced: the run was refused before it had added anything."""
        for name, data in self._before.items():
            if data is not None:
                write_bytes(self.path / name, data)

    @property
    def blocks(self) -> int:
        """How many blocks are on disk."""
        return self._parts.blocks

    def batches(self) -> Iterator[Batch]:
        """The blocks on disk, in the order asked.

        Raises:
            ResultError: if a part is damaged or not this run's.
        """
        start = 0
        for block in self._parts.read():
            try:
                batch = from_table(
                    block.rows, len(self.study.variables), len(self.study.measures), self.sampled, block.seconds
                )
            except ValueError as error:
                raise self._foreign(block, "no run wrote it in this form") from error
            if batch.start != start:
                raise self._foreign(block, f"its first design is {batch.start}, {start} comes next")
            start += len(batch)
            yield batch

    def pack(self) -> None:
        """Packs what a kill has kept from being packed, once `batches` have been read."""
        self._parts.pack()

    def look_again(self) -> None:
        """Counts the blocks on disk anew, after an interrupt, which may have come in the midst of storing one."""
        self._parts.open()

    def tables(self, columns: list[str] | None = None) -> Iterator[pa.Table]:
        """Stored rows in their order, a part at a time; only some columns where they are named. Raises as `batches`."""
        return self._parts.tables(columns)

    def rows(self, designs: NDArray[np.int64], schema: pa.Schema) -> pa.Table:
        """Stored rows of some designs.

        Args:
            designs: their numbers, ascending.
            schema: of the result; its columns are among those stored.
        """
        found = [schema.empty_table()]
        start = 0
        for table in self.tables(schema.names):
            first, last = np.searchsorted(designs, [start, start + len(table)])
            if last > first:
                rows = table.take(pa.array(designs[first:last] - start))
                found.append(rows.replace_schema_metadata(schema.metadata))
            start += len(table)
        return pa.concat_tables(found).unify_dictionaries().combine_chunks()

    def append(self, batch: Batch) -> None:
        """Stores one block; it is on disk when this returns."""
        self._parts.append(to_table(batch, self.schema, self.sampled), batch.seconds, self.schema.metadata)

    def write_record(self, record: Record) -> None:
        """Writes run.json."""
        write_json(self.path / RECORD, record)

    def write_results(self, front: pa.Table, pieces: pa.Table, progress: pa.Table) -> None:
        """Writes the tables that are made at the end of a run, or where it was interrupted."""
        write_table(self.path / FRONT, front)
        write_table(self.path / FRONT_PIECES, pieces)
        write_table(self.path / PROGRESS_FILE, progress)

    def write_more(self, tables: Mapping[str, pa.Table]) -> None:
        """Writes further tables of the end of a run, by the names of their files."""
        for name, table in tables.items():
            write_table(self.path / name, table)

    def part_path(self, index: int) -> Path:
        """The file that a block is in, or would be."""
        return self._parts.path(index)

    def _as_read(self) -> dict[str, bytes]:
        """The study file and what it names: tables, measured roads, an earlier front; by their names in the folder."""
        tables = {f"{TABLES}/{path}.csv": table.text for path, table in self.study.tables.items()}
        roads = {f"{TABLES}/{road_name(k, road.suffix)}": road.text for k, road in self.study.profiles.items()}
        start = {} if self.study.start is None else {f"{TABLES}/{START}": self.study.start.text}
        return {STUDY_FILE: self.study.text, **tables, **roads, **start}

    def _open(self, overwrite: bool) -> None:
        recorded = (self.path / RECORD).is_file()
        if recorded:
            self.earlier = read_record(self.path / RECORD)
        else:
            self._refuse_foreign_files()
        self._parts.refuse_foreign()
        for folder in (self.path, self.path / EVALUATIONS, self.path / TABLES):
            for file in _files(folder):
                if is_temporary(file.name):
                    file.unlink()
        if overwrite:
            self._clear()
            return
        self._refuse_another_study()
        self._parts.open()

    def _refuse_foreign_files(self) -> None:
        """Without run.json nothing but a lock, or what writing run.json for the first time left, may be there."""
        foreign = [file.name for file in _files(self.path) if file.name != LOCK and not is_temporary(file.name)]
        if foreign:
            raise ResultError(
                f"{self.path}: holds files that no run wrote, and no {RECORD} ({', '.join(foreign[:3])})",
                "Choose another --output, or move them away.",
            )

    def _refuse_another_study(self) -> None:
        if self.earlier is None:
            return
        unlike = differences(self.earlier, self.study)
        if unlike:
            more = f" and {len(unlike) - SHOWN} more" if len(unlike) > SHOWN else ""
            what = "; ".join(unlike[:SHOWN]) + more
            grows = unlike and set(unlike) <= GROWN and self.study.search.evaluations is None
            grown = f"Raise {growing(self.study)} to go on with it. " if grows else ""
            raise ResultError(
                f"{self.path}: is of another study, or of this one before a change ({what})", f"{grown}{ANEW}"
            )

    def _clear(self) -> None:
        """Deletes what a run writes, so that what a power cut leaves is still the start of a run that is not done: the
        front first, then the last part before the others.
        """
        parts = sorted(
            _files(self.path / EVALUATIONS), key=lambda file: part_blocks(file.name) or (-1, -1), reverse=True
        )
        tables = (file for file in _files(self.path / TABLES) if is_table(file.name))
        for file in (self.path / FRONT, *parts, *tables, *(self.path / name for name in CLEARED)):
            file.unlink(missing_ok=True)
        self.earlier = None
        self._parts.open()

    def _foreign(self, block: Block, why: str) -> ResultError:
        return ResultError(f"{block.path}: foreign: {why}", ANEW)


def recorded(study: Study, output: Path) -> bool:
    """Whether a run has begun in a study's folder in `output`."""
    return (output / study.stem / RECORD).is_file()


def _bytes(path: Path) -> bytes | None:
    return path.read_bytes() if path.is_file() else None


def _files(folder: Path) -> list[Path]:
    return sorted(folder.iterdir()) if folder.is_dir() else []
