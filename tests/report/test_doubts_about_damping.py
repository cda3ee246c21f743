"""Doubts about damping: ranges that allow so little that figures are not exact."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from commands import Call, caller
from ridefront.report.doubts import doubts
from ridefront.study import Study, read_study
from study_texts import CORNER, ESTATE, FULL, changed, read

GRID, RUN_UP = "damping ratios may be as low as ", "the body's swings may die away with no more than "
PLAIN = """
title = "one corner"
response = "{response}"
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "400 kg"
[vehicle.front]
unsprung_mass = "40 kg"
spring_rate = {{ low = "15 N/mm", high = "25 N/mm" }}
damping = {{ low = {low}, high = 3000.0 }}
tyre_rate = "200 N/mm"
{road}
[[condition]]
road = "lane"
speed = "60 km/h"
[[objective]]
criterion = "comfort"
[[objective]]
criterion = "rattle_space"
"""
RANDOM = '[[road]]\nname = "lane"\nkind = "iso8608"\nclass = "B"'


def plain(low: float, response: str, road: str = RANDOM) -> Study:
    """A corner without knees and friction, whose least damping in the ranges is `low`, N·s/m."""
    return read(PLAIN.format(low=low, response=response, road=road))


def said(study: Study) -> dict[str, float]:
    """The figure that each kind of line gives."""
    found = {}
    for line in doubts(study):
        for start in (GRID, RUN_UP):
            if line.startswith(start):
                number = re.match(r"[\d.e-]+", line.removeprefix(start))
                assert number is not None
                assert "(front, lane @ 60 km/h)" in line
                found[start] = float(number[0])
    return found


@pytest.mark.parametrize("response", ["frequency-domain", "time-domain", "auto"])
def test_ordinary_cars_raise_no_doubt(response: str) -> None:
    for text in (CORNER, ESTATE, FULL):
        other = re.sub('response = "[a-z-]*"\n', "", text)
        lines = doubts(read(f'response = "{response}"\n{other}'))
        assert not [line for line in lines if line.startswith((GRID, RUN_UP))]


@pytest.mark.parametrize(
    ("low", "response", "kinds"),
    [
        (400.0, "frequency-domain", set()),
        (400.0, "time-domain", set()),
        (200.0, "frequency-domain", set()),
        (200.0, "time-domain", {RUN_UP}),
        (200.0, "auto", {RUN_UP}),
        (100.0, "frequency-domain", {GRID}),
        (100.0, "time-domain", {GRID, RUN_UP}),
    ],
)
def test_what_ranges_allow(low: float, response: str, kinds: set[str]) -> None:
    """The body alone on its stiffest spring, c/2√(k m), and the wheel between spring and tyre; c/2m: by hand."""
    found = said(plain(low, response))
    assert set(found) == kinds
    body, hop = 0.5 * low / np.sqrt(25e3 * 400), 0.5 * low / np.sqrt(225e3 * 40)
    if GRID in kinds:
        assert found[GRID] == pytest.approx(min(body, hop), rel=0.01)
    if RUN_UP in kinds:
        assert found[RUN_UP] == pytest.approx(0.5 * low / 400, rel=0.01)


def test_the_wheel_may_be_damped_less_than_the_body() -> None:
    text = PLAIN.format(low=100.0, response="frequency-domain", road=RANDOM)
    heavy = read(changed(text, ('unsprung_mass = "40 kg"', 'unsprung_mass = "60 kg"')))
    assert said(heavy)[GRID] == pytest.approx(0.5 * 100 / np.sqrt(225e3 * 60), rel=0.01)


def test_friction_damps_and_a_knee_takes_damping_away() -> None:
    """Ratios are those of the road: friction of 50 N is worth some hundred N·s/m on it, a knee takes most of a damper's
    slope.
    """
    one = plain(100.0, "frequency-domain")
    text = PLAIN.format(low=100.0, response="frequency-domain", road=RANDOM)
    tyre = 'tyre_rate = "200 N/mm"'
    assert said(read(changed(text, (tyre, f'friction = "50 N"\n{tyre}')))) == {}
    knee = changed(text, ("low = 100.0", "low = 400.0"), (tyre, f"knee_speed = 0.01\nknee_share = 0.1\n{tyre}"))
    assert 0.005 < said(read(knee))[GRID] < said(one)[GRID]


def test_a_measured_road_is_driven_whatever_response_is(tmp_path: Path) -> None:
    x = np.arange(0.0, 60.0, 0.05)
    rows = "\n".join(f"{d:.2f},{5 * np.sin(d):.3f}" for d in x)
    (tmp_path / "lane.csv").write_text(f"distance [m],height [mm]\n{rows}\n", encoding="utf-8")
    road = '[[road]]\nname = "lane"\nkind = "measured"\nfile = "lane.csv"'
    text = PLAIN.format(low=100.0, response="frequency-domain", road=road)
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    assert said(read_study(tmp_path / "study.toml")) == {RUN_UP: pytest.approx(0.125, rel=0.01)}


def test_check_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    call: Call = caller(capsys, monkeypatch)
    text = PLAIN.format(low=100.0, response="frequency-domain", road=RANDOM)
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    status, out, _ = call("check", tmp_path / "study.toml")
    assert status == 0
    assert GRID in " ".join(out.split())
