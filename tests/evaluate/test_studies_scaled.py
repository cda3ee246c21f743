"""Whole studies of which everything is known but the size: rougher roads, heavier vehicles, faster rides, more
realisations.
"""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray

from evaluate.studies import HALF, QUARTER, REAL
from rewritten import heavier
from ridefront.evaluate import Evaluator, Pieces
from ridefront.evaluate.stepping import StepChoice
from ridefront.study.space import decode
from study_texts import FULL, changed, read

Array = NDArray[np.float64]
Domain = Literal["frequency-domain", "time-domain"]
STEP = StepChoice(1e-3, 0.0, 0, (), (), (), held=True)
DOMAINS = pytest.mark.parametrize("domain", ["frequency-domain", "time-domain"])

SMOOTH = 'class = "A"\nlength = "60 m"'
NOT_LINEAR = (
    "bump_share", "knee_speed", "knee_share", "friction", "bump_clearance", "bump_stop_rate", "FRONT", "REAR",
)  # fmt: skip


def plain(text: str) -> str:
    """Without whatever makes a force of travel or speed anything but straight. Seats have no height and a full car none
    at all: kernels for linear cars with backrests, or with two sides and seats, are compiled for no other test.
    """
    lines = [line for line in text.split("\n") if line.split(" = ")[0] not in (*NOT_LINEAR, "height")]
    text = "\n".join(lines)
    return re.sub(r"(?s)\[\[seat\]\].*?(?=\[\[load)", "", text) if 'model = "full-car"' in text else text


QUARTER_CAR = changed(QUARTER, ('class = "B"', SMOOTH))
HALF_CAR = changed(HALF, ('class = "A"', SMOOTH), ('class = "C"\nlength = "500 m"', SMOOTH))
FULL_CAR = changed(FULL, ('class = "B"', SMOOTH))
LINEAR = {"quarter car": QUARTER_CAR, "half car": plain(HALF_CAR), "full car": plain(FULL_CAR)}
REAL_CARS = {"half car": HALF_CAR.replace("FRONT", REAL).replace("REAR", REAL), "full car": FULL_CAR}


def found(text: str, domain: Domain, n: int = 5, realisations: int = 1) -> Pieces:
    """Every figure of random designs; the same ones for studies with the same ranges."""
    study = read(text)
    X = decode(study, np.random.default_rng(9).random((n, len(study.variables))))
    pieces = Evaluator(study, step=STEP, realisations=realisations).pieces(X, None, domain)
    assert not pieces.status.any()
    return pieces


def columns(pieces: Pieces, *criteria: str) -> Array:
    of = [k for k, name in enumerate(pieces.criterion) if name in criteria]
    assert of, criteria
    return pieces.values[:, of]


IN_PROPORTION = (
    "comfort", "comfort_total", "body_acceleration", "vibration_dose", "transient_vibration", "peak_acceleration",
    "pitch_angle", "pitch_acceleration", "roll_angle", "roll_acceleration", "dynamic_load_coefficient", "travel_rms",
    "rattle_space",
)  # fmt: skip
UNCHANGED = ("damping_ratio", "hop_damping_ratio", "ride_frequency", "frequency_ratio", "roll_gradient")


@DOMAINS
@pytest.mark.parametrize("model", LINEAR)
def test_figures_of_a_linear_car_grow_with_the_root_of_roughness(model: str, domain: Domain) -> None:
    """Four times G_d doubles heights: rms, doses, peaks, load coefficients. A reserve falls by as much as the largest
    travel grows, so from four to sixteen times twice as much as from one to four. 1e-9: at rest the march adds weights.
    """
    text, runs = LINEAR[model], []
    for times in (1, 4, 16):
        roads = text.replace('class = "A"', f'roughness = "{16 * times}e-6 m^3"')
        assert roads != text
        runs.append(found(roads, domain))
    assert len(set(runs[0].criterion) & set(IN_PROPORTION)) >= (7 if domain == "time-domain" else 4)
    for one, other in pairwise(runs):
        np.testing.assert_allclose(columns(other, *IN_PROPORTION), 2 * columns(one, *IN_PROPORTION), rtol=1e-9)
        np.testing.assert_allclose(columns(other, *UNCHANGED), columns(one, *UNCHANGED), rtol=1e-12)
    if model != "quarter car":
        reserves = [columns(run, "bump_reserve", "rebound_reserve") for run in runs]
        np.testing.assert_allclose(reserves[1] - reserves[2], 2 * (reserves[0] - reserves[1]), rtol=1e-8)
        assert np.all(reserves[0] > reserves[1])


