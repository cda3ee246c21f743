"""Small studies for the tests of the evaluator: written to a file, read as people's files are."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ridefront.road import Road
from ridefront.study import Study, read_study
from ridefront.study.space import decode

Array = NDArray[np.float64]

AXLES = """
[vehicle.front]
unsprung_mass = "41 kg"
spring_rate = { low = "14 N/mm", high = "45 N/mm" }
damping = { low = "900 N*s/m", high = "5000 N*s/m", scale = "log" }
tyre_rate = "205 N/mm"
bump_travel = "100 mm"
rebound_travel = "95 mm"
FRONT
[vehicle.rear]
unsprung_mass = { choices = ["40 kg", "55 kg"] }
spring_rate = { times = "front.spring_rate", low = 0.8, high = 1.6 }
spring_ratio = 0.9
damping = { low = "900 N*s/m", high = "5000 N*s/m", step = "50 N*s/m" }
tyre_rate = "205 N/mm"
bump_travel = "110 mm"
rebound_travel = "95 mm"
REAR
"""

HALF = (
    """
title = "Half car of the tests"
[vehicle]
model = "half-car"
wheelbase = "2.7 m"
front_share = 0.53
mass_centre_height = "0.55 m"
contact_patch = "0.1 m"
[vehicle.body]
mass = "1350 kg"
dynamic_index = 0.93
"""
    + AXLES
    + """
[[seat]]
name = "driver"
behind_front_axle = "1.35 m"
height = "0.75 m"
[[seat]]
name = "back seat"
behind_front_axle = "2.2 m"
height = "0.8 m"
[[load]]
name = "two up"
reference = true
masses = [ { mass = "150 kg", behind_front_axle = "1.35 m" } ]
[[load]]
name = "full"
masses = [ { mass = "150 kg", behind_front_axle = "1.35 m" }, { mass = "300 kg", behind_front_axle = "2.6 m" } ]
[[road]]
name = "smooth"
kind = "iso8608"
class = "A"
[[road]]
name = "broken"
kind = "iso8608"
class = "C"
length = "500 m"
[[condition]]
road = "smooth"
speed = "110 km/h"
weight = 3.0
[[condition]]
road = "broken"
speed = ["40 km/h", "70 km/h"]
load = ["two up", "full"]
weight = 2.0
[[objective]]
criterion = "comfort"
[[objective]]
criterion = "dynamic_load_coefficient"
[[objective]]
criterion = "bump_reserve"
[[constraint]]
criterion = "frequency_ratio"
at_least = 0.9
at_most = 1.5
[[constraint]]
criterion = "damping_ratio"
at_least = 0.2
[[constraint]]
criterion = "comfort.back seat"
over = "mean"
at_most = "0.9 m/s^2"
[[constraint]]
criterion = "ride_height_change.rear"
at_most = "45 mm"
[[constraint]]
criterion = "pitch_angle"
at_most = "0.6 deg"
"""
)

REAL = """
bump_share = 0.35
knee_speed = "0.12 m/s"
knee_share = 0.4
friction = "40 N"
bump_clearance = "45 mm"
bump_stop_rate = "40 N/mm"
bump_stop_progression = 1.5
"""

QUARTER = """
title = "Quarter car of the tests"
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "380 kg"
[vehicle.front]
unsprung_mass = "41 kg"
spring_rate = { low = "14 N/mm", high = "45 N/mm" }
damping = { low = "600 N*s/m", high = "4000 N*s/m" }
tyre_rate = "205 N/mm"
[[road]]
name = "country"
kind = "iso8608"
class = "B"
[[condition]]
road = "country"
speed = "80 km/h"
[[objective]]
criterion = "comfort"
[[objective]]
criterion = "dynamic_load_coefficient"
[[constraint]]
criterion = "travel_rms"
at_most = "8 mm"
"""


def half_study(folder: Path, *, real: bool = True) -> Study:
    """Half car, five conditions under two loads; `real` adds stops, knees and friction."""
    extra = REAL if real else ""
    return study_of(HALF.replace("FRONT", extra).replace("REAR", extra), folder)


def quarter_study(folder: Path) -> Study:
    """A linear quarter car on one road."""
    return study_of(QUARTER, folder)


def study_of(text: str, folder: Path) -> Study:
    """The study that a file of that text makes."""
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return read_study(str(path))


def random_designs(study: Study, n: int, seed: int = 0) -> Array:
    """X (n, d), in the study's units."""
    U = np.random.default_rng(seed).random((n, len(study.variables)))
    return decode(study, U)


def rougher(study: Study, times: float) -> Study:
    """The same study with the roughness of every road multiplied."""
    roads = tuple(
        replace(road, roughness=times * road.roughness) if isinstance(road, Road) else road for road in study.roads
    )
    return replace(study, roads=roads)
