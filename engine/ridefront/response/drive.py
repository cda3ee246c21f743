"""A road driven in time: the heights under each tyre at every half step, and which steps count.

A random road repeats after its length, so the march runs up to it on its own end, faded in, and what counts begins when
the vehicle has forgotten that it ever stood still. A measured road is run up to on the mirror image of its beginning.
An obstacle begins on a level road.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ridefront.road import AnyRoad, Obstacle, Profile, Road
from ridefront.road.measured import under_tyre
from ridefront.road.obstacle import mix, profile, span, total_length
from ridefront.road.realisation import fewest_samples, realisation
from ridefront.vehicle.laws import Array

RUN_UP = 6.0
"""Seconds on the road's end before what counts: of the run-up's first swing a body of 1 Hz and a damping ratio of 0.1
keeps some 8 %, one of 0.2 less than 1 %. A body that is damped less has not yet swung up to what the road makes of it:
over 20 s of class B at 25 m/s its acceleration and travel read 1 % low where its swings die away with 0.3/s (a ratio
of 0.05 at 1 Hz), 12 % low with 0.13/s (0.02), over longer roads less.
"""

LEAST_DECAY = 0.3
"""How fast a body's swings have to die away for the run-up to be long enough, damping over twice the mass, 1/s."""

_FADE = 2.0  # s of the run-up in which the road rises from level to itself
_AFTER = 1.0  # s behind an obstacle over which residual pitch is taken


@dataclass(frozen=True)
class Drive:
    """One road at one speed, in time.

    Attributes:
        heights: under each tyre at every half step, (realisations, corners, 2 steps + 1), m; corners as in the model,
            the axles' where left and right are one.
        step: s.
        start: where the front axle is at the first sample, m; negative in the run-up.
        first: step from which on figures count.
        window: first step, and the one after the last, of the second after the rear axle has left the obstacle; on
            random and measured roads all steps that count.
        floor: height of the road behind the obstacle, m; under the middle of the vehicle where only one side is raised.
        single: whether it is one obstacle.
        duration: of what counts, s.
        speed: m/s.
    """

    heights: Array
    step: float
    start: float
    first: int
    window: tuple[int, int]
    floor: float
    single: bool
    duration: float
    speed: float

    @property
    def steps(self) -> int:
        """Steps of the march, the run-up included."""
        return int(self.heights.shape[2] - 1) // 2

    @property
    def realisations(self) -> int:
        """How many roads were drawn."""
        return int(self.heights.shape[0])


def drive(
    road: AnyRoad,
    speed: float,
    patch: float,
    wheelbase: float | None,
    step: float,
    *,
    seed: int,
    held_out: bool = False,
    realisations: int | None = None,
    first: int = 0,
    edge: float | None = None,
    track: float | None = None,
) -> Drive:
    """A road in time.

    Args:
        road: of any kind.
        speed: m/s.
        patch: length of the contact patch, m.
        wheelbase: m; None for one axle.
        step: longest step, s. On a random or measured road the step is the longest one not above it that fits its
            length.
        seed: the study's.
        held_out: realisations that a search never sees.
        realisations: how many at most; as many as the road says if None.
        first: index of the first of them.
        edge: over which a vertical edge rises where the contact patch is shorter, m; one step if None.
        track: distance between left and right wheels, m; None for one track, which meets an obstacle under either side.
    """
    count = road.realisations if realisations is None else min(realisations, road.realisations)
    drawn = range(first, first + count)
    if isinstance(road, Obstacle):
        return _over_obstacles(road, speed, patch, wheelbase, step, seed, held_out, drawn, edge, track)
    if isinstance(road, Profile):
        return _along_profile(road, speed, patch, wheelbase, step, track)
    return _along(road, speed, patch, wheelbase, step, seed, held_out, drawn, track)


def shows_the_second_after(road: Obstacle, speed: float, patch: float, wheelbase: float | None) -> bool:
    """Whether a road goes on for a second after the rear axle has left the last obstacle."""
    left = span(road)[1] + 0.5 * patch + (wheelbase or 0.0)
    return total_length(road, speed, wheelbase) >= left + _AFTER * speed


