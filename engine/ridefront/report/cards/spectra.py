"""The card "Where in frequency does it shake?": third octaves of acceleration, contact force and travel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ridefront.evaluate import STATUS
from ridefront.evaluate.spectra import Spectra, spectra, third_octaves
from ridefront.report.card import Card, DoesNotApply, asks
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.looked_at import LookedAt, Setup
from ridefront.report.ridden import (
    domain_of,
    drawn,
    failed,
    felt_most,
    figures_of,
    left_out,
    number_of,
    random_conditions,
    stacked,
    where_from,
)
from ridefront.report.standing import by_this_program
from ridefront.report.words import Table, number
from ridefront.response.weighting import WEIGHTINGS
from ridefront.vehicle.laws import Array

if TYPE_CHECKING:
    from ridefront.report.subject import Subject

_SHOWN = (0.4, 50.0)  # Hz
_TO_AN_OCTAVE = 24
_HALF_BAND = 2.0 ** (1 / 6)
_BODY, _HOP = 2.5, 8.0  # Hz: the body moves on its springs below, wheels hop above (common practice)
_FREQUENCY = Axis("frequency", "Hz", log=True)
_HEIGHT = "rms in a third of an octave"


_QUESTION = "Where in frequency does it shake?"


@asks(_QUESTION)
def where_it_shakes(subject: Subject) -> Card:
    """The card.

    Raises:
        DoesNotApply: no setup has figures, or no condition is on a road of which spectra mean something.
    """
    looked, study, domain = subject.looked_at, subject.study, domain_of(subject)
    if not random_conditions(study):
        raise DoesNotApply("all roads are obstacles: a spectrum of one blow depends on where its road ends")
    found = felt_most(study, looked)
    if found is None:
        raise DoesNotApply("no setup has figures of comfort on a random or measured road")
    c, place = found
    of = spectra(subject.evaluator, stacked(looked.setups), c, domain)
    if not of.ok.any():
        raise DoesNotApply(f"no setup has spectra: {', '.join(_reasons(of))}")
    driven = of.domain == "time-domain"
    name = study.conditions[c].name
    figure = Figure(
        "spectra",
        f"Where in frequency it shakes: {name}",
        _panels(of, drawn(looked), place),
        where_from(subject, c, domain, driven=driven),
        columns=2,
        shared_x=True,
    )
    point = "the body's centre of mass" if place == "body" else f"the seat “{place}”"
    return Card(
        "where-it-shakes",
        _QUESTION,
        f"What shakes {point} in “{name}”, which counts most for comfort. Each height is the rms within a third of an "
        "octave about that frequency; the squares of neighbouring bands add up to the square of the whole."
        f"{by_this_program(subject, 'these spectra are')}",
        (figure,),
        (_sources(looked, of, place), _everywhere(subject, looked)),
        (
            *_how(subject, of, looked, place),
            *left_out(looked),
            *failed(looked, of.ok.tolist(), f"{name}, {', '.join(_reasons(of))}"),
        ),
    )


def _reasons(of: Spectra) -> tuple[str, ...]:
    return tuple(dict.fromkeys(STATUS[code].replace("-", " ") for code in of.status if code))


def centres(frequency: Array) -> Array:
    """Centres of bands that lie within frequencies (f,), Hz, and within what is drawn; the same on every road."""
    low, high = (max(frequency[0], _SHOWN[0]) * _HALF_BAND, min(frequency[-1], _SHOWN[1]) / _HALF_BAND)
    first, last = (np.log2(edge) * _TO_AN_OCTAVE for edge in (low, high))
    return np.asarray(2.0 ** (np.arange(np.ceil(first), np.floor(last) + 1) / _TO_AN_OCTAVE))


def _panels(of: Spectra, setups: Sequence[Setup], place: str) -> tuple[Panel, ...]:
    """Acceleration and its weighting side by side, then a row a quantity of the wheels, a column an axle."""
    f, p = centres(of.frequency), of.points.index(place)
    axles = tuple(dict.fromkeys(name.partition("_")[0] for name in of.corners))

    def lines(density: Array, scale: float, *, dashed: bool = False) -> tuple[Series, ...]:
        """Of a quantity of each setup, (n, f)."""
        heights = scale * np.sqrt(third_octaves(of.frequency, density, f))
        return tuple(
            Series(setup.name, "line", setup.role, f, heights[k], number_of(setup), dashed=dashed)
            for k, setup in enumerate(setups)
            if of.ok[k]
        )

    def of_axles(words: str, unit: str, density: Array, scale: float) -> list[Panel]:
        """Of a quantity of each corner, (n, corners, f): left and right wheel taken together."""
        found = []
        for axle in axles:
            own = [c for c, name in enumerate(of.corners) if name.partition("_")[0] == axle]
            mean = sum((density[:, c] for c in own[1:]), density[:, own[0]]) / len(own)
            found.append(Panel(f"{words}, {axle}", _FREQUENCY, Axis(_HEIGHT, unit, from_zero=True), lines(mean, scale)))
        return found

    felt = (*lines(of.weighted[:, p], 1.0), *lines(of.acceleration[:, p], 1.0, dashed=True))
    where = "centre of mass" if place == "body" else place
    curve = Series("weighting Wk", "line", "weighting", f, np.sqrt(WEIGHTINGS["Wk"].squared(f)))
    return (
        Panel(f"Acceleration, {where} (dotted: unweighted)", _FREQUENCY, Axis(_HEIGHT, "m/s²", from_zero=True), felt),
        Panel("How much of it counts (ISO 2631-1)", _FREQUENCY, Axis("weighting factor", from_zero=True), (curve,)),
        *of_axles("Contact force", "kN", of.contact_force, 1e-3),
        *of_axles("Travel", "mm", of.travel, 1e3),
    )


def _sources(looked: LookedAt, of: Spectra, place: str) -> Table:
    """From which frequencies the weighted acceleration comes."""
    p = of.points.index(place)
    density = of.weighted[:, p]
    steps = 0.5 * (density[:, 1:] + density[:, :-1]) * np.diff(of.frequency)
    middle = 0.5 * (of.frequency[1:] + of.frequency[:-1])
    whole = steps.sum(axis=1)
    bands = (
        (f"below {_BODY:g} Hz: the body on its springs", middle < _BODY),
        (f"{_BODY:g} to {_HOP:g} Hz: in between", (middle >= _BODY) & (middle < _HOP)),
        (f"above {_HOP:g} Hz: the wheels", middle >= _HOP),
    )
    rows = [
        (words, "%", *(number(float(100 * x), 2) for x in steps[:, within].sum(axis=1) / whole))
        for words, within in bands
    ]
    totals = [
        (words, "m/s²", *(number(float(x)) for x in np.sqrt(of.mean_square[name][:, p])))
        for words, name in (("weighted rms", "weighted"), ("unweighted rms", "acceleration"))
    ]
    return Table(
        f"What the weighted acceleration is made of: {of.condition}",
        ("share of its mean square", "unit", *(setup.name for setup in looked.setups)),
        (*rows, *totals),
        text_columns=2,
        notes=("limits between body and wheels by common practice",),
    )


def _everywhere(subject: Subject, looked: LookedAt) -> Table:
    """Weighted acceleration at the worst place in every condition."""
    rows = []
    for c in random_conditions(subject.study):
        name = subject.study.conditions[c].name
        places, figures = figures_of(looked, "comfort", name)
        if places:
            rows.append((name, *(number(float(x)) for x in figures.max(axis=1))))
    return Table(
        "Weighted acceleration in every condition, rms at the worst seat, m/s²",
        ("condition", *(setup.name for setup in looked.setups)),
        tuple(rows),
    )


def _how(subject: Subject, of: Spectra, looked: LookedAt, place: str) -> tuple[str, ...]:
    """What the spectra are of, and how far they are those of the figures."""
    if of.domain == "frequency-domain":
        by = "by their slopes at rest" if subject.study.linearisation == "at-rest" else "for this road, speed and load"
        lines = [f"the spectra are those of the linear vehicle: dampers, friction and stops linearised {by}"]
    else:
        lines = ["the spectra are those of histories (Welch's method, segments of 8 s at most)"]
    places, figures = figures_of(looked, "comfort", of.condition)
    rms = np.sqrt(of.mean_square["weighted"][:, of.points.index(place)])
    if place in places:
        known = figures[:, places.index(place)]
        good = np.isfinite(known) & np.isfinite(rms)
        if good.any():
            off = float(np.max(np.abs(rms[good] / known[good] - 1)))
            lines.append(f"their weighted rms is within {number(100 * off, 2)} % of the run's figures" if off > 1e-6
                         else "their weighted rms is the run's figure")  # fmt: skip
    return tuple(lines)
