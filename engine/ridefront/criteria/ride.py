"""What a criterion is worked out from, and where: the ride of a batch of designs in one condition, and places."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ridefront.response.frequency import FrequencyResponse
from ridefront.response.time_domain import TimeResponse
from ridefront.vehicle.body import Model, Seat
from ridefront.vehicle.elements import Parameters
from ridefront.vehicle.static import AtRest


@dataclass(frozen=True)
class Standing:
    """Designs at rest under one load.

    Attributes:
        state: under this load; reference: under the reference load.
        parameters: every vehicle quantity by path, (n,), SI.
    """

    state: AtRest
    reference: AtRest
    parameters: Parameters


@dataclass(frozen=True)
class Ride(Standing):
    """The same designs on one road at one speed.

    Attributes:
        response: worked out in the frequency domain or in the time domain.
        points: names of the places where the time domain has taken dose, peak and running rms.
        exposure: for which the condition is driven, s; None for one passage of the road.
    """

    response: FrequencyResponse | TimeResponse
    points: tuple[str, ...] = ()
    exposure: float | None = None

    @property
    def linearised(self) -> FrequencyResponse:
        """The response, where it was worked out in the frequency domain."""
        assert isinstance(self.response, FrequencyResponse), "a ride in the frequency domain"
        return self.response

    @property
    def simulated(self) -> TimeResponse:
        """The response, for criteria that the time domain alone has."""
        assert isinstance(self.response, TimeResponse), "a criterion of the time domain"
        return self.response


@dataclass(frozen=True)
class Place:
    """Where a criterion is worked out.

    Attributes:
        name: as a suffix and in tables: a corner, a seat, or ``body``; empty for the whole vehicle.
        corner: index of the corner, or None.
        seat: the seat, or None; neither of the two is the body's centre of mass.
    """

    name: str
    corner: int | None = None
    seat: Seat | None = None

    @property
    def at(self) -> int:
        """The corner's index, for criteria of corners."""
        assert self.corner is not None, f"{self.name} is not a corner"
        return self.corner


BODY = Place("body")
VEHICLE = Place("")


def corner_places(model: Model) -> tuple[Place, ...]:
    """The corners of a model, front first, left before right."""
    return tuple(Place(name, corner=c) for c, name in enumerate(model.corners))


def named_corners(model: Model) -> dict[str, tuple[Place, ...]]:
    """What may be called a corner: every axle, which is all of its wheels, and in a full car every wheel."""
    corners = corner_places(model)
    named: dict[str, tuple[Place, ...]] = {}
    for axle, place in zip(model.axles, corners, strict=True):
        named[axle] = (*named.get(axle, ()), place)
    for place in corners:
        named.setdefault(place.name, (place,))
    return named


def axles_of(model: Model, places: Iterable[Place]) -> tuple[str, ...]:
    """The axles on which some of these places are, front first."""
    corners = {place.corner for place in places}
    return tuple(dict.fromkeys(axle for c, axle in enumerate(model.axles) if c in corners))


def seat_places(model: Model, seats: tuple[Seat, ...]) -> tuple[Place, ...]:
    """The seats, or the body's centre of mass where there are none; a quarter car has no other place than that."""
    if len(model.motions) == 1 or not seats:
        return (BODY,)
    return tuple(Place(seat.name, seat=seat) for seat in seats)
