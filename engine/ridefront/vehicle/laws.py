"""Force laws as a slope and hinges, of travel and of speed alike.

    F(x) = slope x + Σ sign (rate + growth d) d,    d = max(0, sign x - start)

A linear spring is a slope; a stop is a hinge that starts at its clearance; a bilinear damper is a slope with a hinge at
zero; a knee is a hinge with a negative rate. Because every law has this form, its slope at an operating point and its
mean slope and mean force under Gaussian motion (statistical linearisation) follow in closed form here, once for all
elements.

Smooth friction is the one law that is not made of hinges; its closed form stands at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import k0e, k1e, ndtr

Array = NDArray[np.float64]

_ROOT_2PI = float(np.sqrt(2 * np.pi))
_INVERSE_STEPS = 80
_NEWTON_STEPS = 16  # of those, before every second one halves the bracket
_DOUBLINGS = 60
_FAR = 1e9  # m, past any travel
_MEAN_STEPS = 30


@dataclass(frozen=True)
class Hinge:
    """One hinge of a law, for a batch of designs at every corner.

    Attributes:
        sign: +1 acts beyond +start, -1 beyond -start.
        start: (n, corners), m or m/s.
        rate: (n, corners), N/m or N·s/m; may be negative (a knee).
        growth: (n, corners), N/m² or 0: how the rate grows with depth.
        element: whose hinge it is, such as ``bump_stop``.
    """

    sign: int
    start: Array
    rate: Array
    growth: Array
    element: str = ""


@dataclass(frozen=True)
class Law:
    """A slope and its hinges.

    Attributes:
        slope: (n, corners), N/m or N·s/m.
        hinges: any number, in the order in which they were added.
    """

    slope: Array
    hinges: tuple[Hinge, ...] = ()

    def force(self, x: Array) -> Array:
        """Force (n, corners), N, at travel or speed `x` (n, corners)."""
        total = self.slope * x
        for h in self.hinges:
            depth = np.maximum(0.0, h.sign * x - h.start)
            total = total + h.sign * (h.rate + h.growth * depth) * depth
        return total

    def slope_at(self, x: Array) -> Array:
        """Slope (n, corners), SI, at `x`; where a hinge starts, the mean of the slopes on its two sides."""
        total = self.slope
        for h in self.hinges:
            past = h.sign * x - h.start
            depth = np.maximum(0.0, past)
            share = np.where(past > 0, 1.0, np.where(past == 0, 0.5, 0.0))
            total = total + share * h.rate + 2 * h.growth * depth
        return total

    def mean_slope(self, sigma: Array, mean: Array | float = 0.0) -> Array:
        """Slope (n, corners) of the best linear law when x is Gaussian with that mean and deviation `sigma`, likewise.

        Statistical linearisation, E[F (x - mean)]/σ² = E[F'(x)]: a hinge adds its rate times the share of time beyond
        its start, and its growth times twice the mean depth.
        """
        total = self.slope
        for h in self.hinges:
            if np.any(h.growth):
                return self._mean(sigma, mean)[1]
            total = total + h.rate * ndtr((h.sign * mean - h.start) / sigma)
        return total

    def mean_force(self, sigma: Array, mean: Array | float = 0.0) -> Array:
        """Mean force (n, corners), N, for a Gaussian x with that mean and deviation `sigma`: one-sided hinges pump."""
        return self._mean(sigma, mean)[0]

    def _mean(self, sigma: Array, mean: Array | float) -> tuple[Array, Array]:
        """Mean force and mean slope, which share what they are made of."""
        force = self.slope * mean + np.zeros_like(sigma)
        slope = self.slope
        for h in self.hinges:
            start = h.start - h.sign * mean
            ratio = start / sigma
            beyond = ndtr(-ratio)
            density = sigma * np.exp(-0.5 * ratio * ratio) / _ROOT_2PI
            depth = density - start * beyond  # E[max(0, x - start)]
            slope = slope + h.rate * beyond
            pushed = h.rate * depth
            if np.any(h.growth):
                slope = slope + 2 * h.growth * depth
                pushed = pushed + h.growth * (sigma * sigma * beyond - start * depth)  # E[max(0, x - start)²]
            force = force + h.sign * pushed
        return force, slope

    def mean_inverse(self, force: Array, sigma: Array, guess: Array) -> Array:
        """Mean x (n, corners), SI, of a Gaussian x with deviation `sigma` for which the mean force is `force`, N.

        Newton's method from `guess`; the mean force of a law that rises is smooth and rises. Where the law softens, a
        step may overshoot: one past a point already tried goes half way to it instead. A design that has arrived is
        frozen, so that its bits do not depend on its neighbours; NaN where it does not arrive.
        """
        if not self.hinges:
            return force / np.where(self.slope > 0, self.slope, np.nan)
        tolerance = 1e-9 * (np.abs(force) + 1.0)
        mean = guess
        low, high = np.full_like(force, -_FAR), np.full_like(force, _FAR)
        for _ in range(_MEAN_STEPS):
            found, slope = self._mean(sigma, mean)
            error = found - force
            arrived = ~(np.abs(error) > tolerance)
            if arrived.all():
                return mean
            low, high = np.where(error < 0, mean, low), np.where(error > 0, mean, high)
            step = mean - error / slope
            inside = (step > low) & (step < high)
            mean = np.where(arrived, mean, np.where(inside, step, 0.5 * (low + high)))
        return np.where(arrived, mean, np.nan)

    @property
    def linear_in_mean(self) -> bool:
        """Whether statistical linearisation gives the same slope for every deviation (only hinges at zero)."""
        return not any(np.any((h.rate != 0) & (h.start != 0)) or np.any(h.growth) for h in self.hinges)

    def inverse(self, force: Array) -> Array:
        """Travel x (n, corners) at which the law gives `force` (n, corners), N; the law must rise everywhere.

        Newton's method inside a bracket that bisection shrinks. A law that stiffens all the way gives `force` before
        its slope at 0 would; for one that softens the bracket is widened until it does. A design that has arrived is
        frozen, so that its bits do not depend on its neighbours. NaN where no such travel is found.
        """
        slope = np.where(self.slope > 0, self.slope, np.nan)
        x = force / slope
        if not self.hinges:
            return x
        tolerance = 1e-12 * (np.abs(force) + 1.0)
        far = self._beyond(x, force)
        low, high = np.minimum(far, 0.0), np.maximum(far, 0.0)
        for k in range(_INVERSE_STEPS):
            error = self.force(x) - force
            arrived = ~(np.abs(error) > tolerance)
            if arrived.all():
                break
            low, high = np.where(error < 0, x, low), np.where(error > 0, x, high)
            step = x - error / self.slope_at(x)
            inside = (step > low) & (step < high)
            if k > _NEWTON_STEPS and k % 2:  # Newton may go to and fro between the soft sides of a stiff middle
                inside = np.zeros_like(inside)
            x = np.where(arrived, x, np.where(inside, step, 0.5 * (low + high)))
        return np.where(np.abs(self.force(x) - force) <= 1e3 * tolerance, x, np.nan)

    def _beyond(self, x: Array, force: Array) -> Array:
        """`x`, doubled until the law gives `force` there or before."""
        for _ in range(_DOUBLINGS):
            short = np.abs(self.force(x)) < np.abs(force)
            if not short.any():
                break
            x = np.where(short, 2 * x, x)
        return x


def stacked(laws: Sequence[Law]) -> Law:
    """Laws with the same hinges, their designs one after another."""
    hinges = zip(*(law.hinges for law in laws), strict=True)
    return Law(
        np.concatenate([law.slope for law in laws]),
        tuple(
            Hinge(
                parts[0].sign,
                np.concatenate([part.start for part in parts]),
                np.concatenate([part.rate for part in parts]),
                np.concatenate([part.growth for part in parts]),
                parts[0].element,
            )
            for parts in hinges
        ),
    )


def friction_force(w: Array, level: Array, speed: Array) -> Array:
    """Smooth friction level · w/√(w² + speed²) (n, corners), N; it creeps, it never sticks.

    Args:
        w: relative speed (n, corners), m/s.
        level: friction force (n, corners), N.
        speed: speed at which 71 % of it acts (n, corners), m/s.
    """
    return level * w / np.sqrt(w * w + speed * speed)


def friction_mean_slope(sigma: Array, level: Array, speed: Array) -> Array:
    """Slope (n, corners), N·s/m, of the best linear damper in place of smooth friction under Gaussian speed, `sigma`.

    With x = (speed/2σ)², E[F w]/σ² = level √(2/π)/σ · x eˣ (K₁(x) - K₀(x)), K the modified Bessel functions; for a
    small `speed` this is level √(2/π)/σ, for a large one level/speed. Derived from ∫ e^(-a w²)/√(w² + v²) dw =
    e^(av²/2) K₀(av²/2) (Gradshteyn and Ryzhik 3.364.3, from memory) and its derivative; checked against quadrature in
    the tests.
    """
    ratio = speed / (2 * sigma)
    x = np.maximum(ratio * ratio, 1e-12)
    # For large x the difference of the Bessel functions cancels: there its asymptotic series is used.
    near = x * (k1e(x) - k0e(x))
    u = 1.0 / (8.0 * x)
    far = np.sqrt(np.pi / (8.0 * x)) * (1.0 - 3.0 * u + 22.5 * u * u - 262.5 * u * u * u)
    shape = np.where(x < 1e4, near, far)
    return level * (2.0 / _ROOT_2PI) / sigma * shape
