"""Random vehicles for twins and invariants: dictionaries of arrays as a study's designs become, and states of rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridefront.response.grid import Grid, condition_grid
from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.static import AtRest, at_rest

Array = NDArray[np.float64]

WHEELBASE = 2.7
PATCH = 0.12
AXLES = ("front", "rear")
UNLADEN = (Load("unladen", reference=True),)
LOADS = (
    Load("two up", (LoadMass(150.0, 1.4),), reference=True),
    Load("gross", (LoadMass(150.0, 1.4), LoadMass(330.0, 2.6, 0.8))),
)


def linear_car(rng: np.random.Generator, n: int) -> dict[str, Array]:
    """Cars of all sorts without stops, knees or friction, (n,) an entry, SI; bump and rebound damp alike.

    Damping ratios of the body lie between 0.1 and 0.7, dynamic indices between 0.75 and 1.15.
    """

    def between(low: float, high: float) -> Array:
        return np.exp(rng.uniform(np.log(low), np.log(high), n))

    def same(value: float) -> Array:
        return np.full(n, value)

    mass, share = between(700.0, 2200.0), rng.uniform(0.42, 0.6, n)
    car = {
        "wheelbase": same(WHEELBASE),
        "contact_patch": same(PATCH),
        "mass_centre_height": same(0.55),
        "front_share": share,
        "body.mass": mass,
        "body.dynamic_index": between(0.75, 1.15),
    }
    for axle, part in (("front", share), ("rear", 1 - share)):
        corner_mass = 0.5 * mass * part
        spring_ratio, damper_ratio = between(0.55, 1.0), between(0.6, 1.0)
        wheel_rate = corner_mass * (2 * np.pi * between(0.9, 2.2)) ** 2
        damping = 2 * between(0.1, 0.7) * np.sqrt(wheel_rate * corner_mass)
        car |= {
            f"{axle}.unsprung_mass": between(25.0, 65.0),
            f"{axle}.spring_rate": wheel_rate / spring_ratio**2,
            f"{axle}.spring_ratio": spring_ratio,
            f"{axle}.damping": damping / damper_ratio**2,
            f"{axle}.damper_ratio": damper_ratio,
            f"{axle}.bump_share": same(0.5),
            f"{axle}.tyre_rate": between(140e3, 320e3),
            f"{axle}.tyre_damping": rng.uniform(0.0, 150.0, n),
            f"{axle}.friction": same(0.0),
            f"{axle}.friction_speed": same(0.005),
        }
    return car


def real_car(rng: np.random.Generator, n: int, friction: float = 80.0) -> dict[str, Array]:
    """The same cars with stops, knees, unequal bump and rebound, and friction up to `friction`, N."""
    car = linear_car(rng, n)
    for axle in AXLES:
        car |= {
            f"{axle}.bump_share": rng.uniform(0.25, 0.5, n),
            f"{axle}.knee_speed": rng.uniform(0.05, 0.3, n),
            f"{axle}.knee_share": rng.uniform(0.25, 0.8, n),
            f"{axle}.friction": rng.uniform(0.0, friction, n),
            f"{axle}.bump_travel": rng.uniform(0.08, 0.12, n),
            f"{axle}.rebound_travel": rng.uniform(0.08, 0.12, n),
            f"{axle}.bump_clearance": rng.uniform(0.01, 0.06, n),
            f"{axle}.bump_stop_rate": rng.uniform(20e3, 80e3, n),
            f"{axle}.bump_stop_progression": rng.uniform(0.0, 4.0, n),
            f"{axle}.rebound_clearance": rng.uniform(0.01, 0.06, n),
            f"{axle}.rebound_stop_rate": rng.uniform(20e3, 80e3, n),
            f"{axle}.rebound_stop_progression": rng.uniform(0.0, 4.0, n),
        }
    return car


def with_sides(car: dict[str, Array], rng: np.random.Generator) -> dict[str, Array]:
    """The same cars with two sides: tracks, roll inertia, bars, and what a beam axle needs where one is asked for."""
    n = len(car["body.mass"])
    car = car | {"body.roll_inertia": car["body.mass"] * rng.uniform(0.55, 0.8, n) ** 2}
    for axle in AXLES:
        track = rng.uniform(1.3, 1.7, n)
        car |= {
            f"{axle}.track": track,
            f"{axle}.anti_roll_rate": rng.uniform(0.0, 25e3, n),
            f"{axle}.axle_roll_inertia": 2 * car[f"{axle}.unsprung_mass"] * (0.4 * track) ** 2,
            f"{axle}.spring_spacing": track * rng.uniform(0.55, 0.95, n),
            f"{axle}.damper_spacing": track * rng.uniform(0.55, 0.95, n),
        }
    return car


def rest(car: dict[str, Array], model: str = "half-car", loads: tuple[Load, ...] = UNLADEN, at: int = 0) -> AtRest:
    """The cars at rest under the load with index `at`; the first load is the reference."""
    return at_rest(car, model_of(model), loads, 0)[at]


def road(letter: str = "B") -> Road:
    """An ISO 8608 road of that class."""
    return Road(letter, CLASSES[letter])


def grid_of(model: str, speed: float = 22.0, letter: str = "B", patch: float = PATCH, density: int = 1) -> Grid:
    """The grid of a road of that class at `speed`, m/s."""
    return condition_grid(road(letter), speed, patch, WHEELBASE if model == "half-car" else 0.0, density)
