"""What a careful engineer would ask about a study before believing its figures."""

from __future__ import annotations

import numpy as np

from ridefront.report.at_rest import setup_in_hand, spring_load
from ridefront.report.damped import doubts_about_damping
from ridefront.report.roads import doubts_about_roads
from ridefront.report.words import number
from ridefront.road import Obstacle, Profile
from ridefront.study.model import Study
from ridefront.study.space import parameters
from ridefront.vehicle.body import model_of, unladen_masses
from ridefront.vehicle.static import at_rest

_TOO_HIGH = (
    "come out high (with the invented vehicles of the tests by some 25 to 40 % at the centre of mass on a class B "
    "road, by less at seats to one side); compare setups with each other, not with a scale of comfort"
)
_BESIDE = 0.5  # m beyond the wheels that a load may lie
EQUAL_TRACKS = f"quarter and half cars have left and right tracks alike: absolute comfort figures {_TOO_HIGH}"
NOT_MODELLED = (
    "not modelled: bushes, tyre belt, fore-aft compliance (harshness above some 20 Hz), friction that sticks, "
    "temperature, handling"
)
CAUTION = (
    "a computed setup is a starting point: prove it on a rig and a closed course; local rules, the maker's limits and "
    "licensed practice decide, and exposure of people to vibration has legal limits"
)


_LIMIT_TRAVEL = {
    "bump_reserve",
    "rebound_reserve",
    "ride_height_change",
    "rattle_space",
    "travel_rms",
    "ride_frequency",
    "static_deflection",
}


def caveats(study: Study) -> tuple[str, ...]:
    """What is to be said beside any study's figures, however thorough it is."""
    return (*(() if study.model == "full-car" else (EQUAL_TRACKS,)), NOT_MODELLED, CAUTION)


def doubts(study: Study) -> tuple[str, ...]:
    """Lines that name what the study leaves out and an engineer would miss; empty for a thorough study."""
    variable = {item.path for item in study.variables}
    lines = []
    axles = tuple(dict.fromkeys(model_of(study.model, study.corner).axles))

    def zero(path: str) -> bool:
        return path not in variable and study.fixed.get(path, 0.0) == 0.0

    if zero("contact_patch"):
        lines.append("contact_patch is 0: the tyre feels every short wave; passenger cars have some 0.12 m")
    for axle in axles:
        if zero(f"{axle}.friction"):
            lines.append(f"{axle}.friction is 0: real corners have some 30 to 70 N, leaf springs more")
        if study.fixed.get(f"{axle}.bump_share") == 0.5 and f"{axle}.damping_bump" not in study.fixed:
            lines.append(f"{axle}.bump_share is 0.5: road dampers mostly have more rebound than bump damping")
        if not any(f"{axle}.bump_stop_rate" in paths for paths in (study.fixed, variable)):
            lines.append(f"{axle} has no bump stop: under load and on heavy blows real springs do not work alone")
    lines += _lifted(study)
    lines += _past_the_end(study)
    lines += doubts_about_damping(study)
    if study.model == "full-car":
        lines += _about_sides(study)
    lines += doubts_about_roads(study)
    counted = {condition.load for condition in study.conditions}
    if len(counted) == 1:
        lines.append("only one load counts: a setup that suits it may run out of travel with another")
    if len(study.seats) == 1:
        lines.append("only one seat: comfort at the other axle is not looked at")
    if study.linearisation == "at-rest":
        lines.append(
            'linearisation = "at-rest": dampers and stops by their slopes at rest, no friction: misleads on rough roads'
        )
    criteria = {item.criterion for item in study.measures}
    if not criteria & _LIMIT_TRAVEL:
        lines.append("nothing limits travel: the answer will be the softest spring allowed")
    return tuple(lines)


def _past_the_end(study: Study) -> list[str]:
    """Loads under which an axle stands beyond its travel, and spring tables that end before the travel does."""
    X, name = setup_in_hand(study)
    values, model = parameters(study, X), model_of(study.model, study.corner)
    states = at_rest(values, model, study.loads, study.reference, study.points, study.beams)
    lines = []
    for state in states:
        if not state.possible[0]:
            least = min(float(mass) for mass in state.corner_mass[0])
            lines.append(
                f"the vehicle cannot stand under {f'load {state.load}' if state.load else 'its load'} ({name}): a "
                f"wheel would carry {number(least)} kg of the body"
            )
            continue
        for c, corner in enumerate(model.corners):
            travel, end = state.travel[0, c], None if state.bump_travel is None else state.bump_travel[0, c]
            if end is not None and travel > end:
                lines.append(
                    f"under {f'load {state.load}' if state.load else 'its load'} {corner.replace('_', ' ')} stands "
                    f"{number(1e3 * float(travel - end))} mm past the end of bump ({name})"
                )
    for c, axle in ((c, axle) for c, axle in enumerate(model.axles) if axle not in model.axles[:c]):
        if f"{axle}.spring_table" not in study.points:
            continue
        x, ratio = study.points[f"{axle}.spring_table"].x, float(values[f"{axle}.spring_ratio"][0])
        for end, reach, way in (
            (states[0].bump_travel, x[-1] / ratio, "bump"),
            (states[0].rebound_travel, -x[0] / ratio, "rebound"),
        ):
            if end is not None and reach < end[0, c]:
                lines.append(
                    f"{axle}.spring_table ends at {number(1e3 * reach)} mm of {way} travel at the wheel, before the "
                    f"end of {way}: beyond it the spring goes on with its last slope"
                )
    return lines


