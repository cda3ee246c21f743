"""The vehicle at rest as `check` prints it: figures that an engineer knows by heart and recognises a wrong input by."""

from __future__ import annotations

import numpy as np

from ridefront.report.words import Table, number, quantity, unit
from ridefront.study.model import Study
from ridefront.study.space import decode, parameters
from ridefront.vehicle.body import model_of
from ridefront.vehicle.elements import Parameters
from ridefront.vehicle.equations import bounce_pitch
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import GRAVITY, AtRest, at_rest


def setup_in_hand(study: Study) -> tuple[Array, str]:
    """The present setup (1, d) in the variables' units and what to call it, or the middle of the ranges where there
    is none.
    """
    if study.present is not None:
        return study.present[np.newaxis, :], "present setup"
    return decode(study, np.full((1, len(study.variables)), 0.5)), "middle of the ranges"


def design_space(study: Study) -> Table:
    """The design variables: range, steps, present value."""
    rows = []
    for k, item in enumerate(study.variables):
        if item.levels:
            shown = [f"{level:.6g}" for level in item.levels]
            values = ", ".join(shown) if len(shown) <= 6 else f"{shown[0]} to {shown[-1]} in {len(shown)} steps"
        elif item.times is not None:
            values = f"{item.low:.6g} to {item.high:.6g} times {quantity(item.times)}"
        else:
            values = f"{item.low:.6g} to {item.high:.6g}" + (" (log)" if item.scale == "log" else "")
        now = "–" if study.present is None else f"{float(study.present[k]):.6g}"
        rows.append((quantity(item.path), unit(item.unit), values, now))
    return Table("Design space", ("quantity", "unit", "range", "present"), tuple(rows), text_columns=3)


def conditions(study: Study) -> Table:
    """Conditions and their share of time."""
    total = sum(item.weight for item in study.conditions)
    rows = []
    for item in study.conditions:
        road = study.roads[item.road]
        rough = number(road.roughness * 1e6)
        rows.append(
            (
                item.name,
                rough,
                number(road.waviness),
                number(road.length / item.speed),
                f"{100 * item.weight / total:.1f}",
            )
        )
    heads = ("condition", "G_d(0.1/m) 10⁻⁶ m³", "waviness", "seconds", "share %")
    return Table("Conditions", heads, tuple(rows))


def standing_figures(study: Study) -> Table:
    """Masses, rates, frequencies and deflections of each axle under each load."""
    X, name = setup_in_hand(study)
    values = parameters(study, X)
    model = model_of(study.model, study.corner)
    states = at_rest(values, model, study.loads, study.reference)
    many = len(states) > 1
    heads = ["", "unit"] + [
        f"{axle}{', ' + state.load if many and state.load else ''}" for state in states for axle in model.axles
    ]
    columns = [
        _column(state, c, states[study.reference], values, axle)
        for state in states
        for c, axle in enumerate(model.axles)
    ]
    rows = tuple((label, shown, *(column[k] for column in columns)) for k, (label, shown) in enumerate(_LINES))
    notes = _coupled(states, study) if len(model.axles) > 1 else ()
    return Table(f"At rest: {name}", tuple(heads), rows, text_columns=2, notes=notes)


_LINES = (
    ("axle load on the scales", "kg"),
    ("sprung mass per wheel", "kg"),
    ("wheel rate, stops that touch included", "N/mm"),
    ("static travel from the reference load", "mm"),
    ("sink of the body, tyre included", "mm"),
    ("ride frequency", "Hz"),
    ("static deflection", "mm"),
    ("wheel hop", "Hz"),
    ("damping ratio at rest, bump", ""),
    ("damping ratio at rest, rebound", ""),
    ("travel left to the end of bump", "mm"),
)


def _column(state: AtRest, c: int, reference: AtRest, values: Parameters, axle: str) -> tuple[str, ...]:
    """One corner under one load, in the order of `_LINES`."""
    mass, rate = float(state.corner_mass[0, c]), float(state.wheel_rate[0, c])
    tyre, wheel = float(state.tyre_rate[0, c]), float(state.unsprung_mass[0, c])
    ride = float(state.ride_rate[0, c])
    critical = 2 * np.sqrt(rate * mass)
    small = np.full_like(state.friction, 1e-9)
    bump = float(state.speed_law.slope_at(small)[0, c]) / critical
    rebound = float(state.speed_law.slope_at(-small)[0, c]) / critical
    travel = float(state.travel[0, c])
    left = None if state.bump_travel is None else float(state.bump_travel[0, c]) - travel
    deflection = float(reference.corner_mass[0, c] / reference.ride_rate[0, c]) * GRAVITY
    figures: tuple[float | None, ...] = (
        2 * float(state.contact_force[0, c]) / GRAVITY,
        mass,
        rate / 1e3,
        travel * 1e3,
        (travel + float(state.tyre_sink[0, c])) * 1e3,
        np.sqrt(ride / mass) / (2 * np.pi),
        deflection * 1e3,
        np.sqrt((rate + tyre) / wheel) / (2 * np.pi),
        bump,
        rebound,
        None if left is None else left * 1e3,
    )
    return tuple(number(figure) for figure in figures)


def _coupled(states: tuple[AtRest, ...], study: Study) -> tuple[str, ...]:
    """Frequency ratio, and the body's bounce and pitch, per load."""
    lines = []
    for state in states:
        frequency = np.sqrt(state.ride_rate[0] / state.corner_mass[0])
        both = bounce_pitch(state.body.mass, state.body.pitch_inertia, state.body.x, state.ride_rate)
        modes = " and ".join(
            f"{number(float(both.frequency[0, k]))} Hz about {_centre(float(both.centre[0, k]))}" for k in range(2)
        )
        load = f"{state.load}: " if state.load and len(study.loads) > 1 else ""
        lines.append(
            f"{load}rear over front ride frequency {number(float(frequency[1] / frequency[0]))}; body modes {modes}; "
            f"dynamic index {number(float(both.dynamic_index[0]))}"
        )
    return tuple(lines)


def _centre(ahead: float) -> str:
    if not np.isfinite(ahead):
        return "a point infinitely far away"
    return f"{number(abs(ahead), 2)} m {'ahead of' if ahead > 0 else 'behind'} the centre of mass"


def cost(study: Study) -> str:
    """What a run asks for, in a line. The time is an estimate: nobody has run this study on this machine yet."""
    from ridefront.response.linearise import PASSES

    designs = study.search.sample + study.search.population * study.search.generations
    linear = study.linearisation == "at-rest"
    passes = 1 if linear else 1 + PASSES
    seconds = designs * len(study.conditions) * passes * _MICROSECONDS[study.model] * 1e-6
    return (
        f"{designs:,} designs × {len(study.conditions)} conditions: some {number(max(seconds, 1.0), 2)} s of one core "
        f"(at {number(_MICROSECONDS[study.model], 2)} µs a ride, as measured on a server core of 2021)"
    )


_MICROSECONDS = {"quarter-car": 3.2, "half-car": 8.5}
