"""Quarter and half car in time, the slow obvious way: textbook forces, integrated by `scipy.integrate` between the
road's kinks.

Nothing here knows of laws, hinges or lanes. Travel counts from the reference position; every corner carries its
reference load there, and gravity is a force like the others. Displacements count from where the load has put the
vehicle.

What it shares with the engine: of a random road the amplitudes (`modes`) and the random numbers behind its phases
(`stream`), held by `tests/road/test_realisation.py`; of an obstacle where its kinks are and which sizes a train has
(`kinks`, `mix`), held by `tests/road/test_obstacle.py`. Kinks say where to start anew, and one too few would cost the
twin accuracy, not hide a fault. Heights, averages over the patch, lags and laws are its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from itertools import pairwise

import numpy as np
import scipy.integrate
import scipy.optimize
from numpy.typing import NDArray

from ridefront.road import Obstacle, Road
from ridefront.road.obstacle import kinks, mix
from ridefront.road.realisation import modes
from ridefront.road.streams import stream
from ridefront.vehicle import Load
from ridefront.vehicle.elements import NO_TABLES, Points, Tables

Array = NDArray[np.float64]
Function = Callable[[float], float]
Ground = Callable[[float], tuple[tuple[float, float], ...]]
"""Height, m, and its rate, m/s, under each axle at a time, s."""

G = 9.80665  # m/s², standard acceleration of free fall (ISO 80000-3)
RTOL, ATOL = 1e-8, 1e-10


@dataclass(frozen=True)
class Corner:
    """One corner, forces at the wheel and on the body, N; travel and its speed positive in bump.

    Attributes:
        carries: sprung mass under this load, kg; preload: of the spring at the reference position, N.
        spring, bump, rebound: force at that travel from the reference position.
        damper, friction: force at that speed.
        unsprung_mass, tyre_rate, tyre_damping: SI. x: ahead of the centre of mass, m.
        static: travel at rest, m.
    """

    carries: float
    preload: float
    spring: Function
    bump: Function
    rebound: Function
    damper: Function
    friction: Function
    unsprung_mass: float
    tyre_rate: float
    tyre_damping: float
    x: float
    static: float

    @property
    def static_contact(self) -> float:
        """Contact force at rest, N."""
        return (self.carries + self.unsprung_mass) * G

    def force(self, travel: float, speed: float) -> float:
        """On the body, preload included."""
        elastic = self.preload + self.spring(travel) + self.bump(travel) - self.rebound(travel)
        return elastic + self.damper(speed) + self.friction(speed)

    def contact(self, r: float, slope: float, u: float, v: float) -> float:
        """Of tyre and road: tyres push and do not pull, and a tyre in the air is not damped."""
        elastic = self.static_contact + self.tyre_rate * (r - u)
        total = elastic + self.tyre_damping * (slope - v)
        return total if elastic > 0 and total > 0 else 0.0


@dataclass(frozen=True)
class Twin:
    """A vehicle: mass, kg, and pitch inertia, kg·m², that move (0 for a quarter car), and its corners."""

    mass: float
    inertia: float
    corners: tuple[Corner, ...]

    @cached_property
    def motions(self) -> int:
        """Of the body."""
        return len(self.corners)

    def accelerations(self, y: Sequence[float], ground: Sequence[tuple[float, float]]) -> list[float]:
        """Of body and wheels in the state y: displacements, then speeds, of z, pitch and each wheel."""
        count = 2 * self.motions
        pull, moment, wheels = -self.mass * G, 0.0, []
        for c, corner in enumerate(self.corners):
            s, w = self.travel(c, y), self.travel_speed(c, y)
            force = corner.force(s, w)
            pull += force
            moment -= corner.x * force
            contact = corner.contact(*ground[c], y[self.motions + c], y[count + self.motions + c])
            wheels.append((contact - corner.unsprung_mass * G - force) / corner.unsprung_mass)
        body = [pull / self.mass] if self.motions == 1 else [pull / self.mass, moment / self.inertia]
        return body + wheels

    def travel(self, c: int, y: Sequence[float]) -> float:
        """From the reference position, m."""
        tilt = self.corners[c].x * y[1] if self.motions > 1 else 0.0
        return self.corners[c].static + y[self.motions + c] - (y[0] - tilt)

    def travel_speed(self, c: int, y: Sequence[float]) -> float:
        """m/s."""
        v = y[2 * self.motions :]
        tilt = self.corners[c].x * v[1] if self.motions > 1 else 0.0
        return v[self.motions + c] - (v[0] - tilt)


@dataclass(frozen=True)
class History:
    """What happened, a column a moment.

    Attributes:
        t: (times,), s.
        body: z, and pitch, as deviations from rest, (motions, times); wheels likewise, (corners, times); SI.
        travel, travel_speed: from the reference position, (corners, times).
        contact: (corners, times), N.
        acceleration: of the body, (motions, times).
        bump, rebound: stop forces at the wheel, (corners, times), N.
    """

    t: Array
    body: Array
    wheels: Array
    travel: Array
    travel_speed: Array
    contact: Array
    acceleration: Array
    bump: Array
    rebound: Array

    def every(self, nth: int) -> History:
        """One moment in so many."""
        return History(**{item.name: getattr(self, item.name)[..., ::nth] for item in fields(self)})


def observe(twin: Twin, ground: Ground, t: Array, states: Array) -> History:
    """Everything that follows from states (rows, times): displacements, then speeds."""
    rows = []
    for time, y in zip(t.tolist(), states.T.tolist(), strict=True):
        road = ground(time)
        a = twin.accelerations(y, road)
        row = a[: twin.motions]
        for c, corner in enumerate(twin.corners):
            s = twin.travel(c, y)
            contact = corner.contact(*road[c], y[twin.motions + c], y[3 * twin.motions + c])
            row += [s, twin.travel_speed(c, y), contact, corner.bump(s), corner.rebound(s)]
        rows.append(row)
    B = twin.motions
    found = np.array(rows).T
    parts = found[B:].reshape(B, 5, len(t))
    return History(
        t, states[:B], states[B : 2 * B], parts[:, 0], parts[:, 1], parts[:, 2], found[:B], parts[:, 3], parts[:, 4]
    )


def drive_twin(twin: Twin, ground: Ground, breaks: Sequence[float], t: Array) -> History:
    """Integrates from rest and returns the histories at times t, which start where the drive does.

    Args:
        twin: the vehicle.
        ground: the road under each axle.
        breaks: times where the road's height, slope or curvature jumps, s; the integration starts anew there.
        t: rising, (times,), s.
    """
    return observe(twin, ground, t, integrated(twin.accelerations, 2 * twin.motions, ground, breaks, t))


def integrated(
    accelerations: Callable[[list[float], tuple[tuple[float, float], ...]], Sequence[float]],
    size: int,
    ground: Ground,
    breaks: Sequence[float],
    t: Array,
) -> Array:
    """Displacements, then speeds, (2 size, times), of a vehicle that starts at rest.

    Args:
        accelerations: in a state, on that ground.
        size: how many coordinates it has.
        ground, breaks, t: as `drive_twin` takes them.
    """
    inner = [b for b in breaks if t[0] < b < t[-1]]
    ends = sorted({float(t[0]), float(t[-1]), *inner})
    y = np.zeros(2 * size)
    states = np.empty((len(y), len(t)))
    for start, end in pairwise(ends):

        def change(time: float, now: Array, start: float = start, end: float = end) -> list[float]:
            # Strictly inside its span, so that a jump of the road's slope is taken on this side of it.
            inside = min(max(time, start + 1e-11), end - 1e-11)
            state: list[float] = now.tolist()
            return state[size:] + list(accelerations(state, ground(inside)))

        here = (t >= start) & (t <= end)
        wanted = np.append(t[here], end)
        found = scipy.integrate.solve_ivp(
            change, (start, end), y, method="DOP853", rtol=RTOL, atol=ATOL, t_eval=np.unique(wanted)
        )
        assert found.success, found.message
        states[:, here] = found.y[:, : int(here.sum())]
        y = found.y[:, -1]
    return states


def twin_of(
    parameters: Mapping[str, Array],
    loads: tuple[Load, ...],
    at: int = 0,
    tables: Tables = NO_TABLES,
    design: int = 0,
) -> Twin:
    """The vehicle of `tests/builders.py`'s parameters under the load with index `at`; the first is the reference."""
    value = {path: float(array[design]) for path, array in parameters.items()}
    if "body.corner_mass" in value:
        carries = [value["body.corner_mass"] + _on_quarter(load, value) for load in loads]
        corner = corner_of(value, "front", tables, carries[at], carries[0], 0.0)
        return Twin(carries[at], 0.0, (corner,))
    mass, inertia, centre = _half_body(value, loads[at])
    reference, _, reference_centre = _half_body(value, loads[0])
    wheelbase = value["wheelbase"]
    corners = []
    for axle, x, share, before in (
        ("front", centre, 1 - centre / wheelbase, 1 - reference_centre / wheelbase),
        ("rear", centre - wheelbase, centre / wheelbase, reference_centre / wheelbase),
    ):
        corners.append(corner_of(value, axle, tables, mass * share, reference * before, x))
    return Twin(mass, inertia, tuple(corners))


