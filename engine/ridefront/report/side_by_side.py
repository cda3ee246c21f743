"""Several results in what they have in common, and the tables that hold them against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridefront.report.after_run import setups
from ridefront.report.compare import (
    Common,
    common_measures,
    common_objectives,
    in_common,
    levels_of,
    reach,
    reached,
    slack_of,
)
from ridefront.report.subject import Subject
from ridefront.report.words import Table, measure, number, quantity, unit
from ridefront.search.volume import EXACT_OBJECTIVES
from ridefront.study.keys import QUANTITIES
from ridefront.study.model import Array
from ridefront.units import factor

SHOWN = {"m": "mm", "N/m": "N/mm"}
"""Units of the workshop, by SI unit; others stay."""

_LONGEST = 40  # letters of a result's name
_NOTHING = 1e-6  # of the range over all fronts, or of the largest value: what is smaller is none


@dataclass(frozen=True)
class Compared:
    """Several results in what they have in common.

    Attributes:
        subjects: of the page, in its order; names: what to call them.
        common: measures that all have, objectives among them.
        values: figures of each front, (n, len(common)), in the units of the first; designs: their numbers.
        present: figures of each present setup, (len(common),), or None.
    """

    subjects: tuple[Subject, ...]
    names: tuple[str, ...]
    common: tuple[Common, ...]
    values: tuple[Array, ...]
    designs: tuple[NDArray[np.int64], ...]
    present: tuple[Array | None, ...]

    @property
    def objectives(self) -> tuple[Common, ...]:
        """Those that are objectives of all."""
        return tuple(item for item in self.common if item.sign)

    def fronts(self) -> tuple[Array, ...]:
        """F (n, m) of each, to be minimised."""
        columns = [k for k, item in enumerate(self.common) if item.sign]
        signs = np.array([self.common[k].sign for k in columns], dtype=np.float64)
        return tuple(np.asarray(values[:, columns] * signs) for values in self.values)


def prepared(subjects: Sequence[Subject]) -> Compared:
    """What several results have in common; raises CallError as `compared`."""
    studies = [subject.study for subject in subjects]
    names = called(subjects)
    common_objectives(studies, names)
    common = common_measures(studies)
    return Compared(
        tuple(subjects),
        names,
        common,
        tuple(in_common(study, k, common, subjects[k].front.values) for k, study in enumerate(studies)),
        tuple(subject.front.design for subject in subjects),
        tuple(_present(subject, k, common) for k, subject in enumerate(subjects)),
    )


def called(subjects: Sequence[Subject]) -> tuple[str, ...]:
    """Names of results: of their folders, with as many folders above as it takes to tell them apart."""
    paths = [subject.folder.resolve().parts for subject in subjects]
    deep = 1
    while len({path[-deep:] for path in paths}) < len(set(paths)):
        deep += 1
    long = ["/".join(path[-deep:]) for path in paths]
    short = [name if len(name) <= _LONGEST else f"…{name[1 - _LONGEST :]}" for name in long]
    return tuple(
        name if short.count(name) == 1 else f"{name} ({short[: k + 1].count(name)})" for k, name in enumerate(short)
    )


def _present(subject: Subject, index: int, common: Sequence[Common]) -> Array | None:
    if not len(subject.result.present):
        return None
    values = in_common(subject.study, index, common, setups(subject.study, subject.result.present).values)[0]
    return values if np.isfinite(values).all() else None


def reach_table(both: Compared) -> Table:
    """Hypervolume and coverage."""
    found = reach(both.fronts())
    rows = []
    for k, name in enumerate(both.names):
        covers = ["–" if i == k else _share(found.covers[i][k]) for i in range(len(both.names))]
        rows.append(
            (
                name,
                both.subjects[k].study.title,
                f"{len(both.designs[k]):,}",
                number(found.volumes[k], 4),
                _share(found.volumes[k] / found.together),
                *covers,
            )
        )
    heads = (
        "result", "study", "setups", "hypervolume", "of what all reach",
        *(f"matched by {name}" for name in both.names),
    )  # fmt: skip
    notes = [
        "hypervolume: the share of a box from the best to the worst figure of all these fronts, and a tenth beyond, in "
        "which some setup is at least as good; it depends on that box and says nothing outside this table",
        "matched by: the share of a result's setups that some setup of the other equals or betters in all "
        f"{len(both.objectives)} objectives",
    ]
    if len(both.objectives) > EXACT_OBJECTIVES:
        notes.append("with so many objectives hypervolume is an estimate, good to about 1 %")
    return Table("How far each reaches", heads, tuple(rows), text_columns=2, notes=tuple(notes))


def _share(value: float) -> str:
    """In per cent; all and nothing only where it is exactly that."""
    if not np.isfinite(value):
        return "–"
    shown = f"{100 * value:.1f}"
    if value < 1 and shown == "100.0":
        return "> 99.9 %"
    return "< 0.1 %" if value > 0 and shown == "0.0" else f"{shown} %"


def figures_table(both: Compared) -> Table:
    """Best, median and worst of each measure, and the present setup's."""
    rows = []
    for k, item in enumerate(both.common):
        for name, values, now in zip(both.names, both.values, both.present, strict=True):
            column = values[:, k]
            ends = (float(column.min()), float(column.max())) if len(column) else (None, None)
            best, worst = ends if item.sign >= 0 else ends[::-1]
            middle = float(np.median(column)) if len(column) else None
            today = None if now is None else float(now[k])
            label = measure(item.label) if item.sign else f"{measure(item.label)} (low to high)"
            rows.append((label, unit(item.unit), name, *(number(one) for one in (best, middle, worst, today))))
    heads = ("", "unit", "result", "best", "median", "worst", "present")
    return Table("What the fronts are made of", heads, tuple(rows), text_columns=3)


