"""Figures of the vehicle at rest: frequencies, deflections, masses. No road is needed."""

from __future__ import annotations

import numpy as np

from ridefront.criteria.ride import Place, Standing
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import GRAVITY, AtRest


def _ride_frequency(state: AtRest, c: int) -> Array:
    return np.sqrt(state.ride_rate[:, c] / state.corner_mass[:, c]) / (2 * np.pi)


def ride_frequency(standing: Standing, place: Place) -> Array:
    """√(k_r/m_c)/2π, k_r the wheel rate and engaged stops in series with the tyre, m_c the corner's sprung mass;
    (n,), Hz.
    """
    return _ride_frequency(standing.state, place.at)


def frequency_ratio(standing: Standing, place: Place) -> Array:
    """Rear ride frequency over front ride frequency; (n,), 1."""
    del place
    return _ride_frequency(standing.state, 1) / _ride_frequency(standing.state, 0)


def wheel_hop_frequency(standing: Standing, place: Place) -> Array:
    """√((k + k_t)/m_u)/2π; (n,), Hz."""
    c, state = place.at, standing.state
    stiffness = state.wheel_rate[:, c] + state.tyre_rate[:, c]
    return np.sqrt(stiffness / state.unsprung_mass[:, c]) / (2 * np.pi)


def static_deflection(standing: Standing, place: Place) -> Array:
    """m_c g/k_r under the reference load; (n,), m. With √(g/δ)/2π it is the ride frequency."""
    state = standing.reference
    return state.corner_mass[:, place.at] * GRAVITY / state.ride_rate[:, place.at]


def ride_height_change(standing: Standing, place: Place) -> Array:
    """s + ΔN/k_t: sink of the body above the axle from the reference load to this one, tyre included; (n,), m."""
    return standing.state.travel[:, place.at] + standing.state.tyre_sink[:, place.at]


def unsprung_mass(standing: Standing, place: Place) -> Array:
    """m_u of each wheel; (n,), kg."""
    return standing.state.unsprung_mass[:, place.at]


def sprung_mass(standing: Standing, place: Place) -> Array:
    """m, the vehicle's sprung mass under the load (in a quarter car, the corner's); (n,), kg."""
    del place
    sides = 1.0 if len(standing.state.model.motions) == 1 else 2.0
    return sides * standing.state.body.mass
