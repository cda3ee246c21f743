"""Figures as plotly draws them on the page: plain dictionaries, colours by name (``@ink``), for light and dark paper.

Plotly takes tags in texts for markup; here they are escaped, so that every text comes out as it is.
"""

from __future__ import annotations

import math
import re
import textwrap
import unicodedata
from collections.abc import Mapping
from typing import Any

import numpy as np

from ridefront.report.extent import Range, bar_step, extents
from ridefront.report.figure import Axis, Figure, Panel, Role, Series
from ridefront.report.roles import SHINE, SMALL, Look, look, places
from ridefront.vehicle.laws import Array

Plain = dict[str, Any]

_FAINT = 0.18  # of points that are not selected
_FEW_DECADES = 2.5  # of a logarithmic axis: 2 and 5 are named besides 1 and 10


def plotted(figure: Figure) -> Plain:
    """A figure as plain values: what JSON can hold.

    Returns:
        Its words; under "panels" for each one "data" and "layout" as plotly takes them, and "series" with what the
        page needs besides, in the order of "data", titles for a "narrow" panel, and how many "lines" the names of its
        rows take; under "legend" each look once.
    """
    at = places(figure)
    panels = [_panel(panel, at, reach) for panel, reach in zip(figure.panels, extents(figure), strict=True)]
    legend: dict[str, Plain] = {}
    for panel in figure.panels:
        for series in panel.series:
            entry = _entry(series, look(series, at.get((series.role, series.name), 0)))
            legend.setdefault(series.name, entry)
    return {
        "name": figure.name,
        "title": figure.title,
        "source": figure.source,
        "columns": min(figure.columns, len(figure.panels)),
        "shared": figure.shared_x,
        "panels": panels,
        "legend": list(legend.values()),
    }


def rounded(values: Array) -> list[float | int | None]:
    """Figures to six significant digits; None for what is not finite."""
    return [_rounded(float(value)) for value in np.ravel(values)]


def _rounded(value: float) -> float | int | None:
    if not math.isfinite(value):
        return None
    short = float(f"{value:.6g}")
    return int(short) if short.is_integer() and abs(short) < 1e15 else short


def text(words: str, most: int = 90) -> str:
    """Words as plotly shows them as they are: on one line, not endless, tags escaped, each way of writing by itself."""
    short = _BREAKS.sub(" ", words).strip()
    short = short if len(short) <= most else f"{short[: most - 1]}…"
    if any(unicodedata.bidirectional(sign) in _BOTH_WAYS for sign in short):
        short = f"\u2068{short}\u2069"
    return short.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


_BOTH_WAYS = frozenset({"R", "AL", "AN", "RLE", "RLO", "LRE", "LRO", "PDF", "RLI", "LRI", "FSI", "PDI"})


_BREAKS = re.compile(r"[^\S\u00a0]+")
"""Where a line may end: not at spaces that hold words together."""


def _entry(series: Series, of: Look) -> Plain:
    """A series in the legend."""
    marks = series.kind in ("points", "bars")
    return {
        "name": series.name,
        "colour": of.colour if series.colour is None else "grey",
        "dash": list(of.dash),
        "width": of.width,
        "marker": ("square" if series.kind == "bars" else of.marker) if marks else "",
        "open": of.open or (series.dashed and marks),
    }


