"""Figures with one realisation of a road left out in turn: what says how far another set of roads would move them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ridefront.evaluate.bench import Left
from ridefront.vehicle.laws import Array


@dataclass(frozen=True)
class LeftOut:
    """Figures of n designs without each realisation that was driven.

    Attributes:
        road: index of the road of which a realisation is left out, of each of the r; realisations of one road stand
            side by side in their order.
        values: (n, k, r), of the study's measures in their units; the whole figure where a measure does not look at
            that road, NaN where a design failed.
    """

    road: tuple[int, ...]
    values: Array


def left_out(values: Array, lefts: Sequence[Left], factors: Sequence[float]) -> LeftOut:
    """Puts together what a bench has left out.

    Args:
        values: (n, k), figures in the measures' units, NaN where a design failed.
        lefts: of each measure, SI.
        factors: of each measure: SI value = figure * factor.
    """
    counts: dict[int, int] = {}
    for left in lefts:
        counts |= {road: len(figures) for road, figures in left.items()}
    road = tuple(each for each in sorted(counts) for _ in range(counts[each]))
    found = np.repeat(values[:, :, np.newaxis], len(road), axis=2)
    for k, (left, factor) in enumerate(zip(lefts, factors, strict=True)):
        for each, figures in left.items():
            start = road.index(each)
            for index, figure in enumerate(figures):
                found[:, k, start + index] = figure / factor
    found[np.isnan(values).any(axis=1)] = np.nan
    return LeftOut(road, found)


def joined_left_out(parts: Sequence[LeftOut]) -> LeftOut:
    """Of one study, the designs one after another."""
    return replace(parts[0], values=np.concatenate([part.values for part in parts]))
