"""Designs that a person or a program hands in: a table with a column for each of the study's variables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from ridefront.errors import Mistake, StudyError
from ridefront.study.model import Study, Variable
from ridefront.study.space import set_values

Array = NDArray[np.float64]

_MOST_ROWS = 5  # named in one message


@dataclass(frozen=True)
class Designs:
    """Designs read from a file.

    Attributes:
        numbers: the file's ``design`` column, or 0, 1, 2 ..., (n,).
        X: (n, d), in the units of the study's variables.
    """

    numbers: NDArray[np.int64]
    X: Array


def read_designs(study: Study, path: Path) -> Designs:
    """Designs from CSV or Parquet, in the study's units; a result's own tables are such files.

    Args:
        study: whose variables the columns are named after; other columns are not looked at, but for ``design``.
        path: ends in .csv or .parquet. Where a Parquet column says its unit, it must be the study's.

    Raises:
        StudyError: every mistake: no such file, an unreadable one, a column that lacks, a wrong unit, a cell that is no
            positive number.
    """
    name = str(path)
    table = _read(path, name)
    mistakes: list[Mistake] = []
    columns = [_column(table, item, mistakes) for item in study.variables]
    if mistakes:
        raise StudyError(name, mistakes)
    if "design" in table.column_names and pa.types.is_integer(table.schema.field("design").type):
        numbers = np.asarray(table["design"].to_numpy(), dtype=np.int64)
    else:
        numbers = np.arange(table.num_rows, dtype=np.int64)
    if not table.num_rows:
        raise StudyError(name, [Mistake("", "no rows", "at least one design")])
    return Designs(numbers, np.stack([column for column in columns if column is not None], axis=1))


def one_by_hand(study: Study, pairs: Sequence[str]) -> Designs:
    """The present setup with some values changed, as ``NAME=VALUE``; see `ridefront.study.space.set_values`."""
    return Designs(np.zeros(1, dtype=np.int64), set_values(study, pairs))


def _read(path: Path, name: str) -> Any:
    """The file as an Arrow table."""
    import pyarrow.csv
    import pyarrow.parquet

    if path.suffix not in (".csv", ".parquet"):
        raise StudyError(name, [Mistake("", f"ends in {path.suffix or 'nothing'}", ".csv or .parquet")])
    try:
        if path.suffix == ".csv":
            return pyarrow.csv.read_csv(path)
        return pyarrow.parquet.read_table(path)
    except FileNotFoundError:
        raise StudyError(name, [Mistake("", "no such file", "a table of designs, .csv or .parquet")]) from None
    except (OSError, pa.ArrowException) as error:
        reason = str(error).split("\n", 1)[0]
        raise StudyError(name, [Mistake("", f"cannot be read: {reason}", "a table of designs")]) from None


def _column(table: Any, item: Variable, mistakes: list[Mistake]) -> Array | None:
    """One variable's column, or None with a mistake."""
    if item.path not in table.column_names:
        found = ", ".join(table.column_names[:12])
        mistakes.append(Mistake(item.path, "no such column", f"a column for every variable; found {found}"))
        return None
    field, column = table.schema.field(item.path), table[item.path]
    unit = (field.metadata or {}).get(b"unit", item.unit.encode()).decode()
    if unit != item.unit:
        mistakes.append(Mistake(item.path, f"the column is in {unit}", f"the study's unit, {item.unit}"))
        return None
    if not (pa.types.is_floating(field.type) or pa.types.is_integer(field.type)):
        mistakes.append(Mistake(item.path, f"a column of {field.type}", "a column of numbers"))
        return None
    values = np.asarray(column.to_pandas().to_numpy(), dtype=np.float64)
    bad = np.flatnonzero(~(np.isfinite(values) & (values > 0)))
    if len(bad):
        rows = ", ".join(str(row + 1) for row in bad[:_MOST_ROWS]) + (" ..." if len(bad) > _MOST_ROWS else "")
        mistakes.append(Mistake(item.path, f"no positive number in row {rows}", "positive numbers"))
        return None
    return values
