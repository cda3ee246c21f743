"""Studies that are right, as texts, and ways to spoil them."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest

from ridefront.errors import Mistake, StudyError
from ridefront.study import Study, read_study

ESTATE = """
title = "Light estate, first springs and dampers"
seed = 7
response = "frequency-domain"

[vehicle]
model = "half-car"
wheelbase = "2.82 m"
front_share = 0.555                      # of the sprung weight
contact_patch = "0.12 m"
[vehicle.body]
mass = "1408 kg"
pitch_inertia = "2550 kg*m^2"
[vehicle.front]
unsprung_mass = "44 kg"
spring_rate = { low = "16 N/mm", high = "40 N/mm" }
spring_ratio = 0.96
damping = { low = "1200 N*s/m", high = "6000 N*s/m", scale = "log" }
damper_ratio = 0.96
bump_share = 0.32
knee_speed = "0.13 m/s"
knee_share = 0.35
friction = "50 N"
tyre_rate = "215 N/mm"
bump_travel = "105 mm"
rebound_travel = "90 mm"
bump_clearance = "50 mm"
bump_stop_rate = "45 N/mm"
[vehicle.rear]
unsprung_mass = { choices = ["42 kg", "58 kg"] }
spring_rate = { times = "front.spring_rate", low = 1.5, high = 3.5 }
spring_ratio = 0.62
damping = { low = "1200 N*s/m", high = "6000 N*s/m", step = "50 N*s/m" }
damper_ratio = 0.88
bump_share = 0.33
knee_speed = "0.13 m/s"
knee_share = 0.36
friction = "35 N"
tyre_rate = "215 N/mm"
bump_travel = "120 mm"
rebound_travel = "95 mm"
bump_clearance = "60 mm"
bump_stop_rate = "40 N/mm"

[[seat]]
name = "driver"
behind_front_axle = "1.40 m"
[[seat]]
name = "back seat"
behind_front_axle = "2.28 m"

[[load]]
name = "two up"
reference = true
masses = [ { mass = "150 kg", behind_front_axle = "1.40 m" } ]
[[load]]
name = "gross"
masses = [ { mass = "150 kg", behind_front_axle = "1.40 m" }, { mass = "415 kg", behind_front_axle = "2.75 m" } ]

[[road]]
name = "country road"
kind = "iso8608"
class = "B"

[[condition]]
road = "country road"
speed = ["60 km/h", "90 km/h"]
load = ["two up", "gross"]
weight = 1.0

[[objective]]
criterion = "comfort"
[[objective]]
criterion = "dynamic_load_coefficient"
over = "worst"
[[objective]]
criterion = "bump_reserve"

[[constraint]]
criterion = "frequency_ratio"
at_least = 1.0
at_most = 1.35

[present]
front.spring_rate = "27 N/mm"
front.damping = "2900 N*s/m"
rear.unsprung_mass = "42 kg"
rear.spring_rate = "68 N/mm"
rear.damping = "3000 N*s/m"

[search]
sample = 4096
population = 200
generations = 120

[compute]
workers = "all"
"""

CORNER = """
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "300 kg"
[vehicle.front]
unsprung_mass = "34 kg"
spring_rate = { low = "14 N/mm", high = "36 N/mm" }
damping = "2000 N*s/m"
tyre_rate = "185 N/mm"
[[road]]
name = "B"
kind = "iso8608"
class = "B"
[[condition]]
road = "B"
speed = 20.0
[[objective]]
criterion = "comfort"
"""


_SIDES = (
    ('model = "half-car"', 'model = "full-car"\nmass_centre_height = "0.58 m"'),
    ("[vehicle.body]", 'front_roll_centre = "60 mm"\nrear_roll_centre = "140 mm"\n[vehicle.body]'),
    ('pitch_inertia = "2550 kg*m^2"', 'pitch_inertia = "2550 kg*m^2"\nroll_inertia = "580 kg*m^2"'),
    ('bump_travel = "105 mm"', 'bump_travel = "105 mm"\ntrack = "1.55 m"\nanti_roll_rate = "12 N/mm"'),
    (
        'bump_travel = "120 mm"',
        'bump_travel = "120 mm"\ntrack = "1.53 m"\naxle = "beam"\naxle_roll_inertia = "42 kg*m^2"\n'
        'spring_spacing = "1.12 m"\ndamper_spacing = "1.2 m"\nanti_roll_rate = "2 N/mm"',
    ),
    (
        'behind_front_axle = "1.40 m"\n[[seat]]\nname = "back seat"\nbehind_front_axle = "2.28 m"\n',
        'behind_front_axle = "1.40 m"\nleft_of_centre = "0.38 m"\n'
        '[[seat]]\nname = "back seat"\nbehind_front_axle = "2.28 m"\nleft_of_centre = "-0.4 m"\n',
    ),
    ('behind_front_axle = "2.75 m" }', 'behind_front_axle = "2.75 m", left_of_centre = "0.12 m" }'),
    ('class = "B"', 'class = "B"\ntracks = "isotropic"'),
)  # fmt: skip


def read(text: str | bytes) -> Study:
    """The study that a text is."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "study.toml"
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return read_study(path)


def find(text: str | bytes) -> tuple[Mistake, ...]:
    """Every mistake that the reader finds in a text; it must find one."""
    with pytest.raises(StudyError) as caught:
        read(text)
    return caught.value.mistakes


def changed(text: str, *pairs: tuple[str, str]) -> str:
    """The text with pieces replaced; each must be there once, or the test would be another than it says."""
    for old, new in pairs:
        assert text.count(old) == 1, (text.count(old), old)
        text = text.replace(old, new)
    return text


FULL = changed(ESTATE, *_SIDES)
"""The estate with two sides: a beam behind, bars, seats and a load off the centre line."""
