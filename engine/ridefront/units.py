"""Quantities as people write them: a number and a unit, and what that is in SI, exactly.

The registry is pint's, filled with the short list below instead of its own file of a thousand units, which takes half a
second to read. Numbers and factors are fractions, so that 1 N/mm is 1000 N/m and 0.1 + 0.1 + 0.1 mm is 0.3 mm; they
become floats once, at the end. Angles are a dimension of their own: a ratio written in degrees is a mistake.
"""

from __future__ import annotations

import difflib
import re
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pint


class UnitError(ValueError):
    """A text is no quantity or no unit. Rooms above say where it stands, in an exception of their own.

    Attributes:
        message: what is wrong, in words.
        hint: what was probably meant, or what is known; may be empty.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message, self.hint = message, hint


def quote(text: str) -> str:
    """A text in quotes and in one line, shortened where it is long."""
    escaped = "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in text[: _LONGEST + 1])
    return f'"{escaped}"' if len(text) <= _LONGEST else f'"{escaped[: _LONGEST - 3]}..."'


_LONGEST = 60
_DEFINITIONS = """
meter = [length] = m
millimeter = 1/1000 * meter = mm
centimeter = 1/100 * meter = cm
kilometer = 1000 * meter = km
inch = 254/10000 * meter = in
foot = 3048/10000 * meter = ft
gram = [mass] = g
kilogram = 1000 * gram = kg
tonne = 1000 * kilogram = t
pound = 45359237/100000 * gram = lb
second = [time] = s
millisecond = 1/1000 * second = ms
minute = 60 * second = min
hour = 3600 * second = h
hertz = 1 / second = Hz
newton = kilogram * meter / second ** 2 = N
kilonewton = 1000 * newton = kN
decanewton = 10 * newton = daN
poundforce = 44482216152605/10000000000000 * newton = lbf
radian = [angle] = rad
degree = 0.017453292519943295 * radian = deg
cycle = [] = cycles
percent = 1/100
dosetime = [dosetime]
"""

UNITS = (
    "m mm cm km in ft", "kg g t lb", "s ms min h", "Hz", "N kN daN lbf", "rad deg", "cycles", "%",
)  # fmt: skip
"""The units that may be combined, in groups of one dimension each."""

# Vibration dose is in m/s^1.75. Its power of time is a dimension of its own here: other times to that power would have
# factors that are no fractions.
_DOSE_TIME = re.compile(r"(?<![A-Za-z])s\^1\.75(?![\d.])")

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*")
_SYMBOL = r"[A-Za-z]+(?:\^-?[1-9])?"
_UNIT = re.compile(rf"(?:1|\(*{_SYMBOL}\)*)(?:\s*[*/ ]\s*\(*{_SYMBOL}\)*)*")
_SMALLEST, _LARGEST = Fraction(1, 10**100), Fraction(10**100)


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None, non_int_type=Fraction)
    registry.load_definitions(_DEFINITIONS.strip().splitlines())
    return registry


def exact(number: int | Decimal | str) -> Fraction:
    """The number as written, as a fraction.

    Raises:
        UnitError: not a finite number between 1e-100 and 1e100 in size (or 0).
    """
    decimal = Decimal(number)
    if not decimal.is_finite():
        raise UnitError(f"{number} is not a finite number")
    if decimal and not -100 <= decimal.adjusted() < 100:
        raise UnitError(f"{str(number)[:20]} is beyond all measure", "sizes from 1e-100 to 1e100 are understood")
    return Fraction(decimal)


def parse(text: str) -> tuple[Fraction, str]:
    """A quantity such as ``"22 N/mm"``: its number as written, and its unit as written (empty where there is none).

    Raises:
        UnitError: it does not start with a number.
    """
    match = _NUMBER.match(text)
    if match is None:
        raise UnitError(f"{quote(text)} does not start with a number")
    return exact(match[1]), text[match.end() :].strip()


@lru_cache(maxsize=512)
def _read(unit: str) -> tuple[Fraction, tuple[tuple[str, int], ...]]:
    """Exact factor to SI, and dimensions, of a unit."""
    plain = unit.strip()
    for sign, meaning in (("·", "*"), ("²", "^2"), ("³", "^3"), ("**", "^"), ("°", "deg"), ("%", "percent")):
        plain = plain.replace(sign, meaning)
    plain = _DOSE_TIME.sub("dosetime", plain)
    if plain in ("", "1"):
        return Fraction(1), ()
    if len(plain) > _LONGEST or not _UNIT.fullmatch(plain) or not _balanced(plain):
        raise UnitError(f"{quote(unit)} is not a unit", _known())
    for name in re.findall(r"[A-Za-z]+", plain):
        if name not in _names() and not (name == "dosetime" and name not in unit):
            raise UnitError(f'"{name}" is not a known unit', _nearest(name))
    parsed = _registry().parse_units(plain)
    size = _registry().get_base_units(parsed)[0]
    # A whole number of powers each: the pattern lets no others through.
    powers = {str(name): int(str(power)) for name, power in parsed.dimensionality.items()}
    # The registry's base of mass is the gram, SI's the kilogram.
    value = Fraction(str(size)) / Fraction(1000) ** powers.get("[mass]", 0)
    return value, tuple(sorted(powers.items()))


@lru_cache(maxsize=1)
def _names() -> tuple[str, ...]:
    """Every name of the list. The registry itself would take a plural s, and read N s written together as newtons."""
    lines = _DEFINITIONS.strip().splitlines()
    names = (name for line in lines for name in re.findall(r"(?:^|= *)([A-Za-z]+)(?= =|$)", line))
    return tuple(name for name in names if name != "dosetime")


def _nearest(name: str) -> str:
    """What was probably meant: N*s where N and s are written together, else the name that looks most alike."""
    for first, seconds in (("N", ("s", "m", "mm")), ("kN", ("s", "m")), ("daN", ("s", "m")), ("kg", ("m",))):
        for second in seconds:
            if name == first + second:
                return f'nearest: "{first}*{second}"'
    near = difflib.get_close_matches(name, _names(), n=1)
    return f'nearest: "{near[0]}"' if near else _known()


def _balanced(text: str) -> bool:
    depth = 0
    for sign in text:
        depth += (sign == "(") - (sign == ")")
        if depth < 0:
            return False
    return depth == 0


def _known() -> str:
    return f"known: {', '.join(UNITS)}, and what * / ^ make of them"


def exact_factor(unit: str) -> Fraction:
    """SI value of one `unit`, exactly; degrees to the last bit of a float.

    Raises:
        UnitError: the unit is not known.
    """
    return _read(unit)[0]


def factor(unit: str) -> float:
    """SI value of one `unit`, correctly rounded: 1 N/mm is 1000.0 (N/m), 1 km/h is 1/3.6 (m/s).

    Raises:
        UnitError: the unit is not known.
    """
    return float(exact_factor(unit))


def same_dimension(unit: str, si_unit: str) -> bool:
    """Whether the two measure the same thing.

    Raises:
        UnitError: one of them is not known.
    """
    return _read(unit)[1] == _read(si_unit)[1]
