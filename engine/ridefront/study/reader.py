"""A study file in, a checked `Study` out, or every mistake in it at once."""

from __future__ import annotations

import os
import tomllib
from decimal import Decimal
from pathlib import Path

from ridefront.criteria import CRITERIA
from ridefront.criteria.table import LOOKED_AT
from ridefront.errors import Mistake, StudyError
from ridefront.response.drive import shows_the_second_after
from ridefront.road import AnyRoad, Obstacle
from ridefront.study.conditions import read_conditions, read_loads, read_roads, read_seats
from ridefront.study.model import Condition, Measure, Response, Study
from ridefront.study.page import Mistakes, Page, shown
from ridefront.study.requirements import RoadKind, Setting, read_constraints, read_objectives
from ridefront.study.settings import read_present, read_search, read_workers
from ridefront.study.vehicle import Vehicle, read_vehicle
from ridefront.vehicle import Seat, model_of

_CONDITIONS = ("seat", "load", "road", "condition")

LARGEST_FILE = 4 * 2**20
"""Bytes; a study is some kilobytes."""


def read_study(path: str | os.PathLike[str]) -> Study:
    """Read a study file and check all of it.

    Args:
        path: of a TOML file.

    Raises:
        StudyError: the file cannot be read, is not TOML, or has mistakes; every one is named.
    """
    name = os.fspath(path)
    text = _bytes(name)
    raw = _toml(name, text)
    mistakes = Mistakes()
    study = _study(name, text, raw, mistakes)
    if mistakes.found:
        order = {key: k for k, key in enumerate(raw)}
        raise StudyError(name, sorted(mistakes.found, key=lambda mistake: order.get(_top_key(mistake), len(order))))
    assert study is not None, "a study without mistakes is complete"
    return study


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
    roads, road_names = read_roads(top)
    loaded = any(load.masses for load in loads.loads)
    conditions = read_conditions(top, road_names, loads, mistakes)
    whole = not any(_top_key(mistake) in _CONDITIONS for mistake in mistakes.found)
    vehicle = (
        read_vehicle(raw["vehicle"], mistakes, loaded=loaded, folder=Path(name).parent) if "vehicle" in raw else None
    )
    search, workers = read_search(top, mistakes, response), read_workers(top, mistakes)
    if vehicle is None:
        return None
    if not vehicle.ranges:
        mistakes.add("vehicle", "no quantity has a range, so there is nothing to choose", "at least one range")
    present, outside = read_present(top, vehicle.variables, vehicle.ranges, mistakes)
    model = model_of(vehicle.model, vehicle.corner)
    kinds = {road.name: _kind(road) for road in roads}
    setting = Setting(model, seats, loads, road_names, conditions, vehicle.known, response, kinds, whole)
    objectives = read_objectives(top, setting)
    constraints = read_constraints(top, setting, objectives)
    measures = [item.measure for item in objectives] + [item.measure for item in constraints]
    _check_labels(measures, mistakes)
    if whole:
        _check_idle(vehicle, measures, mistakes)
        _check_run_out(vehicle, roads, conditions, measures, mistakes)
    if mistakes.found:
        return None
    notes = (*vehicle.notes, *_unused_seats(vehicle, seats), *outside)
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
        notes=notes,
        reference=loads.reference,
        tables=vehicle.tables,
    )


def _check_labels(measures: list[Measure], mistakes: Mistakes) -> None:
    """Equal labels mean equal measures, unless names of loads or roads play tricks."""
    first: dict[str, Measure] = {}
    for measure in measures:
        if first.setdefault(measure.label, measure) != measure:
            found = f"two different figures would be called {shown(measure.label)}"
            mistakes.add("constraint", found, "names of loads and roads that tell them apart")


def _check_idle(vehicle: Vehicle, measures: list[Measure], mistakes: Mistakes) -> None:
    """Note ranges of quantities that only some criteria look at, where none of those is asked for."""
    looking = {row.name: row.needs for row in CRITERIA.values()}
    for path in vehicle.ranges:
        axle, _, name = path.rpartition(".")
        if name not in LOOKED_AT:
            continue
        users = [item for item in measures if name in looking[item.criterion]]
        if not any(not axle or item.place in (None, axle) for item in users):
            criteria = " or ".join(key for key, row in looking.items() if name in row)
            mistakes.add(f"vehicle.{path}", "a range that no objective or constraint looks at", f"with {criteria} only")


def _check_run_out(
    vehicle: Vehicle,
    roads: tuple[AnyRoad, ...],
    conditions: tuple[Condition, ...],
    measures: list[Measure],
    mistakes: Mistakes,
) -> None:
    """Note roads that end before the second over which residual pitch is taken."""
    counted = sorted({c for item in measures if item.criterion == "residual_pitch" for c in item.conditions})
    patch, wheelbase = vehicle.fixed.get("contact_patch", 0.0), vehicle.fixed.get("wheelbase")
    for c in counted:
        road, speed = roads[conditions[c].road], conditions[c].speed
        if isinstance(road, Obstacle) and not shows_the_second_after(road, speed, patch, wheelbase):
            key = f"road[{conditions[c].road + 1}].{'run_out' if road.road_length is None else 'road_length'}"
            needed = 0.5 * patch + (wheelbase or 0.0) + speed
            found = f"too short at {conditions[c].name}: residual_pitch takes the second after the rear axle has passed"
            mistakes.add(key, found, f"{needed:.4g} m or more behind the obstacle")


def _response(top: Page) -> Response:
    word = top.word("response")
    if word == "time-domain":
        return "time-domain"
    return "auto" if word == "auto" else "frequency-domain"


def _kind(road: AnyRoad) -> RoadKind:
    if isinstance(road, Obstacle):
        return "single" if road.count == 1 else "train"
    return "random"


def _unused_seats(vehicle: Vehicle, seats: tuple[Seat, ...]) -> tuple[str, ...]:
    if vehicle.model == "quarter-car" and seats:
        return ("seats are not used by the quarter car: comfort is worked out where the body stands on its corner",)
    return ()
