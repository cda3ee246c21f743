"""From where to where the axes of a figure reach, so that whoever draws it draws the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ridefront.report.figure import Axis, Figure, Panel
from ridefront.vehicle.laws import Array

_MARGIN = 0.05  # of the span, on either side


Range = tuple[float, float]


def extents(figure: Figure) -> tuple[tuple[Range, Range], ...]:
    """Ranges of x and y of each panel; of logarithmic axes their decimal logarithms."""
    found = []
    for k, panel in enumerate(figure.panels):
        beside = [panel]
        if figure.shared_x:
            step = min(figure.columns, len(figure.panels))
            beside = list(figure.panels[k % step :: step])
        values = [values for one in beside for values in _x(one)]
        x = _reach(panel.x, values, tight=any(_continuous(one) for one in beside))
        found.append((x, _reach(panel.y, list(_y(panel)), zero=any(one.kind == "bars" for one in panel.series))))
    return tuple(found)


def _continuous(panel: Panel) -> bool:
    """Whether a panel shows lines only, which may touch its sides."""
    return all(series.kind in ("line", "steps", "level") for series in panel.series)


def _x(panel: Panel) -> Iterator[Array]:
    for series in panel.series:
        if series.kind == "level":
            continue
        yield series.x
        if series.kind == "bars" and not panel.x.names:
            half = 0.5 * bar_step(series.x)
            yield series.x - half
            yield series.x + half


def _y(panel: Panel) -> Iterator[Array]:
    for series in panel.series:
        if series.error is None:
            yield series.y
        else:
            error = np.nan_to_num(series.error)
            yield series.y - error
            yield series.y + error


def bar_step(x: Array) -> float:
    """How far bars stand apart."""
    apart = np.diff(np.unique(x[np.isfinite(x)]))
    return float(apart.min()) if len(apart) else 1.0


def _reach(axis: Axis, values: Sequence[Array], *, tight: bool = False, zero: bool = False) -> Range:
    if axis.names:
        return (-0.5, len(axis.names) - 0.5)
    joined = np.concatenate([np.asarray(one, dtype=np.float64).ravel() for one in values]) if values else np.empty(0)
    if axis.log:
        joined = np.log10(joined[joined > 0])
    joined = joined[np.isfinite(joined)]
    low, high = (float(joined.min()), float(joined.max())) if len(joined) else (0.0, 1.0)
    if (zero or axis.from_zero) and not axis.log:
        low, high = min(low, 0.0), max(high, 0.0)
    if high <= low and low == 0 and axis.from_zero:
        high = 1.0
    if high <= low:
        apart = 0.5 if axis.log else 0.1 * abs(low) or 1.0
        low, high = low - apart, high + apart
    margin = 0.0 if tight else _MARGIN * (high - low)
    kept = (zero or axis.from_zero) and not axis.log
    return (low if kept and low == 0 else low - margin, high if kept and high == 0 else high + margin)