OVER_BUMPS = """
[[road]]
name = "bump"
kind = "obstacle"
shape = "versine"
height = "4 mm"
length = "0.8 m"
[[road]]
name = "lane"
kind = "measured"
file = "FILE"
[[condition]]
road = "bump"
speed = "27 km/h"
[[condition]]
road = "lane"
speed = "27 km/h"
[[objective]]
criterion = "dynamic_load_coefficient"
road = "lane"
[[objective]]
criterion = "peak_acceleration"
"""


def over_bumps(text: str, file: Path, times: int = 1, *others: tuple[str, str]) -> Pieces:
    """The car of a study over an obstacle and along a measured road, written to `file`, of so many times the height."""
    x = 0.1 * np.arange(401)
    heights = times * (2e-3 * np.sin(0.9 * x) + 1e-3 * np.cos(4.1 * x) + 5e-4 * np.sin(11.7 * x))
    rows = [f"{distance!r},{height!r}" for distance, height in zip(x.tolist(), heights.tolist(), strict=True)]
    file.write_text("\n".join(["distance,height", *rows]), encoding="utf-8")
    roads = OVER_BUMPS.replace("FILE", str(file)).replace('"4 mm"', f'"{4 * times} mm"')
    return found(text[: text.index("[[road]]")] + changed(roads, *others), "frequency-domain", 3)


@pytest.mark.parametrize("model", LINEAR)
def test_twice_as_high_is_twice_as_much_to_a_linear_car(model: str, tmp_path: Path) -> None:
    """An obstacle and a measured road twice and four times as high, wheels on the ground: figures double, reserves
    fall by twice as much, how long the body takes to settle stays.
    """
    runs = [over_bumps(LINEAR[model], tmp_path / f"{times}.csv", times) for times in (1, 2, 4)]
    proportional = (*IN_PROPORTION, "residual_pitch")
    assert len(set(runs[0].criterion) & set(proportional)) >= 7
    assert {"bump @ 27 km/h", "lane @ 27 km/h"} <= {name.split(",")[0] for name in runs[0].condition}
    for one, other in pairwise(runs):
        assert np.all(columns(other, "wheel_lift_off") == 0)
        doubled = columns(one, *proportional)
        assert np.all(np.max(doubled, axis=1) > 0)
        np.testing.assert_allclose(columns(other, *proportional), 2 * doubled, rtol=1e-9, atol=1e-15)
        np.testing.assert_array_equal(columns(other, "settling_time"), columns(one, "settling_time"))
        np.testing.assert_allclose(columns(other, *UNCHANGED), columns(one, *UNCHANGED), rtol=1e-12)
    if model != "quarter car":
        reserves = [columns(run, "bump_reserve", "rebound_reserve") for run in runs]
        np.testing.assert_allclose(reserves[1] - reserves[2], 2 * (reserves[0] - reserves[1]), rtol=1e-8)
        assert np.all(reserves[0] > reserves[1])


@pytest.mark.parametrize("model", REAL_CARS)
def test_a_longer_way_to_an_obstacle_changes_nothing(model: str, tmp_path: Path) -> None:
    """200 steps more of level road, 1.5 m, before a bump of 50 mm: nothing has happened before it, so every figure is
    the same but for rounding. 0.4321 m, which is no whole number of steps: within 1 % and two steps.
    """
    high = ('height = "4 mm"', 'height = "50 mm"')
    ways = [
        over_bumps(REAL_CARS[model], tmp_path / "lane.csv", 1, (high[0], f'{high[1]}\nlead = "{lead} m"'))
        for lead in (1.0, 2.5, 1.4321)
    ]
    of = np.array([name.startswith("bump @") for name in ways[0].condition])
    names, (near, far, between) = np.array(ways[0].criterion), (each.values[:, of] for each in ways)
    assert {"peak_acceleration", "vibration_dose", "transient_vibration", "settling_time"} < set(names[of])
    np.testing.assert_allclose(far, near, rtol=1e-9, atol=1e-12)
    settling = names[of] == "settling_time"
    np.testing.assert_allclose(between[:, settling], near[:, settling], rtol=0, atol=2.1 * STEP.step)
    np.testing.assert_allclose(between[:, ~settling], near[:, ~settling], rtol=0.01, atol=1e-5)


FORCES = ("stop_force", "unsprung_mass", "sprung_mass")


