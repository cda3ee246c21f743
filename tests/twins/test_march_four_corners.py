"""The march with four corners, roll and anti-roll bars, against its equations written anew for `scipy.integrate`.

Parameters are drawn and put into the kernel's rows by hand; every wheel has a road of its own. The largest size is
compared in full: histories and every row of the result.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pytest
import scipy.integrate
from numpy.typing import NDArray

from ridefront.response import kernel_march as kernel
from ridefront.response.digital import low_pass, sections
from ridefront.response.weighting import WEIGHTINGS
from twins.time_figures import filtered, weighting
from twins.time_figures import low_pass as analogue_low_pass

Array = NDArray[np.float64]
LANES, DESIGNS = 8, 2  # all lanes differ; so many are integrated
STEP, STEPS, FIRST, WINDOW, FLOOR = 1e-3, 2000, 300, (1000, 1700), 0.002
FINE = 4
POINTS = ((0.3, 0.35), (-1.2, -0.4))  # x, y, m
BENDS, KNEES = 1, 3
SIDE = np.array([1.0, -1.0, 1.0, -1.0])  # left is positive
OTHER = [1, 0, 3, 2]


@dataclass(frozen=True)
class Car:
    """One design; arrays over front left, front right, rear left, rear right.

    Attributes:
        mass, pitch, roll: kg, kg·m², kg·m².
        own: the kernel's rows of a corner by name.
        stops: start, rate, growth of bump, then of rebound, (6, 4).
        bends, knees: start and rate of each, (hinges, 2, 4).
    """

    mass: float
    pitch: float
    roll: float
    own: dict[str, Array]
    stops: Array
    bends: Array
    knees: Array

    def forces(self, s: Array, w: Array) -> tuple[Array, Array, Array]:
        """Without the bars, and of the stops, (4,) or (4, times)."""
        own, (stops, bends, knees) = self._own(s), (_columns(x, s) for x in (self.stops, self.bends, self.knees))
        forces = []
        for sign, (start, rate, growth) in ((1, stops[:3]), (-1, stops[3:])):
            depth = sign * s - start
            forces.append(np.where(depth > 0, (rate + growth * depth) * depth, 0.0))
        bump, rebound = forces
        force = own["constant force"] + own["rate"] * s + own["damping"] * w + bump - rebound
        for x, hinges in ((s, bends), (w, knees)):
            for start, rate in hinges:
                force = force + np.where(x > start, rate * (x - start), 0.0)
        force = force + own["friction"] * w / np.sqrt(w**2 + own["friction speed"] ** 2)
        return force, bump, rebound

    def suspension(self, x: Array) -> Array:
        """Travel of displacements, or its speed of speeds, (7,) or (7, times) -> (4,) or (4, times)."""
        own = self._own(x)
        found: Array = x[3:] - (x[0] - own["x"] * x[1] + own["y"] * x[2])
        return found

    def contact(self, x: Array, v: Array, r: Array, slope: Array) -> Array:
        """(4,) or (4, times)."""
        own = self._own(x)
        elastic = own["contact force"] + own["tyre rate"] * (r - x[3:])
        total = elastic + own["tyre damping"] * (slope - v[3:])
        return np.where((elastic > 0) & (total > 0), total, 0.0)

    def accelerations(self, x: Array, v: Array, r: Array, slope: Array) -> Array:
        """Of z, pitch, roll and the wheels, (7,) or (7, times)."""
        own, s = self._own(x), self.suspension(x)
        force, _, _ = self.forces(s, self.suspension(v))
        force = force + own["anti-roll rate"] * (s - s[OTHER])
        wheels = (self.contact(x, v, r, slope) - own["contact force"] - force) * own["inverse unsprung mass"]
        body = [
            force.sum(axis=0) / self.mass,
            -(own["x"] * force).sum(axis=0) / self.pitch,
            (own["y"] * force).sum(axis=0) / self.roll,
        ]
        return np.concatenate([np.stack(body), wheels])

    def _own(self, like: Array) -> dict[str, Array]:
        return {name: _columns(value, like) for name, value in self.own.items()} if like.ndim > 1 else self.own


def _columns(values: Array, like: Array) -> Array:
    """Values (..., 4) for arithmetic with (4,) or (4, times)."""
    return values[..., np.newaxis] if like.ndim > 1 else values


def draw(rng: np.random.Generator) -> Car:
    """A car that is right-handed in nothing: every corner differs."""

    def each(low: float, high: float) -> Array:
        return rng.uniform(low, high, 4)

    axle = np.array([1.2, 1.2, -1.5, -1.5])
    bar = np.repeat(rng.uniform(5e3, 30e3, 2), 2)
    mass = float(rng.uniform(1100, 1800))
    unsprung = each(30, 55)
    own = {
        "rate": each(18e3, 32e3), "damping": each(1000, 2400), "constant force": each(-40, 40),
        "tyre rate": each(160e3, 260e3), "tyre damping": each(0, 150),
        "contact force": 9.81 * (mass / 4 * each(0.9, 1.1) + unsprung), "inverse unsprung mass": 1 / unsprung,
        "x": axle + each(-0.1, 0.1), "y": 0.75 * SIDE + each(-0.05, 0.05), "anti-roll rate": bar,
        "friction": each(10, 80), "friction speed": each(0.004, 0.02),
    }  # fmt: skip
    assert tuple(own) == kernel.CORNER
    stops = [each(0.01, 0.03), each(20e3, 60e3), each(0, 1e6), each(0.01, 0.03), each(20e3, 60e3), each(0, 1e6)]
    bends = [[each(-0.01, 0.01), each(-5e3, 8e3)]]
    knees = [[each(-0.3, 0.3), each(-500, 500)] for _ in range(KNEES)]
    pitch, roll = float(rng.uniform(1500, 2800)), float(rng.uniform(350, 700))
    return Car(mass, pitch, roll, own, np.array(stops), np.array(bends), np.array(knees))


def rows(car: Car) -> list[float]:
    """The kernel's rows of a design."""
    found = [1 / car.mass, 1 / car.pitch, 1 / car.roll]
    for c in range(4):
        found += [value[c] for value in car.own.values()] + car.stops[:, c].tolist()
        found += car.bends[:, :, c].ravel().tolist() + car.knees[:, :, c].ravel().tolist()
    return found + [number for point in POINTS for number in point]


