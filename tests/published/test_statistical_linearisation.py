"""Statistical linearisation in closed form, against the literature and against quadrature.

J.B. Roberts, P.D. Spanos, Random Vibration and Statistical Linearization, Wiley 1990 (Dover 2003), chapters 5 and 8
with tables of equivalent coefficients; T.K. Caughey, Equivalent linearization techniques, J. Acoustical Society of
America 35(11) (1963) 1706-1711; L.E. Borgman, Spectral analysis of ocean wave forces on piling, J. Waterways and
Harbors Division ASCE 93 (1967) 129-156 for the quadratic law. Formulas from memory, each checked by quadrature below; x
is Gaussian with mean 0 and deviation σ, the coefficient is E[F x]/σ².

    Coulomb friction F sgn x                 √(2/π) F/σ
    bilinear, a for x > 0 and b for x < 0    (a + b)/2, mean force (a - b) σ/√(2π)
    clearance g both sides, then k           k erfc(g/(σ√2))
    one stop of rate k past g                (k/2) erfc(g/(σ√2)), mean force k [σ φ(g/σ) - g Φ(-g/σ)]
    rate k up to g, none beyond (saturation) k erf(g/(σ√2))
    quadratic k x|x|                         √(8/π) k σ
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import ArrayLike
from scipy.integrate import quad
from scipy.special import erf, erfc
from scipy.stats import norm

from builders import Array, quarter_car, ride
from checks import check, check_all
from ridefront.road import CLASSES, Road
from ridefront.vehicle.laws import Hinge, Law, friction_force, friction_mean_slope

SPANOS = "Roberts, Spanos, Random Vibration and Statistical Linearization (1990)"
BORGMAN = "Borgman, J. Waterways and Harbors Division ASCE (1967)"

SIGMAS = np.array([0.02, 0.1, 0.35, 1.4])


def column(value: float) -> Array:
    return np.full((len(SIGMAS), 1), value)


def law(slope: float, *hinges: tuple[int, float, float, float]) -> Law:
    """A law for every σ at once; hinges as (sign, start, rate, growth)."""
    return Law(column(slope), tuple(Hinge(s, column(x), column(e), column(g)) for s, x, e, g in hinges))


def mean_slope(of: Law) -> Array:
    return of.mean_slope(SIGMAS[:, np.newaxis])[:, 0]


def mean_force(of: Law) -> Array:
    return of.mean_force(SIGMAS[:, np.newaxis])[:, 0]


def check_law(figure: str, theirs: ArrayLike, ours: Array, rel: float, source: str = SPANOS) -> None:
    """A coefficient or a mean force for each of `SIGMAS`."""
    check_all(
        figure=figure,
        source=source,
        theirs=theirs,
        ours=ours,
        at=[f"σ = {sigma:g}" for sigma in SIGMAS],
        rel=rel,
        how="memory (formula), by quadrature too",
    )


def by_quadrature(force: Callable[[float], float], power: int, breaks: tuple[float, ...] = (0.0,)) -> Array:
    """∫ F(x) x^power φ(x/σ)/σ dx, piece by piece between `breaks`, out to 15 σ."""

    def one(sigma: float) -> float:
        edges = sorted({-15 * sigma, 15 * sigma, *(b for b in breaks if abs(b) < 15 * sigma)})

        def integrand(x: float) -> float:
            return float(force(x) * x**power * norm.pdf(x, scale=sigma))

        return sum(quad(integrand, a, b, epsabs=0, epsrel=1e-11)[0] for a, b in pairwise(edges))

    return np.array([one(float(sigma)) for sigma in SIGMAS])


def scalar(of: Law) -> Callable[[float], float]:
    """The engine's own force as a function of one number."""
    return lambda x: float(of.force(np.full((len(SIGMAS), 1), x))[0, 0])


def test_bilinear() -> None:
    """A damper of 1500 N·s/m in bump and 3500 in rebound: (a + b)/2, whatever σ."""
    damper = law(1500.0, (-1, 0.0, 2000.0, 0.0))
    check_law("bilinear damper 1500 and 3500 N s/m, coefficient", np.full(4, 2500.0), mean_slope(damper), 1e-14)
    expected = (1500 - 3500) * SIGMAS / np.sqrt(2 * np.pi)
    check_law("bilinear damper 1500 and 3500 N s/m, mean force", expected, mean_force(damper), 1e-14)


