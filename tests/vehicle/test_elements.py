"""Elements as laws at the wheel: ratios, defaults, which keys make which hinge."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from builders import half_car, quarter_car
from ridefront.vehicle.elements import per_corner, speed_law, travel_law

Array = NDArray[np.float64]
STOP = {"bump_clearance": 0.04, "bump_stop_rate": 50e3, "bump_stop_progression": 2.0}


def travel_force(s: float, **front: float) -> float:
    return float(travel_law(quarter_car(**front), ("front",)).force(np.array([[s]]))[0, 0])


def speed_force(w: float, **front: float) -> float:
    return float(speed_law(quarter_car(**front), ("front",)).force(np.array([[w]]))[0, 0])


def test_spring_works_through_its_ratio_squared() -> None:
    assert travel_force(0.05, spring_rate=30e3, spring_ratio=0.6) == pytest.approx(30e3 * 0.36 * 0.05)


def test_stop_by_hand() -> None:
    """80 mm at the wheel with ratio 0.75 are 60 mm at the stop: 20 mm past 40 mm, 50 N/mm × 20 mm × (1 + 2 × 0.2)."""
    spring = 20e3 * 0.08
    stop = 0.75 * 50e3 * 0.02 * (1 + 2.0 * 0.02 / 0.1)
    assert travel_force(0.08, spring_rate=20e3, stop_ratio=0.75, **STOP) == pytest.approx(spring + stop)


def test_stop_goes_with_the_damper_unless_it_has_its_own_ratio() -> None:
    with_damper = travel_force(0.08, damper_ratio=0.75, spring_rate=20e3, **STOP)
    assert with_damper == pytest.approx(travel_force(0.08, stop_ratio=0.75, spring_rate=20e3, **STOP))
    own = travel_force(0.08, damper_ratio=0.75, stop_ratio=1.0, spring_rate=20e3, **STOP)
    assert own == pytest.approx(20e3 * 0.08 + 50e3 * 0.04 * (1 + 2 * 0.04 / 0.1))


def test_stop_does_nothing_before_its_clearance_at_the_wheel() -> None:
    clearance = 0.04 / 0.75
    assert travel_force(0.999 * clearance, spring_rate=20e3, stop_ratio=0.75, **STOP) == pytest.approx(
        20e3 * 0.999 * clearance
    )
    assert travel_force(-0.2, spring_rate=20e3, **STOP) == pytest.approx(-20e3 * 0.2)


def test_rebound_stop_is_the_mirror_image_of_the_bump_stop() -> None:
    rebound = {key.replace("bump", "rebound"): value for key, value in STOP.items()}
    for s in (0.03, 0.07, 0.11):
        assert travel_force(-s, damper_ratio=0.8, **rebound) == pytest.approx(
            -travel_force(s, damper_ratio=0.8, **STOP), rel=1e-14
        )


def test_damping_is_the_mean_of_bump_and_rebound() -> None:
    shared = {"damping": 2000.0, "bump_share": 0.3, "damper_ratio": 0.8}
    bump, rebound = speed_force(0.1, **shared), -speed_force(-0.1, **shared)
    assert bump == pytest.approx(2 * 2000 * 0.3 * 0.64 * 0.1)
    assert rebound == pytest.approx(2 * 2000 * 0.7 * 0.64 * 0.1)
    assert (bump + rebound) / 2 == pytest.approx(2000 * 0.64 * 0.1)


def test_bump_and_rebound_may_be_given_apart() -> None:
    car = quarter_car(damping_bump=1100.0, damping_rebound=2700.0, damper_ratio=0.9)
    del car["front.damping"], car["front.bump_share"]
    force = speed_law(car, ("front",)).force(np.array([[0.2]])), speed_law(car, ("front",)).force(np.array([[-0.2]]))
    assert force[0][0, 0] == pytest.approx(1100 * 0.81 * 0.2)
    assert force[1][0, 0] == pytest.approx(-2700 * 0.81 * 0.2)


def test_knee_by_hand() -> None:
    """Ratio 0.8: 0.3 m/s at the wheel are 0.24 m/s at the damper, 0.11 m/s past a knee at 0.13 m/s."""
    knee = {"damping": 2000.0, "damper_ratio": 0.8, "knee_speed": 0.13, "knee_share": 0.35}
    want = 0.8 * 2000 * (0.13 + 0.35 * 0.11)
    assert speed_force(0.3, **knee) == pytest.approx(want)
    assert speed_force(-0.3, **knee) == pytest.approx(-want)
    assert speed_force(0.1, **knee) == pytest.approx(2000 * 0.64 * 0.1)


def test_knees_of_bump_and_rebound_may_differ_or_one_be_left_out() -> None:
    apart = {
        "damping": 2000.0,
        "knee_speed_bump": 0.1,
        "knee_share_bump": 0.5,
        "knee_speed_rebound": 0.2,
        "knee_share_rebound": 0.25,
    }
    assert speed_force(0.3, **apart) == pytest.approx(2000 * (0.1 + 0.5 * 0.2))
    assert speed_force(-0.3, **apart) == pytest.approx(-2000 * (0.2 + 0.25 * 0.1))
    only = {"damping": 2000.0, "knee_speed_bump": 0.1, "knee_share_bump": 0.5}
    assert speed_force(-0.3, **only) == pytest.approx(-2000 * 0.3)
    own_wins = apart | {"knee_speed": 9.0, "knee_share": 9.0}
    assert speed_force(0.3, **own_wins) == speed_force(0.3, **apart)


def test_an_element_of_one_axle_leaves_the_other_alone() -> None:
    plain, stopped = half_car(), half_car({f"rear.{key}": value for key, value in STOP.items()})
    axles = ("front", "rear")
    s = np.array([[0.09, 0.09]])
    assert travel_law(stopped, axles).force(s)[0, 0] == travel_law(plain, axles).force(s)[0, 0]
    assert travel_law(stopped, axles).force(s)[0, 1] > travel_law(plain, axles).force(s)[0, 1]
    assert travel_law(stopped, ("front",)).hinges == ()


def test_per_corner() -> None:
    car = half_car({"front.bump_travel": 0.1})
    travels = per_corner(car, ("front", "rear"), "bump_travel")
    assert travels is not None
    assert travels[0, 0] == 0.1
    assert np.isnan(travels[0, 1])
    assert per_corner(car, ("front", "rear"), "rebound_travel") is None


def test_knees_of_one_way_at_one_axle_and_of_the_other_at_the_other() -> None:
    """A knee in bump only in front and in rebound only behind: each axle's law is that of the axle alone."""
    car = half_car()
    for axle, way in (("front", "bump"), ("rear", "rebound")):
        car |= {f"{axle}.knee_speed_{way}": np.full(1, 0.1), f"{axle}.knee_share_{way}": np.full(1, 0.3)}
    both = speed_law(car, ("front", "rear"))
    for w in (-1.0, -0.05, 0.05, 1.0):
        for c, axle in enumerate(("front", "rear")):
            alone = speed_law(car, (axle,)).force(np.full((1, 1), w))[0, 0]
            assert both.force(np.full((1, 2), w))[0, c] == pytest.approx(alone, rel=1e-14)
            knee = car["front.knee_speed_bump"][0]
            past = (w > knee) if axle == "front" else (w < -knee)
            plain = 2 * car[f"{axle}.damping"][0] * car[f"{axle}.damper_ratio"][0] ** 2
            share = car[f"{axle}.bump_share"][0] if w > 0 else 1 - car[f"{axle}.bump_share"][0]
            assert (abs(alone) < 0.99 * plain * share * abs(w)) == past