SIZES = np.array([0.035, 0.025, 0.009, 0.006])  # m
WAVES = 2 * np.pi * np.array([0.9, 1.7, 5.0, 11.0]) * np.array([[1.0], [1.1], [1.2], [1.3]])  # rad/s, of every wheel
PHASES = np.arange(4) * np.array([[1.0], [2.0], [3.0], [4.0]])


def road(t: float) -> tuple[Array, Array]:
    """Height and its rate under each wheel, (4,): waves that grow from nothing and differ at every wheel."""
    angle, fading = WAVES * t + PHASES, np.exp(-3 * t)
    wave, slope = np.sin(angle) @ SIZES, (WAVES * np.cos(angle)) @ SIZES
    return (1 - fading) * wave, (1 - fading) * slope + 3 * fading * wave


def roads(t: Array) -> tuple[Array, Array]:
    """The same, (4, times)."""
    heights, rates = zip(*(road(time) for time in t.tolist()), strict=True)
    return np.array(heights).T, np.array(rates).T


@lru_cache
def cars() -> tuple[Car, ...]:
    rng = np.random.default_rng(17)
    return tuple(draw(rng) for _ in range(LANES))


@lru_cache
def marched() -> tuple[Array, Array]:
    """Figures (rows, lanes) and histories (steps + 1, 14, lanes)."""
    P = np.array([rows(car) for car in cars()]).T[np.newaxis]
    assert P.shape[1] == kernel.parameter_rows(4, len(POINTS), BENDS, KNEES)
    heights = roads(np.arange(2 * STEPS + 1, dtype=np.float64) * (0.5 * STEP))[0][np.newaxis]
    out = np.full((1, 1, kernel.figure_rows(3, 4, len(POINTS)), LANES), np.nan)
    history = np.full((1, 1, STEPS + 1, 14, LANES), np.nan)
    wk, we, wc = (sections(WEIGHTINGS[name], STEP) for name in ("Wk", "We", "Wc"))
    one = (0,)
    kernel.march(
        one * 3, one * 4, one * LANES, one * len(POINTS), one * BENDS, one * KNEES, one, one, one, one,
        np.ascontiguousarray(P), np.ascontiguousarray(heights), STEP, FIRST, WINDOW, FLOOR,
        wk, (low_pass(30.0, STEP),), we, wc, out, history,
    )  # fmt: skip
    return out[0, 0], history[0, 0]


