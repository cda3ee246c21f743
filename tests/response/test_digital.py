"""Digital sections against the analogue factors: magnitude, phase, poles, zeros, time histories, refusals."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from digital_filters import Array, ComplexArray, response, sos, through, through_by_hand
from ridefront.errors import CallError
from ridefront.response.digital import LONGEST_STEP, SHORTEST_STEP, Section, low_pass, running_share, sections
from ridefront.response.weighting import WEIGHTINGS, Weighting

BAND = np.geomspace(0.5, 80.0, 2000)
NAMES = ["Wk", "Wd", "We", "Wc"]

# Step (s), largest error of magnitude, largest error of phase up to 20 Hz with one step taken off (rad).
BOUNDS = [
    (SHORTEST_STEP, 5e-5, 0.015),
    (1e-4, 5e-5, 0.015),
    (0.3313e-3, 5e-5, 0.015),
    (0.5e-3, 5e-5, 0.015),
    (0.7371e-3, 5e-5, 0.015),
    (1e-3, 5e-5, 0.015),
    (1.2731e-3, 2e-4, 0.015),
    (1.9e-3, 6e-4, 0.015),
    (2e-3, 6e-4, 0.015),
    (4e-3, 0.012, 0.08),
    (LONGEST_STEP, 0.032, 0.16),
]
STEPS = [step for step, _, _ in BOUNDS]
LOW_PASS_STEPS = [step for step in STEPS if 30.0 * step <= 0.2]


def butterworth(frequency: float, f: Array) -> ComplexArray:
    s = 1j * f / frequency
    return np.asarray(1 / (1 + np.sqrt(2) * s + s**2))


def factors(weighting: Weighting) -> list[tuple[Array, Array]]:
    """Analogue numerators and denominators, highest power first, in the order of the sections."""
    w1, w2, w3, w4, w5, w6 = (
        2 * np.pi * f for f in (weighting.f1, weighting.f2, weighting.f3, weighting.f4, weighting.f5, weighting.f6)
    )
    found = [
        (np.array([1.0, 0.0, 0.0]), np.array([1.0, np.sqrt(2) * w1, w1**2])),
        (np.array([w2**2]), np.array([1.0, np.sqrt(2) * w2, w2**2])),
        (np.array([1 / w3, 1.0]), np.array([1 / w4**2, 1 / (weighting.q4 * w4), 1.0])),
    ]
    if np.isfinite(w5):
        found.append((np.array([1.0, w5 / weighting.q5, w5**2]), np.array([1.0, w6 / weighting.q6, w6**2])))
    return found


@pytest.mark.parametrize(("step", "magnitude", "phase"), BOUNDS)
@pytest.mark.parametrize("name", NAMES)
def test_weightings_over_the_band(name: str, step: float, magnitude: float, phase: float) -> None:
    ratio = response(sections(WEIGHTINGS[name], step), BAND, step) / WEIGHTINGS[name].response(BAND)
    assert np.abs(np.abs(ratio) - 1).max() < magnitude
    low = BAND[BAND <= 20.0]
    late = ratio[: len(low)] * np.exp(-2j * np.pi * low * step)
    assert np.abs(np.angle(late)).max() < phase


def test_the_bound_of_two_milliseconds_holds_at_every_step_below() -> None:
    f = np.geomspace(0.5, 80.0, 150)
    for step in np.geomspace(1e-4, 2e-3, 97):
        for name in NAMES:
            ratio = response(sections(WEIGHTINGS[name], step), f, step) / WEIGHTINGS[name].response(f)
            assert np.abs(np.abs(ratio) - 1).max() < 6e-4, (name, step)


@pytest.mark.parametrize("step", [1e-4, 1e-3, 5e-3])
def test_motion_sickness_over_its_band(step: float) -> None:
    """Wf has no zero in its transition, and its whole band lies below the others'."""
    f = np.geomspace(0.02, 2.0, 500)
    ratio = response(sections(WEIGHTINGS["Wf"], step), f, step) / WEIGHTINGS["Wf"].response(f)
    assert np.abs(np.abs(ratio) - 1).max() < 1e-4