def _on_quarter(load: Load, value: Mapping[str, float]) -> float:
    """What a load adds to a front corner: half of what the lever rule puts on the axle."""
    return sum(item.mass * (1 - item.behind_front_axle / value["wheelbase"]) / 2 for item in load.masses)


def _half_body(value: Mapping[str, float], load: Load) -> tuple[float, float, float]:
    """Mass and pitch inertia of half of the body, and its centre behind the front axle."""
    body, wheelbase = value["body.mass"], value["wheelbase"]
    place = (1 - value["front_share"]) * wheelbase
    # Masses with inertia of their own, put together by the parallel axis theorem.
    parts = [(body, place, value["body.dynamic_index"] * body * place * (wheelbase - place))]
    parts += [(item.mass, item.behind_front_axle, item.mass * item.length**2 / 12) for item in load.masses]
    total = sum(m for m, _, _ in parts)
    centre = sum(m * at for m, at, _ in parts) / total
    inertia = sum(own + m * (at - centre) ** 2 for m, at, own in parts)
    return total / 2, inertia / 2, centre


def corner_of(
    value: Mapping[str, float], axle: str, tables: Tables, carries: float, reference: float, x: float
) -> Corner:
    """A corner of that axle that carries so much sprung mass, and so much of the reference load, kg; see `Corner`."""
    key = {path.removeprefix(f"{axle}."): number for path, number in value.items()}
    spring = _spring(key, tables.get(f"{axle}.spring_table"))
    bump, rebound = _stop(key, "bump"), _stop(key, "rebound")
    preload, weight = reference * G, carries * G

    def unbalanced(travel: float) -> float:
        return preload + spring(travel) + bump(travel) - rebound(travel) - weight

    static = float(scipy.optimize.brentq(unbalanced, -1.0, 1.0, xtol=1e-15, rtol=1e-14))
    level, creep = key["friction"], key["friction_speed"]
    return Corner(
        carries=carries,
        preload=preload,
        spring=spring,
        bump=bump,
        rebound=rebound,
        damper=_damper(key, tables.get(f"{axle}.damper_table")),
        friction=lambda w: level * w / math.sqrt(w * w + creep * creep),
        unsprung_mass=key["unsprung_mass"],
        tyre_rate=key["tyre_rate"],
        tyre_damping=key["tyre_damping"],
        x=x,
        static=static,
    )


