"""Vehicles as built: parts that are a little off what is drawn, in a body whose mounts are where they were drawn.

A spring's free length, where it is seated and how far the body then stands above the wheels are settled by the vehicle
as drawn. So a softer spring of that length lets the body down, a stiffer one lifts it; so do a heavier body and a
softer tyre, and clearances and travel are what is left from there. Left and right of an axle are built alike, because
a corner's data are entered once.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from ridefront.vehicle.body import Body, Load, Model, body_under, unladen_masses
from ridefront.vehicle.elements import Parameters, per_corner
from ridefront.vehicle.laws import Array


@dataclass(frozen=True)
class Datum:
    """What stands at the reference position, as drawn, and what parts as built carry there beyond it.

    Attributes:
        body: as drawn, under the reference load.
        springs: force of springs as built at the reference position less that of springs as drawn, where springs act,
            (n, corners), N.
        tyres: the same of tyres, less what heavier wheels put on them, (n, corners), N.
    """

    body: Body
    springs: Array
    tyres: Array


def as_built(drawn: Parameters, factors: Mapping[str, Array]) -> dict[str, Array]:
    """Quantities of vehicles as built.

    Args:
        drawn: by path, each (n,), SI.
        factors: by path, (n,): what the drawn quantity is multiplied by. Axle loads on the scales are those of the
            vehicle as drawn: a heavier wheel does not make the body lighter.
    """
    values = dict(drawn)
    if "kerb_axle_loads.front" in drawn:
        values["body.mass"], values["front_share"] = unladen_masses(drawn)
        del values["kerb_axle_loads.front"], values["kerb_axle_loads.rear"]
    for path, factor in factors.items():
        values[path] = values[path] * factor
    return values


def datum_of(
    parameters: Parameters,
    drawn: Parameters | None,
    model: Model,
    load: Load,
    beams: Collection[str],
    gravity: float,
) -> Datum:
    """The reference position.

    Args:
        parameters: of the vehicles as built, by path, each (n,), SI.
        drawn: of the same vehicles as drawn; None where they are built as drawn.
        model: of any size.
        load: the reference load.
        beams: axles of a full car that are beams.
        gravity: m/s².
    """
    if drawn is None:
        body = body_under(parameters, model, load)
        none = np.zeros_like(body.corner_mass)
        return Datum(body, none, none)
    body = body_under(drawn, model, load)
    rate, wheel = (_both(parameters, drawn, model, key) for key in ("tyre_rate", "unsprung_mass"))
    tyres = (rate[0] / rate[1] - 1) * (body.corner_mass + wheel[1]) * gravity - (wheel[0] - wheel[1]) * gravity
    springs = np.stack(
        [_spring(parameters, drawn, model, body, beams, gravity, c) for c in range(len(model.corners))], axis=1
    )
    return Datum(body, springs, tyres)


def _both(parameters: Parameters, drawn: Parameters, model: Model, key: str) -> tuple[Array, Array]:
    """A quantity that every axle has, as built and as drawn, each (n, corners)."""
    found, was = per_corner(parameters, model.axles, key), per_corner(drawn, model.axles, key)
    assert found is not None, f"the study reader gives {key} for every axle of the model"
    assert was is not None, f"what is built of {key} was drawn"
    return found, was


def _spring(
    parameters: Parameters,
    drawn: Parameters,
    model: Model,
    body: Body,
    beams: Collection[str],
    gravity: float,
    c: int,
) -> Array:
    """(n,), N at the wheel: a spring's force grows with its rate, or with the scale of its curve, all along."""
    axle = model.axles[c]
    key = f"{axle}.spring_rate" if f"{axle}.spring_rate" in drawn else f"{axle}.spring_scale"
    mass = body.corner_mass[:, c]
    if axle in beams and len(model.corners) == 4:
        # Springs stand closer than the wheels, and feel more of what lies to one side.
        left = c - c % 2
        mean = 0.5 * (body.corner_mass[:, left] + body.corner_mass[:, left + 1])
        track = drawn[f"{axle}.track"]
        mass = mean + (mass - mean) * track / drawn.get(f"{axle}.spring_spacing", track)
    carried = mass * gravity - drawn[f"{axle}.gas_force"] * drawn[f"{axle}.damper_ratio"]
    return (parameters[key] / drawn[key] - 1) * carried
