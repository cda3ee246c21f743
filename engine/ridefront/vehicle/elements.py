"""The elements of a corner as laws at the wheel: what the study's keys of an axle become.

An element works through its ratio i = element travel / wheel travel. At the wheel its forces are multiplied by i,
rates and damping by i², progression by i³, and its clearances and knee speeds are divided by i (virtual work).

To add an element: one function that returns its slope and hinges, and its row in `TRAVEL_ELEMENTS` or `SPEED_ELEMENTS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from ridefront.vehicle.laws import Array, Hinge, Law

Parameters = Mapping[str, Array]
"""Every vehicle quantity by its path, each (n,), SI."""

# Stop progression is a share per this depth: force = rate d (1 + progression d / 100 mm).
PROGRESSION_DEPTH = 0.1


@dataclass(frozen=True)
class AxleKeys:
    """The quantities of one axle: ``keys["spring_rate"]`` is ``front.spring_rate`` for the front one."""

    parameters: Parameters
    axle: str

    def __getitem__(self, key: str) -> Array:
        return self.parameters[f"{self.axle}.{key}"]

    def __contains__(self, key: str) -> bool:
        return f"{self.axle}.{key}" in self.parameters

    def first(self, *keys: str) -> Array:
        """The first of `keys` that the study gives."""
        return self[next(key for key in keys if key in self)]


@dataclass(frozen=True)
class AxleHinge:
    """A hinge at one axle's wheel; arrays (n,)."""

    sign: int
    start: Array
    rate: Array
    growth: Array


Element = tuple[Array, tuple[AxleHinge, ...]]
"""Slope (n,) and hinges that an element adds to its law, at the wheel."""


def spring(keys: AxleKeys) -> Element:
    """Main spring: rate × ratio²."""
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
    """Bilinear damper: its own slope in bump and in rebound, each times its knee share past its knee speed.

    The law's slope is that of bump; a hinge at zero turns it into rebound's.
    """
    ratio = keys["damper_ratio"]
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
    (spring, "spring_rate"),
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
            for h, hinge in enumerate(hinges):
                columns.setdefault((element.__name__, h, hinge.sign), [None] * len(corners))[c] = hinge
        slopes.append(slope)
    return Law(np.stack(slopes, axis=1), tuple(_stack(column, slopes[0]) for column in columns.values()))


def _stack(column: list[AxleHinge | None], like: Array) -> Hinge:
    none = np.zeros_like(like)
    sign = next(hinge.sign for hinge in column if hinge is not None)
    filled = [hinge if hinge is not None else AxleHinge(sign, none, none, none) for hinge in column]
    return Hinge(
        sign,
        np.stack([hinge.start for hinge in filled], axis=1),
        np.stack([hinge.rate for hinge in filled], axis=1),
        np.stack([hinge.growth for hinge in filled], axis=1),
    )


def travel_law(parameters: Parameters, axles: tuple[str, ...]) -> Law:
    """Force of spring and stops on the body against travel from the reference position.

    Args:
        parameters: by path, each (n,), SI.
        axles: the axle of each corner.

    Returns:
        A law with arrays (n, corners), N and m, less the static force at the reference position.
    """
    return _law([AxleKeys(parameters, axle) for axle in axles], TRAVEL_ELEMENTS)


def speed_law(parameters: Parameters, axles: tuple[str, ...]) -> Law:
    """Force of the dampers on the body against speed of travel (bump positive), friction left out; N and m/s."""
    return _law([AxleKeys(parameters, axle) for axle in axles], SPEED_ELEMENTS)


def per_corner(parameters: Parameters, axles: tuple[str, ...], key: str) -> Array | None:
    """One quantity at every corner (n, corners), NaN at corners whose axle does not give it; None if no axle gives
    it.
    """
    columns = [parameters.get(f"{axle}.{key}") for axle in axles]
    if all(column is None for column in columns):
        return None
    like = next(column for column in columns if column is not None)
    return np.stack([np.full_like(like, np.nan) if c is None else c for c in columns], axis=1)
