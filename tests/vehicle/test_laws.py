"""Force laws: what a slope and hinges give, their inverse, and their Gaussian means against quadrature."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.stats import norm

from ridefront.vehicle.laws import Hinge, Law, friction_force, friction_mean_slope

Array = NDArray[np.float64]

once = settings(max_examples=100, deadline=None, derandomize=True)


def cell(value: float) -> Array:
    """One design, one corner."""
    return np.array([[value]])


def law(slope: float, *hinges: tuple[int, float, float, float]) -> Law:
    """One design's law from (sign, start, rate, growth)."""
    return Law(
        cell(slope), tuple(Hinge(sign, cell(start), cell(rate), cell(growth)) for sign, start, rate, growth in hinges)
    )


rising_laws = st.builds(
    law,
    st.floats(1e3, 1e5),
    st.tuples(st.just(1), st.floats(0.0, 0.1), st.floats(0.0, 3e5), st.floats(0.0, 5e6)),
    st.tuples(st.just(-1), st.floats(0.0, 0.1), st.floats(0.0, 3e5), st.floats(0.0, 5e6)),
    st.tuples(st.just(1), st.floats(0.0, 0.2), st.floats(0.0, 3e5), st.just(0.0)),
)


def test_hinge_by_hand() -> None:
    """20 N/mm and a stop of 50 N/mm after 40 mm with growth: at 60 mm 1200 + 1000 + 400 N; at -60 mm -1200 N."""
    stop = law(20e3, (1, 0.04, 50e3, 1e6))
    assert stop.force(cell(0.06))[0, 0] == pytest.approx(1200 + 1000 + 400)
    assert stop.force(cell(-0.06))[0, 0] == pytest.approx(-1200)
    assert stop.slope_at(cell(0.06))[0, 0] == pytest.approx(20e3 + 50e3 + 2 * 1e6 * 0.02)
    assert stop.slope_at(cell(0.03))[0, 0] == 20e3


def test_hinge_of_the_other_sign_is_the_mirror_image() -> None:
    x = cell(0.07)
    up, down = law(1e4, (1, 0.02, 3e4, 2e5)), law(1e4, (-1, 0.02, 3e4, 2e5))
    assert up.force(x)[0, 0] == -down.force(-x)[0, 0]
    assert up.slope_at(x)[0, 0] == down.slope_at(-x)[0, 0]


def test_slope_where_a_hinge_starts_is_the_mean_of_both_sides() -> None:
    assert law(1e3, (1, 0.0, 400.0, 0.0)).slope_at(cell(0.0))[0, 0] == 1200.0
    assert law(1e3, (-1, 0.25, 400.0, 0.0)).slope_at(cell(-0.25))[0, 0] == 1200.0


@once
@given(rising_laws, st.floats(-0.3, 0.3))
def test_inverse_undoes_force(some: Law, x: float) -> None:
    found = some.inverse(some.force(cell(x)))[0, 0]
    assert found == pytest.approx(x, rel=1e-9, abs=1e-12)


@once
@given(rising_laws, st.floats(-0.3, 0.3), st.floats(-0.3, 0.3))
def test_force_rises_with_travel(some: Law, x: float, y: float) -> None:
    low, high = sorted((x, y))
    if high - low > 1e-9:
        assert some.force(cell(low))[0, 0] < some.force(cell(high))[0, 0]


@once
@given(rising_laws, st.floats(-0.3, 0.3))
def test_slope_is_the_derivative_of_force(some: Law, x: float) -> None:
    step = 1e-7
    for hinge in some.hinges:
        if abs(hinge.sign * x - hinge.start[0, 0]) < 2 * step:
            return  # across a kink the difference is a mixture, which another test looks at
    rise = some.force(cell(x + step)) - some.force(cell(x - step))
    assert some.slope_at(cell(x))[0, 0] == pytest.approx(rise[0, 0] / (2 * step), rel=1e-4)


@once
@given(st.lists(st.tuples(rising_laws, st.floats(-20e3, 20e3)), min_size=1, max_size=6))
def test_inverse_of_a_batch_has_the_bits_of_each_alone(designs: list[tuple[Law, float]]) -> None:
    """However many steps the slowest design takes, one that has arrived keeps its bits."""
    together = Law(
        np.concatenate([one.slope for one, _ in designs]),
        tuple(
            Hinge(
                designs[0][0].hinges[h].sign,
                np.concatenate([one.hinges[h].start for one, _ in designs]),
                np.concatenate([one.hinges[h].rate for one, _ in designs]),
                np.concatenate([one.hinges[h].growth for one, _ in designs]),
            )
            for h in range(3)
        ),
    )
    found = together.inverse(np.array([[force] for _, force in designs]))
    for j, (one, force) in enumerate(designs):
        assert one.inverse(cell(force))[0, 0] == found[j, 0]


def test_inverse_is_nan_where_there_is_no_travel() -> None:
    """A law without rise has none; its neighbour keeps its own."""
    slopes = Law(np.array([[0.0], [2e4], [-5.0]]))
    found = slopes.inverse(np.full((3, 1), 100.0))
    assert np.isnan(found[0, 0])
    assert found[1, 0] == 100.0 / 2e4
    assert np.isnan(found[2, 0])
    assert np.isnan(law(1e4, (1, 0.0, 1e4, 0.0)).inverse(cell(np.nan))[0, 0])


