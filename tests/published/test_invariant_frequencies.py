"""Two frequencies at which no spring and no damper changes anything, against published numbers.

J.K. Hedrick, T. Butsuen, Invariant properties of automotive suspensions, Proc. IMechE D 204 (1990) 21-27 (from memory):
body acceleration at √(kt/mu), travel at √(kt/(ms + mu)); what they are there, √(kt mu)/ms of the road's speed and
(ms + mu)/ms of its height, is derived.

MathWorks, example "Robust Control of Active Suspension" (its page, mathworks.com/help/robust/examples/
robust-control-of-an-active-suspension.html, seen in part; data and numbers seen in public copies of its code): 300 kg
on 60 kg, tyre 190 kN/m, 56.27 rad/s, "tire-hop frequency", and 22.97 rad/s, "rattlespace frequency", there zeros from
an actuator beside spring and damper: what it cannot change.

Ours are found, not put in: the frequency at which two unlike cars have the same figure on a road of one line.
"""

from __future__ import annotations

import numpy as np
import pytest

from builders import Array, quarter_car, ride
from checks import check, check_all
from ridefront.road import Road

HEDRICK = "Hedrick, Butsuen, Invariant properties of automotive suspensions (1990)"
MATHWORKS = "MathWorks, example Robust Control of Active Suspension"
SEEN = "seen in public copies of its code"
SPEED = 20.0
SPRINGS, DAMPERS = np.array([16e3, 60e3, 5e3, 16e3]), np.array([1000.0, 400.0, 6000.0, 50.0])


def figures(omega: float) -> tuple[Array, Array]:
    """(n,) each: body acceleration over the road's vertical speed, 1/s, and travel over its height."""
    n = omega / (2 * np.pi * SPEED)
    line = Road("line", 1e-9, band=(n * (1 - 1e-7), n * (1 + 1e-7)))
    cars = quarter_car(300.0, unsprung_mass=60.0, spring_rate=SPRINGS, damping=DAMPERS, tyre_rate=190e3)
    on_line = ride(cars, line, SPEED)
    height = np.sqrt(on_line.linearised.grid.power.sum())
    acceleration = np.sqrt(on_line.response.acceleration[:, 0]) / (omega * height)
    return acceleration, np.sqrt(on_line.response.travel[:, 0]) / height


@pytest.mark.parametrize(
    ("name", "called", "column", "low", "theirs"),
    [
        ("body acceleration", "tyre-hop frequency", 0, 45.0, "56.27"),
        ("travel", "rattle-space frequency", 1, 18.0, "22.97"),
    ],
)
def test_where_cars_are_alike(name: str, called: str, column: int, low: float, theirs: str) -> None:
    """By bisection between the first two cars; half a unit of the last digit given. The others are alike there too."""
    high = 1.5 * low

    def apart(omega: float) -> float:
        one, other = figures(omega)[column][:2]
        return float(one - other)

    sign = np.sign(apart(low))
    assert sign != np.sign(apart(high))
    for _ in range(22):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if np.sign(apart(middle)) == sign else (low, middle)
    check(
        figure=f"{called}: no spring and no damper changes {name} there",
        source=MATHWORKS,
        theirs=theirs,
        ours=low,
        unit="rad/s",
        abs=5e-3,
        how=SEEN,
    )
    height = (np.sqrt(190e3 * 60.0) / 300.0, 360.0 / 300.0)[column]
    over = ("body acceleration over the road's vertical speed", "travel over the road's height")[column]
    check_all(
        figure=f"{over} at the {called}, four unlike springs and dampers",
        source=HEDRICK,
        theirs=np.full(len(SPRINGS), height),
        ours=figures(low)[column],
        unit=("1/s", "")[column],
        rel=1e-4,
        at=[f"{k / 1e3:g} kN/m, {c:g} N·s/m" for k, c in zip(SPRINGS, DAMPERS, strict=True)],
        how="memory, derived anew",
    )
