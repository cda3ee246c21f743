"""Spectra, their smoothing, the line fitted to them and the segments of a roughness index, against slow twins."""

from __future__ import annotations

import numpy as np
import pytest

from ridefront.errors import CallError
from ridefront.road import Road
from ridefront.road.realisation import realisation
from ridefront.road.roughness import Bands, fit, iri, iso_bands, spectrum, third_octaves


def test_spectrum_of_one_wave_holds_its_mean_square() -> None:
    """∫ G dn = a²/2 (Parseval), at the wave's own frequency."""
    x = 0.1 * np.arange(5000)
    found = spectrum(4e-3 * np.sin(2 * np.pi * 0.4 * x), 0.1)
    assert found.density.sum() * found.bin == pytest.approx(0.5 * 4e-3**2, rel=1e-3)
    assert found.n[np.argmax(found.density)] == pytest.approx(0.4, abs=found.bin)


def test_smoothing_keeps_what_it_covers() -> None:
    """Bands touch, and their areas are those of the bins inside, a bin cut in proportion."""
    road = Road("random", 64e-6, length=600.0)
    found = spectrum(realisation(road, 0.0, None, 6000, seed=3, index=0)[0], 0.1)
    for bands in (iso_bands(found), third_octaves(found)):
        assert bands.low[1:] == pytest.approx(bands.high[:-1], rel=1e-12)
        n = np.linspace(bands.low[0], bands.high[-1], 2_000_001)
        even = found.density[np.rint(n / found.bin).astype(int)]
        assert np.sum(bands.density * (bands.high - bands.low)) == pytest.approx(np.trapezoid(even, n), rel=1e-4)
    thirds = third_octaves(found)
    assert thirds.high / thirds.low == pytest.approx(2 ** (1 / 3))


def test_bands_of_the_standard() -> None:
    """Octaves about 0.0156 and 0.0312 cycles/m, thirds to 0.25, twelfths above (from memory)."""
    road = Road("random", 64e-6, length=2000.0)
    bands = iso_bands(spectrum(realisation(road, 0.0, None, 20_000, seed=3, index=0)[0], 0.1))
    width = np.log2(bands.high / bands.low)
    assert bands.middle[:3] == pytest.approx([0.015625, 0.03125, 0.0496], rel=1e-3)
    for k, middle in enumerate(bands.middle):
        expected = 1.0 if middle < 0.04 else 1 / 3 if middle < 0.27 else 1 / 12
        assert width[k] == pytest.approx(expected)
    assert bands.middle[width > 0.3][-1] == pytest.approx(0.25)


def test_fit_of_a_line_is_the_line() -> None:
    n = np.geomspace(0.02, 2.0, 30)
    line = fit(n, 3e-5 * (n / 0.1) ** -2.4, np.geomspace(1.0, 50.0, 30))
    assert (line.roughness, line.waviness) == pytest.approx((3e-5, 2.4), rel=1e-9)
    assert line.band == (n[0], n[-1])


def test_fit_against_polynomial_least_squares() -> None:
    """Coefficients and covariance as numpy's polyfit has them, whose weights are 1/σ."""
    draw = np.random.default_rng(4)
    n, weight = np.geomspace(0.02, 2.0, 25), np.linspace(2.0, 60.0, 25)
    for scatter in (0.3, 3.0):
        y = np.log(3e-5) - 2.2 * np.log(n / 0.1) + scatter * draw.normal(size=25) / np.sqrt(weight)
        line = fit(n, np.exp(y), weight)
        (slope, level), covariance = np.polyfit(np.log(n / 0.1), y, 1, w=np.sqrt(weight), cov="unscaled")
        chi = float(np.sum(weight * (y - level - slope * np.log(n / 0.1)) ** 2)) / 23
        more = max(1.0, chi) ** 0.5
        assert (np.log(line.roughness), line.waviness) == pytest.approx((level, -slope), rel=1e-9)
        assert line.waviness_error == pytest.approx(more * covariance[0, 0] ** 0.5, rel=1e-9)
        assert line.roughness_error == pytest.approx(more * covariance[1, 1] ** 0.5, rel=1e-9)
    with pytest.raises(CallError, match="5 bands"):
        fit(n[:5], np.exp(y[:5]), weight[:5])


def test_logarithms_of_densities_are_put_back() -> None:
    """The mean of ln of a χ² density is brought to that of the density itself; 4 standard errors of 200,000 draws."""
    freedom = 12.0
    drawn = np.random.default_rng(2).chisquare(freedom, 200_000) / freedom
    bands = Bands(np.array([0.1]), np.array([0.2]), np.array([1.0]), np.array([freedom]), np.array([1.0]))
    (put_back,) = bands.to_fit()[1]
    assert np.mean(np.log(drawn * put_back)) == pytest.approx(0.0, abs=4 * np.sqrt(2 / freedom / 200_000))


@pytest.mark.parametrize(
    ("samples", "edges"),
    [
        (10_001, [0, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000]),
        (2051, [0, 100, 205]),
        (2201, [0, 100, 200, 220]),
        (300, [0, 29.9]),
    ],
    ids=["whole segments", "a small rest", "a rest of its own", "less than a segment"],
)
def test_segments(samples: int, edges: list[float]) -> None:
    heights = 1e-3 * np.random.default_rng(1).normal(size=samples).cumsum()
    found = iri(heights, 0.1)
    assert [*found.start, found.end[-1]] == pytest.approx(edges)
    assert found.start[1:] == pytest.approx(found.end[:-1])
    lengths = found.end - found.start
    assert np.sum(found.segments * lengths) / edges[-1] == pytest.approx(found.whole, rel=1e-2)
