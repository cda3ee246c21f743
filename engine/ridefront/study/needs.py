"""What each model needs of a vehicle, in which alternatives, and what it uses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ridefront.study.keys import QUANTITIES, SECTIONS
from ridefront.study.model import Variable
from ridefront.study.page import Mistakes, expected

AXLES = ("front", "rear")
INERTIAS = ("body.pitch_inertia", "body.pitch_gyration", "body.dynamic_index")
SHARES = ("front_share", "front_axle_to_mass_centre")
WAYS_TO_MASS = "body.mass with front_share or front_axle_to_mass_centre, or kerb_axle_loads"


ROLL_CENTRES = ("front_roll_centre", "rear_roll_centre")
OF_BEAMS = ("axle_roll_inertia", "spring_spacing", "damper_spacing")
"""Keys of an axle that is a beam."""

OF_SIDES = ("track", "anti_roll_rate", "axle", *OF_BEAMS)
"""Keys of an axle that a full car alone uses."""


def used_paths(model: str, corner: str, given: frozenset[str], *, loaded: bool) -> frozenset[str]:
    """Paths of the quantities that change something in the model, given what the file has.

    Args:
        model, corner: which model.
        given: paths that the file gives.
        loaded: whether the study puts masses on the body.
    """
    quarter = model == "quarter-car"
    used = {"contact_patch"}
    outright = quarter and "body.corner_mass" in given
    if outright:
        used.add("body.corner_mass")
    elif "kerb_axle_loads" in given:
        used |= {"kerb_axle_loads", *(f"{axle}.unsprung_mass" for axle in AXLES)}
    else:
        used |= {"body.mass", *SHARES}
    if not quarter:
        used |= {"wheelbase", "mass_centre_height", *INERTIAS}
    elif loaded or (not outright and "front_axle_to_mass_centre" in given):
        used.add("wheelbase")
    if model == "full-car":
        used |= {"body.roll_inertia", *ROLL_CENTRES}
    for axle in (corner,) if quarter else AXLES:
        used |= _used_of_axle(axle, given)
        if model == "full-car":
            used |= {f"{axle}.{name}" for name in OF_SIDES}
    return frozenset(used)


def _used_of_axle(axle: str, given: frozenset[str]) -> set[str]:
    """All but what belongs to an element that this axle does not have, and to the two sides of a full car."""
    idle = set(OF_SIDES)
    for way in ("bump", "rebound"):
        if f"{axle}.{way}_stop_rate" not in given:
            idle.add(f"{way}_stop_progression")
    if not given & {f"{axle}.bump_stop_rate", f"{axle}.rebound_stop_rate"}:
        idle.add("stop_ratio")
    if f"{axle}.damping" not in given:
        idle.add("bump_share")
    for name in ("spring", "damper"):
        if not given & {f"{axle}.{name}_table", f"{axle}.{name}_scale"}:
            idle.add(f"{name}_scale")
    return {f"{axle}.{name}" for name in SECTIONS["vehicle.axle"] if name not in idle}


def changes_nothing(path: str, axles: Sequence[str], used: frozenset[str], friction: Mapping[str, bool]) -> bool:
    """Whether a range on this quantity would change no figure.

    Args:
        path: of the quantity.
        axles: of the model.
        used: as `used_paths` says.
        friction: whether each axle has any.
    """
    axle, _, name = path.rpartition(".")
    if name == "friction_speed" and not friction.get(axle, False):
        return True
    # A quarter car takes the other axle's wheels off the other axle's load only.
    return path not in used or (axle in AXLES and axle not in axles)


def check_alternatives(
    model: str,
    axles: Sequence[str],
    given: frozenset[str],
    kinds: Mapping[str, str | None],
    *,
    loaded: bool,
    mistakes: Mistakes,
) -> None:
    """Note what is missing and what contradicts, alternatives named.

    Args:
        model, given, loaded: as for `used_paths`.
        axles: of the model.
        kinds: what each axle is, "independent" or "beam"; None where the file says something else.
        mistakes: where they go.
    """
    quarter = model == "quarter-car"
    _check_masses(quarter, axles, given, mistakes)
    _one_of(SHARES, given, mistakes)
    if not quarter and not _one_of(INERTIAS, given, mistakes):
        mistakes.add("vehicle.body.pitch_inertia", "missing", "one of pitch_inertia, pitch_gyration, dynamic_index")
    needs_base = not quarter or loaded or ("front_axle_to_mass_centre" in given and "body.corner_mass" not in given)
    if needs_base and "wheelbase" not in given:
        why = "needed for front_axle_to_mass_centre and to share out a load's masses" if quarter else ""
        mistakes.add("vehicle.wheelbase", "missing", expected("m", "positive"), why)
    for axle in AXLES:
        _check_axle(axle, given, axle in axles, mistakes)
    _check_sides(model, given, kinds, mistakes)


def _check_sides(model: str, given: frozenset[str], kinds: Mapping[str, str | None], mistakes: Mistakes) -> None:
    """Note what a full car lacks to roll, and what only a beam has on an axle that is none."""
    wanted = {"body.roll_inertia": "a full car needs it"} | {f"{axle}.track": "a full car needs it" for axle in AXLES}
    wanted |= {f"{axle}.axle_roll_inertia": "a beam needs it" for axle in AXLES if kinds[axle] == "beam"}
    for path, hint in wanted.items() if model == "full-car" else ():
        if path not in given:
            row = QUANTITIES[path]
            mistakes.add(f"vehicle.{path}", "missing", expected(row.unit, row.sign), hint)
    for axle in AXLES:
        for name in OF_BEAMS:
            if f"{axle}.{name}" in given and kinds[axle] == "independent":
                allowed = 'axle = "beam" with it, or no such key'
                mistakes.add(f"vehicle.{axle}.{name}", "given for an axle that is no beam", allowed)


def _check_masses(quarter: bool, axles: Sequence[str], given: frozenset[str], mistakes: Mistakes) -> None:
    if quarter and "body.corner_mass" in given:
        return
    if "kerb_axle_loads" in given:
        for path in ("body.mass", *SHARES):
            if path in given:
                mistakes.add(f"vehicle.{path}", "given beside kerb_axle_loads", WAYS_TO_MASS)
        for axle in AXLES:
            if axle not in axles and f"{axle}.unsprung_mass" not in given:
                hint = "kerb_axle_loads takes the unsprung masses of both axles off"
                mistakes.add(f"vehicle.{axle}.unsprung_mass", "missing", expected("kg", "positive"), hint)
        return
    ways = f"body.corner_mass, or {WAYS_TO_MASS}" if quarter else WAYS_TO_MASS
    if "body.mass" not in given:
        mistakes.add("vehicle.body.mass", "missing", ways)
    if not any(path in given for path in SHARES):
        mistakes.add("vehicle.front_share", "missing", ways)


def _one_of(paths: Sequence[str], given: frozenset[str], mistakes: Mistakes) -> bool:
    """Whether at least one is given; a second one is noted."""
    here = [path for path in paths if path in given]
    for path in here[1:]:
        mistakes.add(f"vehicle.{path}", f"given beside {here[0]}", "one of the two")
    return bool(here)


def _check_axle(axle: str, given: frozenset[str], required: bool, mistakes: Mistakes) -> None:
    def has(name: str) -> bool:
        return f"{axle}.{name}" in given

    def note(name: str, found: str, allowed: str) -> None:
        mistakes.add(f"vehicle.{axle}.{name}", found, allowed)

    def missing(name: str, hint: str = "") -> None:
        row = QUANTITIES[f"{axle}.{name}"]
        mistakes.add(f"vehicle.{axle}.{name}", "missing", expected(row.unit, row.sign), hint)

    if required:
        for name, hint in (("unsprung_mass", ""), ("spring_rate", "or spring_table"), ("tyre_rate", "")):
            if not has(name) and not (name == "spring_rate" and has("spring_table")):
                missing(name, hint)
        if not any(has(name) for name in ("damping", "damping_bump", "damping_rebound", "damper_table")):
            missing("damping", "or damping_bump and damping_rebound, or damper_table")
    for part, (others, spoken) in _INSTEAD_OF_TABLES.items():
        table, scale = f"{part}_table", f"{part}_scale"
        for name in others:
            if has(name) and has(table):
                note(name, f"given beside {table}", f"{table} with or without {scale}, or {spoken}")
        if has(scale) and not has(table):
            note(scale, f"given without {table}", f"{table} with it")
    ways_to_damping = "damping with or without bump_share, or damping_bump and damping_rebound"
    for name in ("damping_bump", "damping_rebound"):
        for other in ("damping", "bump_share"):
            if has(name) and has(other):
                note(name, f"given beside {other}", ways_to_damping)
    for ways in ("knee_speed_bump", "knee_share_bump", "knee_speed_rebound", "knee_share_rebound"):
        if has(ways) and (has("knee_speed") or has("knee_share")):
            note(ways, "given beside the knee for both ways", "knee_speed and knee_share, or knees for each way")
    for one, other in _PAIRS:
        instead = (one == "damping_bump" and has("damping")) or (one in _DAMPER_KEYS and has("damper_table"))
        if has(one) != has(other) and not instead:
            missing(other if has(one) else one, f"{one} and {other} go together")
    for way in ("bump", "rebound"):
        if has(f"{way}_stop_progression") and not has(f"{way}_stop_rate") and not has(f"{way}_clearance"):
            note(f"{way}_stop_progression", "given without the stop", f"{way}_clearance and {way}_stop_rate with it")


_DAMPER_KEYS = (
    "damping", "bump_share", "damping_bump", "damping_rebound", "knee_speed", "knee_share", "knee_speed_bump",
    "knee_share_bump", "knee_speed_rebound", "knee_share_rebound",
)  # fmt: skip
_INSTEAD_OF_TABLES = {
    "spring": (("spring_rate",), "spring_rate"),
    "damper": (_DAMPER_KEYS, "damping, or damping_bump and damping_rebound, with or without knees"),
}
"""Keys of an axle that a table of measured points stands instead of, and how to name them all."""

_PAIRS = (
    ("damping_bump", "damping_rebound"),
    ("knee_speed", "knee_share"),
    ("knee_speed_bump", "knee_share_bump"),
    ("knee_speed_rebound", "knee_share_rebound"),
    ("bump_clearance", "bump_stop_rate"),
    ("rebound_clearance", "rebound_stop_rate"),
)
"""Keys of an axle that make sense together only."""


def check_bounds(fixed: Mapping[str, float], variables: Mapping[str, Variable], mistakes: Mistakes) -> None:
    """Note quantities that no vehicle can have together: a mass centre beyond the axles, wheels heavier than the axle.

    Args:
        fixed: SI by path.
        variables: by path; the end of the range that matters is looked at.
        mistakes: where they go.
    """

    def highest(path: str) -> float | None:
        if path not in variables:
            return fixed.get(path)
        variable = variables[path]
        if variable.times is None:
            return variable.high * variable.factor
        base = highest(variable.times)
        return None if base is None else variable.high * base

    base, centre = fixed.get("wheelbase"), highest("front_axle_to_mass_centre")
    if base is not None and centre is not None and centre >= base:
        found = f"{centre:g} m is not between the axles"
        mistakes.add("vehicle.front_axle_to_mass_centre", found, f"less than the wheelbase, {base:g} m")
    for k, axle in enumerate(AXLES, start=1):
        load, wheel = fixed.get(f"kerb_axle_loads.{axle}"), highest(f"{axle}.unsprung_mass")
        if load is not None and wheel is not None and load <= 2 * wheel:
            found = f"{load:g} kg leaves nothing for the body over two unsprung masses of {wheel:g} kg"
            mistakes.add(f"vehicle.kerb_axle_loads[{k}]", found, f"more than {2 * wheel:g} kg")
