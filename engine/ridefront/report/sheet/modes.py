"""How body and wheels swing together: modes, centres, roll."""

from __future__ import annotations

import numpy as np

from ridefront.criteria import CRITERIA, standing
from ridefront.criteria.ride import VEHICLE
from ridefront.report.rolling import damping_at_rest
from ridefront.report.sheet.lines import NOT_GIVEN, Block, name_of
from ridefront.report.sheet.setup import Rest, Setup
from ridefront.report.words import Table, number
from ridefront.vehicle.equations import BouncePitch, bounce_pitch, equations_of_motion, modes
from ridefront.vehicle.sides import PAIRS


def coupled(setup: Setup) -> Block:
    """Modes of the damped vehicle and the classic figures of bounce, pitch and roll, under every load."""
    rows: list[tuple[str, ...]] = [row for load in range(len(setup.study.loads)) for row in _modes(setup, load)]
    heads = ("load", "mode", "frequency Hz", "damping ratio")
    swinging = Table("Modes of the damped vehicle, dampers by the mean of their slopes at rest", heads, tuple(rows), 2)
    notes = [] if len(setup.axles) > 1 else ["One corner: no pitch, no dynamic index, no frequency ratio."]
    notes += [] if setup.study.model == "full-car" else [f"Roll and warp: not in this model ({setup.study.model})."]
    if len(setup.axles) > 1:
        notes.append(
            "Damped, the two ends of the body do not swing in step, so that a mode has no fixed centre; centres are "
            "given of the undamped body."
        )
    notes.append("Dive and squat: not modelled.")
    return Block("7. Coupled modes", (swinging, *_figures(setup)), tuple(notes))


def _modes(setup: Setup, load: int) -> list[tuple[str, ...]]:
    state = setup.rest.states[load]
    name = name_of(state.load)
    if not bool(state.possible[0]):
        return [(name, "the vehicle cannot stand under this load", "–", "–")]
    rows: list[tuple[str, ...]] = []
    for mode in modes(equations_of_motion(state, damping_at_rest(state))):
        overdamped = "over 1, no swing" if mode.damping_ratio >= 1 - 1e-9 else number(mode.damping_ratio)
        rows.append((name, mode.motion, number(mode.frequency), overdamped))
    return rows


def undamped(rest: Rest, load: int) -> BouncePitch:
    """Bounce and pitch of the body on springs and tyres, wheels without mass, under a load; of two axles or more."""
    state = rest.states[load]
    rate, x = state.ride_rate, state.body.x
    if len(state.model.corners) == 4:
        rate = np.stack([rate[:, left] + rate[:, right] for left, right in PAIRS], axis=1)
        x = np.stack([x[:, left] for left, _ in PAIRS], axis=1)
    return bounce_pitch(state.body.mass, state.body.pitch_inertia, x, rate)


def _figures(setup: Setup) -> tuple[Table, ...]:
    """The classic figures, this setup and the present one, a column a load."""
    if len(setup.axles) < 2:
        return ()
    labels = [
        ("lower body mode, undamped", "Hz"),
        ("its centre, behind the front axle", "m"),
        ("higher body mode, undamped", "Hz"),
        ("its centre, behind the front axle", "m"),
        ("rear over front ride frequency", ""),
        ("dynamic index", ""),
    ]
    if setup.study.model == "full-car":
        labels += [("roll gradient", "deg per g"), ("front share of the roll stiffness", "%")]
    columns = []
    for load in range(len(setup.study.loads)):
        after = _column(setup.rest, load)
        before = None if setup.rest_now is None else _column(setup.rest_now, load)
        columns.append([_both(cell, None if before is None else before[k]) for k, cell in enumerate(after)])
    heads = ("", "unit", *(name_of(item.name) for item in setup.study.loads))
    rows = tuple((label, unit, *(column[k] for column in columns)) for k, (label, unit) in enumerate(labels))
    title = "Body on springs and tyres" + (", in brackets the present setup" if setup.rest_now is not None else "")
    return (Table(title, heads, rows, 2),)


def _both(after: str, before: str | None) -> str:
    return after if before is None or after == NOT_GIVEN else f"{after} ({before})"


def _column(rest: Rest, load: int) -> list[str]:
    base = rest.under(load)
    both, centre = undamped(rest, load), float(base.state.body.centre[0])
    found = []
    for k in range(2):
        found += [number(float(both.frequency[0, k])), number(centre - float(both.centre[0, k]))]
    found += [number(float(standing.frequency_ratio(base, VEHICLE)[0])), number(float(both.dynamic_index[0]))]
    if base.state.model.name == "full-car":
        known = all(need in base.parameters for need in CRITERIA["roll_gradient"].needs)
        gradient = float(np.degrees(standing.roll_gradient(base, VEHICLE)[0])) if known else None
        found.append(NOT_GIVEN if gradient is None else number(gradient))
        found.append(number(100 * float(standing.front_roll_share(base, VEHICLE)[0])))
    return found
