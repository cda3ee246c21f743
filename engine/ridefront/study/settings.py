"""The rest of a study file: ``[search]``, ``[compute]``, and ``[present]``, today's setup."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np

from ridefront.errors import CallError
from ridefront.study.keys import QUANTITIES
from ridefront.study.model import Array, Response, SearchSettings, Stalled, Start, Variable
from ridefront.study.page import Mistakes, Page, expected, nearest, path_of, quoted, read_quantity, shown


def read_search(top: Page, mistakes: Mistakes, response: Response) -> SearchSettings:
    """Sizes of the search: the sample a power of two, the population even."""
    if "search" not in top:
        return SearchSettings()
    page = Page(top.table["search"], "search", "search", mistakes)
    sample, population = page.whole("sample"), page.whole("population")
    if sample & (sample - 1):
        below = 1 << (sample.bit_length() - 1)
        near = below if sample - below < 2 * below - sample else 2 * below
        page.note("sample", f"{sample} is not a power of two", "2, 4, 8, 16 ...", f"nearest: {near}")
    if population % 2:
        page.note("population", f"{population} is not even", "an even number from 4 on", f"nearest: {population + 1}")
    if "simulated_generations" in page and response != "auto":
        page.note("simulated_generations", f'given with response = "{response}"', 'response = "auto", or no such key')
    if "simulated_refine" in page and response != "auto":
        page.note("simulated_refine", f'given with response = "{response}"', 'response = "auto", or no such key')
    share = page.quantity("certainty_share")
    evaluations, seconds, stalled = _read_until(page, mistakes)
    return SearchSettings(
        sample=sample,
        population=population,
        generations=page.whole("generations"),
        simulated_generations=page.whole("simulated_generations"),
        refine=page.whole("refine"),
        simulated_refine=page.whole("simulated_refine"),
        evaluations=evaluations,
        seconds=seconds,
        stalled=stalled,
        certainty_share=SearchSettings.certainty_share if share is None else float(share.si),
    )


def _read_until(search: Page, mistakes: Mistakes) -> tuple[int | None, float | None, Stalled | None]:
    """Evaluations, seconds and stalling that end a search, each None where it does not."""
    if "until" not in search:
        return None, None, None
    page = Page(search.table["until"], "search.until", "search.until", mistakes)
    seconds, share = page.quantity("seconds"), page.quantity("stalled_share")
    generations = page.whole("stalled_generations")
    if "stalled_generations" in page and "stalled_share" not in page:
        page.note("stalled_generations", "given without stalled_share", "both, or no such key")
    return (
        page.whole("evaluations") if "evaluations" in page else None,
        None if seconds is None else float(seconds.si),
        None if share is None else Stalled(float(share.si), generations),
    )


def check_until(search: SearchSettings, response: Response, start: Start | None, mistakes: Mistakes) -> None:
    """Note a bound on evaluations that leaves nothing for what must come: the sample, and the time domain behind it."""
    before = 0 if start is None else start.taken
    least = before + search.sample + (search.population if response == "auto" else 0)
    if search.evaluations is None or search.evaluations >= least:
        return
    needs = [f"search.start, {before}"] * (start is not None) + [f"the sample, {search.sample}"]
    needs += [f"the population in the time domain, {search.population}"] * (response == "auto")
    mistakes.add(
        "search.until.evaluations", f"{search.evaluations} stands here", f"{least} or more: {', '.join(needs)}"
    )


def read_workers(top: Page, mistakes: Mistakes) -> tuple[int, Literal["threads", "processes"], str | None]:
    """How many workers, where "all" is every core that this process may use; what they are; a cluster's address."""
    page = Page(top.table.get("compute", {}), "compute", "compute", mistakes)
    raw = page.table.get("workers", "all")
    if raw == "all":
        count = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    elif isinstance(raw, bool) or not isinstance(raw, int) or not 1 <= raw <= 4096:
        page.note("workers", f"{shown(raw)} stands here", '"all", or a whole number from 1 to 4096')
        count = 1
    else:
        count = raw
    for name in ("workers", "kind"):
        if name in page and "cluster" in page:
            page.note(name, "given with cluster, which has workers of its own", "one of the two")
    return count, "processes" if page.word("kind") == "processes" else "threads", page.text("cluster")


def read_present(
    top: Page, variables: Sequence[Variable], ranges: Sequence[str], mistakes: Mistakes
) -> tuple[Array | None, tuple[str, ...]]:
    """Today's setup, and what is odd about it.

    Args:
        top: the file.
        variables: those without a mistake.
        ranges: paths of all quantities that have a range.
        mistakes: where they go.

    Returns:
        (d,), in the variables' units, or None where the file has none or it is wrong; notes on values outside their
        ranges.
    """
    if "present" not in top:
        return None, ()
    raw = top.table["present"]
    if not isinstance(raw, dict):
        top.note("present", f"{shown(raw)} stands here", "a table of values by path")
        return None, ()
    by_path = {variable.path: variable for variable in variables}
    given: dict[str, float] = {}
    notes: list[str] = []
    seen: set[str] = set()
    for path, key, value in leaves(raw):
        if path in seen:
            mistakes.add(key, "given twice", "one value for each quantity")
        seen.add(path)
        if path not in ranges:
            hint = nearest(path, ranges)
            found = "has no range in this study" if path in QUANTITIES else "no quantity is called so"
            mistakes.add(key, found, "" if hint else quoted(ranges), hint)
            continue
        row = QUANTITIES[path]
        try:
            quantity = read_quantity(value, row.unit, row.sign)
        except CallError as error:
            mistakes.add(key, error.message, expected(row.unit, row.sign), error.hint)
            continue
        if path in by_path:
            given[path] = float(quantity.into(by_path[path].unit))
            notes += _odd(by_path[path], given[path])
    for path in ranges:
        if path not in seen:
            row = QUANTITIES[path]
            mistakes.add(f"present.{path}", "missing", expected(row.unit, row.sign), "every quantity with a range")
    notes += [note for variable in variables if variable.times for note in _odd_ratio(variable, given)]
    if set(given) != set(by_path):
        return None, ()
    return np.array([given[path] for path in by_path]), tuple(notes)


def leaves(table: dict[str, object], path: str = "", key: str = "present") -> Iterator[tuple[str, str, object]]:
    """Path, key as the file has it, and value of everything in nested tables."""
    for name, value in table.items():
        inner, inner_key = f"{path}.{name}" if path else name, path_of(key, name)
        if isinstance(value, dict):
            yield from leaves(value, inner, inner_key)
        else:
            yield inner, inner_key, value


def _odd(variable: Variable, value: float) -> list[str]:
    if variable.times is not None:
        return []
    where = f"present.{variable.path}, {value:g} {variable.unit}".removesuffix(" 1")
    if not variable.low <= value <= variable.high:
        return [f"{where}, lies outside its range"]
    if variable.levels and value not in variable.levels:
        return [f"{where}, is none of the values that its range allows"]
    return []


def _odd_ratio(variable: Variable, given: dict[str, float]) -> list[str]:
    if variable.path not in given or variable.times not in given:
        return []
    ratio = given[variable.path] / given[variable.times]
    if variable.low * (1 - 1e-12) <= ratio <= variable.high * (1 + 1e-12):
        return []
    return [f"present.{variable.path} is {ratio:.3g} times {variable.times}, outside its range"]
