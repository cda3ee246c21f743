"""A study and designs in, figures out: the one place where vehicle, roads, response and criteria meet.

What is stored is primary: figures are converted to the study's units once, here, and violations are taken from the
converted figures, so that a search that is sent stored rows sees what it saw the first time. What a failed design is,
is decided here
too: a status other than "ok", and no figures at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ridefront.criteria import CRITERIA, Criterion
from ridefront.criteria.combine import over_conditions, worst_of
from ridefront.criteria.ride import Place, Ride, Standing
from ridefront.response.frequency import frequency_responses
from ridefront.response.grid import Grid, condition_grid
from ridefront.study.model import Measure, Study
from ridefront.study.space import parameters
from ridefront.vehicle.body import model_of
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import at_rest

STATUS = ("ok", "no-static-equilibrium", "not-finite", "not-settled")
"""What became of a design: figures; it cannot stand under some load (a mass or contact force not above zero, the centre
of mass outside the wheelbase); a figure overflowed or is undefined; the linearisation did not arrive
on some road that counts, because the design lives on hard stops there (see `SETTLED`).
"""

SETTLED = 0.02
"""Largest share by which a corner's linearised rate or damping may miss the one that its own motion calls for."""

CHUNK = 2048
"""Designs worked out at once; more are cut into pieces of this size, which bounds memory and does not change a bit."""

AT_REST = "at rest"
"""Condition of pieces that need no road."""


@dataclass(frozen=True)
class Evaluation:
    """Figures of n designs.

    Attributes:
        values: of the study's measures in their order and units, (n, k); NaN where a design failed.
        violation: sum over constraints of the excess over each limit, scaled; 0 where all hold, NaN where failed; (n,).
        status: index into `STATUS`, (n,).
    """

    values: Array
    violation: Array
    status: NDArray[np.int8]


@dataclass(frozen=True)
class Pieces:
    """Criteria of n designs at every place in every condition.

    Attributes:
        criterion, place, condition, unit: of each of the p pieces; place is empty for the whole vehicle, condition is
            ``at rest, <load>`` or ``at rest`` for figures that need no road; units are SI.
        values: (n, p), NaN where a design failed.
        status: as in `Evaluation`.
    """

    criterion: tuple[str, ...]
    place: tuple[str, ...]
    condition: tuple[str, ...]
    unit: tuple[str, ...]
    values: Array
    status: NDArray[np.int8]


def joined(parts: Sequence[Evaluation]) -> Evaluation:
    """Evaluations of one study, their designs one after another."""
    if len(parts) == 1:
        return parts[0]
    return Evaluation(
        np.concatenate([part.values for part in parts]),
        np.concatenate([part.violation for part in parts]),
        np.concatenate([part.status for part in parts]),
    )


def joined_pieces(parts: Sequence[Pieces]) -> Pieces:
    """The same pieces of one study, their designs one after another."""
    return replace(
        parts[0],
        values=np.concatenate([part.values for part in parts]),
        status=np.concatenate([part.status for part in parts]),
    )


class Evaluator:
    """Works out designs of one study. Making it prepares what all designs share; calling it changes nothing.

    Args:
        study: as read and checked.
        density: multiplies the number of frequency intervals, for checks of convergence.
    """

    def __init__(self, study: Study, density: int = 1) -> None:
        self.study = study
        self.model = model_of(study.model, study.corner)
        wheelbase = study.fixed["wheelbase"] if len(self.model.axles) > 1 else 0.0
        patch = study.fixed["contact_patch"]
        self.grids: tuple[Grid, ...] = tuple(
            condition_grid(study.roads[c.road], c.speed, patch, wheelbase, density) for c in study.conditions
        )

    @property
    def counted(self) -> tuple[int, ...]:
        """Conditions that some measure counts."""
        measures = [item for item in self.study.measures if CRITERIA[item.criterion].kind == "condition"]
        return tuple(sorted({c for item in measures for c in item.conditions}))

    def evaluate(self, X: Array) -> Evaluation:
        """Objectives and constraints of designs.

        Args:
            X: (n, d), in the units of the study's variables.
        """
        return joined([self._evaluate(X[i : i + CHUNK]) for i in range(0, max(len(X), 1), CHUNK)])

    def pieces(self, X: Array, criteria: Sequence[str] | None = None) -> Pieces:
        """Every criterion that applies, or those named, at every place in every condition.

        Args:
            X: (n, d), in the units of the study's variables.
            criteria: names; those that do not apply to the study give no pieces.
        """
        rows = [CRITERIA[name] for name in criteria] if criteria is not None else list(CRITERIA.values())
        rows = [row for row in rows if self.applies(row)]
        return joined_pieces([self._pieces(X[i : i + CHUNK], rows) for i in range(0, max(len(X), 1), CHUNK)])

    def applies(self, criterion: Criterion) -> bool:
        """Whether the study's model has the criterion and its vehicle gives what it needs."""
        if self.study.model not in criterion.models:
            return False
        known = set(self.study.fixed) | {variable.path for variable in self.study.variables}
        for need in criterion.needs:
            if need == "seat.height":
                given = bool(self.study.seats) and all(seat.height is not None for seat in self.study.seats)
            elif need in ("bump_travel", "rebound_travel"):
                given = all(f"{axle}.{need}" in known for axle in self.model.axles)
            else:
                given = need in known
            if not given:
                return False
        return True

    def _evaluate(self, X: Array) -> Evaluation:
        study = self.study
        bench = _Bench(self, X, self.counted)
        columns: dict[str, Array] = {}
        with np.errstate(all="ignore"):
            for measure in study.measures:
                columns[measure.label] = bench.measure(measure) / measure.factor
            violation = np.zeros(len(X))
            for constraint in study.constraints:
                figure = columns[constraint.measure.label]
                excess = constraint.limit - figure if constraint.kind == "at_least" else figure - constraint.limit
                violation = violation + np.maximum(excess, 0.0) / constraint.scale
        values = np.stack(list(columns.values()), axis=1)
        status = bench.status(columns.values(), self.counted)
        failed = status != 0
        values[failed], violation[failed] = np.nan, np.nan
        return Evaluation(values, violation, status)

    def _pieces(self, X: Array, rows: Sequence[Criterion]) -> Pieces:
        bench = _Bench(self, X, tuple(range(len(self.study.conditions))))
        with np.errstate(all="ignore"):
            found = [piece for row in rows for piece in bench.pieces(row)]
        counted = {self.study.conditions[c].name for c in self.counted}
        status = bench.status(
            (figure for _, _, condition, figure in found if condition in counted or condition.startswith(AT_REST)),
            self.counted,
        )
        figures = [bench.settled(condition, figure) for _, _, condition, figure in found]
        values = np.stack(figures, axis=1) if figures else np.empty((len(X), 0))
        values[status != 0] = np.nan
        return Pieces(
            tuple(row.name for row, *_ in found),
            tuple(place.name for _, place, *_ in found),
            tuple(condition for _, _, condition, _ in found),
            tuple(row.unit for row, *_ in found),
            values,
            status,
        )


