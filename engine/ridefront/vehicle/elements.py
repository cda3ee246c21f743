"""The elements of a corner as laws at the wheel: what the study's keys of an axle become.

An element works through its ratio i = element travel / wheel travel. At the wheel its forces are multiplied by i,
rates and damping by i², progression by i³, and its clearances and knee speeds are divided by i (virtual work). A
measured curve is `Points`: straight between them, and beyond the first and last as their neighbours go.

To add an element: one function that returns its slope and hinges, and its row in `TRAVEL_ELEMENTS` or `SPEED_ELEMENTS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from ridefront.vehicle.laws import Array, Hinge, Law

Parameters = Mapping[str, Array]
"""Every vehicle quantity by its path, each (n,), SI."""

# Stop progression is a share per this depth: force = rate d (1 + progression d / 100 mm).
PROGRESSION_DEPTH = 0.1


# Bends of a measured curve below this share of its slopes are rounding of the points, not bends.
_STRAIGHT = 1e-12


@dataclass(frozen=True)
class Points:
    """A measured force curve of an element itself, from its reference position or from rest.

    Attributes:
        x: travel, m, or speed, m/s, of the element, bump positive; at least two, each above the one before, 0 between
            the first and the last.
        force: at each, N, on the body, positive where it resists bump. What a curve has at 0 is taken off: laws are
            relative to the reference position.
    """

    x: tuple[float, ...]
    force: tuple[float, ...]

    def bends(self) -> tuple[float, tuple[tuple[int, float, float], ...]]:
        """Slope at 0 (the one above 0 where a point is there), and where it changes.

        Returns:
            The slope, N/m or N·s/m, and of each bend the sign of its hinge, its start and its rate: those above 0
            first, then those below, each outwards.
        """
        spans = [
            (after - before) / (right - left)
            for left, right, before, after in zip(self.x, self.x[1:], self.force, self.force[1:], strict=False)
        ]
        inner = list(zip(self.x[1:], spans, spans[1:], strict=False))
        slope = next((above for x, _, above in reversed(inner) if x <= 0), spans[0])
        up = [(+1, x, above - below) for x, below, above in inner if x > 0]
        down = [(-1, abs(x), below - above) for x, below, above in reversed(inner) if x <= 0]
        least = _STRAIGHT * max(abs(span) for span in spans)
        return slope, tuple(bend for bend in up + down if abs(bend[2]) > least)


Tables = Mapping[str, Points]
"""Measured curves by the path of their key, such as ``front.spring_table``; the same for every design."""

NO_TABLES: Tables = MappingProxyType({})


@dataclass(frozen=True)
class AxleKeys:
    """The quantities of one axle: ``keys["spring_rate"]`` is ``front.spring_rate`` for the front one."""

    parameters: Parameters
    axle: str
    tables: Tables = field(default_factory=lambda: NO_TABLES)

    def __getitem__(self, key: str) -> Array:
        return self.parameters[f"{self.axle}.{key}"]

    def __contains__(self, key: str) -> bool:
        return f"{self.axle}.{key}" in self.parameters

    def table(self, key: str) -> Points | None:
        """The measured curve under that key, where there is one."""
        return self.tables.get(f"{self.axle}.{key}")

    def first(self, *keys: str) -> Array:
        """The first of `keys` that the study gives, (n,), SI."""
        return self[next(key for key in keys if key in self)]


@dataclass(frozen=True)
class AxleHinge:
    """A hinge at one axle's wheel; `sign`, `start`, `rate` and `growth` as in `laws.Hinge`, arrays (n,), SI."""

    sign: int
    start: Array
    rate: Array
    growth: Array


Element = tuple[Array, tuple[AxleHinge, ...]]
"""Slope (n,) and hinges that an element adds to its law, at the wheel."""


def _measured(points: Points, scale: Array, ratio: Array) -> Element:
    """A measured curve with its force times `scale`, at the wheel."""
    slope, bends = points.bends()
    by = scale * ratio**2
    none = np.zeros_like(by)
    return slope * by, tuple(AxleHinge(sign, start / ratio, rate * by, none) for sign, start, rate in bends)


def spring(keys: AxleKeys) -> Element:
    """Main spring: rate × ratio², or its measured curve times its scale."""
    points = keys.table("spring_table")
    if points is not None:
        return _measured(points, keys["spring_scale"], keys["spring_ratio"])
    return keys["spring_rate"] * keys["spring_ratio"] ** 2, ()


def _stop(keys: AxleKeys, sign: int, name: str) -> Element:
    rate = keys[f"{name}_stop_rate"]
    none = np.zeros_like(rate)
    ratio = keys.first("stop_ratio", "damper_ratio")
    growth = rate * keys[f"{name}_stop_progression"] / PROGRESSION_DEPTH
    return none, (AxleHinge(sign, keys[f"{name}_clearance"] / ratio, rate * ratio**2, growth * ratio**3),)


