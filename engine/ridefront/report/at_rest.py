"""The vehicle at rest as `check` prints it: figures that an engineer knows by heart and recognises a wrong input by."""

from __future__ import annotations

import numpy as np

from ridefront.criteria import CRITERIA, standing
from ridefront.criteria.ride import VEHICLE, Place, Standing
from ridefront.report.roads import driven_length, in_time, in_words, wheelbase_of
from ridefront.report.rolling import roll_and_tramp
from ridefront.report.words import Table, number, quantity, unit
from ridefront.road import has_spectrum
from ridefront.study.model import Study
from ridefront.study.space import decode, parameters
from ridefront.vehicle.body import Model, model_of
from ridefront.vehicle.elements import Parameters
from ridefront.vehicle.equations import bounce_pitch
from ridefront.vehicle.laws import Array
from ridefront.vehicle.sides import PAIRS
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
                str(road.realisations) if not has_spectrum(road) or in_time(study.response) else "–",
                f"{100 * item.weight / total:.1f}",
            )
        )
    heads = ("condition", "road", "length m", "seconds", "realisations", "share %")
    return Table("Conditions", heads, tuple(rows), text_columns=2)


def standing_figures(study: Study) -> Table:
    """Masses, rates, frequencies and deflections of each axle under each load, of each wheel where the load lies to one
    side.
    """
    X, name = setup_in_hand(study)
    values = parameters(study, X)
    model = model_of(study.model, study.corner)
    states = at_rest(values, model, study.loads, study.reference, study.points, study.beams)
    bases = [Standing(state, states[study.reference], values) for state in states]
    heads, columns = ["", "unit"], []
    for base in bases:
        load = f", {base.state.load}" if len(states) > 1 and base.state.load else ""
        for corners in _shown(base):
            c = corners[0]
            alike = len(corners) > 1 or len(model.corners) < 4
            heads.append((model.axles[c] if alike else model.corners[c].replace("_", " ")) + load)
            columns.append(_column(base, c))
    lines = _LINES if len(model.corners) < 4 else _LINES + _ROLL_LINES
    rows = tuple((label, shown, *(column[k] for column in columns)) for k, (label, shown) in enumerate(lines))
    notes = tuple(_coupled(base, study) for base in bases) if len(model.axles) > 1 else ()
    return Table(f"At rest: {name}", tuple(heads), rows, text_columns=2, notes=notes)


def _shown(base: Standing) -> list[tuple[int, ...]]:
    """Corners that share a column: a full car's axles, unless the body or the reference load leans to one side."""
    corners = range(len(base.state.model.corners))
    if len(corners) == 4 and not any(float(state.body.left[0]) for state in (base.state, base.reference)):
        return [*PAIRS]
    return [(c,) for c in corners]


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
_ROLL_LINES = (
    ("roll stiffness of the axle, tyres rigid", "N·m/deg"),
    ("of which anti-roll bar", "%"),
)


