"""Results as pandas frames, units and descriptions in `attrs`."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from ridefront.errors import ResultError
from ridefront.results.columns import PANDAS_ATTRS
from ridefront.results.names import (
    CLOSEST,
    EVALUATIONS,
    FRONT,
    FRONT_PIECES,
    PROGRESS_FILE,
    SENSITIVITY_FILE,
)
from ridefront.results.parts import whole_files
from ridefront.results.tables import read_table


def read_front(path: str | Path) -> pd.DataFrame:
    """The front of a run.

    Args:
        path: the run's folder, or a front's file.

    Returns:
        A row a design, in the order of their numbers, columns in the study's units; ``attrs["units"]`` and
        ``attrs["descriptions"]`` say what they are.

    Raises:
        ResultError: if there is no front, or its file is damaged.
    """
    return _read(path, FRONT)


def read_front_pieces(path: str | Path) -> pd.DataFrame:
    """Every criterion at every place in every condition of the front's designs, long, in SI; as `read_front`."""
    return _read(path, FRONT_PIECES)


def read_sensitivity(path: str | Path) -> pd.DataFrame:
    """What moves what over the whole design space: Sobol' indices, long; as `read_front`."""
    return _read(path, SENSITIVITY_FILE)


def read_closest(path: str | Path) -> pd.DataFrame:
    """The least violating designs of a run of which none is feasible, else no rows; as `read_front`."""
    return _read(path, CLOSEST)


def read_progress(path: str | Path) -> pd.DataFrame:
    """How a run went, a row a generation; as `read_front`."""
    return _read(path, PROGRESS_FILE)


def read_evaluations(path: str | Path, columns: Sequence[str] | None = None) -> pd.DataFrame:
    """Every design that a run has evaluated, in the order asked; also while it runs.

    Args:
        path: the run's folder, or its folder ``evaluations``.
        columns: which ones; all if None. Ten million designs take 80 MB a column.

    Returns:
        As `read_front`.

    Raises:
        ResultError: if there are none, a file is damaged or has other columns than the first, or has none of a name.
    """
    folder = Path(path)
    inner = folder / EVALUATIONS
    folder = inner if inner.is_dir() else folder
    if not folder.is_dir():
        raise ResultError(f"{folder}: no such folder")
    return to_frame(_again(folder, lambda files: pa.concat_tables(_tables(files, columns)).unify_dictionaries()))


def read_present(path: str | Path, response: str) -> pd.DataFrame:
    """The present setup's row of a run; empty where the study has none.

    Args:
        path: the run's folder.
        response: the domain; a run with response auto has worked the present setup out in both.

    Raises:
        ResultError: as `read_evaluations`.
    """

    def found(files: Sequence[Path]) -> pa.Table:
        for file in files:
            who = read_table(file, None, ["stage", "response"])
            wanted = pc.and_(pc.equal(who["stage"], "present"), pc.equal(who["response"], response))
            if pc.any(wanted).as_py():
                return read_table(file).filter(wanted)
        return read_table(files[0]).slice(0, 0)

    return to_frame(_again(Path(path) / EVALUATIONS, found))


def to_frame(table: pa.Table) -> pd.DataFrame:
    """A table as a frame, with the units and descriptions that its file holds."""
    frame: pd.DataFrame = table.to_pandas()
    metadata = table.schema.metadata or {}
    frame.attrs.update(json.loads(metadata.get(PANDAS_ATTRS, b"{}")))
    return frame


def _tables(files: Sequence[Path], columns: Sequence[str] | None) -> list[pa.Table]:
    """The tables of files, which must have the columns of the first."""
    first = read_table(files[0], None, columns)
    schema = pq.read_schema(files[0])
    return [first, *(read_table(file, schema, columns) for file in files[1:])]


def _again(folder: Path, take: Callable[[Sequence[Path]], pa.Table]) -> pa.Table:
    """What is taken from a run's parts in order, at least one; from a new list of them where a run that goes on beside
    this has packed some since they were listed.
    """
    while True:
        files = whole_files(folder)
        if not files:
            raise ResultError(f"{folder}: no evaluations; allowed: a run's folder")
        try:
            return take(files)
        except ResultError:
            if all(file.is_file() for file in files):
                raise


def _read(path: str | Path, name: str) -> pd.DataFrame:
    file = Path(path)
    if file.is_dir():
        if not (file / name).is_file():
            raise ResultError(
                f"{file}: no {name}",
                "It is written when a run ends or is interrupted; the same call as before goes on with the run.",
            )
        file = file / name
    return to_frame(read_table(file))
