"""Histories of designs in one condition: where wheels and body are and what acts on them, at every step of a drive.

The march keeps displacements and speeds only. Forces and accelerations follow from these by the laws and the equations
of motion, as the march itself works them out; nothing is differenced.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import sosfilt

from ridefront.criteria.ride import BODY, Place, seat_places
from ridefront.evaluate.bench import arms
from ridefront.evaluate.evaluator import Evaluator
from ridefront.evaluate.outcome import STATUS
from ridefront.response.digital import Section, low_pass, sections
from ridefront.response.drive import Drive
from ridefront.response.simulate import LANES, PEAK_FREQUENCY, STOPS, histories
from ridefront.response.weighting import WEIGHTINGS
from ridefront.road import Obstacle
from ridefront.study.space import check_within, parameters
from ridefront.vehicle.elements import Parameters, per_corner
from ridefront.vehicle.laws import Array, Law, friction_force
from ridefront.vehicle.static import AtRest, at_rest

_AT_ONCE = 400_000  # samples of designs worked out together: some hundred numbers each


@dataclass(frozen=True)
class Trace:
    """Designs in one condition, on the first realisation of its road. SI.

    Heights of wheels and body count from where they rest on a level road under the condition's load, travel from the
    reference position. On a random road what counts is traced, without the run-up; on obstacles everything is.

    Attributes:
        condition: its name; corners: their names, front first, left before right; points: seats, and ``body``, its
            centre of mass.
        realisations: how many the road has.
        time: (t,), s; distance: of the front axle (of the only one) along the road, (t,), m.
        first: sample from which on figures count; 0 on random roads.
        road: height under each corner, (corners, t), m.
        wheel: height, (n, corners, t), m; body: height of the body above each corner, likewise.
        height: of each point of the body, (n, points, t), m.
        pitch: angle, nose down, (n, t), rad; zeros for a quarter car; roll: left side up, zeros but for a full car.
        travel: bump positive, (n, corners, t), m, of a beam axle at the springs; travel_speed: m/s, of a beam axle at
            the dampers' places.
        damper_speed: at the damper, (n, corners, t), m/s; damper_force: of the damper itself, less what its gas does,
            N.
        stop_force: at the wheel, of the bump stop positive and of the rebound stop negative, (n, corners, t), N.
        contact_force: (n, corners, t), N; lift_off: where it is 0, bool.
        acceleration: vertical, of each point, (n, points, t), m/s²; weighted: by Wk; smooth: below 30 Hz, as largest
            accelerations are taken.
        static_travel: (n, corners), m; static_contact_force: (n, corners), N.
        bump_stop, rebound_stop: travel at which each stop is met, rebound below 0, (n, corners), m; NaN without it.
        bump_end, rebound_end: travel at its ends, rebound below 0, (n, corners), m; NaN where the study gives none.
        status: index into `STATUS`, (n,); designs other than "ok" have NaN everywhere, and never lift off.
    """

    condition: str
    corners: tuple[str, ...]
    points: tuple[str, ...]
    realisations: int
    time: Array
    distance: Array
    first: int
    road: Array
    wheel: Array
    body: Array
    height: Array
    pitch: Array
    roll: Array
    travel: Array
    travel_speed: Array
    damper_speed: Array
    damper_force: Array
    stop_force: Array
    contact_force: Array
    lift_off: NDArray[np.bool_]
    acceleration: Array
    weighted: Array
    smooth: Array
    static_travel: Array
    static_contact_force: Array
    bump_stop: Array
    rebound_stop: Array
    bump_end: Array
    rebound_end: Array
    status: NDArray[np.int8]

    @property
    def ok(self) -> NDArray[np.bool_]:
        """(n,): which designs have histories."""
        return np.asarray(self.status == 0)


def traced_places(evaluator: Evaluator) -> tuple[Place, ...]:
    """Places at which accelerations are traced: the seats, and the body's centre of mass."""
    seats = seat_places(evaluator.model, evaluator.study.seats)
    return seats if BODY in seats else (*seats, BODY)


def samples(evaluator: Evaluator, c: int) -> int:
    """Samples of a trace in condition `c`.

    Raises:
        CallError: as in `Evaluator.drive`.
    """
    drive = evaluator.drive(c)
    return drive.steps - _kept_from(evaluator, c, drive)


