"""Whether ranges allow setups that are damped too little for what rides are worked out on: the frequency domain's grid,
and the run-up to a road in time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridefront.evaluate import Evaluator
from ridefront.evaluate.bench import Bench
from ridefront.evaluate.stepping import probes
from ridefront.report.roads import in_time
from ridefront.report.words import number
from ridefront.response.drive import LEAST_DECAY, RUN_UP
from ridefront.response.grid import LEAST_DAMPING
from ridefront.road import Obstacle, has_spectrum
from ridefront.study.model import Array, Study
from ridefront.study.space import decode
from ridefront.vehicle.static import AtRest

_DAMPING = ("damping", "damper", "knee", "friction")  # how quantities begin of which less damps less
_PAST_KNEES = 1e3  # m/s: a deviation of speed beside which knees are nothing
_AMPLE = 2.0  # times what is needed, by dampers alone past their knees: no ride need be worked out


@dataclass(frozen=True)
class _Damped:
    """How designs are damped at one corner in one condition.

    Attributes:
        corner, condition: their names.
        ratio: the least damping ratio of body or wheel, 1.
        decay: how fast the body's swings die away at least, damping over twice the mass, 1/s.
    """

    corner: str
    condition: str
    ratio: float
    decay: float

    @property
    def where(self) -> str:
        """In words."""
        return f"{self.corner.replace('_', ' ')}, {self.condition}"


def doubts_about_damping(study: Study) -> list[str]:
    """Lines on damping that the ranges allow and that is too little for figures to be exact; none for ordinary cars.

    Looked at are designs at the ends of the ranges, that of least damping among them, and some between.
    """
    U = np.array([[0.0 if _damps(variable.path) else 1.0 for variable in study.variables]])
    bench = Bench(
        Evaluator(study),
        np.concatenate([probes(study), decode(study, U)]),
        [c for c, condition in enumerate(study.conditions) if has_spectrum(study.roads[condition.road])],
        "frequency-domain",
        backrest=False,
        measures=(),
    )
    with np.errstate(all="ignore"):
        if all(_amply_damped(state) for state in bench.states):
            return []
        on_a_grid, driven = _found(study, bench)
    lines = []
    least = min(on_a_grid, key=lambda item: item.ratio, default=None)
    if least is not None and least.ratio < LEAST_DAMPING:
        lines.append(
            f"damping ratios may be as low as {number(least.ratio)} ({least.where}): below {LEAST_DAMPING:g} the "
            "frequency domain's grid is too coarse for so sharp a resonance; rms figures may be 1 % off at 0.01, 8 % "
            "at 0.005"
        )
    least = min(driven, key=lambda item: item.decay, default=None)
    if least is not None and least.decay < LEAST_DECAY:
        lines.append(
            f"the body's swings may die away with no more than {number(least.decay)}/s ({least.where}): below "
            f"{LEAST_DECAY:g}/s, a damping ratio of 0.05 at 1 Hz, it has not swung up within a run-up of {RUN_UP:g} s; "
            "figures of the time domain may read low, by 1 % at 0.3/s, 12 % at 0.13/s"
        )
    return lines


def _damps(path: str) -> bool:
    return path.rpartition(".")[2].startswith(_DAMPING)


def _amply_damped(state: AtRest) -> bool:
    """Whether the dampers alone do all that is needed, at low speed and past their knees."""
    slow = state.speed_law.slope_at(np.zeros_like(state.travel))
    damping = np.minimum(slow, state.speed_law.mean_slope(np.full_like(state.travel, _PAST_KNEES)))
    ratio, decay = _ratio_and_decay(state, state.wheel_rate, damping)
    return _least(ratio) > _AMPLE * LEAST_DAMPING and _least(decay) > _AMPLE * LEAST_DECAY


def _ratio_and_decay(state: AtRest, rate: Array, damping: Array) -> tuple[Array, Array]:
    """The lesser damping ratio of body and wheel, 1, and how fast the body's swings die away, 1/s, (n, corners) each,
    of corners with these rates and this damping, likewise, N/m and N·s/m.
    """
    body, hop = rate * state.corner_mass, (rate + state.tyre_rate) * state.unsprung_mass
    return 0.5 * damping / np.sqrt(np.maximum(body, hop)), 0.5 * damping / state.corner_mass


def _least(figures: Array) -> float:
    """The least of those that are a number; infinite where none is."""
    return float(np.min(figures, where=np.isfinite(figures), initial=np.inf))


def _found(study: Study, bench: Bench) -> tuple[list[_Damped], list[_Damped]]:
    """Corners on roads that have a spectrum, and on roads that are driven for their own sake: linearised for the road,
    or with slopes at rest where it has no spectrum.
    """
    on_a_grid: list[_Damped] = []
    driven: list[_Damped] = []
    for c, condition in enumerate(study.conditions):
        road, state = study.roads[condition.road], bench.states[condition.load]
        if isinstance(road, Obstacle):
            continue
        if has_spectrum(road):
            response = bench.ride(c).response
            figures = _ratio_and_decay(state, response.wheel_rate, response.damping)
        else:
            slow = state.speed_law.slope_at(np.zeros_like(state.travel))
            figures = _ratio_and_decay(state, state.wheel_rate, slow)
        found = [
            _Damped(corner, condition.name, *(_least(figure[:, k]) for figure in figures))
            for k, corner in enumerate(state.model.corners)
        ]
        if has_spectrum(road):
            on_a_grid += found
        if in_time(study.response) or not has_spectrum(road):
            driven += found
    return on_a_grid, driven
