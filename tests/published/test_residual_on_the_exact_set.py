"""Residuals on and off the exact Pareto set of the quarter car on white-noise road velocity (see
test_exact_pareto_set.py for the set and its source): in closed form, and with the engine's figures.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from published.quarter_car import QuarterCar, intensity
from ridefront import read_study
from ridefront.road import CLASSES
from ridefront.run.certify import certify
from ridefront.run.workers import Workers
from ridefront.search import Anatomy, Limit, Made
from ridefront.search.gradients import derivatives, neighbours
from ridefront.search.residual import Held, held

Array = NDArray[np.float64]

CAR = QuarterCar()
W = intensity(CLASSES["B"], 20.0)
KS_END = CAR.spring_of_least_tyre_force

LOW, HIGH = np.log(0.05 * KS_END), np.log(2 * KS_END)
C_LOW, C_HIGH = np.log(200.0), np.log(20_000.0)
MADE = tuple(Made(((k,),), (1.0,), "worst", "largest") for k in range(3))
LEVELS = (0, 0)


def cube(ks: Array, c: Array) -> Array:
    """U (n, 2): logarithms of spring and damper over their ranges."""
    return np.stack([(np.log(ks) - LOW) / (HIGH - LOW), (np.log(c) - C_LOW) / (C_HIGH - C_LOW)], axis=-1)


def parts(U: Array) -> Array:
    """Standard deviations of acceleration and tyre force, and the spring in N/mm."""
    ks, c = np.exp(LOW + U[..., 0] * (HIGH - LOW)), np.exp(C_LOW + U[..., 1] * (C_HIGH - C_LOW))
    return np.stack([np.sqrt(CAR.acceleration(ks, c, W)), np.sqrt(CAR.tyre_force(ks, c, W)), ks / 1e3], axis=-1)


def certified(U: Array, limits: tuple[Limit, ...] = ()) -> list[Held]:
    around = neighbours(U, LEVELS, paired=True)
    P = parts(U)
    D = derivatives(U, P, around, parts(around), LEVELS)
    return held(Anatomy(MADE[:2], (1, 1), limits, 3), U, P, D, LEVELS, np.ones(3, dtype=np.bool_))


KS = KS_END * np.geomspace(0.06, 1.0, 60)
SET = cube(KS, CAR.pareto_damping(KS))


def test_nothing_is_left_on_the_exact_set() -> None:
    found = certified(SET)
    assert max(each.residual for each in found) < 1e-5
    assert not any(each.bounds or each.limits or each.alike for each in found)


@pytest.mark.parametrize("side", [-1, 1])
def test_the_residual_grows_with_the_distance_from_the_set(side: int) -> None:
    """Dampers off the set by 0.1 to 10 % of their range; the front's range is that of the set all along."""
    away = np.array([0.0, 0.001, 0.005, 0.02, 0.05, 0.1])
    middle = SET[5:55:10]
    U = np.concatenate([middle + np.array([0.0, side * step]) for step in away])
    found = np.array([each.residual for each in certified(np.concatenate([U, SET]))[: len(U)]]).reshape(len(away), -1)
    assert np.all(np.diff(found, axis=0) > 0)
    assert found[0].max() < 1e-5
    assert found[1].min() > 1e-4
    assert found[-1].min() > 0.01


def test_beyond_the_end_of_the_set_a_softer_spring_is_better_in_both() -> None:
    """Unless it is not to be had: a lower limit on the spring, as a bound or as a constraint, holds the edge of the set
    from the damping of least acceleration up to that of least tyre force.
    """
    ks = 1.5 * KS_END
    least_force = np.sqrt((CAR.tyre_force(np.array(ks), np.array(1.0), W) - b()) / b())
    c = np.geomspace(float(CAR.damping_of_least_acceleration(np.array(ks))) * 1.01, least_force * 0.99, 12)
    U = cube(np.full(12, ks), c)
    free = certified(np.concatenate([U, SET]))[:12]
    assert min(each.residual for each in free) > 0.1
    limited = certified(np.concatenate([U, SET]), (Limit(MADE[2], ks / 1e3, -1, ks / 1e3),))[:12]
    assert max(each.residual for each in limited) < 1e-5
    assert all(each.limits == (0,) for each in limited)
    beyond = certified(
        np.concatenate([cube(np.full(2, ks), np.array([0.8 * c[0], 1.25 * c[-1]])), SET]),
        (Limit(MADE[2], ks / 1e3, -1, ks / 1e3),),
    )[:2]
    assert min(each.residual for each in beyond) > 0.01


def b() -> float:
    """Slope of the tyre force's variance by the damper for no spring and no damper: its part in proportion to c."""
    one, two = CAR.tyre_force(np.array(1.0), np.array(1e9), W), CAR.tyre_force(np.array(1.0), np.array(2e9), W)
    return float((two - one) / 1e9)


STUDY = """
title = "quarter car on a white road"
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "380 kg"
[vehicle.front]
unsprung_mass = "38 kg"
tyre_rate = "190 N/mm"
spring_rate = { low = "1 N/mm", high = "60 N/mm" }
damping = { low = "200 N*s/m", high = "20000 N*s/m", scale = "log" }
[[road]]
name = "white"
kind = "iso8608"
class = "C"
band = ["0.001 1/m", "300 1/m"]
[[condition]]
road = "white"
speed = "20 m/s"
[[objective]]
criterion = "body_acceleration"
[[objective]]
criterion = "dynamic_load_coefficient"
"""


def certified_study(folder: Path, X: Array, change: Callable[[str], str] = str) -> tuple[Array, list[str]]:
    """Residuals of designs, and what holds them, with the engine's figures."""
    file = folder / "white.toml"
    file.write_text(change(STUDY), encoding="utf-8")
    study = read_study(file)
    with Workers(study, 1) as pool:
        found = certify(study, "frequency-domain", X, pool)
    residual, words = found.columns["residual"], found.columns["held_by"]
    assert isinstance(residual, np.ndarray)
    return residual, [str(each) for each in words]


def test_with_the_engines_figures(tmp_path: Path) -> None:
    """On the set below 1e-3: what the band's ends take from the acceleration does depend on the design, a little."""
    ks = KS_END * np.geomspace(0.1, 0.99, 20)
    on = np.stack([ks / 1e3, CAR.pareto_damping(ks)], axis=1)
    off = on * [1.0, 1.3]
    residual, words = certified_study(tmp_path, np.concatenate([on, off]))
    assert residual[:20].max() < 1e-3
    assert residual[20:].min() > 0.02
    assert set(words[:20]) == {""}


def test_the_engine_names_the_bound_that_holds_the_edge(tmp_path: Path) -> None:
    """Springs beyond the end of the set, at the lower limit of their range."""
    low = 1.5 * KS_END / 1e3
    c = float(CAR.damping_of_least_acceleration(np.array(1e3 * low)))
    X = np.stack([np.full(4, low), c * np.array([1.02, 1.05, 1.1, 1.15])], axis=1)
    residual, words = certified_study(tmp_path, X, lambda text: text.replace('"1 N/mm"', f'"{low!r} N/mm"'))
    assert residual.max() < 1e-3
    assert set(words) == {"front spring rate at its lower limit"}
