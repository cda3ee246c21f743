"""A card of the report page: a question of the trade and what answers it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from ridefront.report.figure import Figure
from ridefront.report.words import Table


class DoesNotApply(Exception):  # noqa: N818 - not an error: a card with nothing to say
    """Raised by a card that has nothing to say about a result; its text says why, in a sentence for people."""


NO_FRONT = "no setup meets all constraints, so there is no front to look at"


class NoFront(DoesNotApply):
    """Raised by a card that looks at a front where there is none."""

    def __init__(self) -> None:
        super().__init__(NO_FRONT)


class NotAsked(DoesNotApply):
    """Raised by a card whose question does not arise, so that not even its absence is worth a word."""


@dataclass(frozen=True)
class Card:
    """A card.

    Attributes:
        name: for links: letters, digits and hyphens.
        question: its title, a question of the trade.
        lead: a sentence or two on how to read it.
        figures, tables: what answers it.
        notes: sentences below.
    """

    name: str
    question: str
    lead: str
    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()


_Dealer = TypeVar("_Dealer", bound=Callable[..., object])
_QUESTIONS: dict[object, str] = {}


def asks(question: str) -> Callable[[_Dealer], _Dealer]:
    """Says which question a function that makes a card answers, for where it has no card to show."""

    def known(dealer: _Dealer) -> _Dealer:
        _QUESTIONS[dealer] = question
        return dealer

    return known


def question_of(dealer: object) -> str | None:
    """The question that a function answers; None where it does not say."""
    return _QUESTIONS.get(dealer)
