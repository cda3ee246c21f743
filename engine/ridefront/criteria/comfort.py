"""What people on board feel: vertical acceleration, weighted and not, and the movements of the body."""

from __future__ import annotations

import numpy as np

from ridefront.criteria.ride import Place, Ride
from ridefront.vehicle.laws import Array

PITCH_FACTOR = 0.4
"""Multiplying factor of pitch acceleration for comfort at the seat, m/rad (ISO 2631-1:1997, 8.2.2; from memory)."""

BACKREST_FACTOR = 0.8
"""Multiplying factor of fore-aft acceleration at the backrest (ISO 2631-1:1997, 8.2.3; from memory)."""


def _mean_square_at(products: Array, ride: Ride, place: Place) -> Array:
    """Mean square of vertical acceleration at a place from the products z"z", z"θ", θ"θ" at the centre of mass;
    (n,).
    """
    if place.seat is None:
        return products[:, 0]
    x = ride.state.body.centre - place.seat.behind_front_axle
    return np.maximum(products[:, 0] - 2 * x * products[:, 1] + x * x * products[:, 2], 0.0)


def comfort(ride: Ride, place: Place) -> Array:
    """√∫ |Wk|² S_a df: rms vertical acceleration, weighted by Wk, where the seat is fixed to the floor; (n,), m/s²."""
    return np.sqrt(_mean_square_at(ride.response.weighted, ride, place))


def comfort_total(ride: Ride, place: Place) -> Array:
    """√(a_z² + (0.4 θ"_We)² + (0.8 h θ"_Wc)²): vertical, pitch and fore-aft at the backrest; (n,), m/s².

    h is the seat's height above the centre of mass of the body as given.
    """
    assert place.seat is not None, "comfort_total is worked out at seats"
    assert place.seat.height is not None, "comfort_total needs the seat's height"
    arm = place.seat.height - ride.parameters["mass_centre_height"]
    vertical = _mean_square_at(ride.response.weighted, ride, place)
    pitch = PITCH_FACTOR**2 * ride.response.pitch_weighted
    backrest = (BACKREST_FACTOR * arm) ** 2 * ride.response.pitch_backrest
    return np.sqrt(vertical + pitch + backrest)


def body_acceleration(ride: Ride, place: Place) -> Array:
    """√∫ S_a df: rms vertical acceleration, unweighted; (n,), m/s²."""
    return np.sqrt(_mean_square_at(ride.response.acceleration, ride, place))


def pitch_angle(ride: Ride, place: Place) -> Array:
    """√∫ S_θ df: rms pitch angle; (n,), rad."""
    del place
    return np.sqrt(ride.response.pitch)


def pitch_acceleration(ride: Ride, place: Place) -> Array:
    """√∫ ω⁴ S_θ df: rms pitch acceleration; (n,), rad/s²."""
    del place
    return np.sqrt(ride.response.acceleration[:, 2])
