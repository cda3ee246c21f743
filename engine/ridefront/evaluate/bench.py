"""One batch of designs: rides in the conditions wanted, criteria of them, and how sure these are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ridefront.criteria import CRITERIA, Criterion
from ridefront.criteria.combine import over_conditions, worst_of
from ridefront.criteria.ride import BODY, Place, Ride, Standing, seat_places
from ridefront.evaluate.outcome import AT_REST, SETTLED, STATUS, Domain
from ridefront.response.drive import Drive
from ridefront.response.frequency import FrequencyResponse, frequency_responses
from ridefront.response.grid import Grid
from ridefront.response.time_domain import Simulation
from ridefront.study.model import Measure, Study
from ridefront.study.space import parameters
from ridefront.vehicle.body import Body, Model
from ridefront.vehicle.built import as_built
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import at_rest


class Roads(Protocol):
    """What a bench needs of an evaluator: a study and its roads, prepared."""

    study: Study
    model: Model

    def grid(self, c: int) -> Grid:
        """The frequencies of a condition on a random road."""

    def drive(self, c: int) -> Drive:
        """A condition's road in time."""

    def simulated(self, c: int, domain: Domain) -> bool:
        """Whether a condition is worked out in the time domain."""

    def meant(self, row: Criterion, c: int, domain: Domain) -> bool:
        """Whether a criterion means something in a condition."""


Left = dict[int, list[Array]]
"""By index of a road, a figure with each of its realisations left out, (n,) each."""


@dataclass(frozen=True)
class Piece:
    """A criterion at a place in a condition.

    Attributes:
        row, place, condition: which; c: the condition's index, None at rest.
        values: (n,), SI; se: their standard errors, likewise, None where nothing was sampled.
    """

    row: Criterion
    place: Place
    condition: str
    c: int | None
    values: Array
    se: Array | None