def _levels_in_words(both: Compared) -> str:
    first = both.objectives[0]
    bound = "at most" if first.sign > 0 else "at least"
    return f"{measure(first.label)} {bound} {f'[{unit(first.unit)}]' if unit(first.unit) else ''}".rstrip()


def price_table(both: Compared, j: int) -> Table:
    """The best of objective j at levels of the first, and what each step costs."""
    item, fronts = both.objectives[j], both.fronts()
    levels = levels_of([F[:, [0, j]] for F in fronts])
    slack = float(slack_of(np.concatenate(fronts))[0])
    span = float(np.ptp(np.concatenate(fronts)[:, j]))
    best = np.stack([reached(F[:, 0], F[:, j], levels, slack) for F in fronts], axis=1)
    rows = []
    for r, level in enumerate(levels):
        cells = [number(item.sign * float(value)) for value in best[r]]
        steps = ["" if r + 1 == len(levels) else _step(best[r, k] - best[r + 1, k], span) for k in range(best.shape[1])]
        rows.append((f"{both.objectives[0].sign * level:.6g}", *cells, *steps))
    shown = f" [{unit(item.unit)}]" if unit(item.unit) else ""
    heads = (
        _levels_in_words(both),
        *(f"{name}{shown}" for name in both.names),
        *(f"step in {name}{shown}" for name in both.names),
    )  # fmt: skip
    words = measure(item.label)
    notes = [f"step: how much {words} it costs to come from the level in the next line to this one"]
    if np.isnan(best).any():
        notes.append("a dash: the result has no setup there")
    return Table(f"The best {words}", heads, tuple(rows), text_columns=0, notes=tuple(notes))


def _step(cost: float, span: float) -> str:
    """What a step costs, in words; what is rounding is nothing."""
    return "0" if abs(cost) < _NOTHING * span else number(float(cost))


def _without_rounding(values: Array) -> Array:
    """Zero where a value is nothing beside the largest."""
    return np.where(np.abs(values) < _NOTHING * np.abs(values).max(initial=0.0), 0.0, values)


def parts_table(both: Compared) -> Table:
    """Which springs, dampers ... the fronts use; what a study fixes stands as that one value."""
    studies = [subject.study for subject in both.subjects]
    varied = {item.path for study in studies for item in study.variables}
    rows = []
    for path in (path for path in QUANTITIES if path in varied):
        shown = SHOWN.get(QUANTITIES[path].unit, QUANTITIES[path].unit)
        for name, subject in zip(both.names, both.subjects, strict=True):
            paths = [item.path for item in subject.study.variables]
            now: float | None = None
            if path in paths:
                k = paths.index(path)
                scale = subject.study.variables[k].factor / factor(shown)
                values = _without_rounding(subject.front.X[:, k] * scale)
                now = None if subject.study.present is None else float(subject.study.present[k]) * scale
            elif path in subject.study.fixed:
                values = np.array([subject.study.fixed[path] / factor(shown)])
                now = float(values[0])
            else:
                continue
            spread = (values.min(), np.median(values), values.max()) if len(values) else (None, None, None)
            rows.append((quantity(path), unit(shown), name, *(number(one, 4) for one in (*spread, now))))
    heads = ("", "unit", "result", "least", "median", "most", "present")
    return Table("Which parts the fronts use", heads, tuple(rows), text_columns=3)
