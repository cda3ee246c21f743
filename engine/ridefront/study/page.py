"""One table of a study file while it is read: values by their keys, checked; every mistake noted, none raised."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from ridefront.errors import CallError, Mistake
from ridefront.study.key import Key
from ridefront.study.keys import EXAMPLES, SECTIONS
from ridefront.units import UnitError, exact, exact_factor, parse, quote, same_dimension

_SIGNS = {
    "positive": " above 0", "not negative": ", 0 or above", "share": " between 0 and 1, ends excluded", "any": "",
}  # fmt: skip
_SHOWN = 60


@dataclass(frozen=True)
class Quantity:
    """A quantity as written.

    Attributes:
        number: as written.
        unit: as written; "1" or an SI unit where only a number stands.
        plain: whether only a number stands.
        written: as people wrote it.
    """

    number: Fraction
    unit: str
    plain: bool
    written: str

    @property
    def si(self) -> Fraction:
        """The value in SI, exactly."""
        return self.number * exact_factor(self.unit)

    def into(self, unit: str) -> Fraction:
        """The number in another unit of the same dimension, exactly."""
        return self.number if unit == self.unit else self.si / exact_factor(unit)


def shown(raw: object) -> str:
    """A value of the file in one line, as found: texts in quotes, numbers as written."""
    if isinstance(raw, bool):
        text = "true" if raw else "false"
    elif isinstance(raw, str):
        text = quote(raw)
    elif isinstance(raw, Mapping):
        text = "a table"
    elif isinstance(raw, list):
        text = f"[{', '.join(shown(item) for item in raw[:4])}{', ...' if len(raw) > 4 else ''}]"
    elif isinstance(raw, int) and abs(raw) >= 10**_SHOWN:
        text = "a whole number of more than 60 digits"
    else:
        text = str(raw)
    return text if isinstance(raw, str) or len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."


def path_of(parent: str, key: str) -> str:
    """The path of a key below a table, quoted where TOML would have to."""
    name = key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else quote(key)
    return f"{parent}.{name}" if parent else name


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint with the nearest known name, or nothing where none is near."""
    near = difflib.get_close_matches(name, list(known), n=1)
    return f"nearest: {quote(near[0])}" if near else ""


def quoted(names: Iterable[str]) -> str:
    """Names in quotes, with commas and a last "or"."""
    listed = [quote(name) for name in dict.fromkeys(names)]
    if len(listed) <= 1:
        return "".join(listed) or "nothing"
    return f"{', '.join(listed[:-1])} or {listed[-1]}"


def expected(unit: str, sign: str = "any") -> str:
    """What may stand where a quantity is wanted."""
    example = EXAMPLES.get(unit, f"1 {unit}")
    if unit == "1":
        return f"a number{_SIGNS[sign]}"
    return f'a number in {unit}{_SIGNS[sign]}, or a text with a unit such as "{example}"'


def read_quantity(raw: object, unit: str, sign: str = "any") -> Quantity:
    """A number or a text with a unit, checked for dimension and sign.

    Raises:
        CallError: what is wrong with it, in words; its hint may say what is nearest.
    """
    try:
        number, found = _read_number(raw)
        fits = not found or same_dimension(found, unit)
    except UnitError as error:
        raise CallError(error.message, error.hint) from None
    if not fits:
        raise CallError(f"{shown(raw)} has the wrong unit")
    wrong = {"positive": number <= 0, "not negative": number < 0}.get(sign, False)
    quantity = Quantity(number, found or unit, not found, str(raw).strip())
    if sign == "share":
        wrong = not 0 < quantity.si < 1
    if wrong:
        raise CallError(f"{shown(raw)} is {'not above 0' if sign == 'positive' else 'out of bounds'}")
    return quantity


def _read_number(raw: object) -> tuple[Fraction, str]:
    """Number and unit as written; the unit is empty where only a number stands."""
    if isinstance(raw, bool) or not isinstance(raw, int | Decimal | str):
        raise UnitError(f"{shown(raw)} is not a quantity")
    if isinstance(raw, str):
        return parse(raw)
    if isinstance(raw, int) and abs(raw) >= 10**100:
        raise UnitError(f"{shown(raw)} is beyond all measure")
    return exact(raw), ""


class Mistakes:
    """Mistakes of one file in the order in which they were found."""

    def __init__(self) -> None:
        self.found: list[Mistake] = []

    def add(self, key: str, found: str, allowed: str = "", hint: str = "") -> None:
        """Note one."""
        self.found.append(Mistake(key, found, allowed, hint))