class Bench:
    """One batch; responses are worked out, in the conditions wanted, when a criterion first asks for one.

    Args:
        roads: the study and its roads.
        X: (n, d), in the units of the study's variables.
        wanted: indices of conditions.
        domain: of rides on random roads.
        backrest: whether the time domain is to work out pitch at the backrest.
        measures: that are asked for; the study's if None.
        built: by path, (n,) each: what the designs' quantities are multiplied by in vehicles built within tolerances.
    """

    def __init__(
        self,
        roads: Roads,
        X: Array,
        wanted: Sequence[int],
        domain: Domain,
        *,
        backrest: bool,
        measures: Sequence[Measure] | None = None,
        built: Mapping[str, Array] | None = None,
    ) -> None:
        self.roads, self.study, self.wanted, self.domain, self.backrest = roads, roads.study, wanted, domain, backrest
        self.X, self.measures = X, roads.study.measures if measures is None else measures
        drawn = parameters(self.study, X)
        self.parameters = drawn if built is None else as_built(drawn, built)
        with np.errstate(all="ignore"):
            self.states = at_rest(
                self.parameters,
                roads.model,
                self.study.loads,
                self.study.reference,
                self.study.points,
                self.study.beams,
                drawn if built is not None else None,
            )
        self.rides: dict[int, Ride] = {}
        self.simulations: dict[int, Simulation] = {}
        self._without: dict[tuple[int, int], Ride] = {}

    @property
    def designs(self) -> int:
        """How many."""
        return len(self.states[0].possible)

    def standing(self, load: int) -> Standing:
        """At rest under a load."""
        return Standing(self.states[load], self.states[self.study.reference], self.parameters)

    def ride(self, c: int) -> Ride:
        """In a condition."""
        if not self.rides:
            self._respond()
        return self.rides[c]

    def _respond(self) -> None:
        """Rides in the conditions wanted, those of the frequency domain worked out together."""
        driven = [c for c in self.wanted if self.roads.simulated(c, self.domain)]
        linear = [c for c in self.wanted if c not in driven]
        if linear:
            bases = [self.standing(self.study.conditions[c].load) for c in linear]
            responses = frequency_responses(
                [base.state for base in bases],
                [self.roads.grid(c) for c in linear],
                at_rest=self.study.linearisation == "at-rest",
            )
            for c, base, response in zip(linear, bases, responses, strict=True):
                self.rides[c] = Ride(base.state, base.reference, base.parameters, response)
        for c in driven:
            places = self._points()
            state = self.states[self.study.conditions[c].load]
            ahead, left = arms(places, state.body)
            self.simulations[c] = Simulation(state, self.roads.drive(c), ahead, left, backrest=self.backrest)
            self.rides[c] = self._simulated(c, None)

    def _points(self) -> tuple[Place, ...]:
        """Seats, and the centre of mass."""
        seats = seat_places(self.roads.model, self.study.seats)
        return seats if BODY in seats else (*seats, BODY)

    def _simulated(self, c: int, without: int | None) -> Ride:
        condition = self.study.conditions[c]
        base = self.standing(condition.load)
        return Ride(
            base.state,
            base.reference,
            base.parameters,
            self.simulations[c].response(without),
            tuple(place.name for place in self._points()),
            condition.exposure,
        )

    def measure(self, measure: Measure) -> tuple[Array, Left]:
        """One measure (n,), SI, and the same with each realisation left out; empty without sampling error."""
        row = CRITERIA[measure.criterion]
        places = measured_places(self.study, self.roads.model, measure)
        if row.kind != "condition":
            loads = measure.loads if row.kind == "load" else measure.loads[:1]
            figures = [row.figure(self.standing(load), place) for load in loads for place in places]
            return worst_of(figures, measure.worst), {}
        weights = [self.study.conditions[c].weight for c in measure.conditions]

        def one(ride: Ride) -> Array:
            return worst_of([row.figure(ride, place) for place in places], measure.worst)

        def whole(by_condition: Mapping[int, Array]) -> Array:
            figures = [by_condition[c] for c in measure.conditions]
            return over_conditions(figures, weights, measure.over, measure.worst)

        full = {c: one(self.ride(c)) for c in measure.conditions}
        return whole(full), self._left_out(
            measure.conditions, lambda c, without: one(self._ride_without(c, without)), full, whole
        )

    def _ride_without(self, c: int, index: int) -> Ride:
        """In a condition, one realisation left out."""
        if (c, index) not in self._without:
            self._without[c, index] = self._simulated(c, index)
        return self._without[c, index]

    def _left_out(self, conditions: Sequence[int], one: _Without, full: Mapping[int, Array], whole: _Whole) -> Left:
        """A figure with each realisation of each road left out in turn.

        A road's realisations are the same at every speed and under every load, so one is left out in all conditions on
        that road at once.

        Args:
            conditions: that count.
            one: the figure of a condition without a realisation.
            full: the figure of each condition.
            whole: the conditions together.
        """
        left: Left = {}
        for road in sorted({self.study.conditions[c].road for c in conditions}):
            driven = [c for c in conditions if self.study.conditions[c].road == road and c in self.simulations]
            count = self.simulations[driven[0]].realisations if driven else 1
            if count > 1:
                left[road] = [whole({**full, **{c: one(c, k) for c in driven}}) for k in range(count)]
        return left

    def pieces(self, row: Criterion) -> Iterator[Piece]:
        """Every piece of a criterion in the conditions in which it means something."""
        places = row.counted(self.roads.model, self.study.seats)
        if row.kind == "condition":
            for c, condition in enumerate(self.study.conditions):
                if not self.roads.meant(row, c, self.domain):
                    continue
                for place in places:
                    yield self._piece(row, place, condition.name, c)
            return
        loads = range(len(self.study.loads)) if row.kind == "load" else (self.study.reference,)
        for load in loads:
            name = self.study.loads[load].name if row.kind == "load" else ""
            where = f"{AT_REST}, {name}" if name else AT_REST
            for place in places:
                yield Piece(row, place, where, None, row.figure(self.standing(load), place), None)

    def _piece(self, row: Criterion, place: Place, name: str, c: int) -> Piece:
        values = row.figure(self.ride(c), place)
        left = self._left_out(
            (c,), lambda k, without: row.figure(self._ride_without(k, without), place), {c: values}, lambda by: by[c]
        )
        return Piece(row, place, name, c, values, standard_error(left))

    def settled(self, piece: Piece) -> Array:
        """A piece's values (n,), SI, NaN where its condition's linearisation has not settled, its drive diverged, or
        the body still moved at its end.
        """
        if piece.c is None:
            return piece.values
        unknown = self._loose(piece.c) | self._diverged(piece.c) | ~np.isfinite(piece.values)
        return np.where(unknown, np.nan, piece.values)

    def status(self, figures: Iterable[Array], counted: Sequence[int]) -> NDArray[np.int8]:
        """What became of each design, (n,), as far as conditions that count go; of several reasons the most basic.

        Args:
            figures: of the designs, (n,) each, SI.
            counted: conditions that count.
        """
        status = np.zeros(len(self.states[0].possible), dtype=np.int8)
        for c in counted:
            if c in self.rides:
                status[self._loose(c)] = STATUS.index("not-settled")
        for figure in figures:
            status[~np.isfinite(figure)] = STATUS.index("not-finite")
        for c in self._watched:
            status[~np.isfinite(self.rides[c].simulated.settling)] = STATUS.index("still-moving")
        for c in counted:
            if c in self.rides:
                status[self._diverged(c)] = STATUS.index("diverged")
        for state in self.states:
            status[~state.possible] = STATUS.index("no-static-equilibrium")
        return status

    @property
    def _watched(self) -> tuple[int, ...]:
        """Conditions driven in which a measure looks at the settling time."""
        measures = (item for item in self.measures if item.criterion == "settling_time")
        return tuple(sorted({c for item in measures for c in item.conditions if c in self.simulations}))

    def _loose(self, c: int) -> NDArray[np.bool_]:
        """(n,): where the linearisation has not settled."""
        response = self.rides[c].response
        if isinstance(response, FrequencyResponse):
            return np.asarray(~(response.unsettled <= SETTLED))
        return np.zeros(len(response.pitch), dtype=np.bool_)

    def _diverged(self, c: int) -> NDArray[np.bool_]:
        """(n,): where the drive in time left all bounds."""
        if c in self.simulations:
            return self.simulations[c].diverged
        return np.zeros(len(self.states[0].possible), dtype=np.bool_)


