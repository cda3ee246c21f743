"""Rides in the time domain for tests: what `builders.ride` is for the frequency domain."""

from __future__ import annotations

import numpy as np

from builders import UNLADEN, Parameters, at_rest_under
from ridefront.criteria.ride import Ride
from ridefront.response.drive import Drive, drive
from ridefront.response.time_domain import Simulation
from ridefront.road import AnyRoad
from ridefront.vehicle import Load, Seat

STEP = 1e-3
"""s; what studies of such vehicles come to."""


def road_in_time(
    parameters: Parameters, road: AnyRoad, speed: float, *, patch: float = 0.0, step: float = STEP, seed: int = 1
) -> Drive:
    """The road as these designs are driven over it at `speed`, m/s."""
    wheelbase = float(parameters["wheelbase"][0]) if "wheelbase" in parameters else None
    return drive(road, speed, patch, wheelbase, step, seed=seed)


def time_ride(
    parameters: Parameters,
    road: AnyRoad,
    speed: float,
    *,
    loads: tuple[Load, ...] = UNLADEN,
    at: int = 0,
    patch: float = 0.0,
    seat: Seat | None = None,
    step: float = STEP,
    seed: int = 1,
) -> Ride:
    """Designs driven over every realisation of a road at `speed`, m/s, under the load with index `at`: a half car where
    a wheelbase is given. Dose and peak are taken at the body's centre of mass, and at the seat if one is given.
    """
    state = at_rest_under(parameters, loads, at)
    points = {"body": np.zeros(len(state.travel))}
    if seat is not None:
        points[seat.name] = state.body.centre - seat.behind_front_axle
    way = road_in_time(parameters, road, speed, patch=patch, step=step, seed=seed)
    response = Simulation(state, way, np.stack(list(points.values()), axis=1)).response()
    return Ride(state, at_rest_under(parameters, loads), parameters, response, tuple(points))
