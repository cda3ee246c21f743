"""What people on board feel: vertical acceleration, weighted and not, and the movements of the body."""

from __future__ import annotations

import numpy as np

from ridefront.criteria.ride import Place, Ride
from ridefront.vehicle.laws import Array

PITCH_FACTOR = 0.4
"""Multiplying factor of pitch acceleration for comfort at the seat, m/rad (ISO 2631-1:1997, 8.2.2; from memory)."""

ROLL_FACTOR = 0.63
"""Multiplying factor of roll acceleration for comfort at the seat, m/rad (likewise)."""

BACKREST_FACTOR = 0.8
"""Multiplying factor of fore-aft acceleration at the backrest (ISO 2631-1:1997, 8.2.3; from memory)."""


def _mean_square_at(products: Array, ride: Ride, place: Place) -> Array:
    """Mean square of vertical acceleration at a place from the products z"z", z"θ", θ"θ" at the centre of mass, in a
    full car z"φ", θ"φ", φ"φ" too; (n,).
    """
    if place.seat is None:
        return products[:, 0]
    body = ride.state.body
    x = body.centre - place.seat.behind_front_axle
    square = products[:, 0] - 2 * x * products[:, 1] + x * x * products[:, 2]
    if "roll" in ride.state.model.motions:
        y = place.seat.left_of_centre - body.left
        square = square + 2 * y * products[:, 3] - 2 * x * y * products[:, 4] + y * y * products[:, 5]
    return np.maximum(square, 0.0)


def comfort(ride: Ride, place: Place) -> Array:
    """√∫ |Wk|² S_a df: rms vertical acceleration, weighted by Wk, where the seat is fixed to the floor; (n,), m/s².

    Source: ISO 2631-1:1997, 6.1 and 6.4, weighting Wk on the seat's surface (from memory).
    """
    return np.sqrt(_mean_square_at(ride.response.weighted, ride, place))


def comfort_total(ride: Ride, place: Place) -> Array:
    """√(a_z² + (0.4 θ"_We)² + (0.63 φ"_We)² + (0.8 h θ"_Wc)²): vertical, pitch, roll and fore-aft at the backrest;
    (n,), m/s².

    h is the seat's height above the centre of mass of the body as given. Roll counts in a full car; what it does to and
    fro sideways at the backrest is left out.

    Source: ISO 2631-1:1997, 8.2.2 and 8.2.3, axes put together by the root of the sum of squares (from memory).
    """
    assert place.seat is not None, "comfort_total is worked out at seats"
    assert place.seat.height is not None, "comfort_total needs the seat's height"
    arm = place.seat.height - ride.parameters["mass_centre_height"]
    vertical = _mean_square_at(ride.response.weighted, ride, place)
    pitch = PITCH_FACTOR**2 * ride.response.pitch_weighted
    backrest = (BACKREST_FACTOR * arm) ** 2 * ride.response.pitch_backrest
    if "roll" in ride.state.model.motions:
        vertical = vertical + ROLL_FACTOR**2 * ride.response.roll_weighted
    return np.sqrt(vertical + pitch + backrest)


def body_acceleration(ride: Ride, place: Place) -> Array:
    """√∫ S_a df: rms vertical acceleration, unweighted; (n,), m/s².

    Source: mean square as the integral of the one-sided spectrum (definition).
    """
    return np.sqrt(_mean_square_at(ride.response.acceleration, ride, place))


def pitch_angle(ride: Ride, place: Place) -> Array:
    """√∫ S_θ df: rms pitch angle; (n,), rad.

    Source: mean square as the integral of the one-sided spectrum (definition).
    """
    del place
    return np.sqrt(ride.response.pitch)


def pitch_acceleration(ride: Ride, place: Place) -> Array:
    """√∫ ω⁴ S_θ df: rms pitch acceleration; (n,), rad/s².

    Source: mean square as the integral of the one-sided spectrum (definition).
    """
    del place
    return np.sqrt(ride.response.acceleration[:, 2])


def roll_angle(ride: Ride, place: Place) -> Array:
    """√∫ S_φ df: rms roll angle; (n,), rad.

    Source: mean square as the integral of the one-sided spectrum (definition).
    """
    del place
    return np.sqrt(ride.response.roll)


def roll_acceleration(ride: Ride, place: Place) -> Array:
    """√∫ ω⁴ S_φ df: rms roll acceleration; (n,), rad/s².

    Source: mean square as the integral of the one-sided spectrum (definition).
    """
    del place
    return np.sqrt(ride.response.acceleration[:, 5])


def _at_point(figures: Array, ride: Ride, place: Place) -> Array:
    """The column of a place, (n,)."""
    return figures[:, ride.points.index(place.name)]


def vibration_dose(ride: Ride, place: Place) -> Array:
    """(∫ a_w⁴ dt)^¼: fourth-power vibration dose (VDV of ISO 2631-1) of vertical acceleration; (n,), m/s^1.75.

    Over the condition's exposure: with T of one passage it grows with (exposure/T)^¼.

    Source: ISO 2631-1:1997, 6.3.2, fourth-power vibration dose (from memory).
    """
    passages = 1.0 if ride.exposure is None else ride.exposure / ride.simulated.drive.duration
    # Two square roots, which are the same on every machine; a power of 1/4 is the maths library's.
    return np.sqrt(np.sqrt(passages * _at_point(ride.simulated.dose, ride, place)))


def peak_acceleration(ride: Ride, place: Place) -> Array:
    """max |a| below 30 Hz: largest vertical acceleration behind a second-order low-pass; (n,), m/s².

    Source: common practice, no source: what lies above some 30 Hz is noise, not ride.
    """
    return _at_point(ride.simulated.peak, ride, place)


def transient_vibration(ride: Ride, place: Place) -> Array:
    """max √((1/τ) ∫ a_w² e^((t' - t)/τ) dt'), τ = 1 s: largest running rms of weighted acceleration; (n,), m/s².

    Wk-weighted and vertical, of one passage. The standard's exponential form: its other one, the rms over a window of
    1 s, reads up to 26 % higher where vibration lasts as long as the window. Where it is more than 1.5 times the rms of
    a random road, the standard counts such a figure as important beside the rms (6.3.3).

    Source: ISO 2631-1:1997, 6.3.1, equation (3), maximum transient vibration value (MTVV) (from memory).
    """
    return _at_point(ride.simulated.running, ride, place)


def residual_pitch(ride: Ride, place: Place) -> Array:
    """√((1/1 s) ∫ θ² dt): rms pitch angle in the second after the rear axle has passed the obstacle; (n,), rad.

    Source: our own measure of how a body comes to rest (definition).
    """
    del place
    return np.sqrt(ride.simulated.residual_pitch)


def settling_time(ride: Ride, place: Place) -> Array:
    """last t with |z| > 5 % of max |z|, from the front wheel's first contact; (n,), s.

    z is the heave of the centre of mass, from where it comes to rest behind the obstacle. The time is infinite for a
    body that still moves where the road ends: such a design has no figure; a longer run-out shows what becomes of it.

    Source: common practice, no source: the 5 % settling time of control engineering.
    """
    del place
    return ride.simulated.settling
