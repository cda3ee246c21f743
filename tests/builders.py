"""Vehicles and rides for tests: parameters by path as the engine takes them, with sensible defaults for what a test
does not care about.

A quantity may be a number or an array; arrays of one test share their length n, the number of designs. SI throughout.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ridefront.criteria import CRITERIA
from ridefront.criteria.ride import BODY, VEHICLE, Place, Ride
from ridefront.response.frequency import frequency_response
from ridefront.response.grid import condition_grid
from ridefront.response.linearise import PASSES
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, Seat, model_of
from ridefront.vehicle.static import AtRest, at_rest

Array = NDArray[np.float64]
Parameters = dict[str, Array]

UNLADEN = (Load("unladen", reference=True),)
KMH = 1 / 3.6

_CORNER = {
    "unsprung_mass": 40.0,
    "spring_rate": 25e3,
    "spring_ratio": 1.0,
    "damping": 1600.0,
    "damper_ratio": 1.0,
    "bump_share": 0.5,
    "tyre_rate": 200e3,
    "tyre_damping": 0.0,
    "friction": 0.0,
    "friction_speed": 0.005,
}


def spread(quantities: Mapping[str, ArrayLike]) -> Parameters:
    """Every quantity as an array of the common length n."""
    arrays = {path: np.atleast_1d(np.asarray(value, dtype=np.float64)) for path, value in quantities.items()}
    n = max(len(array) for array in arrays.values())
    return {path: np.ascontiguousarray(np.broadcast_to(array, (n,))) for path, array in arrays.items()}


def quarter_car(corner_mass: ArrayLike = 400.0, **front: ArrayLike) -> Parameters:
    """One front corner; keyword arguments are keys of the corner, such as ``spring_rate=25e3``."""
    return spread({"body.corner_mass": corner_mass} | {f"front.{k}": v for k, v in (_CORNER | front).items()})


def half_car(changes: Mapping[str, ArrayLike] | None = None) -> Parameters:
    """A plain car of 1400 kg sprung mass; `changes` by path, such as ``{"rear.spring_rate": 28e3}``."""
    car: dict[str, ArrayLike] = {
        "wheelbase": 2.7,
        "front_share": 0.52,
        "body.mass": 1400.0,
        "body.dynamic_index": 0.92,
    }
    car |= {f"{axle}.{key}": value for axle in ("front", "rear") for key, value in _CORNER.items()}
    return spread(car | dict(changes or {}))


def full_car(changes: Mapping[str, ArrayLike] | None = None) -> Parameters:
    """The same car with two sides: tracks of 1.5 m, 40 % of its pitch inertia in roll, no anti-roll bars."""
    car = half_car(changes)
    # The half car's inertia: dynamic index x mass x distances of the axles from the centre of mass.
    sides: dict[str, ArrayLike] = {"body.roll_inertia": 0.4 * 0.92 * 1400.0 * 0.52 * 0.48 * 2.7**2}
    sides |= {f"{axle}.{key}": x for axle in ("front", "rear") for key, x in (("track", 1.5), ("anti_roll_rate", 0.0))}
    return spread({path: value for path, value in sides.items() if path not in car} | car)


def iso_road(letter: str, length: float = 1000.0) -> Road:
    """A road of that class of ISO 8608 on the standard's band."""
    return Road(f"class {letter}", CLASSES[letter], length=length)


def at_rest_under(
    parameters: Parameters, loads: tuple[Load, ...] = UNLADEN, at: int = 0, beams: Collection[str] = ()
) -> AtRest:
    """Designs at rest under the load with that index; the first load is the reference."""
    one_side = "half-car" if "wheelbase" in parameters else "quarter-car"
    model = model_of("full-car" if "front.track" in parameters else one_side)
    return at_rest(parameters, model, loads, 0, beams=beams)[at]


def ride(
    parameters: Parameters,
    road: Road,
    speed: float,
    *,
    loads: tuple[Load, ...] = UNLADEN,
    at: int = 0,
    patch: float = 0.0,
    density: int = 1,
    at_rest: bool = False,
    passes: int = PASSES,
) -> Ride:
    """Designs on a road at `speed`, m/s, under the load with index `at`: a half car where a wheelbase is given."""
    reference = at_rest_under(parameters, loads)
    state = at_rest_under(parameters, loads, at)
    wheelbase = float(parameters["wheelbase"][0]) if "wheelbase" in parameters else 0.0
    grid = condition_grid(road, speed, patch, wheelbase, density)
    response = frequency_response(state, grid, at_rest=at_rest, passes=passes)
    return Ride(state, reference, parameters, response)


def figure(of: Ride, criterion: str, place: str | Seat = "") -> Array:
    """A criterion (n,), SI, at a corner such as ``front``, at ``body``, a seat, or of the whole vehicle."""
    if isinstance(place, Seat):
        where = Place(place.name, seat=place)
    elif place in ("", "body"):
        where = BODY if place else VEHICLE
    else:
        where = Place(place, corner=of.state.model.corners.index(place))
    return CRITERIA[criterion].figure(of, where)
