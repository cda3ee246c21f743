"""Rms, running rms and vibration dose of a ride whose acceleration is one sine: ISO 2631-1:1997, 6.1 and 6.3, in closed
form.

A weighted sine of amplitude A has the rms A/√2 and the dose (∫ a⁴ dt)^¼ = A (3/8 T)^¼, since the mean of sin⁴ is 3/8.
Its square goes up and down about A²/2 with twice the frequency, of which an exponential mean over τ = 1 s lets
1/√(1 + (2ωτ)²) through (definitions of rms, running rms and dose from memory; closed forms derived).

A linear corner on a road of one wave moves in one sine: its amplitude is the wave's, times the quarter car's transfer
function and ω² (`two_ends`), times the weighting.

The road is driven in time, whole waves of it, after the start has died away.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from builders import figure, quarter_car
from checks import check
from published.two_ends import End, weighting
from ridefront.road import Road
from time_rides import time_ride

SOURCE = "ISO 2631-1:1997, 6.1 and 6.3, rms, running rms and vibration dose"
HOW = "derived from the definitions (memory)"
SPEED, LENGTH, DAY = 20.0, 200.0, 8 * 3600.0
ROUGHNESS = 1e-6
CORNER = End(400.0, 40.0, 25e3, 1600.0, 200e3)


@pytest.mark.parametrize("f", [1.0, 5.0, 16.0])
def test_a_ride_on_one_wave(f: float) -> None:
    """0.1 %: the digital weighting's 0.06 % and the step of 1 ms."""
    n = f / SPEED
    cell = 0.5 / LENGTH  # a wave stands for the frequencies nearest to it
    wave = Road("wave", ROUGHNESS, band=(n - cell, n + cell), length=LENGTH, realisations=1)
    height = np.sqrt(2 * ROUGHNESS * (n / 0.1) ** -2.0 / LENGTH)
    car = quarter_car(CORNER.m, unsprung_mass=CORNER.mu, spring_rate=CORNER.k, damping=CORNER.c, tyre_rate=CORNER.kt)
    driven = time_ride(car, wave, SPEED)
    assert not driven.simulated.lift_off.any()
    at = np.array([f])
    amplitude = float(height * np.abs(CORNER.body(at))[0] * (2 * np.pi * f) ** 2 * np.sqrt(weighting("Wk", at))[0])
    passage = LENGTH / SPEED
    for name, theirs, ours, unit in (
        ("comfort: A/√2", amplitude / np.sqrt(2), figure(driven, "comfort", "body"), "m/s²"),
        (
            "transient_vibration: A/√2 √(1 + 1/√(1 + (2ωτ)²))",
            amplitude / np.sqrt(2) * np.sqrt(1 + 1 / np.hypot(1.0, 4 * np.pi * f)),
            figure(driven, "transient_vibration", "body"),
            "m/s²",
        ),
        (
            "vibration_dose: A (3/8 T)^¼, one passage",
            amplitude * (0.375 * passage) ** 0.25,
            figure(driven, "vibration_dose", "body"),
            "m/s^1.75",
        ),
        (
            "vibration_dose: A (3/8 T)^¼, eight hours",
            amplitude * (0.375 * DAY) ** 0.25,
            figure(replace(driven, exposure=DAY), "vibration_dose", "body"),
            "m/s^1.75",
        ),
    ):
        check(
            figure=f"{name}, a body moving as a sine of {f:g} Hz",
            source=SOURCE,
            theirs=theirs,
            ours=ours[0],
            unit=unit,
            rel=1e-3,
            how=HOW,
        )
