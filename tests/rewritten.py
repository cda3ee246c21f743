"""Study texts written in another way that means the same, or that means its mirror image."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Context, Decimal
from fractions import Fraction

# Of each unit in SI, by definition (international foot and pound of 1959, CGPM for the newton and standard gravity).
_SIZES = {
    "m": Fraction(1), "mm": Fraction(1, 1000), "cm": Fraction(1, 100), "km": Fraction(1000),
    "in": Fraction("0.0254"), "ft": Fraction("0.3048"),
    "kg": Fraction(1), "t": Fraction(1000), "lb": Fraction("0.45359237"),
    "s": Fraction(1), "ms": Fraction(1, 1000), "min": Fraction(60), "h": Fraction(3600),
    "N": Fraction(1), "kN": Fraction(1000), "lbf": Fraction("0.45359237") * Fraction("9.80665"), "Hz": Fraction(1),
}  # fmt: skip

IMPERIAL = {"m": "ft", "mm": "in", "cm": "in", "km": "ft", "kg": "lb", "t": "lb", "N": "lbf", "kN": "lbf", "h": "min"}
POWERS_OF_TEN = {"m": "mm", "mm": "m", "cm": "m", "km": "m", "kg": "t", "N": "kN", "s": "ms", "h": "s"}

_QUANTITY = re.compile(r'"(-?[\d.]+(?:e-?\d+)?) ([A-Za-z]+(?:\^\d)?(?:[*/][A-Za-z]+(?:\^\d)?)*)"')
_FACTOR = re.compile(r"([*/]?)([A-Za-z]+)(?:\^(\d))?")
_DIGITS = Context(prec=30)


def in_other_units(text: str, instead: Mapping[str, str]) -> str:
    """Every quantity with a unit in other units, to thirty digits; degrees, percentages and plain numbers stay."""

    def other(found: re.Match[str]) -> str:
        value, unit = Fraction(found[1]), ""
        for sign, symbol, power in _FACTOR.findall(found[2]):
            new = instead.get(symbol, symbol)
            times = int(power or 1) * (-1 if sign == "/" else 1)
            if new != symbol:
                value *= (_SIZES[symbol] / _SIZES[new]) ** times
            unit += sign + new + (f"^{power}" if power else "")
        return f'"{_decimal(value)} {unit}"'

    return _QUANTITY.sub(other, text)


def reversed_blocks(text: str, kind: str) -> str:
    """The text with its `[[kind]]` tables, of which there must be several, in the opposite order."""
    pieces = re.split(r"(?m)^(?=\[)", text)
    places = [k for k, piece in enumerate(pieces) if piece.startswith(f"[[{kind}]]")]
    assert len(places) > 1, kind
    turned = [pieces[k].rstrip("\n") + "\n" for k in reversed(places)]
    for k, piece in zip(places, turned, strict=True):
        pieces[k] = piece
    return "".join(pieces)


def mirrored(text: str) -> str:
    """Left and right swapped: seats, masses and obstacles; roads whose tracks are alike in law stay as they are."""
    text, places = re.subn(r'(left_of_centre = ")(-?)', lambda found: found[1] + ("" if found[2] else "-"), text)
    assert places > 0, "nothing is off the centre line"
    sides = {"left": "right", "right": "left"}
    return re.sub(r'(side = ")(left|right)"', lambda found: f'{found[1]}{sides[found[2]]}"', text)


def heavier(text: str, times: int) -> str:
    """Every mass, inertia, force, rate and damping times a number: whatever has a kilogram or a newton in its unit."""

    def other(found: re.Match[str]) -> str:
        powers = [sign for sign, symbol, _ in _FACTOR.findall(found[2]) if symbol in ("kg", "N")]
        assert powers in ([], [""]), found[2]
        return f'"{_decimal(Fraction(found[1]) * (times if powers else 1))} {found[2]}"'

    return _QUANTITY.sub(other, text)


def _decimal(value: Fraction) -> str:
    return f"{_DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator)):f}"
