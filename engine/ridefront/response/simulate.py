"""Designs into the lanes of the march through time, figures and histories out of it.

The march works in deviations from where a load has put the vehicle, so that a design at rest stays at rest. The laws of
springs and dampers, with hinges both ways, become the kernel's hinges that all act upwards: rate · max(0, -t) is
rate · max(0, t) - rate · t.

Where springs and dampers of a full car act, left of the centre of mass, the kernel knows from where its wheels do and
from how much of its own wheel an element sees: on a beam axle both say the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ridefront.response.digital import Section, low_pass, running_share, sections
from ridefront.response.drive import Drive
from ridefront.response.weighting import WEIGHTINGS
from ridefront.vehicle.laws import Array, Hinge
from ridefront.vehicle.static import AtRest

LANES = 8
"""Designs side by side in the kernel."""

PEAK_FREQUENCY = 30.0
"""Hz: largest accelerations are taken behind a low-pass at this frequency."""

STOPS = {"bump_stop": 0, "rebound_stop": 3}
"""Elements that the kernel knows as stops, and the row of their start after a corner's own rows."""

_KNEES = 3  # hinges of the speed law that every kernel has: rebound, and a knee each way
_BY = 4  # more hinges come in steps of so many, so that few kernels are compiled


@dataclass(frozen=True)
class March:
    """Raw figures of a march.

    Attributes:
        corners, body, points: rows of the kernel's result, SI, (realisations, corners, figures, n), (realisations,
            rows, n) and (realisations, points, 3, n).
        settled: steps until heave has settled, (realisations, n).
    """

    corners: Array
    body: Array
    points: Array
    settled: Array


def march(state: AtRest, drive: Drive, points: Array, left: Array | None = None, *, backrest: bool = False) -> March:
    """Drives designs over every realisation of a road.

    Args:
        state: n designs at rest under one load.
        drive: the road in time.
        points: of the body, ahead of its centre of mass, where dose, peak and running rms are taken, (n, points), m.
        left: of the centre of mass, where the points are, likewise; on the centre of mass unless given.
        backrest: whether pitch weighted by We and Wc, and roll by We, is wanted.
    """
    from ridefront.response import kernel_march as kernel

    n, corners = state.travel.shape
    motions = len(state.model.motions)
    figures, _ = _run(state, drive, points, left, backrest=backrest, keep=False)
    count = len(kernel.CORNER_FIGURES)
    body = count * corners + kernel.body_figures(motions)
    roads = drive.realisations
    return March(
        figures[:, : count * corners].reshape(roads, corners, count, n),
        figures[:, count * corners : body],
        figures[:, body:-1].reshape(roads, points.shape[1], len(kernel.POINT_FIGURES), n),
        figures[:, -1],
    )


def histories(state: AtRest, drive: Drive) -> tuple[Array, Array]:
    """Displacements and speeds of designs at every step of the first realisation, as deviations from rest.

    Returns:
        Displacements and speeds, each (n, motions + corners, steps + 1): z, pitch, roll, then the wheels; m, rad and
        m/s, rad/s.
    """
    first = replace(drive, heights=drive.heights[:1])
    _, history = _run(state, first, np.zeros((len(state.travel), 1)), None, backrest=False, keep=True)
    half = history.shape[1] // 2
    return history[:, :half], history[:, half:]


