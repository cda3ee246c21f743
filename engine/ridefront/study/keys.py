"""The one table of a study file's keys: what each is, its unit, its default, who uses it, whether it may have a range.

The reader checks against it, `reference` writes studies/README.md from it. To add a key: its row here, and the code
that uses its value (for a vehicle quantity, `ridefront.vehicle`; the reader passes it on by its path).
"""

from __future__ import annotations

from dataclasses import replace

from ridefront.study.key import ALL_MODELS, TWO_AXLES, TWO_SIDES, Key
from ridefront.study.keys_asked import CATALOGUE, REQUIREMENTS, SETTINGS
from ridefront.study.keys_road import ROADS

FIGURELESS = ("gas_force",)
"""Quantities that bear on no figure of a design: one value each, and none in what a design's figures depend on."""

SHARED = ("track",)
"""Quantities of an axle that shape the road at its wheels, which all designs of a study share: one value each."""


PLACED = (
    "spring_ratio", "damper_ratio", "stop_ratio", "spring_spacing", "damper_spacing", "bump_travel", "rebound_travel",
    "friction_speed",
)  # fmt: skip
"""Quantities of an axle that are no property of a part as bought but of where parts are put: they have no tolerance."""


def _varied(rows: tuple[Key, ...]) -> tuple[Key, ...]:
    def row_of(row: Key) -> Key:
        varies = row.kind == "quantity" and row.name not in (*FIGURELESS, *SHARED)
        return replace(row, varies=varies, scatters=varies and row.name not in PLACED)

    return tuple(map(row_of, rows))


_TOP = (
    Key("", "title", "text", "what the study is about, in a line; the file's name unless given"),
    Key("", "seed", "whole", "of every random number", default=0),
    Key(
        "", "response", "word",
        "how rides on random roads are worked out: linearised, from the road's spectrum; as they are, step by step in "
        "time; or auto, which samples and evolves in the frequency domain and goes on in the time domain. Obstacles "
        "are always driven in the time domain",
        words=("frequency-domain", "time-domain", "auto"), default="frequency-domain",
    ),
    Key(
        "", "linearisation", "word",
        "dampers, friction and stops: by how they move on each road, or by their slope at rest without friction",
        words=("statistical", "at-rest"), default="statistical",
    ),
    Key("", "vehicle", "table", "the vehicle: what is known of it, and ranges for what is not", required=True),
    Key("", "seat", "tables", "where comfort is worked out; the body's centre of mass where there is none"),
    Key("", "load", "tables", "states of loading; the body as given where there is none"),
    Key("", "road", "tables", "roads", required=True),
    Key("", "condition", "tables", "which road is driven at which speed under which load", required=True),
    Key("", "objective", "tables", "what to make small or large", required=True),
    Key("", "constraint", "tables", "limits"),
    Key("", "present", "values", "today's setup: one value for every quantity that has a range, by its path"),
    Key("", "catalogue", "values", "the values in which parts come, by path; what is chosen is rounded to them"),
    Key("", "scatter", "table", "tolerances of parts: how far vehicles as built may be off a design"),
    Key("", "search", "table", "how many designs the search asks for"),
    Key("", "compute", "table", "what computes"),
)  # fmt: skip

_VEHICLE = (
    Key("vehicle", "model", "word", "size of the model", words=ALL_MODELS, required=True),
    Key(
        "vehicle", "corner", "word", "which corner a quarter car is", words=("front", "rear"), default="front",
        models=("quarter-car",),
    ),
    Key(
        "vehicle", "wheelbase", "quantity",
        "front to rear axle; a quarter car needs it to share out loads, or with front_axle_to_mass_centre", unit="m",
    ),
    Key(
        "vehicle", "contact_patch", "quantity",
        "length of road that a tyre averages over; passenger cars have some 0.12 m", unit="m", sign="not negative",
        default=0.0,
    ),
    Key(
        "vehicle", "kerb_axle_loads", "pair",
        "[front, rear] whole axles on the scales, as given, unsprung masses included; instead of body.mass and share",
        unit="kg",
    ),
    Key("vehicle", "front_share", "quantity", "of the sprung weight as given", sign="share", varies=True),
    Key(
        "vehicle", "front_axle_to_mass_centre", "quantity",
        "how far the centre of the sprung mass lies behind the front axle; instead of front_share", unit="m",
        varies=True,
    ),
    Key(
        "vehicle", "mass_centre_height", "quantity",
        "of the centre of the sprung mass above the ground; comfort_total and roll_gradient need it", unit="m",
        models=TWO_AXLES, varies=True,
    ),
    Key(
        "vehicle", "front_roll_centre", "quantity",
        "height of the front axle's roll centre above the ground, negative below it; roll_gradient needs it", unit="m",
        sign="any", models=TWO_SIDES, varies=True,
    ),
    Key(
        "vehicle", "rear_roll_centre", "quantity", "the same of the rear axle", unit="m", sign="any", models=TWO_SIDES,
        varies=True,
    ),
    Key("vehicle", "body", "table", "masses and inertia of the body, for the whole vehicle"),
    Key("vehicle", "front", "table", "front axle, per wheel"),
    Key("vehicle", "rear", "table", "rear axle, per wheel"),
)  # fmt: skip

