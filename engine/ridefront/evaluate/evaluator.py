"""A study's roads, prepared once; designs in batches in, figures out."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence

import numpy as np

from ridefront.criteria import CRITERIA, Criterion
from ridefront.criteria.table import AXLE_NEEDS
from ridefront.errors import CallError
from ridefront.evaluate.bench import Bench, Piece, standard_error
from ridefront.evaluate.left_out import LeftOut, joined_left_out, left_out
from ridefront.evaluate.outcome import AT_REST, Domain, Evaluation, Pieces, joined, joined_pieces
from ridefront.evaluate.parts import part_values
from ridefront.evaluate.scattered import DrawnBench, counted_by, spread
from ridefront.evaluate.stepping import StepChoice, choose_step
from ridefront.response.drive import Drive, drive, roads_bytes, steps_of
from ridefront.response.grid import Grid, condition_grid
from ridefront.road import Obstacle, spectral
from ridefront.study.model import Measure, Study
from ridefront.study.space import check_within
from ridefront.vehicle.body import model_of
from ridefront.vehicle.laws import Array

MOST_BYTES = 4 * 2**30
"""Of all roads in time."""

CHUNK = 2048
"""Designs worked out at once; more are cut into pieces of this size, which bounds memory and does not change a bit."""


class Evaluator:
    """Works out designs of one study. Making it prepares what all designs share; calling it changes nothing.

    Roads in time and the step are made when a ride first needs them: once, whichever thread asks.

    Args:
        study: as read and checked.
        density: multiplies the number of frequency intervals, for checks of convergence.
        held_out: drive on realisations of the random roads that no search sees.
        realisations: how many of each road at most; as many as the study says if None.
        ensemble: which set of that many realisations of each road, to drive others than an evaluator before.
        step: of the time domain, where it is known; looked for if None.
    """

    def __init__(
        self,
        study: Study,
        density: int = 1,
        *,
        held_out: bool = False,
        realisations: int | None = None,
        ensemble: int = 0,
        step: StepChoice | None = None,
    ) -> None:
        self.study = study
        self.model = model_of(study.model, study.corner)
        self.held_out, self.realisations, self.ensemble = held_out, realisations, ensemble
        self._wheelbase = study.fixed["wheelbase"] if len(self.model.axles) > 1 else None
        self._track = _mean_track(study) if "roll" in self.model.motions else None
        patch = study.fixed["contact_patch"]
        self._grids = {
            c: condition_grid(road, condition.speed, patch, self._wheelbase or 0.0, density, track=self._track)
            for c, condition in enumerate(study.conditions)
            if (road := spectral(study.roads[condition.road])) is not None
        }
        self._drives: dict[int, Drive] = {}
        self._step = step
        self._lock = threading.RLock()

    @property
    def domain(self) -> Domain:
        """In which the study's front is worked out."""
        return "frequency-domain" if self.study.response == "frequency-domain" else "time-domain"

    @property
    def grids(self) -> tuple[Grid, ...]:
        """Of the conditions on roads that have a spectrum."""
        return tuple(self._grids.values())

    @property
    def counted(self) -> tuple[int, ...]:
        """Conditions that some measure counts."""
        return counted_by(self.study.measures)

    @property
    def ridden(self) -> tuple[int, ...]:
        """Conditions that some measure of designs as drawn counts."""
        return counted_by([item for item in self.study.measures if item.scatter is None])

    @property
    def drives(self) -> bool:
        """Whether anything has been driven in the time domain."""
        return bool(self._drives)

    @property
    def step(self) -> StepChoice:
        """The step of the time domain, and how far it is to be trusted."""
        with self._lock:
            if self._step is None:
                self._step = choose_step(self.study, self.model, self._wheelbase, self._track)
            return self._step

    def grid(self, c: int) -> Grid:
        """The frequencies of condition `c` on a road that has a spectrum."""
        return self._grids[c]

    def drive(self, c: int) -> Drive:
        """The road of condition `c` in time.

        Raises:
            CallError: with the roads made before it would take more memory than `MOST_BYTES`.
        """
        with self._lock:
            if c not in self._drives:
                self._check_size(c)
                condition = self.study.conditions[c]
                self._drives[c] = drive(
                    self.study.roads[condition.road],
                    condition.speed,
                    self.study.fixed["contact_patch"],
                    self._wheelbase,
                    self.step.step,
                    seed=self.study.seed,
                    held_out=self.held_out,
                    realisations=self.realisations,
                    first=self.ensemble * self.study.roads[condition.road].realisations,
                    track=self._track,
                )
            return self._drives[c]

    def _check_size(self, c: int) -> None:
        """Refuse a road that would not fit beside those that are there: the step may be shorter than studies expect."""
        condition = self.study.conditions[c]
        road, step = self.study.roads[condition.road], self.step.step
        count = road.realisations if self.realisations is None else min(self.realisations, road.realisations)
        size = roads_bytes(steps_of(road, condition.speed, self._wheelbase, step), len(self.model.corners), count)
        if size + sum(way.heights.nbytes for way in self._drives.values()) > MOST_BYTES:
            raise CallError(
                f"{condition.name}: driving it at a step of {1e3 * step:g} ms takes {size / 2**30:.3g} GiB of heights, "
                f"with the other conditions more than {MOST_BYTES / 2**30:g} GiB",
                "shorten roads, drive fewer realisations, or leave out what makes wheels so fast",
            )

    def forget(self) -> None:
        """Let go of the roads in time; they are made anew when a ride needs them."""
        with self._lock:
            self._drives.clear()

    def simulated(self, c: int, domain: Domain) -> bool:
        """Whether condition `c` is worked out in the time domain if random roads are in `domain`: always on obstacles,
        and on measured roads whose spectrum is not asked for.
        """
        return domain == "time-domain" or c not in self._grids

    def meant(self, row: Criterion, c: int, domain: Domain) -> bool:
        """Whether a criterion, `row`, means something in condition `c` if random roads are in `domain`; one that needs
        no road always does.
        """
        if row.kind != "condition":
            return True
        road = self.study.roads[self.study.conditions[c].road]
        if row.simulated and not self.simulated(c, domain):
            return False
        if isinstance(road, Obstacle):
            if row.roads == "single":
                return road.count == 1
            return row.roads == "any"
        return row.roads != "single"

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        """Objectives and constraints of designs.

        Args:
            X: (n, d), in the units of the study's variables.
            domain: of rides on random roads; the one of the study's front if None.

        Raises:
            CallError: a design is driven and lies outside the bounds that the step is made for, or as in `drive`.
        """
        domain = domain or self.domain
        self._check(X, self.counted, domain)
        backrest = any(measure.criterion == "comfort_total" for measure in self.study.measures)
        return joined(
            [
                self._evaluate(DrawnBench(self, X[part], self.ridden, domain, backrest=backrest))
                for part in _chunks(len(X))
            ]
        )

    def pieces(self, X: Array, criteria: Sequence[str] | None = None, domain: Domain | None = None) -> Pieces:
        """Every criterion that applies, or those named, at every place in every condition.

        Args:
            X: (n, d), in the units of the study's variables.
            criteria: names; those that do not apply to the study give no pieces.
            domain: as in `evaluate`.

        Raises:
            CallError: as in `evaluate`.
        """
        domain = domain or self.domain
        rows = self._rows(criteria)
        return joined_pieces([self._pieces(bench, rows) for bench in self._benches(X, rows, domain)])

    def evaluate_and_pieces(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, Pieces]:
        """`evaluate` and `pieces` at once, every ride worked out once.

        Args:
            X: (n, d), in the units of the study's variables.
            domain: as in `evaluate`.

        Raises:
            CallError: as in `evaluate`.
        """
        domain = domain or self.domain
        rows = self._rows(None)
        found = [(self._evaluate(bench), self._pieces(bench, rows)) for bench in self._benches(X, rows, domain)]
        return joined([each for each, _ in found]), joined_pieces([each for _, each in found])

    def evaluate_with_parts(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, Array]:
        """Objectives and constraints, and what they are made of: P (n, parts), columns as in `parts_of`.

        Each part is in its measure's stored unit, NaN where a design failed; every ride is worked out once.

        Args:
            X: (n, d), in the units of the study's variables.
            domain: as in `evaluate`.

        Raises:
            CallError: as in `evaluate`.
        """
        domain = domain or self.domain
        self._check(X, self.counted, domain)
        backrest = any(measure.criterion == "comfort_total" for measure in self.study.measures)
        found: list[Evaluation] = []
        columns: list[Array] = []
        for part in _chunks(len(X)):
            bench = DrawnBench(self, X[part], self.ridden, domain, backrest=backrest)
            found.append(self._evaluate(bench))
            columns.append(part_values(bench, found[-1]))
        return joined(found), np.concatenate(columns)

    def evaluate_left_out(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, LeftOut]:
        """Objectives and constraints, and what they are without each realisation of a road that was driven.

        Args:
            X: (n, d), in the units of the study's variables.
            domain: as in `evaluate`.

        Raises:
            CallError: as in `evaluate`.
        """
        domain = domain or self.domain
        self._check(X, self.counted, domain)
        measures = self.study.measures
        backrest = any(measure.criterion == "comfort_total" for measure in measures)
        found: list[tuple[Evaluation, LeftOut]] = []
        for part in _chunks(len(X)):
            bench = DrawnBench(self, X[part], self.ridden, domain, backrest=backrest)
            figures = self._evaluate(bench)
            with np.errstate(all="ignore"):
                lefts = [bench.measure(measure)[1] for measure in measures]
            found.append((figures, left_out(figures.values, lefts, [measure.factor for measure in measures])))
        return joined([each for each, _ in found]), joined_left_out([each for _, each in found])

    def spread(self, X: Array, measures: Sequence[Measure], domain: Domain | None = None) -> Array:
        """Between which figures 90 % of the vehicles built within tolerances lie, (n, measures, 2), in their units; NaN
        where one of them has none.

        Args:
            X: (n, d), in the units of the study's variables.
            measures: of which figures.
            domain: as in `evaluate`.

        Raises:
            CallError: as in `evaluate`.
        """
        domain = domain or self.domain
        self._check(X, counted_by(measures), domain)
        return spread(self, X, domain, measures)

    def applies(self, criterion: Criterion) -> bool:
        """Whether the study's model has the criterion and its vehicle gives what it needs."""
        if self.study.model not in criterion.models:
            return False
        known = set(self.study.fixed) | {variable.path for variable in self.study.variables}
        for need in criterion.needs:
            if need == "seat.height":
                given = bool(self.study.seats) and all(seat.height is not None for seat in self.study.seats)
            elif need in AXLE_NEEDS:
                ways = need.split(" or ")
                given = all(any(f"{axle}.{way}" in known for way in ways) for axle in self.model.axles)
            else:
                given = need in known
            if not given:
                return False
        return True

    def _rows(self, criteria: Sequence[str] | None) -> list[Criterion]:
        rows = [CRITERIA[name] for name in criteria] if criteria is not None else list(CRITERIA.values())
        return [row for row in rows if self.applies(row)]

    def _benches(self, X: Array, rows: Sequence[Criterion], domain: Domain) -> Iterator[DrawnBench]:
        """Designs in chunks, on benches for every condition in which one of the criteria means something."""
        wanted = self._wanted(rows, domain)
        self._check(X, wanted, domain)
        backrest = any(row.name == "comfort_total" for row in rows)
        for part in _chunks(len(X)):
            yield DrawnBench(self, X[part], wanted, domain, backrest=backrest)

    def _wanted(self, rows: Sequence[Criterion], domain: Domain) -> tuple[int, ...]:
        """Conditions in which some of the criteria mean something."""
        of_roads = [row for row in rows if row.kind == "condition"]
        return tuple(
            c for c in range(len(self.study.conditions)) if any(self.meant(row, c, domain) for row in of_roads)
        )

    def _check(self, X: Array, wanted: Sequence[int], domain: Domain) -> None:
        if any(self.simulated(c, domain) for c in wanted):
            check_within(self.study, X)

    def _evaluate(self, bench: DrawnBench) -> Evaluation:
        study, n = self.study, bench.designs
        columns: dict[str, Array] = {}
        errors: list[Array] = []
        with np.errstate(all="ignore"):
            for measure in study.measures:
                figure, left = bench.measure(measure)
                se = standard_error(left)
                columns[measure.label] = figure / measure.factor
                errors.append(np.full(n, np.nan) if se is None else se / measure.factor)
            violation = np.zeros(n)
            for constraint in study.constraints:
                figure = columns[constraint.measure.label]
                excess = constraint.limit - figure if constraint.kind == "at_least" else figure - constraint.limit
                violation = violation + np.maximum(excess, 0.0) / constraint.scale
        values, se = np.stack(list(columns.values()), axis=1), np.stack(errors, axis=1)
        status = bench.outcome(columns, self.counted)
        failed = status != 0
        values[failed], violation[failed], se[failed] = np.nan, np.nan, np.nan
        return Evaluation(values, violation, status, se)

    def _pieces(self, bench: Bench, rows: Sequence[Criterion]) -> Pieces:
        with np.errstate(all="ignore"):
            found = [piece for row in rows for piece in bench.pieces(row)]
        counted = self.counted
        status = bench.status(
            (
                piece.values
                for piece in found
                # Whether a body comes to rest before the road ends matters to a study that asks for it only.
                if (piece.c is None or piece.c in counted) and piece.row.name != "settling_time"
            ),
            counted,
        )
        nothing, none = np.empty((bench.designs, 0)), np.full(bench.designs, np.nan)
        values = np.stack([bench.settled(piece) for piece in found], axis=1) if found else nothing
        errors = [none if piece.se is None else piece.se for piece in found]
        se = np.stack(errors, axis=1) if found else nothing.copy()
        values[status != 0] = np.nan
        se[np.isnan(values)] = np.nan
        return Pieces(
            tuple(piece.row.name for piece in found),
            tuple(piece.place.name for piece in found),
            tuple(piece.condition for piece in found),
            tuple(piece.row.unit for piece in found),
            tuple(self._response(piece, bench.domain) for piece in found),
            values,
            se,
            status,
        )

    def _response(self, piece: Piece, domain: Domain) -> str:
        if piece.c is None:
            return AT_REST
        return "time-domain" if self.simulated(piece.c, domain) else "frequency-domain"


def _mean_track(study: Study) -> float:
    """Roads have two tracks, whatever axles the wheels are on: as far apart as the two axles' wheels on average, m."""
    return 0.5 * (study.fixed["front.track"] + study.fixed["rear.track"])


def _chunks(n: int) -> list[slice]:
    return [slice(start, start + CHUNK) for start in range(0, max(n, 1), CHUNK)]


def evaluate(study: Study, X: Array) -> Evaluation:
    """Objectives and constraints of designs X (n, d), in the units of the study's variables; see `Evaluator`."""
    return Evaluator(study).evaluate(X)


def pieces(study: Study, X: Array, criteria: Sequence[str] | None = None) -> Pieces:
    """Criteria, all or those named in `criteria`, at every place in every condition of a study's designs X (n, d), in
    the units of its variables; see `Evaluator.pieces`.
    """
    return Evaluator(study).pieces(X, criteria)
