"""Tables of measured springs and dampers: CSV files that a study names, checked row by row.

Numbers are taken as they are written, in decimal, and become floats once, in SI. Every mistake of a file is noted with
the row, counted in the file from 1, that it stands in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from ridefront.study.model import Table
from ridefront.study.page import Page, shown
from ridefront.units import UnitError, exact_factor, parse, quote, same_dimension
from ridefront.vehicle.elements import Points

MOST_ROWS = 50
"""Points of a table; a bench gives some tens. Every bend is worked out at every step of every ride: with 200 rows a
ride would take a thousand times as long as with a plain damper.
"""

LARGEST_TABLE = 2**20
"""Bytes of a table's file."""

PATH = "the path of a CSV file, from the study file's folder"

HEAD = re.compile(r"\s*([^\[\]]*?)\s*(?:\[([^\[\]]*)\])?\s*")
"""A cell of a header: a name, and a unit in square brackets or none."""


@dataclass(frozen=True)
class _Kind:
    """What a table has along and what its force must do.

    Attributes:
        along: name of the first column; unit: its SI unit; example: of a header.
        rises: whether force must rise from row to row, not only not fall.
        farthest: largest travel or speed that anybody has measured, SI; beyond it a unit is missing or wrong.
    """

    along: str
    unit: str
    example: str
    rises: bool
    farthest: int


KINDS = {
    "spring_table": _Kind("travel", "m", "travel [mm],force [N]", rises=True, farthest=2),
    "damper_table": _Kind("speed", "m/s", "speed [m/s],force [N]", rises=False, farthest=20),
}
"""What stands in the file that each key names."""


@dataclass(frozen=True)
class _Row:
    """One point of a file: its row number there, its two numbers with their units as written, and in SI."""

    number: int
    written: tuple[str, str]
    along: Fraction
    force: Fraction


def read_table(page: Page, name: str, folder: Path) -> Table | None:
    """The table that a key names.

    Args:
        page: of the axle.
        name: of the key, one of `KINDS`.
        folder: where its path begins.

    Returns:
        None where something is wrong; what it is, is noted.
    """
    raw = page.table[name]
    if not isinstance(raw, str) or not raw.strip():
        page.note(name, f"{shown(raw)} stands here", PATH)
        return None
    reading = _Reading(page, name, raw)
    content = reading.content(folder / raw)
    points = None if content is None else reading.points(content)
    return None if points is None or content is None else Table(raw, content, points)


