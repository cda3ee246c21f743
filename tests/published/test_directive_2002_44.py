"""Vibration dose of a working day against the values that European law puts beside its rms values.

Directive 2002/44/EC, article 3 (the number of the article from memory): whole-body vibration over eight hours calls for
action at 0.5 m/s² rms or a dose of 9.1 m/s^1.75, and may not exceed 1.15 m/s² or 21 m/s^1.75 (all four seen at
exactuslabs-site.pages.dev/tools/vibration.html, and in the manual of a vibration meter, manualshive.com/en/manual/mmf/
vm31/1813943, page 6). Each pair is one vibration by the estimate 1.4 a_w T^¼: 9.12 and 20.97. The factor is "nominally
1.4 for crest factors below 6" and is not to be used above (seen at acoustic-glossary.co.uk/vibration-dose.htm; ISO
2631-1:1997, annex B).

Ours is the dose of a ride. On a random road the acceleration is Gaussian, the dose 3^¼ a_w T^¼, and 3^¼ = 1.316 where
the estimate has 1.4: our dose is 6 % below the law's. That is the estimate's margin and nothing of ours to mend; with
the estimate's factor in place of the Gaussian's it is the law's figure again. The ride's crest factor is below 6.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from builders import figure, quarter_car
from checks import check
from ridefront.road import CLASSES, Road
from time_rides import time_ride

SOURCE = "Directive 2002/44/EC, article 3"
SEEN = "seen at exactuslabs-site.pages.dev/tools/vibration.html"
DAY = 8 * 3600.0
ESTIMATE, GAUSSIAN = 1.4, 3**0.25


@pytest.mark.parametrize(("name", "rms", "dose"), [("action", 0.5, "9.1"), ("limit", 1.15, "21")])
def test_dose_of_a_day(name: str, rms: float, dose: str) -> None:
    """A linear corner on a smooth road, eight hours of it, scaled to that rms; 1 %: the law's two digits."""
    car = quarter_car(400.0, spring_rate=25e3, damping=1900.0)
    road = Road("smooth", CLASSES["A"] / 16, length=1000.0, realisations=8)
    day = replace(time_ride(car, road, 20.0, step=2e-3), exposure=DAY)
    assert not day.simulated.lift_off.any()
    crest = figure(day, "peak_acceleration", "body")[0] / figure(day, "body_acceleration", "body")[0]
    assert crest < 6, "where the estimate holds"
    ours = figure(day, "vibration_dose", "body")[0] * rms / figure(day, "comfort", "body")[0]
    check(
        figure=f"dose of eight hours at the {name} value of {rms:g} m/s² rms (6 % below: Gaussian, not 1.4)",
        source=SOURCE,
        theirs=dose,
        ours=ours,
        unit="m/s^1.75",
        rel=0.07,
        how=SEEN,
    )
    check(
        figure=f"dose of eight hours at the {name} value, with the estimate's factor 1.4 for a Gaussian's 1.316",
        source=SOURCE,
        theirs=dose,
        ours=ours * ESTIMATE / GAUSSIAN,
        unit="m/s^1.75",
        rel=0.01,
        how=SEEN + "; 1.4 for crest factors below 6 at acoustic-glossary.co.uk/vibration-dose.htm",
    )
    assert ours < float(dose)