def _column(base: Standing, c: int) -> tuple[str, ...]:
    """One corner under one load, in the order of `_LINES` and, in a full car, of `_ROLL_LINES`."""
    state, place = base.state, Place(base.state.model.corners[c], corner=c)
    mass, rate = float(state.corner_mass[0, c]), float(state.wheel_rate[0, c])
    critical = 2 * np.sqrt(rate * mass)
    small = np.full_like(state.friction, 1e-9)
    bump = float(state.speed_law.slope_at(small)[0, c]) / critical
    rebound = float(state.speed_law.slope_at(-small)[0, c]) / critical
    left = None if state.bump_travel is None else float(state.bump_travel[0, c] - state.travel[0, c])
    both = _both(state.model, c)
    figures: list[float | None] = [
        sum(float(state.contact_force[0, wheel]) for wheel in both) / GRAVITY,
        mass,
        rate / 1e3,
        float(state.travel[0, c]) * 1e3,
        float(standing.ride_height_change(base, place)[0]) * 1e3,
        float(standing.ride_frequency(base, place)[0]),
        float(standing.static_deflection(base, place)[0]) * 1e3,
        float(standing.wheel_hop_frequency(base, place)[0]),
        bump,
        rebound,
        None if left is None else left * 1e3,
        spring_load(base.reference, c, base.parameters),
    ]
    if len(state.model.corners) == 4:
        track = float(state.body.y[0, both[0]] - state.body.y[0, both[1]])
        whole, bar = float(state.roll_stiffness[0, c // 2]), float(state.anti_roll[0, c]) * track**2
        figures += [np.radians(whole), 100 * bar / whole]
    return tuple(number(figure) for figure in figures)


def _both(model: Model, c: int) -> tuple[int, int]:
    """The corners of both wheels of a corner's axle: one and the same but in a full car."""
    return PAIRS[c // 2] if len(model.corners) == 4 else (c, c)


def spring_load(reference: AtRest, c: int, values: Parameters) -> float:
    """Load of one spring itself at the reference position, N: what the gas in the damper leaves of the body's weight;
    below 0 where the gas alone carries more.

    Args:
        reference: one design under the reference load.
        c: the corner.
        values: the design's quantities by path, SI.
    """
    axle, both = reference.model.axles[c], _both(reference.model, c)
    gas = float(values[f"{axle}.gas_force"][0] * values[f"{axle}.damper_ratio"][0])
    mass = float(reference.corner_mass[0, c])
    if both[0] != both[1]:
        # On a beam the springs stand closer than the wheels, and feel more of what lies to one side.
        mean = 0.5 * float(reference.corner_mass[0, both[0]] + reference.corner_mass[0, both[1]])
        mass = mean + (mass - mean) / float(reference.spring_mix[0, c])
    return (mass * GRAVITY - gas) / float(values[f"{axle}.spring_ratio"][0])


def _coupled(base: Standing, study: Study) -> str:
    """Frequency ratio, the body's bounce and pitch and, of a full car, how it rolls, under one load."""
    state = base.state
    rate, x = state.ride_rate, state.body.x
    if len(state.model.corners) == 4:
        rate = np.stack([rate[:, left] + rate[:, right] for left, right in PAIRS], axis=1)
        x = np.stack([x[:, left] for left, _ in PAIRS], axis=1)
    ratio = standing.frequency_ratio(base, VEHICLE)
    both = bounce_pitch(state.body.mass, state.body.pitch_inertia, x, rate)
    modes = " and ".join(
        f"{number(float(both.frequency[0, k]))} Hz about {_centre(float(both.centre[0, k]))}" for k in range(2)
    )
    load = f"{state.load}: " if state.load and len(study.loads) > 1 else ""
    roll = "" if len(state.model.corners) < 4 else f"; {roll_and_tramp(base)}"
    return (
        f"{load}rear over front ride frequency {number(float(ratio[0]))}; body modes {modes}; "
        f"dynamic index {number(float(both.dynamic_index[0]))}{roll}"
    )


def _centre(ahead: float) -> str:
    if not np.isfinite(ahead):
        return "a point infinitely far away"
    return f"{number(abs(ahead), 2)} m {'ahead of' if ahead > 0 else 'behind'} the centre of mass"


def cost(study: Study) -> str:
    """What a run asks for, in a line. The time is an estimate: nobody has run this study on this machine yet, and the
    time domain's step is looked for when it runs.
    """
    from ridefront.evaluate.stepping import first_step
    from ridefront.results.columns import COMPARED

    step = first_step(study, model_of(study.model, study.corner))
    designs, again = study.planned
    linear, obstacles = _linear_seconds(study), _driven_seconds(study, step, obstacles=True)
    random = _driven_seconds(study, step, obstacles=False)
    few = _driven_seconds(study, step, obstacles=False, most=COMPARED)
    in_frequency = study.response == "frequency-domain"
    first = random if study.response == "time-domain" else linear
    vehicles = _vehicles(study)
    seconds = (designs * (first + obstacles) + again * (random + obstacles)) * vehicles
    # A finished front is driven for its pieces, for the other domain or on held-out roads, and for its spread.
    setup = (few if in_frequency else 2 * random) + 2 * obstacles
    if study.scatter is not None:
        setup += study.scatter.samples * ((linear if in_frequency else random) + obstacles)
    rates = [f"{number(_MICROSECONDS[study.model], 2)} µs a ride"] if study.response != "time-domain" else []
    if setup > 0:
        of = f"{number(step * 1e3, 2)} ms"
        rates.append(f"{number(_nanoseconds(study), 2)} ns a step of {of}, longer where steps must be shorter")
    front = f", and {number(1e3 * setup, 2)} ms for each setup of the front" if setup > 0 else ""
    built = f" × {number(vehicles)} vehicles" if vehicles > 1 else ""
    return (
        f"{designs + again:,} designs × {len(study.conditions)} conditions{built}: about {_spoken(max(seconds, 1.0))} "
        f"of one core{front} (at {', '.join(rates)}, as measured on a server core of 2021)"
    )


def _vehicles(study: Study) -> float:
    """How many vehicles ride for one design, on average over conditions: the one as drawn and, where a figure counts
    them, those built within tolerances.
    """
    if study.scatter is None:
        return 1.0
    over = [item for item in study.measures if item.scatter is not None]
    riding = [item for item in over if CRITERIA[item.criterion].kind == "condition"]
    counted = {c for item in riding for c in item.conditions}
    return 1 + study.scatter.samples * len(counted) / len(study.conditions)


_MICROSECONDS = {"quarter-car": 3.2, "half-car": 8.5, "full-car": 10.0}
_NANOSECONDS = {"quarter-car": 9.0, "half-car": 22.0, "full-car": 57.0}
_FRICTION = 1.4  # times as long a step with friction
_BEND = 1.0  # ns a step for each bend at each corner


def _linear_seconds(study: Study) -> float:
    """One design on all roads that have a spectrum, in the frequency domain."""
    from ridefront.response.linearise import PASSES

    rides = sum(has_spectrum(study.roads[item.road]) for item in study.conditions)
    passes = 1 if study.linearisation == "at-rest" else 1 + PASSES
    return rides * passes * _MICROSECONDS[study.model] * 1e-6


def _driven_seconds(study: Study, step: float, *, obstacles: bool, most: int | None = None) -> float:
    """One design in the time domain, on all roads that are driven always, such as obstacles, or on all others, over so
    many realisations at most.
    """
    from ridefront.response.drive import steps_of

    steps = 0
    for item in study.conditions:
        road = study.roads[item.road]
        if has_spectrum(road) != obstacles:
            times = road.realisations if most is None else min(most, road.realisations)
            steps += times * steps_of(road, item.speed, wheelbase_of(study), step)
    return steps * _nanoseconds(study) * 1e-9


def _nanoseconds(study: Study) -> float:
    """One design, one step; a table of springs or dampers costs by its bends."""
    rubs = {item.path for item in study.variables} | {path for path, value in study.fixed.items() if value > 0}
    bends = sum(len(points.x) for points in study.points.values()) * (2 if study.model == "full-car" else 1)
    plain = _NANOSECONDS[study.model] * (_FRICTION if any(path.endswith(".friction") for path in rubs) else 1.0)
    return plain + _BEND * bends


def _spoken(seconds: float) -> str:
    """A time as people say it."""
    if seconds < 600:
        return f"{number(seconds, 2)} s"
    return f"{number(seconds / 60, 2)} min" if seconds < 2 * 3600 else f"{number(seconds / 3600, 2)} h"
