"""How much travel is left: from the ends of travel to the largest of each road, by axle and load, each way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ridefront.report.card import Card, DoesNotApply, asks
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.looked_at import LookedAt
from ridefront.report.roads import driven_length
from ridefront.report.source import source
from ridefront.report.standing import by_this_program
from ridefront.report.subject import Subject
from ridefront.report.words import Table, measure, measured_in, number
from ridefront.results.names import FRONT_PIECES
from ridefront.study.model import Measure, Study
from ridefront.study.space import parameters
from ridefront.vehicle.body import Model, model_of
from ridefront.vehicle.elements import per_corner
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import AtRest, at_rest

Way = Literal["bump", "rebound"]
_MM = 1e3
_QUESTION = "How much travel is left, per axle and load?"
_HALF = 0.32  # of a setup's place, that the mark of a stop takes to either side


@dataclass(frozen=True)
class Budget:
    """The travel of an axle under a load, one way; each (s,), m at the wheel, counted from the reference position.

    Attributes:
        axle, load, way: of what.
        wheel: of a full car the one with the least left, of each setup; else the axle.
        available: to the end of travel.
        to_stop: to where the stop touches, or None where there is none.
        at_rest: of it used by the load, standing still; below 0 where the load gives travel back.
        peak: of it used by the worst road.
        left: available - at_rest - peak.
        condition: the worst, of each setup.
    """

    axle: str
    load: str
    way: Way
    wheel: tuple[str, ...]
    available: Array
    to_stop: Array | None
    at_rest: Array
    peak: Array
    left: Array
    condition: tuple[str, ...]


@asks(_QUESTION)
def travel_budget(subject: Subject) -> Card:
    """The card."""
    study, looked = subject.study, subject.looked_at
    ways = [way for way in _WAYS if looked.columns(f"{way}_reserve")]
    if not ways:
        raise DoesNotApply("the study does not say where travel ends (bump_travel, rebound_travel of each axle)")
    budgets = [found for way in ways for found in budgets_of(study, looked, way)]
    margins, notes = _margins(subject, looked, ways)
    now = "" if subject.present is None else by_this_program(subject, "the present setup's travel is")
    lead = (
        "Each bar is the travel that a wheel uses under a load: from the dot where it stands still to the largest "
        "travel of the worst road either way. What lies between the bar and the end is left. Travel counts from the "
        "reference position, at the wheel."
    )
    return Card(
        "travel-budget",
        _QUESTION,
        lead + now,
        (_ranges(subject, looked, budgets), margins),
        tuple(_table(study, looked, [item for item in budgets if item.way == way], way) for way in ways),
        (*notes, *_how_large(subject)),
    )


_WAYS: tuple[Way, ...] = ("bump", "rebound")


def budgets_of(study: Study, looked: LookedAt, way: Way) -> list[Budget]:
    """Budgets one way, of each axle under each load that is driven, in their order."""
    model = model_of(study.model, study.corner)
    values = parameters(study, np.stack([setup.x for setup in looked.setups]))
    states = at_rest(values, model, study.loads, study.reference, study.points, study.beams)
    found = []
    for axle in dict.fromkeys(model.axles):
        for load in sorted({condition.load for condition in study.conditions}):
            names = [item.name for item in study.conditions if item.load == load]
            columns = [p for name in names for p in looked.columns(f"{way}_reserve", name, _wheels(model, axle))]
            if columns:
                to_stop = _to_stop(values, model, axle, way)
                found.append(_budget(looked, way, axle, states[load], columns, to_stop))
    return found


def _wheels(model: Model, axle: str) -> tuple[str, ...]:
    return tuple(name for name, of in zip(model.corners, model.axles, strict=True) if of == axle)


def _budget(
    looked: LookedAt, way: Way, axle: str, state: AtRest, columns: Sequence[int], to_stop: Array | None
) -> Budget:
    worst = np.array(columns)[_least(looked.pieces.values[:, columns])]
    rows = np.arange(len(looked.setups))
    places = tuple(looked.pieces.place[p] for p in worst)
    corners = np.array([state.model.corners.index(name) for name in places])
    ends = state.bump_travel if way == "bump" else state.rebound_travel
    assert ends is not None, "a reserve is of an end"
    available, left = ends[rows, corners], looked.pieces.values[rows, worst]
    standing = state.travel[rows, corners] * (1 if way == "bump" else -1)
    conditions = tuple(looked.pieces.condition[p] for p in worst)
    return Budget(
        axle, state.load, way, places, available, to_stop, standing, available - standing - left, left, conditions
    )


def _least(values: Array) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    """Column of the least of each row; where one is not known, that one."""
    return np.asarray(np.argmin(values, axis=1))


def _to_stop(values: dict[str, Array], model: Model, axle: str, way: Way) -> Array | None:
    """Wheel travel at which a stop touches, (s,), m; None where the axle has no such stop."""
    if f"{axle}.{way}_stop_rate" not in values:
        return None
    clearance = per_corner(values, model.axles, f"{way}_clearance")
    ratio = values.get(f"{axle}.stop_ratio", values[f"{axle}.damper_ratio"])
    assert clearance is not None, "a stop has a clearance"
    return np.asarray(clearance[:, model.axles.index(axle)] / ratio)


def _ranges(subject: Subject, looked: LookedAt, budgets: Sequence[Budget]) -> Figure:
    """Travel used by each setup, a panel an axle and load."""
    keys = dict.fromkeys((item.axle, item.load) for item in budgets)
    x = Axis("", names=tuple(setup.name for setup in looked.setups))
    y = Axis("wheel travel, bump upwards", "mm")
    panels = [
        Panel(
            axle + (f", {load}" if load else ""),
            x,
            y,
            _used(looked, {item.way: item for item in budgets if (item.axle, item.load) == (axle, load)}),
        )
        for axle, load in keys
    ]
    return Figure(
        "travel-budget", "Travel used on the worst road, either way", tuple(panels), source(subject, FRONT_PIECES)
    )


def _used(looked: LookedAt, ways: dict[Way, Budget]) -> tuple[Series, ...]:
    reach = {way: item.at_rest + item.peak for way, item in ways.items()}
    top = reach["bump"] if "bump" in reach else ways["rebound"].at_rest * -1
    bottom = -reach["rebound"] if "rebound" in reach else ways["bump"].at_rest
    rest = ways["bump"].at_rest if "bump" in ways else -ways["rebound"].at_rest
    found: list[Series] = []
    for way, item in ways.items():
        sign = 1 if way == "bump" else -1
        found.append(_marks(f"end of {way}", sign * item.available, _HALF))
        if item.to_stop is not None:
            found.append(_marks(f"{way} stop touches", sign * item.to_stop, 0.6 * _HALF, dashed=True))
    for k, setup in enumerate(looked.setups):
        ends = np.array([top[k], rest[k], bottom[k]])
        hover = tuple(_said(setup.name, ways, k, where) for where in ("bump", None, "rebound"))
        place, designs = np.full(3, float(k)), np.full(3, setup.design, dtype=np.int64)
        found.append(Series(setup.name, "line", setup.role, place, ends * _MM, designs))
        found.append(Series(setup.name, "points", setup.role, place, ends * _MM, designs, hover=hover))
    return tuple(found)


def _said(name: str, ways: dict[Way, Budget], k: int, way: Way | None) -> str:
    """What a mark says when it is pointed at."""
    if way is None:
        budget = next(iter(ways.values()))
        return f"{name}\nstands still {millimetres(float(budget.at_rest[k]))} mm into {budget.way}"
    item = ways.get(way)
    if item is None:
        return name
    return f"{name}\n{item.condition[k]}\n{millimetres(float(item.left[k]))} mm left to the end of {way}"


def _marks(name: str, at: Array, half: float, *, dashed: bool = False) -> Series:
    """A short line above each setup's place."""
    x = np.arange(len(at), dtype=np.float64)
    nothing = np.full(len(at), np.nan)
    y = np.stack([at, at, nothing], axis=1).ravel() * _MM
    return Series(name, "line", "limit", np.stack([x - half, x + half, nothing], axis=1).ravel(), y, dashed=dashed)


