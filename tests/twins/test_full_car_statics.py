"""The full car at rest against root finding on all seven of its equations, every force and moment written anew; its
body against a heap of point masses.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import fsolve

from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.body import body_under
from ridefront.vehicle.elements import Points
from ridefront.vehicle.static import at_rest
from twins.vehicles import AXLES, WHEELBASE, real_car, with_sides

Array = NDArray[np.float64]
G = 9.80665
FULL = model_of("full-car")
CARS = 40

LOADS = (
    Load("driver", (LoadMass(80.0, 1.3, left_of_centre=0.36),), reference=True),
    Load("right", (LoadMass(80.0, 1.3, left_of_centre=0.36), LoadMass(300.0, 2.5, 0.8, left_of_centre=-0.4))),
    Load("left", (LoadMass(80.0, 1.3, left_of_centre=0.36), LoadMass(150.0, 0.4, left_of_centre=0.55))),
    Load("empty"),
)


def cars(seed: int, n: int = CARS) -> dict[str, Array]:
    rng = np.random.default_rng(seed)
    return with_sides(real_car(rng, n), rng)


@dataclass(frozen=True)
class Twin:
    """One car; places are measured from the vehicle's centre line, x behind the front axle.

    Attributes:
        value: every quantity by path.
        beams: axles that are beams.
    """

    value: dict[str, float]
    beams: tuple[str, ...]

    def element_force(self, axle: str, s: float) -> float:
        """Of spring and stops at their own place, N, for travel of a wheel there."""
        ratio, stop = self.value[f"{axle}.spring_ratio"], self.value[f"{axle}.damper_ratio"]
        force = ratio * self.value[f"{axle}.spring_rate"] * (ratio * s)
        for sign, way in ((1, "bump"), (-1, "rebound")):
            depth = sign * stop * s - self.value[f"{axle}.{way}_clearance"]
            if depth > 0:
                progression = self.value[f"{axle}.{way}_stop_progression"]
                force += sign * stop * self.value[f"{axle}.{way}_stop_rate"] * depth * (1 + progression * depth / 0.1)
        return force

    def reference(self, load: Load) -> tuple[float, Array]:
        """Mass of the body under a load, kg, and where its centre is: behind the front axle and left, m."""
        mass = self.value["body.mass"]
        places = [(mass, (1 - self.value["front_share"]) * WHEELBASE, 0.0)]
        places += [(item.mass, item.behind_front_axle, item.left_of_centre) for item in load.masses]
        table = np.array(places)
        total = float(np.sum(table[:, 0]))
        return total, table[:, 0] @ table[:, 1:] / total

    def carried(self, load: Load) -> dict[str, tuple[float, float]]:
        """What the springs of each axle carry under the reference load, left and right, N."""
        total, (aft, left) = self.reference(load)
        axle_weight = {"front": total * G * (1 - aft / WHEELBASE), "rear": total * G * aft / WHEELBASE}
        found = {}
        for axle, weight in axle_weight.items():
            spacing = self.value[f"{axle}.spring_spacing" if axle in self.beams else f"{axle}.track"]
            found[axle] = (weight * (0.5 + left / spacing), weight * (0.5 - left / spacing))
        return found

    def residual(self, q: Array, load: Load, at_reference: Load) -> Array:
        """Forces on body (z, pitch, roll about the point above the front axle's middle) and wheels, N, N·m."""
        z, pitch, roll = q[:3]
        total, (aft, left) = self.reference(load)
        carried = self.carried(at_reference)
        body = np.array([-total * G, -total * G * aft, -total * G * left])
        wheels = []
        for k, axle in enumerate(AXLES):
            x, track = (0.0, -WHEELBASE)[k], self.value[f"{axle}.track"]
            spacing = self.value[f"{axle}.spring_spacing"] if axle in self.beams else track
            up = q[3 + 2 * k : 5 + 2 * k]
            tilt, middle = (up[0] - up[1]) / track, 0.5 * (up[0] + up[1])
            bar = self.value[f"{axle}.anti_roll_rate"] * ((up[0] - up[1]) - track * roll)
            tyre = [self.value[f"{axle}.tyre_rate"] * -u for u in up]
            body += np.array([0.0, 0.0, bar * track])
            # What the springs do to the wheels: as a force on the middle and a moment, which a beam hands on to its
            # wheels; independent wheels have their springs at the wheel.
            push, moment = 0.0, 0.0
            for side, sign in enumerate((1.0, -1.0)):
                y = sign * spacing / 2
                under = middle + tilt * y
                above = z - x * pitch + y * roll
                beyond = self.element_force(axle, under - above)
                spring = carried[axle][side] + beyond
                body += np.array([spring, -x * spring, y * spring])
                push, moment = push + beyond, moment + y * beyond
            wheels.append(tyre[0] - (push / 2 + moment / track) - bar)
            wheels.append(tyre[1] - (push / 2 - moment / track) + bar)
        return np.array([*body, *wheels])

    def at_rest(self, load: Load, at_reference: Load) -> Array:
        """Heave, pitch and roll of the body and the wheels' heights, m, found from the reference position."""
        # Asked for more than rounding allows, it goes as far as it can; what is left out of balance is looked at here.
        found = fsolve(self.residual, np.zeros(7), (load, at_reference), xtol=1e-13, full_output=True)[0]
        q = np.asarray(found, dtype=np.float64)
        assert np.max(np.abs(self.residual(q, load, at_reference))) < 1e-5, "the twin should find a balance"
        return q

    def travels(self, q: Array) -> Array:
        """Travel of the four springs, m."""
        found = []
        for k, axle in enumerate(AXLES):
            x, track = (0.0, -WHEELBASE)[k], self.value[f"{axle}.track"]
            spacing = self.value[f"{axle}.spring_spacing"] if axle in self.beams else track
            up = q[3 + 2 * k : 5 + 2 * k]
            for sign in (1.0, -1.0):
                y = sign * spacing / 2
                found.append(0.5 * (up[0] + up[1]) + (up[0] - up[1]) / track * y - (q[0] - x * q[1] + y * q[2]))
        return np.array(found)


def twin(car: dict[str, Array], j: int, beams: tuple[str, ...]) -> Twin:
    return Twin({path: float(values[j]) for path, values in car.items()}, beams)


@pytest.mark.parametrize("beams", [(), ("rear",), AXLES], ids=["independent", "rear beam", "two beams"])
def test_rest_against_root_finding(beams: tuple[str, ...]) -> None:
    """1e-8 m: the root finder ends with some 1e-6 N out of balance, on rates above 1e4 N/m."""
    car = cars(151)
    states = at_rest(car, FULL, LOADS, 0, beams=frozenset(beams))
    engaged = 0
    for state, load in zip(states, LOADS, strict=True):
        for j in range(CARS):
            of = twin(car, j, beams)
            q = of.at_rest(load, LOADS[0])
            np.testing.assert_allclose(state.travel[j], of.travels(q), atol=1e-8, rtol=0)
            np.testing.assert_allclose(state.tyre_sink[j], -q[3:], atol=1e-8, rtol=0)
            engaged += bool(np.any(state.wheel_rate[j] > 1.05 * state.travel_law.slope[j]))
    assert engaged > 20, "the loads should press some cars onto their stops"


@pytest.mark.parametrize("beams", [(), ("rear",), AXLES], ids=["independent", "rear beam", "two beams"])
def test_rest_is_a_balance_of_the_whole_car(beams: tuple[str, ...]) -> None:
    """What the wheels stand on carries the car: sum, and moments about both axles and the centre line; and the travel
    law gives at each corner the force that is said to be there.
    """
    car = cars(152, 200)
    for state, load in zip(at_rest(car, FULL, LOADS, 0, beams=frozenset(beams)), LOADS, strict=True):
        assert np.all(np.isfinite(state.travel))
        half = [car[f"{axle}.track"] / 2 for axle in AXLES]
        moment = (state.contact_force[:, 0] - state.contact_force[:, 1]) * half[0]
        moment = moment + (state.contact_force[:, 2] - state.contact_force[:, 3]) * half[1]
        sprung = car["body.mass"] + sum(item.mass for item in load.masses)
        wheels = 2 * (car["front.unsprung_mass"] + car["rear.unsprung_mass"])
        np.testing.assert_allclose(state.contact_force.sum(axis=1), (sprung + wheels) * G, rtol=1e-12)
        rear = car["body.mass"] * (1 - car["front_share"]) * WHEELBASE
        rear = rear + sum(item.mass * item.behind_front_axle for item in load.masses)
        rear = rear / WHEELBASE + 2 * car["rear.unsprung_mass"]
        np.testing.assert_allclose(state.contact_force[:, 2] + state.contact_force[:, 3], rear * G, rtol=1e-12)
        want = sum(item.mass * item.left_of_centre for item in load.masses) * G
        np.testing.assert_allclose(moment, np.full_like(moment, want), rtol=1e-8, atol=1e-7)
        np.testing.assert_allclose(state.travel_law.force(state.travel), state.extra, rtol=1e-9, atol=1e-9)
        np.testing.assert_allclose(state.contact_force, (state.corner_mass + state.unsprung_mass) * G, rtol=1e-12)


def test_rest_on_springs_that_soften() -> None:
    """Measured curves that stiffen, soften and stiffen again: Newton's steps overshoot, and a balance is found yet."""
    car = cars(153, 200)
    for axle in AXLES:
        car |= {f"{axle}.spring_scale": car[f"{axle}.spring_rate"] / 30e3}
    curve = Points((-0.1, -0.02, 0.0, 0.004, 0.03, 0.05, 0.2), (-900.0, -700.0, 0.0, 700.0, 800.0, 3000.0, 3100.0))
    tables = {f"{axle}.spring_table": curve for axle in AXLES}
    for state in at_rest(car, FULL, LOADS, 0, tables, frozenset({"rear"})):
        assert np.all(np.isfinite(state.travel))
        np.testing.assert_allclose(state.travel_law.force(state.travel), state.extra, rtol=1e-9, atol=1e-9)


def test_a_design_does_not_see_its_neighbours() -> None:
    """Bit by bit, alone and in company."""
    car = cars(154, 12)
    together = at_rest(car, FULL, LOADS, 0, beams=frozenset({"rear"}))
    for j in range(12):
        alone = at_rest({path: values[j : j + 1] for path, values in car.items()}, FULL, LOADS, 0, beams={"rear"})
        for one, all_of_them in zip(alone, together, strict=True):
            for name in ("travel", "tyre_sink", "extra", "contact_force", "wheel_rate"):
                assert np.array_equal(getattr(one, name)[0], getattr(all_of_them, name)[j]), name


def test_body_against_point_masses() -> None:
    """The body as given as four point masses with its mass, centre and inertias; a load's bar as a thousand."""
    car = cars(155, 8)
    load = Load("full", (LoadMass(160.0, 1.3, 0.0, 0.35), LoadMass(220.0, 2.9, 1.5, -0.5), LoadMass(40.0, -0.4, 0.6)))
    body = body_under(car, FULL, load)
    for j in range(8):
        mass, centre = car["body.mass"][j], (1 - car["front_share"][j]) * WHEELBASE
        # Two of the four masses on each axis through the centre: m/2 times the distance squared.
        along = np.sqrt(2 * car["body.dynamic_index"][j] * centre * (WHEELBASE - centre))
        across = np.sqrt(2 * car["body.roll_inertia"][j] / mass)
        masses = [mass / 4] * 4
        places = [(centre + along, 0.0), (centre - along, 0.0), (centre, across), (centre, -across)]
        for item in load.masses:
            pieces = 1000
            masses += [item.mass / pieces] * pieces
            bar = item.behind_front_axle + item.length * ((np.arange(pieces) + 0.5) / pieces - 0.5)
            places += [(float(behind), item.left_of_centre) for behind in bar]
        m, at = np.array(masses), np.array(places)
        middle = (m[:, np.newaxis] * at).sum(axis=0) / np.sum(m)
        ahead, left = middle[0] - at[:, 0], at[:, 1] - middle[1]
        assert body.mass[j] == pytest.approx(np.sum(m), rel=1e-12)
        assert (body.centre[j], body.left[j]) == pytest.approx(tuple(middle), rel=1e-12)
        assert body.pitch_inertia[j] == pytest.approx(np.sum(m * ahead**2), rel=1e-6)
        assert body.roll_inertia[j] == pytest.approx(np.sum(m * left**2), rel=1e-12)
        assert body.product[j] == pytest.approx(np.sum(m * ahead * left), rel=1e-9)
        for c, (axle, side) in enumerate((axle, side) for axle in AXLES for side in (1, -1)):
            place = (
                middle[0] - (0.0 if axle == "front" else WHEELBASE),
                side * car[f"{axle}.track"][j] / 2 - middle[1],
            )
            assert (body.x[j, c], body.y[j, c]) == pytest.approx(place, rel=1e-12)


def test_what_a_mirrored_load_does_is_mirrored() -> None:
    car = cars(156, 20)
    over = [2 * (c // 2) + 1 - c % 2 for c in range(4)]
    there, back = (
        at_rest(car, FULL, (LOADS[3], Load("one", (LoadMass(250.0, 2.2, 0.5, side * 0.5),))), 0, beams={"front"})[1]
        for side in (1, -1)
    )
    for name in ("travel", "tyre_sink", "extra", "contact_force", "wheel_rate"):
        np.testing.assert_allclose(getattr(there, name), getattr(back, name)[:, over], rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(there.body.product, -back.body.product, rtol=1e-12)
    np.testing.assert_allclose(there.spring_y, -back.spring_y[:, over], rtol=1e-12)
