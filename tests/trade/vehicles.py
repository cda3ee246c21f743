"""Four invented vehicles whose data an engineer would believe: light hatchback, estate, van on leaf springs, sports
car.

Spring and damper data at the element, travel and clearances at the wheel from the position under the design load, as
such data come; `_axle` turns clearances into the element's own. A stop's progression is chosen so that the energy it
takes up to the end of its travel is that of a law rate · d · (1 + (d/d_p)²) with d_p = 40 mm: 0.75 · D · 100 mm/d_p², D
its depth. The van's rear stop is the second stage of its leaf spring, whose leaves are 1.25 m apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from builders import Parameters, spread
from ridefront.vehicle import Load, LoadMass, Seat


@dataclass(frozen=True)
class Vehicle:
    """Parameters (n = 1), loads (design, which is the reference, and gross) and seats.

    `sides` is what a full car needs beside them: tracks, bars, roll inertia, heights; `beams` are its beam axles,
    `aside` how far from the centre line its driver sits, m.
    """

    parameters: Parameters
    loads: tuple[Load, ...]
    seats: tuple[Seat, ...]
    sides: Parameters
    beams: tuple[str, ...]
    aside: float

    @property
    def full(self) -> Parameters:
        """With both sides (n = 1)."""
        return self.parameters | self.sides

    @property
    def driver_aside(self) -> Seat:
        """The driver, who in the half car sits on the centre line, to the left of it."""
        return replace(self.seats[0], left_of_centre=self.aside)

    def with_changes(self, changes: dict[str, float] | None = None, **scales: float) -> Parameters:
        """Parameters with some replaced; keyword arguments multiply a key of both axles."""
        parameters = dict(self.parameters)
        for key, scale in scales.items():
            for axle in ("front", "rear"):
                parameters[f"{axle}.{key}"] = parameters[f"{axle}.{key}"] * scale
        return parameters | {path: np.array([value]) for path, value in (changes or {}).items()}


def _axle(
    name: str,
    *,
    unsprung: float,
    spring: float,
    ratios: tuple[float, float],
    bump: tuple[float, float, float],
    rebound: tuple[float, float, float],
    friction: float,
    tyre: tuple[float, float],
    travel: tuple[float, float],
    stop: tuple[float, float, float, float],
) -> dict[str, float]:
    """One axle. `ratios` of spring and damper; `bump`, `rebound`: slope, knee speed, knee share; `travel`: to metal in
    bump and in rebound; `stop`: touches at (wheel), rate, progression, ratio.
    """
    (spring_ratio, damper_ratio), (touches, rate, progression, stop_ratio) = ratios, stop
    return {
        f"{name}.{key}": value
        for key, value in {
            "unsprung_mass": unsprung,
            "spring_rate": spring,
            "spring_ratio": spring_ratio,
            "damper_ratio": damper_ratio,
            "damping_bump": bump[0],
            "knee_speed_bump": bump[1],
            "knee_share_bump": bump[2],
            "damping_rebound": rebound[0],
            "knee_speed_rebound": rebound[1],
            "knee_share_rebound": rebound[2],
            "friction": friction,
            "friction_speed": 0.005,
            "tyre_rate": tyre[0],
            "tyre_damping": tyre[1],
            "bump_travel": travel[0],
            "rebound_travel": travel[1],
            "bump_clearance": touches * stop_ratio,
            "bump_stop_rate": rate,
            "bump_stop_progression": progression,
            "stop_ratio": stop_ratio,
        }.items()
    }


def _sides(
    tracks: tuple[float, float],
    bars: tuple[float, float],
    roll_inertia: float,
    heights: tuple[float, float, float],
    beam: dict[str, float] | None = None,
) -> dict[str, float]:
    """`bars`: rates of front and rear, N/m; `heights`: of the centre of mass, front and rear roll centre, m; `beam`:
    keys of a beam behind.
    """
    keys = ("mass_centre_height", "front_roll_centre", "rear_roll_centre")
    found = {"body.roll_inertia": roll_inertia} | dict(zip(keys, heights, strict=True))
    for axle, track, bar in zip(("front", "rear"), tracks, bars, strict=True):
        found |= {f"{axle}.track": track, f"{axle}.anti_roll_rate": bar}
    return found | {f"rear.{key}": value for key, value in (beam or {}).items()}


def _vehicle(
    body: dict[str, float],
    axles: tuple[dict[str, float], dict[str, float]],
    sides: dict[str, float],
    masses: tuple[tuple[float, float, float], ...],
    seats: tuple[float, ...],
    aside: float,
) -> Vehicle:
    """`masses`: the design load, then what gross adds; each mass, place, length."""
    loads = [LoadMass(*item) for item in masses]
    return Vehicle(
        spread(body | axles[0] | axles[1]),
        (Load("design", (loads[0],), reference=True), Load("gross", tuple(loads))),
        tuple(Seat(name, place) for name, place in zip(("driver", "back seat"), seats, strict=False)),
        spread(sides),
        ("rear",) if "rear.axle_roll_inertia" in sides else (),
        aside,
    )


HATCHBACK = _vehicle(
    {"wheelbase": 2.50, "front_share": 0.631, "body.mass": 930.0, "body.pitch_inertia": 1230.0},
    (
        _axle(
            "front", unsprung=34, spring=23.5e3, ratios=(0.97, 0.97), bump=(1500, 0.13, 0.35),
            rebound=(3000, 0.13, 0.40), friction=45, tyre=(185e3, 50), travel=(0.105, 0.080),
            stop=(0.055, 40e3, 2.3, 0.97),
        ),
        _axle(
            "rear", unsprung=31, spring=21e3, ratios=(0.98, 1.02), bump=(1050, 0.13, 0.40), rebound=(2000, 0.13, 0.42),
            friction=30, tyre=(185e3, 50), travel=(0.115, 0.085), stop=(0.060, 30e3, 2.6, 1.02),
        ),
    ),
    _sides((1.46, 1.45), (6.5e3, 3.5e3), 330.0, (0.56, 0.05, 0.14)),
    ((150, 1.20, 0.0), (225, 2.02, 0.0), (75, 2.85, 0.0)),
    (1.20, 2.02),
    0.35,
)  # fmt: skip

ESTATE = _vehicle(
    {"wheelbase": 2.82, "front_share": 0.555, "body.mass": 1408.0, "body.pitch_inertia": 2550.0},
    (
        _axle(
            "front", unsprung=44, spring=27e3, ratios=(0.96, 0.96), bump=(1850, 0.13, 0.33), rebound=(4000, 0.13, 0.37),
            friction=50, tyre=(215e3, 50), travel=(0.105, 0.090), stop=(0.050, 45e3, 2.6, 0.96),
        ),
        _axle(
            "rear", unsprung=42, spring=68e3, ratios=(0.62, 0.88), bump=(2000, 0.13, 0.35), rebound=(4000, 0.13, 0.38),
            friction=35, tyre=(215e3, 50), travel=(0.120, 0.095), stop=(0.060, 40e3, 2.8, 0.88),
        ),
    ),
    _sides((1.59, 1.58), (14e3, 6e3), 560.0, (0.58, 0.06, 0.12)),
    ((150, 1.40, 0.0), (225, 2.28, 0.0), (190, 3.30, 0.0)),
    (1.40, 2.28),
    0.37,
)  # fmt: skip

VAN = _vehicle(
    {"wheelbase": 3.45, "front_share": 0.678, "body.mass": 1644.0, "body.pitch_inertia": 3950.0},
    (
        _axle(
            "front", unsprung=58, spring=50e3, ratios=(0.95, 0.95), bump=(2600, 0.13, 0.40), rebound=(5200, 0.13, 0.42),
            friction=70, tyre=(260e3, 60), travel=(0.125, 0.095), stop=(0.060, 60e3, 0.0, 0.95),
        ),
        _axle(
            "rear", unsprung=95, spring=40e3, ratios=(1.0, 0.92), bump=(2400, 0.15, 0.45), rebound=(5200, 0.15, 0.45),
            friction=180, tyre=(310e3, 60), travel=(0.165, 0.100), stop=(0.060, 60e3, 0.0, 1.0),
        ),
    ),
    _sides(
        (1.75, 1.74), (22e3, 0.0), 950.0, (0.85, 0.06, 0.42),
        {"axle_roll_inertia": 105.0, "spring_spacing": 1.25, "damper_spacing": 1.15},
    ),
    ((150, 0.95, 0.0), (1400, 2.90, 2.4)),
    (0.95,),
    0.55,
)  # fmt: skip

SPORTS_CAR = _vehicle(
    {"wheelbase": 2.48, "front_share": 0.463, "body.mass": 1228.0, "body.pitch_inertia": 1500.0},
    (
        _axle(
            "front", unsprung=36, spring=76e3, ratios=(0.70, 0.70), bump=(4200, 0.10, 0.40), rebound=(8400, 0.10, 0.42),
            friction=55, tyre=(240e3, 40), travel=(0.075, 0.060), stop=(0.038, 80e3, 1.7, 0.70),
        ),
        _axle(
            "rear", unsprung=40, spring=98e3, ratios=(0.74, 0.74), bump=(4700, 0.10, 0.40), rebound=(9400, 0.10, 0.42),
            friction=55, tyre=(270e3, 40), travel=(0.080, 0.060), stop=(0.042, 80e3, 1.8, 0.74),
        ),
    ),
    _sides((1.54, 1.55), (20e3, 8e3), 380.0, (0.47, 0.04, 0.07)),
    ((150, 1.35, 0.0), (60, 2.40, 0.0)),
    (1.35,),
    0.38,
)  # fmt: skip


def study_text(vehicle: Vehicle, model: str = "half-car") -> str:
    """The vehicle as a study file in SI: springs from half to twice today's, classes B and D, both loads; as a full car
    with its driver to one side.
    """
    full = model == "full-car"
    p = {path: float(value[0]) for path, value in (vehicle.full if full else vehicle.parameters).items()}
    lines = ['title = "invented"', "[vehicle]", f'model = "{model}"', "contact_patch = 0.12"]
    lines += [f"{path} = {value!r}" for path, value in p.items() if "." not in path]
    for section in ("body", "front", "rear"):
        lines.append(f"[vehicle.{section}]")
        lines += ['axle = "beam"'] if full and section in vehicle.beams else []
        for path, value in p.items():
            if path == f"{section}.spring_rate":
                lines.append(f"spring_rate = {{ low = {value / 2!r}, high = {value * 2!r} }}")
            elif path.startswith(f"{section}."):
                lines.append(f"{path.split('.')[1]} = {value!r}")
    for seat in (vehicle.driver_aside, *vehicle.seats[1:]) if full else vehicle.seats:
        lines += ["[[seat]]", f'name = "{seat.name}"', f"behind_front_axle = {seat.behind_front_axle!r}"]
        lines.append(f"left_of_centre = {seat.left_of_centre!r}")
    for load in vehicle.loads:
        masses = (
            f"{{ mass = {m.mass!r}, behind_front_axle = {m.behind_front_axle!r}, length = {m.length!r} }}"
            for m in load.masses
        )
        lines += ["[[load]]", f'name = "{load.name}"', f"reference = {str(load.reference).lower()}"]
        lines.append(f"masses = [{', '.join(masses)}]")
    for name, letter, speed in (("country road", "B", "80 km/h"), ("broken lane", "D", "40 km/h")):
        lines += ["[[road]]", f'name = "{name}"', 'kind = "iso8608"', f'class = "{letter}"']
        lines += ["[[condition]]", f'road = "{name}"', f'speed = "{speed}"', 'load = ["design", "gross"]']
    for criterion in ("comfort", "bump_reserve", "dynamic_load_coefficient"):
        lines += ["[[objective]]", f'criterion = "{criterion}"']
    lines.append("[present]")
    lines += [f"{axle}.spring_rate = {p[f'{axle}.spring_rate']!r}" for axle in ("front", "rear")]
    return "\n".join(lines) + "\n"
