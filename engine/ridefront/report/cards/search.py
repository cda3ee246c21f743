"""How the search went: what the front gained from stage to stage, how far it is from where nothing is better."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ridefront.report.card import Card, DoesNotApply, asks
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.optimality import SMALLEST
from ridefront.report.source import source
from ridefront.report.subject import Subject
from ridefront.report.words import Table, number
from ridefront.results.names import PROGRESS_FILE
from ridefront.vehicle.laws import Array

_EVALUATIONS = Axis("designs worked out")
_IN_TIME = ("repeat", "continue")


_QUESTION = "How did the search go?"


@asks(_QUESTION)
def search(subject: Subject) -> Card:
    """How did the search go?

    Raises:
        DoesNotApply: it has no generation behind it.
    """
    progress, record = subject.progress, subject.record
    if not len(progress):
        raise DoesNotApply("the search was stopped before its first generation was done")
    found = np.isfinite(progress["hypervolume"].to_numpy(dtype=np.float64)).any()
    panels = [_over(progress, "hypervolume", Axis("hypervolume, share of a box"))] if found else []
    panels += [
        _over(progress, "front", Axis("setups on the front", from_zero=True)),
        _over(progress, "feasible_share", Axis("meet all constraints, of a generation", "%", from_zero=True), 100.0),
    ]
    residual = _residuals(subject)
    panels += [residual] if residual is not None else []
    figure = Figure("search", "How the search went", tuple(panels), source(subject, PROGRESS_FILE))
    return Card(
        "search",
        _QUESTION,
        f"{_why_it_ended(record)} A curve that has gone flat says that more of the same would hardly find more."
        + (" The residual is how much all objectives could still gain at once." if residual is not None else ""),
        (figure,),
        _faults(subject),
        _notes(progress),
    )


def _why_it_ended(record: dict[str, object]) -> str:
    if record["state"] == "done":
        return f"It ended because: {record['stopped']}."
    return f"It is {record['state']}; the same call goes on with it."


def _over(progress: pd.DataFrame, column: str, axis: Axis, times: float = 1.0) -> Panel:
    """A column of the progress over designs, a mark a generation, told apart by stage."""
    x = progress["evaluations"].to_numpy(dtype=np.float64)
    y = times * progress[column].to_numpy(dtype=np.float64)
    stages = progress["stage"].astype(str).to_numpy()
    several = [Series("all stages", "line", "front", *_broken(x, y, stages))]
    for stage in dict.fromkeys(stages):
        of = stages == stage
        several.append(Series(str(stage), "points", "other", x[of], y[of]))
    return Panel("", _EVALUATIONS, axis, tuple(several))


def _broken(x: Array, y: Array, stages: np.ndarray) -> tuple[Array, Array]:
    """A line that breaks where the search passes to the time domain, because figures do not compare across that."""
    at = [k for k, stage in enumerate(stages) if stage in _IN_TIME and k and stages[k - 1] not in _IN_TIME]
    return np.insert(x, at[:1], np.nan), np.insert(y, at[:1], np.nan)


def _residuals(subject: Subject) -> Panel | None:
    """How many setups have at most so much of a residual; None where none has one."""
    if "residual" not in subject.result.front:
        return None
    found = subject.result.front["residual"].to_numpy(dtype=np.float64)
    known = np.maximum(np.sort(found[np.isfinite(found)]), SMALLEST)
    if not len(known) or known[-1] <= SMALLEST:
        return None
    share = 100 * np.arange(1, len(known) + 1) / len(known)
    axis = Axis(f"residual, share of the front's range; from {SMALLEST:g} down not told apart", log=True)
    line = Series("setups of the front", "steps", "other", known, share)
    return Panel("", axis, Axis("of setups have at most that", "%", from_zero=True), (line,))


def _faults(subject: Subject) -> tuple[Table, ...]:
    """What kept designs from having figures."""
    faults = subject.record["faults"]
    if not faults:
        return ()
    rows = tuple((str(why), f"{count:,}") for why, count in faults.items())
    return (Table("Designs without figures", ("why", "designs"), rows),)


def _notes(progress: pd.DataFrame) -> tuple[str, ...]:
    seconds = progress["seconds"].sum()
    last = progress.iloc[-1]
    lines = [
        f"{int(last['evaluations']):,} designs in {number(float(seconds))} s of search; {int(last['front']):,} "
        f"setup{'' if int(last['front']) == 1 else 's'} on the front"
    ]
    if set(progress["stage"].astype(str)) & set(_IN_TIME):
        lines.append("from the stage repeat on figures are of the time domain: they do not compare with those before")
    return tuple(lines)
