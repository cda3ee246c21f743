"""From pieces (criterion × place × condition) to one figure: the worst place, then conditions together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from ridefront.vehicle.laws import Array

Over = Literal["mean", "rms", "worst"]
Worst = Literal["largest", "smallest"]


def worst_of(figures: Sequence[Array], worst: Worst) -> Array:
    """The largest or smallest, design by design, of `figures`, arrays (n,) in one unit, at least one; NaN wherever one
    is NaN.
    """
    choose = np.maximum if worst == "largest" else np.minimum
    total = figures[0]
    for figure in figures[1:]:
        total = choose(total, figure)
    return total


def over_conditions(figures: Sequence[Array], weights: Sequence[float], over: Over, worst: Worst) -> Array:
    """Conditions taken together.

    Args:
        figures: one array (n,) a condition, the worst place taken.
        weights: shares of time, any scale; `worst` does not look at them.
        over: "mean" Σwx/Σw, "rms" √(Σwx²/Σw), or "worst".
        worst: which end "worst" means.

    Returns:
        (n,). Sums run condition by condition, so that a design's bits do not depend on how many stand beside it.
    """
    if over == "worst":
        return worst_of(figures, worst)
    total = np.zeros_like(figures[0])
    for figure, weight in zip(figures, weights, strict=True):
        total = total + weight * (figure if over == "mean" else figure * figure)
    total = total / sum(weights)
    return total if over == "mean" else np.sqrt(total)