def bump_stop(keys: AxleKeys) -> Element:
    """Bump stop: rate · d · (1 + progression · d / 100 mm) past its clearance."""
    return _stop(keys, +1, "bump")


def rebound_stop(keys: AxleKeys) -> Element:
    """Rebound stop, the same law the other way."""
    return _stop(keys, -1, "rebound")


def damper(keys: AxleKeys) -> Element:
    """Bilinear damper: its own slope in bump and in rebound, each times its knee share past its knee speed; or its
    measured curve times its scale.

    The law's slope is that of bump; a hinge at zero turns it into rebound's.
    """
    ratio = keys["damper_ratio"]
    points = keys.table("damper_table")
    if points is not None:
        return _measured(points, keys["damper_scale"], ratio)
    if "damping" in keys:
        bump = 2 * keys["damping"] * keys["bump_share"]
        rebound = 2 * keys["damping"] * (1 - keys["bump_share"])
    else:
        bump, rebound = keys["damping_bump"], keys["damping_rebound"]
    bump, rebound = bump * ratio**2, rebound * ratio**2
    none = np.zeros_like(bump)
    hinges = [AxleHinge(-1, none, rebound - bump, none)]
    for sign, way, slope in ((+1, "bump", bump), (-1, "rebound", rebound)):
        if f"knee_speed_{way}" in keys or "knee_speed" in keys:
            speed = keys.first(f"knee_speed_{way}", "knee_speed") / ratio
            share = keys.first(f"knee_share_{way}", "knee_share")
            hinges.append(AxleHinge(sign, speed, (share - 1) * slope, none))
    return bump, tuple(hinges)


TRAVEL_ELEMENTS: tuple[tuple[Callable[[AxleKeys], Element], str], ...] = (
    (spring, "spring_ratio"),
    (bump_stop, "bump_stop_rate"),
    (rebound_stop, "rebound_stop_rate"),
)
"""Elements of the travel law, each with a key without which an axle does not have it."""

SPEED_ELEMENTS: tuple[tuple[Callable[[AxleKeys], Element], str], ...] = ((damper, "damper_ratio"),)
"""Elements of the speed law, likewise."""


def _law(corners: list[AxleKeys], table: tuple[tuple[Callable[[AxleKeys], Element], str], ...]) -> Law:
    """The law at every corner. A hinge that one axle lacks has zero rate there."""
    slopes: list[Array] = []
    columns: dict[tuple[str, int, int], list[AxleHinge | None]] = {}
    for c, keys in enumerate(corners):
        slope = np.zeros_like(keys["unsprung_mass"])
        for element, needed in table:
            if needed not in keys:
                continue
            part, hinges = element(keys)
            slope = slope + part
            seen = {+1: 0, -1: 0}
            for hinge in hinges:
                column = (element.__name__, seen[hinge.sign], hinge.sign)
                columns.setdefault(column, [None] * len(corners))[c] = hinge
                seen[hinge.sign] += 1
        slopes.append(slope)
    return Law(np.stack(slopes, axis=1), tuple(_stack(key[0], column, slopes[0]) for key, column in columns.items()))


def _stack(element: str, column: list[AxleHinge | None], like: Array) -> Hinge:
    none = np.zeros_like(like)
    sign = next(hinge.sign for hinge in column if hinge is not None)
    filled = [hinge if hinge is not None else AxleHinge(sign, none, none, none) for hinge in column]
    return Hinge(
        sign,
        np.stack([hinge.start for hinge in filled], axis=1),
        np.stack([hinge.rate for hinge in filled], axis=1),
        np.stack([hinge.growth for hinge in filled], axis=1),
        element,
    )


def travel_law(parameters: Parameters, axles: tuple[str, ...], tables: Tables = NO_TABLES) -> Law:
    """Force of spring and stops on the body against travel from the reference position.

    Args:
        parameters: by path, each (n,), SI.
        axles: the axle of each corner.
        tables: measured curves.

    Returns:
        A law with arrays (n, corners), N and m, less the static force at the reference position.
    """
    return _law([AxleKeys(parameters, axle, tables) for axle in axles], TRAVEL_ELEMENTS)


def speed_law(parameters: Parameters, axles: tuple[str, ...], tables: Tables = NO_TABLES) -> Law:
    """Force of the dampers on the body against speed of travel (bump positive), friction left out; N and m/s."""
    return _law([AxleKeys(parameters, axle, tables) for axle in axles], SPEED_ELEMENTS)


def per_corner(parameters: Parameters, axles: tuple[str, ...], key: str) -> Array | None:
    """One quantity at every corner (n, corners), SI, NaN at corners whose axle does not give it; None if no axle gives
    it.
    """
    columns = [parameters.get(f"{axle}.{key}") for axle in axles]
    if all(column is None for column in columns):
        return None
    like = next(column for column in columns if column is not None)
    return np.stack([np.full_like(like, np.nan) if c is None else c for c in columns], axis=1)
