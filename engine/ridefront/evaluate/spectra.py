"""Spectra of designs in one condition: where in frequency bodies and wheels are shaken.

In the frequency domain the linear vehicle that stands for the real one there is solved at each frequency of the
condition's grid, one dense system of its equations of motion after another; the kernels sum the same integrand and
keep the sum alone. In the time domain the spectra are those of histories, by Welch's method (P.D. Welch, IEEE
Transactions on Audio and Electroacoustics 15 (1967) 70-73, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.evaluate.bench import arms
from ridefront.evaluate.evaluator import Evaluator
from ridefront.evaluate.outcome import SETTLED, STATUS, Domain
from ridefront.evaluate.tracing import Trace, traced_places, traces
from ridefront.response.frequency import FrequencyResponse, frequency_response
from ridefront.response.grid import Grid
from ridefront.road import spectral
from ridefront.road.iso8608 import temporal_spectrum
from ridefront.study.space import parameters
from ridefront.vehicle.elements import Parameters, per_corner
from ridefront.vehicle.equations import equations_of_motion, travel_row
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import AtRest, at_rest

SEGMENT = 8.0
"""s of a history in one segment of Welch's method, or all of it where it is shorter: an eighth of a hertz apart."""

_OVERLAP = 0.5

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Spectra:
    """One-sided spectra of n designs. SI; designs whose status is not "ok" have NaN everywhere.

    Attributes:
        condition: its name; corners: their names, front first, left before right; points: seats, and ``body``.
        domain: in which they were worked out.
        frequency: (f,), Hz, rising.
        acceleration: vertical, of each point, (n, points, f), (m/s²)²/Hz; weighted: by Wk.
        contact_force: dynamic, (n, corners, f), N²/Hz; travel: likewise, m²/Hz, of a beam axle at the springs;
            damper_speed: at the damper, (m/s)²/Hz.
        mean_square: of each of these five by its name, (n, points) or (n, corners): the integral over the road's band,
            in the time domain the mean square about the mean of the history itself.
        status: index into `STATUS`, (n,).
    """

    condition: str
    corners: tuple[str, ...]
    points: tuple[str, ...]
    domain: Domain
    frequency: Array
    acceleration: Array
    weighted: Array
    contact_force: Array
    travel: Array
    damper_speed: Array
    mean_square: dict[str, Array]
    status: NDArray[np.int8]

    @property
    def ok(self) -> NDArray[np.bool_]:
        """(n,): which designs have spectra."""
        return np.asarray(self.status == 0)


def spectra(evaluator: Evaluator, X: Array, c: int, domain: Domain | None = None) -> Spectra:
    """Spectra of designs.

    Args:
        evaluator: of their study.
        X: (n, d), in the units of the study's variables; n at least 1.
        c: index of the condition.
        domain: of rides on random roads; the one of the study's front if None. What is driven, is driven on the first
            realisation of its road.

    Raises:
        CallError: a design is driven and lies outside the bounds that the time domain's step is made for, or the road
            takes more memory than `Evaluator.drive` allows.
    """
    if evaluator.simulated(c, domain or evaluator.domain):
        return _joined([_of_histories(found) for _, found in traces(evaluator, X, c)])
    return _of_the_linear_vehicle(evaluator, X, c)


def _joined(parts: Sequence[Spectra]) -> Spectra:
    """The same condition's, their designs one after another."""
    first = parts[0]

    def one(name: str) -> Array:
        return np.concatenate([getattr(part, name) for part in parts])

    return Spectra(
        first.condition,
        first.corners,
        first.points,
        first.domain,
        first.frequency,
        one("acceleration"),
        one("weighted"),
        one("contact_force"),
        one("travel"),
        one("damper_speed"),
        {name: np.concatenate([part.mean_square[name] for part in parts]) for name in first.mean_square},
        np.concatenate([part.status for part in parts]),
    )