def mean(function: Callable[[float], float], sigma: float, breaks: tuple[float, ...]) -> float:
    """E[function(x)], x Gaussian, by adaptive quadrature between kinks."""
    ends = sorted({-10 * sigma, 10 * sigma, *(b for b in breaks if abs(b) < 10 * sigma)})
    return sum(
        quad(lambda x: function(x) * norm.pdf(x, scale=sigma), a, b, epsabs=0, epsrel=1e-11, limit=300)[0]
        for a, b in pairwise(ends)
    )


@pytest.mark.parametrize("sigma", [0.003, 0.05, 0.4])
@pytest.mark.parametrize(
    "hinges",
    [
        (),
        ((-1, 0.0, 2500.0, 0.0),),
        ((1, 0.12, -900.0, 0.0), (-1, 0.2, -1500.0, 0.0), (-1, 0.0, 1800.0, 0.0)),
        ((1, 0.03, 4e3, 6e4), (-1, 0.05, 2e3, 1e4)),
    ],
    ids=["plain", "bilinear", "knees", "stops"],
)
def test_gaussian_means_against_quadrature(sigma: float, hinges: tuple[tuple[int, float, float, float], ...]) -> None:
    """E[F x]/σ² and E[F]."""
    some = law(1500.0, *hinges)
    breaks = (0.0, *(sign * start for sign, start, _, _ in hinges))

    def force(x: float) -> float:
        return float(some.force(cell(x))[0, 0])

    want = mean(lambda x: force(x) * x, sigma, breaks) / sigma**2
    assert some.mean_slope(cell(sigma))[0, 0] == pytest.approx(want, rel=1e-9)
    size = 1500.0 * sigma
    assert some.mean_force(cell(sigma))[0, 0] == pytest.approx(mean(force, sigma, breaks), abs=1e-9 * size)


def test_mean_slope_goes_from_the_slope_at_rest_to_that_far_out() -> None:
    knees = law(2000.0, (1, 0.1, -1200.0, 0.0), (-1, 0.1, -1200.0, 0.0))
    assert knees.mean_slope(cell(1e-4))[0, 0] == pytest.approx(2000.0, rel=1e-12)
    assert knees.mean_slope(cell(1e4))[0, 0] == pytest.approx(800.0, rel=1e-3)
    sigmas = np.geomspace(0.03, 10, 50)
    slopes = [knees.mean_slope(cell(s))[0, 0] for s in sigmas]
    assert np.all(np.diff(slopes) < 0)


def test_mean_inverse_of_a_plain_slope() -> None:
    plain = law(2000.0).mean_inverse(cell(50.0), cell(0.01), cell(0.3))
    assert plain[0, 0] == 0.025
    assert np.isnan(law(-2000.0).mean_inverse(cell(50.0), cell(0.01), cell(0.3))[0, 0])


def test_which_laws_are_linear() -> None:
    assert law(1e3).linear_in_mean
    assert law(1e3, (1, 0.1, 0.0, 0.0)).linear_in_mean
    assert law(1e3, (-1, 0.0, 50.0, 0.0)).linear_in_mean
    assert not law(1e3, (1, 0.1, -50.0, 0.0)).linear_in_mean
    assert not law(1e3, (-1, 0.0, 50.0, 0.0), (1, 0.1, -50.0, 0.0)).linear_in_mean
    assert not law(1e3, (1, 0.0, 50.0, 10.0)).linear_in_mean
    one, another = (some.mean_slope(cell(0.01)) for some in (law(1e3, (-1, 0.0, 50.0, 0.0)),) * 2)
    assert np.array_equal(one, another)
    assert one[0, 0] == law(1e3, (-1, 0.0, 50.0, 0.0)).mean_slope(cell(7.0))[0, 0] == 1025.0


def test_friction_creeps_and_saturates() -> None:
    w = np.array([[-1e3, -0.005, 0.0, 0.005, 1e3]])
    level, speed = np.full_like(w, 50.0), np.full_like(w, 0.005)
    np.testing.assert_allclose(friction_force(w, level, speed)[0], [-50, -50 / np.sqrt(2), 0, 50 / np.sqrt(2), 50])


@pytest.mark.parametrize("ratio", [1e-7, 1e-3, 0.1, 1.0, 3.0, 8.0, 30.0, 199.0, 201.0, 5e3])
def test_friction_slope_against_quadrature(ratio: float) -> None:
    """Over all sizes of creeping speed against the deviation, both sides of the switch to the series (ratio 200)."""
    sigma, level = 0.2, 60.0
    speed = ratio * sigma

    def power(w: float) -> float:
        return float(level * w * w / np.sqrt(w * w + speed * speed))

    want = mean(power, sigma, (0.0, speed, -speed, 30 * speed, -30 * speed)) / sigma**2
    got = friction_mean_slope(cell(sigma), cell(level), cell(speed))[0, 0]
    assert got == pytest.approx(want, rel=1e-7)


def test_friction_slope_at_its_limits() -> None:
    sigma, level = cell(0.3), cell(40.0)
    assert friction_mean_slope(sigma, level, cell(1e-9))[0, 0] == pytest.approx(40 * np.sqrt(2 / np.pi) / 0.3, rel=1e-6)
    assert friction_mean_slope(sigma, level, cell(1e5))[0, 0] == pytest.approx(40 / 1e5, rel=1e-6)
    assert friction_mean_slope(sigma, cell(0.0), cell(0.005))[0, 0] == 0.0
