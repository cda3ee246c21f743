"""How fast the dampers move: rms and shares of time."""

from __future__ import annotations

from dataclasses import dataclass
from math import erf, sqrt

import numpy as np

from ridefront.evaluate.tracing import traces
from ridefront.report.sheet.setup import Setup, Worked, response_of
from ridefront.study.model import Array

BANDS = (0.05, 0.13, 0.3)
"""Where ranges of damper speed end, m/s: low speed, about the knee, high speed (common practice, no source)."""


@dataclass(frozen=True)
class Speeds:
    """Of an axle's dampers in one condition, at the damper.

    Attributes:
        rms: m/s; shares: of time below the first of `BANDS`, between them, and above the last; both wheels together.
    """

    rms: float
    shares: tuple[float, ...]


def gaussian(rms: float) -> tuple[float, ...]:
    """Shares of time in `BANDS` of a Gaussian speed with mean 0; all in the first where nothing moves."""
    below = [1.0 if rms <= 0 else erf(edge / (rms * sqrt(2.0))) for edge in BANDS]
    return tuple(float(share) for share in np.diff([0.0, *below, 1.0]))


def counted(speed: Array) -> tuple[float, ...]:
    """Shares of the samples of a speed, of any shape, in `BANDS`."""
    found = np.digitize(np.abs(speed).reshape(-1), BANDS)
    return tuple(float(np.mean(found == k)) for k in range(len(BANDS) + 1))


def speeds_of(worked: Worked) -> dict[tuple[int, int, str], Speeds]:
    """Damper speeds by setup, condition and axle; setups that cannot be driven are left out.

    In the frequency domain the speed is Gaussian with the rms that was found. What is driven is counted sample by
    sample, over the first realisation of its road.
    """
    found: dict[tuple[int, int, str], Speeds] = {}
    for c in range(len(worked.study.conditions)):
        if response_of(worked, c) == "frequency-domain":
            found |= _linear(worked, c)
        else:
            found |= _driven(worked, c)
    return found


def _linear(worked: Worked, c: int) -> dict[tuple[int, int, str], Speeds]:
    found, ride = {}, worked.rides[c]
    for axle, wheels in _axles(worked):
        ratio = ride.parameters[f"{axle}.damper_ratio"]
        for row in range(len(worked.X)):
            square = float(np.mean([ride.response.travel_speed[row, k] for k in wheels]))
            if np.isfinite(square):
                rms = float(ratio[row]) * sqrt(square)
                found[row, c, axle] = Speeds(rms, gaussian(rms))
    return found


def _driven(worked: Worked, c: int) -> dict[tuple[int, int, str], Speeds]:
    found = {}
    for rows, history in traces(worked.evaluator, worked.X, c):
        for axle, wheels in _axles(worked):
            for k in range(len(history.status)):
                speed = history.damper_speed[k, list(wheels), history.first :]
                if history.ok[k]:
                    rms = float(np.sqrt(np.mean(speed * speed)))
                    found[rows.start + k, c, axle] = Speeds(rms, counted(speed))
    return found


def _axles(worked: Worked) -> list[tuple[str, tuple[int, ...]]]:
    names = worked.model.axles
    return [(axle, tuple(k for k, name in enumerate(names) if name == axle)) for axle in dict.fromkeys(names)]


def at(found: dict[tuple[int, int, str], Speeds], setup: Setup, c: int, axle: str) -> Speeds | None:
    """Of a setup's axle in a condition."""
    return found.get((setup.row, c, axle))
