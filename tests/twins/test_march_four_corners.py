"""The march with four corners, roll, anti-roll bars and a beam axle, against Lagrange's equations in scipy.

Every spring, damper, tyre and bar is a row of coefficients: its stretch is that row times the coordinates, and so is
its part in each coordinate's force. Parameters are drawn and put into the kernel's rows by hand; every wheel has a road
of its own. The largest size is compared in full: histories and every row of the result.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pytest
import scipy.integrate
from numpy.typing import NDArray

from ridefront.response import kernel_march as kernel
from ridefront.response.digital import low_pass, running_share, sections
from ridefront.response.weighting import WEIGHTINGS
from twins.lagrange import beam_masses, stretches, twists
from twins.time_figures import filtered, running, weighting
from twins.time_figures import low_pass as analogue_low_pass

Array = NDArray[np.float64]
DESIGNS = 2  # are integrated
LANES = DESIGNS if os.environ.get("NUMBA_DISABLE_JIT") else 8  # all lanes differ; in plain Python each costs a second
STEP, STEPS, FIRST, WINDOW, FLOOR = 1e-3, 2000, 300, (1000, 1700), 0.002
FINE = 4
POINTS = ((0.3, 0.35), (-1.2, -0.4))  # x, y, m
BENDS, KNEES = 1, 3
LEFT_ROWS = ("axle y", "track", "anti-roll rate", "half spring mix", "half damper mix")


@dataclass(frozen=True)
class Car:
    """One design; arrays over front left, front right, rear left, rear right.

    Attributes:
        masses: of the seven coordinates, (7, 7).
        springs, dampers: stretch of each per coordinate, (4, 7).
        bars: likewise, front and rear, (2, 7), and their rates, (2,).
        own: the kernel's rows of a corner by name, as far as they are not an axle's; each (4,).
        stops: start, rate, growth of bump, then of rebound, (6, 4).
        bends, knees: start and rate of each, (hinges, 2, 4).
        axle: the kernel's rows that are an axle's by name, each (4,).
    """

    masses: Array
    springs: Array
    dampers: Array
    bars: Array
    bar_rates: Array
    own: dict[str, Array]
    stops: Array
    bends: Array
    knees: Array
    axle: dict[str, Array]

    def spring_forces(self, s: Array) -> tuple[Array, Array, Array]:
        """Of springs, stops and bends together, of bump stops and of rebound stops, (4,) or (4, times)."""
        own, stops, bends = self._own(s), _columns(self.stops, s), _columns(self.bends, s)
        forces = []
        for sign, (start, rate, growth) in ((1, stops[:3]), (-1, stops[3:])):
            depth = sign * s - start
            forces.append(np.where(depth > 0, (rate + growth * depth) * depth, 0.0))
        bump, rebound = forces
        return _with_hinges(own["constant force"] + own["rate"] * s + bump - rebound, s, bends), bump, rebound

    def damper_forces(self, w: Array) -> Array:
        """Of dampers, knees and friction together, (4,) or (4, times)."""
        own = self._own(w)
        force = _with_hinges(own["constant damper force"] + own["damping"] * w, w, _columns(self.knees, w))
        return force + own["friction"] * w / np.sqrt(w**2 + own["friction speed"] ** 2)

    def contact(self, x: Array, v: Array, r: Array, slope: Array) -> Array:
        """(4,) or (4, times)."""
        own = self._own(x)
        elastic = own["contact force"] + own["tyre rate"] * (r - x[3:])
        total = elastic + own["tyre damping"] * (slope - v[3:])
        return np.where((elastic > 0) & (total > 0), total, 0.0)

    def accelerations(self, x: Array, v: Array, r: Array, slope: Array) -> Array:
        """Of z, pitch, roll and the wheels, (7,) or (7, times)."""
        spring, _, _ = self.spring_forces(self.springs @ x)
        damper, bar = self.damper_forces(self.dampers @ v), _columns(self.bar_rates, x) * (self.bars @ x)
        forces = -(self.springs.T @ spring + self.dampers.T @ damper + self.bars.T @ bar)
        forces[3:] += self.contact(x, v, r, slope) - self._own(x)["contact force"]
        return np.asarray(np.linalg.solve(self.masses, forces), dtype=np.float64)

    def _own(self, like: Array) -> dict[str, Array]:
        return {name: _columns(value, like) for name, value in self.own.items()} if like.ndim > 1 else self.own


def _with_hinges(force: Array, x: Array, hinges: Array) -> Array:
    for start, rate in hinges:
        force = force + np.where(x > start, rate * (x - start), 0.0)
    return force


def _columns(values: Array, like: Array) -> Array:
    """Values (..., 4) for arithmetic with (4,) or (4, times)."""
    return values[..., np.newaxis] if like.ndim > 1 else values


def draw(rng: np.random.Generator) -> Car:
    """A car that is right-handed in nothing: every corner differs. Independent wheels in front, a beam behind."""

    def each(low: float, high: float) -> Array:
        return rng.uniform(low, high, 4)

    mass, pitch, roll = (float(rng.uniform(*ends)) for ends in ((1100, 1800), (1500, 2800), (350, 700)))
    product = float(rng.uniform(-0.3, 0.3)) * np.sqrt(pitch * roll)
    x, y, track = (1.2, -1.5), rng.uniform(-0.1, 0.1, 2), rng.uniform(1.4, 1.6, 2)
    springs, dampers = (np.array([track[0], float(rng.uniform(*ends))]) for ends in ((0.9, 1.1), (1.15, 1.3)))
    wheels = each(30, 55)
    beam, turning = float(rng.uniform(70, 110)), float(rng.uniform(15, 30))  # kg, kg m²
    masses = np.zeros((7, 7))
    masses[:3, :3] = [[mass, 0.0, 0.0], [0.0, pitch, -product], [0.0, -product, roll]]
    masses[3:5, 3:5] = np.diag(wheels[:2])
    masses[5:, 5:] = beam_masses(beam, turning, track[1])
    inverse = np.linalg.inv(masses)
    own = {
        "rate": each(18e3, 32e3), "damping": each(1000, 2400), "constant force": each(-40, 40),
        "tyre rate": each(160e3, 260e3), "tyre damping": each(0, 150),
        "contact force": 9.81 * (mass / 4 * each(0.9, 1.1) + np.repeat([np.mean(wheels[:2]), beam / 2], 2)),
        "inverse unsprung mass": np.diag(inverse)[3:],
        "x": np.repeat(x, 2), "friction": each(10, 80), "friction speed": each(0.004, 0.02),
        "cross inverse unsprung mass": np.array([0.0, 0.0, inverse[5, 6], inverse[5, 6]]),
        "constant damper force": each(-40, 40),
    }  # fmt: skip
    rates = rng.uniform(5e3, 30e3, 2)
    of_axles = (y, track, rates, 0.5 * springs / track, 0.5 * dampers / track)
    # What the kernel does not read, at the right, is no number.
    axle = {
        name: np.array([values[0], np.nan, values[1], np.nan]) for name, values in zip(LEFT_ROWS, of_axles, strict=True)
    }
    stops = [each(0.01, 0.03), each(20e3, 60e3), each(0, 1e6), each(0.01, 0.03), each(20e3, 60e3), each(0, 1e6)]
    bends = [[each(-0.01, 0.01), each(-5e3, 8e3)]]
    knees = [[each(-0.3, 0.3), each(-500, 500)] for _ in range(KNEES)]
    return Car(
        masses, stretches(x, y, springs, track), stretches(x, y, dampers, track), twists(track), rates, own,
        np.array(stops), np.array(bends), np.array(knees), axle,
    )  # fmt: skip


def rows(car: Car) -> list[float]:
    """The kernel's rows of a design."""
    (pitch, product), (_, roll) = np.linalg.inv(car.masses[1:3, 1:3])
    body = {
        "inverse mass": 1 / car.masses[0, 0],
        "inverse pitch inertia": pitch,
        "inverse roll inertia": roll,
        "inverse product": product,
    }
    found = [float(body[name]) for name in kernel.BODY]
    corner = car.own | car.axle
    assert set(corner) == set(kernel.CORNER)
    for c in range(4):
        found += [float(corner[name][c]) for name in kernel.CORNER] + car.stops[:, c].tolist()
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
        one * 3, one * 4, one * LANES, one * len(POINTS), one * BENDS, one * KNEES, one, one,
        np.ascontiguousarray(P), np.ascontiguousarray(heights), STEP, FIRST, WINDOW, np.full((1, LANES), FLOOR),
        wk, (low_pass(30.0, STEP),), we, wc, running_share(STEP), True, out, history,
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
        change, (0.0, t[-1]), np.zeros(14), method="DOP853", rtol=1e-7, atol=1e-9, t_eval=t
    )
    assert found.success, found.message
    states: Array = found.y
    return states


