"""Roads: their spectra, and what a tyre feels of them. Arrays in, arrays out; speed turns space into time.

To add a road: a frozen dataclass with `spectrum(n)`, `band` and `length`, and its kind in the study's table of keys.
"""

from ridefront.road.iso8608 import CLASSES, Road

__all__ = ["CLASSES", "Road"]
