"""A setup that a sheet is about: at rest under every load, on every road in both domains, beside the present one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.criteria import CRITERIA
from ridefront.criteria.ride import Place, Ride, Standing, corner_places
from ridefront.evaluate import AT_REST, Domain, Evaluator, Pieces
from ridefront.evaluate.bench import Bench
from ridefront.results.columns import COMPARED
from ridefront.road import has_spectrum
from ridefront.study.model import Array, Study
from ridefront.study.space import parameters
from ridefront.vehicle.body import Model
from ridefront.vehicle.elements import Parameters
from ridefront.vehicle.sides import PAIRS
from ridefront.vehicle.static import AtRest, at_rest

_STANDING = tuple(name for name, row in CRITERIA.items() if row.kind != "condition")


@dataclass(frozen=True)
class Rest:
    """One setup at rest.

    Attributes:
        values: its quantities by path, each (1,), SI.
        states: under each load, a batch of one.
        reference: index of the reference load.
    """

    values: Parameters
    states: tuple[AtRest, ...]
    reference: int

    @property
    def design(self) -> AtRest:
        """At design height: under the reference load."""
        return self.states[self.reference]

    def under(self, load: int) -> Standing:
        """Under a load, as criteria see it."""
        return Standing(self.states[load], self.design, self.values)

    def value(self, path: str) -> float | None:
        """A quantity, SI; None where the study has none."""
        return float(self.values[path][0]) if path in self.values else None


@dataclass(frozen=True)
class Worked:
    """Setups worked out side by side.

    Attributes:
        study, model: theirs.
        evaluator: of the study.
        domain: the front's; other: the one that it is held against.
        X: (n, d), in the variables' units.
        rests: of each setup.
        rides: on each condition's road in the front's domain, by the condition's index, n designs each.
        pieces: every criterion of a ride in each of the two domains; of conditions that are always driven only in the
            front's.
    """

    study: Study
    model: Model
    evaluator: Evaluator
    domain: Domain
    other: Domain
    X: Array
    rests: tuple[Rest, ...]
    rides: Mapping[int, Ride]
    pieces: Mapping[Domain, Pieces]


@dataclass(frozen=True)
class Setup:
    """One setup of those worked out, and the present one beside it.

    Attributes:
        worked: all of them.
        row: which one this is; now: which one is the present setup, None where there is none or it cannot stand.
        letter: A, B ...; design: its number; why: it was picked.
    """

    worked: Worked
    row: int
    now: int | None
    letter: str
    design: int
    why: tuple[str, ...]

    @property
    def study(self) -> Study:
        """The study."""
        return self.worked.study

    @property
    def rest(self) -> Rest:
        """At rest."""
        return self.worked.rests[self.row]

    @property
    def rest_now(self) -> Rest | None:
        """The present setup at rest."""
        return None if self.now is None else self.worked.rests[self.now]

    @property
    def axles(self) -> tuple[str, ...]:
        """The model's axles, front first."""
        return tuple(dict.fromkeys(self.worked.model.axles))

    def places(self, load: int) -> tuple[Place, ...]:
        """Wheels to be told apart under a load: one an axle, called after it, unless the body leans under this load or
        the reference load.
        """
        state = self.rest.states[load]
        places = corner_places(state.model)
        if len(places) == 4 and not any(float(each.body.left[0]) for each in (state, self.rest.design)):
            return tuple(Place(axle, corner=left) for axle, (left, _) in zip(self.axles, PAIRS, strict=True))
        return places

    def wheels(self, axle: str) -> tuple[int, ...]:
        """Corners of an axle."""
        return tuple(c for c, name in enumerate(self.worked.model.axles) if name == axle)


def rest_of(study: Study, model: Model, x: Array) -> Rest:
    """A setup x (d,) at rest."""
    values = parameters(study, x[np.newaxis, :])
    with np.errstate(all="ignore"):
        states = at_rest(values, model, study.loads, study.reference, study.points, study.beams)
    return Rest(values, states, study.reference)


def work_out(evaluator: Evaluator, X: Array, domain: Domain) -> Worked:
    """Work setups out in both domains.

    Of a front of the frequency domain the time domain drives as many realisations of each random road as behind the
    differences that a run stores, else all of them.

    Args:
        evaluator: of their study.
        X: (n, d), in the variables' units, n at least 1, within the bounds of the design space.
        domain: the front's.
    """
    study = evaluator.study
    in_frequency = domain == "frequency-domain"
    other: Domain = "time-domain" if in_frequency else "frequency-domain"
    ridden = tuple(name for name in CRITERIA if name not in _STANDING)
    conditions = range(len(study.conditions))
    bench = Bench(evaluator, X, tuple(conditions), domain, backrest=True)
    rides = {c: bench.ride(c) for c in conditions}
    pieces = {domain: evaluator.pieces(X, ridden, domain)}
    if any(has_spectrum(study.roads[item.road]) for item in study.conditions):
        across = Evaluator(study, realisations=COMPARED, step=evaluator.step) if in_frequency else evaluator
        pieces[other] = across.pieces(X, ridden, other)
        across.forget()
    rests = tuple(rest_of(study, evaluator.model, x) for x in X)
    return Worked(study, evaluator.model, evaluator, domain, other, X, rests, rides, pieces)


def response_of(worked: Worked, c: int) -> Domain:
    """How a condition's figures were worked out for the front."""
    return "time-domain" if worked.evaluator.simulated(c, worked.domain) else "frequency-domain"


@dataclass(frozen=True)
class Found:
    """A criterion at a place in a condition.

    Attributes:
        value: SI, NaN where it has none; se: its standard error, NaN where there is no sampling error.
    """

    value: float
    se: float


def figures(worked: Worked, row: int, condition: str, domain: Domain) -> dict[tuple[str, str], Found]:
    """All figures of a setup in a condition, worked out in a domain, by criterion and place; none where the condition
    is not worked out so.
    """
    found = worked.pieces.get(domain)
    if found is None:
        return {}
    return {
        (found.criterion[k], found.place[k]): Found(float(found.values[row, k]), float(found.se[row, k]))
        for k in range(len(found.criterion))
        if found.condition[k] == condition and found.response[k] in (domain, AT_REST)
    }


def worst(figures: Sequence[float], *, smallest: bool = False) -> float:
    """The largest figure, or the smallest; NaN where there is none."""
    known = [figure for figure in figures if np.isfinite(figure)]
    if not known:
        return float("nan")
    return min(known) if smallest else max(known)
