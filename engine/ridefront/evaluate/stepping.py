"""The time domain's step: one for a study, from the bounds of its design space, checked by halving.

The fastest wheel of any design gives a first step. Then a handful of designs at the bounds and between them is driven
over one realisation of every condition's road, with that step and with half of it; where a figure differs by more than
is allowed, the step is halved and the check made anew.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridefront.response.drive import Drive, drive
from ridefront.response.simulate import March, march
from ridefront.study.model import Scatter, Study
from ridefront.study.space import decode, parameters
from ridefront.vehicle.body import Model
from ridefront.vehicle.built import as_built
from ridefront.vehicle.laws import Array, Law
from ridefront.vehicle.static import AtRest, at_rest, stacked

STEPS = (2e-3, 1e-3, 5e-4, 2.5e-4, 1.25e-4)
"""Steps that are tried, s."""

RMS_ALLOWED, PEAK_ALLOWED = 2e-3, 1e-2
"""By how much an rms figure, and a largest value, may change when the step is halved, relative."""

_PER_SWING = 0.25  # step times the fastest wheel's circular frequency: some 25 steps a swing
_PER_DECAY = 1.0  # step times the fastest decay rate; Runge-Kutta's method is stable up to 2.8
_DEPTH = 0.05  # m into a progressive stop, at which its rate is taken
_ENDS = 4  # designs at the bounds
_BETWEEN = 12  # designs between the bounds
_TOUCH = 0.05  # of the static contact force: a stop's force below it is not worth a digit
_LEAST_ROLL = 1e-6  # rad/m: of heave's acceleration, roll's below it is rounding
_LOW = ("unsprung_mass", "bump_clearance", "rebound_clearance", "mass", "corner_mass", "friction_speed")


@dataclass(frozen=True)
class StepChoice:
    """The step of a study's time domain.

    Attributes:
        step: longest step, s; on a random road the step is the longest not above it that fits the road.
        fastest: circular frequency of the fastest wheel of the designs looked at, stops engaged, rad/s.
        designs: how many were driven for the check, those built to the ends of tolerances among them.
        conditions: names, in the study's order.
        rms, peak: largest relative change on halving the step in each condition.
        held: whether all are within `RMS_ALLOWED` and `PEAK_ALLOWED`.
    """

    step: float
    fastest: float
    designs: int
    conditions: tuple[str, ...]
    rms: tuple[float, ...]
    peak: tuple[float, ...]
    held: bool


def choose_step(study: Study, model: Model, wheelbase: float | None, track: float | None = None) -> StepChoice:
    """The longest of `STEPS` at which halving it changes no figure by more than is allowed; the shortest if none is.

    Args:
        study: whose design space and conditions count.
        model: of the vehicle.
        wheelbase: m; None for one axle.
        track: distance between left and right wheels, m; None for one track.
    """
    states = _at_rest(study, model)
    fastest, tried = _to_try(states[study.reference])
    for step in tried:
        rms, peak = [], []
        for c in range(len(study.conditions)):
            change = _change(study, c, states[study.conditions[c].load], wheelbase, track, step)
            rms.append(change[0])
            peak.append(change[1])
        held = max(rms, default=0.0) <= RMS_ALLOWED and max(peak, default=0.0) <= PEAK_ALLOWED
        if held or step == tried[-1]:
            names = tuple(condition.name for condition in study.conditions)
            designs = len(states[study.reference].travel)
            return StepChoice(step, fastest, designs, names, tuple(rms), tuple(peak), held)
    raise AssertionError("there is a last step")


def first_step(study: Study, model: Model) -> float:
    """The step, s, that is tried first: nothing is driven for it, and the study's may turn out shorter."""
    return _to_try(_at_rest(study, model)[study.reference])[1][0]


def _at_rest(study: Study, model: Model) -> tuple[AtRest, ...]:
    """Of the `probes` under every load; where parts have tolerances, behind them the ends of the design space with all
    parts built to the ends that make wheels fast, and slow.
    """
    X = probes(study)
    as_drawn = parameters(study, X)
    with np.errstate(all="ignore"):
        states = at_rest(as_drawn, model, study.loads, study.reference, study.points, study.beams)
        for off in () if study.scatter is None else (_all_off(study.scatter, 1), _all_off(study.scatter, -1)):
            drawn = {path: values[:_ENDS] for path, values in as_drawn.items()}
            built = as_built(drawn, off)
            more = at_rest(built, model, study.loads, study.reference, study.points, study.beams, drawn)
            states = tuple(stacked(pair) for pair in zip(states, more, strict=True))
    return states


def _all_off(scatter: Scatter, sign: int) -> dict[str, Array]:
    """Factors by path, one for each of the designs at the bounds: every part at the end of its tolerance that makes
    wheels fast, or with -1 slow.
    """
    return {
        path: np.full(_ENDS, 1 + sign * (-tolerance if path.rpartition(".")[2] in _LOW else tolerance))
        for path, tolerance in scatter.tolerances.items()
    }


def _to_try(state: AtRest) -> tuple[float, list[float]]:
    """Circular frequency of the fastest wheel, rad/s, and the steps worth trying, s."""
    with np.errstate(all="ignore"):
        fastest, decay = _fastest(state)
    longest = min(_PER_SWING / fastest, _PER_DECAY / decay)
    return fastest, [step for step in STEPS if step <= longest] or [STEPS[-1]]


