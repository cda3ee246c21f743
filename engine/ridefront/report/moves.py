"""What moves what over the whole design space, in a few lines after a run."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ridefront.report.words import measure, number, quantity
from ridefront.results.read import read_progress, read_sensitivity
from ridefront.study.model import Study

NAMED = 3
"""Variables that are named for an objective."""

_LEAST = 0.05  # of the variance: what moves less is not named
_WIDE = 0.15  # half width of an interval from which it is said how rough the shares are


def moves_notes(study: Study, folder: Path) -> tuple[str, ...]:
    """A line on each objective and one on the share of the space that is feasible; none while a run has not ended."""
    frame = read_sensitivity(folder)
    if not len(frame):
        return ()
    whole = frame[frame["kind"] == "total"]
    parts, rough = [], 0.0
    for objective in study.objectives:
        rows = whole[whole["measure"] == objective.measure.label]
        shares = rows["value"].to_numpy(dtype=np.float64)
        if not np.isfinite(shares).all():
            parts.append(f"{measure(objective.measure.label)}: not known")
            continue
        order = np.argsort(-shares, kind="stable")[:NAMED]
        named = [
            f"{quantity(study.variables[k].path)} {100 * min(shares[k], 1.0):.0f} %"
            for k in order
            if shares[k] >= _LEAST
        ]
        parts.append(f"{measure(objective.measure.label)}: {', '.join(named)}")
        rough = max(rough, 0.5 * float((rows["high"] - rows["low"]).max()))
    about = f", give or take up to {100 * rough:.0f}" if rough > _WIDE else ""
    lines = [
        f"what moves what over the whole space (share of the variance in which a variable has a part{about}): "
        + "; ".join(parts)
    ]
    dropped = float(frame["dropped"].max())
    if dropped > 0:
        lines.append(
            f"of the designs behind these shares {number(100 * dropped, 2)} % were left out, since some failed"
        )
    progress = read_progress(folder)
    sample = progress.loc[progress["stage"] == "sample", "feasible_share"]
    if study.constraints and len(sample):
        lines.append(
            f"{number(100 * float(sample.iloc[0]), 2)} % of the whole space meets all constraints, by the sample"
        )
    return tuple(lines)