@DOMAINS
@pytest.mark.parametrize("model", REAL_CARS)
def test_a_car_twice_as_heavy_on_twice_everything_rides_alike(model: str, domain: Domain) -> None:
    """Masses, loads, rates, damping, friction, stops and bars doubled, on a rough road: forces and masses double to the
    last bit, since two is a power of two, and nothing else changes.
    """
    text = REAL_CARS[model].replace('class = "A"', 'class = "C"')
    one, other = (found(each, domain) for each in (text, heavier(text, 2)))
    assert one.criterion == other.criterion
    forces = np.isin(np.array(one.criterion), FORCES)
    assert forces.any()
    np.testing.assert_array_equal(other.values[:, forces], 2 * one.values[:, forces])
    np.testing.assert_allclose(other.values[:, ~forces], one.values[:, ~forces], rtol=1e-12)
    if domain == "time-domain":
        assert columns(one, "stop_force").max() > 100, "stops are met"


SLOW = changed(
    QUARTER,
    ('class = "B"', 'class = "B"\nband = ["0.04 1/m", "4 1/m"]\nlength = "50 m"'),
    ('speed = "80 km/h"', 'speed = "5 m/s"'),
    ("[vehicle.body]", 'contact_patch = "0.05 m"\n[vehicle.body]'),
)
FAST = changed(
    SLOW,
    ('band = ["0.04 1/m", "4 1/m"]\nlength = "50 m"', 'band = ["0.01 1/m", "1 1/m"]\nlength = "200 m"'),
    ('speed = "5 m/s"', 'speed = "20 m/s"'),
    ('"0.05 m"', '"0.2 m"'),
)


@DOMAINS
def test_four_times_the_speed_doubles_what_a_road_of_white_speed_does(domain: Domain) -> None:
    """Waviness 2: in time the road's vertical speed has the spectrum (2π)² G_d(n0) n0² v. With everything that has a
    length four times as long the same waves come at the same frequencies, twice as high, and in time with the same
    phases: every figure of a corner that is linear doubles.
    """
    slow, fast = (found(text, domain) for text in (SLOW, FAST))
    assert slow.criterion == fast.criterion
    np.testing.assert_allclose(columns(fast, *IN_PROPORTION), 2 * columns(slow, *IN_PROPORTION), rtol=1e-9)
    assert {"comfort", "dynamic_load_coefficient", "travel_rms"} <= set(slow.criterion)


MANY = """
title = "corner with a knee"
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "380 kg"
[vehicle.front]
unsprung_mass = "41 kg"
spring_rate = { low = "14 N/mm", high = "45 N/mm" }
damping = "2000 N*s/m"
knee_speed = "0.1 m/s"
knee_share = 0.4
friction = "60 N"
tyre_rate = "205 N/mm"
bump_travel = "90 mm"
[[road]]
name = "lane"
kind = "iso8608"
class = "C"
length = "40 m"
realisations = 8
[[condition]]
road = "lane"
speed = "20 m/s"
[[objective]]
criterion = "comfort"
"""
SCATTERED = ("comfort", "dynamic_load_coefficient", "rattle_space", "bump_reserve", "travel_rms")


def test_twice_the_realisations_of_a_road() -> None:
    """Eight seeds, eight realisations and sixteen, of which eight are the same roads. Figures move by the root of a
    half of a standard error, as a mean does that takes as many again; and twice the realisations leave half of the
    squared error, which is known to √(2/7) of itself from eight, to √(2/15) from sixteen: from eight seeds the ratio
    to 0.1. The figures are strangers to each other only in part, so bounds are three times that wide.
    """
    squares, shifts = [], []
    for seed in range(8):
        text = changed(MANY, ('title = "corner with a knee"', f"seed = {seed}"))
        few = found(text, "time-domain", 1, realisations=8)
        many = found(
            changed(text, ("realisations = 8", "realisations = 16")), "time-domain", 1, realisations=16
        )  # fmt: skip
        of = np.isin(np.array(few.criterion), SCATTERED)
        assert of.sum() == len(SCATTERED)
        squares.append([few.se[0, of] ** 2, many.se[0, of] ** 2])
        shifts.append((many.values[0, of] - few.values[0, of]) / few.se[0, of])
    few_squares, many_squares = np.mean(squares, axis=0)
    assert np.all(np.abs(many_squares / few_squares - 0.5) < 0.3)
    assert np.max(np.abs(shifts)) < 4
    assert np.sqrt(np.mean(np.square(shifts))) == pytest.approx(np.sqrt(0.5), rel=0.4)
