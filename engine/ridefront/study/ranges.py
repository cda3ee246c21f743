"""Ranges: what makes a vehicle quantity a design variable.

Ends, steps and choices are taken as they are written, in decimal, and become floats once: three steps of 0.1 are 0.3.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from ridefront.errors import CallError
from ridefront.study.key import Key
from ridefront.study.keys import QUANTITIES
from ridefront.study.model import Variable
from ridefront.study.page import Mistakes, Page, Quantity, expected, nearest, quoted, read_quantity, shown
from ridefront.units import exact, factor, same_dimension

MOST_LEVELS = 100_000
"""Steps of one range; more are as good as none."""

FORMS = "{ low, high }, with scale or step; { choices = [...] }; or { times, low, high }"


def read_ranges(raw: Mapping[str, tuple[str, object]], mistakes: Mistakes) -> dict[str, Variable]:
    """Every range of the vehicle.

    Args:
        raw: by path below ``[vehicle]``: the key's path in the file, and the table that stands there.
        mistakes: where they go.

    Returns:
        Variables by path, in the order of the table of keys, those without a mistake only.
    """
    pages = {path: Page(table, key, "range", mistakes) for path, (key, table) in raw.items()}
    found: dict[str, Variable] = {}
    for path, page in pages.items():
        if "times" not in page:
            variable = _plain(path, page)
            if variable is not None:
                found[path] = variable
    for path, page in pages.items():
        if "times" in page:
            variable = _times(path, page, pages, found)
            if variable is not None:
                found[path] = variable
    return {path: found[path] for path in QUANTITIES if path in found}


def _plain(path: str, page: Page) -> Variable | None:
    row = QUANTITIES[path]
    if "choices" in page:
        return _choices(path, page, row)
    low, high = _end(page, "low", row), _end(page, "high", row)
    scale = page.word("scale")
    if low is None or high is None or scale is None:
        return None
    if not _ordered(page, low.si, high.si):
        return None
    if scale == "log" and low.si <= 0:
        page.note("low", f"{shown(page.table['low'])} with a log scale", "a value above 0")
        return None
    top = high.into(low.unit)
    variable = Variable(path, low.unit, factor(low.unit), float(low.number), float(top))
    if scale == "log":
        variable = replace(variable, scale="log")
    return _stepped(page, variable, low, top, row) if "step" in page else variable


def _stepped(page: Page, variable: Variable, low: Quantity, high: Fraction, row: Key) -> Variable | None:
    step = _value(page, "step", row.unit, "positive")
    if step is None:
        return None
    if variable.scale == "log":
        page.note("step", "given with a log scale", "one of the two", "choices may be spaced as you like")
        return None
    size = step.into(low.unit)
    steps = (high - low.number) / size
    if steps > MOST_LEVELS:
        page.note("step", f"{shown(page.table['step'])} makes more than {MOST_LEVELS} steps", "a coarser step, or none")
        return None
    if steps.denominator != 1:
        below = max(int(steps), 1)
        ends = " or ".join(
            f"{float(low.number + k * size):.12g} {low.unit}".removesuffix(" 1") for k in (below, below + 1)
        )
        page.note(
            "high",
            f"{shown(page.table['high'])} is not a whole number of steps above low",
            "low plus a whole number of steps",
            f"nearest: {ends}",
        )
        return None
    return replace(variable, levels=tuple(float(low.number + k * size) for k in range(int(steps) + 1)))


def _choices(path: str, page: Page, row: Key) -> Variable | None:
    for name in ("low", "high", "scale", "step"):
        if name in page:
            page.note(name, "given beside choices", FORMS)
            return None
    raw = page.table["choices"]
    if not isinstance(raw, list) or len(raw) < 2:
        page.note(
            "choices", f"{shown(raw)} stands here", f"a list of at least two, each {expected(row.unit, row.sign)}"
        )
        return None
    read = [page.one(f"{page.at('choices')}[{i}]", item, row) for i, item in enumerate(raw, start=1)]
    good = [item for item in read if item is not None]
    if len(good) < len(raw):
        return None
    unit = good[0].unit
    exactly = sorted(item.into(unit) for item in good)
    if len(set(exactly)) < len(exactly):
        page.note("choices", f"{shown(raw)} has a value twice", "each value once")
        return None
    levels = tuple(float(item) for item in exactly)
    return Variable(path, unit, factor(unit), levels[0], levels[-1], levels=levels)


def _times(path: str, page: Page, pages: Mapping[str, Page], found: Mapping[str, Variable]) -> Variable | None:
    for name in ("choices", "step"):
        if name in page:
            page.note(name, "given beside times", FORMS)
            return None
    low, high = _value(page, "low", "1", "positive"), _value(page, "high", "1", "positive")
    scale, base = page.word("scale"), page.text("times")
    if base is None or not _base_is_good(path, page, base, pages):
        return None
    if low is None or high is None or scale is None or not _ordered(page, low.si, high.si) or base not in found:
        return None
    of = found[base]
    if QUANTITIES[path].sign == "share" and high.si * exact(repr(of.high * of.factor)) >= 1:
        page.note("high", f"{shown(page.table['high'])} times the highest {base} is 1 or more", "less, it is a share")
        return None
    return Variable(
        path, of.unit, of.factor, float(low.si), float(high.si), "log" if scale == "log" else "linear", times=base
    )


def _base_is_good(path: str, page: Page, base: str, pages: Mapping[str, Page]) -> bool:
    others = [name for name in pages if name != path and "times" not in pages[name]]
    if base in others:
        if same_dimension(QUANTITIES[base].unit, QUANTITIES[path].unit):
            return True
        page.note("times", f'"{base}" is measured in {QUANTITIES[base].unit}', f"a quantity in {QUANTITIES[path].unit}")
        return False
    if base == path:
        found = f'"{base}" is the quantity itself'
    elif base in pages:
        found = f'"{base}" is itself times another quantity'
    elif base in QUANTITIES:
        found = f'"{base}" has no range'
    else:
        found = f"no quantity is called {shown(base)}"
    page.note(
        "times", found, quoted(others) if others else "a quantity that has a range of its own", nearest(base, others)
    )
    return False


def _end(page: Page, name: str, row: Key) -> Quantity | None:
    return _value(page, name, row.unit, row.sign)


def _value(page: Page, name: str, unit: str, sign: str) -> Quantity | None:
    """A quantity of a range; missing ones are noted."""
    allowed = expected(unit, sign)
    if name not in page:
        page.note(name, "missing", allowed, f"a range is {FORMS}")
        return None
    try:
        return read_quantity(page.table[name], unit, sign)
    except CallError as error:
        page.note(name, error.message, allowed, error.hint)
        return None


def _ordered(page: Page, low: Fraction, high: Fraction) -> bool:
    if low < high:
        return True
    found = "is empty: low and high are equal" if low == high else "is reversed: low is above high"
    hint = "a value that does not vary needs no range" if low == high else ""
    page.mistakes.add(
        page.path,
        f"the range {found} ({shown(page.table['low'])} to {shown(page.table['high'])})",
        "low below high",
        hint,
    )
    return False