def _panel(panel: Panel, at: Mapping[tuple[Role, str], int], reach: tuple[Range, Range]) -> Plain:
    bars = [series for series in panel.series if series.kind == "bars"]
    coloured = [k for k, series in enumerate(panel.series) if series.colour is not None]
    data = []
    for k, series in enumerate(panel.series):
        of = look(series, at.get((series.role, series.name), 0))
        trace: Plain = {"name": text(series.name, 60), "hoverinfo": "none", "showlegend": False}
        if series.kind == "bars":
            trace |= _bars(series, of, bars.index(series), len(bars))
        elif series.kind == "level":
            trace |= _levels(series, of, reach[0], log=panel.x.log)
        elif series.kind == "points":
            trace |= _points(series, of, panel, bar=coloured[:1] == [k])
        else:
            trace |= {"type": "scatter", "mode": "lines", "x": rounded(series.x), "y": rounded(series.y)}
            trace["line"] = _line(of) | ({"shape": "hv"} if series.kind == "steps" else {})
        if series.error is not None:
            edge = "@ink" if series.kind == "bars" else f"@{of.colour}"
            trace["error_y"] = {"type": "data", "array": rounded(series.error), "color": edge, "thickness": 1}
        data.append(trace)
    return {
        "title": panel.title,
        "x": {"label": panel.x.label, "unit": panel.x.unit, "names": list(panel.x.names)},
        "y": {"label": panel.y.label, "unit": panel.y.unit, "names": list(panel.y.names)},
        "data": data,
        "layout": _layout(panel, reach),
        "narrow": {"x": _title(panel.x, 30), "y": _title(panel.y, 26)},
        "lines": sum(_row(name).count("<br>") + 1 for name in panel.y.names),
        "series": [_beside(series) for series in panel.series],
    }


def _beside(series: Series) -> Plain:
    """What the page needs of a series besides what plotly draws."""
    designs = None if series.designs is None else [int(design) for design in series.designs]
    found: Plain = {"name": series.name, "kind": series.kind, "designs": designs, "result": series.result}
    if series.hover:
        found["hover"] = list(series.hover)
    if series.colour_label:
        found["colour"] = series.colour_label
    return found


def _line(of: Look) -> Plain:
    dash = ",".join(f"{length:g}px" for length in of.dash) if of.dash else "solid"
    return {"color": f"@{of.colour}", "width": of.width, "dash": dash}


def _points(series: Series, of: Look, panel: Panel, *, bar: bool) -> Plain:
    """Points; `bar` says that they bring the scale of colours."""
    open_ = of.open or of.marker.startswith("line")
    marker: Plain = {"symbol": of.marker + ("-open" if open_ else ""), "size": of.size, "color": f"@{of.colour}"}
    if series.faint:
        marker |= {"opacity": SHINE, "size": SMALL * of.size}
    marker["line"] = {"width": of.width if open_ else 0, "color": f"@{of.colour}"}
    trace: Plain = {"type": "scatter", "mode": "markers", "x": rounded(series.x), "y": rounded(series.y)}
    if series.colour is not None:
        shown = [one.colour[np.isfinite(one.colour)] for one in panel.series if one.colour is not None]
        joined = np.concatenate(shown)
        low, high = (float(joined.min()), float(joined.max())) if len(joined) else (0.0, 1.0)
        marker |= {"color": rounded(series.colour), "colorscale": "@scale", "cmin": low, "cmax": high}
        marker |= {"showscale": bar, "colorbar": _colour_bar(series.colour_label)}
    trace["marker"] = marker
    if series.labels:
        trace |= {"mode": "markers+text", "text": [text(one, 30) for one in series.labels]}
        trace |= {
            "cliponaxis": False,
            "textposition": "top right",
            "textfont": {"color": f"@{of.colour}", "size": 13, "weight": 700},
        }
    if series.designs is not None:
        trace["selected"] = {"marker": {"opacity": 1.0}}
        trace["unselected"] = {
            "marker": {"opacity": 1.0 if of.open or series.role == "present" else _FAINT},
            "textfont": {"color": f"@{of.colour}"},
        }
    return trace


def _colour_bar(label: str) -> Plain:
    return {
        "title": {"text": wrapped(label, 30), "side": "right", "font": {"color": "@ink", "size": 12}},
        "tickfont": {"color": "@grey", "size": 11},
        "thickness": 11,
        "outlinewidth": 0,
        "xpad": 4,
    }