def _margins(subject: Subject, looked: LookedAt, ways: Sequence[Way]) -> tuple[Figure, list[str]]:
    """What every setup of the front has left, against the first objective that is not travel itself."""
    study = subject.study
    model = model_of(study.model, study.corner)
    labels = [item.label for item in study.measures]
    wanted = [item.measure for item in study.objectives if item.measure.criterion not in _RESERVES]
    shown = (wanted or [study.objectives[0].measure])[0]
    k = labels.index(shown.label)
    panels, notes = [], []
    for axle in dict.fromkeys(model.axles):
        for way in ways:
            columns = looked.columns(f"{way}_reserve", None, _wheels(model, axle))
            worst = _least(looked.front.values[:, columns])
            left = looked.front.values[np.arange(len(worst)), np.array(columns)[worst]]
            series = [
                Series("front", "points", "front", subject.front.values[:, k], left * _MM, subject.front.design),
                *_limits(study, model, axle, way, [looked.front.condition[p] for p in columns]),
            ]
            for s, setup in enumerate(looked.setups):
                own = looked.pieces.values[s, columns].min()
                at = np.array([setup.values[k]]), np.array([_MM * own]), np.array([setup.design], dtype=np.int64)
                series.append(Series(setup.name, "points", setup.role, *at))
            x = Axis(measure(shown.label), measured_in(shown))
            panels.append(Panel(f"{axle}, {way}", x, Axis(f"travel left to the end of {way}", "mm"), tuple(series)))
            known = [
                looked.front.condition[columns[c]] for c, figure in zip(worst, left, strict=True) if np.isfinite(figure)
            ]
            notes.append(_decides(f"{axle}, {way}", known, len(left)))
    return (
        Figure(
            "travel-left", f"What each setup has left, against {measure(shown.label)}", tuple(panels),
            source(subject, FRONT_PIECES),
        ),
        notes,
    )  # fmt: skip


