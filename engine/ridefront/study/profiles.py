"""Measured roads: CSV and Parquet files of heights along the way, checked row by row.

A file's own mistakes are collected, not raised, each with the row that it stands in: a study notes them under the key
that names the file, the command prints them as they are. Numbers become floats once, in SI.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

from ridefront.errors import CallError, Mistake
from ridefront.road import Profile
from ridefront.road.measured import (
    COARSEST,
    GAP,
    SHORTEST,
    SPIKE,
    STEEP,
    UNEVEN,
    Array,
    estimate,
    gaps,
    profile_of,
    spikes,
    without,
)  # fmt: skip
from ridefront.road.roughness import SHORTEST_SPECTRUM
from ridefront.study.page import nearest
from ridefront.study.tables import HEAD, lines_of
from ridefront.units import UnitError, exact_factor, quote, same_dimension

MOST_SAMPLES = 1_000_000
"""Rows of a profile: 100 km every 100 mm."""

LARGEST_PROFILE = 64 * 2**20
"""Bytes of a profile's file."""

USUAL = (("distance", "height"), ("distance", "left", "right"))
"""Names of the columns unless others are asked for."""

PATH = "the path of a CSV or Parquet file"
EXAMPLE = "distance [m],height [mm]"

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_LISTED = 8  # rows with the same kind of mistake that are named
_NAMED = 3  # rows that a note names
_HIGHEST = 1e4  # m
_STEEP_GRADE = 1.0  # %, a hill worth a word when it is taken off


@dataclass(frozen=True)
class Asked:
    """How a file is to be read.

    Attributes:
        columns: to take, distance first; the usual ones if empty.
        bridge: whether gaps are bridged; drop: whether spikes are removed. Either is refused otherwise.
        estimated: whether the frequency domain is to take the profile's spectrum.
        shortest: m.
        ways: how to ask for gaps bridged, spikes removed and columns, in the words of whoever asks.
    """

    columns: tuple[str, ...] = ()
    bridge: bool = False
    drop: bool = False
    estimated: bool = False
    shortest: float = SHORTEST
    ways: tuple[str, str, str] = ('gaps = "interpolate"', 'spikes = "remove"', 'columns = ["distance", "height"]')


@dataclass
class Read:
    """What became of a file.

    Attributes:
        profile: None where anything is wrong.
        mistakes: their keys are rows, "row 12", or empty for the file.
        content: bytes as read.
    """

    profile: Profile | None = None
    mistakes: list[Mistake] = field(default_factory=list)
    content: bytes = b""


def read_profile(file: Path, name: str, asked: Asked, shown_as: str | None = None) -> Read:
    """Read a measured road and check all of it.

    Args:
        file: CSV, or Parquet by its ending.
        name: of the road.
        asked: how.
        shown_as: what the file is called in results; its own path if None.
    """
    reading = _Reading(file, asked)
    samples = reading.samples()
    if samples is not None and not reading.mistakes:
        reading.check(samples)
    found = Read(None, reading.mistakes, reading.content)
    if samples is not None and not reading.mistakes:
        shown = str(file) if shown_as is None else shown_as
        x, heights, notes = reading.cleaned(samples)
        found.profile = profile_of(name, x, heights, file=shown, estimated=asked.estimated, notes=notes)
        if asked.estimated:
            try:
                estimate(found.profile)
            except CallError as error:
                reading.note(error.message, error.hint)
    return found


@dataclass(frozen=True)
class _Samples:
    """Samples as read, SI: row numbers in the file (n,), distances (n,), heights (tracks, n), names of all columns."""

    rows: Sequence[int]
    x: Array
    heights: Array
    names: tuple[str, ...]


@dataclass(frozen=True)
class _Column:
    """A column to take: its name, its place in the file, its unit as written, and that in SI."""

    name: str
    place: int
    unit: str
    factor: float


