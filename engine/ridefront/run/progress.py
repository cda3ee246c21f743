"""What people see while a run goes on: one live line on a terminal, now and then a plain line elsewhere."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, TextIO

if TYPE_CHECKING:
    from rich.live import Live


CLOSING = "closing"
"""Stage in which the front is worked out once more, after the last block."""

_WORDS = {
    "repeat": "the best of them in the time domain",
    "refine": "refinement",
    CLOSING: "the front once more",
}


@dataclass(frozen=True)
class Snapshot:
    """How a run stands after a block.

    Attributes:
        title: of the study.
        stage, generation: of the block; `CLOSING` after the last one.
        generations: how many of the block's stage there may be; None where that is not known.
        evaluations: designs so far; planned: at most so many.
        stored: how many of them came from disk.
        front: designs on the front, of the domain in which the search is.
        hypervolume: see the data dictionary; None while there is no box.
        designs_per_second: of this call and domain, None until something has been evaluated.
        seconds_left: at that rate, None until it is known.
    """

    title: str
    stage: str
    generation: int
    generations: int | None
    evaluations: int
    planned: int
    stored: int
    front: int
    hypervolume: float | None
    designs_per_second: float | None
    seconds_left: float | None


class Progress(Protocol):
    """Anything that wants to know how a run stands."""

    def note(self, text: str) -> None:
        """Called before the first block, with what should be known before a long run."""

    def update(self, snapshot: Snapshot) -> None:
        """Called after each block."""

    def close(self) -> None:
        """Called once, when the run is over or interrupted."""


class Silent:
    """Shows nothing."""

    def note(self, text: str) -> None:
        """Takes no notice."""

    def update(self, snapshot: Snapshot) -> None:
        """Takes no notice."""

    def close(self) -> None:
        """Does nothing."""


class Lines:
    """A plain line for the first block of each stage, and one every few seconds.

    Args:
        stream: where to.
        every: seconds between lines of one stage.
        clock: seconds, monotonic.
    """

    def __init__(self, stream: TextIO, every: float = 5.0, clock: Callable[[], float] = time.monotonic) -> None:
        self._stream, self._every, self._clock = stream, every, clock
        self._stage = ""
        self._shown = 0.0
        self._last: Snapshot | None = None

    def note(self, text: str) -> None:
        """Writes it."""
        print(text, file=self._stream, flush=True)

    def update(self, snapshot: Snapshot) -> None:
        """Writes a line if it is time for one."""
        self._last = snapshot
        if snapshot.stage != self._stage or self._clock() - self._shown >= self._every:
            self._write()

    def close(self) -> None:
        """Writes the last line, unless it stands there already."""
        if self._last is not None:
            self._write()

    def _write(self) -> None:
        assert self._last is not None
        print(line(self._last), file=self._stream, flush=True)
        self._stage, self._shown, self._last = self._last.stage, self._clock(), None


class Screen:
    """One line that is drawn over itself.

    Args:
        stream: a terminal.
        every: seconds between drawings.
    """

    def __init__(self, stream: TextIO, every: float = 0.1) -> None:
        self._stream, self._every = stream, every
        self._live: Live | None = None
        self._shown = 0.0

    def note(self, text: str) -> None:
        """Writes it above the line."""
        print(text, file=self._stream, flush=True)

    def update(self, snapshot: Snapshot) -> None:
        """Draws the line anew if it is time for it."""
        from rich.text import Text

        if self._live is None:
            self._live = self._started()
        elif time.monotonic() - self._shown < self._every and snapshot.evaluations < snapshot.planned:
            return
        self._shown = time.monotonic()
        self._live.update(Text(line(snapshot), no_wrap=True, overflow="ellipsis"), refresh=True)

    def close(self) -> None:
        """Leaves the line as it is and gives the terminal back."""
        if self._live is not None:
            self._live.stop()
            self._live = None

    def _started(self) -> Live:
        from rich.console import Console
        from rich.live import Live

        live = Live(console=Console(file=self._stream), auto_refresh=False)
        live.start()
        return live


def progress_for(stream: TextIO | None = None) -> Progress:
    """A screen where the stream is a terminal, else lines; stderr unless given."""
    stream = sys.stderr if stream is None else stream
    return Screen(stream) if stream.isatty() else Lines(stream)


def line(snapshot: Snapshot) -> str:
    """How a run stands, in one line."""
    where = _WORDS.get(snapshot.stage, snapshot.stage)
    if snapshot.generations and snapshot.stage in ("evolve", "continue"):
        where = f"generation {snapshot.generation} of {snapshot.generations}"
        where += " in the time domain" if snapshot.stage == "continue" else ""
    parts = [
        f"{snapshot.title}: {where}",
        f"{snapshot.evaluations:,} of {snapshot.planned:,} designs",
        f"{snapshot.front:,} on the front",
    ]
    if snapshot.stored and snapshot.stored == snapshot.evaluations:
        parts.append("read from disk")
    if snapshot.hypervolume is not None:
        parts.append(f"hypervolume {snapshot.hypervolume:.4f}")
    if snapshot.designs_per_second is not None:
        parts.append(f"{snapshot.designs_per_second:,.0f} designs/s")
    if snapshot.seconds_left is not None:
        parts.append(f"{duration(snapshot.seconds_left)} left")
    return ", ".join(parts)


def duration(seconds: float) -> str:
    """Seconds as people say them: 40 s, 12 min, 3.5 h."""
    if seconds < 100:
        return f"{seconds:.0f} s"
    if seconds < 100 * 60:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h"
