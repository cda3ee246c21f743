"""The card "What do the dampers do?": their force over speed, and how fast they move on each road."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import erf

from ridefront.evaluate import Domain, Evaluator
from ridefront.evaluate.spectra import spectra
from ridefront.evaluate.tracing import traces
from ridefront.report.card import Card, asks
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.looked_at import Setup
from ridefront.report.ridden import domain_of, drawn, left_out, number_of, stacked
from ridefront.report.standing import by_this_program
from ridefront.report.words import Table, number
from ridefront.road import Obstacle
from ridefront.study.model import Study
from ridefront.study.space import parameters
from ridefront.vehicle.body import model_of
from ridefront.vehicle.elements import per_corner, speed_law
from ridefront.vehicle.laws import Array

if TYPE_CHECKING:
    from ridefront.report.subject import Subject

SPEEDS = (0.05, 0.13, 0.3)
"""m/s: between body motion, broken roads and hard blows, as dampers are talked about (common practice)."""

_CLASSES = ("under 0.05", "0.05 to 0.13", "0.13 to 0.3", "over 0.3")
_SHOWN = (0.05, 0.13, 0.26, 0.39, 0.52)  # m/s, at which test benches are read (common practice)
_REACH = (0.6, 2.0)  # m/s to which forces are drawn, at least and at most
_BEYOND = 4.0  # times the largest rms speed


@dataclass(frozen=True)
class Motion:
    """How fast the dampers of n setups move in a condition.

    Attributes:
        condition: its name; c: its index.
        gaussian: whether shares of time are those of a Gaussian speed with that rms, else they are counted.
        rms: (n, corners), m/s; NaN without figures, likewise the next two.
        shares: of time in each class of speed, whichever way, (n, corners, classes).
        bump, rebound: largest speed either way, (n, corners), m/s; NaN where it is not driven.
    """

    condition: str
    c: int
    gaussian: bool
    rms: Array
    shares: Array
    bump: Array
    rebound: Array


_QUESTION = "What do the dampers do?"


@asks(_QUESTION)
def what_dampers_do(subject: Subject) -> Card:
    """The card.

    Raises:
        DoesNotApply: no setup has figures.
    """
    looked, study = subject.looked_at, subject.study
    axles = _axles(study)
    evaluator, X, domain = subject.evaluator, stacked(looked.setups), domain_of(subject)
    moving = [motion(evaluator, X, c, domain) for c in range(len(study.conditions))]
    random = [one for one in moving if not _on_obstacle(study, one.c)]
    fastest = max((float(np.nanmax(one.rms)) for one in random if np.isfinite(one.rms).any()), default=0.0)
    reach = min(max(_REACH[0], _BEYOND * fastest), _REACH[1])
    names = [setup.name for setup in looked.setups]
    figures = [
        Figure(
            "dampers",
            "Damper force over speed",
            tuple(_forces(study, drawn(looked), axle, reach) for axle in axles),
            f"{subject.folder.name}/study.toml and front.parquet: the laws of the dampers themselves",
        )
    ]
    hardest = _hardest(random)
    if hardest is not None:
        figures.append(
            Figure(
                "damper-speeds",
                f"How fast they move: {hardest.condition}",
                tuple(_bars(hardest, drawn(looked), axle, c) for axle, c in axles.items()),
                f"{subject.folder.name}/front.parquet; {hardest.condition}; {_way(subject, hardest)}",
            )
        )
    return Card(
        "what-dampers-do",
        _QUESTION,
        "First the force of each damper over its own speed, bump to the right, rebound to the left; then how long it "
        "moves how fast on the road that works it hardest: slowly where the body floats, fast where the wheel hops."
        f"{by_this_program(subject, 'damper speeds are')}",
        tuple(figures),
        (
            *((_speeds(random, axles, names), _times(random, axles, drawn(looked))) if random else ()),
            *_blows([one for one in moving if _on_obstacle(study, one.c)], axles, names),
        ),
        (*_notes(study, axles, moving), *left_out(looked)),
    )


def _axles(study: Study) -> dict[str, int]:
    """Each axle's first corner."""
    found: dict[str, int] = {}
    for c, axle in enumerate(model_of(study.model, study.corner).axles):
        found.setdefault(axle, c)
    return found