class _Reading:
    """One file while it is read."""

    def __init__(self, file: Path, asked: Asked) -> None:
        self.file, self.asked = file, asked
        self.mistakes: list[Mistake] = []
        self.content = b""
        self._more: dict[str, int] = {}

    def note(self, found: str, allowed: str, *, row: int | None = None, hint: str = "", like: str = "") -> None:
        """Note a mistake of the file or of a row; of many rows with mistakes alike, the first few."""
        if like:
            self._more[like] = self._more.get(like, 0) + 1
            if self._more[like] > _LISTED:
                return
        self.mistakes.append(Mistake("" if row is None else f"row {row}", found, allowed, hint))

    def samples(self) -> _Samples | None:
        """The columns asked for; None where even that is not to be had. What is wrong is noted."""
        try:
            if not self.file.exists():
                self.note("no such file", PATH)
                return None
            if not self.file.is_file():
                self.note("not a file", PATH)
                return None
            with self.file.open("rb") as stream:
                self.content = stream.read(LARGEST_PROFILE + 1)
        except (OSError, ValueError) as error:
            self.note(f"cannot be read: {getattr(error, 'strerror', None) or error}", PATH)
            return None
        if len(self.content) > LARGEST_PROFILE:
            self.note("too large for a profile", f"{LARGEST_PROFILE // 2**20} MiB at most")
            return None
        samples = self._parquet() if self.file.suffix.lower() == ".parquet" else self._csv()
        for like, count in self._more.items():
            if count > _LISTED:
                self.note(f"{count - _LISTED} more rows: {like}", "")
        return samples

    def _csv(self) -> _Samples | None:
        try:
            text = self.content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            self.note("not a text", "CSV in UTF-8, or a file called .parquet", row=_line(self.content, error.start))
            return None
        lines = lines_of(text)
        first = next(lines, None)
        if first is None:
            self.note("the file is empty", f"a header, such as {quote(EXAMPLE)}, and rows")
            return None
        number, head = first
        heads = [HEAD.fullmatch(cell) for cell in head.split(",")]
        names = tuple(cell[1] if cell is not None else "" for cell in heads)
        units = [(cell[2] or "").strip() if cell is not None else "" for cell in heads]
        hint = "columns are parted by commas, decimals by points" if ";" in head or "\t" in head else ""
        hint = "names stand without quotes" if '"' in head else hint
        columns = self._columns(names, units, head, number, hint)
        if columns is None:
            return None
        rows: list[int] = []
        values: list[list[float]] = [[] for _ in columns]
        for number, line in lines:
            cells = line.split(",")
            if len(cells) != len(names):
                found = f"{len(cells)} cell{'s' * (len(cells) > 1)}"
                self.note(found, f"{len(names)}, as the header has", row=number, like="cells")
                continue
            rows.append(number)
            for column, into in zip(columns, values, strict=True):
                into.append(self._cell(cells[column.place].strip(), column, number))
        return self._as_samples(rows, [np.array(each) for each in values], columns)

    def _cell(self, cell: str, column: _Column, row: int) -> float:
        value = float(cell) if _NUMBER.fullmatch(cell) else np.nan
        if not np.isfinite(value):
            self._no_number(quote(cell) if cell else "nothing", column, row)
        return value

    def _no_number(self, cell: str, column: _Column, row: int) -> None:
        self.note(f"{column.name} {cell}", f"a finite number, in {column.unit}", row=row, like="no number")

    def _parquet(self) -> _Samples | None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        try:
            with pq.ParquetFile(BytesIO(self.content)) as opened:
                schema, count = opened.schema_arrow, opened.metadata.num_rows
                units = [(each.metadata or {}).get(b"unit", b"").decode("utf-8", "replace") for each in schema]
                columns = self._columns(tuple(schema.names), units, ", ".join(schema.names), None, "")
                if columns is None or self._too_many(count):
                    return None
                table = opened.read(columns=[column.name for column in columns], use_threads=False)
        except (OSError, ValueError, pa.ArrowException) as error:
            reason = str(error).split("\n", 1)[0].rstrip(".")
            self.note(f"damaged, or not a Parquet file: {reason}", "a Parquet file, or CSV in a file called otherwise")
            return None
        values = []
        for column in columns:
            found: Any = table.column(column.name)
            if not (pa.types.is_integer(found.type) or pa.types.is_floating(found.type)):
                self.note(f"column {quote(column.name)} holds {found.type}", "numbers")
                continue
            numbers = np.array(found.cast(pa.float64()).to_numpy(), dtype=np.float64)
            for k in np.flatnonzero(~np.isfinite(numbers)):
                self._no_number("nothing" if not found[int(k)].is_valid else str(numbers[k]), column, int(k) + 1)
            values.append(numbers)
        return None if self.mistakes else self._as_samples(range(1, count + 1), values, columns)

    def _columns(
        self, names: tuple[str, ...], units: list[str], head: str, row: int | None, hint: str
    ) -> list[_Column] | None:
        """The columns to take; None where one is not there or its unit is wrong, which is noted."""
        usual = [each for each in USUAL if sorted(each) == sorted(names)]
        wanted = self.asked.columns or (usual[0] if usual else ())
        if not wanted:
            allowed = f"columns such as {quote(EXAMPLE)}, or left and right for height"
            shown = head if len(head) <= 80 else f"{head[:79]}…"
            self.note(f"columns {quote(shown)}", allowed, row=row, hint=hint or f"{self.asked.ways[2]} takes some")
            return None
        columns, good = [], True
        for name in wanted:
            if names.count(name) != 1:
                what = f"{names.count(name)} columns" if name in names else "no column"
                self.note(f"{what} called {quote(name)}", "one", row=row, hint=hint or nearest(name, names))
                good = False
                continue
            place = names.index(name)
            unit, why = units[place] or "m", ""
            try:
                fits = same_dimension(unit, "m")
            except UnitError as error:
                fits, why = False, error.hint
            if not fits:
                self.note(f"{name} in {quote(unit)}", "a unit of length such as m or mm", row=row, hint=why)
                good = False
                continue
            columns.append(_Column(name, place, unit, float(exact_factor(unit))))
        return columns if good else None

    def _too_many(self, count: int) -> bool:
        if count > MOST_SAMPLES:
            self.note(f"{count:,} rows", f"{MOST_SAMPLES:,} at most")
        return count > MOST_SAMPLES

    def _as_samples(self, rows: Sequence[int], values: list[Array], columns: list[_Column]) -> _Samples | None:
        if self._too_many(len(rows)):
            return None
        x, *heights = (each * column.factor for each, column in zip(values, columns, strict=True))
        for k in np.flatnonzero(np.diff(x) <= 0).tolist():
            before, here = (f"{values[0][j]:.10g}" for j in (k, k + 1))
            found = f"{columns[0].name} {here} {columns[0].unit} after {before} {columns[0].unit}"
            self.note(found, "distance that rises from row to row", row=rows[k + 1], like="distance does not rise")
        for column, track in zip(columns[1:], heights, strict=True):
            for k in np.flatnonzero(np.abs(track) > _HIGHEST).tolist():
                found = f"{column.name} {track[k]:.4g} m"
                self.note(found, f"heights within {_HIGHEST:g} m", row=rows[k], like="beyond all measure")
        return _Samples(rows, x, np.stack(heights), tuple(column.name for column in columns))

    def check(self, samples: _Samples) -> None:
        """Note what is wrong with samples that are right row by row: length, spacing, gaps, spikes."""
        x, shortest = samples.x, max(self.asked.shortest, SHORTEST_SPECTRUM if self.asked.estimated else 0.0)
        # A stretch of 100 m with a sample every metre may have 100 of them.
        if len(x) < 2 or x[-1] - x[0] + np.median(np.diff(x)) < shortest * (1 - 1e-9):
            found = f"{len(x)} row{'s' * (len(x) != 1)}" if len(x) < 2 else f"{x[-1] - x[0]:.4g} m of profile"
            what = "for a spectrum" if self.asked.estimated else "for a road"
            self.note(f"{found}, too short {what}", f"{shortest:g} m or more")
            return
        usual = float(np.median(np.diff(x)))
        limit = SPIKE + STEEP * usual
        if usual > COARSEST:
            self.note(f"a sample every {usual:.4g} m", f"every {COARSEST:g} m at most")
            return
        if (x[-1] - x[0]) / usual > MOST_SAMPLES:
            found = f"{x[-1] - x[0]:.4g} m, with a sample every {usual:.4g} m as usual"
            self.note(found, f"{MOST_SAMPLES:,} samples at most, gaps filled")
            return
        self._more.clear()
        for k in () if self.asked.bridge else gaps(x):
            spacing = x[k + 1] - x[k]
            allowed = f"{GAP:g} times that at most, or {self.asked.ways[0]}"
            found = f"a gap: {spacing:.4g} m after the row before, {usual:.4g} m is usual"
            self.note(found, allowed, row=samples.rows[k + 1], like="gaps")
        for name, track in zip(samples.names[1:], samples.heights, strict=True):
            for k in () if self.asked.drop else spikes(track, usual):
                found = f"a spike: {name} {1e3 * track[k]:.4g} mm, over {1e3 * limit:.3g} mm off its neighbours"
                self.note(found, f"no such sample, or {self.asked.ways[1]}", row=samples.rows[k], like="spikes")
        for like, count in self._more.items():
            if count > _LISTED:
                self.note(f"{count - _LISTED} more rows: {like}", "")

    def cleaned(self, samples: _Samples) -> tuple[Array, Array, tuple[str, ...]]:
        """Distances, heights, and in words what was done to them."""
        x, notes, tracks = samples.x, [], []
        usual = float(np.median(np.diff(x)))
        for name, track in zip(samples.names[1:], samples.heights, strict=True):
            places = spikes(track, usual)
            tracks.append(without(x, track, places))
            if len(places):
                rows = _some([f"row {samples.rows[k]}" for k in places])
                notes.append(f"{len(places)} spike{'s' * (len(places) > 1)} of {name} removed ({rows})")
        places = gaps(x)
        if len(places):
            rows = _some([f"{x[k + 1] - x[k]:.3g} m before row {samples.rows[k + 1]}" for k in places])
            notes.append(f"{len(places)} gap{'s' * (len(places) > 1)} bridged ({rows})")
        spacing = np.delete(np.diff(x), places)
        if np.any(np.abs(spacing - usual) > UNEVEN * usual):
            notes.append(f"samples {spacing.min():.3g} to {spacing.max():.3g} m apart made even at {usual:.4g} m")
        for name, track in zip(samples.names[1:], tracks, strict=True):
            grade = 100 * float(np.polynomial.polynomial.polyfit(x - x.mean(), track, 1)[1])
            if abs(grade) >= _STEEP_GRADE:
                notes.append(f"{name}: a straight line of {grade:.2g} % taken off")
        return x, np.stack(tracks), tuple(notes)


def _some(items: list[str]) -> str:
    more = f" and {len(items) - _NAMED} more" if len(items) > _NAMED else ""
    return ", ".join(items[:_NAMED]) + more


def _line(content: bytes, place: int) -> int:
    return content[:place].count(b"\n") + 1
