"""Frequency weightings, a low-pass and a running mean as digital filters for one sampling step.

All but the running mean are second-order sections.

Every factor of a weighting becomes one section with the analogue poles kept exactly (z = exp(p·step)) and a numerator
fitted in magnitude: the high-pass has its two zeros at z = 1 and one matched frequency, every other factor is matched
at 0 Hz and at two frequencies more. A bilinear transform would be 3 % off Wk at 80 Hz and 1 ms; these sections cost the
same. Magnitude against the analogue weighting, 0.5 to 80 Hz, as the tests hold it for Wk, Wd, We and Wc:

    step            largest error
    up to 1 ms      0.005 %
    2 ms            0.06 %
    4 ms            1.2 %
    5 ms            3.2 %           (80 Hz is four fifths of what this step can show)

All sections are stable and of minimum phase. That makes them quicker than the analogue filter: what comes out is early
by about one step (1.0 to 1.2 steps up to 2 ms, 0.75 to 0.9 for Wk at 4 and 5 ms), at every frequency alike,
which an rms, a dose or a peak does not see. One step taken off, the phase is within 0.015 rad up to 20 Hz at steps up
to 2 ms, within 0.08 rad at 4 ms and 0.16 rad at 5 ms.

A section is meant for the transposed direct form II, sample by sample, with states s1 and s2:

    o = b0·y + s1;  s1 = b1·y - a1·o + s2;  s2 = b2·y - a2·o
"""

from __future__ import annotations

import cmath
import math

from ridefront.errors import CallError
from ridefront.response.weighting import Weighting

Section = tuple[float, float, float, float, float]
"""b0, b1, b2, a1, a2 of (b0 + b1/z + b2/z²)/(1 + a1/z + a2/z²)."""

SHORTEST_STEP = 1e-5
"""s. Below it poles lie so near z = 1 that rounding of a1 and a2 shows."""

LONGEST_STEP = 5e-3
"""s. Beyond it the weightings' band, which ends at 80 Hz, comes too near half the sampling rate."""

RUNNING = 1.0
"""s: time constant of the running rms, as ISO 2631-1:1997, 6.3.1, recommends (from memory)."""

_BAND_END = 80.0  # Hz: where ISO 2631-1's band for comfort and health ends
_HIGHEST_SHARE = 0.4  # of the sampling rate: the highest frequency that a section can be matched at
# Of the sampling rate, too: matched no lower, or at short steps the two frequencies would be all but 0 Hz, and their
# equations all but the same.
_LOWEST_SHARE = 0.04

_SQRT2 = math.sqrt(2.0)

# Coefficients of 1, s and s².
_Polynomial = tuple[float, float, float]


def sections(weighting: Weighting, step: float) -> tuple[Section, ...]:
    """Digital sections of `weighting` for a sampling step, high-pass first.

    Args:
        weighting: the analogue constants.
        step: time between samples, s; `SHORTEST_STEP` to `LONGEST_STEP`.

    Returns:
        High-pass, low-pass, transition and, where the weighting has one, step: 3 or 4 sections at every sampling step.

    Raises:
        CallError: the step is out of range.
    """
    _check_step(step)
    top = max(_BAND_END, _LOWEST_SHARE / step)
    w3, w4, w5, w6 = (2 * math.pi * f for f in (weighting.f3, weighting.f4, weighting.f5, weighting.f6))
    # Infinite w3 (no zero) makes 1/w3 nought.
    transition = _matched((1.0, 1 / w3, 0.0), (1.0, 1 / (weighting.q4 * w4), 1 / w4**2), step, top / 2, top)
    band = (_high_pass(weighting.f1, step, top / 2), _low_pass(weighting.f2, step, top))
    if math.isinf(weighting.f5):
        return (*band, transition)
    # (f5/f6)² times the step's factor is the ratio of two polynomials that start with s².
    upward = _matched(
        (w5**2, w5 / weighting.q5, 1.0),
        (w6**2, w6 / weighting.q6, 1.0),
        step,
        math.sqrt(weighting.f5 * weighting.f6),
        top,
    )
    return (*band, transition, upward)


def low_pass(frequency: float, step: float) -> Section:
    """Second-order Butterworth low-pass as one digital section.

    Up to twice `frequency` its magnitude is within 0.001 % of the analogue filter's where `frequency` is at most 0.06
    of the sampling rate (30 Hz: steps up to 2 ms), 0.15 % at 0.15 (30 Hz at 5 ms) and 1.3 % at 0.2, the most allowed.
    Stable, of minimum phase, and early by 0.6 to 0.8 of a step.

    Args:
        frequency: where the magnitude is 1/√2, Hz; 1e-6 to 0.2 times the sampling rate.
        step: time between samples, s; `SHORTEST_STEP` to `LONGEST_STEP`.

    Raises:
        CallError: the step or the frequency is out of range.
    """
    _check_step(step)
    lowest, highest = 1e-6 / step, 0.5 * _HIGHEST_SHARE / step
    if not lowest <= frequency <= highest:
        raise CallError(f"frequency: {frequency:g} Hz; allowed: {lowest:g} to {highest:g} Hz at a step of {step:g} s")
    return _low_pass(frequency, step, max(2 * frequency, _LOWEST_SHARE / step))


