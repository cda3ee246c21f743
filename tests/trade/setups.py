"""Setups of the invented vehicles for experiments: one design for each of several values of what is tried."""

from __future__ import annotations

import numpy as np

from builders import Array, Parameters, at_rest_under
from trade.vehicles import Vehicle

AXLES = ("front", "rear")


def scaled(vehicle: Vehicle, factors: Array, *keys: str) -> Parameters:
    """One design a factor: `keys` of both axles times it."""
    return times(vehicle.parameters, factors, *keys)


def times(one: Parameters, factors: Array, *keys: str, axles: tuple[str, ...] = AXLES) -> Parameters:
    """The same of one design's parameters (n = 1), full cars' too; of some axles only where these are named."""
    many = {path: np.full(len(factors), value[0]) for path, value in one.items()}
    for axle in axles:
        for key in keys:
            many[f"{axle}.{key}"] = many[f"{axle}.{key}"] * factors
    return many


def with_frequency_ratios(vehicle: Vehicle, ratios: Array) -> Parameters:
    """Rear springs that give these ratios of rear to front ride frequency under the design load: k_r = m_c ω², less the
    tyre in series.
    """
    state = at_rest_under(vehicle.parameters, vehicle.loads)
    front = state.ride_rate[0, 0] / state.corner_mass[0, 0]
    series = state.corner_mass[0, 1] * front * ratios**2
    tyre = state.tyre_rate[0, 1]
    wheel_rate = series * tyre / (tyre - series)
    many = scaled(vehicle, np.ones(len(ratios)))
    return many | {"rear.spring_rate": wheel_rate / many["rear.spring_ratio"] ** 2}


def with_even_dampers(vehicle: Vehicle, many: Parameters, damping_ratio: float) -> Parameters:
    """Dampers alike in bump and rebound, without knees or friction, that give both axles this damping ratio under the
    design load: c = 2 ζ √(k m_c) at the wheel.
    """
    state = at_rest_under(many, vehicle.loads)
    changed = dict(many)
    for c, axle in enumerate(AXLES):
        at_wheel = 2 * damping_ratio * np.sqrt(state.wheel_rate[:, c] * state.corner_mass[:, c])
        for way in ("bump", "rebound"):
            changed[f"{axle}.damping_{way}"] = at_wheel / many[f"{axle}.damper_ratio"] ** 2
            changed[f"{axle}.knee_share_{way}"] = np.ones_like(at_wheel)
        changed[f"{axle}.friction"] = np.zeros_like(at_wheel)
    return changed
