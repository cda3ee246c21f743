"""The vehicle at rest as `check` prints it: figures that an engineer knows by heart and recognises a wrong input by."""

from __future__ import annotations

import numpy as np

from ridefront.report.roads import driven_length, in_time, in_words, wheelbase_of
from ridefront.report.words import Table, number, quantity, unit
from ridefront.road import Obstacle
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
    """Conditions: the road in words, how far and how long it is driven, in how many realisations, and the share of
    time.
    """
    total = sum(item.weight for item in study.conditions)
    rows = []
    for item in study.conditions:
        road = study.roads[item.road]
        length = driven_length(study, road, item.speed)
        rows.append(
            (
                item.name,
                in_words(road),
                f"{length:.6g}",
                number(length / item.speed),
                str(road.realisations) if isinstance(road, Obstacle) or in_time(study.response) else "–",
                f"{100 * item.weight / total:.1f}",
            )
        )
    heads = ("condition", "road", "length m", "seconds", "realisations", "share %")
    return Table("Conditions", heads, tuple(rows), text_columns=2)


def standing_figures(study: Study) -> Table:
    """Masses, rates, frequencies and deflections of each axle under each load."""
    X, name = setup_in_hand(study)
    values = parameters(study, X)
    model = model_of(study.model, study.corner)
    states = at_rest(values, model, study.loads, study.reference, study.points)
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
    ("spring load at the reference position", "N"),
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
        spring_load(reference, c, values, axle),
    )
    return tuple(number(figure) for figure in figures)


def spring_load(reference: AtRest, c: int, values: Parameters, axle: str) -> float:
    """Load of one spring itself at the reference position, N: what the gas in the damper leaves of the body's weight;
    below 0 where the gas alone carries more.

    Args:
        reference: one design under the reference load.
        c, axle: the corner and its axle.
        values: the design's quantities by path, SI.
    """
    gas = float(values[f"{axle}.gas_force"][0] * values[f"{axle}.damper_ratio"][0])
    weight = float(reference.corner_mass[0, c]) * GRAVITY
    return (weight - gas) / float(values[f"{axle}.spring_ratio"][0])


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
    """What a run asks for, in a line. The time is an estimate: nobody has run this study on this machine yet, and the
    time domain's step is looked for when it runs.
    """
    from ridefront.evaluate.stepping import STEPS
    from ridefront.results.columns import COMPARED

    search = study.search
    designs = search.sample + search.population * search.generations
    again = search.population * (1 + search.simulated_generations) if study.response == "auto" else 0
    linear, obstacles = _linear_seconds(study), _driven_seconds(study, STEPS[0], obstacles=True)
    random = _driven_seconds(study, STEPS[0], obstacles=False)
    few = _driven_seconds(study, STEPS[0], obstacles=False, most=COMPARED)
    in_frequency = study.response == "frequency-domain"
    first = random if study.response == "time-domain" else linear
    seconds = designs * (first + obstacles) + again * (random + obstacles)
    # A finished front is driven for its pieces, and for the other domain or on held-out roads.
    setup = (few if in_frequency else 2 * random) + 2 * obstacles
    rates = [f"{number(_MICROSECONDS[study.model], 2)} µs a ride"] if study.response != "time-domain" else []
    if setup > 0:
        step = f"{number(STEPS[0] * 1e3, 1)} ms"
        rates.append(f"{number(_nanoseconds(study), 2)} ns a step of {step}, longer where steps must be shorter")
    front = f", and {number(1e3 * setup, 2)} ms for each setup of the front" if setup > 0 else ""
    return (
        f"{designs + again:,} designs × {len(study.conditions)} conditions: about {_spoken(max(seconds, 1.0))} of one "
        f"core{front} (at {', '.join(rates)}, as measured on a server core of 2021)"
    )


_MICROSECONDS = {"quarter-car": 3.2, "half-car": 8.5}
_NANOSECONDS = {"quarter-car": 9.0, "half-car": 22.0}
_FRICTION = 1.4  # times as long a step with friction


def _linear_seconds(study: Study) -> float:
    """One design on all random roads in the frequency domain."""
    from ridefront.response.linearise import PASSES

    rides = sum(not isinstance(study.roads[item.road], Obstacle) for item in study.conditions)
    passes = 1 if study.linearisation == "at-rest" else 1 + PASSES
    return rides * passes * _MICROSECONDS[study.model] * 1e-6


def _driven_seconds(study: Study, step: float, *, obstacles: bool, most: int | None = None) -> float:
    """One design in the time domain, on all roads with obstacles or on all random ones, over so many realisations at
    most.
    """
    from ridefront.response.drive import steps_of

    steps = 0
    for item in study.conditions:
        road = study.roads[item.road]
        if isinstance(road, Obstacle) == obstacles:
            times = road.realisations if most is None else min(most, road.realisations)
            steps += times * steps_of(road, item.speed, wheelbase_of(study), step)
    return steps * _nanoseconds(study) * 1e-9


def _nanoseconds(study: Study) -> float:
    """One design, one step."""
    rubs = {item.path for item in study.variables} | {path for path, value in study.fixed.items() if value > 0}
    return _NANOSECONDS[study.model] * (_FRICTION if any(path.endswith(".friction") for path in rubs) else 1.0)


def _spoken(seconds: float) -> str:
    """A time as people say it."""
    if seconds < 600:
        return f"{number(seconds, 2)} s"
    return f"{number(seconds / 60, 2)} min" if seconds < 2 * 3600 else f"{number(seconds / 3600, 2)} h"