def _run(
    state: AtRest, drive: Drive, points: Array, left: Array | None, *, backrest: bool, keep: bool
) -> tuple[Array, Array]:
    """Figures (realisations, rows, n), and histories (n, rows, steps + 1) of the first realisation if `keep`."""
    from ridefront.response import kernel_march as kernel

    n, corners = state.travel.shape
    motions, places = len(state.model.motions), points.shape[1]
    rows, bends, knees = _rows(state, points, np.zeros_like(points) if left is None else left)
    blocks = -(-n // LANES)
    P = np.empty((len(rows), blocks * LANES))
    for i, row in enumerate(rows):
        P[i, :n] = row
    P[:, n:] = P[:, n - 1 : n]
    P = np.ascontiguousarray(P.reshape(len(rows), blocks, LANES).transpose(1, 0, 2))
    count = kernel.figure_rows(motions, corners, places)
    out = np.empty((blocks, drive.realisations, count, LANES))
    floor = np.empty(blocks * LANES)
    floor[:n] = _floor(state, drive)
    floor[n:] = floor[n - 1 : n]
    kept = (blocks, 1, drive.steps + 1, 2 * (motions + corners), LANES) if keep else (0, 0, 0, 0, 0)
    history = np.empty(kept)
    wk, we, wc, lp = _filters(drive.step)
    one = (0,)
    kernel.march(
        one * motions, one * corners, one * LANES, one * places, one * bends, one * knees,
        one if np.any(state.friction) else (), one if backrest and motions > 1 else (),
        P, drive.heights, drive.step, drive.first, drive.window, floor.reshape(blocks, LANES),
        wk, lp, we, wc, running_share(drive.step), drive.single, out, history,
    )  # fmt: skip
    figures = out.transpose(1, 2, 0, 3).reshape(drive.realisations, count, blocks * LANES)[:, :, :n]
    if not keep:
        return np.ascontiguousarray(figures), history
    flat = history[:, 0].transpose(0, 3, 2, 1).reshape(blocks * LANES, kept[3], kept[2])
    return np.ascontiguousarray(figures), np.ascontiguousarray(flat[:n])


def _floor(state: AtRest, drive: Drive) -> Array:
    """Where the centre of mass comes to rest behind the obstacle, (n,), m: where one side alone is raised the body
    leans, and a centre of mass off the middle is raised by another share.
    """
    level = np.full(len(state.travel), drive.floor)
    if len(state.model.corners) < 4:
        return level
    lean = (drive.heights[0, 0, -1] - drive.heights[0, 1, -1]) / (state.body.y[:, 0] - state.body.y[:, 1])
    return np.asarray(level + state.body.left * lean)


@lru_cache(maxsize=64)
def _filters(step: float) -> tuple[tuple[Section, ...], ...]:
    """Wk, We, Wc and the low-pass for peaks."""
    weightings = (sections(WEIGHTINGS[name], step) for name in ("Wk", "We", "Wc"))
    return (*weightings, (low_pass(PEAK_FREQUENCY, step),))


def _rows(state: AtRest, points: Array, left: Array) -> tuple[list[Array], int, int]:
    """The kernel's rows of parameters, each (n,), and how many bends and knees a corner has."""
    none = np.zeros(len(state.travel))
    corners = range(state.travel.shape[1])
    laws = [_Corner(state, c) for c in corners]
    bends = _padded(max(len(law.bends) for law in laws), 0)
    knees = _padded(max(len(law.knees) for law in laws), _KNEES)
    rows = [1 / state.body.mass, *_inverse_inertia(state)]
    for c, law in zip(corners, laws, strict=True):
        left_wheel, right_wheel = (c - c % 2, c - c % 2 + 1) if len(corners) > 2 else (c, c)
        rows += [
            law.rate,
            law.damping,
            law.constant,
            state.tyre_rate[:, c],
            state.tyre_damping[:, c],
            state.contact_force[:, c],
            state.wheel_inverse[:, c],
            state.body.x[:, c],
            state.friction[:, c],
            state.friction_speed[:, c],
            0.5 * (state.body.y[:, left_wheel] + state.body.y[:, right_wheel]),
            state.body.y[:, left_wheel] - state.body.y[:, right_wheel],
            state.anti_roll[:, c],
            0.5 * state.spring_mix[:, c],
            0.5 * state.damper_mix[:, c],
            state.wheel_cross[:, c],
            law.damper_constant,
            *law.stops,
        ]
        for hinges, places in ((law.bends, bends), (law.knees, knees)):
            for start, rate in hinges:
                rows += [start, rate]
            rows += [none, none] * (places - len(hinges))
    for point in range(points.shape[1]):
        rows += [np.ascontiguousarray(points[:, point]), np.ascontiguousarray(left[:, point])]
    return rows, bends, knees


def _inverse_inertia(state: AtRest) -> tuple[Array, Array, Array]:
    """Of pitch and roll: pitch per pitch moment, roll per roll moment, each per the other's."""
    body, none = state.body, np.zeros(len(state.travel))
    motions = len(state.model.motions)
    if motions < 3:
        return 1 / body.pitch_inertia if motions > 1 else none, none, none
    determinant = body.pitch_inertia * body.roll_inertia - body.product * body.product
    return body.roll_inertia / determinant, body.pitch_inertia / determinant, body.product / determinant


class _Corner:
    """Laws of one corner as the kernel takes them, about where the load has put it."""

    def __init__(self, state: AtRest, c: int) -> None:
        none = np.zeros(len(state.travel))
        static = state.travel[:, c]
        self.rate = state.travel_law.slope[:, c]
        self.constant = self.rate * static - state.extra[:, c]
        self.damping = state.speed_law.slope[:, c]
        self.damper_constant = none  # apart from the springs' where a beam axle may hold dampers by other arms
        self.stops = [none] * 6
        self.bends: list[tuple[Array, Array]] = []
        self.knees: list[tuple[Array, Array]] = []
        for hinge in state.travel_law.hinges:
            start, rate, growth = hinge.start[:, c], hinge.rate[:, c], hinge.growth[:, c]
            start = start - hinge.sign * static
            if hinge.element in STOPS:
                row = STOPS[hinge.element]
                self.stops[row : row + 3] = [start, rate, growth]
                continue
            assert not np.any(growth), f"the hinges of {hinge.element} grow, which the kernel knows of stops alone"
            slope, constant, bend = _upwards(hinge, start, rate)
            self.rate, self.constant = self.rate + slope, self.constant + constant
            self.bends.append(bend)
        for hinge in state.speed_law.hinges:
            slope, constant, knee = _upwards(hinge, hinge.start[:, c], hinge.rate[:, c])
            self.damping = self.damping + slope
            if len(state.model.motions) > 2:
                self.damper_constant = self.damper_constant + constant
            else:
                self.constant = self.constant + constant
            self.knees.append(knee)


def _upwards(hinge: Hinge, start: Array, rate: Array) -> tuple[Array, Array, tuple[Array, Array]]:
    """A hinge as one that acts upwards: what it adds to the slope and to the constant force, its start and rate."""
    if hinge.sign > 0:
        return np.zeros_like(rate), np.zeros_like(rate), (start, rate)
    return rate, rate * start, (-start, -rate)


def _padded(count: int, fewest: int) -> int:
    """How many hinges a kernel has for that many."""
    return fewest if count <= fewest else fewest + -(-(count - fewest) // _BY) * _BY


def finite(figures: Sequence[Array]) -> NDArray[np.bool_]:
    """(n,): whether every number of `figures`, arrays (..., n) in whatever units, is finite."""
    good = np.ones(figures[0].shape[-1], dtype=np.bool_)
    for figure in figures:
        for row in np.isfinite(figure).reshape(math.prod(figure.shape[:-1]), figure.shape[-1]):
            good &= row
    return good
