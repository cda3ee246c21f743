"""Obstacles on a level road: one or a train of them, humps or potholes, all alike or a mix of sizes.

Distances are along the way from where the road starts; the front axle is there when the drive starts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ridefront.errors import CallError
from ridefront.road.shapes import SHAPES, Shape, Size, Sizes
from ridefront.road.streams import stream

Array = NDArray[np.float64]

SETTLING = 5.0
"""s that are driven after the last obstacle unless the road says otherwise: some five periods of the slowest body
motion, for what remains of pitch and for how long the body takes to settle."""


@dataclass(frozen=True)
class Obstacle:
    """A level road with obstacles on it.

    Attributes:
        name: as people call it.
        shape: a name of `SHAPES`.
        height: m, negative for a pothole; 0 where `sizes` are given.
        length: of one obstacle's base, m; 0 for a step and where `sizes` are given.
        top: length of the flat part within the base, m; flat-top only.
        lead: level road before the first obstacle, m.
        run_out: level road after the last one, m; None for the wheelbase and `SETTLING` at the speed driven.
        count: how many obstacles; a step stands alone.
        spacing: from start to start, m, not less than the longest obstacle; 0 where there is one.
        sizes: that are mixed, instead of height, length and top; or empty.
        side: of the vehicle whose wheels meet it; models with one track meet it either way.
        realisations: how many mixes are driven; 1 without `sizes`.
        road_length: of the whole road, m, instead of `run_out`; or None.
    """

    name: str
    shape: str
    height: float = 0.0
    length: float = 0.0
    top: float = 0.0
    lead: float = 1.0
    run_out: float | None = None
    count: int = 1
    spacing: float = 0.0
    sizes: tuple[Size, ...] = ()
    side: Literal["both", "left", "right"] = "both"
    realisations: int = 1
    road_length: float | None = None

    @property
    def every_size(self) -> tuple[Size, ...]:
        """The sizes that occur."""
        return self.sizes or (Size(self.height, self.length, self.top),)


def mix(road: Obstacle, *, seed: int, index: int, held_out: bool = False) -> tuple[Size, ...]:
    """The size of each obstacle of a train in turn, (count,).

    Every size occurs equally often as far as their number goes into the count; which ones occur once more, and the
    order, are drawn.

    Args:
        road: the road.
        seed: the study's, not negative.
        index: of the realisation, from 0.
        held_out: for roads that a search never sees.
    """
    sizes = road.every_size
    if len(sizes) == 1:
        return sizes * road.count
    draw = stream("sizes", road.name, seed, index, held_out=held_out)
    each = draw.permutation(len(sizes))[np.arange(road.count) % len(sizes)]
    return tuple(sizes[k] for k in draw.permutation(each))


def profile(road: Obstacle, x: ArrayLike, patch: float, edge: float, sizes: Sequence[Size] | None = None) -> Array:
    """Height under a tyre, a centred moving average of the road over the contact patch, exactly.

    Args:
        road: the road.
        x: distances from where the road starts, (n_x,) in any order, m; the road is level before and beyond.
        patch: length of the contact patch, m; 0 gives the height at the point itself.
        edge: least length over which a vertical edge rises, m: one sample, where the patch is shorter.
        sizes: of each obstacle, as `mix` gives them; not needed where all are alike.

    Returns:
        Of the shape of `x`, m.

    Raises:
        CallError: sizes are mixed and `sizes` does not give one for each obstacle.
    """
    x = np.asarray(x, dtype=np.float64)
    shape, train = SHAPES[road.shape], _train(road, sizes)
    width = _width(shape, patch, edge)
    if width == 0:
        return _height(shape, train, x)
    before, ahead = _integral(shape, train, x - 0.5 * width), _integral(shape, train, x + 0.5 * width)
    # Whole obstacles apart from what lies within one: where both ends are on one obstacle no digits are lost.
    return ((ahead[0] - before[0]) + (ahead[1] - before[1])) / width


def span(road: Obstacle) -> tuple[float, float]:
    """Where the first obstacle starts and the last one ends, m, the longest size taken for the last one."""
    longest = max(size.length for size in road.every_size)
    return road.lead, road.lead + (road.count - 1) * road.spacing + longest


def total_length(road: Obstacle, speed: float, wheelbase: float | None = None) -> float:
    """How far is driven, m, the same for every mix: the given length, or lead, obstacles and run-out.

    Args:
        road: the road.
        speed: m/s; the usual run-out is longer for faster ones.
        wheelbase: m; the rear axle is to pass the last obstacle too; None for one axle.
    """
    if road.road_length is not None:
        return road.road_length
    run_out = (wheelbase or 0.0) + SETTLING * speed if road.run_out is None else road.run_out
    return span(road)[1] + run_out


def kinks(road: Obstacle, patch: float, edge: float = 0.0, sizes: Sequence[Size] | None = None) -> Array:
    """Where the height under a tyre, its slope or its curvature jumps: rising, each once; (n_kinks,), m.

    Arguments and errors are those of `profile`.
    """
    shape, train = SHAPES[road.shape], _train(road, sizes)
    places = [train.start] if shape.endless else [train.start, train.start + train.sizes.length]
    if shape.ramps:
        ramp = 0.5 * (train.sizes.length - train.sizes.top)
        places += [train.start + ramp, train.start + train.sizes.length - ramp]
    half = 0.5 * _width(shape, patch, edge)
    return np.unique(np.concatenate([place + side for place in places for side in (-half, half)]))


@dataclass(frozen=True)
class _Train:
    """Start of each obstacle (count,), m, and sizes (count,) each."""

    start: Array
    sizes: Sizes


def _train(road: Obstacle, sizes: Sequence[Size] | None) -> _Train:
    if sizes is None and not road.sizes:
        sizes = road.every_size * road.count
    if sizes is None or len(sizes) != road.count:
        given = "no sizes" if sizes is None else f"{len(sizes)} sizes"
        raise CallError(f'{given} for the obstacles of road "{road.name}"', f"one for each of {road.count}, see mix")
    height, length, top = np.array(sizes, dtype=np.float64).reshape(-1, 3).T
    if SHAPES[road.shape].endless:
        length = np.full_like(height, np.inf)
    start = road.lead + road.spacing * np.arange(road.count, dtype=np.float64)
    return _Train(start, Sizes(height, length, top))


def _width(shape: Shape, patch: float, edge: float) -> float:
    """What the height is averaged over."""
    return max(patch, edge) if shape.vertical else patch


def _own(train: _Train, x: Array) -> tuple[NDArray[np.intp], Array, Sizes]:
    """For each point the obstacle at it or last before it (the first one ahead of all), how far past its start the
    point is, kept within its base, and its size.
    """
    k = np.maximum(np.searchsorted(train.start, x, side="right") - 1, 0)
    sizes = Sizes(train.sizes.height[k], train.sizes.length[k], train.sizes.top[k])
    return k, np.clip(x - train.start[k], 0.0, sizes.length), sizes


def _height(shape: Shape, train: _Train, x: Array) -> Array:
    """The road itself; at a vertical edge, what comes after it."""
    k, past, sizes = _own(train, x)
    inside = (x >= train.start[k]) & (past < sizes.length)
    return np.where(inside, shape.height(past, sizes), 0.0)


def _integral(shape: Shape, train: _Train, x: Array) -> tuple[Array, Array]:
    """Integral of the height up to each point, in two parts: whole obstacles before its own, and its own."""
    k, past, sizes = _own(train, x)
    if len(train.start) == 1:
        return np.zeros_like(x), shape.integral(past, sizes)
    whole = np.concatenate([[0.0], np.cumsum(shape.integral(train.sizes.length, train.sizes))])
    return whole[k], shape.integral(past, sizes)
