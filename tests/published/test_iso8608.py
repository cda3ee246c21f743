"""Road classes and spectra of ISO 8608:1995 and 2016, Mechanical vibration - Road surface profiles - Reporting of
measured data.

Provenance: limits of classes, A to G, H without an upper one, n0 = 0.1 cycles/m and w = 2: seen at
github.com/DanielCanteroNTNU/VBI-2D, Functions/B07_OptionsProcessing.m and B21_ISO_Profile.m. Geometric means: seen at
github.com/gislas3/quartercar, tests/make_profile.py, which prints 4094 for class E, a slip (the limits' middle is
4096), so E is left out there. Band: seen there too, experiments/computeisoroughness.py. A trap: another road generator,
github.com/wanglongqi/RoadProfile, takes the upper limit for the class itself. The tables in angular spatial frequency
and of velocity spectra are from memory. The conversions are derived.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from checks import check, check_all
from ridefront.response.grid import condition_grid
from ridefront.road import CLASSES, Road
from ridefront.road.iso8608 import BAND, REFERENCE_FREQUENCY, patch_filter, temporal_spectrum, velocity_intensity

SOURCE = "ISO 8608:1995 and 2016, road surface profiles"

# Geometric means of G_d(n0), 10⁻⁶ m³ (seen but for E).
GEOMETRIC_MEAN = {"A": 16, "B": 64, "C": 256, "D": 1024, "E": 4096, "F": 16384, "G": 65536, "H": 262144}
# Upper limits, 10⁻⁶ m³ (seen; H has none).
UPPER_LIMIT = {"A": 32, "B": 128, "C": 512, "D": 2048, "E": 8192, "F": 32768, "G": 131072}
LIMITS_SEEN = "seen at github.com/DanielCanteroNTNU/VBI-2D, Functions/B07_OptionsProcessing.m"
# Geometric means of G_d(Ω0) at Ω0 = 1 rad/m, 10⁻⁶ m³/rad (from memory).
ANGULAR_MEAN = {"A": 1, "B": 4, "C": 16, "D": 64, "E": 256, "F": 1024, "G": 4096, "H": 16384}


def test_classes() -> None:
    assert list(CLASSES) == list(GEOMETRIC_MEAN)
    seen = [letter for letter in CLASSES if letter != "E"]
    check_all(
        figure="geometric mean of G_d(n0), classes A to D and F to H",
        source=SOURCE,
        theirs=[GEOMETRIC_MEAN[letter] for letter in seen],
        ours=[CLASSES[letter] * 1e6 for letter in seen],
        at=seen,
        unit="10⁻⁶ m³",
        rel=1e-12,
        how="seen at github.com/gislas3/quartercar, tests/make_profile.py",
    )


def test_classes_lie_in_the_middle_of_their_limits() -> None:
    """The geometric mean of a class's limits, which are the upper limits of it and of the class before."""
    letters = list(UPPER_LIMIT)
    check_all(
        figure="middle of a class's limits, B to G",
        source=SOURCE,
        theirs=[np.sqrt(UPPER_LIMIT[lower] * UPPER_LIMIT[letter]) for lower, letter in pairwise(letters)],
        ours=[CLASSES[letter] * 1e6 for letter in letters[1:]],
        at=letters[1:],
        unit="10⁻⁶ m³",
        rel=1e-12,
        how=LIMITS_SEEN,
    )
    assert CLASSES["A"] == pytest.approx(UPPER_LIMIT["A"] / 2 * 1e-6, rel=1e-12)  # A has no lower limit


def test_reference_and_band() -> None:
    band = "seen at github.com/gislas3/quartercar, experiments/computeisoroughness.py"
    waviness = "seen at github.com/DanielCanteroNTNU/VBI-2D, Functions/B21_ISO_Profile.m"
    for figure, theirs, ours, unit, how in (
        ("reference spatial frequency n0", 0.1, REFERENCE_FREQUENCY, "1/m", LIMITS_SEEN),
        ("lower end of the band", 0.011, BAND[0], "1/m", band),
        ("upper end of the band", 2.83, BAND[1], "1/m", band),
        ("waviness", 2, Road("A", CLASSES["A"]).waviness, "", waviness),
    ):
        check(figure=figure, source=SOURCE, theirs=theirs, ours=ours, unit=unit, how=how, abs=0.0)


