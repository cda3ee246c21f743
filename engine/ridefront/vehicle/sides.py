"""Left and right of the full car: where springs, dampers and bars act, how stiff an axle is in roll, and how four
wheels share a load that lies to one side.

An axle is two independent wheels, or a beam on which both stand. A beam's springs see their own wheel by (1 + α)/2 and
the other one by (1 - α)/2, α their spacing over the track.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.vehicle.body import Body, Model
from ridefront.vehicle.built import Datum
from ridefront.vehicle.elements import Parameters
from ridefront.vehicle.laws import Array, Law

PAIRS = ((0, 1), (2, 3))
"""Corners of the front and of the rear axle of a full car, left before right."""

_STEPS = 60
_HALVINGS = 40
_TOLERANCE = 1e-12
_ACCEPTED = 1e-9
_OVERSHOT = 0.1


def other_wheel(c: int) -> int:
    """The other corner of a full car's axle."""
    return c + 1 if c % 2 == 0 else c - 1


def sides(
    parameters: Parameters, model: Model, body: Body, unsprung_mass: Array, beams: Collection[str]
) -> dict[str, Array]:
    """Where elements act and how wheels move together, by the names of `AtRest`, each (n, corners).

    Args:
        parameters: by path, each (n,), SI.
        model: of any size; but for the full car elements act at their wheel, and wheels move alone.
        body: under the load.
        unsprung_mass: of each wheel, (n, corners), kg; half of a beam's with both wheels.
        beams: axles that are beams.
    """
    alone = np.ones_like(unsprung_mass)
    found = {
        "anti_roll": np.zeros_like(unsprung_mass),
        "spring_y": body.y,
        "damper_y": body.y,
        "spring_mix": alone,
        "damper_mix": alone,
        "wheel_inverse": 1 / unsprung_mass,
        "wheel_cross": np.zeros_like(unsprung_mass),
    }
    if len(model.corners) == 4:
        columns = [_axle(parameters, model, body, unsprung_mass, beams, c) for c in range(4)]
        found = {name: np.stack([column[name] for column in columns], axis=1) for name in found}
    return found


def _axle(
    parameters: Parameters, model: Model, body: Body, unsprung_mass: Array, beams: Collection[str], c: int
) -> dict[str, Array]:
    """The entries of `sides` at one corner of a full car, each (n,)."""
    axle, mass = model.axles[c], unsprung_mass[:, c]
    none = np.zeros_like(mass)
    bar = parameters.get(f"{axle}.anti_roll_rate", none)
    if axle not in beams:
        y, alone = body.y[:, c], np.ones_like(mass)
        return {
            "anti_roll": bar,
            "spring_y": y,
            "damper_y": y,
            "spring_mix": alone,
            "damper_mix": alone,
            "wheel_inverse": 1 / mass,
            "wheel_cross": none,
        }
    track = parameters[f"{axle}.track"]
    springs = parameters.get(f"{axle}.spring_spacing", track)
    dampers = parameters.get(f"{axle}.damper_spacing", track)
    side = 0.5 if c % 2 == 0 else -0.5
    # Energy (2 m_u ((u_l + u_r)/2)'² + I ((u_l - u_r)/t)'²)/2 gives the mass matrix [[p, q], [q, p]] of the wheels, and
    # p + q = m_u, p - q = 2 I/t².
    heave, roll = 1 / mass, track**2 / (2 * parameters[f"{axle}.axle_roll_inertia"])
    return {
        "anti_roll": bar,
        "spring_y": side * springs - body.left,
        "damper_y": side * dampers - body.left,
        "spring_mix": springs / track,
        "damper_mix": dampers / track,
        "wheel_inverse": 0.5 * (heave + roll),
        "wheel_cross": 0.5 * (heave - roll),
    }


def roll_stiffness(y: Array, spring_y: Array, wheel_rate: Array, anti_roll: Array) -> Array:
    """Roll stiffness of the springs and the bar of each axle of a full car, wheels on the ground and tyres rigid.

    (k/2) b² + k_b t², b the spacing of the springs, t the track, k the rate at one wheel, k_b that of the bar: force at
    one wheel per travel of that wheel. Where a stop makes left and right unequal, k_l k_r/(k_l + k_r) stands for k/2,
    because the weight on the axle stays what it is.

    Args:
        y, spring_y: of wheels and springs, (n, 4), m.
        wheel_rate, anti_roll: (n, 4), N/m.

    Returns:
        Front and rear, (n, 2), N·m/rad.
    """
    found = []
    for left, right in PAIRS:
        spacing, track = spring_y[:, left] - spring_y[:, right], y[:, left] - y[:, right]
        one, other = wheel_rate[:, left], wheel_rate[:, right]
        found.append(one * other / (one + other) * spacing**2 + anti_roll[:, left] * track**2)
    return np.stack(found, axis=1)


