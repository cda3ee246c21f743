"""The rigid body and what rides on it: masses, centre of mass, inertia, the share of each corner, under each load.

Axes as in ISO 8855: x forward, y left, z up, from the loaded body's centre of mass; pitch is positive nose down. A
point of the body at (x, y) moves up by z - x θ + y φ, roll φ positive left side up. The quarter car is the same body
with one corner and no pitch; the half car is half of the vehicle, left and right alike; the full car is all of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.vehicle.elements import Parameters
from ridefront.vehicle.laws import Array

_ROUNDING = 1e-12  # of moments about the centre line that cancel


@dataclass(frozen=True)
class Model:
    """One size of the model.

    Attributes:
        name: as the study file says.
        motions: of the body, in the order of the equations.
        axles: the axle of each corner, front first, left before right.
        corners: their names.
    """

    name: str
    motions: tuple[str, ...]
    axles: tuple[str, ...]
    corners: tuple[str, ...]


def model_of(name: str, corner: str = "front") -> Model:
    """The model of that name; `corner` says which one a quarter car is."""
    if name == "quarter-car":
        return Model(name, ("z",), (corner,), (corner,))
    if name == "half-car":
        return Model(name, ("z", "pitch"), ("front", "rear"), ("front", "rear"))
    return Model(
        name,
        ("z", "pitch", "roll"),
        ("front", "front", "rear", "rear"),
        ("front_left", "front_right", "rear_left", "rear_right"),
    )


@dataclass(frozen=True)
class Seat:
    """A place where comfort is worked out.

    Attributes:
        name: as people call it; a suffix of criteria, such as ``comfort.driver``.
        behind_front_axle: m.
        height: of the seat above the ground, m; None where it is not known.
        left_of_centre: m; only a full car knows sides.
    """

    name: str
    behind_front_axle: float
    height: float | None = None
    left_of_centre: float = 0.0


@dataclass(frozen=True)
class LoadMass:
    """One mass of a load, fixed to the body.

    Attributes:
        mass: kg, of the whole vehicle.
        behind_front_axle: of its centre, m.
        length: along the vehicle, m; a uniform bar's inertia is added for it.
        left_of_centre: of its centre, m; only a full car knows sides.
    """

    mass: float
    behind_front_axle: float
    length: float = 0.0
    left_of_centre: float = 0.0


@dataclass(frozen=True)
class Load:
    """A state of loading: the body as given plus these masses."""

    name: str
    masses: tuple[LoadMass, ...] = ()
    reference: bool = False


@dataclass(frozen=True)
class Body:
    """The body of a model under one load, for a batch of designs.

    Attributes:
        mass: that moves in the model (half of the vehicle's in the half car), (n,), kg.
        pitch_inertia: about the loaded centre of mass, likewise, (n,), kg·m²; zeros for the quarter car.
        centre: of mass, behind the front axle, (n,), m; zeros for the quarter car.
        x: of each corner ahead of the centre of mass, (n, corners), m.
        corner_mass: sprung mass that each corner carries, (n, corners), kg. A full car's wheels share an axle's as if
            every axle stood alone; at rest, springs and bars have settled it (`static.at_rest`).
        roll_inertia: about the loaded centre of mass, (n,), kg·m²; zeros but for the full car, like the next two.
        product: of inertia, ∫ x y dm about the loaded centre of mass, (n,), kg·m²: the kinetic energy of rotation is
            (I_y θ'² + I_x φ'²)/2 - product θ'φ'.
        left: the centre of mass left of the vehicle's centre line, (n,), m.
        y: of each wheel left of the centre of mass, (n, corners), m.
    """

    mass: Array
    pitch_inertia: Array
    centre: Array
    x: Array
    corner_mass: Array
    roll_inertia: Array
    product: Array
    left: Array
    y: Array


def unladen_masses(parameters: Parameters) -> tuple[Array, Array]:
    """Sprung mass of the whole vehicle as given, (n,), kg, and its share on the front axle, (n,).

    From the sprung mass and where its centre lies, or from the axle loads on the scales less the unsprung masses.
    """
    if "kerb_axle_loads.front" in parameters:
        front = parameters["kerb_axle_loads.front"] - 2 * parameters["front.unsprung_mass"]
        rear = parameters["kerb_axle_loads.rear"] - 2 * parameters["rear.unsprung_mass"]
        return front + rear, front / (front + rear)
    if "front_share" in parameters:
        return parameters["body.mass"], parameters["front_share"]
    return parameters["body.mass"], 1 - parameters["front_axle_to_mass_centre"] / parameters["wheelbase"]


def body_under(parameters: Parameters, model: Model, load: Load) -> Body:
    """The body of `model` with the masses of `load` on it.

    Args:
        parameters: by path, each (n,), SI.
        model: of any size; the sides on which masses lie count in the full car only.
        load: masses on the whole vehicle.
    """
    if model.name == "quarter-car":
        return _quarter(parameters, model.axles[0], load)
    wheelbase = parameters["wheelbase"]
    mass, share = unladen_masses(parameters)
    unladen_centre = (1 - share) * wheelbase
    inertia = _unladen_pitch_inertia(parameters, mass, unladen_centre, wheelbase)
    total, moment = mass, mass * unladen_centre
    for item in load.masses:
        total = total + item.mass
        moment = moment + item.mass * item.behind_front_axle
    centre = moment / total
    inertia = inertia + mass * (unladen_centre - centre) ** 2
    for item in load.masses:
        inertia = inertia + item.mass * ((item.behind_front_axle - centre) ** 2 + item.length**2 / 12)
    front = 0.5 * total * (wheelbase - centre) / wheelbase
    rear = 0.5 * total * centre / wheelbase
    if model.name == "full-car":
        return _full(parameters, load, _Along(total, inertia, centre, unladen_centre, (front, rear)), mass)
    x = np.stack([centre, centre - wheelbase], axis=1)
    none = np.zeros_like(total)
    sides = np.zeros_like(x)
    return Body(0.5 * total, 0.5 * inertia, centre, x, np.stack([front, rear], axis=1), none, none, none, sides)


@dataclass(frozen=True)
class _Along:
    """What masses along the vehicle come to, each (n,): of the whole vehicle but for `each`, the mass that either wheel
    of the front and of the rear axle carries if the load lies on the centre line.
    """

    mass: Array
    pitch_inertia: Array
    centre: Array
    unladen_centre: Array
    each: tuple[Array, Array]


def _full(parameters: Parameters, load: Load, along: _Along, unladen: Array) -> Body:
    """The whole vehicle. The body as given is alike left and right; masses that lie to one side move the centre there,
    and the axles share the moment about the centre line as they share the weight.

    `unladen` is the sprung mass as given, (n,), kg.
    """
    moments = [item.mass * item.left_of_centre for item in load.masses]
    left = _balance(moments) / along.mass
    # The body as given and every mass by parallel axes; its own centre lies on the centre line, `left` off the new one.
    roll = parameters["body.roll_inertia"] + unladen * left**2
    product = unladen * (along.centre - along.unladen_centre) * -left
    for item in load.masses:
        ahead, aside = along.centre - item.behind_front_axle, item.left_of_centre - left
        roll = roll + item.mass * aside**2
        product = product + item.mass * ahead * aside
    wheelbase = parameters["wheelbase"]
    x, y, corner_mass = [], [], []
    for axle, at, each in zip(("front", "rear"), (along.centre, along.centre - wheelbase), along.each, strict=True):
        track = parameters[f"{axle}.track"]
        for side in (1.0, -1.0):
            x.append(at)
            y.append(side * 0.5 * track - left)
            corner_mass.append(each * (1 + side * 2 * left / track))
    return Body(
        mass=along.mass,
        pitch_inertia=along.pitch_inertia,
        centre=along.centre,
        x=np.stack(x, axis=1),
        corner_mass=np.stack(corner_mass, axis=1),
        roll_inertia=roll,
        product=product,
        left=left,
        y=np.stack(y, axis=1),
    )


def _balance(moments: Sequence[float]) -> float:
    """Their sum; nothing where they cancel but for rounding: a car that leans by that would not be alike left and right
    any more, and roll by nothing but rounding.
    """
    total = sum(moments)
    return total if abs(total) > _ROUNDING * sum(abs(moment) for moment in moments) else 0.0


def _quarter(parameters: Parameters, axle: str, load: Load) -> Body:
    if "body.corner_mass" in parameters:
        mass = parameters["body.corner_mass"]
    else:
        total, share = unladen_masses(parameters)
        mass = 0.5 * total * (share if axle == "front" else 1 - share)
    for item in load.masses:
        aft = item.behind_front_axle / parameters["wheelbase"]
        mass = mass + 0.5 * item.mass * (1 - aft if axle == "front" else aft)
    none = np.zeros_like(mass)
    side = none[:, np.newaxis]
    return Body(mass, none, none, side, mass[:, np.newaxis], none, none, none, side)


def _unladen_pitch_inertia(parameters: Parameters, mass: Array, centre: Array, wheelbase: Array) -> Array:
    if "body.pitch_inertia" in parameters:
        return parameters["body.pitch_inertia"]
    if "body.pitch_gyration" in parameters:
        return mass * parameters["body.pitch_gyration"] ** 2
    return parameters["body.dynamic_index"] * mass * centre * (wheelbase - centre)