def steps_of(road: AnyRoad, speed: float, wheelbase: float | None, step: float) -> int:
    """Steps of the march over one realisation, the run-up included, for estimates of cost."""
    if isinstance(road, Obstacle):
        return math.ceil(total_length(road, speed, wheelbase or 0.0) / (speed * step))
    return math.ceil((road.length / speed + RUN_UP) / step)


def roads_bytes(steps: int, corners: int, realisations: int) -> int:
    """Memory that heights at every half step take."""
    return 8 * realisations * corners * (2 * steps + 1)


def _along(
    road: Road,
    speed: float,
    patch: float,
    wheelbase: float | None,
    step: float,
    seed: int,
    held_out: bool,
    drawn: range,
    track: float | None,
) -> Drive:
    duration = road.length / speed
    steps = max(math.ceil(duration / step * (1 - 1e-12)), math.ceil(fewest_samples(road) / 2))
    step = duration / steps
    before = math.ceil(RUN_UP / step)
    where = np.arange(-2 * before, 2 * steps + 1) % (2 * steps)
    corners = (1 if wheelbase is None else 2) * (1 if track is None else 2)
    heights = np.empty((len(drawn), corners, len(where)))
    for k, index in enumerate(drawn):
        period = realisation(road, patch, wheelbase, 2 * steps, seed=seed, index=index, held_out=held_out, track=track)
        heights[k] = period[:, where]
        heights[k, :, : 2 * before] *= _fade(before, step)
    end = before + steps
    return Drive(heights, step, -before * step * speed, before, (before, end), 0.0, False, duration, speed)


def _along_profile(
    road: Profile, speed: float, patch: float, wheelbase: float | None, step: float, track: float | None
) -> Drive:
    duration = road.length / speed
    steps = math.ceil(duration / step * (1 - 1e-12))
    step = duration / steps
    before = math.ceil(RUN_UP / step)
    x = np.arange(-2 * before, 2 * steps + 1) * (0.5 * step * speed)
    lags = (0.0,) if wheelbase is None else (0.0, wheelbase)
    tracks = (road.driven,) if track is None else (road.left, road.right)
    heights = np.stack([under_tyre(road, x - lag, patch, each) for lag in lags for each in tracks])[np.newaxis]
    heights[:, :, : 2 * before] *= _fade(before, step)
    end = before + steps
    return Drive(heights, step, -before * step * speed, before, (before, end), 0.0, False, duration, speed)


def _fade(before: int, step: float) -> Array:
    """What heights of a run-up of so many steps are multiplied by, (2 before,): from level to themselves."""
    since = np.arange(2 * before) * (0.5 * step)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.minimum(since / _FADE, 1.0)))


def _over_obstacles(
    road: Obstacle,
    speed: float,
    patch: float,
    wheelbase: float | None,
    step: float,
    seed: int,
    held_out: bool,
    drawn: range,
    edge: float | None,
    track: float | None,
) -> Drive:
    behind = wheelbase or 0.0
    steps = math.ceil(total_length(road, speed, behind) / (speed * step) * (1 - 1e-12))
    x = np.arange(2 * steps + 1) * (0.5 * step * speed)
    axles = (0.0,) if wheelbase is None else (0.0, behind)
    sides = (True,) if track is None else (road.side != "right", road.side != "left")
    heights = np.zeros((len(drawn), len(axles) * len(sides), len(x)))
    edge = step * speed if edge is None else edge
    for row, index in enumerate(drawn):
        sizes = mix(road, seed=seed, index=index, held_out=held_out)
        for k, lag in enumerate(axles):
            under = profile(road, x - lag, patch, edge, sizes)
            for side in np.flatnonzero(sides):
                heights[row, k * len(sides) + side] = under
    low, high = span(road)
    half = 0.5 * max(patch, edge)
    first = max(0, math.floor((low - half) / (speed * step)))
    after = min(math.ceil((high + half + behind) / (speed * step)), steps - 1)
    window = (after, min(after + math.ceil(_AFTER / step), steps))
    return Drive(
        heights,
        step,
        0.0,
        first,
        window,
        road.height * sum(sides) / len(sides) if road.shape == "step" else 0.0,
        road.count == 1,
        (steps - first) * step,
        speed,
    )