@lru_cache
def integrated(design: int) -> Array:
    """States (14, times) at FINE moments a step."""
    car = cars()[design]

    def change(t: float, y: Array) -> Array:
        return np.concatenate([y[7:], car.accelerations(y[:7], y[7:], *road(t))])

    t = np.arange(FINE * STEPS + 1) * (STEP / FINE)
    found = scipy.integrate.solve_ivp(
        change, (0.0, t[-1]), np.zeros(14), method="DOP853", rtol=1e-8, atol=1e-10, t_eval=t
    )
    assert found.success, found.message
    states: Array = found.y
    return states


@pytest.mark.parametrize("design", range(DESIGNS))
def test_histories_of_four_corners(design: int) -> None:
    _, history = marched()
    want, got = integrated(design)[:, ::FINE], history[:, :, design].T
    assert np.abs(got - want).max(axis=1) / np.abs(want).max(axis=1) == pytest.approx(0, abs=1e-3)


@pytest.mark.parametrize("design", range(DESIGNS))
def test_every_row_of_the_result(design: int) -> None:
    """In the order that the kernel's docstring gives. Sums over steps against sums over four times as many leave 0.2 %
    at the worst, of mean squares of pitch over a part of the road.
    """
    out, _ = marched()
    want, share = figures(cars()[design], integrated(design))
    got = out[:, design]
    assert len(want) == len(got)
    corner = dict(zip(kernel.CORNER_FIGURES, want[: 4 * len(kernel.CORNER_FIGURES)].reshape(4, -1).T, strict=True))
    assert np.all(corner["bump stop"] > 0.1)
    assert np.count_nonzero(corner["lift-off"]) >= 3
    assert np.abs(got - want) / share == pytest.approx(0, abs=4e-3)


def figures(car: Car, states: Array) -> tuple[Array, Array]:
    """Every row of the result, and what its error is measured by: itself, or for means, products and shares of time
    what they are part of.
    """
    t = np.arange(states.shape[1], dtype=np.float64) * (STEP / FINE)
    x, v = states[:7], states[7:]
    r, slope = roads(t)
    counted = slice(FINE * FIRST, FINE * STEPS)
    s, w = car.suspension(x)[:, counted], car.suspension(v)[:, counted]
    _, bump, rebound = car.forces(s, w)
    contact = car.contact(x, v, r, slope)[:, counted]
    a = car.accelerations(x, v, r, slope)[:3]
    found: list[float] = []
    by: list[float] = []
    for c in range(4):
        square = float(np.mean(s[c] ** 2))
        found += [float(np.mean(s[c])), square, max(0.0, float(s[c].max())), min(0.0, float(s[c].min()))]
        found += [float(np.mean(w[c] ** 2)), float(np.mean((contact[c] - car.own["contact force"][c]) ** 2))]
        found += [float(np.mean(contact[c] == 0)), float(np.mean(bump[c] > 0))]
        found += [float(np.maximum(bump[c], rebound[c]).max())]
        by += [np.sqrt(square), *found[-8:-3], 1.0, 1.0, found[-1]]
    weighted = np.array([filtered(weighting("Wk"), row, STEP / FINE) for row in a])
    for motions in (a[:, counted], weighted[:, counted]):
        rms = np.sqrt(np.mean(motions**2, axis=1))
        for i in range(3):
            for k in range(i, 3):
                found.append(float(np.mean(motions[i] * motions[k])))
                by.append(float(rms[i] * rms[k]))
    for angle in x[1:3, counted]:
        found += [float(np.mean(angle)), float(np.mean(angle**2))]
        by += [np.sqrt(found[-1]), found[-1]]
    inside = slice(FINE * WINDOW[0], FINE * WINDOW[1])
    found.append(float(np.mean(x[1, inside] ** 2)))
    found += [float(np.mean(filtered(weighting(name), a[1], STEP / FINE)[counted] ** 2)) for name in ("We", "Wc")]
    smooth = np.array([filtered(analogue_low_pass(), row, STEP / FINE) for row in a])
    for ahead, left in POINTS:
        there = [(motion[0] - ahead * motion[1] + left * motion[2])[counted] for motion in (weighted, smooth)]
        found += [float(np.sum(there[0] ** 4)) / FINE, float(np.abs(there[1]).max())]
    heave = np.abs(x[0, FINE * FIRST :] - FLOOR)
    found.append(float(np.flatnonzero(heave > 0.05 * heave.max())[-1] + 1) / FINE)
    by += found[len(by) :]
    return np.array(found), np.abs(np.array(by))