def traces(evaluator: Evaluator, X: Array, c: int) -> Iterator[tuple[slice, Trace]]:
    """`trace`, some designs at a time, for more of them than fit the memory: which rows of X, and their trace.

    Args:
        evaluator, c: as in `trace`.
        X: (n, d), in the units of the study's variables.

    Raises:
        CallError: as in `trace`.
    """
    check_within(evaluator.study, X)
    at_once = max(1, min(LANES, _AT_ONCE // samples(evaluator, c)))
    for start in range(0, len(X), at_once):
        rows = slice(start, min(start + at_once, len(X)))
        yield rows, trace(evaluator, X[rows], c)


def trace(evaluator: Evaluator, X: Array, c: int) -> Trace:
    """Histories of designs.

    Args:
        evaluator: of their study.
        X: (n, d), in the units of the study's variables.
        c: index of the condition.

    Raises:
        CallError: a design lies outside the bounds that the time domain's step is made for, or the road takes more
            memory than `Evaluator.drive` allows.
    """
    study = evaluator.study
    check_within(study, X)
    drive, condition = evaluator.drive(c), study.conditions[c]
    values = parameters(study, X)
    with np.errstate(all="ignore"):
        loads = at_rest(values, evaluator.model, study.loads, study.reference, study.points, study.beams)
        state = loads[condition.load]
        moved = _Moved(state, drive, values)
        places = traced_places(evaluator)
        found = _histories(moved, *arms(places, state.body))
        status = np.where(moved.bounded, 0, STATUS.index("diverged")).astype(np.int8)
    for load in loads:
        status[~load.possible] = STATUS.index("no-static-equilibrium")
    kept = _kept_from(evaluator, c, drive)
    since = np.arange(drive.steps - kept, dtype=np.float64) * drive.step
    whole = {name: _settled(history[kept:], status) for name, history in found.items()}
    return Trace(
        condition=condition.name,
        corners=evaluator.model.corners,
        points=tuple(place.name for place in places),
        realisations=study.roads[condition.road].realisations,
        time=since,
        distance=drive.speed * since,
        first=drive.first - kept,
        road=np.ascontiguousarray(moved.road[kept:].T),
        lift_off=np.ascontiguousarray(np.moveaxis(moved.lift_off[kept:], 0, -1)) & (status == 0)[:, None, None],
        status=status,
        **whole,
        **{name: _nowhere(limit, status) for name, limit in _limits(state).items()},
    )


def _kept_from(evaluator: Evaluator, c: int, drive: Drive) -> int:
    """Step from which on a drive is traced."""
    on_obstacles = isinstance(evaluator.study.roads[evaluator.study.conditions[c].road], Obstacle)
    return 0 if on_obstacles else drive.first


class _Moved:
    """Motion and forces of n designs at every step of the march but the last; time first, (t, n, corners).

    Args:
        state: at rest under the condition's load.
        drive: the road in time.
        values: every vehicle quantity by path, (n,), SI.
    """

    def __init__(self, state: AtRest, drive: Drive, values: Parameters) -> None:
        self.state, self.step = state, drive.step
        motions = len(state.model.motions)
        q, v = (history[:, :, :-1].transpose(2, 0, 1) for history in histories(state, drive))
        self.z, self.wheel = q[..., 0], q[..., motions:]
        self.pitch = q[..., 1] if motions > 1 else np.zeros_like(self.z)
        self.roll = q[..., 2] if motions > 2 else np.zeros_like(self.z)
        before, between, after = (drive.heights[0, :, k : k + 2 * drive.steps : 2].T for k in range(3))
        self.road = before
        # The slope at a step's beginning is that of the parabola through its three heights.
        slope = (-3.0 * before + 4.0 * between - after) / drive.step
        self.body = _above(state, state.body.y, q)
        self.travel = state.travel + (_seen(self.wheel, state.spring_mix) - _above(state, state.spring_y, q))
        self.speed = _seen(v[..., motions:], state.damper_mix) - _above(state, state.damper_y, v)
        elastic = state.contact_force + state.tyre_rate * (before[:, None] - self.wheel)
        contact = elastic + state.tyre_damping * (slope[:, None] - v[..., motions:])
        self.contact_force = np.where((elastic > 0) & (contact > 0), contact, 0.0)
        self.lift_off: NDArray[np.bool_] = ~(self.contact_force > 0)
        damping = state.speed_law.force(self.speed)
        sprung = state.travel_law.force(self.travel) - state.extra
        damped, force = damping, sprung + damping
        if np.any(state.friction):
            friction = friction_force(self.speed, state.friction, state.friction_speed)
            damped, force = damped + friction, force + friction
        ratio = per_corner(values, state.model.axles, "damper_ratio")
        assert ratio is not None, "the study reader gives damper_ratio for every axle of the model"
        self.damper_speed, self.damper_force = self.speed * ratio, damping / ratio
        self.stop_force = _stops(state.travel_law, self.travel)
        self.heave, self.turn = np.zeros_like(self.z), np.zeros_like(self.z)  # accelerations
        for k in range(state.travel.shape[1]):
            self.heave = self.heave + force[..., k]
            self.turn = self.turn - state.body.x[:, k] * force[..., k]
        self.heave = self.heave / state.body.mass
        self.sway = np.zeros_like(self.z)
        if motions == 2:
            self.turn = self.turn / state.body.pitch_inertia
        elif motions > 2:
            self.turn, self.sway = _turns(state, self.turn, self._roll_moment(sprung, damped))

    def _roll_moment(self, sprung: Array, damped: Array) -> Array:
        """On a full car's body, (t, n), N·m, of springs and dampers (t, n, corners) and of the anti-roll bars."""
        state, moment = self.state, np.zeros_like(self.z)
        for k in range(sprung.shape[2]):
            moment = moment + (state.spring_y[:, k] * sprung[..., k] + state.damper_y[:, k] * damped[..., k])
        for left in range(0, sprung.shape[2], 2):
            track = state.body.y[:, left] - state.body.y[:, left + 1]
            twist = self.wheel[..., left] - self.wheel[..., left + 1] - track * self.roll
            moment = moment + track * (state.anti_roll[:, left] * twist)
        return moment

    @property
    def bounded(self) -> NDArray[np.bool_]:
        """(n,): designs whose mean squares are numbers."""
        good = np.isfinite(self.z).all(axis=0)
        turns = (self.turn[..., None], self.sway[..., None])
        for history in (self.wheel, self.speed, self.heave[..., None], *turns):
            good &= np.isfinite(history * history).all(axis=(0, 2))
        return np.asarray(good)


def _above(state: AtRest, y: Array, q: Array) -> Array:
    """Height (or speed) of the body at each corner's x and at `y` (n, corners), of histories (t, n, motions ...)."""
    motions = len(state.model.motions)
    body = q[..., :1] - state.body.x * q[..., 1:2] if motions > 1 else q[..., :1] - np.zeros_like(state.body.x)
    return body + y * q[..., 2:3] if motions > 2 else body


def _seen(wheel: Array, mix: Array) -> Array:
    """Of wheels (t, n, corners), what an element sees that takes this much of its own wheel, (n, corners)."""
    if wheel.shape[2] < 4:
        return wheel
    other = np.empty_like(wheel)
    other[..., 0::2], other[..., 1::2] = wheel[..., 1::2], wheel[..., 0::2]
    return 0.5 * (1 + mix) * wheel + 0.5 * (1 - mix) * other


def _turns(state: AtRest, pitching: Array, rolling: Array) -> tuple[Array, Array]:
    """Pitch and roll acceleration, (t, n), of a full car's body under these moments."""
    body = state.body
    determinant = body.pitch_inertia * body.roll_inertia - body.product * body.product
    return (
        (body.roll_inertia * pitching + body.product * rolling) / determinant,
        (body.product * pitching + body.pitch_inertia * rolling) / determinant,
    )


def _histories(moved: _Moved, ahead: Array, left: Array) -> dict[str, Array]:
    """The histories by the names of `Trace`, time first; `ahead`, `left` (n, points), of the centre of mass, m."""
    acceleration = moved.heave[..., None] - ahead * moved.turn[..., None] + left * moved.sway[..., None]
    return {
        "wheel": moved.wheel,
        "body": moved.body,
        "height": moved.z[..., None] - ahead * moved.pitch[..., None] + left * moved.roll[..., None],
        "pitch": moved.pitch,
        "roll": moved.roll,
        "travel": moved.travel,
        "travel_speed": moved.speed,
        "damper_speed": moved.damper_speed,
        "damper_force": moved.damper_force,
        "stop_force": moved.stop_force,
        "contact_force": moved.contact_force,
        "acceleration": acceleration,
        "weighted": _filtered(sections(WEIGHTINGS["Wk"], moved.step), acceleration),
        "smooth": _filtered((low_pass(PEAK_FREQUENCY, moved.step),), acceleration),
    }


def _filtered(cascade: tuple[Section, ...], history: Array) -> Array:
    """A history (t, ...) behind second-order sections, from rest."""
    sos = np.array([(b0, b1, b2, 1.0, a1, a2) for b0, b1, b2, a1, a2 in cascade])
    return np.asarray(sosfilt(sos, history, axis=0), dtype=np.float64)


def _stops(law: Law, travel: Array) -> Array:
    """Force of the stops alone, (t, n, corners), N."""
    none = np.zeros_like(law.slope)
    return Law(none, tuple(hinge for hinge in law.hinges if hinge.element in STOPS)).force(travel)


def _limits(state: AtRest) -> dict[str, Array]:
    """What travel is drawn against, by the names of `Trace`, (n, corners)."""
    nowhere = np.full_like(state.travel, np.nan)
    limits = {"bump_stop": nowhere, "rebound_stop": nowhere}
    for hinge in state.travel_law.hinges:
        if hinge.element in STOPS:
            # An axle without the stop that the other one has carries a hinge without a rate.
            limits[hinge.element] = np.where(hinge.rate > 0, hinge.sign * hinge.start, np.nan)
    return {
        **limits,
        "bump_end": nowhere if state.bump_travel is None else state.bump_travel,
        "rebound_end": nowhere if state.rebound_travel is None else -state.rebound_travel,
        "static_travel": state.travel,
        "static_contact_force": state.contact_force,
    }


def _settled(history: Array, status: NDArray[np.int8]) -> Array:
    """A history (t, n, ...) with the designs first and time last, NaN for those that failed."""
    return _nowhere(np.moveaxis(history, 0, -1), status)


def _nowhere(values: Array, status: NDArray[np.int8]) -> Array:
    """A contiguous copy (n, ...), NaN for designs that failed."""
    copied = np.array(values, order="C")
    copied[status != 0] = np.nan
    return copied
