"""``[catalogue]``: the values in which parts come, and the catalogue's parts about a setup."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import ceil, floor, prod

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.study.keys import QUANTITIES
from ridefront.study.model import Array, Catalogue, Study, Variable
from ridefront.study.page import Mistakes, Page, expected, nearest, path_of, quoted, read_quantity, shown

MOST = 256
"""Combinations of parts about one setup."""

FORMS = "{ step = ... }, { choices = [...] } or a list of values"
_SAME = Fraction(1, 10**9)  # of a step: closer than this, a value is the catalogue's


def read_catalogue(
    top: Page, variables: Sequence[Variable], ranges: Sequence[str], mistakes: Mistakes
) -> dict[str, Catalogue]:
    """What the file says of values in which parts come.

    Args:
        top: the file.
        variables: those without a mistake.
        ranges: paths of all quantities that have a range.
        mistakes: where they go.

    Returns:
        By path, in the order of the variables.
    """
    if "catalogue" not in top:
        return {}
    raw = top.table["catalogue"]
    if not isinstance(raw, dict):
        top.note("catalogue", f"{shown(raw)} stands here", f"a table of parts by path, each {FORMS}")
        return {}
    by_path = {variable.path: variable for variable in variables}
    found: dict[str, Catalogue] = {}
    seen: set[str] = set()
    for path, key, value in _entries(raw):
        if path in seen:
            mistakes.add(key, "given twice", "one entry for each quantity")
        seen.add(path)
        if path not in ranges:
            hint = nearest(path, ranges)
            what = "has no range in this study" if path in QUANTITIES else "no quantity is called so"
            mistakes.add(key, what, "" if hint else quoted(ranges), hint)
        elif path in by_path and by_path[path].levels:
            mistakes.add(key, "its range allows certain values only", "no entry: those values are its catalogue")
        else:
            variable = by_path.get(path)
            entry = _entry(path, key, value, variable, mistakes)
            if entry is not None and variable is not None:
                _check_some(key, entry, variable, by_path, mistakes)
                found[path] = entry
    return {path: found[path] for path in by_path if path in found}


def _entries(table: dict[str, object], path: str = "", key: str = "catalogue") -> Iterator[tuple[str, str, object]]:
    """Path, key as the file has it, and value of every entry: tables are gone into down to a quantity's path."""
    for name, value in table.items():
        inner, inner_key = f"{path}.{name}" if path else name, path_of(key, name)
        below = inner not in QUANTITIES and isinstance(value, dict) and "step" not in value and "choices" not in value
        if below and isinstance(value, dict) and value:
            yield from _entries(value, inner, inner_key)
        else:
            yield inner, inner_key, value


def _entry(path: str, key: str, raw: object, variable: Variable | None, mistakes: Mistakes) -> Catalogue | None:
    row = QUANTITIES[path]
    unit = variable.unit if variable is not None else row.unit
    if isinstance(raw, list):
        return _choices(key, raw, path, unit, mistakes)
    if not isinstance(raw, dict):
        mistakes.add(key, f"{shown(raw)} stands here", FORMS)
        return None
    page = Page(raw, key, "catalogue", mistakes)
    if ("step" in page) == ("choices" in page):
        found = "both step and choices" if "step" in page else "neither step nor choices"
        mistakes.add(key, found, FORMS)
        return None
    if "choices" in page:
        return _choices(page.at("choices"), page.table["choices"], path, unit, mistakes)
    try:
        return Catalogue(read_quantity(page.table["step"], row.unit, "positive").into(unit))
    except CallError as error:
        page.note("step", error.message, expected(row.unit, "positive"), error.hint)
        return None


def _choices(key: str, raw: object, path: str, unit: str, mistakes: Mistakes) -> Catalogue | None:
    row = QUANTITIES[path]
    if not isinstance(raw, list) or not raw:
        mistakes.add(key, f"{shown(raw)} stands here", f"a list of at least one, each {expected(row.unit, row.sign)}")
        return None
    values: list[Fraction] = []
    for k, item in enumerate(raw, start=1):
        try:
            values.append(read_quantity(item, row.unit, row.sign).into(unit))
        except CallError as error:
            mistakes.add(f"{key}[{k}]", error.message, expected(row.unit, row.sign), error.hint)
    if len(values) < len(raw):
        return None
    if len(set(values)) < len(values):
        mistakes.add(key, f"{shown(raw)} has a value twice", "each value once")
        return None
    return Catalogue(None, tuple(float(value) for value in sorted(values)))


def _check_some(
    key: str, entry: Catalogue, variable: Variable, by_path: Mapping[str, Variable], mistakes: Mistakes
) -> None:
    """Note a catalogue with nothing inside the range."""
    if variable.times is not None and variable.times not in by_path:
        return
    low, high = ends(variable, by_path)
    some = any(low <= value <= high for value in about(entry, low) + about(entry, high) + entry.values)
    if not some:
        what = "multiple of the step" if entry.step is not None else "value"
        within = f"{low:.6g} to {high:.6g} {variable.unit}".removesuffix(" 1")
        mistakes.add(key, f"no {what} lies within the range of {variable.path}", f"one at least in {within}")


