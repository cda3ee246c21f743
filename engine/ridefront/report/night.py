"""What became of a batch of studies: a table at its end."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ridefront.report.words import Table
from ridefront.run.night import Entry
from ridefront.run.progress import duration


def night_table(entries: Sequence[Entry]) -> Table:
    """A row a study: state, designs, front, hypervolume, time; what went wrong below."""
    changed = False
    rows = []
    for entry in entries:
        volume = "" if entry.hypervolume is None else f"{entry.hypervolume:.4f}"
        if entry.before is not None and volume:
            mark = "" if entry.same_figures else " *"
            changed = changed or bool(mark)
            volume = f"{entry.before:.4f} to {volume}{mark}"
        rows.append(
            (
                Path(entry.folder).name,
                entry.state,
                _count(entry.evaluations),
                _count(entry.front),
                volume,
                "" if entry.seconds is None else duration(entry.seconds),
            )
        )
    notes = [f"{Path(entry.folder).name}: {_first(entry)}" for entry in entries if entry.error]
    if any(entry.before is not None for entry in entries):
        notes.append("hypervolume: of the run that was here before to that of this one, both in this one's box")
    if changed:
        notes.append("* a design's figures are not what they were: the vehicle, its roads or the program have changed")
    return Table(
        f"{len(entries)} studies", ("study", "state", "designs", "front", "hypervolume", "time"), tuple(rows),
        text_columns=2, notes=tuple(notes),
    )  # fmt: skip


def _count(number: int | None) -> str:
    return "" if number is None else f"{number:,}"


def _first(entry: Entry) -> str:
    """The first line of an error, and how many more there are."""
    lines = (entry.error or "").splitlines() or [""]
    return lines[0] + (f" (traceback: {entry.log})" if entry.log else "")
