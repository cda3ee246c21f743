"""Parallel tracks of a surface that is alike in all directions.

C.J. Dodds, J.D. Robson, The description of road surface roughness, J. Sound and Vibration 31(2) (1973) 175-183: the
cross-correlation of two tracks 2b apart, at lag x, is a single track's autocorrelation at √(x² + 4b²) (from memory; the
title, and that coherence follows from it, seen at paperexplained.cn and discovery.researcher.life with Kamash and
Robson, The application of isotropy in road surface modelling, J. Sound and Vibration 57 (1978)). For G ∝ n^-w it makes

    w = 1    g = exp(-2πnt)               w = 3    g = (1 + 2πnt) exp(-2πnt)
    w = 2    g = 2πnt K1(2πnt)

(closed forms of K of half orders and of K1). Values of K1: M. Abramowitz, I.A. Stegun, Handbook of Mathematical
Functions, table 9.8 (K1(1) = 0.60190 72302, K1(2) = 0.13986 58818, K1(0.1) = 9.85384 47809; from memory).

A power law has no autocorrelation (its long waves have no bound), so the rule is tried on mean squares of differences
of height, where they cancel. Of 3492 measured roads other models are closer than the isotropic one (Model of coherence
function of road unevenness in parallel tracks for vehicle simulation; abstract seen at discovery.researcher.life): the
rule is a convention of simulation, and no fact about every road.
"""

from __future__ import annotations

import numpy as np
import pytest

from builders import Array
from checks import check, check_all
from ridefront.road import CLASSES, Road
from ridefront.road.coherence import coherence
from ridefront.road.realisation import realisation

SOURCE = "Dodds, Robson, The description of road surface roughness (1973)"
BESSEL = {0.1: 9.8538447809, 1.0: 0.6019072302, 2.0: 0.1398658818}
TRACK = 1.5


def at(x: Array | float, waviness: float) -> Array:
    """g where 2πnt is x."""
    return coherence(np.atleast_1d(np.asarray(x, dtype=np.float64)) / (2 * np.pi * TRACK), TRACK, waviness)


def test_waviness_of_two() -> None:
    check_all(
        figure="coherence of two tracks, w = 2: x K1(x) at x = 0.1, 1, 2",
        source=SOURCE,
        theirs=[x * k for x, k in BESSEL.items()],
        ours=at(np.array(list(BESSEL)), 2.0),
        abs=2e-10,
        at=[f"x = {x:g}" for x in BESSEL],
        how="memory: K1 of Abramowitz and Stegun, table 9.8",
    )


@pytest.mark.parametrize("waviness", [1.0, 3.0])
def test_waviness_of_one_and_three(waviness: float) -> None:
    x = np.array([0.01, 0.2, 1.0, 3.0, 9.0])
    closed = np.exp(-x) * (1.0 if waviness == 1 else 1 + x)
    check_all(
        figure=f"coherence of two tracks, w = {waviness:g}, in closed form",
        source=SOURCE,
        theirs=closed,
        ours=at(x, waviness),
        rel=1e-12,
        at=[f"x = {value:g}" for value in x],
        how="derived: K of half orders is elementary",
    )


@pytest.mark.parametrize(("forward", "sideways"), [(0.0, 2.0), (1.0, 1.5), (2.4, 1.0)])
def test_differences_of_height_depend_on_distance_alone(forward: float, sideways: float) -> None:
    """Mean squares of differences of height over 24 realisations of 1000 m, between a point of one track and one of the
    other, `forward` metres on, against two points of one track as far apart. 3 %: sampling, 1 %, and what a band of
    0.002 to 10 cycles/m cuts off at its lower end, another 1 %.
    """
    road = Road("surface", CLASSES["B"], band=(0.002, 10.0), length=1000.0)
    samples = 25_000
    step = road.length / samples
    distance = float(np.hypot(forward, sideways))
    shift, apart = round(forward / step), round(distance / step)
    along, across = [], []
    for index in range(24):
        left, right = realisation(road, 0.0, None, samples, seed=5, index=index, track=sideways)
        along.append(np.mean((np.roll(left, apart) - left) ** 2))
        across.append(np.mean((np.roll(left, shift) - right) ** 2))
    check(
        figure=f"difference of height, {forward:g} m on and {sideways:g} m aside, over that {distance:g} m on",
        source=SOURCE,
        theirs="1",
        ours=float(np.sqrt(np.mean(across) / np.mean(along))),
        rel=0.03,
        how="derived: the rule of one correlation in all directions",
        robust=False,
    )