def test_bilinear_sections_would_not_do() -> None:
    """The same factors through `scipy.signal.bilinear`, so that the bounds above tell one method from another."""
    total = np.ones(len(BAND), dtype=np.complex128)
    for numerator, denominator in factors(WEIGHTINGS["Wk"]):
        b, a = scipy.signal.bilinear(numerator, denominator, fs=1000.0)
        total *= scipy.signal.freqz(b, a, BAND, fs=1000.0)[1]
    assert np.abs(np.abs(total / WEIGHTINGS["Wk"].response(BAND)) - 1).max() > 0.03


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("name", sorted(WEIGHTINGS))
def test_poles_are_the_analogue_ones(name: str, step: float) -> None:
    """In the order high-pass, low-pass, transition, step; rounding of a1 and a2 alone is allowed for, which moves two
    poles near each other by its root.
    """
    analogue = factors(WEIGHTINGS[name])
    digital = sections(WEIGHTINGS[name], step)
    assert len(digital) == len(analogue) == (4 if name in ("Wk", "Wf") else 3)
    for (_, denominator), (_, _, _, a1, a2) in zip(analogue, digital, strict=True):
        poles = np.exp(np.roots(denominator) * step)
        assert a1 == pytest.approx(-poles.sum().real, abs=1e-14)
        assert a2 == pytest.approx(poles.prod().real, abs=1e-14)


@pytest.mark.parametrize("step", STEPS)
def test_stable_and_of_minimum_phase(step: float) -> None:
    every = [section for weighting in WEIGHTINGS.values() for section in sections(weighting, step)[1:]]
    every += [low_pass(frequency, step) for frequency in (0.01 / step, 0.2 / step)]
    for b0, b1, b2, a1, a2 in every:
        assert np.abs(np.roots([1.0, a1, a2])).max() < 1
        assert b0 > 0
        assert np.abs(np.roots([b0, b1, b2])).max() < 1


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("name", sorted(WEIGHTINGS))
def test_nothing_passes_at_zero(name: str, step: float) -> None:
    """Two zeros at z = 1, to the last bit, in the first section; everywhere else the constant gain of the factor."""
    (b0, b1, b2, a1, a2), *others = sections(WEIGHTINGS[name], step)
    assert b0 > 0
    assert (b1, b2) == (-2 * b0, b0)
    assert np.abs(np.roots([1.0, a1, a2])).max() < 1
    for (numerator, denominator), section in zip(factors(WEIGHTINGS[name])[1:], others, strict=True):
        # Near z = 1 the sums lose digits: 1 + a1 + a2 is (w·step)².
        slack = 1e-15 / (1 + section[3] + section[4])
        gain = response([section], np.array([0.0]), step)[0].real
        assert gain == pytest.approx(numerator[-1] / denominator[-1], rel=1e-9 + slack)


def test_a_constant_dies_away() -> None:
    """Gravity left in a signal: after 10 s, and so after e to the -17 of the high-pass, nothing of it is left."""
    out = through(sections(WEIGHTINGS["Wk"], 1e-3), np.full(12_000, 9.81))
    assert np.abs(out).max() > 1.0
    assert np.abs(out[10_000:]).max() < 1e-5


def test_the_form_that_they_are_meant_for() -> None:
    """The documented recursion, written out, is scipy's."""
    y = np.random.default_rng(17).normal(size=3000)
    for cascade in (sections(WEIGHTINGS["Wk"], 1e-3), (low_pass(30.0, 1e-3),)):
        np.testing.assert_allclose(through_by_hand(cascade, y), through(cascade, y), rtol=0, atol=1e-12)


def bump(t: Array) -> Array:
    """Half a sine of 80 ms and 3 m/s², then one of 30 ms the other way: a wheel over an edge."""
    up = np.where((t >= 0.2) & (t < 0.28), 3.0 * np.sin(np.pi * (t - 0.2) / 0.08), 0.0)
    return np.asarray(up - np.where((t >= 0.28) & (t < 0.31), 2.0 * np.sin(np.pi * (t - 0.28) / 0.03), 0.0))


def analogue_through(cascade: list[tuple[Array, Array]], t: Array) -> Array:
    out = bump(t)
    for numerator, denominator in cascade:
        _, out, _ = scipy.signal.lsim((numerator, denominator), out, t)
    return np.asarray(out)


def against_lsim(cascade: tuple[Section, ...], analogue: list[tuple[Array, Array]], step: float) -> tuple[float, float]:
    """Relative errors of the largest magnitude and of the rms of a weighted bump, against `scipy.signal.lsim` at a
    twentieth of a millisecond.
    """
    fine = np.arange(0.0, 1.5, 5e-5)
    truth = analogue_through(analogue, fine)
    out = through(cascade, bump(np.arange(0.0, 1.5, step)))
    peak = np.abs(out).max() / np.abs(truth).max() - 1
    rms = np.sqrt(np.mean(out**2) / np.mean(truth**2)) - 1
    return abs(float(peak)), abs(float(rms))


