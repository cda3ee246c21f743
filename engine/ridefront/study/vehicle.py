"""The file's ``[vehicle]``: its quantities, fixed or with a range, and what its model needs and uses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from ridefront.study.keys import AXLE_WORDS, BODY_SECTIONS, CURVES, FIGURELESS, QUANTITIES
from ridefront.study.model import ModelName, Table, Variable
from ridefront.study.needs import AXLES, changes_nothing, check_alternatives, check_bounds, used_paths
from ridefront.study.page import Mistakes, Page, Quantity
from ridefront.study.ranges import read_ranges
from ridefront.study.tables import read_table


@dataclass(frozen=True)
class Vehicle:
    """What the file says of the vehicle.

    Attributes:
        model, corner, fixed, given, variables, tables, beams: as in `Study`.
        ranges: paths of every range in the file, those with mistakes too.
        notes: keys that the model does not use.
    """

    model: ModelName
    corner: Literal["front", "rear"]
    fixed: dict[str, float]
    given: frozenset[str]
    variables: tuple[Variable, ...]
    tables: dict[str, Table]
    beams: frozenset[str]
    ranges: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def known(self) -> frozenset[str]:
        """Paths of all quantities that have a value or a range."""
        return frozenset(self.fixed) | self.given


def read_vehicle(raw: object, mistakes: Mistakes, *, loaded: bool, folder: Path) -> Vehicle | None:
    """Read and check the vehicle.

    Args:
        raw: the file's ``vehicle``.
        mistakes: where they go.
        loaded: whether the study puts masses on the body.
        folder: of the study file, where paths of tables begin.

    Returns:
        None where even the model is not known.
    """
    page = Page(raw, "vehicle", "vehicle", mistakes)
    pages = {"": page}
    for part, section in BODY_SECTIONS.items():
        if part in page:
            pages[part] = Page(page.table[part], page.at(part), section, mistakes)
    model, corner = page.word("model"), page.word("corner")
    values, ranges = _quantities(pages, mistakes)
    tables = _tables(pages, folder)
    given = frozenset(path for path in (*QUANTITIES, *CURVES, *AXLE_WORDS) if _stands(pages, path))
    given |= frozenset({"kerb_axle_loads"} & set(page.table))
    variables = read_ranges(ranges, mistakes)
    loads = page.pair("kerb_axle_loads")
    kinds = {axle: pages[axle].word("axle") if axle in pages else "independent" for axle in AXLES}
    if model is None or corner is None:
        return None
    axles: tuple[str, ...] = (corner,) if model == "quarter-car" else AXLES
    used = used_paths(model, corner, given, loaded=loaded)
    check_alternatives(model, axles, given, kinds, loaded=loaded, mistakes=mistakes)
    fixed = {path: float(values[path].si) for path in QUANTITIES if path in values and path in used}
    if loads is not None and "kerb_axle_loads" in used:
        fixed |= {f"kerb_axle_loads.{axle}": float(load.si) for axle, load in zip(AXLES, loads, strict=True)}
    friction = {axle: f"{axle}.friction" in ranges or fixed.get(f"{axle}.friction", 0.0) > 0 for axle in axles}
    for path, (key, _) in ranges.items():
        if changes_nothing(path, axles, used, friction):
            allowed = "a plain value, or no such key"
            mistakes.add(key, f"a range on a quantity that changes nothing in this {_spoken(model)}", allowed)
    fixed = _with_defaults(fixed, used, given)
    check_bounds(fixed, variables, mistakes)
    return Vehicle(
        _named(model),
        "rear" if corner == "rear" else "front",
        fixed,
        given,
        tuple(variables.values()),
        {path: table for path, table in tables.items() if path in used},
        frozenset(axle for axle, kind in kinds.items() if kind == "beam" and model == "full-car"),
        tuple(ranges),
        _unused(model, corner, used, given, "corner" in page),
    )


def _named(model: str) -> ModelName:
    if model == "full-car":
        return "full-car"
    return "half-car" if model == "half-car" else "quarter-car"


def _stands(pages: Mapping[str, Page], path: str) -> bool:
    part, _, name = path.rpartition(".")
    return part in pages and name in pages[part]


def _quantities(
    pages: Mapping[str, Page], mistakes: Mistakes
) -> tuple[dict[str, Quantity], dict[str, tuple[str, object]]]:
    """Fixed quantities by path, and what stands where ranges do."""
    values: dict[str, Quantity] = {}
    ranges: dict[str, tuple[str, object]] = {}
    for path, row in QUANTITIES.items():
        if not _stands(pages, path):
            continue
        part, _, name = path.rpartition(".")
        page = pages[part]
        if not isinstance(page.table[name], dict):
            quantity = page.quantity(name)
            if quantity is not None:
                values[path] = quantity
        elif row.varies:
            ranges[path] = (page.at(name), page.table[name])
        elif name in FIGURELESS:
            page.note(name, "a range on a quantity that changes nothing in how a design rides", "one value")
        else:
            page.note(name, "a range stands here", "one value: it shapes the road at a wheel, which all designs share")
    return values, ranges


def _tables(pages: Mapping[str, Page], folder: Path) -> dict[str, Table]:
    """Every table of measured points that is right, by path."""
    tables: dict[str, Table] = {}
    for path in CURVES:
        part, _, name = path.rpartition(".")
        table = read_table(pages[part], name, folder) if _stands(pages, path) else None
        if table is not None:
            tables[path] = table
    return tables


def _with_defaults(fixed: dict[str, float], used: frozenset[str], given: frozenset[str]) -> dict[str, float]:
    """Defaults of the quantities that the model uses, in the table's order."""
    filled = {
        path: fixed[path] if path in fixed else float(row.default or 0.0)
        for path, row in QUANTITIES.items()
        if path in fixed or (path in used and path not in given and row.default is not None)
    }
    return filled | fixed


def _spoken(model: str) -> str:
    return model.replace("-", " ")


def _unused(model: str, corner: str, used: frozenset[str], given: frozenset[str], named: bool) -> tuple[str, ...]:
    names = sorted(given - used, key=[*QUANTITIES, *CURVES, *AXLE_WORDS, "kerb_axle_loads"].index)
    names += ["corner"] if named and model != "quarter-car" else []
    if not names:
        return ()
    which = f"{corner} {_spoken(model)}" if model == "quarter-car" else _spoken(model)
    return (f"given but not used by the {which}: {', '.join(names)}",)
