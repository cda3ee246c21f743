"""How far a front's setups are from where nothing is better in all objectives, and what holds them, in a line."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ridefront.report.words import number

SMALLEST = 1e-4
"""Residuals below it are not told apart for people."""

_NAMED = 2
"""What holds setups, most common first: so many of them are named."""


def held_by(front: pd.DataFrame) -> tuple[str | None, ...]:
    """What holds each setup of a front, in words; None where it is not known."""
    return tuple(None if pd.isna(words) else str(words) for words in front["held_by"])


def rate(residual: float | None) -> str:
    """Two digits; what is below all errors of slopes is not told apart."""
    return "below 0.0001" if residual is not None and residual < SMALLEST else number(residual, 2)


def optimality_notes(front: pd.DataFrame) -> tuple[str, ...]:
    """A line on the residuals of a front of at least one design; none where it has none."""
    residual = front["residual"].to_numpy(dtype=np.float64)
    known = residual[np.isfinite(residual)]
    if not len(known):
        return ()
    said = [words for words in held_by(front) if words is not None]
    counts: dict[str, int] = {}
    for words in said:
        for one in filter(None, words.split("; ")):
            if not one.startswith("("):
                counts[one] = counts.get(one, 0) + 1
    most = sorted(counts.items(), key=lambda item: -item[1])[:_NAMED]
    shares = " and ".join(f"{number(100 * count / len(said), 2)} % by {one}" for one, count in most)
    middle, high = (rate(float(np.quantile(known, share))) for share in (0.5, 0.95))
    most_of_them = high if high.startswith("below") else f"{high} or less"
    lacking = len(residual) - len(known)
    line = (
        f"optimality: residual {middle} (median; 95 % of setups: {most_of_them}), the share of the front's range that "
        "all objectives could still gain at once for a whole range of the variables"
    )
    held = f"; setups are held, {shares}" if shares else ""
    return (line + held + (f"; {lacking:,} of {len(residual):,} have no residual" if lacking else ""),)