def running_share(step: float) -> float:
    """What a step replaces of an exponential running mean with the time constant `RUNNING`, 1: 1 - exp(-step/τ).

    With a² the square of a sample, m = m + share·(a² - m) is the running mean square of ISO 2631-1:1997, equation (3)
    (from memory), exactly so for squares that stay the same over each step.

    Args:
        step: time between samples, s; `SHORTEST_STEP` to `LONGEST_STEP`.

    Raises:
        CallError: the step is out of range.
    """
    _check_step(step)
    return -math.expm1(-step / RUNNING)


def _check_step(step: float) -> None:
    # Written so that NaN is refused as well.
    if not SHORTEST_STEP <= step <= LONGEST_STEP:
        raise CallError(f"step: {step:g} s; allowed: {SHORTEST_STEP:g} to {LONGEST_STEP:g} s")


def _butterworth(frequency: float) -> _Polynomial:
    w = 2 * math.pi * frequency
    return (w**2, _SQRT2 * w, 1.0)


def _low_pass(frequency: float, step: float, top: float) -> Section:
    denominator = _butterworth(frequency)
    return _matched((denominator[0], 0.0, 0.0), denominator, step, top / 2, top)


def _high_pass(frequency: float, step: float, matched_at: float) -> Section:
    """Butterworth high-pass: nothing passes at 0 Hz, and the magnitude is the analogue one at `matched_at`, Hz."""
    denominator = _butterworth(frequency)
    a1, a2 = _poles(denominator, step)
    x = math.sin(math.pi * matched_at * step) ** 2
    wanted = _analogue_squared((0.0, 0.0, 1.0), denominator, matched_at) * _squared(*_on_basis(1.0, a1, a2), x)
    gain = math.sqrt(wanted) / (4 * x)  # |1 - 1/z|² = 4x
    return (gain, -2 * gain, gain, a1, a2)


def _matched(numerator: _Polynomial, denominator: _Polynomial, step: float, low: float, high: float) -> Section:
    """Section with the magnitude of numerator/denominator at 0 Hz, `low` and `high` (Hz), of minimum phase.

    With x = sin²(πf·step) the squared magnitude of any b0 + b1/z + b2/z² is B0(1-x) + B1x + 4B2x(1-x), where
    B0 = (b0+b1+b2)², B1 = (b0-b1+b2)² and B2 = -4·b0·b2. Three magnitudes give B0, B1 and B2 by linear equations, and
    the b follow in closed form; among the four numerators with these B, the one with its zeros inside the unit circle
    has both sums positive and b0 larger than |b2|.
    """
    a1, a2 = _poles(denominator, step)
    A = _on_basis(1.0, a1, a2)
    B0 = (numerator[0] / denominator[0]) ** 2 * A[0]
    x_low, x_high = (math.sin(math.pi * f * step) ** 2 for f in (low, high))
    # What the first term leaves, over x: B1 + 4B2(1-x).
    rest_low, rest_high = (
        (_analogue_squared(numerator, denominator, f) * _squared(*A, x) - B0 * (1 - x)) / x
        for f, x in ((low, x_low), (high, x_high))
    )
    B2 = (rest_low - rest_high) / (4 * (x_high - x_low))
    B1 = rest_low - 4 * B2 * (1 - x_low)
    # A squared magnitude negative somewhere has no numerator. The factors of the weightings are far from that; for
    # others the nearest that has one is taken.
    at_zero, at_half = math.sqrt(B0), math.sqrt(max(B1, 0.0))
    ends = 0.5 * (at_zero + at_half)  # b0 + b2
    b0 = 0.5 * (ends + math.sqrt(max(ends * ends + B2, 0.0)))
    return (b0, 0.5 * (at_zero - at_half), ends - b0, a1, a2)


def _poles(denominator: _Polynomial, step: float) -> tuple[float, float]:
    """a1 and a2 of the denominator whose roots are exp(p·step), p those of the analogue one."""
    middle = -0.5 * denominator[1] / denominator[2]
    away = cmath.sqrt(middle**2 - denominator[0] / denominator[2])
    z1, z2 = cmath.exp((middle + away) * step), cmath.exp((middle - away) * step)
    return -(z1 + z2).real, math.exp(2 * middle * step)


def _on_basis(c0: float, c1: float, c2: float) -> tuple[float, float, float]:
    """|c0 + c1/z + c2/z²|² as coefficients of 1-x, x and 4x(1-x), x = sin²(πf·step)."""
    return (c0 + c1 + c2) ** 2, (c0 - c1 + c2) ** 2, -4 * c0 * c2


def _squared(C0: float, C1: float, C2: float, x: float) -> float:
    return C0 * (1 - x) + C1 * x + 4 * C2 * x * (1 - x)


def _analogue_squared(numerator: _Polynomial, denominator: _Polynomial, f: float) -> float:
    w = 2 * math.pi * f
    top, bottom = ((c0 - c2 * w * w) ** 2 + (c1 * w) ** 2 for c0, c1, c2 in (numerator, denominator))
    return top / bottom
