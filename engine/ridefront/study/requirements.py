"""Objectives and constraints: which criterion, where, over which conditions, in which unit, and what it is called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

from ridefront.criteria import CRITERIA, Criterion
from ridefront.criteria.ride import Place, axles_of
from ridefront.criteria.table import AXLE_NEEDS
from ridefront.errors import CallError
from ridefront.study.conditions import Loads
from ridefront.study.model import Condition, Constraint, Measure, Objective, Over, OverScatter, Response
from ridefront.study.page import Page, Quantity, expected, nearest, quoted, read_quantity, shown
from ridefront.study.scatter import read_over_scatter, scatter_words
from ridefront.units import UnitError, exact, exact_factor, factor, same_dimension
from ridefront.vehicle import Model, Seat

Worst = Literal["largest", "smallest"]
RoadKind = Literal["random", "measured", "single", "train"]


@dataclass(frozen=True)
class Setting:
    """What requirements may refer to.

    Attributes:
        model: of the vehicle.
        seats, loads, conditions: of the study; roads: their names.
        given: paths of the vehicle quantities that have a value or a range.
        response: the study's.
        kinds: of the roads, by name: "random" or as good as that by an estimated spectrum, "measured" and driven
            always, "single" obstacle, or "train" of obstacles.
        whole: whether conditions and what they are made of have no mistake, so that none is missed for that reason.
        samples: vehicles built of each design within tolerances; None where the study has none.
    """

    model: Model
    seats: tuple[Seat, ...]
    loads: Loads
    roads: tuple[str, ...]
    conditions: tuple[Condition, ...]
    given: frozenset[str]
    response: Response = "frequency-domain"
    kinds: Mapping[str, RoadKind] = field(default_factory=dict)
    whole: bool = True
    samples: int | None = None

    def kind(self, c: int) -> RoadKind:
        """Kind of the road of a condition."""
        return self.kinds.get(self.roads[self.conditions[c].road], "random")


@dataclass(frozen=True)
class Asked:
    """One requirement's criterion and what it counts, its unit and sense still open."""

    row: Criterion
    place: str | None
    over: Over
    conditions: tuple[int, ...]
    loads: tuple[int, ...]
    filters: tuple[str, ...]
    unit: str | None
    scatter: OverScatter | None = None

    def places(self, setting: Setting) -> tuple[Place, ...]:
        """Where the criterion is worked out, to take the worst of."""
        if self.place is not None:
            return self.row.named(setting.model, setting.seats)[self.place]
        return self.row.counted(setting.model, setting.seats)

    def alone(self, setting: Setting) -> bool:
        """Whether there is nothing to take the worst of; of vehicles as built there is."""
        if isinstance(self.scatter, float):
            return False
        places = len(self.places(setting))
        if self.row.kind == "condition":
            return places == 1 and (len(self.conditions) == 1 or self.over != "worst")
        return places == 1 and (self.row.kind == "design" or len(self.loads) == 1)

    def measure(self, worst: Worst, unit: str, setting: Setting) -> Measure:
        """The measure, with the label that sets it apart from others of its criterion."""
        natural: Worst = "smallest" if self.row.sense == "large" else "largest"
        if self.alone(setting):
            worst = natural
        apart = list(self.filters)
        if self.over != self.row.over:
            apart.append(self.over)
        if worst != natural:
            apart.append(worst)
        if self.scatter is not None:
            apart.append(scatter_words(self.scatter))
        label = self.row.name + (f".{self.place}" if self.place is not None else "")
        label += f" ({', '.join(apart)})" if apart else ""
        return Measure(
            label, self.row.name, self.place, self.over, worst, self.conditions, self.loads, unit, factor(unit),
            self.scatter,
        )  # fmt: skip


def read_asked(page: Page, setting: Setting) -> Asked | None:
    """What an ``[[objective]]`` or ``[[constraint]]`` asks for."""
    loads = [load.name for load in setting.loads.loads if load.name]
    over = page.word("over") if "over" in page else None
    on, under = page.names("road", setting.roads, "road"), page.names("load", loads, "load")
    found = _criterion(page, setting)
    if found is None:
        return None
    row, place = found
    unit = _unit(page, row)
    scatter = read_over_scatter(page, setting.samples)
    if row.sense is None and page.path.startswith("objective"):
        note = f"neither large nor small {row.name} is better"
        page.note("criterion", note, "", "use it in a [[constraint]]")
        return None
    wrong = (
        (unit is None and "unit" in page)
        or (over is None and "over" in page)
        or (on is None and "road" in page)
        or (under is None and "load" in page)
        or (scatter is None and "scatter" in page)
    )
    if wrong or not _filters_apply(page, row, over):
        return None
    if not setting.whole:
        return None
    conditions, counted, filters = _counted(row, on, under, setting)
    if row.kind == "condition" and not conditions:
        what = " and ".join(shown(name) for name in (*(under or ()), *(on or ())))
        page.mistakes.add(page.path, f"no condition has {what}", quoted(c.name for c in setting.conditions))
        return None
    if row.kind == "condition" and not _meant(page, row, conditions, setting):
        return None
    return Asked(row, place, _over(over, row), conditions, counted, filters, unit, scatter)


