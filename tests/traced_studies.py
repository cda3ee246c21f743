"""Studies for the tests of histories: a car over one hump and along a short random road, and one corner of it."""

from __future__ import annotations

from pathlib import Path

from ridefront.study import Study, read_study

AXLE = """
spring_rate = { low = "16 N/mm", high = "40 N/mm" }
damping = { low = "900 N*s/m", high = "4000 N*s/m" }
bump_share = 0.35
knee_speed = "0.12 m/s"
knee_share = 0.4
damper_ratio = 0.9
friction = "40 N"
bump_clearance = "36 mm"
bump_stop_rate = "40 N/mm"
bump_stop_progression = 1.5
rebound_clearance = "54 mm"
rebound_stop_rate = "60 N/mm"
tyre_rate = "205 N/mm"
bump_travel = "85 mm"
rebound_travel = "95 mm"
"""

CAR = f"""
title = "Car of the histories"
seed = 3
[vehicle]
model = "half-car"
wheelbase = "2.7 m"
front_share = 0.55
contact_patch = "0.1 m"
[vehicle.body]
mass = "1250 kg"
dynamic_index = 0.93
[vehicle.front]
unsprung_mass = "41 kg"
{AXLE}
[vehicle.rear]
unsprung_mass = "46 kg"
{AXLE}
[[seat]]
name = "driver"
behind_front_axle = "1.35 m"
[[seat]]
name = "back seat"
behind_front_axle = "2.2 m"
[[load]]
name = "driver alone"
reference = true
masses = [ {{ mass = "75 kg", behind_front_axle = "1.35 m" }} ]
[[load]]
name = "full"
masses = [ {{ mass = "150 kg", behind_front_axle = "1.35 m" }}, {{ mass = "250 kg", behind_front_axle = "2.6 m" }} ]
[[road]]
name = "hump"
kind = "obstacle"
shape = "half-sine"
height = "60 mm"
length = "0.6 m"
[[road]]
name = "lane"
kind = "iso8608"
class = "D"
length = "200 m"
[[condition]]
road = "hump"
speed = "40 km/h"
load = ["driver alone", "full"]
[[condition]]
road = "lane"
speed = "60 km/h"
load = "full"
[[objective]]
criterion = "peak_acceleration"
road = "hump"
[[objective]]
criterion = "rattle_space"
road = "hump"
[present]
front.spring_rate = "22 N/mm"
front.damping = "1700 N*s/m"
rear.spring_rate = "24 N/mm"
rear.damping = "1800 N*s/m"
"""

TWO_SIDES = (
    ('model = "half-car"', 'model = "full-car"'),
    ("dynamic_index = 0.93", 'dynamic_index = 0.93\nroll_inertia = "480 kg*m^2"'),
    ("[vehicle.front]", '[vehicle.front]\ntrack = "1.5 m"\nanti_roll_rate = "12 N/mm"'),
    (
        "[vehicle.rear]",
        '[vehicle.rear]\ntrack = "1.46 m"\naxle = "beam"\naxle_roll_inertia = "24 kg*m^2"\nspring_spacing = "1.05 m"\n'
        'damper_spacing = "1.2 m"\nanti_roll_rate = "4 N/mm"',
    ),
    ('name = "driver"\n', 'name = "driver"\nleft_of_centre = "0.36 m"\n'),
    ('name = "back seat"\n', 'name = "back seat"\nleft_of_centre = "-0.3 m"\n'),
    ('mass = "250 kg", behind_front_axle', 'mass = "250 kg", left_of_centre = "-0.4 m", behind_front_axle'),
    ('shape = "half-sine"', 'shape = "half-sine"\nside = "left"'),
)
"""Changes that make `CAR` a full car with a beam axle behind, loaded to the right, on a hump under its left wheels."""

CORNER = f"""
title = "Corner of the histories"
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "330 kg"
[vehicle.front]
unsprung_mass = "41 kg"
{AXLE}
[[road]]
name = "hole"
kind = "obstacle"
shape = "versine"
height = "-80 mm"
length = "1 m"
[[condition]]
road = "hole"
speed = ["30 km/h", "50 km/h"]
[[objective]]
criterion = "peak_acceleration"
[[objective]]
criterion = "rattle_space"
"""


def traced_study(folder: Path, text: str = CAR, *changes: tuple[str, str]) -> Study:
    """A study above with pieces of its text replaced; every piece must be there."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    file = folder / "traced.toml"
    file.write_text(text, encoding="utf-8")
    return read_study(file)