def _curve(points: Points) -> Function:
    """Between measured points by straight lines, beyond them as the last two go, zero at zero."""
    x, force = np.array(points.x), np.array(points.force)
    far = 1e3
    first, last = np.polyfit(x[:2], force[:2], 1), np.polyfit(x[-2:], force[-2:], 1)
    x = np.concatenate([[-far], x, [far]])
    force = np.concatenate([[np.polyval(first, -far)], force, [np.polyval(last, far)]])
    zero = float(np.interp(0.0, x, force))
    return lambda e: float(np.interp(e, x, force)) - zero


def _spring(key: Mapping[str, float], points: Points | None) -> Function:
    ratio = key["spring_ratio"]
    if points is not None:
        curve, scale = _curve(points), key["spring_scale"]
        return lambda s: ratio * scale * curve(ratio * s)
    rate = key["spring_rate"]
    return lambda s: ratio * rate * (ratio * s)


def _stop(key: Mapping[str, float], way: str) -> Function:
    """Force of a stop, never negative: rate · depth · (1 + progression · depth / 100 mm), all at the stop."""
    if f"{way}_stop_rate" not in key:
        return lambda s: 0.0
    ratio, sign = key.get("stop_ratio", key["damper_ratio"]), 1.0 if way == "bump" else -1.0
    clearance, rate, progression = (key[f"{way}_{name}"] for name in ("clearance", "stop_rate", "stop_progression"))

    def force(s: float) -> float:
        depth = sign * ratio * s - clearance
        return ratio * rate * depth * (1 + progression * depth / 0.1) if depth > 0 else 0.0

    return force


def _damper(key: Mapping[str, float], points: Points | None) -> Function:
    """Two slopes each way: up to the knee, and beyond it its share of the first."""
    ratio = key["damper_ratio"]
    if points is not None:
        curve, scale = _curve(points), key["damper_scale"]
        return lambda w: ratio * scale * curve(ratio * w)
    bump = key["damping_bump"] if "damping_bump" in key else 2 * key["damping"] * key["bump_share"]
    rebound = key["damping_rebound"] if "damping_rebound" in key else 2 * key["damping"] * (1 - key["bump_share"])
    knees = [
        (
            key.get(f"knee_speed_{way}", key.get("knee_speed", math.inf)),
            key.get(f"knee_share_{way}", key.get("knee_share", 1.0)),
        )
        for way in ("bump", "rebound")
    ]

    def force(w: float) -> float:
        slope, (knee, share) = (bump, knees[0]) if w > 0 else (rebound, knees[1])
        speed = abs(ratio * w)
        size = slope * speed if speed <= knee else slope * (knee + share * (speed - knee))
        return math.copysign(ratio * size, w)

    return force