def _of_histories(found: Trace) -> Spectra:
    """By Welch's method, from what counts of a trace."""
    from scipy.signal import welch

    rate = 1.0 / float(found.time[1] - found.time[0])
    length = min(round(SEGMENT * rate), len(found.time) - found.first)
    histories = {
        name: getattr(found, name)[..., found.first :]
        for name in ("acceleration", "weighted", "contact_force", "travel", "damper_speed")
    }
    frequency: Array = np.empty(0)
    densities: dict[str, Array] = {}
    for name, history in histories.items():
        f, density = welch(history, rate, nperseg=length, noverlap=int(_OVERLAP * length), detrend="constant")
        frequency, densities[name] = f[1:], density[..., 1:]  # at 0 Hz there is only what has been taken off
    return Spectra(
        found.condition,
        found.corners,
        found.points,
        "time-domain",
        frequency,
        **densities,
        mean_square={name: np.var(history, axis=-1) for name, history in histories.items()},
        status=found.status,
    )


def _of_the_linear_vehicle(evaluator: Evaluator, X: Array, c: int) -> Spectra:
    study, condition, grid = evaluator.study, evaluator.study.conditions[c], evaluator.grid(c)
    values = parameters(study, X)
    with np.errstate(all="ignore"):
        loads = at_rest(values, evaluator.model, study.loads, study.reference, study.points, study.beams)
        state = loads[condition.load]
        response = frequency_response(state, grid, at_rest=study.linearisation == "at-rest")
        status = _status(loads, response)
        road = spectral(study.roads[condition.road])
        assert road is not None, "a condition of the frequency domain has a spectrum"
        density = temporal_spectrum(road, condition.speed, study.fixed["contact_patch"], grid.omega / (2 * np.pi))
        places = traced_places(evaluator)
        squares = _squares(state, values, response, grid, density, arms(places, state.body))
    for found, total in squares.values():
        found[status != 0], total[status != 0] = np.nan, np.nan
    return Spectra(
        condition.name,
        evaluator.model.corners,
        tuple(place.name for place in places),
        "frequency-domain",
        grid.omega / (2 * np.pi),
        **{name: found for name, (found, _) in squares.items()},
        mean_square={name: total for name, (_, total) in squares.items()},
        status=status,
    )


def _status(loads: Sequence[AtRest], response: FrequencyResponse) -> NDArray[np.int8]:
    """What became of each design, (n,)."""
    status = np.zeros(len(response.unsettled), dtype=np.int8)
    status[~(response.unsettled <= SETTLED)] = STATUS.index("not-settled")
    for load in loads:
        status[~load.possible] = STATUS.index("no-static-equilibrium")
    return status


def _squares(
    state: AtRest,
    values: Parameters,
    response: FrequencyResponse,
    grid: Grid,
    density: Array,
    at: tuple[Array, Array],
) -> dict[str, tuple[Array, Array]]:
    """Densities (n, points or corners, f) and mean squares (n, points or corners), by the names of `Spectra`.

    Args:
        state: at rest; values: by path, (n,), SI; response: the linear vehicle.
        grid: of the condition; density: of its road in time, (f,), m²/Hz.
        at: where points are, ahead and left of the centre of mass, (n, points) each, m.
    """
    w = grid.omega[:, np.newaxis, np.newaxis]
    totals: dict[str, tuple[Array, Array]] = {}
    corners = state.travel.shape[1]
    ratio = per_corner(values, state.model.axles, "damper_ratio")
    assert ratio is not None, "the study reader gives damper_ratio for every axle of the model"
    for road, power in _inputs(corners, grid):
        q = _motions(state, response, grid.omega, road)
        motions = len(state.model.motions)
        wheel = q[..., motions:]
        raised = q[..., :1]
        if motions > 1:
            raised = raised - at[0] * q[..., 1:2]
        if motions > 2:
            raised = raised + at[1] * q[..., 2:3]
        acceleration = np.abs(w * w * raised) ** 2
        dampers = ratio * _travels(state, state.damper_y, state.damper_mix, q)
        tyre = state.tyre_rate + 1j * w * state.tyre_damping
        found = {
            "acceleration": acceleration,
            "weighted": grid.weightings[0][:, np.newaxis, np.newaxis] * acceleration,
            "contact_force": np.abs(tyre * (road[:, np.newaxis, :] - wheel)) ** 2,
            "travel": np.abs(_travels(state, state.spring_y, state.spring_mix, q)) ** 2,
            "damper_speed": np.abs(w * dampers) ** 2,
        }
        share = np.where(grid.power > 0, power / np.where(grid.power > 0, grid.power, 1.0), 0.0)
        for name, squares in found.items():
            per_hertz = np.moveaxis(squares * (share * density)[:, np.newaxis, np.newaxis], 0, -1)
            whole = np.einsum("fnk,f->nk", squares, power)
            before = totals.get(name)
            totals[name] = (per_hertz, whole) if before is None else (before[0] + per_hertz, before[1] + whole)
    return totals


