"""The full car in time, the slow obvious way: Lagrange's equations of seven coordinates, whatever acts by its stretch.

Coordinates are z, pitch (nose down) and roll (left side up) of the body's centre of mass and the four wheels, front
left, front right, rear left, rear right; m, rad. Every spring, damper and bar is a row of coefficients: its stretch is
that row times the coordinates, and so is its part in each coordinate's force. Nothing here knows of laws or hinges.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.optimize
from numpy.typing import NDArray

from ridefront.vehicle import Load
from ridefront.vehicle.elements import NO_TABLES, Tables
from twins.integrator import Corner, G, Ground, corner_of, integrated

Array = NDArray[np.float64]
Each = Sequence[float] | Array
"""Front and rear."""
WHEELS = ((3, 4), (5, 6))  # of the coordinates: front left and right, rear left and right
AXLES = ("front", "rear")


def stretches(x: Each, left: Each, spacing: Each, track: Each) -> Array:
    """Stretch per coordinate of the elements of two axles, (4, 7): how far the axle has risen where they stand on the
    line between its wheels, less how far the body has there.

    Args:
        x, left: where the middle of an axle is from the centre of mass, m.
        spacing: of the elements of an axle, m; its track where wheels are independent.
        track: m.
    """
    found = np.zeros((4, 7))
    for axle, wheels in enumerate(WHEELS):
        for side, sign in enumerate((0.5, -0.5)):
            row, y = found[2 * axle + side], sign * spacing[axle]
            row[:3] = -1.0, x[axle], -(left[axle] + y)
            row[wheels[0]], row[wheels[1]] = 0.5 + y / track[axle], 0.5 - y / track[axle]
    return found


def twists(track: Each) -> Array:
    """Of the bars of two axles, (2, 7): how far the left wheel has risen over the right one, seen from the body."""
    found = np.zeros((2, 7))
    for axle, (left, right) in enumerate(WHEELS):
        found[axle, left], found[axle, right], found[axle, 2] = 1.0, -1.0, -track[axle]
    return found


def beam_masses(mass: float, inertia: float, track: float) -> Array:
    """Of both wheels on a beam of that mass and roll inertia, (2, 2)."""
    rise, tilt = np.array([0.5, 0.5]), np.array([1.0, -1.0]) / track
    return np.asarray(mass * np.outer(rise, rise) + inertia * np.outer(tilt, tilt), dtype=np.float64)


@dataclass(frozen=True)
class FullTwin:
    """A car under one load. Coordinates count from the reference position, where every spring bears its reference load.

    Attributes:
        masses: (7, 7); weight: on each coordinate, (7,), N.
        springs, dampers: rows of each, (4, 7); bars: likewise, (2, 7), and their rates, (2,).
        corners: what acts at each.
        preload: of each spring and stop, contact: of each tyre at the reference position, (4,), N.
    """

    masses: Array
    weight: Array
    springs: Array
    dampers: Array
    bars: Array
    bar_rates: Array
    corners: tuple[Corner, ...]
    preload: Array
    contact: Array

    def spring_forces(self, s: Array) -> tuple[Array, Array, Array]:
        """Of springs with stops, of bump stops, of rebound stops, (4,), at travels (4,)."""
        forces = [
            (corner.spring(travel), corner.bump(travel), corner.rebound(travel))
            for corner, travel in zip(self.corners, s.tolist(), strict=True)
        ]
        spring, bump, rebound = np.array(forces).T
        return self.preload + spring + bump - rebound, bump, rebound

    def contacts(self, q: Array, v: Array, ground: Array) -> Array:
        """Of the tyres, (4,): they push and do not pull, and in the air they are not damped; ground: (4, 2)."""
        stiff, damped = (
            np.array([getattr(corner, f"tyre_{name}") for corner in self.corners]) for name in ("rate", "damping")
        )
        elastic = self.contact + stiff * (ground[:, 0] - q[3:])
        total = elastic + damped * (ground[:, 1] - v[3:])
        return np.where((elastic > 0) & (total > 0), total, 0.0)

    def accelerations(self, q: Array, v: Array, ground: Array) -> Array:
        """Of every coordinate, (7,)."""
        spring, _, _ = self.spring_forces(self.springs @ q)
        speeds = (self.dampers @ v).tolist()
        damper = np.array([c.damper(w) + c.friction(w) for c, w in zip(self.corners, speeds, strict=True)])
        bar = self.bar_rates * (self.bars @ q)
        forces = -(self.weight + self.springs.T @ spring + self.dampers.T @ damper + self.bars.T @ bar)
        forces[3:] += self.contacts(q, v, ground)
        return np.asarray(np.linalg.solve(self.masses, forces), dtype=np.float64)

    def at_rest(self) -> Array:
        """Where it stands on a level road, (7,)."""
        level, still = np.zeros((4, 2)), np.zeros(7)

        def unbalanced(q: Array) -> Array:
            return np.asarray(self.masses @ self.accelerations(q, still, level), dtype=np.float64)

        # Asked for more than rounding allows, it goes as far as it can; what is left out of balance is looked at here.
        found = np.asarray(scipy.optimize.fsolve(unbalanced, still, xtol=1e-14, full_output=True)[0], dtype=np.float64)
        assert np.max(np.abs(unbalanced(found))) < 1e-6, "the twin should find a balance"
        return found

    def drive(self, ground: Ground, breaks: Sequence[float], t: Array) -> Array:
        """Deviations from rest, then speeds, (14, times); arguments as of `integrator.drive_twin`, for four wheels."""
        rest = self.at_rest()

        def change(state: list[float], under: tuple[tuple[float, float], ...]) -> list[float]:
            y = np.array(state)
            found: list[float] = self.accelerations(rest + y[:7], y[7:], np.array(under)).tolist()
            return found

        return integrated(change, 7, ground, breaks, t)


def full_twin(
    parameters: Mapping[str, Array],
    loads: tuple[Load, ...],
    at: int = 0,
    beams: Collection[str] = (),
    tables: Tables = NO_TABLES,
) -> FullTwin:
    """The first of the cars of `tests/builders.py` under the load with index `at`; the first load is the reference."""
    value = {path: float(array[0]) for path, array in parameters.items()}
    heap, reference = _heap(value, loads[at]), _heap(value, loads[0])
    mass, (centre, left) = heap[0], heap[1]
    track = [value[f"{axle}.track"] for axle in AXLES]
    spacings = [
        [
            value.get(f"{axle}.{kind}_spacing", value[f"{axle}.track"]) if axle in beams else value[f"{axle}.track"]
            for axle in AXLES
        ]
        for kind in ("spring", "damper")
    ]
    masses, weight = np.zeros((7, 7)), np.zeros(7)
    masses[:3, :3], weight[0] = np.diag([mass, 0.0, 0.0]), mass * G
    masses[1:3, 1:3] = heap[2]
    corners, preload, contact = [], [], []
    for k, axle in enumerate(AXLES):
        unsprung = value[f"{axle}.unsprung_mass"]
        wheels = slice(3 + 2 * k, 5 + 2 * k)
        masses[wheels, wheels] = unsprung * np.eye(2)
        if axle in beams:
            masses[wheels, wheels] = beam_masses(2 * unsprung, value[f"{axle}.axle_roll_inertia"], track[k])
        weight[wheels] = unsprung * G
        aft = reference[1][0] / value["wheelbase"]
        carried = reference[0] * (aft if k else 1 - aft)
        for sign in (1, -1):
            corners.append(corner_of(value, axle, tables, carried / 2, carried / 2, 0.0))
            preload.append(carried * G * (0.5 + sign * reference[1][1] / spacings[0][k]))
            contact.append(carried * G * (0.5 + sign * reference[1][1] / track[k]) + unsprung * G)
    x = (centre, centre - value["wheelbase"])
    return FullTwin(
        masses=masses,
        weight=weight,
        springs=stretches(x, (-left, -left), spacings[0], track),
        dampers=stretches(x, (-left, -left), spacings[1], track),
        bars=twists(track),
        bar_rates=np.array([value[f"{axle}.anti_roll_rate"] for axle in AXLES]),
        corners=tuple(corners),
        preload=np.array(preload),
        contact=np.array(contact),
    )


def _heap(value: Mapping[str, float], load: Load) -> tuple[float, tuple[float, float], Array]:
    """Mass of the body and what lies on it, its centre behind the front axle and left, and its inertia matrix of pitch
    and roll about that.
    """
    body, wheelbase = value["body.mass"], value["wheelbase"]
    place = (1 - value["front_share"]) * wheelbase
    own = value["body.dynamic_index"] * body * place * (wheelbase - place)
    parts = [(body, place, 0.0, own, value["body.roll_inertia"])]
    parts += [(m.mass, m.behind_front_axle, m.left_of_centre, m.mass * m.length**2 / 12, 0.0) for m in load.masses]
    total = sum(part[0] for part in parts)
    centre, left = (sum(part[0] * part[k] for part in parts) / total for k in (1, 2))
    matrix = np.zeros((2, 2))
    for m, behind, aside, pitch, roll in parts:
        x, y = centre - behind, aside - left
        # A point rises by y φ - x θ, so its energy is m (y φ' - x θ')²/2.
        matrix += np.diag([pitch, roll]) + m * np.outer([-x, y], [-x, y])
    return total, (centre, left), matrix
