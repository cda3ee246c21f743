"""Figures drawn by matplotlib: for SVG and PNG files, and into axes that the caller gives."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ridefront.report.extent import Range, bar_step, extents
from ridefront.report.figure import Axis, Figure, Panel, Role, Series
from ridefront.report.pictures import plain, save
from ridefront.report.roles import LIGHT, SCALE_LIGHT, SHINE, SMALL, Look, look, places
from ridefront.results.tables import file_errors
from ridefront.vehicle.laws import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure as Drawing
    from matplotlib.patheffects import AbstractPathEffect

_MARKERS = {
    "circle": "o", "square": "s", "diamond": "D", "triangle-up": "^", "triangle-down": "v", "pentagon": "p",
    "x": "X", "line-ew": "_",
}  # fmt: skip
_POINT = 72 / 96  # points of a pixel
_PANEL = (6.0, 4.0)  # inches
_IN_LEGEND = 24  # square points of a mark


def draw(figure: Figure) -> Drawing:
    """A figure with all its panels, one legend and its source."""
    from matplotlib.figure import Figure as Drawing

    columns = min(figure.columns, len(figure.panels))
    rows = ceil(len(figure.panels) / columns)
    height = _PANEL[1] if rows == 1 or not figure.shared_x else 0.65 * _PANEL[1]
    drawing = Drawing(figsize=(_PANEL[0] * columns, height * rows + 0.9), layout="constrained", dpi=110)
    grid = drawing.subplots(rows, columns, squeeze=False).ravel()
    for axes in grid[len(figure.panels) :]:
        axes.remove()
    known: dict[str, Any] = {}
    at = places(figure)
    for axes, panel, reach in zip(grid, figure.panels, extents(figure), strict=False):
        draw_panel(axes, panel, at, reach)
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            known.setdefault(label, handle)
    drawing.suptitle(plain(figure.title), fontsize=11, color=LIGHT["ink"])
    lines = "\n".join(textwrap.wrap(plain(figure.source, 400), 85 * columns))
    if len(known) > 1:
        legend = drawing.legend(
            list(known.values()), list(known), loc="outside lower center", ncols=min(len(known), 2 * columns),
            frameon=False, fontsize=8, handlelength=3.0, title=lines, title_fontsize=7,
        )  # fmt: skip
        for handle in legend.legend_handles:
            if handle is not None and handle.get_alpha() is not None:  # points that are faint in the panels
                handle.set(alpha=1, sizes=[_IN_LEGEND])
    elif lines:
        drawing.supxlabel(lines, fontsize=7, color=LIGHT["grey"])
    return drawing


def draw_panel(
    axes: Axes,
    panel: Panel,
    at: Mapping[tuple[Role, str], int] | None = None,
    reach: tuple[Range, Range] | None = None,
) -> None:
    """A panel, drawn into axes.

    Args:
        axes: to draw into.
        panel: the panel.
        at: the place of each pick and other series, from `places`; of this panel alone unless given.
        reach: of its axes, from `extents`; its own unless given.
    """
    alone = Figure("panel", panel.title, (panel,), "")
    at = places(alone) if at is None else at
    reach = extents(alone)[0] if reach is None else reach
    bars = [series for series in panel.series if series.kind == "bars"]
    coloured = _span(panel.series)
    first = next((series for series in panel.series if series.colour is not None), None)
    for k, series in enumerate(panel.series):
        of, above = look(series, at.get((series.role, series.name), 0)), 2 + 0.01 * k
        if series.kind == "bars":
            _bars(axes, series, of, bars.index(series), len(bars))
        elif series.kind == "level":
            for y in series.y:
                axes.axhline(y, **_line(of), zorder=above, label=plain(series.name, 60))
        elif series.kind == "points":
            _points(axes, series, of, coloured, bar=series is first, above=above)
        else:
            how: dict[str, Any] = {"drawstyle": "steps-post"} if series.kind == "steps" else {}
            axes.plot(series.x, series.y, **_line(of), **how, zorder=above, label=plain(series.name, 60))
        if series.error is not None and series.kind != "bars":
            _errors(axes, series.x, series, LIGHT[of.colour])
    _axis(axes, "x", panel.x, reach[0])
    _axis(axes, "y", panel.y, reach[1])
    axes.set_title(plain(panel.title, 70), fontsize=10, color=LIGHT["ink"])
    axes.grid(visible=True, color=LIGHT["grid"], lw=0.8)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)


def save_figures(figures: Sequence[Figure], folder: Path, ending: Literal["svg", "png"]) -> tuple[Path, ...]:
    """Write each figure into a file called after it.

    Raises:
        ResultError: the folder or a file cannot be written.
    """
    with file_errors(folder, "made"):
        folder.mkdir(parents=True, exist_ok=True)
    paths = tuple(folder / f"{figure.name}.{ending}" for figure in figures)
    for figure, path in zip(figures, paths, strict=True):
        drawing = draw(figure)
        with file_errors(path, "written"):
            save(drawing, path)
    return paths


def _line(of: Look) -> dict[str, Any]:
    dashes = (0, tuple(_POINT * length / of.width for length in of.dash)) if of.dash else "-"
    return {"color": LIGHT[of.colour], "lw": _POINT * of.width, "ls": dashes}


def _span(several: Sequence[Series]) -> tuple[float, float] | None:
    """Of all figures that a panel shows as colour."""
    values = [series.colour for series in several if series.colour is not None]
    finite = np.concatenate(values) if values else np.empty(0)
    finite = finite[np.isfinite(finite)]
    return (float(finite.min()), float(finite.max())) if len(finite) else None


def _scale() -> Colormap:
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("figures", SCALE_LIGHT)


def _points(axes: Axes, series: Series, of: Look, span: tuple[float, float] | None, *, bar: bool, above: float) -> None:
    """Points; `span` is that of figures as colour, `bar` says that they bring the scale of colours, `above` what they
    lie on top of.
    """
    colour = LIGHT[of.colour]
    size = (_POINT * of.size * (SMALL if series.faint else 1)) ** 2
    how: dict[str, Any] = {"marker": _MARKERS[of.marker], "s": size, "label": plain(series.name, 60), "zorder": above}
    if series.faint:
        how["alpha"] = SHINE
    if series.colour is not None and span is not None:
        dots = axes.scatter(series.x, series.y, c=series.colour, cmap=_scale(), vmin=span[0], vmax=span[1], lw=0, **how)
        if bar:
            scale = axes.figure.colorbar(dots, ax=axes)
            scale.set_label(textwrap.fill(plain(series.colour_label), 44))
            scale.outline.set_visible(False)
    elif of.open:
        if series.labels:
            how["path_effects"] = _halo(_POINT * of.width + 2)
        axes.scatter(series.x, series.y, facecolors="none", edgecolors=colour, lw=_POINT * of.width, **how)
    else:
        axes.scatter(series.x, series.y, color=colour, lw=0, **how)
    for x, y, text in zip(series.x, series.y, series.labels, strict=False):
        _label(axes, text, (float(x), float(y)), colour, above)


def _halo(width: float) -> list[AbstractPathEffect]:
    """What lifts ink off whatever lies below it."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=width, foreground=LIGHT["paper"])]


