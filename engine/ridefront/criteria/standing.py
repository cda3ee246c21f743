"""Figures of the vehicle at rest: frequencies, deflections, masses. No road is needed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridefront.criteria.ride import Place, Standing
from ridefront.vehicle.laws import Array
from ridefront.vehicle.sides import other_wheel
from ridefront.vehicle.static import GRAVITY, AtRest


def _ride_frequency(state: AtRest, corners: Sequence[int]) -> Array:
    """Of the corners' masses together on their ride rates together."""
    rate, mass = state.ride_rate[:, corners[0]], state.corner_mass[:, corners[0]]
    for c in corners[1:]:
        rate, mass = rate + state.ride_rate[:, c], mass + state.corner_mass[:, c]
    return np.sqrt(rate / mass) / (2 * np.pi)


def _axle(state: AtRest, name: str) -> tuple[int, ...]:
    return tuple(c for c, axle in enumerate(state.model.axles) if axle == name)


def ride_frequency(standing: Standing, place: Place) -> Array:
    """√(k_r/m_c)/2π, k_r the wheel rate and engaged stops in series with the tyre, m_c the corner's sprung mass;
    (n,), Hz.

    Both wheels of an axle move alike: no anti-roll bar has a part in it.

    Source: oscillator with one degree of freedom on springs in series, any text on vibration (derived).
    """
    return _ride_frequency(standing.state, (place.at,))


def frequency_ratio(standing: Standing, place: Place) -> Array:
    """f_r/f_f: rear ride frequency over the front one; (n,), 1.

    In a full car both wheels of an axle count together.

    Source: as `ride_frequency` (definition).
    """
    del place
    state = standing.state
    return _ride_frequency(state, _axle(state, "rear")) / _ride_frequency(state, _axle(state, "front"))


def wheel_hop_frequency(standing: Standing, place: Place) -> Array:
    """√((k + k_t)/m_u)/2π; (n,), Hz.

    Source: oscillator with one degree of freedom, the body standing still (derived).
    """
    c, state = place.at, standing.state
    stiffness = state.wheel_rate[:, c] + state.tyre_rate[:, c]
    return np.sqrt(stiffness / state.unsprung_mass[:, c]) / (2 * np.pi)


def static_deflection(standing: Standing, place: Place) -> Array:
    """m_c g/k_r under the reference load; (n,), m. With √(g/δ)/2π it is the ride frequency.

    Source: weight over rate, any text on vibration (derived).
    """
    state = standing.reference
    return state.corner_mass[:, place.at] * GRAVITY / state.ride_rate[:, place.at]


def ride_height_change(standing: Standing, place: Place) -> Array:
    """Δ(s + N/k_t): sink of the body above the wheel from the reference load to this one, tyre included; (n,), m.

    On a beam axle s is the travel that its springs would have at the wheels.

    Source: difference of two positions at rest (definition).
    """
    return _sink(standing.state, place.at) - _sink(standing.reference, place.at)


def _sink(state: AtRest, c: int) -> Array:
    """Sink of the body above a wheel from the reference position; (n,), m."""
    if len(state.model.corners) < 4:
        return state.travel[:, c] + state.tyre_sink[:, c]
    own = _sink_at_spring(state, c)
    other = _sink_at_spring(state, other_wheel(c))
    # The body sinks evenly from side to side; the wheels are further out than the springs by 1/α.
    return own + (1 / state.spring_mix[:, c] - 1) * 0.5 * (own - other)


def _sink_at_spring(state: AtRest, c: int) -> Array:
    """Sink of the body above a spring: its travel, and what the tyres let it down there; (n,), m."""
    mix, own, other = state.spring_mix[:, c], state.tyre_sink[:, c], state.tyre_sink[:, other_wheel(c)]
    return state.travel[:, c] + 0.5 * (1 + mix) * own + 0.5 * (1 - mix) * other


def unsprung_mass(standing: Standing, place: Place) -> Array:
    """m_u of each wheel; (n,), kg.

    Source: as the study gives it (definition).
    """
    return standing.state.unsprung_mass[:, place.at]


def sprung_mass(standing: Standing, place: Place) -> Array:
    """m, the vehicle's sprung mass under the load (in a quarter car, the corner's); (n,), kg.

    Source: as the study gives it, with the load's masses (definition).
    """
    del place
    sides = 2.0 if standing.state.model.name == "half-car" else 1.0
    return sides * standing.state.body.mass


def _stiffness(standing: Standing) -> tuple[Array, Array]:
    """Roll stiffness of the front and of the rear axle, each (n,), N·m/rad."""
    both = standing.state.roll_stiffness
    return both[:, 0], both[:, 1]


def roll_gradient(standing: Standing, place: Place) -> Array:
    """m g h/(K_f + K_r - m g h): roll angle of the body in steady cornering per g of lateral acceleration; (n,), rad.

    h is the height of the centre of mass of the body as given above the roll axis, which joins the roll centres of the
    axles; K, the roll stiffnesses of springs and bars, are those of small angles about rest, on rigid tyres, and what
    the unsprung masses do is left out. Infinite where the body would fall over.

    Source: D.C. Barton, J.D. Fieldhouse, Automotive Chassis Engineering, 2018, chapter 3 (title from memory).
    """
    del place
    parameters, body = standing.parameters, standing.state.body
    front, rear = parameters["front_roll_centre"], parameters["rear_roll_centre"]
    axis = front + (rear - front) * body.centre / parameters["wheelbase"]
    moment = body.mass * GRAVITY * (parameters["mass_centre_height"] - axis)
    front_stiffness, rear_stiffness = _stiffness(standing)
    left = front_stiffness + rear_stiffness - moment
    return np.where(left > 0, moment / left, np.where(np.isnan(left), np.nan, np.inf))


def front_roll_share(standing: Standing, place: Place) -> Array:
    """K_f/(K_f + K_r): front axle's share of the roll stiffness of springs and bars; (n,), 1.

    Source: roll stiffnesses as in `roll_gradient` (definition).
    """
    del place
    front, rear = _stiffness(standing)
    return front / (front + rear)