def _on_obstacle(study: Study, c: int) -> bool:
    return isinstance(study.roads[study.conditions[c].road], Obstacle)


def motion(evaluator: Evaluator, X: Array, c: int, domain: Domain) -> Motion:
    """How fast the dampers of designs X (n, d) move in a condition, worked out as in a domain; on the first realisation
    of a road that is driven.

    Raises:
        CallError: a design is driven and lies outside the bounds that the time domain's step is made for.
    """
    name = evaluator.study.conditions[c].name
    if not evaluator.simulated(c, domain):
        rms = np.sqrt(spectra(evaluator, X, c, domain).mean_square["damper_speed"])
        none = np.full_like(rms, np.nan)
        return Motion(name, c, True, rms, gaussian_shares(rms), none, none)
    parts = []
    for _, found in traces(evaluator, X, c):
        speed = found.damper_speed[..., found.first :]
        fast = np.abs(speed)
        edges = (0.0, *SPEEDS, np.inf)
        shares = [
            np.where(np.isfinite(fast[..., 0]), ((fast >= low) & (fast < high)).mean(axis=-1), np.nan)
            for low, high in pairwise(edges)
        ]
        rms = np.sqrt((speed * speed).mean(axis=-1))
        parts.append((rms, np.stack(shares, axis=-1), speed.max(axis=-1), -speed.min(axis=-1)))
    rms, classes, bump, rebound = (np.concatenate(one) for one in zip(*parts, strict=True))
    return Motion(name, c, False, rms, classes, bump, rebound)


def gaussian_shares(rms: Array) -> Array:
    """Shares of time in each class of speed, whichever way, of a Gaussian speed with that rms and no mean.

    Args:
        rms: (...), m/s.

    Returns:
        (..., classes).
    """
    below = [np.zeros_like(rms), *(erf(edge / (np.sqrt(2.0) * rms)) for edge in SPEEDS), np.ones_like(rms)]
    whole = np.stack(below, axis=-1)
    return np.where(np.isfinite(rms)[..., np.newaxis], np.diff(whole, axis=-1), np.nan)


def damper_forces(study: Study, X: Array, c: int, speeds: Array) -> Array:
    """Force of the dampers of a corner itself, resisting bump positive, (n, speeds), N.

    Args:
        study: whose variables the columns of X are.
        X: (n, d), in their units.
        c: index of the corner.
        speeds: of the damper itself, bump positive, (speeds,), m/s.
    """
    values, axles = parameters(study, X), model_of(study.model, study.corner).axles
    law, ratio = speed_law(values, axles, study.points), per_corner(values, axles, "damper_ratio")
    assert ratio is not None, "the study reader gives damper_ratio for every axle of the model"
    return np.stack([(law.force(speed / ratio) / ratio)[:, c] for speed in speeds], axis=1)


def _bends(study: Study, x: Array, c: int, reach: float) -> Array:
    """Speeds at which a setup's law bends, those of test benches, and the ends, m/s."""
    values, axles = parameters(study, x[np.newaxis]), model_of(study.model, study.corner).axles
    ratio = per_corner(values, axles, "damper_ratio")
    assert ratio is not None, "the study reader gives damper_ratio for every axle of the model"
    law = speed_law(values, axles, study.points)
    starts = [float(hinge.sign * hinge.start[0, c] * ratio[0, c]) for hinge in law.hinges if hinge.rate[0, c] != 0]
    either = [sign * speed for speed in (*_SHOWN, reach) for sign in (-1.0, 1.0)]
    found = np.unique(np.array([0.0, *starts, *either]).round(9))
    return np.asarray(found[np.abs(found) <= reach])


def _forces(study: Study, setups: Sequence[Setup], axle: str, reach: float) -> Panel:
    c = _axles(study)[axle]
    lines = []
    for setup in setups:
        speeds = _bends(study, setup.x, c, reach)
        force = damper_forces(study, setup.x[np.newaxis], c, speeds)[0]
        lines.append(Series(setup.name, "line", setup.role, speeds, 1e-3 * force, number_of(setup)))
    return Panel(
        _title(study, axle), Axis("damper speed, bump positive", "m/s"), Axis("damper force", "kN"), tuple(lines)
    )


def _title(study: Study, axle: str) -> str:
    return f"{axle.capitalize()} damper" + ("" if study.model == "quarter-car" else "s, each")


