"""Checks against figures from outside the project, and the table of them.

A test that holds one of our figures against a published one says so by `check` (one figure), `check_all` (a table: the
worst entry stands for it) or `check_bound` (no more, or no less, than). All three fail like an assert, and leave a row.
`conftest.py` gathers the rows of all workers when the tests end and writes them to `build/checks.md`; where the whole
of `tests/published` was run, the run fails unless `tests/published/CHECKS.md` is the same.

What is printed must not depend on the machine. So ours is rounded to one digit more than the source gives, differences
to two significant digits and nothing below 1e-9; of figures that another processor's last bits could change, as what a
random search finds, it is said by `robust=False` that they are within what is allowed, and no more.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, replace
from decimal import ROUND_HALF_EVEN, Decimal
from itertools import pairwise
from math import fabs

import numpy as np
from numpy.typing import ArrayLike

HOW = ("seen", "memory", "derived", "library", "simulated", "common practice")
"""How a figure was come by, as the first words of `how`: seen at an address or in a copy; from memory; derived (worked
out anew, or by another way); from an open library; simulated by something simpler; common practice, no source.
"""
NOTHING = 1e-9
MOST_DIGITS = 9
"""A number with more significant digits was worked out, not read: it is shown with `WORKED_OUT` of them."""
WORKED_OUT = 6
FEWEST_DIGITS = 3
"""Significant digits of ours: beside a 1 of theirs, 0.995 shall not read 1.0."""


@dataclass(frozen=True, order=True)
class Row:
    """A line of the table, as printed; all texts."""

    source: str
    figure: str
    unit: str
    theirs: str
    ours: str
    difference: str
    allowed: str
    how: str
    test: str = ""


_ROWS: list[Row] = []


def check(
    *,
    figure: str,
    source: str,
    theirs: str | float,
    ours: float,
    how: str,
    unit: str = "",
    rel: float | None = None,
    abs: float | None = None,
    robust: bool = True,
) -> None:
    """Holds one figure against another and leaves a row.

    Args:
        figure: what it is, for a reader who has the source; one row for each figure of a source.
        source: standard, paper, handbook or library.
        theirs: their figure; a text ("6.90") where trailing noughts count.
        ours: our figure, in the same unit.
        how: how theirs was come by; begins with one of `HOW`.
        unit: of both; empty for a number without.
        rel, abs: what they may differ by, as a share of theirs or in their unit; the larger of the two if both.
        robust: whether the digits printed are the same on every machine.

    Raises:
        AssertionError: they differ by more.
        ValueError: no tolerance, no source, or `how` says nothing.
    """
    _looked_through(figure, source, how)
    their = float(theirs)
    room = _room(their, rel, abs)
    if not fabs(ours - their) <= room:
        raise AssertionError(
            f"{figure} ({source}): ours {ours!r}, theirs {theirs} {unit}: {ours - their:.3g} off, {room:.3g} allowed"
        )
    _ROWS.append(
        Row(
            source,
            figure,
            unit,
            _theirs(theirs),
            _like(ours, theirs) if robust else f"within {_tolerance(rel, abs)}",
            _difference(ours, their, rel is not None) if robust else "",
            _tolerance(rel, abs),
            how,
        )
    )


def check_all(
    *,
    figure: str,
    source: str,
    theirs: Sequence[str | float] | ArrayLike,
    ours: ArrayLike,
    how: str,
    at: Sequence[object] | None = None,
    unit: str = "",
    rel: float | None = None,
    abs: float | None = None,
    robust: bool = True,
) -> None:
    """Holds a table against another, entry by entry; its row is the entry that uses most of what is allowed, or the
    range of theirs where it depends on the machine which one that is.

    Args:
        figure, source, how, unit, rel, abs, robust: as in `check`.
        theirs: their figures, (n,) or of any shape; texts where trailing noughts count.
        ours: our figures, of the same shape.
        at: a name for each entry, in order; else it is counted from 1.

    Raises:
        AssertionError: an entry differs by more, or the shapes differ.
    """
    given = np.asarray(theirs).ravel().tolist()
    mine = np.asarray(ours, dtype=np.float64)
    if mine.shape != np.shape(theirs) or not given:
        raise AssertionError(f"{figure} ({source}): {np.shape(theirs)} figures of theirs, {mine.shape} of ours")
    flat = [float(x) for x in mine.ravel()]
    names = [str(name) for name in at] if at is not None else [f"no. {k + 1}" for k in range(len(given))]
    rooms = [_room(float(y), rel, abs) for y in given]
    worst, alike = _farthest(flat, [float(y) for y in given], rooms)
    many = f"{figure}, {len(given)} entries"
    where = f"all alike, as {names[worst]}" if alike else f"farthest off {names[worst]}"
    check(
        figure=f"{many}, {where}" if robust else many,
        source=source,
        theirs=given[worst],
        ours=flat[worst],
        how=how,
        unit=unit,
        rel=rel,
        abs=abs,
        robust=robust,
    )
    if not robust:
        low, high = (_theirs(choose(given, key=float)) for choose in (min, max))
        _ROWS[-1] = replace(_ROWS[-1], theirs=low if low == high else f"{low} to {high}")


def check_bound(
    *,
    figure: str,
    source: str,
    ours: float,
    how: str,
    at_most: str | float | None = None,
    at_least: str | float | None = None,
    unit: str = "",
    robust: bool = True,
) -> None:
    """Holds a figure against a bound, or between two, and leaves a row.

    Args:
        figure, source, ours, how, unit, robust: as in `check`.
        at_most, at_least: the bounds; one or both.

    Raises:
        AssertionError: the figure lies beyond.
        ValueError: no bound, no source, or `how` says nothing.
    """
    _looked_through(figure, source, how)
    bounds = [b for b in (at_least, at_most) if b is not None]
    if not bounds:
        raise ValueError(f"{figure}: no bound")
    low = -np.inf if at_least is None else float(at_least)
    high = np.inf if at_most is None else float(at_most)
    if not low <= ours <= high:
        raise AssertionError(f"{figure} ({source}): ours {ours!r} {unit}, at least {low:g}, at most {high:g}")
    words = "at most " if at_least is None else "at least " if at_most is None else ""
    printed = words + " to ".join(_theirs(b) for b in bounds)
    kept = "not above" if at_least is None else "not below" if at_most is None else "between"
    shown = _like(ours, bounds[-1]) if robust else kept
    _ROWS.append(Row(source, figure, unit, printed, shown, "", "", how))


def drain() -> list[Row]:
    """Rows left since the last call."""
    rows = list(_ROWS)
    _ROWS.clear()
    return rows


def as_texts(row: Row) -> tuple[str, ...]:
    """A row as it travels between processes; `Row(*texts)` is the way back."""
    return tuple(str(text) for text in astuple(row))


HEAD = """# Figures of others beside ours

