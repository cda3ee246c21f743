"""Ride frequency against static deflection, as the textbook's nomogram has it.

T.D. Gillespie, Fundamentals of Vehicle Dynamics, SAE 1992, chapter on ride (from memory): a spring that carries its
load has f = 3.13/√δ, Hz, δ in inches: 3.13 Hz at 1 inch, 1.4 Hz at 5, 1 Hz at 10. The last is rounded: 0.99 Hz.

Spring and tyre in series carry the load; the tyre counts with its own deflection.
"""

from __future__ import annotations

import numpy as np
import pytest

from builders import figure, iso_road, quarter_car, ride
from checks import check
from ridefront.vehicle.static import GRAVITY

SOURCE = "Gillespie, Fundamentals of Vehicle Dynamics (1992), ride frequency and static deflection"
INCH = 0.0254
MASS = 400.0


@pytest.mark.parametrize(
    ("inches", "frequency", "half"), [(1.0, "3.13", 0.005), (5.0, "1.4", 0.05), (10.0, "1.0", 0.05)]
)
@pytest.mark.parametrize("of_the_tyre", [1e-6, 0.3])
def test_frequency_at_a_deflection(inches: float, frequency: str, half: float, of_the_tyre: float) -> None:
    """Half a unit of the last digit given, whatever share of the deflection is the tyre's."""
    rate = MASS * GRAVITY / (inches * INCH)
    car = quarter_car(MASS, unsprung_mass=1e-3, spring_rate=rate / (1 - of_the_tyre), tyre_rate=rate / of_the_tyre)
    on_road = ride(car, iso_road("B"), 20.0)
    assert figure(on_road, "static_deflection", "front")[0] == pytest.approx(inches * INCH, rel=1e-4)
    found = figure(on_road, "ride_frequency", "front")[0]
    assert found == pytest.approx(np.sqrt(GRAVITY / (inches * INCH)) / (2 * np.pi), rel=1e-4)
    check(
        figure=f"ride frequency at {inches:g} in of deflection"
        + ("" if of_the_tyre < 0.1 else ", three tenths of it the tyre's"),
        source=SOURCE,
        theirs=frequency,
        ours=found,
        unit="Hz",
        abs=half,
        how="memory",
    )
