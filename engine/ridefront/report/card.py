"""A card of the report page: a question of the trade and what answers it."""

from __future__ import annotations

from dataclasses import dataclass

from ridefront.report.figure import Figure
from ridefront.report.words import Table


class DoesNotApply(Exception):  # noqa: N818 - not an error: a card with nothing to say
    """Raised by a card that has nothing to say about a result; its text says why, in a sentence for people."""


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
