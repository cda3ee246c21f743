"""Quantities: exact factors, dimensions, and what is refused."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from ridefront.units import UNITS, UnitError, exact, exact_factor, factor, parse, same_dimension


@pytest.mark.parametrize(
    ("unit", "si", "size"),
    [
        ("N/mm", "N/m", 1000.0),
        ("N·s/m", "N*s/m", 1.0),
        ("N s/m", "N*s/m", 1.0),
        ("N/(m/s)", "N*s/m", 1.0),
        ("kg*m²", "kg*m^2", 1.0),
        ("mm", "m", 0.001),
        ("km/h", "m/s", 1 / 3.6),
        ("m/s^2", "m/s^2", 1.0),
        ("m³", "m^3", 1.0),
        ("cm^3", "m^3", 1e-6),
        ("cycles/m", "1/m", 1.0),
        ("Hz", "1/s", 1.0),
        ("1/min", "Hz", 1 / 60),
        ("in", "m", 0.0254),
        ("ft", "m", 0.3048),
        ("lb", "kg", 0.45359237),
        ("lbf", "N", 4.4482216152605),
        ("lbf/in", "N/m", float(Fraction("4.4482216152605") / Fraction("0.0254"))),
        ("t", "kg", 1000.0),
        ("g", "kg", 0.001),
        ("daN", "N", 10.0),
        ("deg", "rad", math.pi / 180),
        ("°", "rad", math.pi / 180),
        ("%", "1", 0.01),
        ("", "1", 1.0),
        ("m**2", "m^2", 1.0),
        ("s^-1", "1/s", 1.0),
    ],
)
def test_factor_is_the_float_next_to_the_exact_one(unit: str, si: str, size: float) -> None:
    assert factor(unit) == size
    assert same_dimension(unit, si)


def test_decimal_factors_are_exact() -> None:
    assert exact_factor("N/mm") == 1000
    assert exact_factor("km/h") == Fraction(5, 18)
    assert exact_factor("kN*s/m") == 1000


@pytest.mark.parametrize(
    ("unit", "si"),
    [("N/mm", "N*s/m"), ("kg", "N"), ("rad", "1"), ("Hz", "rad/s"), ("m", "1"), ("lb/in", "N/m"), ("kg*m", "kg*m^2")],
)
def test_different_dimensions_differ(unit: str, si: str) -> None:
    assert not same_dimension(unit, si)


@pytest.mark.parametrize(
    ("unit", "hint"),
    [
        ("Ns/m", '"N*s"'),  # a plural s would make it newtons per metre
        ("Nm", '"N*m"'),
        ("N/mmm", '"mm"'),
        ("kilograms", '"kilogram"'),
        ("degC", '"deg"'),
        ("furlong", "known:"),
    ],
)
def test_unknown_unit_names_what_was_meant(unit: str, hint: str) -> None:
    with pytest.raises(UnitError, match="not a known unit") as caught:
        factor(unit)
    assert hint in caught.value.hint


@pytest.mark.parametrize(
    "unit",
    ["(", "m)", ")m(", "N/(m", "m/s/", "2*m", "1/", "m^99", "m^2^2", "m^0", "m^1.5", "m/1", "__import__", "m" * 61],
)
def test_what_is_no_unit_is_refused(unit: str) -> None:
    with pytest.raises(UnitError, match=r"is not a (known )?unit"):
        factor(unit)


def test_every_listed_unit_is_known() -> None:
    groups = [group.split() for group in UNITS]
    for group in groups:
        assert all(same_dimension(unit, group[0]) for unit in group)
        assert not any(same_dimension(unit, "kg*m") for unit in group)


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("22 N/mm", Fraction(22), "N/mm"),
        ("22N/mm", Fraction(22), "N/mm"),
        (" -1.5e-3 m ", Fraction(-3, 2000), "m"),
        (".5", Fraction(1, 2), ""),
        ("3. kg", Fraction(3), "kg"),
        ("1e3 kg", Fraction(1000), "kg"),
        ("0.1 mm", Fraction(1, 10), "mm"),
    ],
)
def test_parse_keeps_what_is_written(text: str, number: Fraction, unit: str) -> None:
    assert parse(text) == (number, unit)


@pytest.mark.parametrize("text", ["", "N/mm", "about 3 m", "nan", "inf m", "--3 m"])
def test_parse_refuses_what_does_not_start_with_a_number(text: str) -> None:
    with pytest.raises(UnitError, match="does not start with a number"):
        parse(text)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e100", "1e-101", "1e999999999"])
def test_numbers_beyond_measure_are_refused(number: str) -> None:
    with pytest.raises(UnitError, match=r"finite|beyond"):
        exact(number)
