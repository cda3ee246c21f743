"""A run of which no design meets all constraints: which of them binds, which are at odds, and who misses least."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ridefront.evaluate import WHY
from ridefront.report.words import Table, measure, measured_in, number, quantity, unit
from ridefront.results.misses import misses
from ridefront.results.names import RECORD
from ridefront.results.read import read_closest, read_evaluations
from ridefront.results.record import read_record
from ridefront.study.model import Constraint, Study
from ridefront.vehicle.laws import Array

SHOWN = 6
"""Designs in the table; the file has more."""

Flags = NDArray[np.bool_]


def nearest_table(study: Study, folder: Path) -> Table | None:
    """The designs that miss least, a column each, with what each constraint is missed by; None where no design of the
    front's domain has figures, or the study has no constraints.
    """
    frame = read_closest(folder)
    if not len(frame):
        return None
    shown = frame.head(SHOWN)
    lines = [("design", "", *(str(design) for design in shown["design"]))]
    for item in study.variables:
        # Catalogue values stand in full, as the study has them.
        cells = (f"{float(x):.6g}" if item.levels else number(float(x), 4) for x in shown[item.path])
        lines.append((quantity(item.path), unit(item.unit), *cells))
    for wanted in study.measures:
        figures = (number(float(figure)) for figure in shown[wanted.label])
        lines.append((measure(wanted.label), measured_in(wanted), *figures))
    for label in dict.fromkeys(item.measure.label for item in study.constraints):
        amounts = shown[f"{label}.missed"].to_numpy(dtype=np.float64)
        if np.any(amounts > 0):
            limited = next(each.measure for each in study.constraints if each.measure.label == label)
            cells = (number(float(amount)) if amount > 0 else "–" for amount in amounts)
            lines.append((f"  {measure(label)} missed by", measured_in(limited), *cells))
    more = "" if len(frame) == len(shown) else f" of {len(frame)} in closest.parquet"
    title = f"the {len(shown)}{more} that miss least" if len(shown) > 1 else "the one that misses least"
    return Table(title, ("", "unit", *(str(k + 1) for k in range(len(shown)))), tuple(lines), text_columns=2)


def why_none(study: Study, folder: Path) -> tuple[str, ...]:
    """What kept every design out: failures, each constraint's share, the one that binds, pairs that are never met
    together. Of the designs of the front's domain.
    """
    labels = [item.label for item in study.measures]
    frame = read_evaluations(folder, ["stage", "response", "status", *labels])
    response = read_record(folder / RECORD)["front_response"]
    frame = frame[(frame["stage"] != "present") & (frame["response"] == response)]
    ok = frame[frame["status"] == "ok"]
    lines = [
        f"{count:,} of {len(frame):,} designs have no figures: {WHY[str(status)]}"
        for status, count in frame["status"].value_counts().items()
        if status != "ok" and count
    ]
    if not len(ok) or not study.constraints:
        return tuple(lines)
    values = ok[labels].to_numpy(dtype=np.float64)
    kept = misses(study, values) <= 0
    lines += [_share(study, item, kept[:, j], values) for j, item in enumerate(study.constraints)]
    return (*lines, *_binding(study.constraints, kept), *_at_odds(study.constraints, kept))


def _share(study: Study, item: Constraint, kept: Flags, values: Array) -> str:
    """How many designs a constraint lets through, and the figure that comes nearest."""
    figures = values[:, [each.label for each in study.measures].index(item.measure.label)]
    best = figures.max() if item.kind == "at_least" else figures.min()
    text = f"{_wanted(item)}: {100 * kept.mean():.1f} % of designs"
    return text if kept.any() else f"{text}; nearest {number(float(best))}"


def _binding(constraints: Sequence[Constraint], kept: Flags) -> list[str]:
    """The constraint that fewest designs meet, and what would be feasible without some."""
    counts = kept.sum(axis=0)
    lines = []
    if len(constraints) > 1:
        least = int(np.argmin(counts))
        lines.append(f"met by the fewest: {_wanted(constraints[least])} ({counts[least]:,} designs)")
    without: dict[tuple[int, ...], int] = {(j,): _count_without(kept, (j,)) for j in range(len(constraints))}
    if not any(without.values()):
        without = {pair: _count_without(kept, pair) for pair in combinations(range(len(constraints)), 2)}
    found = sorted((dropped for dropped, count in without.items() if count), key=lambda dropped: -without[dropped])
    for dropped in found[:SHOWN]:
        names = " and ".join(_wanted(constraints[j]) for j in dropped)
        count = without[dropped]
        lines.append(f"without {names}: {count:,} {'design meets' if count == 1 else 'designs meet'} all that is left")
    if not found and len(constraints) > 2:
        lines.append("without any one or two of them still no design meets all that is left")
    return lines


def _count_without(kept: Flags, dropped: tuple[int, ...]) -> int:
    return int(np.count_nonzero(np.delete(kept, dropped, axis=1).all(axis=1)))


def _at_odds(constraints: Sequence[Constraint], kept: Flags) -> list[str]:
    """Pairs of which each is met by some design and both by none."""
    pairs = [
        (a, b)
        for a, b in combinations(range(len(constraints)), 2)
        if kept[:, a].any() and kept[:, b].any() and not (kept[:, a] & kept[:, b]).any()
    ]
    return [f"never met together: {_wanted(constraints[a])}, and {_wanted(constraints[b])}" for a, b in pairs]


def _wanted(item: Constraint) -> str:
    """A constraint in words: "ride frequency, front at least 1.10 Hz"."""
    side = item.kind.replace("_", " ")
    return f"{measure(item.measure.label)} {side} {number(item.limit)} {measured_in(item.measure)}".rstrip()