_BODY = _varied((
    Key("vehicle.body", "mass", "quantity", "sprung mass of the whole vehicle, as given", unit="kg"),
    Key(
        "vehicle.body", "corner_mass", "quantity",
        "sprung mass on the quarter car's corner, outright; instead of the whole vehicle's mass and share", unit="kg",
        models=("quarter-car",),
    ),
    Key(
        "vehicle.body", "pitch_inertia", "quantity", "of the sprung mass as given, about its own centre",
        unit="kg*m^2", models=TWO_AXLES,
    ),
    Key(
        "vehicle.body", "pitch_gyration", "quantity", "radius of gyration in pitch; instead of pitch_inertia",
        unit="m", models=TWO_AXLES,
    ),
    Key(
        "vehicle.body", "dynamic_index", "quantity",
        "pitch inertia over mass times both distances from centre to axle; instead of pitch_inertia", models=TWO_AXLES,
    ),
    Key(
        "vehicle.body", "roll_inertia", "quantity",
        "of the sprung mass as given, about the axis through its own centre that points ahead", unit="kg*m^2",
        models=TWO_SIDES,
    ),
))  # fmt: skip

_AXLE = _varied((
    Key("vehicle.axle", "unsprung_mass", "quantity", "of one wheel and what moves with it", unit="kg"),
    Key("vehicle.axle", "spring_rate", "quantity", "of the spring itself", unit="N/m"),
    Key("vehicle.axle", "spring_table", "curve", "of the spring itself, force over travel; instead of spring_rate"),
    Key("vehicle.axle", "spring_scale", "quantity", "times the table's force; goes with spring_table", default=1.0),
    Key(
        "vehicle.axle", "spring_ratio", "quantity",
        "spring travel over wheel travel; the rate at the wheel is the spring's times its square", default=1.0,
    ),
    Key(
        "vehicle.axle", "damping", "quantity",
        "of the damper itself at low speed: the mean of its bump and rebound slopes", unit="N*s/m",
    ),
    Key(
        "vehicle.axle", "bump_share", "quantity", "bump slope over bump and rebound slopes; goes with damping",
        sign="share", default=0.5,
    ),
    Key(
        "vehicle.axle", "damping_bump", "quantity",
        "slope in bump, at the damper; with damping_rebound instead of damping and bump_share", unit="N*s/m",
    ),
    Key("vehicle.axle", "damping_rebound", "quantity", "slope in rebound, at the damper", unit="N*s/m"),
    Key(
        "vehicle.axle", "damper_table", "curve",
        "of the damper itself, force over speed; instead of damping, bump_share, both slopes and knees",
    ),
    Key("vehicle.axle", "damper_scale", "quantity", "times the table's force; goes with damper_table", default=1.0),
    Key(
        "vehicle.axle", "gas_force", "quantity",
        "of the gas in the damper, at the damper, the same at any travel: takes part of the load off the spring and "
        "changes no motion", unit="N", sign="not negative", default=0.0,
    ),
    Key(
        "vehicle.axle", "damper_ratio", "quantity",
        "damper travel over wheel travel; damping at the wheel is the damper's times its square", default=1.0,
    ),
    Key(
        "vehicle.axle", "knee_speed", "quantity",
        "at the damper, both ways: past it the slope is knee_share of what it was", unit="m/s",
    ),
    Key("vehicle.axle", "knee_share", "quantity", "slope past the knee over slope before it", sign="share"),
    Key(
        "vehicle.axle", "knee_speed_bump", "quantity",
        "the same in bump alone; instead of knee_speed, with knee_share_bump", unit="m/s",
    ),
    Key("vehicle.axle", "knee_share_bump", "quantity", "the same in bump alone", sign="share"),
    Key(
        "vehicle.axle", "knee_speed_rebound", "quantity",
        "the same in rebound alone; instead of knee_speed, with knee_share_rebound", unit="m/s",
    ),
    Key("vehicle.axle", "knee_share_rebound", "quantity", "the same in rebound alone", sign="share"),
    Key(
        "vehicle.axle", "friction", "quantity",
        "of the corner, at the wheel (not multiplied by a ratio); real corners have some 30 to 70 N", unit="N",
        sign="not negative", default=0.0,
    ),
    Key(
        "vehicle.axle", "friction_speed", "quantity",
        "at the wheel: speed about which friction turns round; it creeps below and never sticks", unit="m/s",
        default=0.005,
    ),
    Key("vehicle.axle", "tyre_rate", "quantity", "vertical, of one tyre", unit="N/m"),
    Key(
        "vehicle.axle", "tyre_damping", "quantity", "vertical, of one tyre", unit="N*s/m", sign="not negative",
        default=0.0,
    ),
    Key(
        "vehicle.axle", "bump_travel", "quantity",
        "at the wheel (on a beam, at the springs), from the reference position to the end of bump; bump_reserve needs "
        "it", unit="m",
    ),
    Key(
        "vehicle.axle", "rebound_travel", "quantity",
        "at the wheel (on a beam, at the springs), from the reference position to the end of rebound; rebound_reserve "
        "needs it", unit="m",
    ),
    Key(
        "vehicle.axle", "bump_clearance", "quantity",
        "gap of the bump stop at the reference position, at the stop (at the wheel: over stop_ratio); "
        "with bump_stop_rate", unit="m", sign="not negative",
    ),
    Key(
        "vehicle.axle", "bump_stop_rate", "quantity", "of the bump stop itself where it touches; with bump_clearance",
        unit="N/m",
    ),
    Key(
        "vehicle.axle", "bump_stop_progression", "quantity",
        "force is rate × depth × (1 + progression × depth / 100 mm), at the stop", sign="not negative", default=0.0,
    ),
    Key(
        "vehicle.axle", "rebound_clearance", "quantity",
        "gap of the rebound stop at the reference position, at the stop; with rebound_stop_rate", unit="m",
        sign="not negative",
    ),
    Key(
        "vehicle.axle", "rebound_stop_rate", "quantity",
        "of the rebound stop itself where it touches; with rebound_clearance", unit="N/m",
    ),
    Key(
        "vehicle.axle", "rebound_stop_progression", "quantity", "as bump_stop_progression", sign="not negative",
        default=0.0,
    ),
    Key("vehicle.axle", "stop_ratio", "quantity", "stop travel over wheel travel; damper_ratio unless given"),
    Key(
        "vehicle.axle", "track", "quantity", "from the middle of the left wheel to that of the right one", unit="m",
        models=TWO_SIDES,
    ),
    Key(
        "vehicle.axle", "anti_roll_rate", "quantity",
        "of the anti-roll bar, at the wheel: force at one wheel per travel of that wheel with the other held",
        unit="N/m", sign="not negative", default=0.0, models=TWO_SIDES,
    ),
    Key(
        "vehicle.axle", "axle", "word",
        "wheels that move by themselves, or a beam on which both wheels stand, its mass twice unsprung_mass",
        words=("independent", "beam"), default="independent", models=TWO_SIDES,
    ),
    Key(
        "vehicle.axle", "axle_roll_inertia", "quantity",
        "of a beam with both wheels, about its own middle; a beam needs it", unit="kg*m^2", models=TWO_SIDES,
    ),
    Key(
        "vehicle.axle", "spring_spacing", "quantity",
        "of a beam: from the left spring, with its stops, to the right one; the track unless given", unit="m",
        models=TWO_SIDES,
    ),
    Key(
        "vehicle.axle", "damper_spacing", "quantity",
        "of a beam: from the left damper to the right one; the track unless given", unit="m", models=TWO_SIDES,
    ),
))  # fmt: skip