class _Reading:
    """One file while it is read; every mistake is noted under the key that names it."""

    def __init__(self, page: Page, name: str, path: str) -> None:
        self.page, self.name, self.path, self.kind = page, name, path, KINDS[name]
        self.columns = (self.kind.along, "force")
        self.units = (self.kind.unit, "N")
        self.mistakes = 0

    def note(self, found: str, allowed: str, *, row: int | None = None, hint: str = "") -> None:
        """Note a mistake of the file, or of one of its rows."""
        where = quote(self.path) if row is None else f"{quote(self.path)} row {row}"
        self.page.note(self.name, f"{where}: {found}", allowed, hint)
        self.mistakes += 1

    def content(self, file: Path) -> bytes | None:
        """The file's bytes."""
        content = None
        try:
            if not file.exists():
                self.note("no such file", PATH)
            elif not file.is_file():
                self.note("not a file", PATH)
            else:
                with file.open("rb") as stream:
                    content = stream.read(LARGEST_TABLE + 1)
        except OSError as error:
            self.note(f"cannot be read: {error.strerror}", PATH)
        if content is not None and len(content) > LARGEST_TABLE:
            self.note("too large for a table", f"{LARGEST_TABLE // 2**20} MiB at most")
            return None
        return content

    def points(self, content: bytes) -> Points | None:
        """The points in SI; None where anything is wrong."""
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            self.note("not a text", "CSV in UTF-8", row=content[: error.start].count(b"\n") + 1)
            return None
        lines = list(lines_of(text))
        if not lines:
            self.note("the file is empty", f"a header, such as {quote(self.kind.example)}, and rows")
            return None
        if not self._header(*lines[0]):
            return None
        if len(lines) - 1 > MOST_ROWS:
            self.note(f"{len(lines) - 1} rows", f"{MOST_ROWS} at most")
            return None
        rows = [row for number, line in lines[1:] if (row := self._row(number, line)) is not None]
        self._check_order(rows)
        if not self.mistakes:
            self._check_whole(rows)
        if self.mistakes:
            return None
        return Points(tuple(float(row.along) for row in rows), tuple(float(row.force) for row in rows))

    def _header(self, number: int, line: str) -> bool:
        """Read the columns' units. A header that is wrong leaves nothing to check the rows by."""
        heads = [HEAD.fullmatch(cell) for cell in line.split(",")]
        if tuple(head[1] if head is not None else "" for head in heads) != self.columns:
            hint = "columns are parted by commas, decimals by points" if ";" in line or "\t" in line else ""
            allowed = f"two columns, such as {quote(self.kind.example)}"
            self.note(f"{quote(line)} is no header", allowed, row=number, hint=hint)
            return False
        units = []
        for head, column, unit in zip(heads, self.columns, self.units, strict=True):
            assert head is not None, "a cell that is no head has no name"
            written, hint = unit if head[2] is None else head[2].strip(), ""
            try:
                fits = same_dimension(written, unit)
            except UnitError as error:
                fits, hint = False, error.hint
            if not fits:
                self.note(f"{column} in {quote(written)}", f"a unit of {column} such as {unit}", row=number, hint=hint)
            units.append(written)
        self.units = (units[0], units[1])
        return not self.mistakes

    def _row(self, number: int, line: str) -> _Row | None:
        """One point; None where a cell is wrong."""
        cells = [cell.strip() for cell in line.split(",")]
        if len(cells) != 2:
            self.note(f"{len(cells)} cell{'s' * (len(cells) > 1)}", f"two, {self.kind.along} and force", row=number)
            return None
        values = []
        for cell, column, unit in zip(cells, self.columns, self.units, strict=True):
            try:
                value, rest = parse(cell)
            except UnitError:
                value, rest = Fraction(0), cell or "nothing"
            if rest:
                self.note(f"{column} {quote(cell)}", f"a finite number, in {unit}", row=number)
            else:
                values.append(value * exact_factor(unit))
        if len(values) < 2:
            return None
        return _Row(number, (f"{cells[0]} {self.units[0]}", f"{cells[1]} {self.units[1]}"), values[0], values[1])

    def _check_order(self, rows: list[_Row]) -> None:
        """Note rows that do not follow the one before."""
        along = self.kind.along
        for before, row in pairwise(rows):
            if row.along <= before.along:
                found = f"{along} {row.written[0]} after {before.written[0]}"
                self.note(found, f"{along} that rises from row to row", row=row.number)
            elif row.force < before.force or (self.kind.rises and row.force == before.force):
                found = f"force {row.written[1]} after {before.written[1]}"
                allowed = "force that rises from row to row" if self.kind.rises else "force that does not fall"
                self.note(found, allowed, row=row.number)

    def _check_whole(self, rows: list[_Row]) -> None:
        """Note what is wrong with a table whose rows are right, each by itself and after the one before."""
        if len(rows) < 2:
            self.note(f"{len(rows)} row{'s' * (len(rows) != 1)}", f"2 to {MOST_ROWS} rows")
            return
        first, last = rows[0], rows[-1]
        far = max((first, last), key=lambda row: abs(row.along))
        if abs(far.along) > self.kind.farthest:
            allowed = f"{self.kind.along} within {self.kind.farthest} {self.kind.unit}"
            hint = f"a header without units is in {self.kind.unit} and N"
            self.note(f"{self.kind.along} {far.written[0]}", allowed, row=far.number, hint=hint)
            return
        ends = f"{self.kind.along} from {first.written[0]} to {last.written[0]}"
        if self.name == "spring_table":
            if first.along > 0 or last.along < 0:
                self.note(ends, "travel that includes 0, the reference position")
        elif first.along >= 0 or last.along <= 0:
            self.note(ends, "at least one speed below 0 and one above")
        else:
            force = float(_force_at_rest(rows) / exact_factor(self.units[1]))
            if force:
                if any(row.along == 0 for row in rows):
                    hint = "the gas's force is no part of the table: it goes into gas_force"
                else:
                    hint = "a line through the rows on both sides of 0 meets it there: add the row 0,0"
                self.note(f"force {force:.6g} {self.units[1]} at speed 0", "none there", hint=hint)


def lines_of(text: str) -> Iterator[tuple[int, str]]:
    """Lines that say something, with their numbers in the file."""
    for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), start=1):
        plain = line.strip()
        if plain and not plain.startswith("#"):
            yield number, plain


def _force_at_rest(rows: list[_Row]) -> Fraction:
    """Force at 0, which lies above the first row, exactly."""
    k = next(k for k, row in enumerate(rows) if row.along >= 0)
    left, right = rows[k - 1], rows[k]
    return left.force - (right.force - left.force) * left.along / (right.along - left.along)
