"""Seats, loads, roads, and the conditions that they make: which road at which speed under which load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ridefront.road import CLASSES, Road
from ridefront.road.iso8608 import BAND
from ridefront.study.model import Condition
from ridefront.study.page import Mistakes, Page, Quantity, shown
from ridefront.vehicle import Load, LoadMass, Seat

PLACES = frozenset(
    ["front", "rear", "body", "vehicle", "left", "right", "front_left", "front_right", "rear_left", "rear_right"]
)
"""Names of places that a seat must not take away."""

AS_GIVEN = "kerb"
"""Name of the body as given, where loads stand in the file and none is the reference."""


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
        behind, height = page.quantity("behind_front_axle"), page.quantity("height")
        if name is not None and behind is not None:
            seats.append(Seat(name, float(behind.si), None if height is None else float(height.si)))
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
    mass, behind, length = (page.quantity(name) for name in ("mass", "behind_front_axle", "length"))
    if mass is None or behind is None or length is None:
        return None
    return LoadMass(float(mass.si), float(behind.si), float(length.si))


def read_roads(top: Page) -> tuple[tuple[Road, ...], tuple[str, ...]]:
    """Every ``[[road]]`` without a mistake, and the names of all."""
    roads = []
    pages = top.tables("road", "road")
    names = _names(pages, "road")
    for page, name in zip(pages, names, strict=True):
        page.word("kind")
        roughness, waviness = _roughness(page)
        band, length = _band(page), page.quantity("length")
        if name is not None and roughness is not None and waviness is not None and band and length is not None:
            roads.append(Road(name, roughness, waviness, band, float(length.si)))
    return tuple(roads), tuple(name for name in names if name is not None)


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
    found: dict[tuple[int, int, Fraction], Condition] = {}
    for page in top.tables("condition", "condition"):
        road, speeds, weight = page.names("road", roads, "road"), page.quantities("speed"), page.quantity("weight")
        under = page.names("load", known, "load") if "load" in page else (names[loads.reference],)
        if road is None or speeds is None or weight is None or under is None:
            continue
        if len(road) > 1:
            page.note("road", f"{shown(page.table['road'])} stands here", "the name of one road")
            continue
        share = weight.si / (len(speeds) * len(under))
        for speed in speeds:
            for load in under:
                key = (roads.index(road[0]), names.index(load), speed.si)
                name = f"{road[0]} @ {_spoken(speed)}{f', {load}' if load else ''}"
                if key in found:
                    mistakes.add(page.path, f"{shown(name)} is there already", "each road, speed and load once")
                    continue
                found[key] = Condition(name, key[0], key[1], float(speed.si), float(share))
    conditions = tuple(found.values())
    _check_distinct(conditions, mistakes)
    return conditions


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
