"""Stops and anti-roll bars for the workshop."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from ridefront.criteria.ride import Place
from ridefront.report.sheet.lines import NOT_GIVEN, Block, Cell, Line, name_of, per_cent, table_of, tenths
from ridefront.report.sheet.setup import Rest, Setup
from ridefront.report.sheet.springs import axle_of, tolerated
from ridefront.report.words import Table, number
from ridefront.vehicle.elements import PROGRESSION_DEPTH

LAW = "A stop that is squeezed by d mm pushes with rate × d × (1 + p × d / 100); at metal contact d is largest."


def stops(setup: Setup) -> Block:
    """Bump and rebound stops: gaps, rates, what is left to metal, packers."""
    tables = [
        table
        for name in ("bump", "rebound")
        for table in table_of(setup, f"{name.capitalize()} stop", _lines(setup, name))
    ]
    notes = [
        "To metal: how far the stop can be squeezed, from first touch to the end of travel. Gaps at the wheel under a "
        "load count from where that load puts the wheel, of two wheels the nearer one; below zero the stop carries. On "
        "a beam axle they are taken at its springs.",
        *((LAW,) if any(gap(setup.rest, axle, name) is not None for axle, name in _both(setup)) else ()),
        *(note for axle, name in _both(setup) for note in _packer(setup, axle, name)),
    ]
    notes += [note for axle in setup.axles for note in _assumed(setup, axle)]
    return Block("3. Stops", tuple(tables), tuple(notes))


def _both(setup: Setup) -> tuple[tuple[str, str], ...]:
    """Every axle with "bump" and with "rebound"."""
    return tuple((axle, name) for axle in setup.axles for name in ("bump", "rebound"))


def _assumed(setup: Setup, axle: str) -> Iterator[str]:
    """What the study does not give of an axle's stops."""
    known = [name for name in ("bump", "rebound") if gap(setup.rest, axle, name) is not None]
    if known and setup.rest.value(f"{axle}.stop_ratio") is None:
        yield f"Assumed, not in the study: {axle} stops move as far as the damper does."
    for name in known:
        if f"{axle}.{name}_stop_progression" not in setup.study.given:
            yield f"Assumed, not in the study: the rate of the {axle} {name} stop stays the same at any depth."


def stop_ratio(rest: Rest, axle: str) -> float:
    """Stop travel over wheel travel."""
    own = rest.value(f"{axle}.stop_ratio")
    ratio = rest.value(f"{axle}.damper_ratio") if own is None else own
    assert ratio is not None, "an axle has a damper ratio"
    return ratio


def gap(rest: Rest, axle: str, name: str) -> float | None:
    """Of a stop at design height, at the stop; m, None where the study gives no such stop."""
    return rest.value(f"{axle}.{name}_clearance")


def to_metal(rest: Rest, axle: str, name: str) -> float | None:
    """From where the stop touches to the end of travel, at the wheel; m, None where the study gives one of the two
    not.
    """
    clear, end = gap(rest, axle, name), rest.value(f"{axle}.{name}_travel")
    return None if clear is None or end is None else end - clear / stop_ratio(rest, axle)


