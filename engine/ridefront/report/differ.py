"""How studies differ in what they mean: vehicle, ranges, loads, roads, conditions, what is asked, how it is sought."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from hashlib import sha256

from ridefront.criteria import CRITERIA
from ridefront.report.compare import road_meaning
from ridefront.report.roads import in_words
from ridefront.report.side_by_side import SHOWN
from ridefront.report.words import measure, number, quantity, unit
from ridefront.results.record import Record
from ridefront.road import Obstacle
from ridefront.study.keys import QUANTITIES
from ridefront.study.model import Study, Variable
from ridefront.units import factor
from ridefront.vehicle import Load, Seat


@dataclass(frozen=True)
class Fact:
    """One thing that a study says.

    Attributes:
        group, what: of which part of the study, and which thing, in words.
        text: what it is, in words.
        meaning: by which it is told apart from another study's.
    """

    group: str
    what: str
    text: str
    meaning: str


@dataclass(frozen=True)
class Difference:
    """One thing in which studies differ.

    Attributes:
        group, what: as in `Fact`.
        texts: of each study; empty where it has nothing of the kind.
    """

    group: str
    what: str
    texts: tuple[str, ...]


def differences(studies: Sequence[Study], records: Sequence[Record]) -> tuple[Difference, ...]:
    """Everything in which studies differ, in the order in which a study file is written.

    Args:
        studies: at least two; records: of their runs.
    """
    tables = [
        {(fact.group, fact.what): fact for fact in _facts(study, record)}
        for study, record in zip(studies, records, strict=True)
    ]
    keys = sorted(
        {key: None for table in tables for key in table}, key=lambda key: _GROUPS.index(key[0])
    )  # sorted is stable: within a group in the order of the studies
    found = []
    for key in keys:
        facts = [table.get(key) for table in tables]
        if len({None if fact is None else fact.meaning for fact in facts}) > 1:
            found.append(Difference(*key, _texts(facts)))
    return tuple(found)


def _texts(facts: Sequence[Fact | None]) -> tuple[str, ...]:
    """What each study says; what reads alike and is not is numbered."""
    known: dict[str, list[str]] = {}
    texts = []
    for fact in facts:
        if fact is None:
            texts.append("")
            continue
        alike = known.setdefault(fact.text, [])
        if fact.meaning not in alike:
            alike.append(fact.meaning)
        which = alike.index(fact.meaning)
        texts.append(fact.text if which == 0 else f"{fact.text} (another, number {which + 1})")
    return tuple(texts)


_GROUPS = (
    "ride", "vehicle", "seat", "load", "road", "condition", "objective", "limit", "present setup", "tolerance",
    "search", "program",
)  # fmt: skip


def _facts(study: Study, record: Record) -> Iterator[Fact]:
    yield _plain("ride", "model", study.model + (f", {study.corner}" if study.model == "quarter-car" else ""))
    yield _plain("ride", "response", study.response)
    yield _plain("ride", "linearisation", study.linearisation)
    yield from _vehicle(study)
    for seat in study.seats if study.model != "quarter-car" else ():
        yield _plain("seat", seat.name, _seat(study, seat))
    for k, load in enumerate(study.loads):
        yield _plain("load", load.name or "as given", _load(study, load, k == study.reference))
    yield from _roads(study)
    yield from _asked(study)
    yield from _searched(study)
    yield _plain("program", "version", str(record["versions"].get("ridefront", "")))
    engine = str(record["digests"].get("engine", ""))
    yield Fact("program", "what works figures out", f"sources {engine[:8]}", engine)


def _plain(group: str, what: str, text: str) -> Fact:
    return Fact(group, what, text, text)


def _vehicle(study: Study) -> Iterator[Fact]:
    varied = {item.path: item for item in study.variables}
    for path, row in QUANTITIES.items():
        shown = SHOWN.get(row.unit, row.unit)
        if path in varied:
            yield _plain("vehicle", quantity(path), _range(varied[path], shown))
        elif path in study.fixed:
            yield _plain("vehicle", quantity(path), _with_unit(study.fixed[path] / factor(shown), shown))
    for path, table in study.tables.items():
        yield Fact(
            "vehicle", quantity(path), f"measured, {len(table.points.x)} points",
            repr((list(table.points.x), list(table.points.force))),
        )  # fmt: skip
    if study.model == "full-car":
        for axle in ("front", "rear"):
            yield _plain("vehicle", f"{axle} axle", "beam" if axle in study.beams else "independent")


def _with_unit(value: float, shown: str) -> str:
    return f"{value:.6g} {unit(shown)}".rstrip()


def _range(item: Variable, shown: str) -> str:
    scale = 1.0 if item.times is not None and not item.levels else item.factor / factor(shown)
    low, high = f"{item.low * scale:.6g}", f"{item.high * scale:.6g}"
    logarithmic = ", logarithmic" if item.scale == "log" else ""
    if item.times is not None:
        return f"{low} to {high} times {quantity(item.times)}{logarithmic}"
    if item.levels:
        values = [f"{level * scale:.6g}" for level in item.levels]
        text = " or ".join(values) if len(values) <= 4 else f"{low} to {high} in {len(values)} steps"
        return f"{text} {unit(shown)}".rstrip()
    return f"{low} to {high} {unit(shown)}".rstrip() + logarithmic


def _seat(study: Study, seat: Seat) -> str:
    parts = [f"{seat.behind_front_axle:.6g} m behind the front axle"]
    parts += [] if seat.height is None else [f"{seat.height:.6g} m high"]
    parts += [_aside(seat.left_of_centre)] if study.model == "full-car" and seat.left_of_centre else []
    return ", ".join(parts)


def _aside(left: float) -> str:
    return f"{abs(left):.6g} m {'left' if left > 0 else 'right'} of the centre line"


def _load(study: Study, load: Load, reference: bool) -> str:
    parts = []
    for item in load.masses:
        text = f"{item.mass:.6g} kg at {item.behind_front_axle:.6g} m"
        text += f", {item.length:.6g} m long" if item.length else ""
        text += f", {_aside(item.left_of_centre)}" if study.model == "full-car" and item.left_of_centre else ""
        parts.append(text)
    return ("; ".join(parts) or "nothing on it") + (" (reference)" if reference else "")


def _roads(study: Study) -> Iterator[Fact]:
    used = sorted({item.road for item in study.conditions})
    for k in used:
        road = study.roads[k]
        count = f", {road.realisations} realisations" if road.realisations > 1 and study.simulates else ""
        length = "" if isinstance(road, Obstacle) else f", {road.length:.6g} m"
        yield Fact("road", road.name, in_words(road) + length + count, road_meaning(study, k) + count)
    total = sum(item.weight for item in study.conditions)
    for condition in study.conditions:
        exposed = "" if condition.exposure is None else f", {condition.exposure:.6g} s driven"
        yield _plain("condition", condition.name, f"{100 * condition.weight / total:.3g} % of the time{exposed}")


def _asked(study: Study) -> Iterator[Fact]:
    for objective in study.objectives:
        item = objective.measure
        way = "small is better" if objective.sign > 0 else "large is better"
        yield _plain("objective", measure(item.label), f"{way}, {_over(item.over)}")
    for limit in study.constraints:
        item = limit.measure
        shown = CRITERIA[item.criterion].display_unit
        value = limit.limit * item.factor / factor(shown)
        kind = limit.kind.replace("_", " ")
        yield _plain("limit", f"{measure(item.label)}, {kind}", _with_unit(value, shown))
    if study.present is not None:
        for variable, value in zip(study.variables, study.present, strict=True):
            shown = SHOWN.get(QUANTITIES[variable.path].unit, QUANTITIES[variable.path].unit)
            yield _plain(
                "present setup", quantity(variable.path),
                _with_unit(float(value) * variable.factor / factor(shown), shown),
            )  # fmt: skip
    if study.scatter is not None:
        yield _plain("tolerance", "vehicles built", str(study.scatter.samples))
        for path, share in study.scatter.tolerances.items():
            yield _plain("tolerance", quantity(path), f"± {number(100 * share)} %")


def _over(over: str) -> str:
    return {"mean": "mean of conditions", "rms": "rms of conditions", "worst": "worst condition"}[over]


def _searched(study: Study) -> Iterator[Fact]:
    yield _plain("search", "seed", str(study.seed))
    yield from (
        _plain("search", key.replace("_", " "), str(value))
        for key, value in asdict(study.search).items()
        if key != "stalled" and value is not None and (study.response == "auto" or not key.startswith("simulated"))
    )
    if study.search.stalled is not None:
        stalled = study.search.stalled
        text = f"{100 * stalled.share:.4g} % in {stalled.generations} generations"
        yield _plain("search", "ends where the front grows by less than", text)
    if study.start is not None:
        start = study.start
        text = f"{start.path}, {start.taken:,} designs"
        yield Fact("search", "starts with", text, sha256(start.U.tobytes()).hexdigest())