def _levels(series: Series, of: Look, reach: Range, *, log: bool) -> Plain:
    """Lines over the panel, and as far again on either side."""
    span = reach[1] - reach[0]
    ends = np.array([reach[0] - span, reach[1] + span])
    ends = 10.0**ends if log else ends
    x = np.concatenate([np.append(ends, np.nan) for _ in series.y])
    y = np.concatenate([np.array([level, level, np.nan]) for level in series.y])
    return {"type": "scatter", "mode": "lines", "x": rounded(x), "y": rounded(y), "line": _line(of)}


def _bars(series: Series, of: Look, k: int, count: int) -> Plain:
    """The k-th of so many series of bars."""
    step = 0.8 * bar_step(series.x)
    marker: Plain = {"color": f"@{of.colour}", "line": {"color": f"@{of.colour}", "width": 0.8}}
    if series.dashed:
        marker |= {"color": "@paper", "pattern": {"shape": "/", "fgcolor": f"@{of.colour}", "size": 6}}
    trace: Plain = {"type": "bar", "x": rounded(series.x), "y": rounded(series.y), "marker": marker}
    trace |= {"width": step / count, "offset": (k - 0.5 * count) * step / count}
    if series.designs is not None:
        trace |= {"selected": {"marker": {"opacity": 1.0}}, "unselected": {"marker": {"opacity": 2 * _FAINT}}}
    return trace


def _layout(panel: Panel, reach: tuple[Range, Range]) -> Plain:
    return {
        "xaxis": _axis(panel.x, reach[0], 44),
        "yaxis": _axis(panel.y, reach[1], 30),
        "margin": {"l": 62, "r": 14, "t": 12, "b": 56, "pad": 0},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": "system-ui, sans-serif", "size": 12, "color": "@ink"},
        "modebar": {"bgcolor": "rgba(0,0,0,0)", "color": "@grey", "activecolor": "@one"},
        "newselection": {"line": {"color": "@ink", "width": 1}},
        "hovermode": "closest",
        "barmode": "overlay",
        "showlegend": False,
    }


def wrapped(words: str, width: int, most: int = 3) -> str:
    """Words as `text`, in so many lines at most."""
    lines = textwrap.wrap(_BREAKS.sub(" ", words).strip(), width)
    lines = lines if len(lines) <= most else [*lines[: most - 1], f"{lines[most - 1][: width - 1]}…"]
    return "<br>".join(text(line) for line in lines)


def _title(axis: Axis, width: int) -> str:
    return wrapped(axis.label + (f" [{axis.unit}]" if axis.unit else ""), width)


def _row(name: str) -> str:
    """The name of a category beside its place."""
    return wrapped(name, 20, 4)


def _axis(axis: Axis, reach: Range, width: int) -> Plain:
    """An axis whose label takes so many letters a line."""
    found: Plain = {
        "title": {"text": _title(axis, width), "font": {"size": 12.5}, "standoff": 8},
        "type": "log" if axis.log else "linear",
        "range": [_rounded(end) for end in reach],
        "gridcolor": "@grid",
        "zerolinecolor": "@grid",
        "linecolor": "@grey",
        "tickcolor": "@grey",
        "ticks": "outside",
        "ticklen": 4,
        "automargin": True,
    }
    if axis.names:
        found |= {"tickmode": "array", "tickvals": list(range(len(axis.names)))}
        found["ticktext"] = [_row(name) for name in axis.names]
    elif axis.log:
        plain = reach[0] > -4.5 and reach[1] < 5.5
        found |= {"dtick": 1, "exponentformat": "none" if plain else "power"}
        if plain and reach[1] - reach[0] <= _FEW_DECADES:
            decades = range(math.floor(reach[0]) - 1, math.ceil(reach[1]) + 1)
            values = [float(f"{step}e{decade}") for decade in decades for step in (1, 2, 5)]
            found |= {"tickmode": "array", "tickvals": values, "ticktext": [f"{value:g}" for value in values]}
    return found