def _label(axes: Axes, text: str, at: tuple[float, float], colour: str, above: float) -> None:
    axes.annotate(
        plain(text, 30), at, textcoords="offset points", xytext=(7, 5), color=colour, weight="bold", zorder=above,
        path_effects=_halo(3),
    )  # fmt: skip


def _bars(axes: Axes, series: Series, of: Look, k: int, count: int) -> None:
    """The k-th of so many series of bars."""
    step = 0.8 * bar_step(series.x)
    middle = series.x + (k - 0.5 * (count - 1)) * step / count
    hatch = "////" if series.dashed else None
    face = LIGHT["paper"] if series.dashed else LIGHT[of.colour]
    axes.bar(
        middle, series.y, width=step / count, color=face, edgecolor=LIGHT[of.colour], hatch=hatch, lw=0.8,
        label=plain(series.name, 60),
    )  # fmt: skip
    if series.error is not None:
        _errors(axes, middle, series, LIGHT["ink"])


def _errors(axes: Axes, x: Array, series: Series, colour: str) -> None:
    axes.errorbar(x, series.y, series.error, fmt="none", ecolor=colour, elinewidth=1, capsize=3)


def _axis(axes: Axes, which: Literal["x", "y"], axis: Axis, reach: Range) -> None:
    label = textwrap.fill(plain(axis.label + (f" [{axis.unit}]" if axis.unit else ""), 120), 44 if which == "y" else 70)
    low, high = (10.0 ** reach[0], 10.0 ** reach[1]) if axis.log else reach
    of = getattr(axes, f"{which}axis")
    if axis.log:
        getattr(axes, f"set_{which}scale")("log")
    getattr(axes, f"set_{which}lim")(low, high)
    getattr(axes, f"set_{which}label")(label)
    if axis.names:
        names = [textwrap.fill(plain(name, 70), 18) for name in axis.names]
        of.set_ticks(range(len(names)), names, fontsize=8)