@pytest.mark.parametrize(("step", "bound"), [(0.5e-3, 3e-4), (1e-3, 3e-4), (2e-3, 1e-3)])
def test_a_bump_in_time(step: float, bound: float) -> None:
    """Peaks and rms of a transient, whatever one step of phase does; part of the bound is how near a sample comes."""
    for name in ("Wk", "Wd"):
        assert max(against_lsim(sections(WEIGHTINGS[name], step), factors(WEIGHTINGS[name]), step)) < bound
    w = 2 * np.pi * 30.0
    analogue = [(np.array([w**2]), np.array([1.0, np.sqrt(2) * w, w**2]))]
    assert max(against_lsim((low_pass(30.0, step),), analogue, step)) < bound


@pytest.mark.parametrize(
    ("share", "bound"), [(1e-5, 1e-6), (1e-3, 1e-5), (0.03, 1e-5), (0.06, 1e-5), (0.15, 1.5e-3), (0.2, 0.013)]
)
def test_low_pass(share: float, bound: float) -> None:
    """Shares of the sampling rate; 30 Hz at 1, 2 and 5 ms are 0.03, 0.06 and 0.15."""
    step = 1e-3
    frequency = share / step
    f = np.linspace(0.0, 2.0, 801) * frequency
    H = response([low_pass(frequency, step)], f, step)
    truth = butterworth(frequency, f)
    assert np.abs(np.abs(H) / np.abs(truth) - 1).max() < bound
    early = np.angle(H[1:] / truth[1:]) / (2 * np.pi * f[1:] * step)
    if share >= 1e-3:  # below, a step is no longer more than rounding
        assert 0.6 < early.min() < early.max() < 0.8
    assert np.abs(H[0]) == pytest.approx(1.0, rel=1e-5)


@pytest.mark.parametrize("step", LOW_PASS_STEPS)
def test_low_pass_at_thirty_hertz(step: float) -> None:
    """Closed form of the Butterworth: 1/√2 at its frequency, 1/√17 at twice that; and no more than that above."""
    H = np.abs(response([low_pass(30.0, step)], np.array([0.0, 30.0, 60.0]), step))
    np.testing.assert_allclose(H, [1.0, np.sqrt(0.5), 1 / np.sqrt(17.0)], rtol=1e-5 if step <= 2e-3 else 2e-3)
    above = np.abs(response([low_pass(30.0, step)], np.linspace(60.0, 0.5 / step, 200), step))
    assert np.diff(above).max() < 0


def test_low_pass_depends_on_frequency_times_step_alone() -> None:
    np.testing.assert_allclose(low_pass(30.0, 1e-3), low_pass(60.0, 0.5e-3), rtol=1e-9)


@pytest.mark.parametrize("step", [0.0, -1e-3, float("nan"), float("inf"), 1.001 * LONGEST_STEP, 0.999 * SHORTEST_STEP])
def test_steps_out_of_range_are_refused(step: float) -> None:
    for call in (lambda: sections(WEIGHTINGS["Wk"], step), lambda: low_pass(30.0, step), lambda: running_share(step)):
        with pytest.raises(CallError, match=r"^step: .* s; allowed: 1e-05 to 0\.005 s$"):
            call()


@pytest.mark.parametrize("frequency", [0.0, -30.0, float("nan"), float("inf"), 200.1, 0.9e-3])
def test_low_pass_frequencies_out_of_range_are_refused(frequency: float) -> None:
    with pytest.raises(CallError, match=r"^frequency: .* Hz; allowed: 0\.001 to 200 Hz at a step of 0\.001 s$"):
        low_pass(frequency, 1e-3)


def test_numbers_are_plain_floats() -> None:
    """What a compiled kernel is handed."""
    for section in (*sections(WEIGHTINGS["Wk"], 1e-3), low_pass(30.0, 1e-3)):
        assert [type(number) for number in section] == [float] * 5
    assert sos(sections(WEIGHTINGS["Wk"], 1e-3)).shape == (4, 6)
    assert type(running_share(1e-3)) is float


@pytest.mark.parametrize("step", [2e-5, 1e-3, 2.5e-3])
def test_two_steps_of_the_running_mean_are_one_twice_as_long(step: float) -> None:
    """Of squares that stay the same; and after 1 s there is 1/e left of what was."""
    assert (1 - running_share(step)) ** 2 == pytest.approx(1 - running_share(2 * step), rel=1e-14)
    assert (1 - running_share(step)) ** (1 / step) == pytest.approx(np.exp(-1), rel=1e-9)