def before_faults() -> None:
    """Integrate once what faults in the engine do not change (see `tests/mutants`)."""
    for design in range(DESIGNS):
        integrated(design)


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
    assert np.abs(got[:-1] - want[:-1]) / share[:-1] == pytest.approx(0, abs=4e-3)
    assert got[-1] == want[-1] == np.inf, "heave on waves that go on does not settle"


def figures(car: Car, states: Array) -> tuple[Array, Array]:
    """Every row of the result, and what its error is measured by: itself, or for means, products and shares of time
    what they are part of.
    """
    t = np.arange(states.shape[1], dtype=np.float64) * (STEP / FINE)
    x, v = states[:7], states[7:]
    r, slope = roads(t)
    counted = slice(FINE * FIRST, FINE * STEPS)
    s, w = (car.springs @ x)[:, counted], (car.dampers @ v)[:, counted]
    _, bump, rebound = car.spring_forces(s)
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
        for k in range(3):
            for i in range(k + 1):  # zz, zθ, θθ, zφ, θφ, φφ
                found.append(float(np.mean(motions[i] * motions[k])))
                by.append(float(rms[i] * rms[k]))
    for angle in x[1:3, counted]:
        found += [float(np.mean(angle)), float(np.mean(angle**2))]
        by += [np.sqrt(found[-1]), found[-1]]
    inside = slice(FINE * WINDOW[0], FINE * WINDOW[1])
    found.append(float(np.mean(x[1, inside] ** 2)))
    for name, turn in (("We", a[1]), ("Wc", a[1]), ("We", a[2])):
        found.append(float(np.mean(filtered(weighting(name), turn, STEP / FINE)[counted] ** 2)))
    smooth = np.array([filtered(analogue_low_pass(), row, STEP / FINE) for row in a])
    for ahead, left in POINTS:
        felt, low = (motion[0] - ahead * motion[1] + left * motion[2] for motion in (weighted, smooth))
        found += [float(np.sum(felt[counted] ** 4)) / FINE, float(np.abs(low[counted]).max())]
        found.append(float(running(felt, STEP / FINE)[counted].max() ** 2))
    heave = np.abs(x[0, FINE * FIRST :] - FLOOR)
    last = int(np.flatnonzero(heave > 0.05 * heave.max())[-1])
    found.append((last + 1) / FINE if last + 1 < len(heave) else np.inf)
    by += found[len(by) :]
    return np.array(found), np.abs(np.array(by))