def _inputs(corners: int, grid: Grid) -> Iterator[tuple[ComplexArray, Array]]:
    """What moves the wheels: the road at each per metre, (f, corners), and its power (f,), of inputs that are not
    correlated: the one track; of a full car the mean of its two tracks and half their difference.
    """
    lag = np.exp(-1j * grid.omega * grid.lag)
    here = np.ones_like(lag)
    if corners < 4:
        yield np.stack([here, lag][:corners], axis=1), grid.power
        return
    yield np.stack([here, here, lag, lag], axis=1), grid.mean_power
    yield np.stack([here, -here, lag, -lag], axis=1), grid.difference_power


def _travels(state: AtRest, y: Array, mix: Array, q: ComplexArray) -> ComplexArray:
    """Travel of the elements at `y` that see `mix` of their wheel, of motions (f, n, m); (f, n, corners)."""
    rows = np.stack([travel_row(state, c, y, mix) for c in range(y.shape[1])], axis=1)
    return np.asarray(np.einsum("fnm,ncm->fnc", q, rows))


def _motions(state: AtRest, response: FrequencyResponse, omega: Array, road: ComplexArray) -> ComplexArray:
    """Motions of body and wheels per metre of road, (f, n, motions + corners)."""
    eq = equations_of_motion(state, response.damping, response.wheel_rate)
    w = omega[:, np.newaxis, np.newaxis, np.newaxis]
    dynamic = eq.K + 1j * w * eq.C - w * w * eq.M
    push = (eq.T_k + 1j * w * eq.T_c) @ road[:, np.newaxis, :, np.newaxis]
    return np.asarray(np.linalg.solve(dynamic, push)[..., 0])


def third_octaves(frequency: Array, density: Array, centres: Array) -> Array:
    """Mean squares in bands a third of an octave wide.

    Args:
        frequency: (f,), Hz, rising.
        density: (..., f), per Hz, taken as straight between frequencies.
        centres: of the bands, (b,), Hz: each reaches from 2^(-1/6) to 2^(1/6) of it, which has to lie within the
            frequencies.

    Returns:
        (..., b).
    """
    widths = np.diff(frequency)
    steps = 0.5 * (density[..., 1:] + density[..., :-1]) * widths
    below = np.concatenate([np.zeros((*density.shape[:-1], 1)), np.cumsum(steps, axis=-1)], axis=-1)

    def up_to(edges: Array) -> Array:
        k = np.clip(np.searchsorted(frequency, edges, side="right") - 1, 0, len(widths) - 1)
        past = edges - frequency[k]
        slope = (density[..., k + 1] - density[..., k]) / widths[k]
        return np.asarray(below[..., k] + past * (density[..., k] + 0.5 * slope * past))

    half = 2.0 ** (1 / 6)
    return np.maximum(up_to(centres * half) - up_to(centres / half), 0.0)
