"""Panels of strip charts: one quantity of one corner over distance, each drawn into axes that the caller gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridefront.evaluate.tracing import Trace
from ridefront.report.pictures import plain
from ridefront.vehicle.laws import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK, GREY, ROAD = "#22303c", "#6b7780", "#b9c2c9"

# Told apart by colour-blind people (M. Okabe's and K. Ito's palette, from memory, but for two), and by dashes in grey.
_PRESENT = "#b3261e"
_OTHERS = ("#0072b2", "#e69f00", INK, "#56b4e9", "#009e73", "#cc79a7")
_DASHES: tuple[Any, ...] = ("-", (0, (6, 1.5)), (0, (2, 1)), (0, (8, 1.5, 1.5, 1.5)), (0, (12, 2)), (0, (1, 1)))
_LIMITS = (
    ("bump_end", "end of bump", "-", "bottom"),
    ("bump_stop", "bump stop", "--", "top"),
    ("static_travel", "at rest", ":", "bottom"),
    ("rebound_stop", "rebound stop", "--", "bottom"),
    ("rebound_end", "end of rebound", "-", "top"),
)
_BAR = 0.035  # of a panel's height, for each setup's lift-off


@dataclass(frozen=True)
class Style:
    """How a setup is drawn.

    Attributes:
        label: what it is called.
        colour, dashes: as matplotlib takes them.
    """

    label: str
    colour: str
    dashes: Any

    def line(self, width: float, of: str) -> dict[str, Any]:
        """For a line of that width in points, called after the setup and what it is of."""
        return {"color": self.colour, "ls": self.dashes, "lw": width, "label": f"{self.label}, {of}"}


def styles(labels: Sequence[str], *, present: bool) -> tuple[Style, ...]:
    """A style for each of a few setups; `present` says that the first one is the present setup."""
    known = (_PRESENT, *_OTHERS) if present else _OTHERS
    return tuple(
        Style(plain(label, 70), colour, dashes) for label, colour, dashes in zip(labels, known, _DASHES, strict=False)
    )


@dataclass(frozen=True)
class Part:
    """What a column of panels shows.

    Attributes:
        trace: setups in a condition.
        window: from where to where, m.
        c: index of the corner.
    """

    trace: Trace
    window: tuple[float, float]
    c: int

    @cached_property
    def samples(self) -> slice:
        """Within the window, and one on either side of it."""
        first, last = np.searchsorted(self.trace.distance, self.window)
        return slice(max(int(first) - 1, 0), int(last) + 1)

    @property
    def distance(self) -> Array:
        """Of the front axle, (samples,), m."""
        return self.trace.distance[self.samples]

    def drawn(self, styles: Sequence[Style]) -> list[tuple[int, Style]]:
        """Index and style of each setup that has histories."""
        return [(k, style) for k, style in enumerate(styles) if self.trace.ok[k]]


def heights(axes: Axes, part: Part, styles: Sequence[Style]) -> None:
    """Road, wheel and, thick, the body above the axle, mm."""
    from matplotlib.collections import PolyCollection

    trace, at, x = part.trace, part.samples, part.distance
    road = 1e3 * trace.road[part.c, at]
    deep = np.full(2, min(float(road.min()), 0.0) - 1e4)
    ground = np.concatenate([np.stack([x, road], axis=1), np.stack([x[[-1, 0]], deep], axis=1)])
    axes.add_collection(PolyCollection([ground], color=ROAD, lw=0, zorder=1), autolim=False)
    axes.plot(x, road, color=GREY, lw=0.8, label="road", zorder=2)
    for k, style in part.drawn(styles):
        axes.plot(x, 1e3 * trace.wheel[k, part.c, at], **style.line(0.8, "wheel"))
        axes.plot(x, 1e3 * trace.body[k, part.c, at], **style.line(1.7, "body"))


def travel(axes: Axes, part: Part, styles: Sequence[Style]) -> None:
    """Travel from the reference position with its stops and ends, mm."""
    for k, style in part.drawn(styles):
        axes.plot(part.distance, 1e3 * part.trace.travel[k, part.c, part.samples], **style.line(1.3, "travel"))
    for name, words, dashes, side in _LIMITS:
        _level(axes, 1e3 * getattr(part.trace, name)[:, part.c], part.drawn(styles), dashes, words, side)
    axes.margins(y=0.1)  # for the words above and below the outermost lines


def damper_speed(axes: Axes, part: Part, styles: Sequence[Style]) -> None:
    """Speed of the damper itself, bump positive, m/s."""
    axes.axhline(0, color=GREY, lw=0.6)
    for k, style in part.drawn(styles):
        speed = part.trace.damper_speed[k, part.c, part.samples]
        axes.plot(part.distance, speed, **style.line(1.1, "damper speed"))


def contact_force(axes: Axes, part: Part, styles: Sequence[Style]) -> None:
    """Contact force, kN, and a bar for each setup where its wheel is off the ground."""
    trace, at = part.trace, part.samples
    for k, style in part.drawn(styles):
        axes.plot(part.distance, 1e-3 * trace.contact_force[k, part.c, at], **style.line(1.1, "contact force"))
        runs = _runs(part.distance, trace.lift_off[k, part.c, at])
        if runs:
            axes.broken_barh(
                runs,
                (0.02 + 1.3 * _BAR * k, _BAR),
                transform=axes.get_xaxis_transform(),
                facecolors=style.colour,
                label=f"{style.label}, off the ground",
            )
    _level(axes, 1e-3 * trace.static_contact_force[:, part.c], part.drawn(styles), ":", "at rest", "bottom")


def acceleration(axes: Axes, part: Part, styles: Sequence[Style], point: int) -> None:
    """Vertical acceleration of a point of the body, m/s², and, thin, weighted by Wk."""
    trace, at = part.trace, part.samples
    axes.axhline(0, color=GREY, lw=0.6)
    for k, style in part.drawn(styles):
        axes.plot(part.distance, trace.acceleration[k, point, at], **style.line(1.3, "acceleration"))
        axes.plot(part.distance, trace.weighted[k, point, at], **style.line(0.6, "weighted"))
    name = trace.points[point]
    _name(axes, "body's centre of mass" if name == "body" else name)


def angle(axes: Axes, part: Part, styles: Sequence[Style], name: str) -> None:
    """Angle of the body, degrees; `name`: pitch, nose down, or roll, left side up."""
    history, up = (part.trace.pitch, "nose down") if name == "pitch" else (part.trace.roll, "left side up")
    axes.axhline(0, color=GREY, lw=0.6)
    for k, style in part.drawn(styles):
        axes.plot(part.distance, np.degrees(history[k, part.samples]), **style.line(1.3, name))
    _name(axes, f"{name} angle, {up} [deg]")


def make_room(axes: Axes, setups: int) -> None:
    """Room below the contact forces for the bars of so many setups."""
    low, high = axes.get_ylim()
    share = 0.03 + 1.3 * _BAR * setups
    axes.set_yticks([tick for tick in axes.get_yticks() if 0 <= tick <= high])
    axes.set_ylim(min(low, -share / (1 - share) * high), high)


def _level(axes: Axes, values: Array, drawn: Sequence[tuple[int, Style]], dashes: str, words: str, side: str) -> None:
    """A horizontal line at each setup's value, one for all where these are the same; none where there is none."""
    there = [(float(values[k]), style) for k, style in drawn if np.isfinite(values[k])]
    if not there:
        return
    first = there[0][0]
    if all(abs(value - first) < 1e-6 * max(abs(first), 1.0) for value, _ in there):
        axes.axhline(first, color=GREY, lw=0.9, ls=dashes, label=words)
    else:
        for value, style in there:
            axes.axhline(value, color=style.colour, lw=0.9, ls=dashes, label=f"{style.label}, {words}")
    _beside(axes, first, words, side)


def _beside(axes: Axes, y: float, words: str, side: str) -> None:
    """Words at a line: at rest on the left, where histories start there; the others on the right."""
    left = words == "at rest"
    axes.text(
        0.005 if left else 0.995,
        y,
        words,
        transform=axes.get_yaxis_transform(),
        ha="left" if left else "right",
        va=side,
        fontsize=6.5,
        color=GREY,
        path_effects=_halo(),
    )


def _runs(x: Array, there: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Start and length of each run of samples."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    ends = np.append(x, x[-1])
    return [(float(x[a]), float(ends[b] - x[a])) for a, b in edges.reshape(-1, 2)]


def _name(axes: Axes, text: str) -> None:
    """What a panel shows, in its corner."""
    axes.margins(y=0.15)
    axes.text(
        0.993, 0.96, plain(text, 40), transform=axes.transAxes, ha="right", va="top", fontsize=8, weight="bold",
        color=INK, path_effects=_halo(),
    )  # fmt: skip


def _halo() -> list[Any]:
    """White about words, so that they read on top of lines."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=2, foreground="white")]
