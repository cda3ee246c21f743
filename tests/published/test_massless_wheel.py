"""The quarter car without unsprung mass: fixed points, and the damper of flattest acceleration.

G. Genta, L. Morello, The Automotive Chassis, volume 2, Springer 2009, chapter on comfort (from memory, derived anew
here). With sprung mass m, spring K, tyre P and a wheel without mass, the body's movement over the road's is the same
whatever the damper at ω² = 2PK/(m(P + 2K)), where it is (P + 2K)/P: without damping it is KP/(PK - mω²(K + P)), with a
rigid damper P/(P - mω²), and there the two are alike but for the sign. The body's acceleration is stationary there, and
the flattest about it that a damper can make it, for

    c = √(Km/2) √((P + 2K)/P).

Checked by differentiating |H| ω², which is the acceleration (|H| itself has no slope there for another damper, some
three times as strong). With softer dampers the acceleration falls there, with stronger ones it rises.
"""

from __future__ import annotations

import numpy as np

from builders import Array, quarter_car, ride
from checks import check, check_all
from ridefront.road import Road

SOURCE = "Genta, Morello, The Automotive Chassis (2009), quarter car without unsprung mass"
HOW = "memory, derived anew"
M, K, P = 380.0, 22e3, 190e3
FIXED = float(np.sqrt(2 * P * K / (M * (P + 2 * K))))  # rad/s
HEIGHT = (P + 2 * K) / P
FLATTEST = float(np.sqrt(K * M / 2 * HEIGHT))
SPEED = 20.0


def gains(omega: float, damping: Array) -> Array:
    """(n,): body over road at one frequency, the wheel of 10 g, from the kernel on a road of one line."""
    n = omega / (2 * np.pi * SPEED)
    line = Road("line", 1e-9, band=(n * (1 - 1e-7), n * (1 + 1e-7)))
    on_line = ride(quarter_car(M, unsprung_mass=0.01, spring_rate=K, damping=damping, tyre_rate=P), line, SPEED)
    power = on_line.linearised.grid.power.sum()
    return np.asarray(np.sqrt(on_line.response.acceleration[:, 0] / power) / omega**2)


def test_fixed_point() -> None:
    """1e-5: ten grams of wheel, and a line of some width."""
    dampers = np.array([50.0, 400.0, FLATTEST, 9e3, 2e5])
    check_all(
        figure="body over road at the fixed point, whatever the damper",
        source=SOURCE,
        theirs=np.full(len(dampers), HEIGHT),
        ours=gains(FIXED, dampers),
        rel=1e-5,
        at=[f"{c:.0f} N·s/m" for c in dampers],
        how=HOW,
    )


def acceleration(share: float, damping: float) -> float:
    """Of the body, over the road's height, at a share of the fixed point's frequency; over its value there."""
    return float(share**2 * gains(share * FIXED, np.array([damping]))[0] / HEIGHT)


def test_flattest_damper() -> None:
    """The damper whose acceleration has no slope at the fixed point, by bisection; 0.1 %: a difference over 0.2 % of
    the frequency stands for the slope.
    """

    def slope(damping: float) -> float:
        return acceleration(1.001, damping) - acceleration(0.999, damping)

    soft, strong = 500.0, 8000.0
    assert slope(soft) < 0 < slope(strong)
    for _ in range(24):
        middle = 0.5 * (soft + strong)
        soft, strong = (middle, strong) if slope(middle) < 0 else (soft, middle)
    check(
        figure="damper of flattest acceleration",
        source=SOURCE,
        theirs=FLATTEST,
        ours=soft,
        unit="N·s/m",
        rel=1e-3,
        how=HOW,
    )


def test_flat_it_is() -> None:
    """From 0.9 to 1.3 times the fixed point's frequency the acceleration stays within 2 %; with a damper 30 % softer or
    40 % stronger it changes by more than a fifth.
    """
    shares = np.linspace(0.9, 1.3, 9)
    spans = [np.ptp([acceleration(float(s), factor * FLATTEST) for s in shares]) for factor in (1.0, 0.7, 1.4)]
    assert spans[0] < 0.02
    assert spans[1] > 0.2
    assert spans[2] > 0.25
