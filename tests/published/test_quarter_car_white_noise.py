"""Variances of the quarter car on white-noise road velocity, three ways: closed form, Lyapunov's equation, the engine.

Sources: M. Gobbi, G. Mastinu, J. Sound and Vibration 245(3) (2001) 457-481, doi 10.1006/jsvi.2001.3591 (abstract seen,
formulas derived: see quarter_car.py). The same figures are treated by T. Dahlberg, J. Sound and Vibration 58(2) (1978)
179-187, and S. Türkay, H. Akçay, J. Sound and Vibration 282 (2005) 111-124 (both from memory). The invariant points:
J.K. Hedrick, T. Butsuen, Invariant properties of automotive suspensions, Proc. IMechE D 204 (1990) 21-27 (from memory;
formulas derived). No figure here was copied: everything is derived and checked against something else.

White noise has no band, an ISO road has. So the engine integrates over a band from 1e-4 to 1e3 cycles/m, and what the
tyre force still lacks there is asserted as well.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import scipy.linalg

from builders import at_rest_under, figure, iso_road, quarter_car, ride
from checks import check, check_all
from published.quarter_car import Array, QuarterCar, intensity
from ridefront.response.frequency import FrequencyResponse
from ridefront.road import CLASSES, Road
from ridefront.vehicle.equations import Equations, equations_of_motion

CAR = QuarterCar()
SPEED = 20.0
GOBBI = "Gobbi, Mastinu, J. Sound and Vibration (2001)"
HEDRICK = "Hedrick, Butsuen, Invariant properties of automotive suspensions (1990)"
DERIVED = "derived (abstract seen)"
W = intensity(CLASSES["B"], SPEED)

# Soft to stiff springs, each with damping ratios of the body from 0.1 to 0.7.
KS = np.repeat([8e3, 16e3, 25e3, 45e3], 4)
C = 2 * np.sqrt(KS * CAR.ms) * np.tile([0.1, 0.25, 0.4, 0.7], 4)


def on_band(low: float, high: float, ks: Array = KS, c: Array = C, density: int = 1) -> FrequencyResponse:
    """The engine's response on a class B spectrum from `low` to `high` cycles/m."""
    designs = quarter_car(CAR.ms, unsprung_mass=CAR.mu, spring_rate=ks, damping=c, tyre_rate=CAR.kt)
    return ride(designs, Road("white", CLASSES["B"], band=(low, high)), SPEED, density=density).linearised


def equations(ks: Array, c: Array) -> Equations:
    designs = quarter_car(CAR.ms, unsprung_mass=CAR.mu, spring_rate=ks, damping=c, tyre_rate=CAR.kt)
    return equations_of_motion(at_rest_under(designs), c[:, np.newaxis])


def missing_tyre_force(high: float) -> float:
    """Variance beyond the band's end: there the wheel stays where it is, so the tyre follows the road alone; its
    deflection has the two-sided spectrum W/ω², and (kt²/π) ∫ W/ω² dω = kt² W/(π ω_high).
    """
    return CAR.kt**2 * W / (np.pi * 2 * np.pi * high * SPEED)


def test_engine_meets_the_closed_forms_on_a_wide_band() -> None:
    """The band cuts off next to nothing but of the tyre force, which converges slowly and whose missing part is known.
    Differences are 6e-9 and less: quadrature.
    """
    response = on_band(1e-4, 1e3)
    tyre = response.contact_force[:, 0] + missing_tyre_force(1e3)
    for name, theirs, ours, unit in (
        ("body acceleration", CAR.acceleration(KS, C, W), response.acceleration[:, 0], "m²/s⁴"),
        ("travel", 1e6 * CAR.travel(C, W), 1e6 * response.travel[:, 0], "mm²"),
        ("speed of travel", CAR.travel_speed(C, W), response.travel_speed[:, 0], "m²/s²"),
        ("tyre force, with what lies past the band", CAR.tyre_force(KS, C, W), tyre, "N²"),
    ):
        check_all(
            figure=f"variance of {name} of a quarter car on white road speed",
            source=GOBBI,
            theirs=theirs,
            ours=ours,
            at=[f"{ks / 1e3:g} N/mm {c:.0f} N s/m" for ks, c in zip(KS, C, strict=True)],
            unit=unit,
            rel=1e-7,
            how=DERIVED,
        )


