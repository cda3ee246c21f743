"""Roads: spectra, obstacles, and what a tyre feels of them. Arrays in, arrays out; speed turns space into time.

To add a kind of road: a frozen dataclass with a name and `realisations`, its row in `KINDS`, and its keys in the
study's table of keys.
"""

from ridefront.road.iso8608 import CLASSES, Road, Spectral
from ridefront.road.measured import Profile, estimate
from ridefront.road.obstacle import Obstacle
from ridefront.road.shapes import SHAPES, Size

AnyRoad = Road | Obstacle | Profile
"""A road of any kind."""

KINDS: dict[str, type[AnyRoad]] = {"iso8608": Road, "obstacle": Obstacle, "measured": Profile}
"""The kinds of road, by the word that a study has for them."""


def kind_of(road: AnyRoad) -> str:
    """The word that a study has for a road's kind."""
    return next(kind for kind, of in KINDS.items() if type(road) is of)


def has_spectrum(road: AnyRoad) -> bool:
    """Whether rides in the frequency domain can take a road; any other is driven in the time domain always."""
    return isinstance(road, Road) or (isinstance(road, Profile) and road.estimated)


def spectral(road: AnyRoad) -> Spectral | None:
    """A road as the frequency domain takes it; None where it is driven in the time domain always."""
    if isinstance(road, Profile):
        return estimate(road) if road.estimated else None
    return road if isinstance(road, Road) else None


__all__ = [
    "CLASSES", "KINDS", "SHAPES", "AnyRoad", "Obstacle", "Profile", "Road", "Size", "Spectral", "has_spectrum",
    "kind_of", "spectral",
]  # fmt: skip
