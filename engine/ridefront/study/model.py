"""What a study is, once read: frozen, checked, in SI. Nothing here runs anything.

The file itself is read by `reader`; the design space's arithmetic is in `space`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ridefront.road import AnyRoad, Obstacle, has_spectrum
from ridefront.vehicle import Load, Seat
from ridefront.vehicle.elements import Points, Tables

Array = NDArray[np.float64]
Over = Literal["mean", "rms", "worst"]
OverScatter = Literal["mean"] | float
Response = Literal["frequency-domain", "time-domain", "auto"]
ModelName = Literal["quarter-car", "half-car", "full-car"]


@dataclass(frozen=True)
class Variable:
    """One design variable: a vehicle quantity for which the study gives a range.

    Attributes:
        path: its key path below ``[vehicle]``, such as ``front.spring_rate``; also its column.
        unit: the study's unit, as written; stored numbers are in it.
        factor: SI value = stored value * factor.
        low, high: the range, in `unit`; for `times`, of the ratio to the other quantity.
        scale: how the search spreads values over the range.
        levels: the admissible values of a step or of choices, in `unit`, else empty.
        times: path of the variable that this one is a multiple of, else None. The *resulting quantity* is stored.
    """

    path: str
    unit: str
    factor: float
    low: float
    high: float
    scale: Literal["linear", "log"] = "linear"
    levels: tuple[float, ...] = ()
    times: str | None = None


@dataclass(frozen=True)
class Condition:
    """One road at one speed under one load, with its share of time.

    Attributes:
        name: ``road @ speed, load``, as people read it.
        road, load: indices into the study's roads and loads.
        speed: m/s.
        weight: share of time, any positive scale.
        exposure: for which it is driven, s; None for one passage of the road.
    """

    name: str
    road: int
    load: int
    speed: float
    weight: float
    exposure: float | None = None


@dataclass(frozen=True)
class Measure:
    """A criterion worked out over places and conditions, as an objective or a constraint uses it.

    Attributes:
        label: its column and name: criterion, place, and whatever else sets it apart.
        criterion: a name of the criteria table.
        place: a corner, an axle (the worst of its wheels) or a seat; None takes the worst.
        over: how conditions are combined; with "worst" in the sense of `worst`, as places are.
        worst: which end of places (and conditions) counts: the largest figure or the smallest.
        conditions: indices of the conditions that count (for static criteria: their loads do).
        loads: indices of the loads that count, for criteria that need no road.
        unit: the unit of the stored figure; factor: SI value = stored value * factor.
        scatter: None for the figure of the design as it is; else over vehicles built within tolerances: their "mean",
            or the figure that this share of them is at least as good as, `worst` saying which side is bad.
    """

    label: str
    criterion: str
    place: str | None
    over: Over
    worst: Literal["largest", "smallest"]
    conditions: tuple[int, ...]
    loads: tuple[int, ...]
    unit: str
    factor: float
    scatter: OverScatter | None = None


@dataclass(frozen=True)
class Objective:
    """A measure to be made small (`sign` = 1) or large (`sign` = -1)."""

    measure: Measure
    sign: Literal[1, -1]


@dataclass(frozen=True)
class Constraint:
    """One limit on a measure, in the measure's unit; a `[[constraint]]` with both limits makes two of these.

    With `at_least` the smallest figure over places counts, with `at_most` the largest.

    Attributes:
        scale: what a violation is divided by: max(|limit|, the criterion's typical size), in the measure's unit.
    """

    measure: Measure
    limit: float
    kind: Literal["at_least", "at_most"]
    scale: float


@dataclass(frozen=True)
class Table:
    """A file of measured points that the study names.

    Attributes:
        path: as the study writes it; text: the file's bytes as read.
        points: what it says, in SI.
    """

    path: str
    text: bytes = field(repr=False)
    points: Points


@dataclass(frozen=True)
class RoadFile:
    """A file with a measured road that the study names.

    Attributes:
        path: as the study writes it; text: the file's bytes as read.
    """

    path: str
    text: bytes = field(repr=False)

    @property
    def suffix(self) -> str:
        """ ".parquet" or, of any other file, ".csv"."""
        return ".parquet" if self.path.lower().endswith(".parquet") else ".csv"


@dataclass(frozen=True)
class Catalogue:
    """In which values a part comes, in its variable's unit.

    Attributes:
        step: whole multiples of it; None for a list.
        values: the list, rising, else empty.
    """

    step: Fraction | None
    values: tuple[float, ...] = ()


@dataclass(frozen=True)
class Stalled:
    """A front that has stopped growing: by less than a share of its hypervolume in so many generations."""

    share: float
    generations: int


STARTED = 4096
"""Designs of an earlier front that a search begins with, at most."""


@dataclass(frozen=True)
class Start:
    """Designs of an earlier front that a search begins with.

    Attributes:
        path: as the study writes it; text: the bytes of the front's file as read.
        U: (n, d), n at least 1: those within the ranges, as points of the unit cube, all different, in the file's
            order.
        found: designs in the file; outside: how many of them lie outside the ranges.
    """

    path: str
    text: bytes = field(repr=False)
    U: Array = field(repr=False)
    found: int
    outside: int

    @property
    def taken(self) -> int:
        """How many are asked."""
        return min(len(self.U), STARTED)

    @property
    def alike(self) -> int:
        """How many were left out because, moved to admissible values, they are the same as another one."""
        return self.found - self.outside - len(self.U)

    @property
    def note(self) -> str:
        """In words, what became of the designs."""
        left = {
            "outside the ranges": self.outside,
            "the same as another once moved to admissible values": self.alike,
            f"left out to keep {STARTED:,} that are spread": len(self.U) - self.taken,
        }
        why = "".join(f"; {count:,} {words}" for words, count in left.items() if count)
        return f"the search begins with {self.taken:,} of the {self.found:,} designs of {self.path}{why}"


@dataclass(frozen=True)
class SearchSettings:
    """`[search]`: size of the quasi-random sample, of the population, and numbers of generations.

    Attributes:
        generations: after the sample; with `response` "auto" those in the frequency domain.
        refine: designs of the refinement that follows, at most.
        simulated_generations: with "auto", in the time domain, after the best designs have been repeated there;
            simulated_refine: likewise.
        evaluations: designs in all, at most; None for no such bound. seconds: of work, after which no block is begun.
        stalled: ends a stage early; None for never.
        certainty_share: of the evaluations behind a front, how many more may go into telling which designs are surely
            on it.
    """

    sample: int = 2048
    population: int = 100
    generations: int = 30
    simulated_generations: int = 10
    refine: int = 4000
    simulated_refine: int = 600
    evaluations: int | None = None
    seconds: float | None = None
    stalled: Stalled | None = None
    certainty_share: float = 0.25


@dataclass(frozen=True)
class Scatter:
    """`[scatter]`: how far parts as built may be off what is drawn.

    Attributes:
        tolerances: relative, by path, in the order of the table of keys: a built part has 1 ± that times the quantity.
        samples: vehicles that are built of each design, a power of two.
    """

    tolerances: Mapping[str, float]
    samples: int = 32


@dataclass(frozen=True)
class Study:
    """A study file, read and checked. All quantities in SI unless a unit stands beside them.

    Attributes:
        path: the file as named by the caller; text: its bytes as read.
        title: what people call the study; seed: of all random streams.
        response: in which domain rides on random roads are worked out; linearisation: how, in the frequency domain.
        model: of the vehicle; corner: which one a quarter car is.
        fixed: every vehicle quantity that is not a variable, defaults included, by path, in SI.
        given: paths of the vehicle keys that the file itself gives.
        variables: the design variables, in the order of the table of keys: keys of a TOML table have no order, so the
            file's must not decide which designs a seed stands for.
        seats, roads, conditions, objectives, constraints: as the file gives them, in its order.
        loads: never empty; one named "" is the body as given where the file has no loads, and one named "kerb" is
            added last where it marks none as the reference.
        reference: index of the load that the reference position belongs to.
        tables: measured springs and dampers that the model uses, by path such as ``front.spring_table``.
        profiles: files of measured roads by the road's index among `roads`.
        beams: axles of a full car that are beams.
        scatter: tolerances of parts, or None.
        catalogue: by path of a variable, the values in which that part comes; what is chosen is rounded to them, what
            is searched is not.
        present: today's setup, a value per variable in the variables' units, or None.
        search: settings of the search.
        start: designs of an earlier front that the search begins with, or None.
        called: what its run's folder is called, where that is not the stem of the file.
        workers: how many; "all" is every core that this process may use.
        kind: what workers are; cluster: address of the dask scheduler whose workers are taken instead, or None.
        notes: what a careful engineer would want to know about the file: unused keys, a present setup outside its
            range.
    """

    path: str
    text: bytes = field(repr=False)
    title: str
    seed: int
    response: Response
    linearisation: Literal["statistical", "at-rest"]
    model: ModelName
    corner: Literal["front", "rear"]
    fixed: Mapping[str, float]
    given: frozenset[str]
    variables: tuple[Variable, ...]
    seats: tuple[Seat, ...]
    loads: tuple[Load, ...]
    roads: tuple[AnyRoad, ...]
    conditions: tuple[Condition, ...]
    objectives: tuple[Objective, ...]
    constraints: tuple[Constraint, ...]
    present: Array | None
    search: SearchSettings
    workers: int
    notes: tuple[str, ...] = ()
    reference: int = 0
    tables: Mapping[str, Table] = field(default_factory=dict)
    profiles: Mapping[int, RoadFile] = field(default_factory=dict)
    beams: frozenset[str] = frozenset()
    scatter: Scatter | None = None
    catalogue: Mapping[str, Catalogue] = field(default_factory=dict)
    start: Start | None = None
    kind: Literal["threads", "processes"] = "threads"
    cluster: str | None = None
    called: str = ""

    @property
    def stem(self) -> str:
        """What its run's folder is called."""
        return self.called or Path(self.path).stem

    @property
    def simulates(self) -> bool:
        """Whether a figure depends on the seed: by random roads in the time domain, or by a mix of obstacles."""
        mixed = any(isinstance(road, Obstacle) and (road.realisations > 1 or road.sizes) for road in self.roads)
        return self.response != "frequency-domain" or mixed

    @property
    def planned(self) -> tuple[int, int]:
        """Designs that the search may ask, the present setup not counted: before it passes from the frequency to the
        time domain, and with response "auto" after it.
        """
        search = self.search
        first = search.sample + search.population * search.generations + search.refine
        first += 0 if self.start is None else self.start.taken
        again = search.population * (1 + search.simulated_generations) + search.simulated_refine
        if self.response != "auto":
            again = 0
        most = search.evaluations
        if most is None:
            return first, again
        again = min(again, most)
        return min(first, most - again), again

    @property
    def driven(self) -> tuple[AnyRoad, ...]:
        """The roads that are driven in the time domain whatever the response."""
        return tuple(road for road in self.roads if not has_spectrum(road))

    @property
    def points(self) -> Tables:
        """The measured curves by path, as the vehicle takes them."""
        return {path: table.points for path, table in self.tables.items()}

    @property
    def measures(self) -> tuple[Measure, ...]:
        """The measures of objectives, then of constraints, each label once."""
        seen: dict[str, Measure] = {}
        for measure in [o.measure for o in self.objectives] + [c.measure for c in self.constraints]:
            seen.setdefault(measure.label, measure)
        return tuple(seen.values())