def test_angular_table() -> None:
    """G_d(Ω) dΩ = G_d(n) dn with Ω = 2πn: at 1 rad/m G_d(Ω0) = G_d(n0) (2π n0)²/2π = 0.0628 G_d(n0), which the
    standard rounds to 1, 4, 16 ...: 1.005 for class A, hence 1 %.
    """
    one_radian = np.array([1 / (2 * np.pi)])
    found = [Road(letter, CLASSES[letter]).spectrum(one_radian)[0] / (2 * np.pi) for letter in ANGULAR_MEAN]
    check_all(
        figure="geometric mean of G_d(1 rad/m), classes A to H",
        source=SOURCE,
        theirs=list(ANGULAR_MEAN.values()),
        ours=[value * 1e6 for value in found],
        at=list(ANGULAR_MEAN),
        unit="10⁻⁶ m³",
        rel=0.01,
        how="memory",
    )
    check(
        figure="G_d(1 rad/m)/G_d(n0)",
        source=SOURCE,
        theirs=0.0628,
        ours=found[0] / CLASSES["A"],
        abs=5e-5,
        how="derived",
    )


def test_velocity_spectrum_is_white() -> None:
    """G_v(n) = (2πn)² G_d(n), for w = 2 the same at every frequency; class A: 6.3, B: 25.3, C: 101.1 · 10⁻⁶ m (from
    memory; the standard's table of velocity spectra).
    """
    n = np.geomspace(*BAND, 50)
    found = []
    for letter in "ABC":
        velocity = (2 * np.pi * n) ** 2 * Road(letter, CLASSES[letter]).spectrum(n)
        np.testing.assert_allclose(velocity, velocity[0], rtol=1e-12)
        found.append(velocity[0] * 1e6)
    check_all(
        figure="velocity spectrum G_v, classes A to C",
        source=SOURCE,
        theirs=[6.3, 25.3, 101.1],
        ours=found,
        at=list("ABC"),
        unit="10⁻⁶ m",
        abs=0.05,
        how="memory",
    )


def test_rms_doubles_from_class_to_class() -> None:
    """rms of the band, √(G_d(n0) n0² (1/n1 - 1/n2)): class A 3.8 mm, B 7.6 mm ... (derived)."""
    rms = [np.sqrt(condition_grid(Road(k, g), 20.0, 0.0, 0.0).power.sum()) for k, g in CLASSES.items()]
    np.testing.assert_allclose(np.divide(rms[1:], rms[:-1]), 2.0, rtol=1e-12)
    check(
        figure="rms of class A over the band",
        source=SOURCE,
        theirs=3.806,
        ours=1e3 * rms[0],
        unit="mm",
        abs=5e-4,
        how="derived: √(G_d(n0) n0² (1/n1 - 1/n2))",
    )


@pytest.mark.parametrize("speed", [3.0, 20.0, 45.0])
@pytest.mark.parametrize("band", [BAND, (0.05, 1.0), (1e-3, 10.0)])
def test_variance_of_the_band(band: tuple[float, float], speed: float) -> None:
    """∫ G_d dn = G_d(n0) n0² (1/n1 - 1/n2) for w = 2, whatever the speed; a two-sided reading would give half or
    double. 1e-7: quadrature.
    """
    road = Road("C", CLASSES["C"], band=band)
    exact = CLASSES["C"] * 0.1**2 * (1 / band[0] - 1 / band[1])
    check(
        figure=f"variance of class C from {band[0]:g} to {band[1]:g} 1/m at {speed:g} m/s",
        source=SOURCE,
        theirs=1e6 * exact,
        ours=1e6 * condition_grid(road, speed, 0.0, 0.0).power.sum(),
        unit="mm²",
        rel=1e-7,
        how="derived",
    )


