"""Where the linearised ride and the one that is driven in time differ, over the front and for the picks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridefront.criteria import CRITERIA
from ridefront.report.card import Card, DoesNotApply, NoFront, asks
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.looked_at import Setup
from ridefront.report.subject import Subject
from ridefront.report.words import Table, measure, measured_in, number
from ridefront.results.names import FRONT
from ridefront.results.record import roads_record
from ridefront.results.sampling import compared
from ridefront.study.model import Measure
from ridefront.vehicle.laws import Array

_SMALL = 0.1
"""Of a criterion's typical size: figures below it are not divided by."""

_ROUNDING = 1e-9


_QUESTION = "Where do the linear and the non-linear ride differ?"


@asks(_QUESTION)
def domains(subject: Subject) -> Card:
    """The card."""
    if not len(subject.front):
        raise NoFront
    known = _compared(subject)
    if not known:
        raise DoesNotApply(_why_not(subject))
    measures = [item for item in known if _differs(subject, item)]
    alike = [measure(item.label) for item in known if item not in measures]
    if not measures:
        raise DoesNotApply(
            f"both ways give the same {', '.join(alike)}: roads decide that are driven in time either way"
        )
    setups = tuple(setup for setup in subject.looked_at.setups if setup.role == "pick")
    driven = subject.domain == "time-domain"
    here = "driven in time" if driven else "with the linearised ride"
    figure = Figure(
        "domains",
        "The ride driven in time, less the linearised one",
        tuple(_panel(subject, item, setups) for item in _drawn(measures)),
        _source(subject),
    )
    return Card(
        "domains",
        _QUESTION,
        f"The front was searched {here}; each of its setups has been worked out the other way too. Above zero the "
        "linearised ride reads too low, below it too high.",
        (figure,),
        (_table(subject, measures, setups),),
        _notes(subject, alike),
    )


def both(subject: Subject, item: Measure) -> tuple[Array, Array]:
    """A measure of the front by the linearised ride and driven in time, (n,) each, in its unit."""
    frame = subject.result.front
    figures, difference = (frame[name].to_numpy(dtype=np.float64) for name in (item.label, f"{item.label}.difference"))
    if subject.domain == "time-domain":
        return figures - difference, figures
    return figures, figures + difference


def _compared(subject: Subject) -> list[Measure]:
    """Measures that have differences, objectives first."""
    frame = subject.result.front
    names = {item.label for item in compared(subject.study)}
    return [
        item
        for item in subject.study.measures
        if item.label in names
        and f"{item.label}.difference" in frame
        and bool(np.isfinite(frame[f"{item.label}.difference"].to_numpy(dtype=np.float64)).any())
    ]


def _differs(subject: Subject, item: Measure) -> bool:
    """Whether the two ways differ for any setup, beyond rounding."""
    linear, driven = both(subject, item)
    known = np.isfinite(driven - linear)
    return bool(np.any(np.abs(driven - linear)[known] > _ROUNDING * np.abs(driven)[known]))


def _drawn(measures: Sequence[Measure]) -> Sequence[Measure]:
    """Measures of which less or more is better; all where there is none of them."""
    return [item for item in measures if CRITERIA[item.criterion].sense is not None] or measures


def _why_not(subject: Subject) -> str:
    if not compared(subject.study):
        return "no objective and no limit of the study looks at a random road, or has a figure in both domains"
    if subject.record["state"] != "done":
        return "the other domain is worked out when a run is done; this one is not"
    return "no setup of the front has a figure in both domains"


def _panel(subject: Subject, item: Measure, setups: Sequence[Setup]) -> Panel:
    linear, driven = both(subject, item)
    difference = driven - linear
    series = [
        Series("no difference", "level", "limit", np.zeros(1), np.zeros(1)),
        Series("front", "points", "front", linear, difference, subject.front.design),
    ]
    for setup in setups:
        rows = np.array([setup.row])
        hover = (f"{setup.name}\n{_said(float(linear[rows[0]]), float(driven[rows[0]]), item)}",)
        at = linear[rows], difference[rows], np.array([setup.design], dtype=np.int64)
        series.append(Series(setup.name, "points", setup.role, *at, hover=hover))
    name, unit = measure(item.label), measured_in(item)
    return Panel(name, Axis("linearised", unit), Axis("in time less linearised", unit), tuple(series))


def _said(linear: float, driven: float, item: Measure) -> str:
    unit = measured_in(item)
    return f"linearised {number(linear)} {unit}".rstrip() + f"\nin time {number(driven)} {unit}".rstrip()


def _table(subject: Subject, measures: Sequence[Measure], setups: Sequence[Setup]) -> Table:
    rows = []
    for item in measures:
        linear, driven = both(subject, item)
        found = np.flatnonzero(np.isfinite(driven - linear))
        worst = int(found[np.argmax(np.abs(driven - linear)[found])])
        cells = [_cell(item, float(linear[row]), float(driven[row])) for row in (s.row or 0 for s in setups)]
        of = f" [{int(subject.front.design[worst])}]"
        most = _cell(item, float(linear[worst]), float(driven[worst])) + of
        rows.append((measure(item.label), measured_in(item), *cells, most))
    heads = ("measure", "unit", *(setup.name for setup in setups), "largest of the front [design]")
    title = "Driven in time, in brackets the difference from the linearised ride"
    return Table(title, heads, tuple(rows), text_columns=2)


def _cell(item: Measure, linear: float, driven: float) -> str:
    off = driven - linear
    if not np.isfinite(off):
        return number(driven)
    if CRITERIA[item.criterion].sense != "large" and linear > _SMALL * CRITERIA[item.criterion].typical / item.factor:
        return f"{number(driven)} ({100 * off / linear:+.1f} %)"
    return f"{number(driven)} ({'+' if off > 0 else '-' if off < 0 else ''}{number(abs(off), 2)})"


def _source(subject: Subject) -> str:
    counts = _realisations(subject)
    driven = ", ".join(f"{name} ({'1 realisation' if n == 1 else f'{n} realisations'})" for name, n in counts.items())
    return f"{subject.folder.name}/{FRONT}; time domain: {driven}; frequency domain: the same roads by their spectra"


def _realisations(subject: Subject) -> dict[str, int]:
    found = roads_record(subject.study, subject.domain)
    return {name: counts["difference"] for name, counts in found.items() if counts["difference"] is not None}


def _notes(subject: Subject, alike: Sequence[str]) -> tuple[str, ...]:
    lines = []
    if alike:
        lines.append(f"the same both ways, since roads decide that are driven in time either way: {', '.join(alike)}")
    few = [name for name, count in _realisations(subject).items() if count == 1]
    if subject.domain == "frequency-domain" and few:
        lines.append(
            f"driven over one realisation of each road ({', '.join(few)}): differences of largest values have that "
            "one's luck in them, rms figures hardly"
        )
    return tuple(lines)
