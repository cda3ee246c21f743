"""The quarter car on a white road as a search problem, with the hypervolume of its exact front.

M. Gobbi, G. Mastinu, J. Sound and Vibration 245(3) (2001) 457-481, doi 10.1006/jsvi.2001.3591 (abstract seen; variances
and sets derived: quarter_car.py has the formulas, test_exact_pareto_set.py checks the sets). Objectives are the rms
body acceleration, the rms dynamic tyre force and, as a third, the rms travel; variables the spring ks, evenly, and the
damper c, by its logarithm, between limits.

The exact sets between the limits, with ks_t = mu ms kt/M² and c(ks) = √(ks ms - M ks²/kt), which rises up to ks_t:

- two objectives: the edge ks = low, from the softest damper to c(low) (the damper of least acceleration of the softest
  spring lies below the softest damper), then the curve c = c(ks) up to ks_t;
- three: all springs from low to ks_t with dampers from c(ks) to the stiffest, and the same edge.

Their hypervolume. Of two objectives it is an integral along the set. Travel depends on the damper alone, so that a
setup has no more than some travel where its damper is no less than some c0: the hypervolume of three is the integral,
over travel, of the area that setups with c >= c0 dominate. Their set is what remains of the edge and of the curve, and
between the two, for c0 above c(low), the springs from low to where the curve reaches c0, all with c0: setups of the
three objectives' set, along which acceleration rises and force falls.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from published.quarter_car import QuarterCar, intensity

Array = NDArray[np.float64]

CAR = QuarterCar()
W = intensity(256e-6, 20.0)  # class C at 72 km/h
SPRINGS = (4e3, 60e3)  # N/m
DAMPERS = (300.0, 6000.0)  # N·s/m
MARGIN = 0.1  # of the front's span, between its worst figures and the reference point


def figures(ks: Array, c: Array) -> Array:
    """(n, 3): rms acceleration, m/s², rms tyre force, N, rms travel, m."""
    variances = (CAR.acceleration(ks, c, W), CAR.tyre_force(ks, c, W), CAR.travel(c, W) + 0.0 * ks)
    return np.sqrt(np.stack(variances, axis=-1))


def setups(U: Array) -> tuple[Array, Array]:
    """Springs and dampers of U (n, 2), in [0, 1]."""
    (soft, stiff), (weak, strong) = SPRINGS, DAMPERS
    return soft + U[:, 0] * (stiff - soft), weak * (strong / weak) ** U[:, 1]


def two(U: Array) -> Array:
    """U (n, 2) -> F (n, 2): comfort against road holding."""
    return np.ascontiguousarray(figures(*setups(U))[:, :2])


def three(U: Array) -> Array:
    """U (n, 2) -> F (n, 3): and travel."""
    return figures(*setups(U))


def box(m: int) -> tuple[Array, Array]:
    """Ideal and reference point (m,) of the exact front of two or three objectives.

    Each objective has its extremes at an end of the set: the softest setup, the least tyre force, and with travel the
    strongest damper with the softest spring and with ks_t.
    """
    end = CAR.spring_of_least_tyre_force
    ks = np.array([SPRINGS[0], end, SPRINGS[0], end])
    c = np.array([DAMPERS[0], float(CAR.pareto_damping(np.array(end))), DAMPERS[1], DAMPERS[1]])
    F = figures(ks, c)[: 2 if m == 2 else 4, :m]
    ideal, nadir = F.min(axis=0), F.max(axis=0)
    return ideal, nadir + MARGIN * (nadir - ideal)


def set_of(least: float, points: int) -> tuple[Array, Array]:
    """Springs and dampers along the set of two objectives of setups with dampers of at least `least`, softest first."""
    soft, end = SPRINGS[0], CAR.spring_of_least_tyre_force
    ms, M, kt = CAR.ms, CAR.M, CAR.kt
    lowest, highest = (float(CAR.pareto_damping(np.array(ks))) for ks in (soft, end))
    if least < lowest:
        edge = np.linspace(least, lowest, points)
        curve = np.linspace(soft, end, points)
        return np.r_[np.full(points, soft), curve], np.r_[edge, CAR.pareto_damping(curve)]
    reached = (ms - np.sqrt(ms**2 - 4 * M * least**2 / kt)) * kt / (2 * M) if least < highest else end
    across = np.linspace(soft, reached, points)
    curve = np.linspace(reached, end, points)
    return np.r_[across, curve], np.r_[np.full(points, least), np.maximum(CAR.pareto_damping(curve), least)]


def area(least: float, reference: Array, points: int) -> float:
    """What the set of `set_of` dominates, up to the reference point (2,): trapezia over the acceleration, a strip from
    its end to the reference point.
    """
    a, f = figures(*set_of(least, points))[:, :2].T
    height = reference[1] - f
    return float(np.sum(0.5 * (height[1:] + height[:-1]) * np.diff(a)) + (reference[0] - a[-1]) * height[-1])


@cache
def exact_volume(m: int, points: int = 4000, nodes: int = 40) -> float:
    """Hypervolume of the exact front of two or three objectives, as a share of its box; to 1e-8.

    Args:
        m: two or three.
        points: along each part of a set of two objectives.
        nodes: of Gauss and Legendre's rule over the damper, for each part between the dampers where the set changes.
    """
    ideal, reference = box(m)
    whole = area(DAMPERS[0], reference[:2], points)
    if m == 3:
        ends = np.array([SPRINGS[0], CAR.spring_of_least_tyre_force])
        breaks = np.r_[DAMPERS[0], CAR.pareto_damping(ends), DAMPERS[1]]
        x, weights = np.polynomial.legendre.leggauss(nodes)
        total = (reference[2] - np.sqrt(CAR.travel(np.array(DAMPERS[0]), W))) * whole
        for low, high in pairwise(breaks.tolist()):
            half = 0.5 * (high - low)
            for c, weight in zip(low + half * (1 + x), half * weights, strict=True):
                slope = np.sqrt(CAR.travel(c, W)) / (2 * c)  # travel ∝ c^(-1/2)
                total += weight * slope * area(float(c), reference[:2], points)
        whole = float(total)
    return whole / float(np.prod(reference - ideal))
