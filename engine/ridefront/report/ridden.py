"""What cards of the ride share: which setups their lines are of, in which condition, and where figures come from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ridefront.evaluate import Domain
from ridefront.report.looked_at import LookedAt, Setup
from ridefront.report.roads import in_words
from ridefront.road import Obstacle
from ridefront.study.model import Measure, Study
from ridefront.vehicle.laws import Array

if TYPE_CHECKING:
    from ridefront.report.subject import Subject

MOST_LINES = 5
"""Setups that are drawn as lines: the present one and the first picks. Tables have all of them."""

_FELT = ("comfort", "comfort_total", "vibration_dose", "transient_vibration", "body_acceleration")


def domain_of(subject: Subject) -> Domain:
    """In which the front was worked out."""
    return "frequency-domain" if subject.result.response == "frequency-domain" else "time-domain"


def drawn(looked: LookedAt) -> tuple[Setup, ...]:
    """Setups whose lines are drawn."""
    return looked.setups[:MOST_LINES]


def stacked(setups: Sequence[Setup]) -> Array:
    """Their variables, (n, d), in their units."""
    return np.stack([setup.x for setup in setups])


def number_of(setup: Setup) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    """Its number, as a series of one design has it, (1,)."""
    return np.array([setup.design], dtype=np.int64)


def left_out(looked: LookedAt) -> tuple[str, ...]:
    """What to say of setups that are not drawn."""
    names = [setup.name for setup in looked.setups[MOST_LINES:]]
    return (f"not drawn, for lines would hide each other: {', '.join(names)}",) if names else ()


def failed(looked: LookedAt, ok: Sequence[bool], where: str) -> tuple[str, ...]:
    """What to say of setups without figures in a condition."""
    names = [setup.name for setup, good in zip(looked.setups, ok, strict=False) if not good]
    return (f"no figures for {', '.join(names)}: {where}",) if names else ()


def random_conditions(study: Study) -> tuple[int, ...]:
    """Indices of the conditions on roads that are no obstacles: those of which rms figures mean something."""
    return tuple(c for c, item in enumerate(study.conditions) if not isinstance(study.roads[item.road], Obstacle))


def figures_of(looked: LookedAt, criterion: str, condition: str) -> tuple[tuple[str, ...], Array]:
    """Places of a criterion in a condition and its figures there, (s, places), SI."""
    columns = looked.columns(criterion, condition)
    return tuple(looked.pieces.place[p] for p in columns), looked.pieces.values[:, columns]


def felt_most(study: Study, looked: LookedAt) -> tuple[int, str] | None:
    """The condition on a random road that decides how comfortable the first setup is, and the worst place in it.

    Of the conditions that the study's first measure of comfort counts (of all, where it has none), the one with the
    largest share of that measure: the largest figure times its share of time, squared for an rms.

    Returns:
        The condition's index and the place's name; None where there is no such condition.
    """
    item = _felt(study)
    random = random_conditions(study)
    counted = random if item is None else tuple(c for c in item.conditions if c in random) or random
    shares: dict[int, tuple[float, str]] = {}
    for c in counted:
        places, figures = figures_of(looked, "comfort", study.conditions[c].name)
        if item is not None and item.place in places:
            figures = figures[:, [places.index(item.place)]]
            places = (item.place,)
        if not places or not np.isfinite(figures[0]).all():
            continue
        worst = int(np.argmax(figures[0]))
        shares[c] = (_share(item, float(figures[0, worst]), study.conditions[c].weight), places[worst])
    if not shares:
        return None
    found = max(shares, key=lambda c: shares[c][0])
    return found, shares[found][1]


def _felt(study: Study) -> Measure | None:
    """The first measure of what people feel, objectives first."""
    found = [item for item in study.measures if item.criterion in _FELT]
    return found[0] if found else None


def _share(item: Measure | None, figure: float, weight: float) -> float:
    if item is not None and item.over == "worst":
        return figure
    return weight * (figure if item is not None and item.over == "mean" else figure * figure)


def where_from(subject: Subject, c: int, domain: Domain, *, driven: bool) -> str:
    """Where figures of a condition come from.

    Args:
        subject: whose.
        c: index of the condition.
        domain: of the front.
        driven: whether they come from a drive in time.
    """
    study = subject.study
    item = study.conditions[c]
    road = study.roads[item.road]
    how = "by the linear vehicle of that road" if not driven else "driven in the time domain"
    if driven and road.realisations > 1:
        how += f", the first of {road.realisations} realisations"
    front = "" if domain == "time-domain" or not driven else "; the front itself: in the frequency domain"
    return f"{subject.folder.name}/front.parquet; {item.name} ({in_words(road)}); {how}{front}"
