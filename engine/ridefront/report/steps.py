"""What the next step or choice of a part does, worked out: such parts have no slopes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ridefront.report.looked_at import Setup
from ridefront.report.subject import Subject
from ridefront.report.words import Table, measure, measured_in, number, quantity, unit
from ridefront.study.model import Array, Study


def stepped(subject: Subject, setups: Sequence[Setup]) -> tuple[Table, ...]:
    """A table of what the steps and choices beside each setup's do to the objectives; none where no part has any.

    They are worked out anew, in the front's domain, other parts as they are.
    """
    study = subject.study
    asked = [(setup, j, x) for setup in setups for j, x in beside(study, setup.x)]
    if not asked:
        return ()
    found = subject.evaluator.evaluate(np.stack([x for _, _, x in asked]), subject.domain)
    labels = [item.label for item in study.measures]
    rows = []
    for (setup, j, x), values, violation in zip(asked, found.values, found.violation, strict=True):
        variable = study.variables[j]
        shown = unit(variable.unit)
        what = f"{quantity(variable.path)} {setup.x[j]:.6g} to {x[j]:.6g} {shown}".rstrip()
        cells = []
        for item in study.objectives:
            k = labels.index(item.measure.label)
            change = float(values[k] - setup.values[k])
            cells.append(f"{'+' if change > 0 else '-' if change < 0 else ''}{number(abs(change), 2)}")
        limits = "no figures" if not np.isfinite(violation) else "kept" if violation == 0 else "broken"
        rows.append((setup.name, what, limits, *cells))
    heads = [f"{measure(item.measure.label)}, {measured_in(item.measure)}".rstrip(", ") for item in study.objectives]
    title = "What the next step or choice of a part does, worked out"
    return (Table(title, ("setup", "change", "limits", *heads), tuple(rows), text_columns=3),)


def beside(study: Study, x: Array) -> Iterator[tuple[int, Array]]:
    """Setups (d,) like x (d,) but for one part, which has the step or choice below or above; and which part."""
    for j, variable in enumerate(study.variables):
        levels = np.array(variable.levels)
        if not len(levels):
            continue
        at = int(np.argmin(np.abs(levels - x[j])))
        for near in (at - 1, at + 1):
            if 0 <= near < len(levels):
                moved = x.copy()
                moved[j] = levels[near]
                yield j, moved