_RANGE = (
    Key("range", "low", "limit", "lower end; the quantity's unit in results is the one written here", sign="any"),
    Key("range", "high", "limit", "upper end", sign="any"),
    Key(
        "range", "scale", "word", "how the search spreads values between the ends", words=("linear", "log"),
        default="linear",
    ),
    Key("range", "step", "limit", "only values a whole number of steps above low", sign="any"),
    Key("range", "choices", "values", "only these values, at least two: a list instead of low and high"),
    Key(
        "range", "times", "text",
        "path of another quantity with a range: this one is low to high times that one, and is stored in its unit",
    ),
)  # fmt: skip

_AROUND = (
    Key("seat", "name", "text", "as criteria name it behind their dot", required=True),
    Key("seat", "behind_front_axle", "quantity", "negative ahead of it", unit="m", sign="any", required=True),
    Key("seat", "height", "quantity", "above the ground; comfort_total needs it", unit="m", models=TWO_AXLES),
    Key(
        "seat", "left_of_centre", "quantity", "of the centre line, negative right of it", unit="m", sign="any",
        default=0.0, models=TWO_SIDES,
    ),
    Key("load", "name", "text", "as conditions name it", required=True),
    Key(
        "load", "reference", "flag", "true for the load that the reference position belongs to; one at most",
        default="false",
    ),
    Key("load", "masses", "tables", "what is put on the body as given; nothing unless given"),
    Key("load.masses", "mass", "quantity", "for the whole vehicle", unit="kg", required=True),
    Key(
        "load.masses", "behind_front_axle", "quantity", "of its centre; may overhang either axle", unit="m",
        sign="any", required=True,
    ),
    Key(
        "load.masses", "length", "quantity", "along the vehicle, for its own pitch inertia", unit="m",
        sign="not negative", default=0.0,
    ),
    Key(
        "load.masses", "left_of_centre", "quantity", "of its centre, negative right of the centre line", unit="m",
        sign="any", default=0.0, models=TWO_SIDES,
    ),
    *ROADS,
)  # fmt: skip


