"""Road holding: how much the contact force swings, and when the wheel leaves the ground."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from ridefront.criteria.ride import Place, Ride
from ridefront.response.time_domain import TimeResponse
from ridefront.vehicle.laws import Array


def dynamic_load_coefficient(ride: Ride, place: Place) -> Array:
    """σ_N/N0: deviation of the contact force over its static value under that load; (n,), 1.

    Source: D. Cebon, Handbook of Vehicle-Road Interaction, 1999 (from memory).
    """
    return np.sqrt(ride.response.contact_force[:, place.at]) / ride.state.contact_force[:, place.at]


def wheel_lift_off(ride: Ride, place: Place) -> Array:
    """Φ(-N0/σ_N): share of time for which a Gaussian contact force would be negative; (n,), 1.

    In the time domain the share of time with N = 0.

    Source: distribution of a Gaussian force (derived).
    """
    if isinstance(ride.response, TimeResponse):
        return ride.response.lift_off[:, place.at]
    return np.asarray(ndtr(-1 / dynamic_load_coefficient(ride, place)))


def damping_ratio(ride: Ride, place: Place) -> Array:
    """c/(2√(k m_c)), damping c and wheel rate k linearised for this road, m_c the corner's sprung mass; (n,), 1.

    In the time domain too c and k are those of a Gaussian motion, of one with the mean and the deviations that were
    driven. For four invented vehicles on classes B to D that c is 2 to 8 % above E[F w]/E[w²] of the histories, whose
    speeds have longer tails, past the knees; k is within 1 % of theirs off the stops and on them, with the boot full,
    up to 19 % above it.

    Source: oscillator with one degree of freedom, any text on vibration; slopes as in `linearise` (derived).
    """
    c = place.at
    critical = 2 * np.sqrt(ride.response.wheel_rate[:, c] * ride.state.corner_mass[:, c])
    return np.asarray(ride.response.damping[:, c] / critical)


def hop_damping_ratio(ride: Ride, place: Place) -> Array:
    """c/(2√((k + k_t) m_u)), c and k linearised for this road, the tyre's own damping left out; (n,), 1.

    In the time domain c and k are Gaussian too, as in `damping_ratio`.

    Source: oscillator with one degree of freedom, the body standing still (derived).
    """
    c = place.at
    stiffness = ride.response.wheel_rate[:, c] + ride.state.tyre_rate[:, c]
    return np.asarray(ride.response.damping[:, c] / (2 * np.sqrt(stiffness * ride.state.unsprung_mass[:, c])))
