"""Seats, loads, roads, and the conditions that they make: which road at which speed under which load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from ridefront.road import CLASSES, AnyRoad, Road
from ridefront.road.iso8608 import BAND
from ridefront.study.measured import MEASURED_KEYS, read_measured
from ridefront.study.model import Condition, RoadFile
from ridefront.study.obstacles import OBSTACLE_KEYS, read_obstacle
from ridefront.study.page import Mistakes, Page, Quantity, shown
from ridefront.vehicle import Load, LoadMass, Seat

PLACES = frozenset(
    ["front", "rear", "body", "vehicle", "left", "right", "front_left", "front_right", "rear_left", "rear_right"]
)
"""Names of places that a seat must not take away."""

RANDOM_KEYS = ("class", "roughness", "waviness", "band", "tracks")
"""Keys of ``[[road]]`` that are a random road's alone."""

_OWN_KEYS = {
    "iso8608": (RANDOM_KEYS, "a random road"),
    "obstacle": (OBSTACLE_KEYS, "an obstacle"),
    "measured": (MEASURED_KEYS, "a measured road"),
}

AS_GIVEN = "kerb"
"""Name of the body as given, where loads stand in the file and none is the reference."""

SUFFIXES = frozenset(["se", "difference", "held_out"])
"""What results put behind a figure's name for what belongs to it."""


@dataclass(frozen=True)
class Loads:
    """States of loading.

    Attributes:
        loads: never empty.
        reference: index of the reference.
        implied: whether the last one is the body as given, added because the file marks no reference.
    """

    loads: tuple[Load, ...]
    reference: int
    implied: bool = False


def read_seats(top: Page) -> tuple[Seat, ...]:
    """Every ``[[seat]]``."""
    seats = []
    pages = top.tables("seat", "seat")
    for page, name in zip(pages, _names(pages, "seat"), strict=True):
        if name in PLACES:
            page.note("name", f"{shown(name)} is a place of its own", "any other name")
        elif name is not None and name.rpartition(".")[2] in SUFFIXES:
            page.note("name", f"{shown(name)} would read like a column that results have", "any other name")
        behind, height, left = (page.quantity(key) for key in ("behind_front_axle", "height", "left_of_centre"))
        if name is not None and behind is not None and left is not None:
            high = None if height is None else float(height.si)
            seats.append(Seat(name, float(behind.si), high, float(left.si)))
    return tuple(seats)


def read_loads(top: Page) -> Loads:
    """Every ``[[load]]``, and the body as given where it is the reference."""
    pages = top.tables("load", "load")
    if not pages:
        return Loads((Load("", reference=True),), 0)
    loads = []
    marked: list[int] = []
    for i, (page, name) in enumerate(zip(pages, _names(pages, "load"), strict=True)):
        if page.flag("reference"):
            if marked:
                page.note("reference", "a second reference load", "true for one load at most")
            marked.append(i)
        masses = [_mass(item) for item in page.tables("masses", "load.masses")]
        known = tuple(mass for mass in masses if mass is not None)
        loads.append(Load(name or f"load {i + 1}", known, bool(marked) and marked[-1] == i))
    if marked:
        return Loads(tuple(loads), marked[0])
    for i, load in enumerate(loads):
        if load.name == AS_GIVEN:
            if load.masses:
                hint = f'without one it would be the body as given, called "{AS_GIVEN}" like this load'
                pages[i].note("name", "no load is marked as the reference", "reference = true in one load", hint)
            return Loads(tuple(loads), i)
    return Loads((*loads, Load(AS_GIVEN, reference=True)), len(loads), implied=True)


def _mass(page: Page) -> LoadMass | None:
    names = ("mass", "behind_front_axle", "length", "left_of_centre")
    mass, behind, length, left = (page.quantity(name) for name in names)
    if mass is None or behind is None or length is None or left is None:
        return None
    return LoadMass(float(mass.si), float(behind.si), float(length.si), float(left.si))


@dataclass(frozen=True)
class Roads:
    """Roads of a study.

    Attributes:
        roads: those without a mistake; names: of all; both in the order of the file.
        files: of measured roads, by index among `roads`.
    """

    roads: tuple[AnyRoad, ...]
    names: tuple[str, ...]
    files: dict[int, RoadFile]


def read_roads(top: Page, folder: Path) -> Roads:
    """Every ``[[road]]``; paths of measured ones begin in the folder."""
    roads: list[AnyRoad] = []
    files: dict[int, RoadFile] = {}
    pages = top.tables("road", "road")
    names = _names(pages, "road")
    for page, name in zip(pages, names, strict=True):
        kind = page.word("kind")
        road: AnyRoad | None = None
        if kind is not None:
            _note_others(page, kind)
        if kind == "measured":
            read = read_measured(page, name, folder)
            if read is not None:
                road, files[len(roads)] = read
        elif kind is not None:
            road = read_obstacle(page, name) if kind == "obstacle" else _random_road(page, name)
        if road is not None:
            roads.append(road)
    return Roads(tuple(roads), tuple(name for name in names if name is not None), files)


