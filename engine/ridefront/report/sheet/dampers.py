"""Dampers for the workshop: what a dyno should read."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import pi

import numpy as np

from ridefront.report.sheet.lines import Block, per_cent
from ridefront.report.sheet.setup import Rest, Setup
from ridefront.report.sheet.springs import itself
from ridefront.report.words import Table, number
from ridefront.study.model import Study

STROKE = 0.1
"""Of a crank dynamometer, m (common practice, no source)."""

TURNS = (10, 25, 50, 100, 200)
"""Per minute, likewise."""

EVEN = "as much in bump as in rebound"
"""An assumption where a study gives no split."""

_QUANTITIES = (
    "damping", "bump_share", "damping_bump", "damping_rebound", "damper_scale", "knee_speed", "knee_share",
    "knee_speed_bump", "knee_share_bump", "knee_speed_rebound", "knee_share_rebound",
)  # fmt: skip


def speed_at(turns: float) -> float:
    """Largest speed of a crank with `STROKE` at so many turns a minute; m/s."""
    return pi * STROKE * turns / 60


def dampers(setup: Setup) -> Block:
    """Dampers: forces at the usual speeds of a crank dynamometer."""
    tables = tuple(_table(setup, axle) for axle in setup.axles)
    notes = [
        "Forces of one damper itself at the damper's own speed, resisting motion; rebound forces are given without "
        f"their sign. Speeds are those of a crank with a stroke of {STROKE * 1e3:g} mm at the turns given.",
        *(note for axle in setup.axles for note in _notes(setup, axle)),
    ]
    if setup.study.scatter is None:
        notes.append("Tolerances of dampers: not in the study.")
    return Block("2. Dampers", tables, tuple(notes))


def force(study: Study, rest: Rest, axle: str, speed: float) -> float:
    """Force of one damper at its own speed, bump positive; N, without gas and friction."""
    return float(itself(study, rest, axle, "damper").force(np.array([[speed]]))[0, 0])


def _table(setup: Setup, axle: str) -> Table:
    now = setup.rest_now
    scattered = any(_tolerances(setup.study, axle))
    change = ("change",) if now is not None else ()
    within = ("within tolerances",) if scattered else ()
    assumed = tuple(_assumed(setup, axle))
    split = "rebound : bump" + (", assumed" if EVEN in assumed else "")
    heads = ("turns per minute", "m/s", "bump N", *within, *change, "rebound N", *within, *change, split)
    rows = []
    for turns in TURNS:
        speed = speed_at(turns)
        cells, forces = [str(turns), f"{speed:.3f}"], []
        for way in (1.0, -1.0):
            here = abs(force(setup.study, setup.rest, axle, way * speed))
            forces.append(here)
            cells.append(number(here))
            if scattered:
                low, high = _ends(setup.study, setup.rest, axle, way * speed)
                cells.append(f"{number(low)} to {number(high)}")
            if now is not None:
                cells.append(per_cent(abs(force(setup.study, now, axle, way * speed)), here))
        cells.append(number(forces[1] / forces[0]) if forces[0] > 0 else "–")
        rows.append(tuple(cells))
    said = f", assumed since the study does not say: {', '.join(assumed)}" if assumed else ""
    return Table(f"{axle.capitalize()} damper{said}", heads, tuple(rows), 0)


def _assumed(setup: Setup, axle: str) -> Iterator[str]:
    """What the study does not give of a damper, and what stands for it."""
    given = setup.study.given
    measured = f"{axle}.damper_table" in setup.study.points
    if not measured and f"{axle}.damping" in given and f"{axle}.bump_share" not in given:
        yield EVEN
    kneed = [way for way in ("bump", "rebound") if given & {f"{axle}.knee_speed", f"{axle}.knee_speed_{way}"}]
    if not measured and len(kneed) < 2:
        yield "no knee" + (f" in {'rebound' if kneed == ['bump'] else 'bump'}" if kneed else "")
    if f"{axle}.damper_ratio" not in given:
        yield "the damper moves as far as its wheel"


def _tolerances(study: Study, axle: str) -> Iterator[tuple[str, float]]:
    """Paths of a damper's quantities that have a tolerance, and it."""
    if study.scatter is not None:
        for key in _QUANTITIES:
            path = f"{axle}.{key}"
            if path in study.scatter.tolerances:
                yield path, study.scatter.tolerances[path]


def _ends(study: Study, rest: Rest, axle: str, speed: float) -> tuple[float, float]:
    """Least and largest force of a damper built within tolerances: at the ends of all of them, since a force rises or
    falls with each of its quantities all along.
    """
    tolerances = list(_tolerances(study, axle))
    found = []
    for signs in product((-1.0, 1.0), repeat=len(tolerances)):
        built = {p: rest.values[p] * (1 + sign * by) for sign, (p, by) in zip(signs, tolerances, strict=True)}
        found.append(abs(force(study, Rest({**rest.values, **built}, rest.states, rest.reference), axle, speed)))
    return min(found), max(found)


def _notes(setup: Setup, axle: str) -> Iterator[str]:
    study = setup.study
    gas = setup.rest.value(f"{axle}.gas_force")
    if f"{axle}.gas_force" in study.given and gas:
        yield (
            f"{axle.capitalize()}: the gas pushes the rod out with {number(gas)} N, left out here: a dyno that "
            "is not set to zero with the gas in reads so much more in bump and so much less in rebound."
        )
    else:
        yield f"{axle.capitalize()}: gas force not in the study, and in none of these figures."
    ratio = setup.rest.value(f"{axle}.damper_ratio")
    if ratio is not None and ratio != 1:
        yield f"{axle.capitalize()}: the damper moves {ratio:.6g} times as far and as fast as its wheel."
    points = study.points.get(f"{axle}.damper_table")
    if points is not None and max(points.x[-1], -points.x[0]) < speed_at(TURNS[-1]):
        yield (
            f"{axle.capitalize()}: the study's measured curve ends at {number(points.x[0])} and "
            f"{number(points.x[-1])} m/s; beyond it goes on with its last slopes."
        )
