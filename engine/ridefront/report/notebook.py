"""Pictures for a notebook: frames in, drawn into axes that are given or made, labelled with units from ``attrs``.

Frames come from `read_front`, `read_evaluations` and `read_front_pieces`, whole or filtered; where an analyst has added
a column of her own, the label has its name and no unit.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ridefront.errors import CallError
from ridefront.report.pictures import plain
from ridefront.report.roles import LIGHT
from ridefront.report.words import measure, quantity, unit
from ridefront.results.read import read_front, read_front_pieces
from ridefront.units import factor

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from matplotlib.axes import Axes

_SEVERAL = ("ink", "one", "two", "three", "four", "five", "six")
_MARKERS = "osD^vpX"
_OBJECTIVE = "; objective, "  # in the description of a column


def trade_off(
    front: pd.DataFrame | str | Path,
    x: str | None = None,
    y: str | None = None,
    colour: str | None = None,
    axes: Axes | None = None,
    **how: Any,
) -> Axes:
    """Draws designs: one column against another, a third one as colour.

    Args:
        front: a frame, a row a design; or the path of a run's folder or front.
        x, y: columns; the first two objectives unless given.
        colour: a column; the third objective where neither of the three is given.
        axes: to draw into; new ones unless given.
        how: for `Axes.scatter`, such as ``label`` or ``marker``.

    Returns:
        The axes.

    Raises:
        CallError: a column that the frame does not have or that has no numbers, or none given and no two objectives.
        ResultError: the path has no front.

    >>> front = ridefront.read_front(folder)
    >>> axes = ridefront.trade_off(front)
    >>> axes.get_xlabel(), axes.get_ylabel()
    ('comfort [m/s²]', 'dynamic load coefficient')
    >>> soft = front[front["front.spring_rate"] < 25]
    >>> axes = ridefront.trade_off(soft, x="front.spring_rate", y="bump_reserve", axes=new_axes(), label="soft")
    >>> axes.get_xlabel(), axes.get_ylabel()
    ('front spring rate [N/mm]', 'bump reserve [mm]')
    """
    frame = _frame(front)
    if x is None and y is None and colour is None:
        found = _objectives(frame)
        x, y, colour = found[0], found[1], found[2] if len(found) > 2 else None
    if x is None or y is None:
        raise CallError(
            f"trade_off: {'x' if x is None else 'y'} is missing; allowed: x and y, or neither and no colour"
        )
    axes = _axes() if axes is None else axes
    shades = None if colour is None else _numbers(frame, colour)
    style = {"s": 10, "lw": 0} | ({"color": LIGHT["ink"]} if shades is None else {"c": shades, "cmap": "cividis"}) | how
    dots = axes.scatter(_numbers(frame, x), _numbers(frame, y), **style)
    if colour is not None:
        axes.figure.colorbar(dots, ax=axes).set_label(_label(frame, colour))
    axes.set_xlabel(_label(frame, x))
    axes.set_ylabel(_label(frame, y))
    axes.grid(visible=True, color=LIGHT["grid"])
    axes.set_axisbelow(True)
    return axes


def road_by_road(
    pieces: pd.DataFrame | str | Path,
    criterion: str,
    designs: Sequence[int] | None = None,
    axes: Axes | None = None,
    response: str | None = None,
) -> Axes:
    """Draws what each road does: a criterion in every condition, at its worst place, a mark a design.

    Where neither way is better, the largest figure counts as the worst.

    Args:
        pieces: a frame, as `read_front_pieces` gives it; or the path of a run's folder or of such a file.
        criterion: its name; with a dot and a place, at that place.
        designs: their numbers, up to seven; the range and the median of all of the frame unless given.
        axes: to draw into; new ones unless given.
        response: frequency-domain or time-domain, for conditions of which the pieces have both.

    Returns:
        The axes.

    Raises:
        CallError: a criterion or design that the pieces do not have, too many designs, or no response where there are
            both.
        ResultError: the path has no pieces.

    >>> pieces = ridefront.read_front_pieces(folder)
    >>> axes = ridefront.road_by_road(pieces, "comfort", response="frequency-domain")
    >>> axes.get_ylabel()
    'comfort [m/s²]'
    >>> soft, hard = pieces["design"].iloc[0], pieces["design"].iloc[-1]
    >>> axes = ridefront.road_by_road(pieces, "rattle_space", [soft, hard], new_axes(), "frequency-domain")
    >>> [label.get_text() for label in axes.get_xticklabels()]
    ['lane @ 50 km/h', 'lane @ 80 km/h']
    """
    frame = pieces if not isinstance(pieces, str | Path) else read_front_pieces(pieces)
    table, shown = _by_condition(frame, criterion, response)
    axes = _axes() if axes is None else axes
    at = np.arange(len(table.columns))
    if designs is None:
        low, middle, high = (table.quantile(share).to_numpy() for share in (0.0, 0.5, 1.0))
        axes.vlines(at, low, high, color=LIGHT["road"], lw=4, label=f"{len(table):,} designs, least to most")
        axes.plot(at, middle, "_", ms=16, mew=2, color=LIGHT["ink"], label="median")
    else:
        _check(designs, table)
        for k, design in enumerate(designs):
            shift = 0.08 * (k - 0.5 * (len(designs) - 1))
            colour, marker = LIGHT[_SEVERAL[k]], _MARKERS[k]
            axes.plot(at + shift, table.loc[design].to_numpy(), marker, color=colour, label=f"design {design}")
    axes.set_xticks(at, [plain(str(name), 40) for name in table.columns], rotation=30, ha="right")
    axes.set_xlim(-0.5, len(at) - 0.5)
    axes.set_ylabel(measure(criterion) + (f" [{unit(shown)}]" if unit(shown) else ""))
    axes.grid(visible=True, color=LIGHT["grid"])
    axes.set_axisbelow(True)
    axes.legend(fontsize=8, loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=4, frameon=False)
    return axes


def _by_condition(frame: pd.DataFrame, criterion: str, response: str | None) -> tuple[pd.DataFrame, str]:
    """Figures of a criterion, a row a design, a column a condition, worst places; and the unit they are shown in."""
    from ridefront.criteria import CRITERIA  # the kernels behind it take their time to load

    name, dot, place = criterion.partition(".")
    rows = frame[(frame["criterion"] == name) & ((frame["place"] == place) if dot else True)]
    if not len(rows):
        known = ", ".join(sorted(set(frame["criterion"].astype(str))))
        raise CallError(f'the pieces have no "{criterion}"; allowed: {known}, and of these with .PLACE what has one')
    ways = rows["response"].astype(str)
    both = ways.groupby(rows["condition"].astype(str)).transform("nunique") > 1
    if both.any():
        known = " or ".join(f'"{one}"' for one in sorted(set(ways[both])))
        if response not in set(ways[both]):
            raise CallError(f"response: {response!r}, and the pieces have {name} in both ways; allowed: {known}")
        rows = rows[~both | (ways == response)]
    worst = "min" if CRITERIA[name].sense == "large" else "max"
    table = rows.groupby(["design", "condition"], observed=True, sort=False)["value"].agg(worst).unstack()
    shown = CRITERIA[name].display_unit
    return table / factor(shown), shown


def _check(designs: Sequence[int], table: pd.DataFrame) -> None:
    """Whether these designs can be drawn."""
    if not 0 < len(designs) <= len(_SEVERAL):
        raise CallError(f"{len(designs)} designs; allowed: 1 to {len(_SEVERAL)}, or None for all as a range")
    missing = [str(design) for design in designs if design not in table.index]
    if missing:
        raise CallError(f"the pieces have no design {', '.join(missing)}; allowed: numbers in their column design")


def _frame(front: pd.DataFrame | str | Path) -> pd.DataFrame:
    return read_front(front) if isinstance(front, str | Path) else front


def _axes() -> Axes:
    """New ones, which a notebook shows."""
    from matplotlib import pyplot

    return pyplot.subplots(figsize=(7.0, 5.0), layout="constrained")[1]


def _objectives(frame: pd.DataFrame) -> list[str]:
    """Columns that their descriptions call objectives, two at least."""
    described = frame.attrs.get("descriptions", {})
    found = [str(name) for name in frame.columns if _OBJECTIVE in described.get(name, "")]
    if len(found) < 2:
        raise CallError("trade_off: the frame's attrs name no two objectives; allowed: x and y, columns of the frame")
    return found


def _numbers(frame: pd.DataFrame, column: str) -> Any:
    """A column of numbers."""
    if column not in frame.columns:
        raise CallError(f'the frame has no column "{column}"; allowed: {", ".join(map(str, frame.columns))}')
    try:
        return frame[column].to_numpy(dtype=np.float64)
    except (TypeError, ValueError):
        raise CallError(f'column "{column}" holds words; allowed: a column of numbers') from None


def _label(frame: pd.DataFrame, column: str) -> str:
    """A column in words, with its unit."""
    shown = unit(str(frame.attrs.get("units", {}).get(column, "1")))
    described = str(frame.attrs.get("descriptions", {}).get(column, ""))
    words = quantity(column) if described.startswith("design variable") else measure(column)
    return plain(words + (f" [{shown}]" if shown and shown != "none" else ""))