def ends(variable: Variable, by_path: Mapping[str, Variable]) -> tuple[float, float]:
    """Least and largest value of a variable's range; of one that is times another, over both ranges."""
    if variable.times is None:
        return variable.low, variable.high
    base = by_path[variable.times]
    found = [ratio * end for ratio in (variable.low, variable.high) for end in (base.low, base.high)]
    return min(found), max(found)


def about(entry: Catalogue, value: float) -> tuple[float, ...]:
    """The catalogue's values just below and just above one; the value alone where it is the catalogue's; one side only
    where a list ends.
    """
    if entry.step is not None:
        share = Fraction(value) / entry.step
        if abs(share - round(share)) <= _SAME:
            return (float(round(share) * entry.step),)
        return (float(floor(share) * entry.step), float(ceil(share) * entry.step))
    slack = float(_SAME) * abs(value)
    same = [item for item in entry.values if abs(item - value) <= slack]
    if same:
        return (same[0],)
    below = [item for item in entry.values if item < value]
    above = [item for item in entry.values if item > value]
    return (*below[-1:], *above[:1])


@dataclass(frozen=True)
class Neighbours:
    """The catalogue's parts about a setup.

    Attributes:
        X: (k, d), in the variables' units.
        notes: what was left out because there were too many.
    """

    X: Array
    notes: tuple[str, ...] = ()


def neighbours(study: Study, x: Array, *, wide: bool = False) -> Neighbours:
    """Setups of catalogue parts about a setup x (d,): for each catalogued variable the value just below and just above,
    within its range; for one whose own range allows certain values only that value, the one below and the one above;
    the others as they are; `wide`: one value more on either side. `MOST` combinations at most.
    """
    by_path = {variable.path: variable for variable in study.variables}
    options = [_options(study, variable, by_path, float(x[j]), wide=wide) for j, variable in enumerate(study.variables)]
    notes: list[str] = []
    if prod(map(len, options)) > MOST:
        for j, variable in enumerate(study.variables):
            if variable.levels:
                options[j] = options[j][:1]
        notes.append("too many combinations: quantities with steps or choices of their own were left as they are")
    rounded: list[str] = []
    for j in reversed(range(len(options))):
        if prod(map(len, options)) > MOST and len(options[j]) > 1:
            rounded.append(study.variables[j].path)
            options[j] = (_closest(options[j], float(x[j])),)
    if rounded:
        notes[:] = [*notes, f"too many combinations: {', '.join(reversed(rounded))} simply took the nearest value"]
    X = np.array(list(product(*options)), dtype=np.float64).reshape(-1, len(options))
    within = _within_ratios(study, X)
    if within.any() and not within.all():
        notes.append("parts whose ratio to the quantity that they are a multiple of leaves its range are not looked at")
        X = X[within]
    return Neighbours(X, tuple(notes))


def _within_ratios(study: Study, X: Array) -> NDArray[np.bool_]:
    """(k,): whether every quantity that is a multiple of another one stays within its range of ratios."""
    paths = [variable.path for variable in study.variables]
    within = np.ones(len(X), dtype=np.bool_)
    for j, variable in enumerate(study.variables):
        if variable.times is not None:
            ratio = X[:, j] / X[:, paths.index(variable.times)]
            within &= (ratio >= variable.low * (1 - 1e-9)) & (ratio <= variable.high * (1 + 1e-9))
    return within


def _options(
    study: Study, variable: Variable, by_path: Mapping[str, Variable], value: float, *, wide: bool
) -> tuple[float, ...]:
    """Values to try, the setup's own or nearest first where there is one to keep."""
    if variable.levels:
        levels = variable.levels
        k = min(range(len(levels)), key=lambda i: abs(levels[i] - value))
        return (value, *levels[max(k - 1, 0) : k], *levels[k + 1 : k + 2])
    entry = study.catalogue.get(variable.path)
    if entry is None:
        return (value,)
    low, high = ends(variable, by_path)
    nearest = about(entry, value)
    if wide:
        nearest = (*_next(entry, min(nearest), -1), *nearest, *_next(entry, max(nearest), 1))
    found = tuple(item for item in nearest if low <= item <= high)
    if found:
        return found
    # Beyond the last value on one side: the one next to it on the other.
    inside = [item for end in (low, high) for item in (*about(entry, end), *entry.values) if low <= item <= high]
    return (_closest(inside, value),)


def _next(entry: Catalogue, value: float, side: int) -> tuple[float, ...]:
    """The catalogue's value below (-1) or above (1) one of its own; none where a list ends."""
    if entry.step is not None:
        return (float((round(Fraction(value) / entry.step) + side) * entry.step),)
    beyond = [item for item in entry.values if (item - value) * side > 0]
    return (_closest(beyond, value),) if beyond else ()


def _closest(values: Sequence[float], value: float) -> float:
    return min(values, key=lambda item: abs(item - value))
