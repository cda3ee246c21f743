"""Files that are whole or not there: written beside their place, forced to disk, then named. And read with suspicion.

A temporary name starts with a dot and ends in ``.tmp``, which no reading pattern matches; one that a killed run leaves
behind is removed by the next.
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from ridefront.errors import ResultError
from ridefront.results.columns import words_of

ROOM = "Make room and call again; nothing on the disk is damaged."


@contextmanager
def file_errors(path: Path, doing: str) -> Iterator[None]:
    """Turns the system's errors (no space, no permission, no such folder) into one that names the file.

    Args:
        path: the file or folder.
        doing: what could not be done to it, as in "written".

    Raises:
        ResultError: in place of OSError.
    """
    try:
        yield
    except OSError as error:
        way_on = ROOM if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG) else ""
        raise ResultError(f"{path}: cannot be {doing}: {error.strerror or error}", way_on) from error


def write_bytes(path: Path, data: bytes | memoryview) -> None:
    """Writes a file so that it is there whole or not at all, power cuts included.

    Raises:
        ResultError: if it cannot be written.
    """
    temporary = path.with_name(f".{path.name}.tmp")
    with file_errors(path, "written"):
        try:
            with open(temporary, "wb", buffering=0) as file:
                rest = memoryview(data)
                while rest:
                    rest = rest[file.write(rest) :]
                os.fsync(file.fileno())
            os.replace(temporary, path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
        sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Forces a folder's list of names to disk."""
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def write_json(path: Path, record: Mapping[str, Any]) -> None:
    """Writes a record as JSON for people to read; raises as `write_bytes`."""
    text = json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    write_bytes(path, text.encode())


def write_table(path: Path, table: pa.Table) -> None:
    """Writes a table as one Parquet file; raises as `write_bytes`.

    No statistics and no compression: they cost time and save little on figures that all differ. Pages carry checksums.
    """
    sink = pa.BufferOutputStream()
    pq.write_table(
        table,
        sink,
        compression="none",
        use_dictionary=words_of(table.schema),
        write_statistics=False,
        write_page_checksum=True,
    )
    write_bytes(path, memoryview(sink.getvalue()))


def read_table(path: Path, schema: pa.Schema | None = None, columns: Sequence[str] | None = None) -> pa.Table:
    """Reads a table that `write_table` wrote.

    Args:
        path: of the file.
        schema: what its columns must be; whatever they are if None.
        columns: which of them to read, in this order; all if None.

    Raises:
        ResultError: if the file is missing, damaged, or has other columns.
    """
    if not path.is_file():
        raise ResultError(f"{path}: no such file")
    try:
        with pq.ParquetFile(path, page_checksum_verification=True) as file:
            found = file.schema_arrow
            table = file.read(columns=None if columns is None else list(columns), use_threads=False)
    except (OSError, ValueError, pa.ArrowException) as error:
        reason = str(error).split("\n", 1)[0].rstrip(".")
        raise ResultError(f"{path}: damaged, or not a Parquet file: {reason}") from error
    if schema is not None and not found.equals(schema, check_metadata=False):
        unlike = sorted(set(found.names) ^ set(schema.names)) or ["their types or order"]
        raise ResultError(f"{path}: foreign: its columns are not those of this study ({', '.join(unlike[:5])})")
    unknown = [name for name in columns or () if name not in found.names]
    if unknown:
        raise ResultError(f"{path}: no column {unknown[0]!r}; allowed: {', '.join(found.names)}")
    return table if columns is None else table.select(list(columns))
