"""Bounce and pitch of a body on two springs, and static deflection, against textbooks.

- S.S. Rao, Mechanical Vibrations, chapter on two degrees of freedom, example "frequencies and mode shapes of an
  automobile" (numbers from memory; the plain eigenproblem gives all four): 1000 kg, radius of gyration 0.9 m, front
  axle 1.0 m ahead with 18 kN/m, rear axle 1.5 m behind with 22 kN/m: 5.8593 and 9.4341 rad/s, amplitude ratios x/θ =
  -2.6461 and 0.3061 m/rad. Rao's front spring is compressed by x - l1 θ, as here, so his ratio is the distance of the
  mode's centre ahead of the mass centre.
- W.T. Thomson, Theory of Vibration with Applications, section 5.3 (numbers seen on a page, address not kept; ratios
  from memory): 3220 lb, that is 100 slug, inertia 1600 slug·ft², 2400 lb/ft at 4.5 ft ahead and 2600 lb/ft at 5.5 ft
  behind: 6.90 and 9.06 rad/s, centres 14.6 ft and 1.09 ft from the mass centre.
- C.H. Edwards, D.E. Penney, Elementary Differential Equations, second edition, problem 7.4-24, a two-axle automobile
  (seen with its answer at math.utah.edu/~gustafso/s2013/2250/lectureslides2250/references/faq-7.4-24.txt): 100 slug,
  1000 slug·ft², 2000 lb/ft at 6 and 4 ft from the mass centre: 6.13 and 10.31 rad/s "approximately". Exact are 6.1311
  and 10.3155: the second is cut, not rounded.
- A spring that carries its load alone: f = √(g/δ)/2π, 248 mm at 1 Hz, 110 mm at 1.5 Hz (derived; on every page of
  ride).

Formulas of two degrees of freedom do not care about units, so pounds and feet go in as they are.
"""

from __future__ import annotations

import numpy as np
import pytest

from builders import Array, at_rest_under, figure, half_car, iso_road, quarter_car, ride
from checks import check, check_all
from ridefront.vehicle.equations import BouncePitch, bounce_pitch, equations_of_motion, modes
from ridefront.vehicle.static import GRAVITY

RAO = "Rao, Mechanical Vibrations: frequencies and mode shapes of an automobile"
EDWARDS = "Edwards, Penney, Elementary Differential Equations, problem 7.4-24"
RAO_HOW = "memory, derived anew"
THOMSON = "Thomson, Theory of Vibration with Applications, section 5.3"
MODES = ("bounce", "pitch")


def two_springs(mass: float, inertia: float, x: tuple[float, float], rate: tuple[float, float]) -> BouncePitch:
    return bounce_pitch(np.array([mass]), np.array([inertia]), np.array([x]), np.array([rate]))


def test_rao() -> None:
    """Half a unit of the last digit given."""
    car = two_springs(1000.0, 1000.0 * 0.9**2, (1.0, -1.5), (18e3, 22e3))
    for k, mode in enumerate(MODES):
        frequency, centre = 2 * np.pi * car.frequency[0, k], car.centre[0, k]
        check(
            figure=f"{mode}, natural frequency",
            source=RAO,
            theirs=(5.8593, 9.4341)[k],
            ours=frequency,
            unit="rad/s",
            abs=5e-5,
            how=RAO_HOW,
        )
        check(
            figure=f"{mode}, amplitude ratio x/θ",
            source=RAO,
            theirs=(-2.6461, 0.3061)[k],
            ours=centre,
            unit="m/rad",
            abs=5e-5,
            how=RAO_HOW,
        )
    assert car.dynamic_index[0] == pytest.approx(0.81 / 1.5, rel=1e-12)


def test_rao_by_the_plain_eigenproblem() -> None:
    """M z" + K z = 0 for (x, θ), θ nose down, by numpy: what was remembered is what the data make."""
    stiffness = np.array([[40e3, 22e3 * 1.5 - 18e3], [22e3 * 1.5 - 18e3, 18e3 + 22e3 * 1.5**2]])
    squares, shapes = np.linalg.eig(np.diag([1 / 1000.0, 1 / 810.0]) @ stiffness)
    order = np.argsort(squares)
    assert np.sqrt(squares[order]) == pytest.approx([5.8593, 9.4341], abs=5e-5)
    assert (shapes[0] / shapes[1])[order] == pytest.approx([-2.6461, 0.3061], abs=5e-5)


def test_edwards_penney() -> None:
    """A unit of the last digit given: 10.31 is cut from 10.3155."""
    car = two_springs(100.0, 1000.0, (6.0, -4.0), (2000.0, 2000.0))
    for k, mode in enumerate(MODES):
        check(
            figure=f"{mode}, natural frequency",
            source=EDWARDS,
            theirs=("6.13", "10.31")[k],
            ours=2 * np.pi * car.frequency[0, k],
            unit="rad/s",
            abs=0.01,
            how="seen, math.utah.edu/~gustafso/s2013/2250/lectureslides2250/references/faq-7.4-24.txt",
        )
    assert 2 * np.pi * car.frequency[0] == pytest.approx([6.1311, 10.3155], abs=5e-5)