@pytest.mark.parametrize("high", [30.0, 100.0, 300.0, 1000.0])
def test_what_the_tyre_force_lacks_falls_with_the_band(high: float) -> None:
    """To 1 % of the lacking part itself, which is how far it is the first term of a series in 1/ω²."""
    lacking = CAR.tyre_force(KS, C, W) - on_band(1e-4, high, density=4).contact_force[:, 0]
    np.testing.assert_allclose(lacking, missing_tyre_force(high), rtol=1e-2)


def test_wider_bands_and_finer_grids_come_closer() -> None:
    exact = CAR.acceleration(KS, C, W)
    errors = [
        np.abs(on_band(*band).acceleration[:, 0] / exact - 1).max() for band in [(0.01, 3), (1e-3, 30), (1e-4, 1e3)]
    ]
    assert errors[0] > 3 * errors[1] > 9 * errors[2]
    coarse, fine = (on_band(1e-4, 1e3, density=d).acceleration[:, 0] for d in (1, 4))
    np.testing.assert_allclose(coarse, fine, rtol=1e-6)


def test_iso_band_holds_most_of_it() -> None:
    """0.011 to 2.83 cycles/m at 72 km/h: 0.2 to 62 Hz. The rms tyre force lies 1 to 3 % below white noise (0.9 to 3.2 %
    for damping ratios from 0.1 to 0.7), because its spectrum falls only with 1/ω²; a comparison that forgets the band
    would call that an error of the model. What is missing is what lies past the band's end. Body acceleration and
    travel, which body and wheel filter, lack less.
    """
    designs = quarter_car(CAR.ms, unsprung_mass=CAR.mu, spring_rate=KS, damping=C, tyre_rate=CAR.kt)
    response = ride(designs, iso_road("B"), SPEED).response
    lacking = 1 - np.sqrt(response.contact_force[:, 0] / CAR.tyre_force(KS, C, W))
    for name, theirs, ours in (("least", "0.9", lacking.min()), ("most", "3.1", lacking.max())):
        check(
            figure=f"rms tyre force that the band of ISO 8608 lacks of white noise at 72 km/h, {name}",
            source=GOBBI,
            theirs=theirs,
            ours=100 * ours,
            unit="%",
            abs=0.1,
            how="derived: what lies past the band's end",
        )
    explained = response.contact_force[:, 0] + missing_tyre_force(2.83)
    np.testing.assert_allclose(explained, CAR.tyre_force(KS, C, W), rtol=0.006)
    np.testing.assert_allclose(response.acceleration[:, 0], CAR.acceleration(KS, C, W), rtol=0.02)
    np.testing.assert_allclose(response.travel[:, 0], CAR.travel(C, W), rtol=0.01)


def test_lyapunov_agrees() -> None:
    """States (tyre deflection r - u, travel, z', u'), written down from the equations of motion by hand: A P + P Aᵀ +
    W B Bᵀ = 0. 1e-9 is the solver's rounding.
    """
    for ks, c in zip(KS, C, strict=True):
        F = np.array([0, ks, -c, c])  # force on the body: ks s + c (u' - z')
        A = np.array([[0, 0, 0, -1], [0, 0, -1, 1], F / CAR.ms, (np.array([CAR.kt, 0, 0, 0]) - F) / CAR.mu])
        B = np.array([[1.0], [0.0], [0.0], [0.0]])
        P = scipy.linalg.solve_continuous_lyapunov(A, -W * (B @ B.T))
        acceleration = F @ P @ F / CAR.ms**2
        np.testing.assert_allclose(acceleration, CAR.acceleration(ks, c, W), rtol=1e-9)
        np.testing.assert_allclose(P[1, 1], CAR.travel(c, W), rtol=1e-9)
        np.testing.assert_allclose(CAR.kt**2 * P[0, 0], CAR.tyre_force(ks, c, W), rtol=1e-9)
        np.testing.assert_allclose(A[1] @ P @ A[1], CAR.travel_speed(c, W), rtol=1e-9)


def transfer(ks: Array, c: Array, omega: float) -> Array:
    """Complex (n, 2): body and wheel per road height, from the engine's matrices."""
    e = equations(ks, c)
    return np.linalg.solve(e.K - omega**2 * e.M + 1j * omega * e.C, e.T_k + 1j * omega * e.T_c)[:, :, 0]