@pytest.mark.parametrize("waviness", [1.5, 2.0, 2.5, 3.0])
def test_variance_for_other_wavinesses(waviness: float) -> None:
    """G n0^w (n1^(1-w) - n2^(1-w))/(w - 1) (derived)."""
    road = Road("B", CLASSES["B"], waviness)
    n1, n2 = BAND
    exact = CLASSES["B"] * 0.1**waviness * (n1 ** (1 - waviness) - n2 ** (1 - waviness)) / (waviness - 1)
    check(
        figure=f"variance of class B with waviness {waviness:g}",
        source=SOURCE,
        theirs=1e6 * exact,
        ours=1e6 * condition_grid(road, 15.0, 0.0, 0.0).power.sum(),
        unit="mm²",
        rel=1e-7,
        how="derived",
    )


def test_space_becomes_time() -> None:
    """S(f) = G_d(f/v)/v: both hold the same power per band, and outside the band there is none."""
    road, v = Road("B", CLASSES["B"]), 25.0
    f = np.array([0.9 * BAND[0] * v, BAND[0] * v, 2.5, BAND[1] * v, 1.1 * BAND[1] * v])
    S = temporal_spectrum(road, v, 0.0, f)
    assert S[2] == pytest.approx(64e-6 / 25.0, rel=1e-12)  # n0 itself
    assert S[0] == S[4] == 0.0
    assert S[1] > S[2] > S[3] > 0.0


def test_intensity_of_the_white_noise() -> None:
    """W = v (2π n0)² G_d(n0)/2, two-sided, at any frequency where w = 2, else at the given one (derived)."""
    road = Road("B", CLASSES["B"])
    expected = 20.0 * (2 * np.pi * 0.1) ** 2 * 64e-6 / 2
    check_all(
        figure="intensity of the road's speed, class B at 20 m/s",
        source=SOURCE,
        theirs=np.full(3, expected),
        ours=[velocity_intensity(road, 20.0, f) for f in (1.0, 10.0, 40.0)],
        at=["1 Hz", "10 Hz", "40 Hz"],
        unit="m²/s",
        rel=1e-12,
        how="derived: v (2π n0)² G_d(n0)/2",
    )
    steep = Road("steep", CLASSES["B"], 2.5)
    assert velocity_intensity(steep, 20.0, 2.0) == pytest.approx(expected, rel=1e-12)  # 2 Hz at 20 m/s is n0
    assert velocity_intensity(steep, 20.0, 8.0) == pytest.approx(expected / 2, rel=1e-12)  # (8/2)^-0.5


def test_contact_patch_is_a_moving_average() -> None:
    """A moving average over L multiplies a wave of n cycles/m by sin(πnL)/(πnL); its power by the square. Against an
    average worked out point by point: 2e-4 is its trapezoid over 400 points.
    """
    patch = 0.12
    x = np.linspace(-patch / 2, patch / 2, 401)
    weight = np.full(401, 1 / 400)
    weight[[0, -1]] /= 2
    n = np.array([0.1, 1.0, 2.83, 4.0, 1 / patch, 12.0])
    averaged = np.array([np.sum(weight * np.cos(2 * np.pi * k * x)) for k in n])
    np.testing.assert_allclose(patch_filter(n, patch), averaged**2, atol=2e-4)
    assert patch_filter(np.array([1 / patch]), patch)[0] == pytest.approx(0.0, abs=1e-30)
    np.testing.assert_array_equal(patch_filter(n, 0.0), 1.0)
    # 2.83 cycles/m over 0.12 m: sinc² = 0.674 (derived): the patch matters at the end of the band, not at body modes.
    check_all(
        figure="power let through by a contact patch of 120 mm",
        source="Moving average over a contact patch: sinc²(n L)",
        theirs=[0.674, 0.99988],
        ours=patch_filter(np.array([2.83, 0.05]), patch),
        at=["2.83 1/m", "0.05 1/m"],
        abs=5e-4,
        how="derived",
    )