def probes(study: Study) -> Array:
    """Designs at the bounds and between them, (n, d), in the variables' units: all low, all high, the fastest wheels,
    the slowest, some within, today's.
    """
    d = len(study.variables)
    fast = [0.0 if variable.path.rpartition(".")[2] in _LOW else 1.0 for variable in study.variables]
    slow = [1.0 - end for end in fast]
    # An additive sequence that fills the cube evenly; its irrational steps are powers of the root of x^(d+1) = x + 1.
    root = 2.0
    for _ in range(64):
        root = (1 + root) ** (1 / (d + 1))
    within = (0.5 + np.outer(np.arange(1, _BETWEEN + 1), root ** -np.arange(1.0, d + 1))) % 1.0
    X = decode(study, np.concatenate([np.zeros((1, d)), np.ones((1, d)), [fast], [slow], within]))
    return X if study.present is None else np.concatenate([X, study.present[np.newaxis]])


def _fastest(state: AtRest) -> tuple[float, float]:
    """Largest circular frequency of a wheel, and fastest decay, of designs that can stand; rad/s and 1/s."""
    stiffness = _steepest(state.travel_law) + state.tyre_rate
    damping = _steepest(state.speed_law) + state.tyre_damping + state.friction / state.friction_speed
    mass = state.unsprung_mass
    if len(state.model.motions) > 2:
        # Two wheels of an axle against each other work on the bar from both ends; a beam may turn faster than it hops.
        spring, damper = np.maximum(state.spring_mix, 1.0) ** 2, np.maximum(state.damper_mix, 1.0) ** 2
        stiffness = spring * _steepest(state.travel_law) + 2 * state.anti_roll + state.tyre_rate
        damping = damper * (damping - state.tyre_damping) + state.tyre_damping
        mass = 1 / (state.wheel_inverse + np.abs(state.wheel_cross))
    good = state.possible
    if not good.any():
        return 1.0, 1.0
    frequency = np.sqrt(stiffness / mass)[good]
    return float(np.max(frequency)), float(np.max((damping / mass)[good]))


def _steepest(law: Law) -> Array:
    """A slope (n, corners) that the law does not exceed: that of both ways together where hinges add to it."""
    slope = np.abs(law.slope)
    for hinge in law.hinges:
        slope = slope + np.maximum(hinge.rate, 0.0) + 2 * _DEPTH * hinge.growth
    return np.asarray(slope)


def _change(
    study: Study, c: int, state: AtRest, wheelbase: float | None, track: float | None, step: float
) -> tuple[float, float]:
    """Largest relative change of rms figures and of largest values in a condition when the step is halved."""
    condition, patch = study.conditions[c], study.fixed["contact_patch"]
    points = np.zeros((len(state.travel), 1))
    found: list[tuple[list[Array], list[Array]]] = []
    for each in (step, step / 2):
        way = drive(
            study.roads[condition.road], condition.speed, patch, wheelbase, each,
            seed=study.seed, realisations=1, edge=step * condition.speed, track=track,
        )  # fmt: skip
        with np.errstate(all="ignore"):
            found.append(_figures(march(state, way, points), state, way))
    (rms, peaks), (finer_rms, finer_peaks) = found
    return _largest(rms, finer_rms), _largest(peaks, finer_peaks)


def _figures(raw: March, state: AtRest, way: Drive) -> tuple[list[Array], list[Array]]:
    """Rms figures and largest values of the one realisation, each (n,)."""
    motions = len(state.model.motions)
    # Products of two motions' accelerations by rows of a lower triangle, then weighted ones: squares, and the first of
    # the weighted.
    rms = [np.sqrt(raw.body[0, k * (k + 3) // 2]) for k in range(motions)]
    if motions > 2:
        # What rolls by rounding alone, where the tracks are equal, would never hold still.
        rms[2] = np.maximum(rms[2], _LEAST_ROLL * rms[0])
    rms.append(np.sqrt(raw.body[0, motions * (motions + 1) // 2]))
    dose, peak, running = raw.points[0, 0]
    peaks = [peak, np.sqrt(np.sqrt(way.step * dose)), np.sqrt(running)]
    for c in range(state.travel.shape[1]):
        _, square, highest, lowest, speed, load, _, _, stop = raw.corners[0, c]
        rms += [np.sqrt(square), np.sqrt(speed), np.sqrt(load)]
        peaks += [highest - lowest, np.maximum(stop, _TOUCH * state.contact_force[:, c])]
    return rms, peaks


def _largest(coarse: list[Array], fine: list[Array]) -> float:
    """Largest relative difference over figures and designs; a design that has no figures at the finer step is left
    out, one that has none at the coarser step alone counts as infinitely far off.
    """
    largest = 0.0
    for a, b in zip(coarse, fine, strict=True):
        good = np.isfinite(b) & (b > 0)
        if good.any():
            change = np.abs(a[good] / b[good] - 1)
            largest = max(largest, float(np.max(np.where(np.isfinite(change), change, np.inf))))
    return largest
