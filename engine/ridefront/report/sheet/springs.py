"""Springs for the workshop: what to order and how long it is."""

from __future__ import annotations

import numpy as np

from ridefront.criteria.ride import Place
from ridefront.report.at_rest import spring_load
from ridefront.report.sheet.lines import Block, Cell, Line, changes, name_of, objective_heads, table_of, tenths
from ridefront.report.sheet.setup import Rest, Setup
from ridefront.report.sheet.trials import Trial
from ridefront.report.words import number, quantity
from ridefront.study.model import Study
from ridefront.vehicle.elements import AxleKeys, Element, damper, spring
from ridefront.vehicle.laws import Hinge, Law


def law_of(element: Element) -> Law:
    """One axle's element, of one design, as a law with arrays (1, 1)."""
    slope, hinges = element
    return Law(
        slope[:, np.newaxis],
        tuple(
            Hinge(item.sign, item.start[:, np.newaxis], item.rate[:, np.newaxis], item.growth[:, np.newaxis])
            for item in hinges
        ),
    )


def itself(study: Study, rest: Rest, axle: str, part: str) -> Law:
    """The law of a spring or a damper itself, not at the wheel: force against its own travel or speed.

    Args:
        study: the study.
        rest: the setup.
        axle: whose.
        part: "spring" or "damper".
    """
    one = {f"{axle}.{part}_ratio": np.ones(1)}
    keys = AxleKeys({**rest.values, **one}, axle, study.points)
    return law_of(spring(keys) if part == "spring" else damper(keys))


def axle_of(rest: Rest, place: Place) -> str:
    """The axle of a place."""
    return rest.design.model.axles[place.at]


def rate_key(study: Study, axle: str) -> str:
    """The quantity that says how stiff an axle's springs are: their rate, or the scale of their measured curve."""
    measured = f"{axle}.spring_table" in study.points
    return f"{axle}.spring_scale" if measured else f"{axle}.spring_rate"


def deflection(study: Study, rest: Rest, place: Place) -> float:
    """How far a spring is compressed at design height, from its free length; m, at the spring. NaN where the gas in the
    damper alone carries the load.
    """
    load = spring_load(rest.design, place.at, rest.values)
    if load <= 0:
        return float("nan")
    law = itself(study, rest, axle_of(rest, place), "spring")
    return -float(law.inverse(np.array([[-load]]))[0, 0])


def springs(setup: Setup, trials: tuple[Trial, ...]) -> Block:
    """Springs: rate, load at design height, length, and the nearest ones in the catalogue."""
    study = setup.study

    def rate(rest: Rest, place: Place) -> Cell:
        return float(itself(study, rest, axle_of(rest, place), "spring").slope_at(np.zeros((1, 1)))[0, 0]) / 1e3

    def wheel_rate(rest: Rest, place: Place) -> Cell:
        ratio = rest.value(f"{axle_of(rest, place)}.spring_ratio")
        slope = rate(rest, place)
        assert isinstance(slope, float), "a spring has a rate"
        return slope * (1.0 if ratio is None else ratio) ** 2

    def scale(rest: Rest, place: Place) -> Cell:
        return rest.value(f"{axle_of(rest, place)}.spring_scale")

    def tolerance(rest: Rest, place: Place) -> Cell:
        return tolerated(study, rate_key(study, axle_of(rest, place)))

    def load(rest: Rest, place: Place) -> Cell:
        return spring_load(rest.design, place.at, rest.values)

    def free(rest: Rest, place: Place) -> Cell:
        return 1e3 * deflection(study, rest, place)

    lines = [
        Line("rate of the spring at design height", "N/mm", rate, digits=4),
        Line("its tolerance", "", tolerance, ""),
        Line("rate at the wheel, spring alone", "N/mm", wheel_rate),
        Line("load of one spring at design height", "N", load, digits=4),
        Line("compressed by, from free length to design height", "mm", free, "difference", 4),
    ]
    if any(f"{axle}.spring_table" in study.points for axle in setup.axles):
        lines.insert(1, Line("times the measured curve of the study", "", scale))
    notes = [_length(setup, place) for place in setup.places(study.reference)] if setup.rest_now is not None else []
    notes += [note for axle in setup.axles for note in (*_beyond(setup, axle), *_catalogue(setup, axle, trials))]
    notes += [
        f"Assumed, not in the study: the {axle} spring moves as far as its wheel."
        for axle in setup.axles
        if f"{axle}.spring_ratio" not in study.given
    ]
    if not study.catalogue:
        notes.append("Nearest spring in a catalogue: no catalogue in the study.")
    reference = name_of(study.loads[study.reference].name)
    title = f'Design height is that under the load "{reference}"; springs are chosen so that it stays what it is'
    return Block("1. Springs", table_of(setup, title, lines), tuple(notes))


def tolerated(study: Study, path: str) -> str | None:
    """The tolerance of a quantity as people write it; None where the study gives none."""
    if study.scatter is None or path not in study.scatter.tolerances:
        return None
    return f"± {100 * study.scatter.tolerances[path]:.6g} %"


def _length(setup: Setup, place: Place) -> str:
    """Free length against the present spring's, in a sentence."""
    assert setup.rest_now is not None, "asked only beside a present setup"
    off = deflection(setup.study, setup.rest, place) - deflection(setup.study, setup.rest_now, place)
    name = f"Free length, {place.name.replace('_', ' ')}"
    if not np.isfinite(off):
        return f"{name}: not known, because the gas in the damper alone carries the load."
    if abs(off) < 5e-5:
        return f"{name}: as the present spring."
    way = "longer" if off > 0 else "shorter"
    return f"{name}: {tenths(abs(off) * 1e3)} mm {way} than the present spring, with its seats where they are."


def _beyond(setup: Setup, axle: str) -> tuple[str, ...]:
    """Where a measured curve ends before the spring is free."""
    points = setup.study.points.get(f"{axle}.spring_table")
    if points is None:
        return ()
    place = next(item for item in setup.places(setup.study.reference) if item.at in setup.wheels(axle))
    free = deflection(setup.study, setup.rest, place)
    if not np.isfinite(free) or free <= -points.x[0]:
        return ()
    return (f"Free length, {axle}: beyond the measured curve of the study, which goes on with its last slope.",)


def _catalogue(setup: Setup, axle: str, trials: tuple[Trial, ...]) -> tuple[str, ...]:
    """The nearest spring in the catalogue, and what it changes."""
    study, path = setup.study, rate_key(setup.study, axle)
    if not study.catalogue:
        return ()
    if path not in study.catalogue:
        return (f"Nearest in the catalogue, {quantity(path)}: not in the catalogue of the study.",)
    own = [item for item in trials if item.kind == "catalogue" and item.path == path]
    if not own:
        return (f"Nearest in the catalogue, {quantity(path)}: no part within the range of the study.",)
    nearest = min(own, key=lambda item: abs(item.after - item.before))
    said = f"Nearest in the catalogue, {quantity(path)}: {nearest.after:.6g} {nearest.unit}".rstrip()
    if nearest.after == nearest.before:
        return (f"{said}, which is this one.",)
    heads = objective_heads(study)
    if nearest.failed:
        return (f"{said} in place of {number(nearest.before, 4)}: {nearest.failed}.",)
    what = ", ".join(f"{n} {c}" for n, c in zip(heads, changes(study, nearest.base, nearest.values), strict=True))
    return (f"{said} in place of {number(nearest.before, 4)}: {what}{nearest.limits}.",)
