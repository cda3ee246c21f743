"""Words and numbers as people read them."""

from __future__ import annotations

import math

import pytest

from ridefront.report.words import measure, number, quantity, unit


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (1234.5, "1230"),
        (27.04, "27.0"),
        (0.09071, "0.0907"),
        (-3.456, "-3.46"),
        (999.96, "1000"),
        (0.99996, "1.00"),
        (math.nan, "–"),
        (None, "–"),
    ],
)
def test_numbers_have_three_digits(value: float | None, text: str) -> None:
    assert number(value) == text


def test_names_and_units_in_words() -> None:
    assert quantity("front.spring_rate") == "front spring rate"
    assert measure("dynamic_load_coefficient.rear (mean)") == "dynamic load coefficient, rear (mean)"
    assert measure("comfort") == "comfort"
    assert unit("N*s/m") == "N·s/m"
    assert unit("m/s^2") == "m/s²"
    assert unit("1") == ""
