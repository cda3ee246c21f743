"""Doubts about sizes across a full car, and about loads that it cannot carry."""

from __future__ import annotations

import pytest

from ridefront.report.doubts import doubts
from study_texts import FULL, changed, read


def about(text: str, word: str) -> list[str]:
    return [line for line in doubts(read(text)) if word in line]


def test_an_ordinary_car_raises_no_doubt() -> None:
    assert not [line for line in doubts(read(FULL)) if " is " in line and "(" in line and " to " in line]


@pytest.mark.parametrize(
    ("key", "value", "path"),
    [
        ("track", "175 m", "front.track"),
        ("roll_inertia", "9.5 kg*m^2", "body.roll_inertia"),
        ("axle_roll_inertia", "0.5 kg*m^2", "rear.axle_roll_inertia"),
        ("spring_spacing", "12.5 m", "rear.spring_spacing"),
    ],
)
def test_a_wrong_unit_is_doubted(key: str, value: str, path: str) -> None:
    line = next(line for line in FULL.splitlines() if line.split(" = ")[0].strip() == key)
    lines = about(changed(FULL, (line, f'{key} = "{value}"')), path)
    assert [each for each in lines if each.startswith(f"{path} is ")]


def test_a_load_that_lifts_a_wheel_is_named() -> None:
    text = FULL.replace(
        "[[road]]",
        """[[load]]
name = "odd"
masses = [{ mass = "1400 kg", behind_front_axle = "1.2 m", left_of_centre = "1.4 m" }]
[[road]]""",
        1,
    )
    (line,) = about(text, "cannot stand")
    assert "under load odd" in line
    assert "would carry -" in line
