"""What people see: one line a stage and one every few seconds, or one live line on a terminal."""

from __future__ import annotations

import io
import itertools
from dataclasses import replace

import pytest

from ridefront.run import Snapshot, progress_for
from ridefront.run.progress import CLOSING, Lines, Screen, Silent, duration, line

START = Snapshot(
    title="Estate",
    stage="sample",
    generation=0,
    generations=40,
    evaluations=1025,
    planned=9000,
    stored=0,
    front=80,
    hypervolume=None,
    designs_per_second=None,
    seconds_left=None,
)
LATER = replace(
    START,
    stage="evolve",
    generation=3,
    evaluations=4000,
    hypervolume=0.61234,
    designs_per_second=2500.0,
    seconds_left=2.0,
)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_line_says_what_there_is_to_say() -> None:
    assert line(START) == "Estate: sample, 1,025 of 9,000 designs, 80 on the front"
    assert line(LATER) == (
        "Estate: generation 3 of 40, 4,000 of 9,000 designs, 80 on the front, "
        "hypervolume 0.6123, 2,500 designs/s, 2 s left"
    )
    assert "read from disk" in line(replace(START, stored=1025))
    assert line(replace(LATER, stage="continue")).startswith("Estate: generation 3 of 40 in the time domain, 4,000 of")
    assert line(replace(LATER, stage="repeat")).startswith("Estate: the best of them in the time domain, 4,000 of")
    assert line(replace(LATER, stage=CLOSING)).startswith("Estate: the front once more, 4,000 of")


@pytest.mark.parametrize(("seconds", "text"), [(0.4, "0 s"), (99.0, "99 s"), (150.0, "2 min"), (9000.0, "2.5 h")])
def test_durations(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_lines_come_once_a_stage_and_every_few_seconds() -> None:
    stream, ticks = io.StringIO(), itertools.count()
    lines = Lines(stream, every=4.0, clock=lambda: float(next(ticks)))
    for k in range(3):
        lines.update(replace(START, evaluations=k))
    lines.update(LATER)
    lines.close()
    shown = stream.getvalue().splitlines()
    assert shown == [line(replace(START, evaluations=0)), line(LATER)]


def test_lines_end_with_the_last_state() -> None:
    stream = io.StringIO()
    lines = Lines(stream, every=1e9)
    lines.update(START)
    lines.update(replace(START, evaluations=2049))
    lines.close()
    assert stream.getvalue().splitlines()[-1].startswith("Estate: sample, 2,049 of")
    Lines(stream).close()  # nothing happened: nothing to say


def test_screen_draws_over_itself_and_ends_with_a_full_line() -> None:
    stream = Terminal()
    screen = Screen(stream)
    screen.update(START)
    screen.update(replace(LATER, evaluations=9000))
    screen.close()
    screen.close()
    text = stream.getvalue()
    assert "Estate: sample" in text
    assert "9,000 of 9,000 designs" in text


def test_a_terminal_gets_a_screen_and_a_file_lines() -> None:
    assert isinstance(progress_for(Terminal()), Screen)
    assert isinstance(progress_for(io.StringIO()), Lines)


def test_silent_shows_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    silent = Silent()
    silent.update(START)
    silent.close()
    assert capsys.readouterr() == ("", "")
