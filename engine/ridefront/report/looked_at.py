"""The few setups that the page looks at closely, the present one first and then the picks, with all their pieces."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from ridefront.evaluate import AT_REST, Pieces
from ridefront.report.card import NoFront
from ridefront.results.batch import WHOLE_VEHICLE
from ridefront.road import has_spectrum
from ridefront.study.model import Study
from ridefront.vehicle.laws import Array

if TYPE_CHECKING:
    from ridefront.report.subject import Subject


@dataclass(frozen=True)
class Setup:
    """One of them.

    Attributes:
        name: present, or the pick's letter.
        role: as in a figure.
        design: its number.
        row: of the front; None for the present setup.
        x: its variables, (d,), in their units; values: of the study's measures, (k,), in theirs.
    """

    name: str
    role: Literal["present", "pick"]
    design: int
    row: int | None
    x: Array
    values: Array


@dataclass(frozen=True)
class LookedAt:
    """Setups and their pieces, all worked out as the front was.

    Attributes:
        setups: s of them, one at least.
        front: pieces of the n designs of the front; SI.
        pieces: the same pieces of the setups, a row a setup; NaN where a piece is not known.
    """

    setups: tuple[Setup, ...]
    front: Pieces
    pieces: Pieces

    @property
    def designs(self) -> NDArray[np.int64]:
        """Numbers of the setups, (s,)."""
        return np.array([setup.design for setup in self.setups], dtype=np.int64)

    def columns(self, criterion: str, condition: str | None = None, places: Sequence[str] | None = None) -> list[int]:
        """Columns of both tables of pieces that are of a criterion, in a condition, at places."""
        found = self.pieces
        return [
            p
            for p in range(len(found.criterion))
            if found.criterion[p] == criterion
            and (condition is None or found.condition[p] == condition)
            and (places is None or found.place[p] in places)
        ]


def look_at(subject: Subject) -> LookedAt:
    """The present setup, where it has figures, and the picks.

    Raises:
        NoFront: there is none.
    """
    if not len(subject.front):
        raise NoFront
    front, picked, now = subject.front, subject.picked, subject.present
    setups = [Setup(one.letter, "pick", one.design, one.row, front.X[one.row], front.values[one.row]) for one in picked]
    pieces = as_the_front(subject.study, _of_front(subject), subject.domain)
    looked = pieces.values[[one.row for one in picked]]
    if now is not None:
        setups.insert(0, Setup("present", "present", int(now.design[0]), None, now.X[0], now.values[0]))
        looked = np.concatenate([_aligned(subject.evaluator.pieces(now.X, domain=subject.domain), pieces), looked])
    nothing = np.full_like(looked, np.nan)
    return LookedAt(
        tuple(setups), pieces, replace(pieces, values=looked, se=nothing, status=np.zeros(len(looked), dtype=np.int8))
    )


def as_the_front(study: Study, found: Pieces, response: str) -> Pieces:
    """Pieces without those of the other domain.

    Args:
        study: whose pieces they are.
        found: in one domain or in both.
        response: the front's domain.
    """
    driven = {item.name for item in study.conditions if not has_spectrum(study.roads[item.road])}
    kept = [
        p
        for p, (condition, way) in enumerate(zip(found.condition, found.response, strict=True))
        if way in (response, AT_REST) or condition in driven
    ]

    def of(words: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(words[p] for p in kept)

    return Pieces(
        of(found.criterion),
        of(found.place),
        of(found.condition),
        of(found.unit),
        of(found.response),
        found.values[:, kept],
        found.se[:, kept],
        found.status,
    )


def _of_front(subject: Subject) -> Pieces:
    """The front's pieces as arrays: their file has those of each design together, the same for all."""
    frame, n = subject.pieces, len(subject.front)
    p = len(frame) // n
    head = frame.iloc[:p]

    def words(column: str) -> tuple[str, ...]:
        return tuple(str(word) for word in head[column])

    def figures(column: str) -> Array:
        return frame[column].to_numpy(dtype=np.float64).reshape(n, p)

    assert np.array_equal(frame["design"].to_numpy()[::p], subject.front.design), "pieces are in the front's order"
    place = tuple("" if name == WHOLE_VEHICLE else name for name in words("place"))
    status = np.zeros(n, dtype=np.int8)
    return Pieces(
        words("criterion"), place, words("condition"), words("unit"), words("response"), figures("value"),
        figures("se"), status,
    )  # fmt: skip


def _aligned(found: Pieces, like: Pieces) -> Array:
    """Values of pieces in the order of others, NaN for those that are not among them."""
    known = {name: p for p, name in enumerate(_names(found))}
    columns = [known.get(name) for name in _names(like)]
    none = np.full(len(found.values), np.nan)
    return np.stack([none if p is None else found.values[:, p] for p in columns], axis=1)


def _names(found: Pieces) -> Iterator[tuple[str, str, str, str]]:
    return zip(found.criterion, found.place, found.condition, found.response, strict=True)