def _lifted(study: Study) -> list[str]:
    """Axles whose dampers' gas alone would carry more than the reference load."""
    if not any(value for path, value in study.fixed.items() if path.endswith(".gas_force")):
        return []
    X, name = setup_in_hand(study)
    values, model = parameters(study, X), model_of(study.model, study.corner)
    reference = at_rest(values, model, study.loads, study.reference, study.points, study.beams)[study.reference]
    lifted = dict.fromkeys(axle for c, axle in enumerate(model.axles) if spring_load(reference, c, values) < 0)
    return [
        f"{axle}.gas_force alone carries more than the reference load ({name}): nothing is left for the spring"
        for axle in lifted
    ]


def _odd_sizes(study: Study) -> list[str]:
    """Sizes across the vehicle that no car has (common practice): mostly a wrong unit."""
    X, name = setup_in_hand(study)
    values = {path: float(value[0]) for path, value in parameters(study, X).items()}
    lines = []

    def doubt(path: str, low: float, high: float, what: str, unit: str) -> None:
        value = values.get(path)
        if value is not None and not low <= value <= high:
            lines.append(f"{path} is {number(value)} {unit} ({name}): {what} {number(low)} to {number(high)} {unit}")

    for axle in ("front", "rear"):
        track = values[f"{axle}.track"]
        doubt(f"{axle}.track", 0.9, 2.6, "road vehicles have", "m")
        if axle in study.beams:
            for element in ("spring", "damper"):
                doubt(f"{axle}.{element}_spacing", 0.3 * track, track, "between its wheels there is room for", "m")
            # Of two wheels at the ends of the beam, at most, and of the beam between them, at least.
            ends = 2 * values[f"{axle}.unsprung_mass"] * (0.5 * track) ** 2
            what = "beams of this mass and track have some"
            doubt(f"{axle}.axle_roll_inertia", 0.2 * ends, 1.3 * ends, what, "kg·m²")
    mass, _ = unladen_masses({path: np.array([value]) for path, value in values.items()})
    width = 0.5 * (values["front.track"] + values["rear.track"])
    inertia = float(mass[0]) * width**2
    doubt("body.roll_inertia", 0.04 * inertia, 0.36 * inertia, "bodies of this mass and track have some", "kg·m²")
    return lines


def _about_sides(study: Study) -> list[str]:
    """What an engineer would ask about left and right of a full car."""
    known = {item.path for item in study.variables} | {path for path, value in study.fixed.items() if value > 0}
    lines = []
    if not any(f"{axle}.anti_roll_rate" in known for axle in ("front", "rear")):
        lines.append("no anti-roll bars: passenger cars mostly have one in front at least (common practice)")
    for axle in sorted(study.beams):
        lines += [
            f"{axle} is a beam without {name}_spacing: its {name}s are taken to stand as far apart as the wheels"
            for name in ("spring", "damper")
            if f"{axle}.{name}_spacing" not in known
        ]
    lines += _odd_sizes(study)
    furthest = 0.5 * max(study.fixed["front.track"], study.fixed["rear.track"]) + _BESIDE
    aside = [(f'seat "{seat.name}"', seat.left_of_centre) for seat in study.seats]
    for load in study.loads:
        aside += [(f'load "{load.name}": a mass', mass.left_of_centre) for mass in load.masses]
    lines += [
        f"{what} lies {abs(left):.4g} m {'left' if left > 0 else 'right'} of the centre line, well outside the wheels"
        for what, left in aside
        if abs(left) > furthest
    ]
    for road in (study.roads[k] for k in sorted({condition.road for condition in study.conditions})):
        if isinstance(road, Profile):
            one = len(road.heights) == 1
        else:
            one = not isinstance(road, Obstacle) and road.tracks == "equal"
        if one:
            lines.append(f'road "{road.name}": left and right tracks are alike: absolute comfort figures {_TOO_HIGH}')
    return lines
