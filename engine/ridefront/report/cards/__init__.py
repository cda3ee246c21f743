"""The cards of the report page, in their order; each is a module here with one function of a `Subject`.

A card that has nothing to say about a result says why, and one that fails takes nothing with it but itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from ridefront.errors import CallError
from ridefront.report.card import NO_FRONT, Card, DoesNotApply, NoFront, NotAsked, question_of
from ridefront.report.cards.cautions import cautions
from ridefront.report.cards.compared import compared
from ridefront.report.cards.dampers import what_dampers_do
from ridefront.report.cards.domains import domains
from ridefront.report.cards.histories import over_an_obstacle
from ridefront.report.cards.holds import holds
from ridefront.report.cards.limits import which_limits
from ridefront.report.cards.road_by_road import road_by_road
from ridefront.report.cards.scatter import scatter
from ridefront.report.cards.search import search
from ridefront.report.cards.spectra import where_it_shakes
from ridefront.report.cards.trade_off import trade_off
from ridefront.report.cards.travel_budget import travel_budget
from ridefront.report.subject import Subject

Dealer = Callable[[Subject], Card]

CARDS: tuple[Dealer, ...] = (
    which_limits,
    trade_off,
    travel_budget,
    road_by_road,
    over_an_obstacle,
    where_it_shakes,
    what_dampers_do,
    holds,
    domains,
    scatter,
    search,
    cautions,
)
"""Functions that make them."""


@dataclass(frozen=True)
class Dealt:
    """What became of a card.

    Attributes:
        name: for links; title: a question, or what the card is called.
        card: itself; None where it does not apply or has failed.
        reason: why there is none, in words.
        failed: whether that is a fault.
        wants_front: whether there is none because the result has no front.
    """

    name: str
    title: str
    card: Card | None
    reason: str = ""
    failed: bool = False
    wants_front: bool = False


def dealt(subject: Subject, dealers: Sequence[Dealer] = CARDS) -> tuple[Dealt, ...]:
    """All cards of a result; those that would look at a front where there is none are named together."""
    found = [
        one for dealer in dealers for one in _deal(dealer.__name__, question_of(dealer), partial(_one, dealer, subject))
    ]
    without = [one for one in found if one.wants_front]
    if len(without) < 2:
        return tuple(found)
    asked = ", ".join(f"“{one.title}”" for one in without)
    reason = f"{NO_FRONT}: {asked}"
    together = replace(without[0], name="not-answered", title="What is not answered here", reason=reason)
    return (*(one for one in found if not one.wants_front), together)


def side_by_side(subjects: Sequence[Subject]) -> tuple[Dealt, ...]:
    """Cards that put results side by side; none for a single one.

    Raises:
        CallError: the results have too little in common.
    """
    return _deal("side_by_side", None, partial(compared, subjects), CallError) if len(subjects) > 1 else ()


def _one(dealer: Dealer, subject: Subject) -> tuple[Card, ...]:
    return (dealer(subject),)


def _deal(
    called: str, question: str | None, make: Callable[[], Sequence[Card]], *passed_on: type[Exception]
) -> tuple[Dealt, ...]:
    """What becomes of cards that are made together; errors that are passed on end it all."""
    name, title = called.replace("_", "-"), question or called.replace("_", " ").capitalize()
    try:
        cards = make()
    except NotAsked:
        return ()
    except DoesNotApply as reason:
        return (Dealt(name, title, None, str(reason), wants_front=isinstance(reason, NoFront)),)
    except passed_on:
        raise
    except Exception as error:  # a fault of one card is shown in its place, and the others stand
        return (Dealt(name, title, None, f"{type(error).__name__}: {error}", failed=True),)
    return tuple(Dealt(card.name, card.question, card) for card in cards)
