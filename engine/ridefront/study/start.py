"""Designs of an earlier front, with which a search begins: read, converted, held against the ranges."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridefront.study.keys import QUANTITIES
from ridefront.study.model import Array, Start, Variable
from ridefront.study.page import Mistakes, Page, shown
from ridefront.study.space import encode_values
from ridefront.units import UnitError, exact_factor, same_dimension

FRONT = "front.parquet"

ALLOWED = f"the folder of an earlier run, or the {FRONT} in it"

LARGEST_FRONT = 256 * 2**20
"""Bytes of a front's file."""

_SLACK = 1e-9  # relative: a value that went through another unit, or a ratio of stored numbers
_GRID = 2.0**40
_KEY = "search.start"


def read_start(
    top: Page, variables: Sequence[Variable], ranges: Sequence[str], folder: Path, mistakes: Mistakes
) -> Start | None:
    """The designs of the front that a study names.

    Args:
        top: the file.
        variables: those without a mistake.
        ranges: paths of all quantities that have a range.
        folder: of the study's file.
        mistakes: where they go.

    Returns:
        None where the study names none, or it is wrong.
    """
    search = top.table.get("search")
    raw = search.get("start") if isinstance(search, dict) else None
    if raw is None:
        return None
    if not isinstance(raw, str) or not raw.strip():
        mistakes.add(_KEY, f"{shown(raw)} stands here", f"a path: {ALLOWED}")
        return None
    text = _bytes(front_file(folder, raw), raw, mistakes)
    table = None if text is None else _front(text, raw, mistakes)
    if text is None or table is None or not _same_variables(table, raw, ranges, mistakes):
        return None
    if len(variables) < len(ranges):
        return None  # a range is wrong, which is said already
    columns = [_column(table, variable, raw, mistakes) for variable in variables]
    X = (
        np.stack([column for column in columns if column is not None], axis=1)
        if all(column is not None for column in columns)
        else None
    )
    return None if X is None else _within(raw, text, variables, X, mistakes)


def front_file(folder: Path, path: str) -> Path:
    """The front's file of a path as a study writes it, which may be that of a run's folder."""
    file = folder / path
    return file / FRONT if file.is_dir() else file


def _bytes(file: Path, raw: str, mistakes: Mistakes) -> bytes | None:
    if not file.is_file():
        found = (
            f"{shown(raw)}: no {FRONT} in it"
            if file.parent.is_dir() and file.name == FRONT
            else f"{shown(raw)}: no such file"
        )
        mistakes.add(_KEY, found, ALLOWED, "the path is relative to the study's file")
        return None
    try:
        with file.open("rb") as stream:
            text = stream.read(LARGEST_FRONT + 1)
    except OSError as error:
        mistakes.add(_KEY, f"{shown(raw)}: cannot be read: {error.strerror}", ALLOWED)
        return None
    if len(text) > LARGEST_FRONT:
        mistakes.add(_KEY, f"{shown(raw)}: too large for a front", f"{LARGEST_FRONT // 2**20} MiB at most")
        return None
    return text


def _front(text: bytes, raw: str, mistakes: Mistakes) -> Any:
    """The file as an Arrow table, or None: feasible designs of a run that has ended or was interrupted."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        table = pq.read_table(BytesIO(text))
    except (OSError, pa.ArrowException):
        mistakes.add(_KEY, f"{shown(raw)}: damaged, or not a Parquet file", ALLOWED)
        return None
    known = {"design", "stage", "feasible"} <= set(table.column_names) and b"state" in (table.schema.metadata or {})
    if not known or not all(table.column("feasible").to_pylist()):
        mistakes.add(_KEY, f"{shown(raw)}: not a front that a run wrote", ALLOWED)
        return None
    if not len(table):
        mistakes.add(_KEY, f"{shown(raw)}: its front is empty", "a front of at least one design")
        return None
    return table


def _same_variables(table: Any, raw: str, ranges: Sequence[str], mistakes: Mistakes) -> bool:
    """Whether a front has the study's variables and no others."""
    theirs = [name for name in table.column_names if name in QUANTITIES]
    lacking = [path for path in ranges if path not in theirs]
    more = [path for path in theirs if path not in ranges]
    found = [f"lacks {', '.join(lacking)}"] * bool(lacking)
    found += [f"has {', '.join(more)}, which this study does not vary"] * bool(more)
    if found:
        mistakes.add(_KEY, f"{shown(raw)}: is of other variables: {'; '.join(found)}", "a front of the same variables")
    return not found


def _column(table: Any, variable: Variable, raw: str, mistakes: Mistakes) -> Array | None:
    """A variable's values in its unit, converted exactly and rounded once; None with a mistake."""
    field = table.schema.field(variable.path)
    unit = (field.metadata or {}).get(b"unit", b"").decode(errors="replace")
    try:
        fits = same_dimension(unit, QUANTITIES[variable.path].unit)
    except UnitError:
        fits = False
    if not fits:
        mistakes.add(_KEY, f"{shown(raw)}: {variable.path} is in {shown(unit)}", f"a unit such as {variable.unit}")
        return None
    values = np.asarray(table.column(variable.path).to_pandas().to_numpy(), dtype=np.float64)
    if not np.isfinite(values).all():
        mistakes.add(_KEY, f"{shown(raw)}: {variable.path} has rows without a number", "a number in every row")
        return None
    if unit == variable.unit:
        return values
    factor = exact_factor(unit) / exact_factor(variable.unit)
    return np.array([float(Fraction(value) * factor) for value in values.tolist()])


def _within(raw: str, text: bytes, variables: Sequence[Variable], X: Array, mistakes: Mistakes) -> Start | None:
    """The designs within the ranges, each once."""
    inside = _inside(variables, X)
    if not inside.any():
        mistakes.add(
            _KEY,
            f"{shown(raw)}: none of its {len(X)} designs lies within the ranges",
            "at least one design within them",
            _beyond(variables, X),
        )
        return None
    U = np.clip(encode_values(variables, X[inside]), 0.0, 1.0)
    U = np.rint(U * _GRID) / _GRID  # one design whatever unit it comes from, and one with the sample's, which lie on it
    _, first = np.unique(U, axis=0, return_index=True)
    return Start(raw, text, np.ascontiguousarray(U[np.sort(first)]), len(X), int(np.count_nonzero(~inside)))


def _inside(variables: Sequence[Variable], X: Array) -> NDArray[np.bool_]:
    inside = np.ones(len(X), dtype=np.bool_)
    for j in range(len(variables)):
        inside &= _inside_one(variables, X, j)
    return inside


def _inside_one(variables: Sequence[Variable], X: Array, j: int) -> NDArray[np.bool_]:
    """(n,): whether values of one variable, of a `times` variable its ratios, lie within its range."""
    variable, x = variables[j], X[:, j]
    if variable.times is not None:
        x = x / X[:, [item.path for item in variables].index(variable.times)]
    slack = _SLACK * max(abs(variable.low), abs(variable.high))
    return np.asarray((variable.low - slack <= x) & (x <= variable.high + slack))


def _beyond(variables: Sequence[Variable], X: Array) -> str:
    """Which variables keep designs out."""
    counts = {item.path: int(np.count_nonzero(~_inside_one(variables, X, j))) for j, item in enumerate(variables)}
    return "outside their range: " + ", ".join(f"{path} in {count}" for path, count in counts.items() if count)
