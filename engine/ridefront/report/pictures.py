"""Pictures of a front, drawn with matplotlib into axes that the caller gives."""

from __future__ import annotations

import re
import string
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ridefront.report.compromises import Setups, picks
from ridefront.report.words import measure, measured_in
from ridefront.study.model import Measure, Study
from ridefront.vehicle.laws import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK = "#22303c"
_PRESENT = "#b3261e"
_COLOURS = "cividis"  # even in lightness: readable in grey and by colour-blind people


def _label(item: Measure) -> str:
    shown = measured_in(item)
    return plain(measure(item.label) + (f" [{shown}]" if shown else ""))


def plain(text: str, most: int = 90) -> str:
    """Text from a study as matplotlib may take it: no mathematics between dollar signs, no lines, not endless."""
    short = " ".join(re.split(r"[^\S\u00a0]+", text.strip()))
    short = short if len(short) <= most else f"{short[: most - 1]}…"
    return short.replace("$", r"\$")


def _name(axes: Axes, text: str, at: tuple[float, float], offset: tuple[int, int], colour: str) -> None:
    """Write beside a point, with a halo so that it reads on top of others."""
    from matplotlib.patheffects import withStroke

    axes.annotate(
        text,
        at,
        textcoords="offset points",
        xytext=offset,
        color=colour,
        weight="bold",
        path_effects=[withStroke(linewidth=3, foreground="white")],
    )


def trade_off(axes: Axes, study: Study, front: Setups, present: Setups | None) -> None:
    """What a softer ride costs: the first two objectives against each other, the third as colour, the picks by letter.

    Args:
        axes: to draw into.
        study: with at least two objectives; further ones than three are not drawn.
        front: setups of the front.
        present: the present setup, or None.
    """
    labels = [item.label for item in study.measures]
    columns = [labels.index(item.measure.label) for item in study.objectives]
    x, y = front.values[:, columns[0]], front.values[:, columns[1]]
    colour = front.values[:, columns[2]] if len(columns) > 2 else None
    dots = axes.scatter(
        x, y, c=colour if colour is not None else _INK, s=9, cmap=_COLOURS if colour is not None else None, lw=0
    )
    if colour is not None:
        bar = axes.figure.colorbar(dots, ax=axes)
        bar.set_label(_label(study.objectives[2].measure))
    rows, _ = picks(study, front)
    for letter, row in zip(string.ascii_uppercase, rows, strict=False):
        axes.plot(x[row], y[row], "o", ms=11, mfc="none", mec=_INK, mew=1.2)
        _name(axes, letter, (float(x[row]), float(y[row])), (9, 6), _INK)
    if present is not None and np.all(np.isfinite(present.values[0, columns])):
        at = present.values[0, columns]
        axes.plot(at[0], at[1], "X", ms=11, color=_PRESENT, mec="white", mew=1.0)
        text = "present" if colour is None else f"present ({at[2]:.3g} {measured_in(study.objectives[2].measure)})"
        _name(axes, text, (float(at[0]), float(at[1])), (9, -14), _PRESENT)
    axes.set_xlabel(_label(study.objectives[0].measure))
    axes.set_ylabel(_label(study.objectives[1].measure))
    axes.set_title("What a softer ride costs")
    axes.grid(visible=True, alpha=0.25)


def pitch_against_ratio(axes: Axes, ratio: Array, pitch: Mapping[str, Array], load: str) -> None:
    """What the ratio of rear to front ride frequency does to pitch, front setup by front setup.

    Args:
        axes: to draw into.
        ratio: frequency ratio of each front setup, (n,).
        pitch: rms pitch angle per condition, each (n,), rad.
        load: what the load is called to which both belong.
    """
    markers = "osD^v"
    shades = np.linspace(0.0, 0.85, max(len(pitch), 2))
    from matplotlib import colormaps

    for k, (name, values) in enumerate(pitch.items()):
        axes.plot(
            ratio,
            np.degrees(values),
            markers[k % len(markers)],
            ms=2.5,
            alpha=0.5,
            color=colormaps[_COLOURS](shades[k]),
            label=plain(name, 50),
        )
    axes.set_xlabel(f"rear over front ride frequency{f', {plain(load, 40)}' if load else ''}")
    axes.set_ylabel("rms pitch angle [deg]")
    axes.set_title("What the frequency ratio does to pitch")
    axes.legend(fontsize=8, markerscale=3, loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=2, frameon=False)
    axes.grid(visible=True, alpha=0.25)
    axes.set_ylim(bottom=0)


def front_figure(
    study: Study, front: Setups, present: Setups | None, ratio: Array | None, pitch: Mapping[str, Array], load: str
) -> Figure:
    """The picture that a run leaves: the trade-off and, for a vehicle with two axles, pitch against frequency ratio."""
    from matplotlib.figure import Figure

    both = ratio is not None and bool(pitch)
    figure = Figure(figsize=(12.5 if both else 7.0, 5.0), layout="constrained", dpi=110)
    figure.suptitle(plain(study.title), fontsize=11)
    panels = figure.subplots(1, 2 if both else 1, squeeze=False)[0]
    trade_off(panels[0], study, front, present)
    if both:
        assert ratio is not None
        pitch_against_ratio(panels[1], ratio, pitch, load)
    return figure


def save(figure: Figure, path: Path) -> None:
    """Write a figure as PNG or SVG by the path's ending, by way of a temporary name."""
    temporary = path.with_name(f".{path.name}.tmp")
    figure.savefig(temporary, format=path.suffix[1:])
    temporary.replace(path)
