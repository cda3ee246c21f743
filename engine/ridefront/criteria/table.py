"""The criteria, one row each.

To add one: a function of a ride (or of the vehicle at rest) and a place, in one of the files beside this one, and its
row here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from ridefront.criteria import comfort, holding, standing, travel
from ridefront.criteria.ride import BODY, VEHICLE, Place, corner_places, named_corners, seat_places
from ridefront.vehicle.body import Model, Seat
from ridefront.vehicle.laws import Array

_ALL = ("quarter-car", "half-car", "full-car")
_TWO_AXLES = ("half-car", "full-car")
_TWO_SIDES = ("full-car",)


@dataclass(frozen=True)
class Criterion:
    """What a criterion is, and how studies use it unless they say otherwise.

    Attributes:
        name: as study files say it.
        figure: from a ride (kind "condition") or the vehicle at rest (kinds "load" and "design") and a place to
            (n,), SI.
        unit: of `figure`; display_unit: of stored figures, unless a study asks for another.
        sense: which way is better; None where neither is, so that it can only be a constraint.
        places: "corner" (axles, or wheels in a full car), "seat" (seats, or the body's centre of mass), "vehicle".
        kind: "condition" needs a road, "load" one figure a load, "design" one figure.
        over: how conditions are combined unless the study says otherwise.
        typical: size of an ordinary value or of a difference that matters, SI; violations are scaled by it.
        models: that have it.
        needs: optional keys that must be given: of each axle (see `AXLE_NEEDS`), heights of the vehicle, or
            ``seat.height``.
        roads: that it means something on: "random" ones (rms and shares of time depend on where an obstacle's road
            ends), one "single" obstacle, or "any".
        simulated: whether only the time domain has it.
        jumps: whether the time domain counts it in steps, or lets it pass from one swing to the next: no slope there.
        alike: criteria that order designs in the same way when taken at the same place in the worst condition.
        description: in a line, for people.
    """

    name: str
    figure: Callable[[Any, Place], Array]
    unit: str
    display_unit: str
    sense: Literal["small", "large"] | None
    places: Literal["corner", "seat", "vehicle"]
    kind: Literal["condition", "load", "design"]
    over: Literal["mean", "rms", "worst"]
    typical: float
    description: str
    models: tuple[str, ...] = _ALL
    needs: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()
    roads: Literal["any", "random", "single"] = "random"
    simulated: bool = False
    jumps: bool = False

    @property
    def formula(self) -> str:
        """The formula, as the first line of the function's docstring gives it."""
        return (self.figure.__doc__ or "").split("\n", 1)[0]

    def counted(self, model: Model, seats: tuple[Seat, ...]) -> tuple[Place, ...]:
        """The places among which an unsuffixed name takes the worst."""
        if self.places == "corner":
            return corner_places(model)
        return seat_places(model, seats) if self.places == "seat" else (VEHICLE,)

    def named(self, model: Model, seats: tuple[Seat, ...]) -> dict[str, tuple[Place, ...]]:
        """What may stand behind the name, and the places of which it is the worst: one, or both wheels of a full car's
        axle; ``body`` wherever seats may, unless it needs a seat's height.
        """
        if self.places == "vehicle":
            return {}
        if self.places == "corner":
            return named_corners(model)
        places: dict[str, tuple[Place, ...]] = {place.name: (place,) for place in self.counted(model, seats)}
        if "seat.height" not in self.needs:
            places.setdefault(BODY.name, (BODY,))
        return places


AXLE_NEEDS = ("bump_travel", "rebound_travel", "bump_stop_rate", "bump_stop_rate or rebound_stop_rate")
"""Needs that every axle must give at which a criterion is worked out; of those joined by "or" one."""

LOOKED_AT = ("bump_travel", "rebound_travel", "mass_centre_height", "front_roll_centre", "rear_roll_centre")
"""Needs that change no motion: quantities that only the criteria which need them look at."""

_ROWS = (
    Criterion(
        "comfort", comfort.comfort, "m/s^2", "m/s^2", "small", "seat", "condition", "rms", 0.5,
        "frequency-weighted rms vertical acceleration (Wk of ISO 2631-1) where a seat is fixed to the floor",
    ),
    Criterion(
        "comfort_total", comfort.comfort_total, "m/s^2", "m/s^2", "small", "seat", "condition", "rms", 0.5,
        "comfort with pitch, in a full car roll, and fore-aft motion at the backrest added (Wk, We, Wc of ISO 2631-1)",
        models=_TWO_AXLES, needs=("seat.height", "mass_centre_height"),
    ),
    Criterion(
        "body_acceleration", comfort.body_acceleration, "m/s^2", "m/s^2", "small", "seat", "condition", "rms", 1.0,
        "unweighted rms vertical acceleration at a seat or the body's centre of mass",
    ),
    Criterion(
        "pitch_angle", comfort.pitch_angle, "rad", "deg", "small", "vehicle", "condition", "rms", 0.005,
        "rms pitch angle of the body", models=_TWO_AXLES,
    ),
    Criterion(
        "pitch_acceleration", comfort.pitch_acceleration, "rad/s^2", "rad/s^2", "small", "vehicle", "condition", "rms",
        0.5, "rms pitch acceleration of the body", models=_TWO_AXLES,
    ),
    Criterion(
        "roll_angle", comfort.roll_angle, "rad", "deg", "small", "vehicle", "condition", "rms", 0.005,
        "rms roll angle of the body", models=_TWO_SIDES,
    ),
    Criterion(
        "roll_acceleration", comfort.roll_acceleration, "rad/s^2", "rad/s^2", "small", "vehicle", "condition", "rms",
        0.5, "rms roll acceleration of the body", models=_TWO_SIDES,
    ),
    Criterion(
        "dynamic_load_coefficient", holding.dynamic_load_coefficient, "1", "1", "small", "corner", "condition", "worst",
        0.1, "road holding: deviation of the contact force over the static contact force of that load",
        alike=("wheel_lift_off",),
    ),
    Criterion(
        "wheel_lift_off", holding.wheel_lift_off, "1", "1", "small", "corner", "condition", "worst", 0.001,
        "share of time without contact; in the frequency domain from Gaussian theory",
        alike=("dynamic_load_coefficient",), jumps=True,
    ),
    Criterion(
        "travel_rms", travel.travel_rms, "m", "mm", "small", "corner", "condition", "worst", 0.01,
        "rms travel of the wheel against the body; on a beam, at its springs",
    ),
    Criterion(
        "rattle_space", travel.rattle_space, "m", "mm", "small", "corner", "condition", "worst", 0.05,
        "largest travel either way, from where that load has put the corner; on a beam, at its springs", roads="any",
    ),
    Criterion(
        "bump_reserve", travel.bump_reserve, "m", "mm", "large", "corner", "condition", "worst", 0.02,
        "travel left before the end of bump, after mean travel and the largest travel of that road; on a beam, at its "
        "springs. The frequency domain leaves up to 6 mm more than a drive in time, on the stops up to 14 mm less",
        needs=("bump_travel",), roads="any",
    ),
    Criterion(
        "rebound_reserve", travel.rebound_reserve, "m", "mm", "large", "corner", "condition", "worst", 0.02,
        "travel left before the end of rebound, likewise", needs=("rebound_travel",), roads="any",
    ),
    Criterion(
        "vibration_dose", comfort.vibration_dose, "m/s^1.75", "m/s^1.75", "small", "seat", "condition", "worst", 3.0,
        "fourth-power vibration dose (VDV of ISO 2631-1, Wk) over the condition's exposure where a seat is fixed",
        roads="any", simulated=True,
    ),
    Criterion(
        "transient_vibration", comfort.transient_vibration, "m/s^2", "m/s^2", "small", "seat", "condition", "worst",
        1.0, "largest running rms over 1 s (MTVV of ISO 2631-1, Wk) where a seat is fixed", roads="any", simulated=True,
    ),
    Criterion(
        "peak_acceleration", comfort.peak_acceleration, "m/s^2", "m/s^2", "small", "seat", "condition", "worst", 5.0,
        "largest vertical acceleration below 30 Hz where a seat is fixed", roads="any", simulated=True,
    ),
    Criterion(
        "residual_pitch", comfort.residual_pitch, "rad", "deg", "small", "vehicle", "condition", "worst", 0.005,
        "rms pitch angle in the second after the rear axle has passed the obstacle", models=_TWO_AXLES,
        roads="single", simulated=True,
    ),
    Criterion(
        "settling_time", comfort.settling_time, "s", "s", "small", "vehicle", "condition", "worst", 1.0,
        "time from the front wheel's first contact until heave stays within 5 % of its largest",
        roads="single", simulated=True, jumps=True,
    ),
    Criterion(
        "bump_stop_engagement", travel.bump_stop_engagement, "1", "1", "small", "corner", "condition", "worst", 0.01,
        "share of time on the bump stop", needs=("bump_stop_rate",), simulated=True, jumps=True,
    ),
    Criterion(
        "stop_force", travel.stop_force, "N", "N", "small", "corner", "condition", "worst", 2000.0,
        "largest force of a bump or rebound stop, at the wheel", needs=("bump_stop_rate or rebound_stop_rate",),
        roads="any",
        simulated=True,
    ),
    Criterion(
        "damping_ratio", holding.damping_ratio, "1", "1", None, "corner", "condition", "worst", 0.3,
        "damping of the body on its springs over critical damping, dampers and friction linearised for that road, as "
        "for a Gaussian motion in the time domain too",
    ),
    Criterion(
        "hop_damping_ratio", holding.hop_damping_ratio, "1", "1", None, "corner", "condition", "worst", 0.2,
        "damping of wheel hop over critical damping, linearised likewise",
    ),
    Criterion(
        "ride_frequency", standing.ride_frequency, "Hz", "Hz", None, "corner", "load", "worst", 1.0,
        "natural frequency of the corner's sprung mass on spring, engaged stops and tyre",
    ),
    Criterion(
        "frequency_ratio", standing.frequency_ratio, "1", "1", None, "vehicle", "load", "worst", 1.0,
        "rear over front ride frequency", models=_TWO_AXLES,
    ),
    Criterion(
        "roll_gradient", standing.roll_gradient, "rad", "deg", "small", "vehicle", "load", "worst", 0.05,
        "roll angle of the body in steady cornering per g of lateral acceleration, on rigid tyres", models=_TWO_SIDES,
        needs=("mass_centre_height", "front_roll_centre", "rear_roll_centre"),
    ),
    Criterion(
        "front_roll_share", standing.front_roll_share, "1", "1", None, "vehicle", "load", "worst", 0.5,
        "front axle's share of the roll stiffness of springs and anti-roll bars", models=_TWO_SIDES,
    ),
    Criterion(
        "wheel_hop_frequency", standing.wheel_hop_frequency, "Hz", "Hz", None, "corner", "load", "worst", 10.0,
        "natural frequency of the wheel between spring and tyre",
    ),
    Criterion(
        "static_deflection", standing.static_deflection, "m", "mm", None, "corner", "design", "worst", 0.1,
        "deflection of spring and tyre under the reference load's weight, were the rates constant",
    ),
    Criterion(
        "ride_height_change", standing.ride_height_change, "m", "mm", "small", "corner", "load", "worst", 0.05,
        "sink of the body above an axle from the reference load to the heaviest, tyre included",
    ),
    Criterion(
        "unsprung_mass", standing.unsprung_mass, "kg", "kg", "small", "corner", "design", "worst", 40.0,
        "unsprung mass of a wheel",
    ),
    Criterion(
        "sprung_mass", standing.sprung_mass, "kg", "kg", "small", "vehicle", "load", "worst", 1000.0,
        "sprung mass of the vehicle under the load (of the corner in a quarter car)",
    ),
)  # fmt: skip

CRITERIA: dict[str, Criterion] = {row.name: row for row in _ROWS}
"""Every criterion by its name."""
