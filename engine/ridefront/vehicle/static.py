"""The vehicle at rest under one load: how it sits, and the rates about that position.

Travel counts from the reference position, where the spring carries the reference load whatever its rate. Any other
load moves the corner to where springs and engaged stops together carry the difference. In a full car, bars and the
tyres have their part in how left and right share a load off the centre line (`sides`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from ridefront.vehicle.body import Body, Load, Model, body_under
from ridefront.vehicle.built import datum_of
from ridefront.vehicle.elements import NO_TABLES, Parameters, Tables, per_corner, speed_law, travel_law
from ridefront.vehicle.laws import Array, Law
from ridefront.vehicle.laws import stacked as stacked_laws
from ridefront.vehicle.sides import Shared, roll_stiffness, shared, sides

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s² (ISO 80000-3)."""


@dataclass(frozen=True)
class AtRest:
    """A batch of designs at rest under one load.

    Attributes:
        model: of any size.
        load: its name.
        body: masses, inertia and geometry under this load.
        travel: static travel from the reference position, bump positive, (n, corners), m.
        tyre_sink: tyre deflection beyond that of the reference load, (n, corners), m.
        wheel_rate: slope of springs and engaged stops at this position, (n, corners), N/m.
        tyre_rate, tyre_damping: (n, corners), N/m, N·s/m.
        unsprung_mass: (n, corners), kg.
        contact_force: static, unsprung weight included, (n, corners), N.
        travel_law: springs and stops, from the reference position; speed_law: the dampers.
        extra: static force beyond the reference load's that the travel law carries, (n, corners), N.
        friction, friction_speed: (n, corners), N, m/s.
        bump_travel, rebound_travel: from the reference position to the end, (n, corners), m; None where not given.
        possible: (n,), whether this design can stand under this load at all, every wheel on the ground and with part of
            the body on it.
        anti_roll: force at one wheel per travel of that wheel with the other held, (n, corners), N/m; zeros but for the
            full car.
        spring_y, damper_y: where springs (stops with them) and dampers (friction with them) act, left of the centre of
            mass, (n, corners), m.
        spring_mix, damper_mix: how much of its own wheel an element sees, α in (1 + α)/2 u + (1 - α)/2 u of the other
            side, (n, corners): spacing over track on a beam axle, else 1.
        wheel_inverse, wheel_cross: acceleration of a wheel per force on it, and per force on the other wheel of its
            axle, (n, corners), 1/kg: 1/m_u and 0 but on a beam axle.
    """

    model: Model
    load: str
    body: Body
    travel: Array
    tyre_sink: Array
    wheel_rate: Array
    tyre_rate: Array
    tyre_damping: Array
    unsprung_mass: Array
    contact_force: Array
    travel_law: Law
    speed_law: Law
    extra: Array
    friction: Array
    friction_speed: Array
    bump_travel: Array | None
    rebound_travel: Array | None
    possible: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    anti_roll: Array
    spring_y: Array
    damper_y: Array
    spring_mix: Array
    damper_mix: Array
    wheel_inverse: Array
    wheel_cross: Array

    @property
    def corner_mass(self) -> Array:
        """Sprung mass carried by each corner, (n, corners), kg."""
        return self.body.corner_mass

    @property
    def ride_rate(self) -> Array:
        """Wheel rate in series with the tyre, (n, corners), N/m."""
        return self.wheel_rate * self.tyre_rate / (self.wheel_rate + self.tyre_rate)

    @property
    def roll_stiffness(self) -> Array:
        """Of each axle of a full car, (n, 2), N·m/rad; see `sides.roll_stiffness`."""
        return roll_stiffness(self.body.y, self.spring_y, self.wheel_rate, self.anti_roll)


def at_rest(
    parameters: Parameters,
    model: Model,
    loads: tuple[Load, ...],
    reference: int,
    tables: Tables = NO_TABLES,
    beams: Collection[str] = frozenset(),
    drawn: Parameters | None = None,
) -> tuple[AtRest, ...]:
    """Every load's state of rest.

    Args:
        parameters: by path, each (n,), SI.
        model: of any size.
        loads: states of loading.
        reference: index of the load that the reference position belongs to.
        tables: measured curves of springs and dampers.
        beams: axles of a full car that are beams.
        drawn: quantities of the vehicles as drawn, where `parameters` are those of vehicles as built (see `built`).

    Returns:
        One `AtRest` a load, in their order.
    """
    springs = travel_law(parameters, model.axles, tables)
    dampers = speed_law(parameters, model.axles, tables)
    quantity = {key: _needed(parameters, model, key) for key in _CORNER_KEYS}
    datum = datum_of(parameters, drawn, model, loads[reference], beams, GRAVITY)
    states = []
    for load in loads:
        body = body_under(parameters, model, load)
        where = sides(parameters, model, body, quantity["unsprung_mass"], beams)
        if len(model.corners) == 4:
            share = shared(springs, where, quantity["tyre_rate"], body, datum, GRAVITY)
        else:
            weight = (body.corner_mass - datum.body.corner_mass) * GRAVITY
            sink, extra = (weight - datum.tyres) / quantity["tyre_rate"], weight - datum.springs
            share = Shared(springs.inverse(extra), sink, body.corner_mass, extra)
        body = replace(body, corner_mass=share.corner_mass)
        contact = (body.corner_mass + quantity["unsprung_mass"]) * GRAVITY
        stands = np.isfinite(share.travel) & (body.corner_mass > 0) & (datum.body.corner_mass > 0) & (contact > 0)
        possible = (body.mass > 0) & (body.pitch_inertia >= 0)
        for c in range(len(model.axles)):
            possible = possible & stands[:, c]
        if len(model.motions) > 1:
            possible = possible & (body.pitch_inertia > 0)
        if len(model.motions) > 2:
            possible = possible & (body.roll_inertia > 0)
            possible = possible & (body.pitch_inertia * body.roll_inertia > body.product**2)
        states.append(
            AtRest(
                model=model,
                load=load.name,
                body=body,
                travel=share.travel,
                tyre_sink=share.tyre_sink,
                wheel_rate=springs.slope_at(share.travel),
                contact_force=contact,
                travel_law=springs,
                speed_law=dampers,
                extra=share.extra,
                bump_travel=per_corner(parameters, model.axles, "bump_travel"),
                rebound_travel=per_corner(parameters, model.axles, "rebound_travel"),
                possible=possible,
                **quantity,
                **where,
            )
        )
    return tuple(states)


def stacked(states: Sequence[AtRest]) -> AtRest:
    """States of one model, their designs one after another; the load's name is the first one's."""
    if len(states) == 1:
        return states[0]
    parts = {item.name: [getattr(state, item.name) for state in states] for item in fields(AtRest)}
    return AtRest(**{name: _one_after_another(part) for name, part in parts.items()})


def _one_after_another(parts: Sequence[Any]) -> Any:
    """Arrays, laws and bodies joined along the designs; what is the same for all designs, once."""
    first = parts[0]
    if isinstance(first, np.ndarray):
        return np.concatenate(parts)
    if isinstance(first, Law):
        return stacked_laws(parts)
    if isinstance(first, Body):
        each = {item.name: np.concatenate([getattr(part, item.name) for part in parts]) for item in fields(Body)}
        return Body(**each)
    return first


_CORNER_KEYS = ("unsprung_mass", "tyre_rate", "tyre_damping", "friction", "friction_speed")


def _needed(parameters: Parameters, model: Model, key: str) -> Array:
    values = per_corner(parameters, model.axles, key)
    assert values is not None, f"the study reader gives {key} for every axle of the model"
    return values