def obstacle_ground(
    road: Obstacle, speed: float, patch: float, wheelbase: float | None, step: float
) -> tuple[Ground, list[float]]:
    """The exact road under a tyre, and the times of its kinks.

    A tyre without a patch runs as one of a tenth of a millimetre does; a vertical edge rises over one step at least.
    """
    width = max(patch, speed * step) if road.shape in ("cleat", "step") else max(patch, 1e-4)
    sizes = mix(road, seed=0, index=0)
    starts = [road.lead + k * road.spacing for k in range(road.count)]
    lags = (0.0,) if wheelbase is None else (0.0, wheelbase)

    def height(x: float) -> float:
        return sum(_height(road.shape, x - start, *size) for start, size in zip(starts, sizes, strict=True))

    def area(x: float) -> float:
        return sum(_area(road.shape, x - start, *size) for start, size in zip(starts, sizes, strict=True))

    def under(x: float) -> tuple[float, float]:
        before, ahead = x - width / 2, x + width / 2
        return (area(ahead) - area(before)) / width, speed * (height(ahead) - height(before)) / width

    def ground(t: float) -> tuple[tuple[float, float], ...]:
        return tuple(under(speed * t - lag) for lag in lags)

    places = kinks(road, width, sizes=sizes)
    return ground, [float(place + lag) / speed for lag in lags for place in places]


def _height(shape: str, x: float, h: float, length: float, top: float) -> float:
    """Of the road itself, x from the obstacle's start."""
    if x <= 0 or (x >= length and shape != "step"):
        return 0.0
    if shape == "half-sine":
        return h * math.sin(math.pi * x / length)
    if shape == "versine":
        return h / 2 * (1 - math.cos(2 * math.pi * x / length))
    if shape == "flat-top":
        ramp = (length - top) / 2
        return h * min(x / ramp, 1.0, (length - x) / ramp)
    if shape == "arc":
        radius = (length**2 / 4 + h**2) / (2 * abs(h))
        return math.copysign(math.sqrt(radius**2 - (x - length / 2) ** 2) - (radius - abs(h)), h)
    return h


def _area(shape: str, x: float, h: float, length: float, top: float) -> float:
    """Under the road, from the obstacle's start to x."""
    if x <= 0:
        return 0.0
    if shape == "step":
        return h * x
    x = min(x, length)
    if shape == "half-sine":
        return h * length / math.pi * (1 - math.cos(math.pi * x / length))
    if shape == "versine":
        return h / 2 * (x - length / (2 * math.pi) * math.sin(2 * math.pi * x / length))
    if shape == "flat-top":
        ramp, now = (length - top) / 2, _height(shape, x, h, length, top)
        if x <= ramp:
            return now * x / 2
        if x <= ramp + top:
            return h * ramp / 2 + h * (x - ramp)
        return h * (ramp + top) - now * (length - x) / 2
    if shape == "arc":
        radius, half = (length**2 / 4 + h**2) / (2 * abs(h)), length / 2

        def under_circle(u: float) -> float:
            return (u * math.sqrt(radius**2 - u**2) + radius**2 * math.asin(u / radius)) / 2

        circle = under_circle(x - half) - under_circle(-half)
        return math.copysign(circle - (radius - abs(h)) * x, h)
    return h * x


def random_ground(
    road: Road, speed: float, patch: float, wheelbase: float | None, start: float, seed: int, index: int
) -> tuple[Ground, list[float]]:
    """The sum of waves itself at any time from 0 on, the first two seconds faded in, and where the fading stops.

    Args:
        road, speed, patch, wheelbase, seed, index: of the realisation.
        start: where the front axle is at time 0, m.
    """
    waves = modes(road, patch)
    draw = stream("phases", road.name, seed, index, held_out=False)
    phase = 2 * np.pi * draw.random(int(waves.number[-1]) + 1)[waves.number]
    k = 2 * np.pi * waves.number / road.length
    behind = np.array([0.0]) if wheelbase is None else np.array([0.0, wheelbase])
    phases = phase - k * behind[:, np.newaxis]
    slopes = -waves.amplitude * k * speed

    def ground(t: float) -> tuple[tuple[float, float], ...]:
        fade, rate = 1.0, 0.0
        if t < 2.0:
            fade, rate = 0.5 - 0.5 * math.cos(0.5 * math.pi * t), 0.25 * math.pi * math.sin(0.5 * math.pi * t)
        angles = k * (start + speed * t) + phases
        heights, rates = (np.cos(angles) @ waves.amplitude).tolist(), (np.sin(angles) @ slopes).tolist()
        return tuple((fade * h, fade * r + rate * h) for h, r in zip(heights, rates, strict=True))

    return ground, [2.0]
