"""The design space: from the search's unit cube to stored numbers, from stored numbers to SI.

The stored number, in the study's unit, is the primary one: it is decoded once, SI is stored times factor, and nothing
converts back. All arithmetic is elementwise on contiguous arrays, so that a design's bits do not depend on which others
stand beside it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridefront.errors import CallError
from ridefront.study.keys import QUANTITIES
from ridefront.study.model import Array, Study, Variable
from ridefront.study.page import expected, nearest, quoted, read_quantity
from ridefront.units import UnitError, exact_factor, parse, quote

_SLACK = 1e-9  # relative: a value that went through a text or another unit


def levels(study: Study) -> tuple[int, ...]:
    """How many admissible values each variable has, (d,); 0 for a continuous one."""
    return tuple(len(variable.levels) for variable in study.variables)


def decode(study: Study, U: Array) -> Array:
    """Stored numbers of points of the unit cube.

    Args:
        study: whose variables they are.
        U: (n, d), within [0, 1].

    Returns:
        X (n, d), in the variables' units. A variable of k levels takes level min(floor(u k), k - 1); a `times`
        variable is the quantity that results, ratio times the other variable's stored number.
    """
    columns: dict[str, Array] = {}
    for j, variable in enumerate(study.variables):
        columns[variable.path] = _decode_one(variable, np.ascontiguousarray(U[:, j]))
    for variable in study.variables:
        if variable.times is not None:
            columns[variable.path] = columns[variable.path] * columns[variable.times]
    if not columns:
        return np.empty((len(U), 0))
    return np.stack([columns[variable.path] for variable in study.variables], axis=1)


def _decode_one(variable: Variable, u: Array) -> Array:
    """Stored numbers (n,) of one variable; of a `times` variable the ratio."""
    low, high = variable.low, variable.high
    if variable.levels:
        count = len(variable.levels)
        code = np.minimum(np.floor(u * count), count - 1).astype(np.intp)
        return np.take(np.array(variable.levels), code)
    x: Array
    x = low * np.exp(u * np.log(high / low)) if variable.scale == "log" else low + u * (high - low)
    x = np.minimum(np.maximum(x, low), high)
    return x


def encode(study: Study, X: Array) -> Array:
    """Points of the unit cube that stand for stored numbers: what `decode` undoes, up to rounding.

    For differences along the variables and for distances only: what is stored never comes from here.

    Args:
        study: whose variables they are.
        X: (n, d), in the variables' units.

    Returns:
        U (n, d). Within [0, 1] where X lies within the ranges, beyond it otherwise; a discrete variable takes the
        middle of the cell of the nearest admissible value, a variable whose range is a point 0.5.
    """
    return encode_values(study.variables, X)


def encode_values(variables: Sequence[Variable], X: Array) -> Array:
    """As `encode`, of variables that are not yet part of a study."""
    columns = {variable.path: X[:, j] for j, variable in enumerate(variables)}
    U = np.empty_like(X)
    for j, variable in enumerate(variables):
        x = columns[variable.path]
        if variable.times is not None:
            x = x / columns[variable.times]
        U[:, j] = _encode_one(variable, x)
    return U


def _encode_one(variable: Variable, x: Array) -> Array:
    """Where values (n,) of one variable lie in its range; of a `times` variable its ratios."""
    low, high = variable.low, variable.high
    if variable.levels:
        away = np.abs(x[:, None] - np.array(variable.levels))
        return np.asarray((np.argmin(away, axis=1) + 0.5) / len(variable.levels))
    if high == low:
        return np.full(len(x), 0.5)
    u: Array = np.log(x / low) / np.log(high / low) if variable.scale == "log" else (x - low) / (high - low)
    # A ratio of stored numbers may lie a rounding beyond the range that it was decoded from.
    return np.where((u < 0) & (u > -_SLACK), 0.0, np.where((u > 1) & (u < 1 + _SLACK), 1.0, u))


def parameters(study: Study, X: Array) -> dict[str, Array]:
    """Every vehicle quantity of designs, in SI.

    Args:
        study: whose variables the columns are.
        X: (n, d), in the variables' units.

    Returns:
        By path, each (n,) and contiguous: what the study fixes, and its variables.
    """
    n = len(X)
    values = {path: np.full(n, value) for path, value in study.fixed.items()}
    for j, variable in enumerate(study.variables):
        values[variable.path] = np.ascontiguousarray(X[:, j]) * variable.factor
    return values


def bounds(study: Study) -> tuple[Array, Array]:
    """Least and largest value of each variable, (d,) each, in its unit: of its range and of today's setup."""
    by_path = {variable.path: variable for variable in study.variables}
    low, high = [], []
    for j, variable in enumerate(study.variables):
        ends = [variable.low, variable.high]
        if variable.times is not None:
            base = by_path[variable.times]
            ends = [ratio * end for ratio in ends for end in (base.low, base.high)]  # a base may be below 0
        if study.present is not None:
            ends.append(float(study.present[j]))
        low.append(min(ends))
        high.append(max(ends))
    return np.array(low), np.array(high)


