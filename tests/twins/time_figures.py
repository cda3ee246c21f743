"""Figures of a twin's history, by analogue filters on its fine samples and sums over all of them.

Corner frequencies and Q of the weightings are the engine's `WEIGHTINGS`, which `tests/published/test_iso2631.py` holds
against the standard's tables; their polynomials, and how they become filters, are written here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.signal
from numpy.typing import NDArray

from ridefront.response.weighting import WEIGHTINGS
from twins.integrator import History

Array = NDArray[np.float64]
Polynomials = tuple[list[float], list[float]]


def filtered(factors: Sequence[Polynomials], y: Array, step: float) -> Array:
    """Samples (times,) through analogue factors, exact for a signal that is straight between samples, from rest."""
    for top, bottom in factors:
        b, a, _ = scipy.signal.cont2discrete((np.array(top), np.array(bottom)), step, method="foh")
        y = np.asarray(scipy.signal.lfilter(np.ravel(b), np.ravel(a), y), dtype=np.float64)
    return y


def weighting(name: str) -> list[Polynomials]:
    """Factors of a weighting of ISO 2631-1 in s, highest power first."""
    c = WEIGHTINGS[name]
    w1, w2, w3, w4 = (2 * math.pi * f for f in (c.f1, c.f2, c.f3, c.f4))
    factors = [
        ([1.0, 0.0, 0.0], [1.0, math.sqrt(2) * w1, w1**2]),
        ([w2**2], [1.0, math.sqrt(2) * w2, w2**2]),
        ([1 / w3, 1.0], [1 / w4**2, 1 / (c.q4 * w4), 1.0]),
    ]
    if math.isfinite(c.f5):
        w5, w6 = 2 * math.pi * c.f5, 2 * math.pi * c.f6
        factors.append(([1.0, w5 / c.q5, w5**2], [1.0, w6 / c.q6, w6**2]))
    return factors


def low_pass() -> list[Polynomials]:
    """Second-order Butterworth low-pass at 30 Hz."""
    top, bottom = scipy.signal.butter(2, 2 * math.pi * 30.0, analog=True)
    return [(top.tolist(), bottom.tolist())]


def running(y: Array, step: float) -> Array:
    """Running rms of samples (times,): squares through an exponential mean over 1 s, from rest."""
    return np.sqrt(np.maximum(filtered([([1.0], [1.0, 1.0])], y**2, step), 0.0))


@dataclass(frozen=True)
class Counts:
    """What of a history counts: from `first` on, s, of residual pitch from `window[0]` to before `window[1]`, s; heave
    is taken from `floor`, m.
    """

    first: float
    window: tuple[float, float]
    floor: float


def figures(history: History, counts: Counts, point: float) -> dict[str, Array]:
    """Figures by the names of a time response, arrays over corners where that has them.

    Means are over the samples from `first` on, the last one left out, which a march does not reach.

    Args:
        history: of a twin, even steps.
        counts: see there.
        point: ahead of the centre of mass, where dose, peak and running rms are taken, m.
    """
    t, step = history.t, history.t[1] - history.t[0]
    counted = (t > counts.first - 1e-9) & (t < t[-1] - 1e-9)
    there = history.acceleration[0]
    if len(history.body) > 1:
        there = there - point * history.acceleration[1]
    travel = history.travel[:, counted]
    static = history.travel[:, :1]
    contact = history.contact[:, counted]
    weighted = [filtered(weighting("Wk"), a, step)[counted] for a in history.acceleration]
    plain = [a[counted] for a in history.acceleration]
    found = {
        "mean_travel": travel.mean(axis=1),
        "travel": travel.var(axis=1),
        "travel_speed": (history.travel_speed[:, counted] ** 2).mean(axis=1),
        "highest": np.maximum(travel.max(axis=1), static[:, 0]),
        "lowest": np.minimum(travel.min(axis=1), static[:, 0]),
        "largest": np.abs(travel - static).max(axis=1),
        "contact_force": ((contact - history.contact[:, :1]) ** 2).mean(axis=1),
        "lift_off": (contact == 0).mean(axis=1),
        "bump_stop": (history.bump[:, counted] > 0).mean(axis=1),
        "stop_force": np.maximum(history.bump[:, counted], history.rebound[:, counted]).max(axis=1),
        "acceleration": _products(plain),
        "weighted": _products(weighted),
        "dose": np.array([np.sum(filtered(weighting("Wk"), there, step)[counted] ** 4) * step]),
        "peak": np.array([np.abs(filtered(low_pass(), there, step)[counted]).max()]),
        "running": np.array([running(filtered(weighting("Wk"), there, step), step)[counted].max()]),
        "settling": np.array([_settling(history.body[0] - counts.floor, t, counts.first)]),
    }
    if len(history.body) > 1:
        pitch = history.body[1]
        inside = (t > counts.window[0] - 1e-9) & (t < counts.window[1] - 1e-9)
        found |= {
            "pitch": np.array([pitch[counted].var()]),
            "residual_pitch": np.array([(pitch[inside] ** 2).mean()]),
            "pitch_weighted": np.array(
                [_mean_square(filtered(weighting("We"), history.acceleration[1], step), counted)]
            ),
            "pitch_backrest": np.array(
                [_mean_square(filtered(weighting("Wc"), history.acceleration[1], step), counted)]
            ),
        }
    return found


def _products(motions: Sequence[Array]) -> Array:
    """Mean products zz, zθ, θθ; zeros where there is no pitch."""
    z = motions[0]
    if len(motions) == 1:
        return np.array([np.mean(z * z), 0.0, 0.0])
    pitch = motions[1]
    return np.array([np.mean(z * z), np.mean(z * pitch), np.mean(pitch * pitch)])


def _mean_square(y: Array, counted: NDArray[np.bool_]) -> float:
    return float(np.mean(y[counted] ** 2))


def _settling(heave: Array, t: Array, first: float) -> float:
    """Time from `first` to the last moment at which heave is outside 5 % of its largest."""
    heave, since = np.abs(heave[t > first - 1e-9]), t[t > first - 1e-9] - first
    outside = np.flatnonzero(heave > 0.05 * heave.max())
    return float(since[outside[-1]])