def test_clearance() -> None:
    """Nothing within ±0.2, then 40e3 both ways: k erfc(g/(σ√2)), no mean force."""
    k, g = 40e3, 0.2
    spring = law(0.0, (+1, g, k, 0.0), (-1, g, k, 0.0))
    check_law("clearance, coefficient", k * erfc(g / (SIGMAS * np.sqrt(2))), mean_slope(spring), 1e-12)
    np.testing.assert_allclose(mean_force(spring), 0.0, atol=1e-12)


def test_one_stop() -> None:
    """4e-12 of the rate: the two terms of the mean force cancel where the stop is 10 σ away."""
    k, g = 40e3, 0.2
    stop = law(25e3, (+1, g, k, 0.0))
    ratio = g / SIGMAS
    check_law("one stop, coefficient", 25e3 + k / 2 * erfc(ratio / np.sqrt(2)), mean_slope(stop), 1e-13)
    expected = k * (SIGMAS * norm.pdf(ratio) - g * norm.cdf(-ratio))
    np.testing.assert_allclose(mean_force(stop), expected, rtol=1e-9, atol=4e-12 * k)
    for sigma, theirs, ours in list(zip(SIGMAS, expected, mean_force(stop), strict=True))[1:]:
        check(
            figure=f"one stop, mean force, σ = {sigma:g}",
            source=SPANOS,
            theirs=theirs,
            ours=ours,
            unit="N",
            rel=1e-9,
            how="memory (formula), by quadrature too",
        )


def test_saturation() -> None:
    """Full slope up to ±g, none beyond: k erf(g/(σ√2)); a knee that leaves nothing."""
    k, g = 3000.0, 0.13
    knee = law(k, (+1, g, -k, 0.0), (-1, g, -k, 0.0))
    check_law("saturation, coefficient", k * erf(g / (SIGMAS * np.sqrt(2))), mean_slope(knee), 1e-12)


def test_knee_leaves_its_share() -> None:
    """c [r + (1 - r) erf(y/(σ√2))]: the slope at rest for small, the share r of it for large motion."""
    c, y, r = 3000.0, 0.13, 0.35
    knee = law(c, (+1, y, (r - 1) * c, 0.0), (-1, y, (r - 1) * c, 0.0))
    expected = c * (r + (1 - r) * erf(y / (SIGMAS * np.sqrt(2))))
    np.testing.assert_allclose(mean_slope(knee), expected, rtol=1e-12)
    assert mean_slope(knee)[0] == pytest.approx(c, rel=1e-6)
    assert mean_slope(knee)[-1] < 0.45 * c


def test_quadratic() -> None:
    """k x|x|: √(8/π) k σ (Borgman), no mean force; one-sided k x²: half of it, mean force k σ²/2."""
    k = 700.0
    both = law(0.0, (+1, 0.0, 0.0, k), (-1, 0.0, 0.0, k))
    check_law("quadratic law, coefficient", np.sqrt(8 / np.pi) * k * SIGMAS, mean_slope(both), 1e-13, BORGMAN)
    np.testing.assert_allclose(mean_force(both), 0.0, atol=1e-12)
    one = law(0.0, (+1, 0.0, 0.0, k))
    np.testing.assert_allclose(mean_slope(one), np.sqrt(2 / np.pi) * k * SIGMAS, rtol=1e-13)
    np.testing.assert_allclose(mean_force(one), k * SIGMAS**2 / 2, rtol=1e-13)


LAWS = {
    "bilinear": law(1500.0, (-1, 0.0, 2000.0, 0.0)),
    "clearance": law(0.0, (+1, 0.2, 40e3, 0.0), (-1, 0.2, 40e3, 0.0)),
    "one stop": law(25e3, (+1, 0.2, 40e3, 0.0)),
    "saturation": law(3000.0, (+1, 0.13, -3000.0, 0.0), (-1, 0.13, -3000.0, 0.0)),
    "quadratic": law(0.0, (+1, 0.0, 0.0, 700.0), (-1, 0.0, 0.0, 700.0)),
    "damper": law(1500.0, (-1, 0.0, 2000.0, 0.0), (+1, 0.13, -975.0, 0.0), (-1, 0.16, -2200.0, 0.0)),
    "spring with stops": law(25e3, (+1, 0.05, 45e3, 1.2e6), (-1, 0.07, 80e3, 3e5)),
}