class Page:
    """One table of the file. Unknown keys and missing required ones are noted when it is opened.

    Args:
        raw: what stands in the file; anything but a table is noted as a mistake and read as an empty one.
        path: of the table.
        section: of the table of keys.
        mistakes: where they go.
        unless: required keys that are not missed here.
    """

    def __init__(
        self, raw: object, path: str, section: str, mistakes: Mistakes, unless: frozenset[str] = frozenset()
    ) -> None:
        self.path, self.mistakes, self.keys = path, mistakes, SECTIONS[section]
        self.table: dict[str, Any] = raw if isinstance(raw, dict) else {}
        if not isinstance(raw, dict):
            mistakes.add(path, f"{shown(raw)} stands here", "a table of keys")
            return
        for name in self.table:
            if name not in self.keys:
                hint = nearest(name, self.keys)
                mistakes.add(path_of(path, name), "unknown key", "" if hint else f"keys {', '.join(self.keys)}", hint)
        for name, row in self.keys.items():
            if row.required and name not in self.table and name not in unless:
                self.note(name, "missing", self._what(row))

    def __contains__(self, name: str) -> bool:
        return name in self.table

    def at(self, name: str) -> str:
        """Path of a key of this table."""
        return path_of(self.path, name)

    def note(self, name: str, found: str, allowed: str = "", hint: str = "") -> None:
        """Note a mistake at a key of this table."""
        self.mistakes.add(self.at(name), found, allowed, hint)

    def quantity(self, name: str) -> Quantity | None:
        """A quantity, its default where it is not given; None where there is neither, or a mistake."""
        row = self.keys[name]
        if name not in self.table:
            if row.default is None:
                return None
            return Quantity(Fraction(str(row.default)), row.unit, True, str(row.default))
        return self.one(self.at(name), self.table[name], row)

    def one(self, key: str, raw: object, row: Key) -> Quantity | None:
        """Any value read as the quantity of a row."""
        try:
            return read_quantity(raw, row.unit, row.sign)
        except CallError as error:
            self.mistakes.add(key, error.message, expected(row.unit, row.sign), error.hint)
            return None

    def quantities(self, name: str) -> tuple[Quantity, ...] | None:
        """One quantity or a list of them."""
        raw = self.table.get(name)
        if raw is None:
            return None
        items = raw if isinstance(raw, list) else [raw]
        if not items:
            self.note(name, "an empty list", expected(self.keys[name].unit, self.keys[name].sign))
        paths = [f"{self.at(name)}[{i}]" if isinstance(raw, list) else self.at(name) for i in range(1, len(items) + 1)]
        read = [self.one(path, item, self.keys[name]) for path, item in zip(paths, items, strict=True)]
        good = tuple(item for item in read if item is not None)
        return good if len(good) == len(items) and good else None

    def pair(self, name: str) -> tuple[Quantity, Quantity] | None:
        """A list of two quantities."""
        raw = self.table.get(name)
        if raw is None:
            return None
        if not isinstance(raw, list) or len(raw) != 2:
            self.note(name, f"{shown(raw)} stands here", f"a list of two, each {expected(self.keys[name].unit)}")
            return None
        read = self.quantities(name)
        return None if read is None else (read[0], read[1])

    def word(self, name: str) -> str | None:
        """One of the words that the row allows."""
        row = self.keys[name]
        if name not in self.table:
            return None if row.default is None else str(row.default)
        raw = self.table[name]
        if isinstance(raw, str) and raw in row.words:
            return raw
        hint = nearest(raw, row.words) if isinstance(raw, str) else ""
        self.note(name, f"{shown(raw)} is not known here", quoted(row.words), hint if len(row.words) > 1 else "")
        return None

    def text(self, name: str) -> str | None:
        """A text that says something."""
        if name not in self.table:
            return None
        raw = self.table[name]
        if isinstance(raw, str) and raw.strip():
            return raw
        self.note(name, f"{shown(raw)} stands here", "a text that is not empty")
        return None

    def flag(self, name: str) -> bool:
        """True or false; false where it is not given."""
        raw = self.table.get(name, False)
        if not isinstance(raw, bool):
            self.note(name, f"{shown(raw)} stands here", "true or false")
            return False
        return raw

    def whole(self, name: str) -> int:
        """A whole number, its default where it is not given or wrong."""
        row = self.keys[name]
        default = int(row.default or 0)
        raw = self.table.get(name, default)
        if isinstance(raw, bool) or not isinstance(raw, int) or not row.least <= raw <= row.most:
            self.note(name, f"{shown(raw)} stands here", f"a whole number from {row.least} to {row.most}")
            return default
        return raw

    def names(self, name: str, known: Iterable[str], what: str) -> tuple[str, ...] | None:
        """A text or a list of texts, each the name of something in the file; None where not given or wrong."""
        if name not in self.table:
            return None
        known, raw = list(known), self.table[name]
        items = raw if isinstance(raw, list) else [raw]
        good = True
        for i, item in enumerate(items, start=1):
            key = f"{self.at(name)}[{i}]" if isinstance(raw, list) else self.at(name)
            if not isinstance(item, str):
                self.mistakes.add(key, f"{shown(item)} stands here", f"the name of a {what}, or a list of names")
                good = False
            elif item not in known:
                hint = nearest(item, known)
                self.mistakes.add(
                    key, f"no {what} is called {shown(item)}", quoted(known) if known else f"a [[{what}]]", hint
                )
                good = False
        if good and len(set(items)) < len(items):
            self.note(name, f"{shown(raw)} names one {what} twice", "each name once")
            good = False
        if not items:
            self.note(name, "an empty list", f"the name of a {what}, or a list of names")
            good = False
        return tuple(items) if good else None

    def tables(self, name: str, section: str) -> list[Page]:
        """The tables of a list such as ``[[road]]``, counted from 1 in their paths."""
        raw = self.table.get(name, [])
        if not isinstance(raw, list):
            self.note(name, f"{shown(raw)} stands here", f"a list of tables, [[{name}]]")
            return []
        if not raw and self.keys[name].required and name in self.table:
            self.note(name, "an empty list", f"at least one [[{name}]]")
        return [Page(item, f"{self.at(name)}[{i}]", section, self.mistakes) for i, item in enumerate(raw, start=1)]

    def _what(self, row: Key) -> str:
        if row.kind in ("quantity", "quantities"):
            return expected(row.unit, row.sign)
        if row.kind == "word":
            return quoted(row.words)
        if row.kind == "tables":
            return f"at least one [[{row.name}]]"
        return f"a table [{row.name}]" if row.kind == "table" else "a text that is not empty"
