"""Hypervolume of a front in a box that is fixed once: exact for up to three objectives, by fixed directions above.

The measure is that of Zitzler, Thiele (PPSN V, Lecture Notes in Computer Science 1498 (1998) 292-301; from memory). The
exact one is moocore's, by the sweeps of Fonseca, Paquete, López-Ibáñez (IEEE Congress on Evolutionary Computation 2006,
1157-1163) and Beume and others (IEEE Trans. Evol. Comput. 13 (2009) 1075-1082), as its documentation cites them; the
other one is of Deng, Zhang (2019), see `Volume`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gamma, pi

import moocore
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Array = NDArray[np.float64]

MARGIN = 0.1  # of the front's span, between its worst figures and the reference point
EXACT_OBJECTIVES = 3  # up to here n log n; with four, exact methods take the square of the front's size, then worse
DIRECTIONS = 4096  # a power of two, as Sobol' points want; the estimate is then good to 1 % up to eight objectives


@dataclass(frozen=True)
class Box:
    """Where hypervolume is counted.

    Attributes:
        ideal: (m,), the best figure of each objective when the box was fixed, in its unit.
        reference: (m,), the reference point: the worst figures of the front then, and `MARGIN` of the span more.
    """

    ideal: Array
    reference: Array


def box_around(F: Array) -> Box:
    """The box of a front.

    Args:
        F: (n, m), the front, each objective in a unit of its own, n at least 1.

    Returns:
        Box. Where an objective is constant (to twelve digits) its size stands for the span, or 1 where that is zero.
    """
    ideal, nadir = F.min(axis=0), F.max(axis=0)
    span, size = nadir - ideal, np.abs(nadir)
    span = np.where(span > 1e-12 * size, span, np.where(size > 0, size, 1.0))
    return Box(ideal, nadir + MARGIN * span)


class Volume:
    """Hypervolume of a growing front, as a share of its box.

    For more than three objectives it is estimated from the lengths of rays from the reference point into the dominated
    region: the volume is the mean of length^m over directions spread evenly over the positive part of the unit sphere,
    times that part's volume (Deng, Zhang, IEEE Trans. Evol. Comput. 23 (2019) 913-918). The directions never change,
    so the estimate does not fall when the front gets better, and an update costs only what is new.

    Args:
        box: where to count.
    """

    def __init__(self, box: Box) -> None:
        self._box = box
        self._side = box.reference - box.ideal
        self._front = np.empty((0, len(self._side)))
        self._known: float | None = None
        exact = len(self._side) <= EXACT_OBJECTIVES
        self._directions = None if exact else _directions(len(self._side))
        self._lengths = np.zeros(DIRECTIONS)

    def update(self, F: Array, entered: Array) -> None:
        """Tells of a front that has got better.

        Args:
            F: (n, m), the whole front, in the box's units.
            entered: (k, m), what is new on it, likewise; whatever it pushed out, it dominates.
        """
        self._front, self._known = F, None
        if self._directions is not None:
            for point in (self._box.reference - entered) / self._side:
                length = point[0] * self._directions[0]
                for j in range(1, len(point)):
                    np.minimum(length, point[j] * self._directions[j], out=length)
                np.maximum(self._lengths, length, out=self._lengths)

    def value(self) -> float:
        """The dominated volume over the box's volume; figures beyond the reference point count for nothing."""
        if self._known is None:
            m = len(self._side)
            if self._directions is None:
                scaled = (self._front - self._box.ideal) / self._side
                self._known = float(moocore.hypervolume(scaled, ref=np.ones(m)))
            else:
                orthant = pi ** (m / 2) / (2**m * gamma(m / 2 + 1))
                self._known = float(orthant * np.mean(self._lengths**m))
        return self._known


def _directions(m: int) -> Array:
    """(m, `DIRECTIONS`): inverses of unit vectors spread evenly over the positive orthant, always the same ones."""
    from scipy.stats import qmc  # half a second to import, and most studies have fewer objectives

    normal = ndtri(0.5 + qmc.Sobol(m, rng=np.random.default_rng(m)).random(DIRECTIONS).T / 2)
    length = np.sqrt(np.square(normal).sum(axis=0))
    return np.ascontiguousarray(length / np.maximum(normal, 1e-12))