KEYS: tuple[Key, ...] = (
    *_TOP, *_VEHICLE, *_BODY, *_AXLE, *_RANGE, *_AROUND, *REQUIREMENTS, *CATALOGUE, *SETTINGS,
)  # fmt: skip
"""Every key, in the order in which the reference shows them."""

SECTIONS: dict[str, dict[str, Key]] = {}
"""The keys of each section by name."""
for _row in KEYS:
    SECTIONS.setdefault(_row.section, {})[_row.name] = _row

BODY_SECTIONS = {"body": "vehicle.body", "front": "vehicle.axle", "rear": "vehicle.axle"}
"""Sub-tables of ``[vehicle]`` and where their keys are found."""

QUANTITIES: dict[str, Key] = {
    **{name: row for name, row in SECTIONS["vehicle"].items() if row.kind == "quantity"},
    **{
        f"{part}.{name}": row
        for part, section in BODY_SECTIONS.items()
        for name, row in SECTIONS[section].items()
        if row.kind == "quantity"
    },
}
"""Every vehicle quantity by its path below ``[vehicle]``, in the order that design variables are in."""

AXLE_WORDS = tuple(
    f"{part}.{name}"
    for part, section in BODY_SECTIONS.items()
    for name, row in SECTIONS[section].items()
    if row.kind == "word"
)
"""Paths of the keys of axles whose value is a word."""

CURVES = tuple(
    f"{part}.{name}"
    for part, section in BODY_SECTIONS.items()
    for name, row in SECTIONS[section].items()
    if row.kind == "curve"
)
"""Paths of the keys that name a file of measured points."""

EXAMPLES = {
    "m": "120 mm", "kg": "44 kg", "kg*m^2": "2550 kg*m^2", "N/m": "22 N/mm", "N*s/m": "1800 N*s/m", "m/s": "60 km/h",
    "N": "50 N", "m^3": "64e-6 m^3", "1/m": "0.011 cycles/m", "Hz": "1.2 Hz", "rad": "0.5 deg", "m/s^2": "0.5 m/s^2",
    "rad/s^2": "1 rad/s^2", "s": "30 min", "m/s^1.75": "3 m/s^1.75", "1": "35 %",
}  # fmt: skip
"""A quantity in each SI unit, as one might write it."""
