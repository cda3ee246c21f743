"""Names and numbers as people read them."""

from __future__ import annotations

import math

from ridefront.study.model import Measure

_WHEELS = ("front_left", "front_right", "rear_left", "rear_right")
_UNITS = {"1": "", "m/s^2": "m/s²", "rad/s^2": "rad/s²", "kg*m^2": "kg·m²", "m^3": "m³"}


def unit(text: str) -> str:
    """A unit as printed: N*s/m as N·s/m, m/s^2 as m/s², nothing for plain numbers."""
    return _UNITS.get(text, text.replace("*", "·").replace("^2", "²").replace("^3", "³"))


def quantity(path: str) -> str:
    """A vehicle quantity in words: ``front.spring_rate`` as "front spring rate"."""
    return path.replace(".", " ").replace("_", " ")


def measure(label: str) -> str:
    """A measure's label in words: ``dynamic_load_coefficient.rear (mean)`` as "dynamic load coefficient, rear
    (mean)".
    """
    head, bracket, tail = label.partition(" (")
    criterion, dot, place = head.partition(".")
    place = place.replace("_", " ") if place in _WHEELS else place
    return criterion.replace("_", " ") + (f", {place}" if dot else "") + bracket + tail


def number(value: float | None, digits: int = 3) -> str:
    """A figure with so many significant digits, as a workshop or a sheet would print it; a dash for none."""
    if value is None or not math.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    rounded = float(f"{value:.{digits - 1}e}")
    places = digits - 1 - math.floor(math.log10(abs(rounded)))
    return f"{rounded:.{max(places, 0)}f}" if abs(rounded) < 1e6 else f"{rounded:.{digits - 1}e}"


def measured_in(item: Measure) -> str:
    """The unit of a measure as printed."""
    return unit(item.unit)
