"""Sheets as files: nothing is written over but a sheet of the same run, as this program wrote it."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ridefront.errors import CallError
from ridefront.report.sheet.written import Sheet
from ridefront.results.tables import file_errors, write_bytes

_NAME = re.compile(r"setup_[A-Z]+_\d+\.md")
_MARK = re.compile(rb"\n<!-- ridefront setup sheet: run ([0-9a-f]+), text ([0-9a-f]+) -->\n")
_WAY_ON = "move it away, or give another folder: --sheets DIR"


@dataclass(frozen=True)
class Written:
    """What became of a folder's sheets.

    Attributes:
        paths: written.
        removed: earlier sheets of the run, in whose place these are.
        kept: earlier ones that somebody has changed.
    """

    paths: tuple[Path, ...]
    removed: tuple[Path, ...]
    kept: tuple[Path, ...]


@dataclass(frozen=True)
class _Mark:
    """What a sheet's last line says: of which run it is; `whole`: whether the text is as it was written."""

    run: str
    whole: bool


def write_sheets(sheets: Sequence[Sheet], folder: Path, home: Path) -> Written:
    """Write sheets into a folder, which is made where there is none, in place of earlier ones of the same run: letters
    begin anew with each choice, and sheets of two choices beside each other would not be told apart.

    Args:
        sheets: of one run.
        folder: where to.
        home: the run's own folder, where sheets of the run that it held before give way too.

    Raises:
        CallError: a file of that name is not a sheet of this run as it was written; nothing is written then.
        ResultError: a file cannot be read, written or removed.
    """
    with file_errors(folder, "made"):
        folder.mkdir(parents=True, exist_ok=True)
        present = sorted(path for path in folder.iterdir() if _NAME.fullmatch(path.name))
    marks = {path: _mark(path) for path in present}
    paths = tuple(folder / sheet.name for sheet in sheets)
    at_home, run = folder.resolve() == home.resolve(), sheets[0].run if sheets else ""
    for path in paths:
        if path in marks:
            _check(path, marks[path], None if at_home else run)
    own = {path: mark for path, mark in marks.items() if mark is not None and (at_home or mark.run == run)}
    for sheet, path in zip(sheets, paths, strict=True):
        write_bytes(path, marked(sheet))
    removed = tuple(path for path, mark in own.items() if mark.whole and path not in paths)
    for path in removed:
        with file_errors(path, "removed"):
            path.unlink()
    return Written(paths, removed, tuple(path for path, mark in own.items() if not mark.whole))


def marked(sheet: Sheet) -> bytes:
    """A sheet with a last line, not shown, that says whose it is."""
    text = sheet.markdown.encode()
    return text + f"\n<!-- ridefront setup sheet: run {sheet.run}, text {_digest(text)} -->\n".encode()


def _digest(text: bytes) -> str:
    return hashlib.sha256(text).hexdigest()[:16]


def _mark(path: Path) -> _Mark | None:
    """None where a file is no sheet that this program wrote."""
    with file_errors(path, "read"):
        text = path.read_bytes()
    found = _MARK.search(text)
    if found is None:
        return None
    return _Mark(found[1].decode(), found.end() == len(text) and _digest(text[: found.start()]) == found[2].decode())


def _check(path: Path, mark: _Mark | None, run: str | None) -> None:
    """Refuse to write over a file.

    Args:
        path, mark: of the file.
        run: of which it must be; any where None.
    """
    if mark is None:
        raise CallError(f"{path}: is there, and no setup sheet that this program wrote", _WAY_ON)
    if run is not None and mark.run != run:
        raise CallError(f"{path}: is there, a setup sheet of another run", _WAY_ON)
    if not mark.whole:
        raise CallError(f"{path}: is there, a setup sheet that somebody has changed since it was written", _WAY_ON)