@dataclass(frozen=True)
class Shared:
    """How four wheels share a load; (n, 4), NaN where no rest is found.

    Attributes:
        travel: from the reference position, m.
        tyre_sink: deflection of the tyre beyond that of the reference load, m.
        corner_mass: sprung mass that each wheel carries, kg.
        extra: force of springs and stops beyond that of the reference load, N.
    """

    travel: Array
    tyre_sink: Array
    corner_mass: Array
    extra: Array


def shared(law: Law, at: dict[str, Array], tyre_rate: Array, body: Body, datum: Datum, gravity: float) -> Shared:
    """How four wheels share a load.

    What an axle carries follows from the lever rule, as in the half car. How its wheels share it does not: the body
    rolls until springs, stops and bars of both axles, on their tyres, together carry the moment about the centre line.

    Args:
        law: springs and stops, which must rise everywhere; alike on both wheels of an axle.
        at: where elements act, as `sides` gives it.
        tyre_rate: (n, 4), N/m, likewise alike.
        body: under the load.
        datum: under the reference load, whose weight springs as drawn carry at no travel.
        gravity: m/s².
    """
    first, second = [pair[0] for pair in PAIRS], [pair[1] for pair in PAIRS]
    more = body.corner_mass - datum.body.corner_mass
    beyond = _Beyond(
        law=law,
        tyre=tyre_rate[:, first],
        bar=at["anti_roll"][:, first],
        mix=at["spring_mix"][:, first],
        spacing=at["spring_y"][:, first] - at["spring_y"][:, second],
        track=body.y[:, first] - body.y[:, second],
        weight=(more[:, first] + more[:, second]) * gravity,
        moment=(body.mass * body.left - datum.body.mass * datum.body.left) * gravity,
        springs=datum.springs,
        lean=datum.tyres[:, first] - datum.tyres[:, second],
    )
    rest = beyond.rest()
    mean = 0.5 * (beyond.weight - (datum.tyres[:, first] + datum.tyres[:, second])) / beyond.tyre
    sink = _by_corner(mean - 0.5 * rest.across, mean + 0.5 * rest.across)
    travel = beyond.travel(rest)
    carried = datum.body.corner_mass + (tyre_rate * sink + datum.tyres) / gravity
    return Shared(travel, sink, carried, law.force(travel))


def _by_corner(left: Array, right: Array) -> Array:
    """(n, 4) from the left and the right wheels of both axles, each (n, 2)."""
    return np.stack([left[:, 0], right[:, 0], left[:, 1], right[:, 1]], axis=1)


@dataclass(frozen=True)
class _Place:
    """A position of body and wheels, from the reference position, or a change or slope of energy along these.

    Attributes:
        mean: travel of both springs of an axle, (n, 2), m.
        across: left wheel over the right one, (n, 2), m.
        roll: of the body, (n,).
    """

    mean: Array
    across: Array
    roll: Array

    def dot(self, other: _Place) -> Array:
        """Sum of products, (n,), term by term."""
        each = self.mean * other.mean + self.across * other.across
        return each[:, 0] + each[:, 1] + self.roll * other.roll

    def moved(self, share: Array, step: _Place) -> _Place:
        """This place and `share` (n,) of a step."""
        each = share[:, np.newaxis]
        return _Place(self.mean + each * step.mean, self.across + each * step.across, self.roll + share * step.roll)

    def where(self, keep: NDArray[np.bool_], other: _Place) -> _Place:
        """This place where `keep` (n,), else the other."""
        each = keep[:, np.newaxis]
        return _Place(
            np.where(each, self.mean, other.mean),
            np.where(each, self.across, other.across),
            np.where(keep, self.roll, other.roll),
        )