def measured_places(study: Study, model: Model, measure: Measure) -> tuple[Place, ...]:
    """The places of which a measure takes the worst."""
    row = CRITERIA[measure.criterion]
    if measure.place is None:
        return row.counted(model, study.seats)
    return row.named(model, study.seats)[measure.place]


def standard_error(left: Left) -> Array | None:
    """Of a figure by the jackknife, (n,), in the figure's unit; None where nothing was left out.

    Different roads are drawn independently, and their variances add up. The jackknife: B. Efron, C. Stein, Annals of
    Statistics 9 (1981) 586-596 (from memory).
    """
    variance: Array | None = None
    for figures in left.values():
        count = len(figures)
        mean = figures[0]
        for figure in figures[1:]:
            mean = mean + figure
        mean = mean / count
        squares = np.zeros_like(mean)
        for figure in figures:
            squares = squares + (figure - mean) * (figure - mean)
        part = squares * ((count - 1) / count)
        variance = part if variance is None else variance + part
    return None if variance is None else np.sqrt(variance)


def arms(places: Sequence[Place], body: Body) -> tuple[Array, Array]:
    """Where places are, ahead of the centre of mass and left of it, each (n, places), m."""
    ahead = np.zeros((len(body.mass), len(places)))
    left = np.zeros_like(ahead)
    for k, place in enumerate(places):
        if place.seat is not None:
            ahead[:, k] = body.centre - place.seat.behind_front_axle
            left[:, k] = place.seat.left_of_centre - body.left
    return ahead, left


class _Without(Protocol):
    def __call__(self, c: int, without: int, /) -> Array: ...


class _Whole(Protocol):
    def __call__(self, by_condition: Mapping[int, Array], /) -> Array: ...