def test_thomson() -> None:
    """0.2 %: the book rounds on the way (6.90 and 9.06 rad/s; exact 6.899 and 9.051). The rear spring's moment is the
    larger, so bounce turns about a point far behind and pitch about one ahead.
    """
    car = two_springs(100.0, 1600.0, (4.5, -5.5), (2400.0, 2600.0))
    for k, mode in enumerate(MODES):
        frequency, centre = 2 * np.pi * car.frequency[0, k], float(np.abs(car.centre[0, k]))
        check(
            figure=f"{mode}, natural frequency",
            source=THOMSON,
            theirs=("6.90", "9.06")[k],
            ours=frequency,
            unit="rad/s",
            rel=2e-3,
            how="seen on a page, address not kept",
        )
        check(
            figure=f"{mode}, centre from the mass centre",
            source=THOMSON,
            theirs=("14.6", "1.09")[k],
            ours=centre,
            unit="ft",
            rel=1e-2,
            how="memory",
        )
    assert car.centre[0, 0] < 0 < car.centre[0, 1]


def test_centres_lie_a_gyration_apart() -> None:
    """Product of the two centres' distances is minus the radius of gyration squared (the modes are orthogonal;
    derived).
    """
    rng = np.random.default_rng(1)
    n = 50
    mass, gyration = rng.uniform(500, 2500, n), rng.uniform(0.8, 1.6, n)
    x = np.stack([rng.uniform(0.9, 1.7, n), -rng.uniform(0.9, 1.7, n)], axis=1)
    rate = rng.uniform(15e3, 60e3, (n, 2))
    found = bounce_pitch(mass, mass * gyration**2, x, rate)
    np.testing.assert_allclose(found.centre[:, 0] * found.centre[:, 1], -(gyration**2), rtol=1e-9)


def test_full_equations_tend_to_the_two_springs() -> None:
    """With stiff tyres and light wheels the vehicle's two lowest modes are Rao's: the same 5.8593 and 9.4341 rad/s, the
    same centres. The half car is half of the car. 1e-4: what tyres a thousand times stiffer than springs still give.
    """
    quantities: dict[str, float] = {
        "wheelbase": 2.5,
        "front_share": 0.6,
        "body.mass": 1000.0,
        "body.dynamic_index": 0.54,
        "front.spring_rate": 9e3,
        "rear.spring_rate": 11e3,
    }
    for axle in ("front", "rear"):
        quantities |= {f"{axle}.unsprung_mass": 1e-2, f"{axle}.tyre_rate": 1e8}
    equations = equations_of_motion(at_rest_under(half_car(quantities)), np.zeros((1, 2)))
    lowest = modes(equations)[:2]
    check_all(
        figure="natural frequencies of a half car with light wheels on stiff tyres",
        source=RAO,
        theirs=[5.8593, 9.4341],
        ours=[2 * np.pi * mode.frequency for mode in lowest],
        at=MODES,
        unit="rad/s",
        rel=2e-4,
        how=RAO_HOW,
    )
    check_all(
        figure="amplitude ratios of a half car with light wheels on stiff tyres",
        source=RAO,
        theirs=[-2.6461, 0.3061],
        ours=[mode.centre for mode in lowest],
        at=MODES,
        unit="m/rad",
        rel=1e-3,
        how=RAO_HOW,
    )
    assert [mode.damping_ratio for mode in lowest] == pytest.approx([0.0, 0.0], abs=1e-9)


def corner_with_deflection(deflection: float) -> Array:
    """Spring rates of a 400 kg corner whose spring and tyre in series sink by `deflection`, m, under the load."""
    series, tyre = 400.0 * GRAVITY / deflection, 200e3
    return np.array([series * tyre / (tyre - series)])


@pytest.mark.parametrize(("frequency", "deflection"), [(1.0, 0.248), (1.5, 0.110)])
def test_static_deflection(frequency: float, deflection: float) -> None:
    """248 mm at 1 Hz, 110 mm at 1.5 Hz; 0.3 %: three digits of the deflection (exact: 248.4 and 110.4 mm)."""
    exact = GRAVITY / (2 * np.pi * frequency) ** 2
    assert exact == pytest.approx(deflection, abs=5e-4)
    car = quarter_car(400.0, spring_rate=corner_with_deflection(deflection), tyre_rate=200e3)
    on_road = ride(car, iso_road("B"), 20.0)
    assert figure(on_road, "static_deflection", "front")[0] == pytest.approx(deflection, rel=1e-12)
    check(
        figure=f"ride frequency of {1000 * deflection:g} mm static deflection",
        source="A spring that carries its load alone: f = √(g/δ)/2π",
        theirs=frequency,
        ours=figure(on_road, "ride_frequency", "front")[0],
        unit="Hz",
        rel=3e-3,
        how="derived; on every page of ride",
    )
