"""Rides of full cars for tests: what `builders.ride` and `time_rides.time_ride` are for cars with one track, and the
half car with the same parameters beside them.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from builders import UNLADEN, Array, Parameters
from ridefront.criteria.ride import Ride
from ridefront.response.drive import Drive, drive
from ridefront.response.frequency import frequency_response
from ridefront.response.grid import condition_grid
from ridefront.response.time_domain import Simulation
from ridefront.road import AnyRoad, Road
from ridefront.vehicle import Load, Seat, model_of
from ridefront.vehicle.static import AtRest, at_rest

STEP = 1e-3  # s; what studies of such vehicles come to


def states(
    parameters: Parameters, loads: tuple[Load, ...] = UNLADEN, *, model: str = "full-car", beams: Collection[str] = ()
) -> tuple[AtRest, ...]:
    """The car under each load; the first one is the reference. A half car takes no notice of what says sides."""
    return at_rest(parameters, model_of(model), loads, 0, beams=beams if model == "full-car" else ())


def between_tracks(parameters: Parameters) -> float:
    """Distance of a road's tracks, as studies take it: the mean of both axles', m."""
    return 0.5 * (float(parameters["front.track"][0]) + float(parameters["rear.track"][0]))


def ride_on_two_tracks(
    parameters: Parameters,
    road: Road,
    speed: float,
    *,
    loads: tuple[Load, ...] = UNLADEN,
    at: int = 0,
    patch: float = 0.0,
    beams: Collection[str] = (),
    model: str = "full-car",
) -> Ride:
    """Designs on a random road at `speed`, m/s, under the load with index `at`; a half car's sides meet one track."""
    state = states(parameters, loads, model=model, beams=beams)
    track = between_tracks(parameters) if model == "full-car" else None
    grid = condition_grid(road, speed, patch, float(parameters["wheelbase"][0]), track=track)
    return Ride(state[at], state[0], parameters, frequency_response(state[at], grid))


def way_on_two_tracks(parameters: Parameters, road: AnyRoad, speed: float, patch: float) -> Drive:
    """The road as full cars are driven over it at `speed`, m/s."""
    wheelbase, track = float(parameters["wheelbase"][0]), between_tracks(parameters)
    return drive(road, speed, patch, wheelbase, STEP, seed=1, track=track)


def driven_on_two_tracks(
    parameters: Parameters,
    road: AnyRoad,
    speed: float,
    *,
    loads: tuple[Load, ...] = UNLADEN,
    at: int = 0,
    patch: float = 0.0,
    beams: Collection[str] = (),
    seat: Seat | None = None,
) -> Ride:
    """Full cars in the time domain; what points have at the body's centre of mass, and at the seat if one is given."""
    state = states(parameters, loads, beams=beams)
    body = state[at].body
    ahead, left = {"body": np.zeros(len(body.mass))}, {"body": np.zeros(len(body.mass))}
    if seat is not None:
        ahead[seat.name], left[seat.name] = body.centre - seat.behind_front_axle, seat.left_of_centre - body.left
    points: tuple[Array, Array] = (np.stack(list(ahead.values()), axis=1), np.stack(list(left.values()), axis=1))
    response = Simulation(state[at], way_on_two_tracks(parameters, road, speed, patch), *points).response()
    return Ride(state[at], state[0], parameters, response, tuple(ahead))