def test_invariant_point_of_the_acceleration() -> None:
    """At ω = √(kt/mu) the body's acceleration per road speed is √(kt mu)/ms, whatever spring and damper."""
    omega = np.sqrt(CAR.kt / CAR.mu)
    z = transfer(KS, C, omega)[:, 0]
    check_all(
        figure="body acceleration per road speed at ω = √(kt/mu), 16 springs and dampers",
        source=HEDRICK,
        theirs=np.full(len(KS), np.sqrt(CAR.kt * CAR.mu) / CAR.ms),
        ours=np.abs(omega * z),
        unit="1/s",
        rel=1e-12,
        how=DERIVED.replace("abstract seen", "source from memory"),
    )
    near = np.abs(transfer(KS, C, 1.1 * omega)[:, 0] * 1.1 * omega)
    assert near.max() / near.min() > 1.05  # it is a point, not a plateau


def test_invariant_point_of_the_travel() -> None:
    """At ω = √(kt/M) travel per road height is M/ms, whatever spring and damper."""
    omega = np.sqrt(CAR.kt / CAR.M)
    H = transfer(KS, C, omega)
    check_all(
        figure="travel per road height at ω = √(kt/M), 16 springs and dampers",
        source=HEDRICK,
        theirs=np.full(len(KS), CAR.M / CAR.ms),
        ours=np.abs(H[:, 1] - H[:, 0]),
        rel=1e-12,
        how=DERIVED.replace("abstract seen", "source from memory"),
    )
    near = transfer(KS, C, 1.1 * omega)
    assert np.ptp(np.abs(near[:, 1] - near[:, 0])) > 0.05


def test_damping_of_least_acceleration() -> None:
    """c = ks √(M/kt): among dampers 1 % apart the engine's best lies within 2 % of it."""
    for ks in (10e3, 20e3, 35e3):
        best = float(CAR.damping_of_least_acceleration(np.asarray(ks)))
        c = best * np.power(1.01, np.arange(-60.0, 61.0))
        acceleration = on_band(1e-4, 1e3, np.full_like(c, ks), c).acceleration[:, 0]
        check(
            figure=f"damper of least acceleration for {ks / 1e3:g} N/mm, among dampers 1 % apart",
            source=GOBBI,
            theirs=best,
            ours=c[np.argmin(acceleration)],
            unit="N s/m",
            rel=0.02,
            how=DERIVED,
        )


def test_spring_of_least_tyre_force_does_not_depend_on_the_damper() -> None:
    best = CAR.spring_of_least_tyre_force
    ks = best * np.power(1.01, np.arange(-40.0, 41.0))
    for c in (800.0, 1600.0, 3200.0):
        force = on_band(1e-4, 1e2, ks, np.full_like(ks, c)).contact_force[:, 0]
        check(
            figure=f"spring of least tyre force with a damper of {c:g} N s/m, among springs 1 % apart",
            source=GOBBI,
            theirs=best,
            ours=ks[np.argmin(force)],
            unit="N/m",
            rel=0.02,
            how=DERIVED,
        )


def test_power_balance() -> None:
    """c var(ds/dt) = kt W/2: the damper spends what the tyre takes from the road."""
    speed = on_band(1e-4, 1e3).travel_speed[:, 0]
    np.testing.assert_allclose(C * speed, CAR.kt * W / 2, rtol=1e-7)


CRITERIA_OF_A_RIDE = (
    ("body_acceleration", "body"),
    ("comfort", "body"),
    ("dynamic_load_coefficient", "front"),
    ("travel_rms", "front"),
)


@pytest.mark.parametrize(("criterion", "place"), CRITERIA_OF_A_RIDE)
def test_rms_doubles_from_class_to_class(criterion: str, place: str) -> None:
    """G_d(n0) is four times larger from class to class: exact, whatever the band."""
    designs = quarter_car(spring_rate=KS, damping=C)
    figures = [figure(ride(designs, iso_road(letter), SPEED), criterion, place) for letter in "ABCDEFGH"]
    for smooth, rough in pairwise(figures):
        np.testing.assert_allclose(rough, 2 * smooth, rtol=1e-12)


def test_rms_grows_with_the_root_of_speed() -> None:
    """W ∝ v. On a wide band, for what falls fast enough in frequency; on the ISO band the band moves with the speed."""
    designs = quarter_car(spring_rate=KS, damping=C)
    wide = Road("white", CLASSES["B"], band=(1e-4, 1e3))
    slow, fast = (ride(designs, wide, v) for v in (10.0, 40.0))
    for criterion, place in (("body_acceleration", "body"), ("travel_rms", "front")):
        np.testing.assert_allclose(figure(fast, criterion, place), 2 * figure(slow, criterion, place), rtol=2e-4)