def check_within(study: Study, X: Array) -> None:
    """Refuse designs beyond the bounds from which the time domain's step was taken.

    Args:
        study: whose variables the columns are.
        X: (n, d), in the variables' units.

    Raises:
        CallError: a design lies outside; it names the first one, its values and what is allowed.
    """
    low, high = bounds(study)
    slack = _SLACK * np.maximum(np.abs(low), np.abs(high))
    outside = ~((low - slack <= X) & (high + slack >= X))
    if not outside.any():
        return
    row = int(np.flatnonzero(outside.any(axis=1))[0])
    wrong = [
        f"{variable.path} = {X[row, j]:.6g} {variable.unit}".removesuffix(" 1")
        + f" (allowed: {low[j]:.6g} to {high[j]:.6g})"
        for j, variable in enumerate(study.variables)
        if outside[row, j]
    ]
    where = f"design in row {row + 1}: " if len(X) > 1 else ""
    raise CallError(
        f"{where}{', '.join(wrong)}: outside the bounds that the time domain's step is made for",
        "widen the ranges in the study, which sets the step anew",
    )


def set_values(study: Study, pairs: Sequence[str]) -> Array:
    """A design by hand: the present setup with some quantities changed.

    Args:
        study: whose variables may be set.
        pairs: each ``NAME=VALUE``, the value with a unit or in the study's.

    Returns:
        X (1, d), in the variables' units. Values outside a range, or between its steps, are taken as they are.

    Raises:
        CallError: a name that is not a variable's, a name given twice, a value that is not such a quantity, or, where
            the study has no present setup, a variable that is left out.
    """
    given: dict[str, float] = {}
    variables = {variable.path: variable for variable in study.variables}
    for pair in pairs:
        name, equals, value = (part.strip() for part in pair.partition("="))
        if not equals:
            raise CallError(f"{quote(pair)} is not NAME=VALUE", f"names: {', '.join(variables)}")
        if name not in variables:
            what = "is fixed by the study" if name in study.fixed else "is not a design variable"
            hint = nearest(name, variables)
            raise CallError(f"{quote(name)} {what}; allowed: {quoted(variables)}", hint)
        if name in given:
            raise CallError(f'"{name}" is set twice')
        given[name] = stored_value(variables[name], value)
    missing = [path for path in variables if path not in given]
    if missing and study.present is None:
        hint = "the study has no [present] setup to start from"
        raise CallError(f"no value for {', '.join(missing)}", hint)
    start = study.present if study.present is not None else np.zeros(len(study.variables))
    return np.array([[given.get(path, start[j]) for j, path in enumerate(variables)]])


def stored_value(variable: Variable, text: str) -> float:
    """A value of one variable, as people write it, in the variable's unit.

    Args:
        variable: what it is a value of.
        text: a number in the variable's unit, or a number and a unit.

    Raises:
        CallError: it is neither, has the wrong unit, or the wrong sign.
    """
    row = QUANTITIES[variable.path]
    try:
        number, unit = parse(text)
        read_quantity(text if unit else f"{text} {variable.unit}".removesuffix(" 1"), row.unit, row.sign)
    except (CallError, UnitError) as error:
        allowed = expected(row.unit, row.sign).replace(f"in {row.unit}", f"in {variable.unit}")
        raise CallError(f"{variable.path}: {error.message}; allowed: {allowed}", error.hint) from None
    if not unit or unit == variable.unit:
        return float(number)
    return float(number * exact_factor(unit) / exact_factor(variable.unit))