def _lines(setup: Setup, name: str) -> list[Line]:
    study = setup.study

    def of(figure: Callable[[Rest, str], float | None], factor: float = 1.0) -> Callable[[Rest, Place], Cell]:
        def cell(rest: Rest, place: Place) -> Cell:
            value = figure(rest, axle_of(rest, place))
            return None if value is None else value * factor

        return cell

    def key(word: str) -> Callable[[Rest, str], float | None]:
        def value(rest: Rest, axle: str) -> float | None:
            return rest.value(f"{axle}.{name}_{word}") if gap(rest, axle, name) is not None else None

        return value

    def at_wheel(rest: Rest, axle: str) -> float | None:
        clear = gap(rest, axle, name)
        return None if clear is None else clear / stop_ratio(rest, axle)

    def at_stop_to_metal(rest: Rest, axle: str) -> float | None:
        left = to_metal(rest, axle, name)
        return None if left is None else left * stop_ratio(rest, axle)

    def under(load: int) -> Callable[[Rest, Place], Cell]:
        sign = 1.0 if name == "bump" else -1.0

        def cell(rest: Rest, place: Place) -> Cell:
            clear, axle = at_wheel(rest, axle_of(rest, place)), axle_of(rest, place)
            wheels = setup.wheels(axle) if place.name == axle else (place.at,)
            nearest = max(sign * float(rest.states[load].travel[0, c]) for c in wheels)
            return None if clear is None else 1e3 * (clear - nearest)

        return cell

    def at_contact(rest: Rest, place: Place) -> Cell:
        axle = axle_of(rest, place)
        rate, depth = key("stop_rate")(rest, axle), at_stop_to_metal(rest, axle)
        if rate is None or depth is None:
            return None
        progression = key("stop_progression")(rest, axle) or 0.0
        # The slope of rate d (1 + progression d / 100 mm).
        return "not reached" if depth < 0 else rate / 1e3 * (1 + 2 * progression * depth / PROGRESSION_DEPTH)

    def tolerance(rest: Rest, place: Place) -> Cell:
        return tolerated(study, f"{axle_of(rest, place)}.{name}_clearance")

    return [
        Line("gap at design height, at the stop", "mm", of(lambda r, a: gap(r, a, name), 1e3), "difference"),
        Line("its tolerance", "", tolerance, ""),
        Line("gap at design height, at the wheel", "mm", of(at_wheel, 1e3), "difference"),
        *(
            Line(f"gap at the wheel, load {name_of(load.name)}", "mm", under(k), "difference")
            for k, load in enumerate(study.loads)
            if k != study.reference
        ),
        Line("rate of the stop where it touches", "N/mm", of(key("stop_rate"), 1e-3)),
        Line("its progression p, see below", "", of(key("stop_progression"))),
        Line("rate of the stop at metal contact", "N/mm", at_contact),
        Line("to metal, at the stop", "mm", of(at_stop_to_metal, 1e3), "difference"),
        Line("to metal, at the wheel", "mm", of(lambda r, a: to_metal(r, a, name), 1e3), "difference"),
    ]


def _packer(setup: Setup, axle: str, name: str) -> tuple[str, ...]:
    """What to put under a stop, or take away, to come from the present gap to this one."""
    now = setup.rest_now
    if now is None:
        return ()
    before, after = gap(now, axle, name), gap(setup.rest, axle, name)
    if before is None or after is None:
        return ()
    off = 1e3 * (before - after)
    where = f"{axle.capitalize()} {name} stop"
    if abs(off) < 0.05:
        return (f"{where}: packer as it is.",)
    return (f"{where}: a packer {tenths(abs(off))} mm {'thicker' if off > 0 else 'thinner'} than the present one.",)


def bars(setup: Setup) -> Block:
    """Anti-roll bars: rate, and how thick the bar is beside the present one."""
    title = "4. Anti-roll bars"
    if setup.study.model != "full-car":
        return Block(title, (), (f"Not in this model: left and right wheels move alike ({setup.study.model}).",))
    now = setup.rest_now
    heads: tuple[str, ...] = ("", "rate at the wheel N/mm", "rate of the axle N·m/deg", "tolerance")
    if now is not None:
        heads += ("present N·m/deg", "change", "diameter, times the present one")
    rows = []
    for axle in setup.axles:
        rate = setup.rest.value(f"{axle}.anti_roll_rate")
        tolerance = tolerated(setup.study, f"{axle}.anti_roll_rate") or NOT_GIVEN
        cells = [axle, number(None if rate is None else rate / 1e3), number(bar_rate(setup.rest, axle)), tolerance]
        if now is not None:
            before, after = bar_rate(now, axle), bar_rate(setup.rest, axle)
            thicker = "no bar" if after == 0 else "no bar today" if before == 0 else number((after / before) ** 0.25, 4)
            cells += [number(before), per_cent(before, after), thicker]
        rows.append(tuple(cells))
    notes = (
        "Rate of the axle: moment for each degree of roll, wheels on the ground. The diameter is that of a solid bar "
        "of the same shape and steel, by the fourth root of the rate.",
    )
    return Block(title, (Table("", heads, tuple(rows), 1),), notes)


def bar_rate(rest: Rest, axle: str) -> float:
    """Roll stiffness of an axle's anti-roll bar, k_b t²; N·m/deg."""
    rate, track = rest.value(f"{axle}.anti_roll_rate"), rest.value(f"{axle}.track")
    return 0.0 if rate is None or track is None else float(np.radians(rate * track**2))
