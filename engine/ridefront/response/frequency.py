"""The response of linearised vehicles to random roads, by integration over the road's spectrum.

Exact for the linear model; how the real vehicle becomes a linear one is `linearise`'s business.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from ridefront.response.grid import Grid
from ridefront.response.linearise import MORE, PASSES, Linear, linearise, mean_travel, unsettled
from ridefront.response.spectrum import mean_squares
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import AtRest, stacked

AXLE_FIGURES = 3  # mean squares of each axle that the kernel gives first


@dataclass(frozen=True)
class FrequencyResponse:
    """Mean squares of a batch of designs on one road at one speed under one load.

    Attributes:
        wheel_rate, damping: linearised, of each corner, (n, corners), N/m and N·s/m.
        pumped_force: mean force of the dampers on the body, (n, corners), N; negative pulls the body down.
        mean_travel: from the reference position, (n, corners), m: the static travel, and what unequal bump and rebound
            damping pumps (jacking) and stops push back.
        unsettled: how far the linearisation is from its fixed point, relative, (n,); see `linearise.unsettled`.
        travel, travel_speed, contact_force: mean squares, (n, corners), m², m²/s², N²; on a beam axle travel is that of
            the spring and its speed that of the damper.
        acceleration: mean products z"z", z"θ", θ"θ" at the centre of mass, (n, 3), SI, and for the full car z"φ", θ"φ",
            φ"φ" behind them, (n, 6); weighted: the same, Wk-weighted.
        pitch: mean square of the pitch angle, (n,), rad²; zeros for a quarter car, like the next two.
        pitch_weighted, pitch_backrest: of pitch acceleration weighted by We and by Wc, (n,), rad²/s⁴.
        roll: mean square of the roll angle, (n,), rad²; zeros but for the full car, like the next one.
        roll_weighted: of roll acceleration weighted by We, (n,), rad²/s⁴.
        grid: what it was integrated over.
    """

    wheel_rate: Array
    damping: Array
    pumped_force: Array
    mean_travel: Array
    unsettled: Array
    travel: Array
    travel_speed: Array
    contact_force: Array
    acceleration: Array
    weighted: Array
    pitch: Array
    pitch_weighted: Array
    pitch_backrest: Array
    roll: Array
    roll_weighted: Array
    grid: Grid


def frequency_response(
    state: AtRest, grid: Grid, *, at_rest: bool = False, passes: int = PASSES, more: int = MORE
) -> FrequencyResponse:
    """Response of designs at rest under one load to one road at one speed; see `frequency_responses`."""
    return frequency_responses([state], [grid], at_rest=at_rest, passes=passes, more=more)[0]


def frequency_responses(
    states: Sequence[AtRest], grids: Sequence[Grid], *, at_rest: bool = False, passes: int = PASSES, more: int = MORE
) -> list[FrequencyResponse]:
    """Responses of the same designs in several conditions; worked out together, because that is quicker.

    Args:
        states: n designs at rest, under the load of each condition.
        grids: of the conditions.
        at_rest: take springs and stops by their slope at rest, dampers by the mean of their two slopes at rest, and
            leave friction out, instead of statistical linearisation.
        passes, more: of the linearisation, for checks of convergence.

    Returns:
        Mean squares for each condition; a design that cannot stand under a load, or whose figures overflow, has NaN
        somewhere.
    """
    state = stacked(states)
    with np.errstate(all="ignore"):
        if at_rest:
            linear = Linear(state.wheel_rate, state.speed_law.slope_at(np.zeros_like(state.friction)))
        else:
            linear = linearise(state, grids, passes, more)
        figures = mean_squares(state, linear.rate, linear.damping, grids, full=True)
        corners = linear.damping.shape[1]
        travel, speed, contact = (
            np.stack([figures[3 * c + k] for c in range(corners)], axis=1) for k in range(AXLE_FIGURES)
        )
        pumped = state.speed_law.mean_force(np.sqrt(speed))
        if at_rest:
            mean = state.travel - pumped / state.wheel_rate
            loose = np.zeros(len(mean))
        else:
            mean = mean_travel(state, pumped, np.sqrt(travel), state.travel)
            loose = unsettled(state, linear, np.sqrt(travel), np.sqrt(speed), mean)
    plain, weighted, rest = _body(figures[AXLE_FIGURES * corners :], corners)
    whole = FrequencyResponse(
        wheel_rate=linear.rate,
        damping=linear.damping,
        pumped_force=pumped,
        mean_travel=mean,
        unsettled=loose,
        travel=travel,
        travel_speed=speed,
        contact_force=contact,
        acceleration=np.stack(plain, axis=1),
        weighted=np.stack(weighted, axis=1),
        pitch=rest[0],
        pitch_weighted=rest[1],
        pitch_backrest=rest[2],
        roll=rest[3],
        roll_weighted=rest[4],
        grid=grids[0],
    )
    n = len(mean) // len(grids)
    return [_part(whole, slice(k * n, (k + 1) * n), grid) for k, grid in enumerate(grids)]


def _body(figures: Array, corners: int) -> tuple[list[Array], list[Array], list[Array]]:
    """Products of the body's accelerations, the same weighted, and what turns: pitch, its acceleration weighted by We
    and by Wc, roll, its acceleration weighted by We; zeros where the model has none of it.
    """
    none = np.zeros_like(figures[0])
    if corners == 1:
        return [figures[0], none, none], [figures[1], none, none], [none] * 5
    if corners == 2:
        return list(figures[0:3]), list(figures[3:6]), [*figures[6:9], none, none]
    return list(figures[0:6]), list(figures[6:12]), list(figures[12:17])


def _part(whole: FrequencyResponse, rows: slice, grid: Grid) -> FrequencyResponse:
    """The rows of one condition."""
    arrays = {item.name: getattr(whole, item.name)[rows] for item in fields(whole) if item.name != "grid"}
    return FrequencyResponse(grid=grid, **arrays)
