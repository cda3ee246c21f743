"""Shapes of obstacles: height along the base, and its integral from the start, in closed form.

The integral makes a moving average over a contact patch exact. To add a shape: its two functions, and its row in
`SHAPES`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Size(NamedTuple):
    """Size of one obstacle, m.

    Attributes:
        height: negative for a pothole.
        length: of its base; 0 for a step.
        top: of the flat part within the base; flat-top only.
    """

    height: float
    length: float = 0.0
    top: float = 0.0


@dataclass(frozen=True)
class Sizes:
    """Size of the obstacle that each of many points belongs to: its `height`, its `length` and the length of its
    `top`, (n_x,) each or a number for all, m.
    """

    height: Array
    length: Array
    top: Array


Function = Callable[[Array, Sizes], Array]


@dataclass(frozen=True)
class Shape:
    """One shape.

    Attributes:
        height: at distances x from its start, 0 <= x <= length; (n_x,), m.
        integral: of the height from 0 to x, (n_x,), m².
        vertical: whether its edges are.
        endless: whether the road stays as high as the obstacle; such a shape has no length.
        ramps: whether its slope jumps within the base, at both ends of the top.
    """

    height: Function
    integral: Function
    vertical: bool = False
    endless: bool = False
    ramps: bool = False


def _half_sine(x: Array, size: Sizes) -> Array:
    """h sin πx/L."""
    return size.height * np.sin(np.pi * x / size.length)


def _half_sine_integral(x: Array, size: Sizes) -> Array:
    """h L/π (1 - cos πx/L), written so that it keeps its digits near the start."""
    wave: Array = np.sin(0.5 * np.pi * x / size.length)
    return 2 * size.height * size.length / np.pi * wave**2


def _versine(x: Array, size: Sizes) -> Array:
    """h/2 (1 - cos 2πx/L)."""
    wave: Array = np.sin(np.pi * x / size.length)
    return size.height * wave**2


def _versine_integral(x: Array, size: Sizes) -> Array:
    """h/2 (x - L/2π sin 2πx/L)."""
    return 0.5 * size.height * (x - size.length / (2 * np.pi) * np.sin(2 * np.pi * x / size.length))


def _flat_top(x: Array, size: Sizes) -> Array:
    """Straight ramps on either side of the top."""
    ramp = 0.5 * (size.length - size.top)
    return size.height * np.minimum(1.0, np.minimum(x, size.length - x) / ramp)


def _flat_top_integral(x: Array, size: Sizes) -> Array:
    """The part of the way on each ramp and on the top."""
    ramp = 0.5 * (size.length - size.top)
    up = np.minimum(x, ramp)
    down = np.maximum(x - (size.length - ramp), 0.0)
    level = np.clip(x - ramp, 0.0, size.top)
    return size.height * (up**2 / (2 * ramp) + level + down - down**2 / (2 * ramp))


def _radius(size: Sizes) -> Array:
    """Of the circle with chord L and rise h, R = (L²/4 + h²)/2|h|."""
    rise: Array = np.abs(size.height)
    return (0.25 * size.length**2 + rise**2) / (2 * rise)


def _arc(x: Array, size: Sizes) -> Array:
    """Circular arc, h - (R - √(R² - u²)) with u from the middle; its last term written so that it keeps its digits."""
    radius, u = _radius(size), x - 0.5 * size.length
    sink: Array = u**2 / (radius + np.sqrt(np.maximum(radius**2 - u**2, 0.0)))
    return np.sign(size.height) * (np.abs(size.height) - sink)


def _arc_integral(x: Array, size: Sizes) -> Array:
    """h x less what lies between the arc and its tangent at the top."""
    half = 0.5 * size.length
    radius = _radius(size)
    under = _beside_arc(x - half, radius) + _beside_arc(half, radius)
    return np.sign(size.height) * (np.abs(size.height) * x - under)


def _beside_arc(u: Array, radius: Array) -> Array:
    """∫ from 0 to u of R - √(R² - v²) dv = u³/2(R + √(R² - u²)) - R²/2 (s - sin s), s = asin u/R."""
    root = np.sqrt(np.maximum(radius**2 - u**2, 0.0))
    s = np.arcsin(np.clip(u / radius, -1.0, 1.0))
    return u**3 / (2 * (radius + root)) - 0.5 * radius**2 * _angle_less_sine(s)


def _angle_less_sine(s: Array) -> Array:
    """s - sin s, by its series where the difference of the two would lose digits."""
    series = np.ones_like(s)
    for k in range(17, 3, -2):
        series = 1 - series * s**2 / (k * (k - 1))
    return np.where(np.abs(s) < 0.5, series * s**3 / 6, s - np.sin(s))


def _level(x: Array, size: Sizes) -> Array:
    """As high as the obstacle everywhere: cleats and steps."""
    return size.height + 0.0 * x


def _level_integral(x: Array, size: Sizes) -> Array:
    """h x."""
    return size.height * x


SHAPES: dict[str, Shape] = {
    "half-sine": Shape(_half_sine, _half_sine_integral),
    "versine": Shape(_versine, _versine_integral),
    "flat-top": Shape(_flat_top, _flat_top_integral, ramps=True),
    "arc": Shape(_arc, _arc_integral),
    "cleat": Shape(_level, _level_integral, vertical=True),
    "step": Shape(_level, _level_integral, vertical=True, endless=True),
}
"""Every shape by its name."""
