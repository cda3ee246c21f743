"""What is asked of a choice, as people write it: weights of objectives, requirements on columns."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridefront.errors import CallError
from ridefront.report.words import unit as printed_unit
from ridefront.study.model import Array, Study
from ridefront.study.page import nearest
from ridefront.units import UnitError, exact_factor, parse, quote, same_dimension

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Requirement:
    """A limit on a column of a front.

    Attributes:
        column: its name.
        sign: 1 for at most, -1 for at least.
        limit: in the column's unit.
        unit: the column's.
    """

    column: str
    sign: int
    limit: float
    unit: str

    @property
    def words(self) -> str:
        """As people read it: "comfort <= 0.45 m/s²"."""
        shown = "" if self.unit in ("none", "1") else f" {printed_unit(self.unit)}"
        return f"{self.column} {'<=' if self.sign > 0 else '>='} {self.limit:g}{shown}"


def read_weights(study: Study, pairs: Sequence[str]) -> Array | None:
    """Weights of the study's objectives, (m,); 1 for those that are not named, None where none is given.

    Args:
        study: whose objectives they are.
        pairs: each ``NAME=WEIGHT``; a name is the objective's column, or its criterion's where that is one objective's.

    Raises:
        CallError: a name that no objective has or that is given twice, a weight that is no number of 0 or more, or no
            weight above 0.
    """
    if not pairs:
        return None
    labels = [item.measure.label for item in study.objectives]
    given: dict[str, float] = {}
    for pair in pairs:
        name, equals, text = (part.strip() for part in pair.rpartition("="))
        if not equals or not name:
            raise CallError(f"--weight {quote(pair)}: not NAME=WEIGHT", f"names: {', '.join(labels)}")
        label = _objective(study, name)
        if label in given:
            raise CallError(f"--weight {quote(name)}: given twice; allowed: once")
        given[label] = _weight(pair, text)
    weights = np.array([given.get(label, 1.0) for label in labels])
    if not (weights > 0).any():
        raise CallError("--weight: every objective has weight 0; allowed: at least one above 0")
    return weights


def _objective(study: Study, name: str) -> str:
    """The label of the objective that a name stands for."""
    labels = [item.measure.label for item in study.objectives]
    if name in labels:
        return name
    of = [item.measure.label for item in study.objectives if item.measure.criterion == name]
    if len(of) == 1:
        return of[0]
    allowed = ", ".join(quote(label) for label in of or labels)
    what = "several objectives are of it" if of else "the study has no such objective"
    raise CallError(f"--weight {quote(name)}: {what}; allowed: {allowed}", "" if of else nearest(name, labels))


def _weight(pair: str, text: str) -> float:
    try:
        number, found = parse(text)
    except UnitError:
        number, found = None, ""
    if number is None or found or number < 0:
        raise CallError(f"--weight {quote(pair)}: {quote(text)} is no weight; allowed: a number, 0 or above")
    return float(number)


def read_requirements(front: pd.DataFrame, texts: Sequence[str]) -> tuple[Requirement, ...]:
    """Requirements on a front's columns.

    Args:
        front: as `ridefront.results.read_front` gives it.
        texts: each ``NAME<=VALUE`` or ``NAME>=VALUE``, the value in the column's unit or with a unit.

    Raises:
        CallError: a text of another form, a name that is no column of numbers, a value of another unit.
    """
    return tuple(_requirement(front, text) for text in texts)


def _requirement(front: pd.DataFrame, text: str) -> Requirement:
    import pandas as pd

    found = re.fullmatch(r"(.+?)\s*(<=|>=)\s*(.+)", text.strip())
    if found is None or re.search(r"[<>=]", found[1] + found[3]):
        raise CallError(f'--require {quote(text)}: allowed: "NAME<=VALUE" or "NAME>=VALUE", in quotes for the shell')
    name, operator, value = found[1], found[2], found[3]
    numbers = [
        str(column)
        for column in front.columns
        if pd.api.types.is_numeric_dtype(front[column]) and not pd.api.types.is_bool_dtype(front[column])
    ]
    if name not in numbers:
        what = "holds no numbers" if name in front.columns else "the front has no such column"
        hint = nearest(name, numbers)
        known = "" if hint else f"; allowed: {', '.join(numbers)}"
        raise CallError(f"--require {quote(name)}: {what}{known}", hint)
    if len(front) and front[name].isna().all():
        raise CallError(f"--require {quote(name)}: no design of the front has a figure there; allowed: another column")
    unit = str(front.attrs.get("units", {}).get(name, "1"))
    return Requirement(name, 1 if operator == "<=" else -1, _limit(name, value, unit), unit)


def _limit(name: str, value: str, unit: str) -> float:
    """A value as written in the column's unit."""
    allowed = "a number" if unit in ("none", "1") else f"a number in {unit}, or with a unit of the same kind"
    try:
        number, written = parse(value)
        fits = not written or same_dimension(written, unit)
    except UnitError as error:
        raise CallError(f"--require {name}: {error.message}; allowed: {allowed}", error.hint) from None
    if not fits:
        raise CallError(f"--require {name}: {quote(value)} has the wrong unit; allowed: {allowed}")
    if not written or written == unit:
        return float(number)
    return float(number * exact_factor(written) / exact_factor(unit))
