"""How a series looks by what it stands for: colours for light and dark paper, dashes, markers; the same everywhere.

Colours are M. Okabe's and K. Ito's, told apart by colour-blind people (from memory; lighter ones for dark paper), and
dashes and markers tell series apart in grey. Figures as colour run from dark to light (the middle of matplotlib's
cividis), even in lightness.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ridefront.report.figure import Figure, Role, Series

LIGHT = {
    "paper": "#ffffff",
    "ink": "#22303c",
    "grey": "#5b6770",
    "grid": "#e3e7ea",
    "present": "#b3261e",
    "one": "#0072b2",
    "two": "#c77700",
    "three": "#00795a",
    "four": "#b0528c",
    "five": "#3f95c8",
    "six": "#5d4a8f",
    "road": "#8d99a2",
}
DARK = {
    "paper": "#1a2127",
    "ink": "#dfe6ea",
    "grey": "#a3b0b8",
    "grid": "#323c44",
    "present": "#ff8a7a",
    "one": "#4aa5e8",
    "two": "#f0b445",
    "three": "#35c79c",
    "four": "#e79cc6",
    "five": "#a6d9f7",
    "six": "#b9a6ee",
    "road": "#74818a",
}
"""Colours by what they are called; the same names for both papers."""

SCALE_LIGHT = ("#00224e", "#2a3f6d", "#575d6d", "#7d7c78", "#a59c74", "#d2c060", "#ead24f")
SCALE_DARK = ("#3d5c95", "#5f7299", "#7d8288", "#9a967c", "#b9ab70", "#dac75f", "#fee838")
"""From small figures to large ones."""

SHINE = 0.35
"""How opaque points are that let show what lies below them; `SMALL` is their size, of the usual one."""

SMALL = 0.6
_SEVERAL = ("one", "two", "three", "four", "five", "six")
_DASHES = ((), (9.0, 3.0), (5.0, 2.0), (12.0, 3.0, 2.0, 3.0), (14.0, 4.0), (6.0, 2.0, 2.0, 2.0))
_MARKERS = ("circle", "square", "diamond", "triangle-up", "triangle-down", "pentagon")
_DOTTED = (2.0, 2.5)
_LETTER = re.compile(r"([A-Z])\b")


@dataclass(frozen=True)
class Look:
    """How a series is drawn.

    Attributes:
        colour: its name in `LIGHT` and `DARK`.
        dash: lengths of dashes and gaps in pixels; empty for a whole line.
        width: of lines, in pixels.
        marker: as plotly calls it; size: of it, in pixels; open: whether only its edge is drawn.
    """

    colour: str
    dash: tuple[float, ...] = ()
    width: float = 1.8
    marker: str = "circle"
    size: float = 6.0
    open: bool = False


_FIXED: dict[Role, Look] = {
    "front": Look("ink", size=5.0),
    "present": Look("present", width=2.4, marker="x", size=11.0),
    "limit": Look("grey", (7.0, 3.0), width=1.3, marker="line-ew"),
    "road": Look("road", width=1.2),
    "weighting": Look("grey", (3.0, 3.0), width=2.2),
}


def places(figure: Figure) -> dict[tuple[Role, str], int]:
    """The place of each pick and of each other series among its like: picks by the letter that their names begin with,
    so that they look the same in every figure, series of the role "other" by when the figure first shows them.
    """
    found: dict[tuple[Role, str], int] = {}
    for panel in figure.panels:
        for series in panel.series:
            if series.role not in ("pick", "other") or (series.role, series.name) in found:
                continue
            letter = _LETTER.match(series.name) if series.role == "pick" else None
            before = sum(role == series.role for role, _ in found)
            found[series.role, series.name] = ord(letter[1]) - ord("A") if letter else before
    return found


def look(series: Series, place: int) -> Look:
    """How a series is drawn.

    Args:
        series: the series.
        place: among its like, from `places`; not looked at for other roles than "pick" and "other".
    """
    if series.labels and series.role == "pick":
        return Look("ink", width=1.6, size=14.0, open=True)
    if series.role in ("pick", "other"):
        turn, k = divmod(place, len(_SEVERAL))
        shape = (k + turn) % len(_MARKERS)  # when colours come round again, shapes do not
        size = 9.0 if series.role == "pick" else 6.0
        found = Look(_SEVERAL[k], _DASHES[shape], 1.9, _MARKERS[shape], size)
    else:
        found = _FIXED[series.role]
    if series.dashed:
        return Look(found.colour, _DOTTED, max(found.width - 0.3, 1.0), found.marker, found.size, open=True)
    return found
