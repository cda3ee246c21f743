"""What a change of one part alone does to a setup's figures, from the slopes that a run has stored of its front."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ridefront.study.model import Array, Study, Variable

TENTH = 0.1
"""The change of a part that slopes are told for, as a share of it."""


def per_tenth(study: Study, X: Array, gradients: Array) -> Array:
    """Change of figures when a part alone grows by a tenth, were they straight: (n, k, d).

    A stored slope is of a hundredth of a variable's range, of its logarithm where that is logarithmic; and where one
    quantity is so many times another, of the ratio, and of the other with the ratio held. Here every part stands for
    itself, so what the multiples of a part would do is taken off again.

    Args:
        study: whose variables they are.
        X: (n, d), in the variables' units.
        gradients: (n, k, d), as `gradients_of` gives them.

    Returns:
        In the measures' units; NaN where there is no slope, and for parts that are 0, of which a tenth is nothing.
    """
    names = [variable.path for variable in study.variables]
    relative = np.full_like(gradients, np.nan)
    for j, variable in enumerate(study.variables):
        if variable.levels or variable.high <= variable.low:
            continue
        value = X[:, j] if variable.times is None else X[:, j] / X[:, names.index(variable.times)]
        relative[:, :, j] = 100 * gradients[:, :, j] * _share(variable, value)[:, None]
    alone = relative.copy()
    for j, variable in enumerate(study.variables):
        if variable.times is not None:
            alone[:, :, names.index(variable.times)] -= relative[:, :, j]
    alone = TENTH * alone
    for j in range(len(names)):
        alone[X[:, j] == 0, :, j] = np.nan
    return alone


def _share(variable: Variable, value: Array) -> Array:
    """Which share of its range a relative change of a variable is, (n,): du/d ln x."""
    if variable.scale == "log":
        return np.full(len(value), 1 / np.log(variable.high / variable.low))
    return value / (variable.high - variable.low)


def gradients_of(study: Study, frame: pd.DataFrame, designs: NDArray[np.int64]) -> Array:
    """The stored slopes of designs, (n, k, d); NaN along steps and choices, and where there is none.

    Args:
        study: whose measures and variables they are.
        frame: front_gradients.parquet.
        designs: numbers of n designs.
    """
    labels = {item.label: k for k, item in enumerate(study.measures)}
    paths = {variable.path: j for j, variable in enumerate(study.variables)}
    rows = {int(design): i for i, design in enumerate(designs)}
    found = np.full((len(designs), len(labels), len(paths)), np.nan)
    wanted = frame[frame["design"].isin(list(rows))]
    for design, label, path, value in zip(
        wanted["design"], wanted["measure"], wanted["variable"], wanted["value"], strict=True
    ):
        found[rows[int(design)], labels[label], paths[path]] = value
    return found


def within_ranges(study: Study, x: Array, j: int, sign: int) -> bool:
    """Whether a part of a setup x (d,) may change by a tenth up (sign 1) or down (-1) within the study's ranges: its
    own, and those of the ratios in which it has a part.
    """
    names = [variable.path for variable in study.variables]
    moved = x.copy()
    moved[j] *= 1 + sign * TENTH
    for k, variable in enumerate(study.variables):
        base = None if variable.times is None else names.index(variable.times)
        if variable.levels or j not in (k, base):
            continue
        value = moved[k] if base is None else moved[k] / moved[base]
        if not variable.low <= value <= variable.high:
            return False
    return True