Written by the tests themselves: each row is a comparison that passed. Ours has one digit more than the source gives,
three at least; the difference is ours less theirs before rounding, as a share where the tolerance is one. "Farthest
off" is the entry of a table that uses most of what is allowed, "all alike" says that none is off by more than rounding.
"Within", "between", "not above" and "not below" stand where the last digits depend on the machine. To run what is
behind a row: `pytest tests/published/FILE.py`. To write this page anew: `pytest tests/published`, then
`cp build/checks.md tests/published/CHECKS.md`.
"""


def _counted(rows: Sequence[Row]) -> str:
    """How many figures there are, from how many sources, and how theirs was come by. A heading under which nothing was
    seen or remembered, be it only the source of a formula, is ours.
    """
    sources = {row.source for row in rows}
    published = {row.source for row in rows if "seen" in row.how or "memory" in row.how}
    ways = {way: sum(row.how.startswith(way) for row in rows) for way in HOW}
    come_by = ", ".join(f"{way} {count}" for way, count in ways.items() if count)
    return (
        f"{len(rows)} figures from {len(published)} published sources and under {len(sources - published)} headings of "
        f"our own.\nHow theirs was come by: {come_by}."
    )


def written(rows: Iterable[Row]) -> str:
    """The table as Markdown: a section for each source, in order of the alphabet.

    Raises:
        ValueError: one figure of one source has two different rows.
    """
    ordered = sorted(set(rows))
    for one, other in pairwise(ordered):
        if (one.source, one.figure) == (other.source, other.figure):
            raise ValueError(
                f"two rows for {one.figure!r} of {one.source!r}, by {one.test} and {other.test}: name them apart"
            )
    sources = sorted({row.source for row in ordered})
    lines = [HEAD, _counted(ordered)]
    for source in sources:
        lines += ["", f"## {source}", ""]
        lines.append("| figure | unit | theirs | ours | difference | allowed | how theirs was come by | test |")
        lines.append("| --- | --- | --- | --- | --- | --- | --- | --- |")
        for row in ordered:
            if row.source == source:
                lines.append("| " + " | ".join(text.replace("|", "\\|") for text in as_texts(row)[1:]) + " |")
    return "\n".join(lines) + "\n"


def stale(current: str, committed: str | None) -> str | None:
    """What to say where the committed table is not the current one; None where it is."""
    if committed == current:
        return None
    old, new = (committed or "").splitlines(), current.splitlines()
    gone = [line for line in old if line.startswith("|") and line not in new]
    come = [line for line in new if line.startswith("|") and line not in old]
    changes = [f"- {line}" for line in gone[:6]] + [f"+ {line}" for line in come[:6]]
    if len(gone) > 6 or len(come) > 6:
        changes.append(f"  ({len(gone)} rows gone, {len(come)} come)")
    return "\n".join(
        [
            "tests/published/CHECKS.md is not what these tests found:",
            *changes,
            "If that is as it should be:  cp build/checks.md tests/published/CHECKS.md",
        ]
    )


def _looked_through(figure: str, source: str, how: str) -> None:
    if not figure or not source:
        raise ValueError(f"a check names its figure and its source: {figure!r}, {source!r}")
    if not how.startswith(HOW):
        raise ValueError(f"{figure}: how theirs was come by begins with one of {', '.join(HOW)}, not {how!r}")
    if "\n" in figure + source + how:
        raise ValueError(f"{figure}: one line each")


def _room(theirs: float, rel: float | None, abs: float | None) -> float:
    if rel is None and abs is None:
        raise ValueError("a check says what figures may differ by: rel or abs")
    return max((rel or 0.0) * fabs(theirs), abs or 0.0)


def _farthest(ours: Sequence[float], theirs: Sequence[float], rooms: Sequence[float]) -> tuple[int, bool]:
    """The entry that uses most of what is allowed, and whether none is off by more than rounding.

    The last bits shall not choose: what `NOTHING` of theirs, or of the share itself, would change counts as equal, and
    of equal entries the middle one is taken. An entry that is not a number goes before all others.
    """
    used: list[float] = []
    slack: list[float] = []
    for mine, their, room in zip(ours, theirs, rooms, strict=True):
        off = fabs(mine - their)
        if not off < np.inf:
            return len(used), False
        doubt = NOTHING * fabs(their)
        used.append(0.0 if off <= doubt else off / room if room > 0 else np.inf)
        slack.append(doubt / room if room > 0 else 0.0)
    most = max(used)
    if most == np.inf:
        return used.index(most), False
    equal = [k for k in range(len(used)) if used[k] >= most - slack[k] - NOTHING * most]
    return equal[len(equal) // 2], most == 0


def _read(theirs: str | float) -> Decimal:
    """The figure with the digits that were given; a worked out one with `WORKED_OUT`."""
    number = Decimal(theirs) if isinstance(theirs, str) else Decimal(repr(float(theirs)))
    if not isinstance(theirs, str):
        if number == number.to_integral_value() and fabs(number) < 10**MOST_DIGITS:
            return number.quantize(Decimal(1))
        if _worked_out(theirs):
            return _to_digits(number, WORKED_OUT)
    return number


def _worked_out(theirs: str | float) -> bool:
    """Whether it has more digits than anybody would print."""
    return not isinstance(theirs, str) and len(Decimal(repr(float(theirs))).as_tuple().digits) > MOST_DIGITS


def _to_digits(number: Decimal, digits: int) -> Decimal:
    return number.quantize(Decimal(1).scaleb(number.adjusted() - digits + 1), rounding=ROUND_HALF_EVEN)


def _theirs(theirs: str | float) -> str:
    return theirs if isinstance(theirs, str) else _plain(_read(theirs))


def _like(ours: float, theirs: str | float) -> str:
    """Ours with one digit more behind the point than theirs, and not fewer than `FEWEST_DIGITS`; with as many as theirs
    where that was worked out.
    """
    given, number = _read(theirs), Decimal(repr(float(ours)))
    exponent = given.as_tuple().exponent
    assert isinstance(exponent, int)
    finest: int = exponent
    if not _worked_out(theirs):
        finest -= 1
        if given:
            first = max(number.adjusted(), given.adjusted() - 1) if number else given.adjusted()
            finest = min(finest, first - FEWEST_DIGITS + 1)
    rounded = number.quantize(Decimal(1).scaleb(finest), rounding=ROUND_HALF_EVEN)
    return _plain(rounded.copy_abs() if rounded == 0 else rounded)


def _plain(number: Decimal) -> str:
    """Without an exponent, unless the number is very small or very large."""
    return f"{number:f}" if -5 <= number.adjusted() < MOST_DIGITS else f"{number:e}"


def _difference(ours: float, theirs: float, share: bool) -> str:
    """Ours less theirs; a share of theirs where the tolerance is one."""
    off = ours - theirs
    scale = fabs(theirs) or 1.0
    if fabs(off) <= NOTHING * scale:
        return "< 1e-9"
    if not share:
        return f"{off:+.2g}"
    return f"{100 * off / scale:+.2g} %" if fabs(off) >= 1e-5 * scale else f"{off / scale:+.1g}"


def _tolerance(rel: float | None, abs: float | None) -> str:
    words = []
    if rel is not None:
        words.append(f"{100 * rel:g} %" if rel >= 1e-5 else f"{rel:g}")
    if abs is not None:
        words.append(f"{abs:g}")
    return " or ".join(words)