@pytest.mark.parametrize("name", LAWS)
def test_against_quadrature(name: str) -> None:
    """E[F x]/σ² and E[F] of the engine's own force, whatever the hinges: all laws of the tables above, and two made up
    of several.
    """
    of = LAWS[name]
    breaks = (0.0, *(float(h.sign * h.start[0, 0]) for h in of.hinges))
    np.testing.assert_allclose(mean_slope(of), by_quadrature(scalar(of), 1, breaks) / SIGMAS**2, rtol=1e-9)
    scale = mean_slope(of) * SIGMAS
    np.testing.assert_allclose(mean_force(of) / scale, by_quadrature(scalar(of), 0, breaks) / scale, atol=1e-9)


def test_coulomb_friction() -> None:
    """√(2/π) F/σ; smooth friction tends to it from below as its speed falls: within 2e-3 at a hundredth of σ."""
    F = 50.0
    slope = friction_mean_slope(SIGMAS, np.full(4, F), 1e-7 * SIGMAS)
    check_law("Coulomb friction, coefficient", np.sqrt(2 / np.pi) * F / SIGMAS, slope, 1e-5)
    softer = friction_mean_slope(SIGMAS, np.full(4, F), 1e-2 * SIGMAS)
    assert np.all(softer < slope)
    np.testing.assert_allclose(softer, slope, rtol=2e-3)


@pytest.mark.parametrize("speed", [1e-3, 0.005, 0.1, 2.0, 150.0])
def test_smooth_friction_against_quadrature(speed: float) -> None:
    """F w/√(w² + v²), with v from a small part to a thousand times σ, both branches of the engine's formula."""
    F = 50.0
    full = np.full(4, F)

    def force(w: float) -> float:
        return float(friction_force(np.array(w), np.array(F), np.array(speed)))

    breaks = (0.0, *(s * k * speed for s in (-1, 1) for k in (1, 5, 30)))
    expected = by_quadrature(force, 1, breaks) / SIGMAS**2
    np.testing.assert_allclose(friction_mean_slope(SIGMAS, full, np.full(4, speed)), expected, rtol=1e-7)


def test_smooth_friction_of_slow_motion_is_a_damper() -> None:
    """F/v (1 - 3/2 (σ/v)²) where v is far above σ (series of the law; derived)."""
    slope = friction_mean_slope(SIGMAS, np.full(4, 50.0), np.full(4, 500.0))
    np.testing.assert_allclose(slope, 50.0 / 500.0 * (1 - 1.5 * (SIGMAS / 500.0) ** 2), rtol=1e-8)


WHITE = Road("white", CLASSES["B"], band=(1e-4, 1e3))


def test_fixed_point_with_friction_in_closed_form() -> None:
    """On white road velocity c σ² = kt W/2 (power), and with Coulomb friction F beside a damper c0 the equivalent
    damper is c0 + √(2/π) F/σ: hence c0 σ² + √(2/π) F σ = kt W/2, a quadratic in σ (derived). 2e-4: smooth for sharp
    friction, and the ends of the band.
    """
    c0, F = np.array([500.0, 1500.0, 3000.0]), np.array([80.0, 40.0, 20.0])
    car = quarter_car(damping=c0, friction=F, friction_speed=1e-5)
    on_road = ride(car, WHITE, 20.0, passes=6)
    power = 0.5 * 200e3 * on_road.linearised.grid.intensity
    half = np.sqrt(2 / np.pi) * F / (2 * c0)
    sigma = -half + np.sqrt(half**2 + power / c0)
    np.testing.assert_allclose(np.sqrt(on_road.response.travel_speed[:, 0]), sigma, rtol=2e-4)
    expected = c0 + np.sqrt(2 / np.pi) * F / sigma
    np.testing.assert_allclose(on_road.response.damping[:, 0], expected, rtol=2e-4)


def test_fixed_point_of_a_bilinear_damper_and_its_jacking() -> None:
    """Equivalent damper (a + b)/2; mean force (a - b) σ/√(2π) with σ² = kt W/(a + b): all known beforehand."""
    car = quarter_car(damping=2000.0, bump_share=[0.25, 0.5, 0.6])
    on_road = ride(car, WHITE, 20.0)
    np.testing.assert_allclose(on_road.response.damping[:, 0], 2000.0, rtol=1e-13)
    sigma = np.sqrt(200e3 * on_road.linearised.grid.intensity / 4000.0)
    difference = 4000.0 * (2 * np.array([0.25, 0.5, 0.6]) - 1)
    expected = difference * sigma / np.sqrt(2 * np.pi)
    np.testing.assert_allclose(on_road.linearised.pumped_force[:, 0], expected, rtol=1e-4, atol=1e-9)
