"""A run's folder read back, for a choice or to repeat it: its study as it was read, its front, the present setup."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow as pa

from ridefront.errors import ResultError
from ridefront.results.names import EVALUATIONS, FRONT, RECORD, START, STUDY_FILE, TABLES, is_table
from ridefront.results.parts import whole_files
from ridefront.results.record import Record, read_record
from ridefront.results.tables import read_table
from ridefront.study import read_study
from ridefront.study.digest import figures_digest
from ridefront.study.model import Study

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Result:
    """A run's folder.

    Attributes:
        folder: where it is.
        study: as the run read it.
        front: as `read_front` gives it.
        response: the front's domain; that of the study where the front is empty.
        present: the present setup's row in that domain; empty where the study has none.
        same_engine: whether this program works designs out as the run did, to the last bit.
    """

    folder: Path
    study: Study
    front: pd.DataFrame
    response: str
    present: pd.DataFrame
    same_engine: bool


def read_result(path: Path) -> Result:
    """A run's folder, by its own path or by that of its front's file.

    Raises:
        ResultError: there is no such folder, no run has written it, or one of its files is damaged.
        StudyError: the study in it is not one that this program can read.
    """
    from ridefront.results.read import read_front, read_present

    folder = path.parent if path.name == FRONT else path
    if not folder.is_dir():
        what = "no such folder" if not path.exists() else f"allowed: a run's folder, or the {FRONT} in one"
        raise ResultError(f"{path}: {what}")
    study, record = stored_study(folder)
    front = read_front(folder)
    response = "frequency-domain" if study.response == "frequency-domain" else "time-domain"
    if len(front):
        response = str(front["response"].iloc[0])
    present = read_present(folder, response) if study.present is not None else front.iloc[:0]
    return Result(folder, study, front, response, present, record["digests"].get("figures") == figures_digest(study))


def stored_study(folder: Path) -> tuple[Study, Record]:
    """The study of a run's folder as the run read it, called as it was then, and the run's record.

    Raises:
        ResultError: it is no run's folder, or its record is damaged.
        StudyError: the study in it is not one that this program can read.
    """
    for name in (RECORD, STUDY_FILE):
        if not (folder / name).is_file():
            raise ResultError(f"{folder}: no {name}: not a run's folder; allowed: the folder that a run has written")
    record = read_record(folder / RECORD)
    called = str(record.get("called", ""))
    plain = Path(called).name == called not in ("", "..")
    study = read_study(folder / STUDY_FILE, copies(folder))
    return replace(study, called=called if plain else folder.resolve().name), record


def copies(folder: Path) -> dict[str, str]:
    """The copies of what the study of a run's folder names, by the path of the key that names each."""
    inner = folder / TABLES
    found: dict[str, str] = {}
    for file in sorted(inner.iterdir()) if inner.is_dir() else []:
        road = re.fullmatch(r"road-(\d+)\.\w+", file.name)
        if is_table(file.name):
            key = "search.start" if file.name == START else f"vehicle.{file.stem}"
            found[f"road[{road[1]}].file" if road else key] = f"{TABLES}/{file.name}"
    return found


def same_designs(one: Path, other: Path) -> bool:
    """Whether two runs have asked the same designs and have got the same figures, to the last bit; not where one has
    lost its evaluations.

    Raises:
        ResultError: a part is damaged.
    """
    left, right = (_rows(folder / EVALUATIONS) for folder in (one, other))
    count, a, b = 0, next(left, None), next(right, None)
    while a is not None and b is not None:
        most = min(len(a), len(b))
        if not a[:most].equals(b[:most]):
            return False
        count += most
        a, b = (table[most:] if len(table) > most else next(rest, None) for table, rest in ((a, left), (b, right)))
    return a is b is None and count > 0


def _rows(folder: Path) -> Iterator[pa.Table]:
    """The stored rows, a file at a time, as plain values; NaN is never stored, so that equal is equal."""
    for file in whole_files(folder):
        table = read_table(file)
        plain = [
            column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column for column in table.columns
        ]
        yield pa.table(plain, names=table.schema.names)
