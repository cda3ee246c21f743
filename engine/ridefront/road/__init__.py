"""Roads: spectra, obstacles, and what a tyre feels of them. Arrays in, arrays out; speed turns space into time.

To add a kind of road: a frozen dataclass with a name and `realisations`, its row in `KINDS`, and its keys in the
study's table of keys.
"""

from ridefront.road.iso8608 import CLASSES, Road
from ridefront.road.obstacle import Obstacle
from ridefront.road.shapes import SHAPES, Size

AnyRoad = Road | Obstacle
"""A road of any kind."""

KINDS: dict[str, type[AnyRoad]] = {"iso8608": Road, "obstacle": Obstacle}
"""The kinds of road, by the word that a study has for them."""


def kind_of(road: AnyRoad) -> str:
    """The word that a study has for a road's kind."""
    return next(kind for kind, of in KINDS.items() if type(road) is of)


__all__ = ["CLASSES", "KINDS", "SHAPES", "AnyRoad", "Obstacle", "Road", "Size", "kind_of"]
