"""Roll in steady cornering against a textbook's worked example.

Automotive Chassis Engineering, chapter 3, page 174 (the page's text seen at
fliphtml5.com/osspz/szqt/Automotive_Chassis_Engineering/185; the beginning of the example, on the page before, not seen;
D.C. Barton, J.D. Fieldhouse, Springer 2018, from memory): sprung mass 1280 kg, 54 % in front, centre of mass 0.365 m
above the roll axis, roll centres 0.07 m in front and 0.32 m behind, track 1.46 m, roll stiffness of both axles together
28650 N·m/rad: 0.0194 rad per m/s², that is 10.9° per g.

The height of the centre of mass follows from the other heights: 0.07 m + 46 % of 0.25 m + 0.365 m = 0.55 m.
"""

from __future__ import annotations

import numpy as np

from builders import at_rest_under, full_car
from checks import check_all
from ridefront.criteria import CRITERIA
from ridefront.criteria.ride import VEHICLE, Standing

STIFFNESS, TRACK = 28650.0, 1.46
FRONT = 0.7
"""Of the stiffness; the gradient does not depend on it (the page's load transfers, 1556 N and 671 N, are near it)."""


def gradient(bars: float) -> float:
    """Roll per g of lateral acceleration, rad, where anti-roll bars have a share `bars` of the stiffness."""
    changes = {"body.mass": 1280.0, "front_share": 0.54, "mass_centre_height": 0.55}
    changes |= {"front_roll_centre": 0.07, "rear_roll_centre": 0.32}
    for axle, share in (("front", FRONT), ("rear", 1 - FRONT)):
        at_wheels = share * STIFFNESS / TRACK**2
        changes |= {
            f"{axle}.track": TRACK,
            f"{axle}.spring_rate": 2 * at_wheels * (1 - bars),
            f"{axle}.anti_roll_rate": at_wheels * bars,
        }
    car = full_car(changes)
    state = at_rest_under(car)
    return float(CRITERIA["roll_gradient"].figure(Standing(state, state, car), VEHICLE)[0])


def test_roll_gradient() -> None:
    """Half a unit of the last digit given, whether springs alone make the stiffness or bars a part of it."""
    found = np.array([gradient(bars) for bars in (0.0, 0.4)])
    for theirs, ours, unit, room in (
        (10.9, np.degrees(found), "deg per g", 0.05),
        (0.0194, found / 9.81, "rad per m/s²", 5e-5),
    ):
        check_all(
            figure=f"roll gradient in {unit}, page 174",
            source="Barton, Fieldhouse, Automotive Chassis Engineering (2018)",
            theirs=[theirs, theirs],
            ours=ours,
            at=["by springs alone", "40 % by bars"],
            unit=unit,
            abs=room,
            how="seen at fliphtml5.com/osspz/szqt/Automotive_Chassis_Engineering/185",
        )
