"""Rattle space: how far the wheels move against the body, and how much travel is left."""

from __future__ import annotations

import numpy as np

from ridefront.criteria.ride import Place, Ride
from ridefront.response.frequency import FrequencyResponse
from ridefront.response.time_domain import TimeResponse
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


def _deviation_and_rate(response: FrequencyResponse, c: int) -> tuple[Array, Array]:
    """Deviation of travel (n,), m, and its upward crossings of zero over the road, νT, (n,); on a beam whose dampers
    stand elsewhere than its springs the speed is that of the dampers, which peaks feel through √ln alone.
    """
    sigma = np.sqrt(response.travel[:, c])
    speed = np.sqrt(response.travel_speed[:, c])
    return sigma, speed / (2 * np.pi * sigma) * response.grid.duration


def travel_rms(ride: Ride, place: Place) -> Array:
    """σ_s = √∫ S_s df: rms of travel about its mean; (n,), m. On a beam axle travel is that of its springs.

    Source: mean square as the integral of the one-sided spectrum (definition).
    """
    return np.sqrt(ride.response.travel[:, place.at])


def rattle_space(ride: Ride, place: Place) -> Array:
    """|Δs| + σ_s (q + γ/q), q = √(2 ln 2νT): largest travel either way from where the load has put the corner; (n,), m.

    Δs is what the road does to mean travel (jacking, stops), ν = σ_ds/dt/(2π σ_s) the rate of upward crossings, T the
    time that the road takes. In the time domain max |s|. On a beam axle travel is that of its springs.

    The shift is added to the largest swing about it, which for a Gaussian ride is a bound, high by 6 % at most; a real
    one swings further to the side to which uneven dampers pull. Of four invented vehicles with twice as much damping in
    rebound as in bump, driven over classes B to D in time, this is up to 8 % short off their stops (16 % where friction
    is most, over leaf springs on class B), and on them, with the boot full, 17 % short to 3 % too much.

    Source: A.G. Davenport, 1964, as in `peak_factor`; ν: S.O. Rice, Bell System Technical Journal 23, 24 (from memory);
    the shift beside it (derived).
    """
    c = place.at
    if isinstance(ride.response, TimeResponse):
        return ride.response.largest[:, c]
    sigma, crossings = _deviation_and_rate(ride.response, c)
    shift = np.abs(ride.response.mean_travel[:, c] - ride.state.travel[:, c])
    return np.asarray(shift + sigma * peak_factor(2 * crossings))


def _one_sided_peak(response: FrequencyResponse, c: int) -> Array:
    """σ_s (q + γ/q), q = √(2 ln νT): largest travel one way; (n,), m."""
    sigma, crossings = _deviation_and_rate(response, c)
    return sigma * peak_factor(crossings)


def bump_reserve(ride: Ride, place: Place) -> Array:
    """bump travel - mean travel - one-sided peak: travel left before the end of bump; (n,), m.

    Mean travel is the static travel, and what unequal damping pumps (jacking) and stops push back. In the time domain
    bump travel - max s. On a beam axle travel is that of its springs.

    Of the four vehicles of `rattle_space` the frequency domain leaves 1 to 6 mm more in bump than the time domain
    while they are off their stops: their swings reach further in bump than in rebound. With the boot full, on their
    stops, it is 6 mm more to 5 mm less on classes B and C, to 14 mm less on D, where stops cut swings off short.

    Source: peak as in `rattle_space`, νT upward peaks (derived).
    """
    assert ride.state.bump_travel is not None, "bump_reserve needs bump_travel"
    c = place.at
    if isinstance(ride.response, TimeResponse):
        highest = ride.response.highest[:, c]
    else:
        highest = ride.response.mean_travel[:, c] + _one_sided_peak(ride.response, c)
    return ride.state.bump_travel[:, c] - highest


def rebound_reserve(ride: Ride, place: Place) -> Array:
    """rebound travel + mean travel - one-sided peak: travel left before the end of rebound; (n,), m.

    In the time domain rebound travel + min s. On a beam axle travel is that of its springs.

    Of the four vehicles of `rattle_space` the two domains are within 1 mm off the stops; with the boot full up to 9 mm
    more are left than driven in time on classes B and C, 21 mm on D, since stops throw the body up.

    Source: peak as in `rattle_space`, νT downward peaks (derived).
    """
    assert ride.state.rebound_travel is not None, "rebound_reserve needs rebound_travel"
    c = place.at
    if isinstance(ride.response, TimeResponse):
        lowest = ride.response.lowest[:, c]
    else:
        lowest = ride.response.mean_travel[:, c] - _one_sided_peak(ride.response, c)
    return ride.state.rebound_travel[:, c] + lowest


def bump_stop_engagement(ride: Ride, place: Place) -> Array:
    """(1/T) ∫ [s > clearance] dt: share of time on the bump stop; (n,), 1.

    Source: share of time (definition).
    """
    return ride.simulated.bump_stop[:, place.at]


def stop_force(ride: Ride, place: Place) -> Array:
    """max of either stop's force, at the wheel; (n,), N.

    Source: largest value of the march (definition).
    """
    return ride.simulated.stop_force[:, place.at]
