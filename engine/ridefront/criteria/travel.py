"""Rattle space: how far the wheels move against the body, and how much travel is left."""

from __future__ import annotations

import numpy as np

from ridefront.criteria.ride import Place, Ride
from ridefront.vehicle.laws import Array

EULER = 0.5772156649015329
"""Euler's constant γ."""


def peak_factor(crossings: Array) -> Array:
    """q + γ/q, q = √(2 ln N): expected largest value of a Gaussian process over its deviation (Davenport 1964).

    A.G. Davenport, Note on the distribution of the largest value of a random function with application to gust loading,
    Proc. Institution of Civil Engineers 28 (1964) 187-196; formula from memory.

    Args:
        crossings: expected number N of peaks, (n,); taken as at least e, below which the formula has no meaning.
    """
    q = np.sqrt(2 * np.log(np.maximum(crossings, np.e)))
    return np.asarray(q + EULER / q)


def _deviation_and_rate(ride: Ride, place: Place) -> tuple[Array, Array]:
    """Deviation of travel (n,), m, and its upward crossings of zero over the road, νT, (n,)."""
    sigma = np.sqrt(ride.response.travel[:, place.at])
    speed = np.sqrt(ride.response.travel_speed[:, place.at])
    return sigma, speed / (2 * np.pi * sigma) * ride.response.grid.duration


def travel_rms(ride: Ride, place: Place) -> Array:
    """σ_s = √∫ S_s df: rms of travel about its mean; (n,), m."""
    return np.sqrt(ride.response.travel[:, place.at])


def rattle_space(ride: Ride, place: Place) -> Array:
    """σ_s (q + γ/q), q = √(2 ln 2νT): largest travel either way from where the load has put the corner; (n,), m.

    ν = σ_ds/dt/(2π σ_s) is the rate of upward crossings, T the time that the road takes.
    """
    sigma, crossings = _deviation_and_rate(ride, place)
    return sigma * peak_factor(2 * crossings)


def _one_sided_peak(ride: Ride, place: Place) -> Array:
    """σ_s (q + γ/q), q = √(2 ln νT): largest travel one way; (n,), m."""
    sigma, crossings = _deviation_and_rate(ride, place)
    return sigma * peak_factor(crossings)


def bump_reserve(ride: Ride, place: Place) -> Array:
    """bump travel - mean travel - one-sided peak: travel left before the end of bump; (n,), m.

    Mean travel is the static travel, and what unequal damping pumps (jacking) and stops push back.
    """
    assert ride.state.bump_travel is not None, "bump_reserve needs bump_travel"
    mean = ride.response.mean_travel[:, place.at]
    return ride.state.bump_travel[:, place.at] - mean - _one_sided_peak(ride, place)


def rebound_reserve(ride: Ride, place: Place) -> Array:
    """rebound travel + mean travel - one-sided peak: travel left before the end of rebound; (n,), m."""
    assert ride.state.rebound_travel is not None, "rebound_reserve needs rebound_travel"
    mean = ride.response.mean_travel[:, place.at]
    return ride.state.rebound_travel[:, place.at] + mean - _one_sided_peak(ride, place)