def _over(over: str | None, row: Criterion) -> Over:
    if over == "mean":
        return "mean"
    if over == "rms":
        return "rms"
    return "worst" if over == "worst" else row.over


def _criterion(page: Page, setting: Setting) -> tuple[Criterion, str | None] | None:
    text = page.text("criterion")
    if text is None:
        return None
    name, dot, place = text.partition(".")
    row = CRITERIA.get(name)
    if row is None:
        known = [key for key, item in CRITERIA.items() if setting.model.name in item.models]
        hint = nearest(name, known)
        page.note("criterion", f"no criterion is called {shown(name)}", "" if hint else ", ".join(known), hint)
        return None
    if setting.model.name not in row.models:
        page.note("criterion", f"a {setting.model.name} has no {name}", f"in {' and '.join(row.models)}")
        return None
    places = row.named(setting.model, setting.seats)
    if dot and place not in places:
        allowed = quoted(f"{name}.{item}" for item in places) if places else f'"{name}": it has no places'
        page.note("criterion", f"{shown(text)}: no such place", allowed, nearest(place, places))
        return None
    where = places[place] if dot else row.counted(setting.model, setting.seats)
    return (row, place if dot else None) if _needs_met(page, row, where, setting) else None


def _needs_met(page: Page, row: Criterion, places: Sequence[Place], setting: Setting) -> bool:
    met = True
    for need in row.needs:
        if need == "seat.height":
            seats = [place.seat for place in places if place.seat is not None]
            missing = [f"height of seat {shown(seat.name)}" for seat in seats if seat.height is None]
            missing = missing if setting.seats else ["a [[seat]] with a height"]
        elif need in AXLE_NEEDS:
            axles = axles_of(setting.model, places)
            ways = need.split(" or ")
            missing = [
                " or ".join(f"vehicle.{axle}.{way}" for way in ways)
                for axle in axles
                if not any(f"{axle}.{way}" in setting.given for way in ways)
            ]
        else:
            missing = [] if need in setting.given else [f"vehicle.{need}"]
        for item in missing:
            page.note("criterion", f"{row.name} needs {item}", "", "give it, or choose another criterion")
            met = False
    return met


def _filters_apply(page: Page, row: Criterion, over: str | None) -> bool:
    """Note filters and combinations that mean nothing for a criterion."""
    good = True
    if row.kind != "condition":
        what = "needs no road" if row.kind == "load" else "is the same on every road and under every load"
        for name in ("road",) if row.kind == "load" else ("road", "load"):
            if name in page:
                page.note(name, f"{row.name} {what}", "no such key here")
                good = False
        if over not in (None, "worst"):
            page.note("over", f"{row.name} {what}", '"worst"')
            good = False
    elif over == "rms" and row.sense == "large":
        page.note("over", f"{row.name} may be negative, which rms would hide", quoted(["mean", "worst"]))
        good = False
    return good


def _meant(page: Page, row: Criterion, conditions: Sequence[int], setting: Setting) -> bool:
    """Note conditions in which a criterion means nothing, or which the study's response cannot work out."""
    stationary = ("random", "measured")
    kinds = {"any": (*stationary, "single", "train"), "random": stationary, "single": ("single",)}[row.roads]
    good = [name for name in setting.roads if setting.kinds.get(name, "random") in kinds]
    wrong = {setting.roads[setting.conditions[c].road] for c in conditions if setting.kind(c) not in kinds}
    if wrong:
        what = {
            "random": f"{row.name} depends on where the road ends, which says nothing on obstacles",
            "single": f"{row.name} is taken behind one obstacle",
        }[row.roads]
        where = quoted(name for name in setting.roads if name in wrong)
        allowed = f"road = {shown(good)}" if good else "another criterion; the study has no road for this one"
        page.note("road" if "road" in page else "criterion", f"{what}; on {where} it is refused", allowed)
        return False
    if row.simulated and setting.response != "time-domain" and any(setting.kind(c) == "random" for c in conditions):
        why = " (auto begins in the frequency domain)" if setting.response == "auto" else ""
        allowed = 'response = "time-domain", or roads with obstacles only'
        page.note("criterion", f"{row.name} on random roads needs the time domain{why}", allowed)
        return False
    return True


def _counted(
    row: Criterion, on: tuple[str, ...] | None, under: tuple[str, ...] | None, setting: Setting
) -> tuple[tuple[int, ...], tuple[int, ...], tuple[str, ...]]:
    """Conditions and loads that count, and the filters' names unless they leave everything in."""
    every = setting.loads.loads
    driven = {condition.load for condition in setting.conditions}
    standing = tuple(
        k
        for k, load in enumerate(every)
        if (load.name in under if under else not (setting.loads.implied and k == len(every) - 1) or k in driven)
    )
    conditions = tuple(
        k
        for k, condition in enumerate(setting.conditions)
        if (not under or every[condition.load].name in under) and (not on or setting.roads[condition.road] in on)
    )
    if row.kind == "condition":
        narrowed = len(conditions) < len(setting.conditions)
        standing = tuple(sorted({setting.conditions[k].load for k in conditions}))
    else:
        narrowed = under is not None and len(standing) < len(_counted(row, None, None, setting)[1])
    names = [load.name for load in every if load.name in (under or ())] + [
        name for name in setting.roads if name in (on or ())
    ]
    return conditions, standing, tuple(names) if narrowed else ()


