"""A study file in, a checked `Study` out, or every mistake in it at once."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

from ridefront.criteria import CRITERIA
from ridefront.criteria.ride import axles_of
from ridefront.criteria.table import LOOKED_AT
from ridefront.errors import Mistake, StudyError
from ridefront.road import AnyRoad, Obstacle, Profile
from ridefront.study.catalogue import read_catalogue
from ridefront.study.conditions import read_conditions, read_loads, read_roads, read_seats
from ridefront.study.driven import check_driven
from ridefront.study.model import Measure, Response, Study
from ridefront.study.page import Mistakes, Page, shown
from ridefront.study.requirements import RoadKind, Setting, read_constraints, read_objectives
from ridefront.study.scatter import read_scatter
from ridefront.study.settings import check_until, read_present, read_search, read_workers
from ridefront.study.start import read_start
from ridefront.study.vehicle import Vehicle, read_vehicle
from ridefront.vehicle import Seat, model_of

_CONDITIONS = ("seat", "load", "road", "condition")

LARGEST_FILE = 4 * 2**20
"""Bytes; a study is some kilobytes."""


def read_study(path: str | os.PathLike[str], copies: Mapping[str, str] | None = None) -> Study:
    """Read a study file and check all of it.

    Args:
        path: of a TOML file.
        copies: where a copy of the study lies apart from the files that it names: by the path of the key that names
            one, such as ``vehicle.front.spring_table`` or ``road[1].file``, the path to read instead.

    Raises:
        StudyError: the file cannot be read, is not TOML, or has mistakes; every one is named.
    """
    name = os.fspath(path)
    text = _bytes(name)
    raw = _toml(name, text)
    for key, copy in (copies or {}).items():
        _point_to(raw, key, copy)
    mistakes = Mistakes()
    study = _study(name, text, raw, mistakes)
    if mistakes.found:
        order = {key: k for k, key in enumerate(raw)}
        raise StudyError(name, sorted(mistakes.found, key=lambda mistake: order.get(_top_key(mistake), len(order))))
    assert study is not None, "a study without mistakes is complete"
    return study


def _point_to(raw: dict[str, object], key: str, copy: str) -> None:
    """Name another file at a key; nothing is done where the file names none there."""
    *parents, last = key.split(".")
    table: object = raw
    for parent in parents:
        name, bracket, index = parent.removesuffix("]").partition("[")
        table = table.get(name) if isinstance(table, dict) else None
        if bracket:
            listed = table if isinstance(table, list) else []
            table = listed[int(index) - 1] if int(index) <= len(listed) else None
    if isinstance(table, dict) and last in table:
        table[last] = copy


def _top_key(mistake: Mistake) -> str:
    return mistake.key.split(".")[0].split("[")[0]


def _bytes(name: str) -> bytes:
    file = Path(name)
    if not file.exists():
        raise StudyError(name, [Mistake("", "no such file", "the path of a study file")])
    if not file.is_file():
        raise StudyError(name, [Mistake("", "not a file", "the path of a study file")])
    try:
        with file.open("rb") as stream:
            text = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise StudyError(name, [Mistake("", f"cannot be read: {error.strerror}", "")]) from None
    if len(text) > LARGEST_FILE:
        raise StudyError(name, [Mistake("", "too large for a study", f"{LARGEST_FILE // 2**20} MiB at most")])
    return text


def _toml(name: str, text: bytes) -> dict[str, object]:
    """The file's tables, decimals as they are written."""
    try:
        decoded = text.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = text[: error.start].count(b"\n") + 1
        raise StudyError(name, [Mistake("", f"not a text: line {line} is not UTF-8", "TOML in UTF-8")]) from None
    if not decoded.strip():
        raise StudyError(name, [Mistake("", "the file is empty", "a study; see studies/README.md")])
    try:
        return tomllib.loads(decoded, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise StudyError(name, [Mistake("", f"not TOML: {error}", "")]) from None
    except (ValueError, ArithmeticError, RecursionError):
        # A number of thousands of digits, or tables nested hundreds deep.
        raise StudyError(name, [Mistake("", "not TOML that a study can hold", "")]) from None


def _study(name: str, text: bytes, raw: dict[str, object], mistakes: Mistakes) -> Study | None:
    top = Page(raw, "", "", mistakes)
    title, seed = top.text("title"), top.whole("seed")
    response = _response(top)
    linearisation = top.word("linearisation")
    seats, loads = read_seats(top), read_loads(top)
    on = read_roads(top, Path(name).parent)
    roads = on.roads
    loaded = any(load.masses for load in loads.loads)
    conditions = read_conditions(top, on.names, loads, mistakes)
    whole = not any(_top_key(mistake) in _CONDITIONS for mistake in mistakes.found)
    vehicle = (
        read_vehicle(raw["vehicle"], mistakes, loaded=loaded, folder=Path(name).parent) if "vehicle" in raw else None
    )
    search = read_search(top, mistakes, response)
    workers, kind, cluster = read_workers(top, mistakes)
    if vehicle is None:
        return None
    if not vehicle.ranges:
        mistakes.add("vehicle", "no quantity has a range, so there is nothing to choose", "at least one range")
    present, outside = read_present(top, vehicle.variables, vehicle.ranges, mistakes)
    catalogue = read_catalogue(top, vehicle.variables, vehicle.ranges, mistakes)
    start = read_start(top, vehicle.variables, vehicle.ranges, Path(name).parent, mistakes)
    check_until(search, response, start, mistakes)
    model = model_of(vehicle.model, vehicle.corner)
    scatter, samples = read_scatter(top, vehicle, mistakes)
    kinds = {road.name: _kind(road) for road in roads}
    setting = Setting(model, seats, loads, on.names, conditions, vehicle.known, response, kinds, whole, samples)
    objectives = read_objectives(top, setting)
    constraints = read_constraints(top, setting, objectives)
    measures = [item.measure for item in objectives] + [item.measure for item in constraints]
    _check_labels(measures, mistakes)
    if whole:
        _check_idle(vehicle, setting, measures, mistakes)
        check_driven(vehicle, response, roads, conditions, constraints, mistakes)
    if mistakes.found:
        return None
    notes = (*vehicle.notes, *_unused_seats(vehicle, seats), *_unused_sides(vehicle, raw), *outside)
    notes += () if start is None else (start.note,)
    return Study(
        path=name,
        text=text,
        title=title or Path(name).stem,
        seed=seed,
        response=response,
        linearisation="at-rest" if linearisation == "at-rest" else "statistical",
        model=vehicle.model,
        corner=vehicle.corner,
        fixed=vehicle.fixed,
        given=vehicle.given,
        variables=vehicle.variables,
        seats=seats,
        loads=loads.loads,
        roads=roads,
        conditions=conditions,
        objectives=objectives,
        constraints=constraints,
        present=present,
        search=search,
        workers=workers,
        kind=kind,
        cluster=cluster,
        notes=notes,
        reference=loads.reference,
        tables=vehicle.tables,
        profiles=on.files,
        beams=vehicle.beams,
        catalogue=catalogue,
        scatter=scatter,
        start=start,
    )


def _check_labels(measures: list[Measure], mistakes: Mistakes) -> None:
    """Equal labels mean equal measures, unless names of loads or roads play tricks."""
    first: dict[str, Measure] = {}
    for measure in measures:
        if first.setdefault(measure.label, measure) != measure:
            found = f"two different figures would be called {shown(measure.label)}"
            mistakes.add("constraint", found, "names of loads and roads that tell them apart")


def _check_idle(vehicle: Vehicle, setting: Setting, measures: list[Measure], mistakes: Mistakes) -> None:
    """Note ranges of quantities that only some criteria look at, where none of those is asked for."""
    looking = {row.name: row.needs for row in CRITERIA.values()}

    def looks(item: Measure, axle: str) -> bool:
        if not axle or item.place is None:
            return True
        named = CRITERIA[item.criterion].named(setting.model, setting.seats)
        return axle in axles_of(setting.model, named[item.place])

    for path in vehicle.ranges:
        axle, _, name = path.rpartition(".")
        if name not in LOOKED_AT:
            continue
        users = [item for item in measures if name in looking[item.criterion]]
        if not any(looks(item, axle) for item in users):
            criteria = " or ".join(key for key, row in looking.items() if name in row)
            mistakes.add(f"vehicle.{path}", "a range that no objective or constraint looks at", f"with {criteria} only")


def _response(top: Page) -> Response:
    word = top.word("response")
    if word == "time-domain":
        return "time-domain"
    return "auto" if word == "auto" else "frequency-domain"


def _kind(road: AnyRoad) -> RoadKind:
    if isinstance(road, Obstacle):
        return "single" if road.count == 1 else "train"
    if isinstance(road, Profile):
        return "random" if road.estimated else "measured"
    return "random"


def _unused_seats(vehicle: Vehicle, seats: tuple[Seat, ...]) -> tuple[str, ...]:
    if vehicle.model == "quarter-car" and seats:
        return ("seats are not used by the quarter car: comfort is worked out where the body stands on its corner",)
    return ()


def _unused_sides(vehicle: Vehicle, raw: dict[str, object]) -> tuple[str, ...]:
    """What the file says of sides that a model without any does not use."""
    if vehicle.model == "full-car":
        return ()
    seats, loads, roads = (_tables(raw.get(name)) for name in ("seat", "load", "road"))
    masses = [mass for load in loads for mass in _tables(load.get("masses"))]
    found = {
        # A quarter car's seats are not used at all, which is said already.
        "left_of_centre of seats": vehicle.model == "half-car" and any("left_of_centre" in seat for seat in seats),
        "left_of_centre of masses": any("left_of_centre" in mass for mass in masses),
        "tracks of roads": any("tracks" in road for road in roads),
    }
    names = ", ".join(name for name, given in found.items() if given)
    return (f"given but not used by the {vehicle.model.replace('-', ' ')}: {names}",) if names else ()


def _tables(raw: object) -> list[dict[str, object]]:
    return [item for item in raw if isinstance(item, dict)] if isinstance(raw, list) else []
