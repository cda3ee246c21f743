"""Tolerances of parts in words: what a study says of them, and what they do to a finished front."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ridefront.report.words import measure, measured_in, number, quantity
from ridefront.results.columns import SPREAD_ENDS
from ridefront.results.sampling import of_one_vehicle, spreading
from ridefront.study.model import Study
from ridefront.study.scatter import tolerances_in_words

if TYPE_CHECKING:
    import pandas as pd


def tolerances(study: Study) -> str:
    """The study's tolerances in a line, and what counts the vehicles built within them; empty where it has none."""
    if study.scatter is None:
        return ""
    parts = ", ".join(f"{quantity(path)} {share}" for path, share in tolerances_in_words(study.scatter))
    users = [measure(item.label) for item in study.measures if item.scatter is not None]
    what = f"counted by {'; '.join(users)}" if users else "no objective or constraint counts them"
    built = f"tolerances, {study.scatter.samples} vehicles built of a design ({parts})"
    return f"{built}: {what}; the front has the spread of every figure"


def spread_notes(study: Study, front: pd.DataFrame) -> tuple[str, ...]:
    """Lines on how far parts as built move the objectives of a front.

    Args:
        study: as read and checked.
        front: at least one design, as `ridefront.results.read_front` gives it.
    """
    spreads, beyond, unknown = [], [], 0
    known_of = {of_one_vehicle(item): item for item in spreading(study)}
    for wanted in (objective.measure for objective in study.objectives):
        item = known_of.get(of_one_vehicle(wanted))
        if item is None:
            continue
        low, high = (front[f"{item.label}{ending}"].to_numpy(dtype=np.float64) for ending in SPREAD_ENDS)
        known = np.isfinite(high - low)
        unknown = max(unknown, int(np.sum(~known)))
        if not known.any():
            continue
        middle = float(np.median((high - low)[known]))
        name = measure(wanted.label)
        spreads.append(f"{name} {number(middle, 2)} {measured_in(item)}".rstrip())
        figures = front[wanted.label].to_numpy(dtype=np.float64) * (wanted.factor / item.factor)
        if len(figures) > 1 and middle > float(np.ptp(figures)):
            beyond.append(name)
    lines = []
    if spreads:
        what = "from 5 % to 95 % of the vehicles built within tolerances, median over the front"
        lines.append(f"{what}: {'; '.join(spreads)}")
    lines += [f"tolerances of parts move {name} by more than the whole front does" for name in beyond]
    if unknown:
        have = "setup of the front has" if unknown == 1 else "setups of the front have"
        lines.append(f"{unknown:,} {have} no spread: a vehicle built within tolerances has no figures")
    return tuple(lines)