def _hardest(moving: Sequence[Motion]) -> Motion | None:
    """The condition in which the first setup's dampers move fastest."""
    known = [one for one in moving if np.isfinite(one.rms[0]).all()]
    return max(known, key=lambda one: float(one.rms[0].max())) if known else None


def _bars(of: Motion, setups: Sequence[Setup], axle: str, c: int) -> Panel:
    at = np.arange(len(_CLASSES), dtype=np.float64)
    bars = tuple(
        Series(setup.name, "bars", setup.role, at, 100 * of.shares[k, c], number_of(setup))
        for k, setup in enumerate(setups)
        if np.isfinite(of.shares[k, c]).all()
    )
    speed = Axis("damper speed, either way", "m/s", names=_CLASSES)
    return Panel(axle.capitalize(), speed, Axis("share of time", "%", from_zero=True), bars)


def _rows(axles: dict[str, int], moving: Sequence[Motion]) -> list[tuple[Motion, str, int]]:
    return [(one, axle, c) for one in moving for axle, c in axles.items()]


def _speeds(moving: Sequence[Motion], axles: dict[str, int], names: Sequence[str]) -> Table:
    rows = tuple(
        (one.condition, axle, *(number(float(x)) for x in one.rms[:, c])) for one, axle, c in _rows(axles, moving)
    )
    return Table("Damper speed, rms, m/s", ("condition", "axle", *names), rows, text_columns=2)


def _times(moving: Sequence[Motion], axles: dict[str, int], setups: Sequence[Setup]) -> Table:
    rows = tuple(
        (one.condition, axle, *(_in_parts(one.shares[k, c]) for k in range(len(setups))))
        for one, axle, c in _rows(axles, moving)
    )
    return Table(
        f"Share of time by damper speed, %: {' / '.join(_CLASSES)} m/s",
        ("condition", "axle", *(setup.name for setup in setups)),
        rows,
        text_columns=2,
    )


def _in_parts(shares: Array) -> str:
    """Whole per cents that add up to a hundred: what rounding leaves over goes where most was cut off."""
    if not np.isfinite(shares).all():
        return number(None)
    whole = np.floor(100 * shares)
    over = round(100 - float(whole.sum()))
    for k in np.argsort(whole - 100 * shares, kind="stable")[:over]:
        whole[k] += 1
    return " / ".join(f"{x:.0f}" for x in whole)


def _blows(moving: Sequence[Motion], axles: dict[str, int], names: Sequence[str]) -> tuple[Table, ...]:
    """Largest speeds on obstacles; of an axle the faster of its wheels."""
    if not moving:
        return ()
    rows = []
    for one in moving:
        for axle, c in axles.items():
            wheels = slice(c, c + one.rms.shape[1] // len(axles))
            for words, values in (("bump", one.bump), ("rebound", one.rebound)):
                figures = values[:, wheels].max(axis=1)
                rows.append((one.condition, f"{axle}, {words}", *(number(float(x)) for x in figures)))
    return (
        Table("Largest damper speed on obstacles, m/s", ("condition", "damper", *names), tuple(rows), text_columns=2),
    )


def _way(subject: Subject, of: Motion) -> str:
    """How speeds in a condition come about."""
    if of.gaussian:
        return "frequency domain: shares of a Gaussian speed with the rms of the linear vehicle"
    count = subject.study.roads[subject.study.conditions[of.c].road].realisations
    return "time domain: counted" + (f" on the first of {count} realisations" if count > 1 else "")


def _notes(study: Study, axles: dict[str, int], moving: Sequence[Motion]) -> tuple[str, ...]:
    lines = ["forces are those of the valves alone: the gas's push is left out, and so is the friction of the corner"]
    if any(one.gaussian for one in moving):
        lines.append(
            "shares of time in the frequency domain are those of a Gaussian speed with the rms of the linear vehicle: "
            "bump and rebound alike"
        )
    if any(not one.gaussian for one in moving):
        lines.append("what is driven in the time domain is counted on the first realisation of each road")
    if study.model == "full-car":
        lines.append("speeds of an axle are those of its left damper")
    beams = ", ".join(axle for axle in axles if axle in study.beams)
    if beams:
        lines.append(f"beam axle ({beams}): speeds are at the dampers' own places")
    return tuple(lines)