class _Bench:
    """One batch of designs; responses are worked out, in the conditions wanted, when a criterion first asks for one."""

    def __init__(self, evaluator: Evaluator, X: Array, wanted: Sequence[int]) -> None:
        self.evaluator, self.study, self.wanted = evaluator, evaluator.study, wanted
        self.parameters = parameters(self.study, X)
        with np.errstate(all="ignore"):
            self.states = at_rest(self.parameters, evaluator.model, self.study.loads, self.study.reference)
        self.rides: dict[int, Ride] = {}

    def standing(self, load: int) -> Standing:
        """At rest under a load."""
        return Standing(self.states[load], self.states[self.study.reference], self.parameters)

    def ride(self, c: int) -> Ride:
        """In a condition."""
        if not self.rides:
            self._respond()
        return self.rides[c]

    def _respond(self) -> None:
        """Rides in the conditions wanted, worked out together."""
        bases = [self.standing(self.study.conditions[c].load) for c in self.wanted]
        responses = frequency_responses(
            [base.state for base in bases],
            [self.evaluator.grids[c] for c in self.wanted],
            at_rest=self.study.linearisation == "at-rest",
        )
        for c, base, response in zip(self.wanted, bases, responses, strict=True):
            self.rides[c] = Ride(base.state, base.reference, base.parameters, response)

    def measure(self, measure: Measure) -> Array:
        """One measure (n,), SI."""
        row = CRITERIA[measure.criterion]
        if measure.place is None:
            places: tuple[Place, ...] = row.counted(self.evaluator.model, self.study.seats)
        else:
            places = (row.named(self.evaluator.model, self.study.seats)[measure.place],)
        if row.kind != "condition":
            loads = measure.loads if row.kind == "load" else measure.loads[:1]
            figures = [row.figure(self.standing(load), place) for load in loads for place in places]
            return worst_of(figures, measure.worst)
        by_condition, weights = [], []
        for c in measure.conditions:
            ride = self.ride(c)
            by_condition.append(worst_of([row.figure(ride, place) for place in places], measure.worst))
            weights.append(self.study.conditions[c].weight)
        return over_conditions(by_condition, weights, measure.over, measure.worst)

    def pieces(self, row: Criterion) -> Iterator[tuple[Criterion, Place, str, Array]]:
        """Every piece of a criterion: place, condition, figures (n,), SI."""
        places = row.counted(self.evaluator.model, self.study.seats)
        if row.kind == "condition":
            for c, condition in enumerate(self.study.conditions):
                for place in places:
                    yield row, place, condition.name, row.figure(self.ride(c), place)
            return
        loads = range(len(self.study.loads)) if row.kind == "load" else (self.study.reference,)
        for load in loads:
            name = self.study.loads[load].name if row.kind == "load" else ""
            for place in places:
                yield row, place, f"{AT_REST}, {name}" if name else AT_REST, row.figure(self.standing(load), place)

    def settled(self, condition: str, figure: Array) -> Array:
        """A figure (n,) of a condition, NaN where that condition's linearisation has not settled."""
        for c, ride in self.rides.items():
            if self.study.conditions[c].name == condition:
                return np.where(_loose(ride), np.nan, figure)
        return figure

    def status(self, figures: Iterable[Array], counted: Sequence[int]) -> NDArray[np.int8]:
        """What became of each design, (n,), as far as conditions that count go; of several reasons the most basic."""
        status = np.zeros(len(self.states[0].possible), dtype=np.int8)
        for c in counted:
            if c in self.rides:
                status[_loose(self.rides[c])] = STATUS.index("not-settled")
        for figure in figures:
            status[~np.isfinite(figure)] = STATUS.index("not-finite")
        for state in self.states:
            status[~state.possible] = STATUS.index("no-static-equilibrium")
        return status


def _loose(ride: Ride) -> NDArray[np.bool_]:
    """(n,): where the linearisation has not settled."""
    return np.asarray(~(ride.response.unsettled <= SETTLED))


def evaluate(study: Study, X: Array) -> Evaluation:
    """Objectives and constraints of designs X (n, d), in the units of the study's variables; see `Evaluator`."""
    return Evaluator(study).evaluate(X)


def pieces(study: Study, X: Array, criteria: Sequence[str] | None = None) -> Pieces:
    """Criteria of designs X (n, d) at every place in every condition; see `Evaluator.pieces`."""
    return Evaluator(study).pieces(X, criteria)
