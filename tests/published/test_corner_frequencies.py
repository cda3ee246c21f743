"""Frequencies and shapes of a corner, and a wheel's load, against a textbook's worked examples and measurements.

Automotive Chassis Engineering (D.C. Barton, J.D. Fieldhouse, Springer 2018, title page from memory), chapter 3:

- page 209 (seen at fliphtml5.com/osspz/szqt/Automotive_Chassis_Engineering/220): rear corner of a mid-range saloon,
  317.5 kg on 45.4 kg, 22 and 192 kN/m, without damping: 7.87 rad/s (1.25 Hz) and 68.73 rad/s (10.9 Hz), and in the
  first mode the wheel moves 0.104 of the body. The page's equation ω⁴ - 4786 ω² + 293·10³ = 0 should have 4783, which
  makes its second frequency 0.03 % high and its first as much low, and the first, 7.8755, is cut to 7.87;
- page 213 (seen there, /224; the beginning of the example, on the page before, not seen): front wheels of 40 kg between
  springs of 20.63 kN/m and tyres of 300 kN/m hop at 14.25 Hz; 42 % of 1140 kg put 2349 N on each, g = 9.81 m/s². The
  page takes 19.3 kN/m for the same spring where it counts its coils: one of the two is a slip, and it is 20.63 that
  makes 14.25 Hz.

TRL report SR12UC (abstract seen at trl.co.uk/reports/SR12%20UC): cars over a bridge's expansion joint and a bumpy road,
above 30 km/h, moved in "body heave" at about 1.75 Hz and "wheel hop" at 10 to 15 Hz. Our passenger cars' wheels hop
within that band; their bodies' 1.1 to 1.5 Hz lie below what was measured on those cars.
"""

from __future__ import annotations

import numpy as np
import pytest

from builders import at_rest_under, figure, iso_road, quarter_car, ride
from checks import check, check_bound
from ridefront.vehicle.equations import equations_of_motion, modes
from ridefront.vehicle.static import GRAVITY
from trade.vehicles import ESTATE, HATCHBACK, Vehicle

BOOK = "Barton, Fieldhouse, Automotive Chassis Engineering (2018)"
PAGES = "seen, fliphtml5.com/osspz/szqt/Automotive_Chassis_Engineering"
WHEEL = 0.5 * 0.42 * 1140.0


def test_modes_of_a_saloons_corner() -> None:
    """0.12 % of rad/s: the page's slip and its cut, which its own equation shows; half a unit of the last digit of
    hertz and of the shape.
    """
    low, high = np.sqrt(np.sort(np.roots([1.0, -4786.0, 293e3])))
    assert np.floor(100 * low) / 100 == 7.87
    assert high == pytest.approx(68.73, abs=5e-3)
    car = quarter_car(317.5, unsprung_mass=45.4, spring_rate=22e3, tyre_rate=192e3)
    bounce, hop = modes(equations_of_motion(at_rest_under(car), np.zeros((1, 1))))
    for name, mode, omega, hertz in (("bounce", bounce, "7.87", "1.25"), ("hop", hop, "68.73", "10.9")):
        found = mode.frequency
        digits = 0.5 * 10.0 ** -len(hertz.split(".")[1])
        ours = 2 * np.pi * found
        check(figure=f"{name}, page 209", source=BOOK, theirs=omega, ours=ours, unit="rad/s", rel=1.2e-3, how=PAGES)
        check(figure=f"{name}, page 209, Hz", source=BOOK, theirs=hertz, ours=found, unit="Hz", abs=digits, how=PAGES)
    shape = float((bounce.shape[1] / bounce.shape[0]).real)
    check(figure="wheel over body in bounce, page 209", source=BOOK, theirs="0.104", ours=shape, abs=5e-4, how=PAGES)


def test_hop_and_load() -> None:
    """Half a unit of the last digit given; the load is 2348.5 N and rounds up."""
    car = quarter_car(WHEEL - 40.0, unsprung_mass=40.0, spring_rate=20.63e3, tyre_rate=300e3)
    hop = figure(ride(car, iso_road("B"), 20.0), "wheel_hop_frequency", "front")[0]
    check(figure="wheel hop, page 213", source=BOOK, theirs="14.25", ours=hop, unit="Hz", abs=0.005, how=PAGES)
    load = at_rest_under(car).contact_force[0, 0] / GRAVITY * 9.81
    check(figure="load of a front wheel, page 213", source=BOOK, theirs="2349", ours=load, unit="N", abs=0.5, how=PAGES)


@pytest.mark.parametrize(("name", "car"), [("hatchback", HATCHBACK), ("estate", ESTATE)])
def test_cars_hop_where_measured_cars_do(name: str, car: Vehicle) -> None:
    of = ride(car.parameters, iso_road("B"), 20.0, loads=car.loads)
    for axle in ("front", "rear"):
        check_bound(
            figure=f"wheel hop of an invented {name}, {axle}",
            source="TRL, SR12UC: cars over an expansion joint",
            at_least="10",
            at_most="15",
            ours=float(figure(of, "wheel_hop_frequency", axle)[0]),
            unit="Hz",
            how="seen, the abstract at trl.co.uk/reports/SR12%20UC",
        )