_RESERVES = tuple(f"{way}_reserve" for way in _WAYS)


def _limits(study: Study, model: Model, axle: str, way: Way, conditions: Sequence[str]) -> list[Series]:
    """The end of travel, and what the study wants left at least of what a panel shows, which is the worst wheel of an
    axle in some conditions; a limit on less than that is called after what it is on.
    """
    found = [Series("end of travel", "level", "limit", np.zeros(1), np.zeros(1))]
    shown = [c for c, item in enumerate(study.conditions) if item.name in conditions]
    for item in study.constraints:
        of = item.measure
        if of.criterion != f"{way}_reserve" or item.kind != "at_least":
            continue
        if of.place not in {None, axle, *_wheels(model, axle)}:
            continue
        part = _part_of(study, model, axle, of, shown)
        name = f"limit of the study{f', {part} only' if part else ''}"
        at = np.array([item.limit * of.factor * _MM])
        found.append(Series(name, "level", "limit", np.zeros(1), at, dashed=True))
    return found


def _part_of(study: Study, model: Model, axle: str, of: Measure, shown: Sequence[int]) -> str:
    """What a limit is on, in words, where that is less than the worst wheel of an axle in the conditions shown."""
    words = []
    if of.place is not None and of.place != axle and len(_wheels(model, axle)) > 1:
        words.append(of.place.replace("_", " "))
    if not set(shown) <= set(of.conditions):
        own = [study.conditions[c] for c in shown if c in of.conditions]
        loads = {item.load for item in own}
        whole = [c for c in shown if study.conditions[c].load in loads]
        if set(whole) <= set(of.conditions):
            words.append(" and ".join(study.loads[load].name for load in sorted(loads)))
        else:
            words.append(" and ".join(item.name for item in own))
    elif of.over != "worst":
        words.append(f"{of.over} of the roads")
    if of.scatter is not None:
        words.append("within tolerances")
    return ", ".join(words)


def _decides(what: str, conditions: Sequence[str], setups: int) -> str:
    """Which condition takes most travel, over the setups of the front, and how many of them have no figure."""
    unknown = setups - len(conditions)
    failed = f"; {unknown:,} of {setups:,} setups have no figure on some road" if unknown else ""
    if not conditions:
        return what + failed.replace("; ", ": ")
    counts = {name: conditions.count(name) for name in dict.fromkeys(conditions)}
    most = max(counts, key=lambda name: counts[name])
    share = counts[most] / len(conditions)
    of = "for every setup of the front" if share == 1 else f"for {100 * share:.0f} % of the front"
    return f"{what}: {most} leaves least, {of}{failed}"


def _table(study: Study, looked: LookedAt, budgets: Sequence[Budget], way: Way) -> Table:
    stops = any(item.to_stop is not None for item in budgets)
    pairs = any(item.axle != wheel for item in budgets for wheel in item.wheel)
    heads = ["axle", "load", "setup", "worst road", *(["wheel"] if pairs else [])]
    rows = []
    for item in budgets:
        for k, setup in enumerate(looked.setups):
            words = [item.axle, item.load or "–", setup.name, unladen(item.condition[k], item.load)]
            words += [item.wheel[k].replace("_", " ")] if pairs else []
            figures = [item.available[k], item.at_rest[k], item.peak[k], item.left[k]]
            if stops:
                stop = None if item.to_stop is None else item.to_stop[k] - item.at_rest[k] - item.peak[k]
                figures.append(np.nan if stop is None else stop)
            rows.append((*words, *(millimetres(float(figure)) for figure in figures)))
    figure_heads = [f"to the end of {way}, mm", "standing still, mm", "worst road, mm", "left, mm"]
    return Table(
        f"Travel in {way}, mm at the wheel",
        (*heads, *figure_heads, *(["left to the stop, mm"] if stops else [])),
        tuple(rows),
        text_columns=len(heads),
        notes=("below 0 in the last column: so far into the stop",) if stops else (),
    )


def _how_large(subject: Subject) -> tuple[str, ...]:
    """What largest means, and what a road's passage is."""
    study = subject.study
    lines = []
    if subject.domain == "frequency-domain":
        lines.append(
            "on random roads the largest travel is the one to be expected in one passage of the road (Gaussian "
            "theory, Davenport 1964), beside the mean travel that unequal damping pumps; stops and dampers are "
            "linearised for that road"
        )
    else:
        lines.append("on roads with several realisations the largest travel is the mean of the largest of each")
    passages = {
        unladen(item.name, study.loads[item.load].name): driven_length(study, study.roads[item.road], item.speed)
        / item.speed
        for item in study.conditions
    }
    lines.append("one passage: " + ", ".join(f"{name} {number(time, 2)} s" for name, time in passages.items()))
    return tuple(lines)


def unladen(condition: str, load: str) -> str:
    """A condition's name without its load."""
    return condition.removesuffix(f", {load}")


def millimetres(length: float) -> str:
    """A length, m, in mm to a tenth; a dash for none."""
    return "–" if not np.isfinite(length) else f"{_MM * length:.1f}".replace("-0.0", "0.0")