def _note_others(page: Page, kind: str) -> None:
    """Note the keys of other kinds of road."""
    for other, (keys, _) in _OWN_KEYS.items():
        for name in keys if other != kind else ():
            if name in page:
                page.note(name, f"given for {_OWN_KEYS[kind][1]}", f'with kind = "{other}" only')


def _random_road(page: Page, name: str | None) -> Road | None:
    roughness, waviness = _roughness(page)
    band, length = _band(page), page.quantity("length")
    before = len(page.mistakes.found)
    realisations = page.whole("realisations") if "realisations" in page else Road.realisations
    tracks = page.word("tracks")
    wrong = len(page.mistakes.found) > before or ("length" in page and length is None)
    if wrong or name is None or roughness is None or waviness is None or band is None:
        return None
    metres = Road.length if length is None else float(length.si)
    return Road(name, roughness, waviness, band, metres, realisations, "equal" if tracks == "equal" else "isotropic")


def _roughness(page: Page) -> tuple[float | None, float | None]:
    """Roughness, m³, and waviness of a road."""
    letter, rough, waviness = page.word("class"), page.quantity("roughness"), page.quantity("waviness")
    if "class" in page:
        for name in ("roughness", "waviness"):
            if name in page:
                page.note(name, "given beside class", "class, or roughness with or without waviness")
        return (CLASSES[letter] if letter is not None else None), 2.0
    if "roughness" not in page:
        page.note("class", "missing", "a class from A to H, or roughness with or without waviness")
    return (None if rough is None else float(rough.si)), (None if waviness is None else float(waviness.si))


def _band(page: Page) -> tuple[float, float] | None:
    if "band" not in page:
        return BAND
    band = page.pair("band")
    if band is None:
        return None
    if band[0].si >= band[1].si:
        page.note("band", f"{shown(page.table['band'])} is not in order", "[lowest, highest]")
        return None
    return float(band[0].si), float(band[1].si)


def read_conditions(top: Page, roads: Sequence[str], loads: Loads, mistakes: Mistakes) -> tuple[Condition, ...]:
    """Every condition that ``[[condition]]`` makes: a list of speeds or loads makes one each, sharing the weight.

    Args:
        top: the file.
        roads: their names.
        loads: as read.
        mistakes: where they go.
    """
    names = [load.name for load in loads.loads]
    known = names if names != [""] else []
    obstacles = _with_obstacles(top)
    found: dict[tuple[int, int, Fraction], Condition] = {}
    for page in top.tables("condition", "condition"):
        road, speeds, weight = page.names("road", roads, "road"), page.quantities("speed"), page.quantity("weight")
        under = page.names("load", known, "load") if "load" in page else (names[loads.reference],)
        if road is None or speeds is None or weight is None or under is None:
            continue
        if len(road) > 1:
            page.note("road", f"{shown(page.table['road'])} stands here", "the name of one road")
            continue
        exposure = page.quantity("exposure")
        if "exposure" in page and road[0] in obstacles:
            hint = "a dose on obstacles is of one passage"
            page.note("exposure", "given for a road with obstacles", "no such key", hint)
        share = weight.si / (len(speeds) * len(under))
        for speed in speeds:
            for load in under:
                key = (roads.index(road[0]), names.index(load), speed.si)
                name = f"{road[0]} @ {_spoken(speed)}{f', {load}' if load else ''}"
                if key in found:
                    mistakes.add(page.path, f"{shown(name)} is there already", "each road, speed and load once")
                    continue
                driven = None if exposure is None else float(exposure.si)
                found[key] = Condition(name, key[0], key[1], float(speed.si), float(share), driven)
    conditions = tuple(found.values())
    _check_distinct(conditions, mistakes)
    return conditions


def _with_obstacles(top: Page) -> frozenset[str]:
    """Names of the roads with obstacles, those with mistakes too."""
    raw = top.table.get("road")
    tables = [item for item in raw if isinstance(item, dict)] if isinstance(raw, list) else []
    return frozenset(str(item.get("name")) for item in tables if item.get("kind") == "obstacle")


def _spoken(speed: Quantity) -> str:
    return f"{speed.written} m/s" if speed.plain else speed.written


def _check_distinct(conditions: Sequence[Condition], mistakes: Mistakes) -> None:
    """Different conditions have different names, unless names of roads or loads play tricks."""
    names = [condition.name for condition in conditions]
    for name in sorted({name for name in names if names.count(name) > 1}):
        mistakes.add("condition", f"two conditions would be called {shown(name)}", "names that tell them apart")


def _names(pages: Sequence[Page], what: str) -> list[str | None]:
    """The name of each table; a name that is there twice is noted."""
    names: list[str | None] = []
    for page in pages:
        name = page.text("name")
        if name is not None and name in names:
            page.note("name", f"a second {what} is called {shown(name)}", "each name once")
        names.append(name)
    return names