@dataclass(frozen=True)
class _Beyond:
    """What stands against what, beyond the reference load; per axle (n, 2) but for `law` and `springs` (n, 4) and
    `moment` (n,). `springs` and `lean`, of the left tyre over the right one, are what parts as built carry at the
    reference position beyond those as drawn.

    Rest is where the energy of springs, stops, bars and tyres less the work of the load is least. With the weight on an
    axle known, the mean of its tyres drops out, and five unknowns are left (`_Place`). The energy is convex because the
    laws rise.
    """

    law: Law
    tyre: Array
    bar: Array
    mix: Array
    spacing: Array
    track: Array
    weight: Array
    moment: Array
    springs: Array
    lean: Array

    def travel(self, place: _Place) -> Array:
        """Of every spring, (n, 4), m."""
        half = 0.5 * (self.mix * place.across - self.spacing * place.roll[:, np.newaxis])
        return _by_corner(place.mean + half, place.mean - half)

    def slope(self, place: _Place) -> _Place:
        """Of the energy: what is out of balance, N and N·m."""
        force = self.law.force(self.travel(place)) + self.springs
        left, right = force[:, ::2], force[:, 1::2]
        bar = self.bar * (place.across - self.track * place.roll[:, np.newaxis])
        across = 0.5 * self.mix * (left - right) + 0.5 * (self.tyre * place.across - self.lean) + bar
        roll = 0.5 * self.spacing * (left - right) + self.track * bar
        return _Place(left + right - self.weight, across, self.moment - (roll[:, 0] + roll[:, 1]))

    def newton(self, place: _Place, slope: _Place) -> _Place:
        """The step to where the energy would be least if no rate changed on the way."""
        rate = self.law.slope_at(self.travel(place))
        both, uneven = rate[:, ::2] + rate[:, 1::2], rate[:, ::2] - rate[:, 1::2]
        mm, ma, mr = both, 0.5 * self.mix * uneven, -0.5 * self.spacing * uneven
        aa = 0.25 * self.mix**2 * both + 0.5 * self.tyre + self.bar
        ar = -0.25 * self.mix * self.spacing * both - self.bar * self.track
        rr = 0.25 * self.spacing**2 * both + self.bar * self.track**2
        # Each axle's two unknowns are eliminated; roll couples the axles.
        rest = mm * aa - ma * ma
        per_roll = _Place((aa * mr - ma * ar) / rest, (mm * ar - ma * mr) / rest, slope.roll)
        alone = _Place(
            (aa * slope.mean - ma * slope.across) / rest, (mm * slope.across - ma * slope.mean) / rest, slope.roll
        )
        stiffness = rr - mr * per_roll.mean - ar * per_roll.across
        moment = mr * alone.mean + ar * alone.across
        roll = -(slope.roll - (moment[:, 0] + moment[:, 1])) / (stiffness[:, 0] + stiffness[:, 1])
        each = roll[:, np.newaxis]
        return _Place(-alone.mean - per_roll.mean * each, -alone.across - per_roll.across * each, roll)

    def unbalance(self, slope: _Place) -> Array:
        """The largest entry of a slope over the loads at hand, (n,)."""
        track = self.track[:, 0]
        scale = 1 + np.abs(self.weight[:, 0]) + np.abs(self.weight[:, 1]) + np.abs(self.moment) / track
        scale = scale + np.abs(self.springs[:, 0]) + np.abs(self.springs[:, 2])
        forces = np.maximum(np.abs(slope.mean), np.abs(slope.across))
        return np.maximum(np.maximum(forces[:, 0], forces[:, 1]), np.abs(slope.roll) / track) / scale

    def rest(self) -> _Place:
        """Where all is in balance.

        Newton's method from where the car would stand with its load on the centre line. A step that goes past the least
        energy on its line, as where a stop is met, is halved until it does not. A design that has arrived is frozen, so
        that its bits do not depend on its neighbours; NaN where no balance is found.
        """
        half = 0.5 * (self.weight - (self.springs[:, ::2] + self.springs[:, 1::2]))
        start = self.law.inverse(_by_corner(half, half))
        place = _Place(start[:, ::2], np.zeros_like(half), np.zeros_like(self.moment))
        for _ in range(_STEPS):
            slope = self.slope(place)
            arrived = ~(self.unbalance(slope) > _TOLERANCE)
            if arrived.all():
                break
            step = self.newton(place, slope)
            most = _OVERSHOT * np.abs(slope.dot(step))
            share = np.ones_like(self.moment)
            for _ in range(_HALVINGS):
                past = ~arrived & (self.slope(place.moved(share, step)).dot(step) > most)
                if not past.any():
                    break
                share = np.where(past, 0.5 * share, share)
            place = place.where(arrived, place.moved(share, step))
        found = self.unbalance(self.slope(place)) <= _ACCEPTED
        nowhere = np.full_like(half, np.nan)
        return place.where(found, _Place(nowhere, nowhere, nowhere[:, 0]))
