"""The response of the vehicle as it is, by marching it over realisations of a road: stops, knees, friction, lift-off.

What is averaged over realisations is averaged linearly (means, mean squares, largest values, fourth powers), so that a
response over any of them is the mean of theirs; leaving one out in turn is how the sampling error is found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ridefront.response.drive import Drive
from ridefront.response.simulate import finite, march
from ridefront.vehicle.laws import Array, friction_mean_slope
from ridefront.vehicle.static import AtRest


@dataclass(frozen=True)
class TimeResponse:
    """Figures of a batch of designs on one road at one speed under one load, means over realisations.

    Attributes:
        state: the designs at rest; drive: the road.
        mean_travel: from the reference position, (n, corners), m.
        travel: mean square about its mean, (n, corners), m²; travel_speed: mean square, m²/s².
        highest, lowest: travel from the reference position, (n, corners), m, of each realisation its own.
        largest: travel either way from where the load has put the corner, (n, corners), m.
        contact_force: mean square about the static one, (n, corners), N².
        lift_off, bump_stop: shares of time, (n, corners), 1.
        stop_force: largest of either stop, at the wheel, (n, corners), N.
        acceleration: mean products z"z", z"θ", θ"θ" at the centre of mass, (n, 3), SI, and for the full car z"φ", θ"φ",
            φ"φ" behind them, (n, 6); weighted: the same, Wk-weighted.
        pitch: mean square of the pitch angle about its mean, (n,), rad²; zeros for a quarter car, like what follows.
        pitch_weighted, pitch_backrest: of pitch acceleration weighted by We and by Wc, (n,), rad²/s⁴; zeros unless
            asked for.
        roll: mean square of the roll angle about its mean, (n,), rad²; zeros but for the full car, like the next one.
        roll_weighted: of roll acceleration weighted by We, (n,), rad²/s⁴; zeros unless asked for.
        residual_pitch: mean square of the pitch angle in the drive's window, (n,), rad².
        dose: ∫ a_w⁴ dt, Wk-weighted, at each of the points, (n, points), m⁴/s⁷.
        peak: largest |a| below 30 Hz at the points, (n, points), m/s².
        running: largest running rms over 1 s, Wk-weighted, at the points, (n, points), m/s².
        settling: time until heave stays below 5 % of its largest, (n,), s; infinite where it has not by
            the end of the road.
    """

    state: AtRest
    drive: Drive
    mean_travel: Array
    travel: Array
    travel_speed: Array
    highest: Array
    lowest: Array
    largest: Array
    contact_force: Array
    lift_off: Array
    bump_stop: Array
    stop_force: Array
    acceleration: Array
    weighted: Array
    pitch: Array
    pitch_weighted: Array
    pitch_backrest: Array
    roll: Array
    roll_weighted: Array
    residual_pitch: Array
    dose: Array
    peak: Array
    running: Array
    settling: Array

    @cached_property
    def wheel_rate(self) -> Array:
        """Of springs and stops, (n, corners), N/m: their mean slope under Gaussian travel with the mean and deviation
        that were driven. With m the mean, it is within 1 % of E[F (s - m)]/E[(s - m)²] of the histories off the
        stops, and up to 19 % above on a progressive stop, which cuts swings off that a Gaussian would make.
        """
        sigma = np.sqrt(self.travel)
        return self.state.travel_law.mean_slope(sigma, self.mean_travel) + np.zeros_like(sigma)

    @cached_property
    def damping(self) -> Array:
        """Of dampers and friction, likewise under Gaussian speed of travel, (n, corners), N·s/m: for dampers with knees
        and friction 2 to 8 % above E[F w]/E[w²] of the histories, whose speeds have longer tails.
        """
        sigma = np.sqrt(self.travel_speed)
        damping = self.state.speed_law.mean_slope(sigma) + np.zeros_like(sigma)
        if np.any(self.state.friction):
            damping = damping + friction_mean_slope(sigma, self.state.friction, self.state.friction_speed)
        return damping


class Simulation:
    """Designs driven over every realisation of a road.

    Args:
        state: n designs at rest under one load.
        drive: the road in time.
        points: of the body, ahead of its centre of mass, (n, points), m.
        left: of the centre of mass, where the points are, likewise; on the centre of mass unless given.
        backrest: whether pitch weighted by We and Wc, and roll by We, is wanted.
    """

    def __init__(
        self, state: AtRest, drive: Drive, points: Array, left: Array | None = None, *, backrest: bool = False
    ) -> None:
        self.state, self.drive = state, drive
        with np.errstate(all="ignore"):
            self._march = march(state, drive, points, left, backrest=backrest)

    @property
    def realisations(self) -> int:
        """How many roads were driven."""
        return self.drive.realisations

    @property
    def diverged(self) -> NDArray[np.bool_]:
        """(n,): designs whose figures have left all bounds, on any realisation."""
        found = self._march
        return ~finite((found.corners, found.body, found.points))

    def response(self, without: int | None = None) -> TimeResponse:
        """Means over realisations, one of them left out if its index is given."""
        kept = [k for k in range(self.realisations) if k != without]
        found, state, drive = self._march, self.state, self.drive
        corners = range(state.travel.shape[1])

        def corner(row: int) -> Array:
            return np.stack([_mean(found.corners[:, c, row], kept) for c in corners], axis=1)

        mean, square, highest, lowest, speed, load, lift_off, bump_stop, stop_force = (corner(k) for k in range(9))
        either = np.maximum(found.corners[:, :, 2], -found.corners[:, :, 3])
        body = _body([_mean(found.body[:, row], kept) for row in range(found.body.shape[1])], len(state.model.motions))
        places = range(found.points.shape[1])
        return TimeResponse(
            state=state,
            drive=drive,
            mean_travel=state.travel + mean,
            travel=np.maximum(square - mean * mean, 0.0),
            travel_speed=speed,
            highest=state.travel + highest,
            lowest=state.travel + lowest,
            largest=np.stack([_mean(either[:, c], kept) for c in corners], axis=1),
            contact_force=load,
            lift_off=lift_off,
            bump_stop=bump_stop,
            stop_force=stop_force,
            **body,
            dose=np.stack([drive.step * _mean(found.points[:, k, 0], kept) for k in places], axis=1),
            peak=np.stack([_mean(found.points[:, k, 1], kept) for k in places], axis=1),
            running=np.stack([_mean(np.sqrt(found.points[:, k, 2]), kept) for k in places], axis=1),
            settling=drive.step * _mean(found.settled, kept),
        )


def _body(rows: Sequence[Array], motions: int) -> dict[str, Array]:
    """The body's figures by the names of `TimeResponse`, from the kernel's rows, each (n,)."""
    none = np.zeros_like(rows[0])
    if motions == 1:
        names = ("pitch", "pitch_weighted", "pitch_backrest", "roll", "roll_weighted", "residual_pitch")
        products = {"acceleration": rows[0], "weighted": rows[1]}
        found = {name: np.stack([row, none, none], axis=1) for name, row in products.items()}
        return found | dict.fromkeys(names, none)
    count = motions * (motions + 1) // 2
    rotations = rows[2 * count : 2 * count + 2 * (motions - 1)]
    about_mean = [
        np.maximum(square - mean * mean, 0.0) for mean, square in zip(rotations[::2], rotations[1::2], strict=True)
    ]
    residual, we, wc, *roll_we = rows[2 * count + len(rotations) :]
    return {
        "acceleration": np.stack(rows[:count], axis=1),
        "weighted": np.stack(rows[count : 2 * count], axis=1),
        "pitch": about_mean[0],
        "pitch_weighted": we,
        "pitch_backrest": wc,
        "roll": about_mean[1] if motions > 2 else none,
        "roll_weighted": roll_we[0] if motions > 2 else none,
        "residual_pitch": residual,
    }


def _mean(figure: Array, kept: Sequence[int]) -> Array:
    """Mean over realisations (realisations, n) -> (n,), one after another, so that bits do not depend on n."""
    total: Array = figure[kept[0]]
    for k in kept[1:]:
        total = total + figure[k]
    return np.asarray(total / len(kept))