def _unit(page: Page, row: Criterion) -> str | None:
    """The unit that the file names for the stored figure; None where it names none or a wrong one."""
    raw = page.table.get("unit")
    if raw is None:
        return None
    allowed = f'a unit of {row.unit}, such as "{row.display_unit}"'
    if not isinstance(raw, str):
        page.note("unit", f"{shown(raw)} stands here", allowed)
        return None
    try:
        if same_dimension(raw, row.unit):
            return raw.strip() or "1"
    except UnitError as error:
        page.note("unit", error.message, allowed, error.hint)
        return None
    page.note("unit", f"{shown(raw)} is not a unit of {row.name}", allowed)
    return None


def read_objectives(top: Page, setting: Setting) -> tuple[Objective, ...]:
    """Every ``[[objective]]`` without a mistake; two that order designs alike are noted."""
    objectives: list[Objective] = []
    orders: list[tuple[Asked, int]] = []
    for i, page in enumerate(top.tables("objective", "objective"), start=1):
        asked = read_asked(page, setting)
        if asked is None:
            continue
        twin = next((k for other, k in orders if _order_alike(asked, other, setting)), None)
        if twin is not None:
            page.note("criterion", f"orders designs as objective[{twin}] does", "objectives that can differ")
            continue
        orders.append((asked, i))
        large = asked.row.sense == "large"
        measure = asked.measure("smallest" if large else "largest", asked.unit or asked.row.display_unit, setting)
        objectives.append(Objective(measure, -1 if large else 1))
    return tuple(objectives)


def _order_alike(one: Asked, other: Asked, setting: Setting) -> bool:
    if one.row.name != other.row.name and not (other.row.name in one.row.alike and _linear(one, setting)):
        return False
    if one.scatter != other.scatter:
        return False
    if one.places(setting) != other.places(setting):
        return False
    if one.row.kind != "condition":
        return one.row.kind == "design" or one.loads == other.loads
    if one.conditions != other.conditions:
        return False
    if len(one.conditions) == 1:
        return True
    return one.over == other.over and (one.row.name == other.row.name or one.over == "worst")


def _linear(asked: Asked, setting: Setting) -> bool:
    """Whether all that counts is worked out in the frequency domain."""
    return setting.response == "frequency-domain" and all(setting.kind(c) == "random" for c in asked.conditions)


def read_constraints(top: Page, setting: Setting, objectives: Sequence[Objective]) -> tuple[Constraint, ...]:
    """Every limit of every ``[[constraint]]`` without a mistake.

    Measures of one label share one unit: the objective's, or that of the first limit in the file.
    """
    units = {objective.measure.label: objective.measure.unit for objective in objectives}
    constraints: list[Constraint] = []
    for page in top.tables("constraint", "constraint"):
        asked = read_asked(page, setting)
        if "at_least" not in page and "at_most" not in page:
            page.mistakes.add(page.path, "no limit", "at_least, at_most or both")
        if asked is None:
            continue
        at_least, at_most = _limit(page, "at_least", asked), _limit(page, "at_most", asked)
        if at_least is not None and at_most is not None and at_least.si >= at_most.si:
            page.note("at_least", f"{shown(page.table['at_least'])} is not below at_most", "at_least below at_most")
            continue
        unit = asked.unit or next((limit.unit for limit in (at_least, at_most) if limit is not None), asked.row.unit)
        if at_least is not None:
            constraints.append(_constraint(asked, at_least, "at_least", unit, units, setting))
        if at_most is not None:
            constraints.append(_constraint(asked, at_most, "at_most", unit, units, setting))
    return tuple(constraints)


def _limit(page: Page, name: str, asked: Asked) -> Quantity | None:
    if name not in page:
        return None
    raw, unit = page.table[name], asked.row.unit
    try:
        limit = read_quantity(raw, unit)
    except CallError as error:
        page.note(name, error.message, expected(unit), error.hint)
        return None
    # A plain number is SI; beside another unit it would be read wrongly by most people.
    if limit.plain and asked.unit is not None and exact_factor(asked.unit) != 1:
        page.note(name, f'{shown(raw)} beside unit = "{asked.unit}" might be either', f'"{shown(raw)} {asked.unit}"')
        return None
    return limit


def _constraint(
    asked: Asked,
    limit: Quantity,
    kind: Literal["at_least", "at_most"],
    unit: str,
    units: dict[str, str],
    setting: Setting,
) -> Constraint:
    measure = asked.measure("smallest" if kind == "at_least" else "largest", unit, setting)
    unit = units.setdefault(measure.label, unit)
    measure = replace(measure, unit=unit, factor=factor(unit))
    stored = limit.into(unit)
    typical = Fraction(exact(repr(asked.row.typical))) / exact_factor(unit)
    return Constraint(measure, float(stored), kind, float(max(abs(stored), typical)))
