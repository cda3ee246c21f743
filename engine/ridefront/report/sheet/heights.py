"""How the vehicle sits: heights at the wheel arch, loads on the scales, tyres."""

from __future__ import annotations

from ridefront.criteria import standing
from ridefront.criteria.ride import Place
from ridefront.report.sheet.lines import NOT_GIVEN, Block, Line, name_of, signed_tenths, table_of, tenths
from ridefront.report.sheet.setup import Rest, Setup
from ridefront.report.sheet.springs import axle_of, tolerated
from ridefront.report.words import Table, number
from ridefront.vehicle.sides import PAIRS
from ridefront.vehicle.static import GRAVITY


def heights(setup: Setup) -> Block:
    """Heights and loads under every load of the study, and what is assumed of the tyres."""
    study, rows = setup.study, []
    heads = ["load", "", "above design height mm"]
    heads += ["above the present setup mm"] if setup.rest_now is not None else []
    heads += ["axle load kg", "wheel load N"]
    for load, item in enumerate(study.loads):
        name = name_of(item.name) + (" (design)" if load == study.reference else "")
        for place in setup.places(load):
            cells = [name, place.name.replace("_", " "), tenths(-1e3 * sink(setup.rest, load, place))]
            if setup.rest_now is not None:
                cells.append(signed_tenths(1e3 * raised(setup.rest, setup.rest_now, load, place)))
            contact = setup.rest.states[load].contact_force[0]
            wheels = PAIRS[place.at // 2] if len(contact) == 4 else (place.at, place.at)
            axle = sum(float(contact[c]) for c in wheels) / GRAVITY
            rows.append((*cells, number(axle, 4), number(float(contact[place.at]), 4)))
    notes = (
        "Heights are those of the body above the ground over the wheel, as measured at the wheel arch, tyre included. "
        "Springs keep the design height; what moves there against the present setup is the tyre's doing.",
        *(() if _has(setup, "kerb") else ('No load of the study is called "kerb".',)),
        *(() if _has(setup, "gross") else ('No load of the study is called "gross".',)),
    )
    table = Table("", tuple(heads), tuple(rows), 2)
    return Block("5. Heights, loads and tyres", (table, *_tyres(setup)), notes)


def _has(setup: Setup, name: str) -> bool:
    return any(load.name.casefold() == name for load in setup.study.loads)


def sink(rest: Rest, load: int, place: Place) -> float:
    """Of the body above a wheel from design height, tyre included; m."""
    return float(standing.ride_height_change(rest.under(load), place)[0])


def tyre_deflection(rest: Rest, place: Place) -> float:
    """Of a tyre at design height, N0/k_t; m."""
    return float(rest.design.contact_force[0, place.at] / rest.design.tyre_rate[0, place.at])


def raised(rest: Rest, now: Rest, load: int, place: Place) -> float:
    """How much higher the body stands over a wheel than with another setup, under the same load; m."""
    return sink(now, load, place) + tyre_deflection(now, place) - sink(rest, load, place) - tyre_deflection(rest, place)


def _tyres(setup: Setup) -> tuple[Table, ...]:
    lines = [
        Line("tyre size", "", lambda _rest, _place: NOT_GIVEN, ""),
        Line("tyre pressure", "", lambda _rest, _place: NOT_GIVEN, ""),
        Line("vertical rate of the tyre", "N/mm", lambda rest, place: float(rest.design.tyre_rate[0, place.at]) / 1e3),
        Line(
            "its tolerance", "", lambda rest, place: tolerated(setup.study, f"{axle_of(rest, place)}.tyre_rate"), "",
        ),
        Line("deflection at design height", "mm", lambda rest, place: 1e3 * tyre_deflection(rest, place), "difference"),
        Line("unsprung mass of a wheel", "kg", lambda rest, place: float(rest.design.unsprung_mass[0, place.at])),
    ]  # fmt: skip
    return table_of(setup, "Assumed of the tyres and wheels", lines)
