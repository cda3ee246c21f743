"""Which limits stand in the way where no design meets all of them, and which designs miss them least."""

from __future__ import annotations

from ridefront.report.card import Card, NotAsked, asks
from ridefront.report.infeasible import nearest_table, why_none
from ridefront.report.subject import Subject
from ridefront.report.words import Table

_QUESTION = "Which limits stand in the way?"


@asks(_QUESTION)
def which_limits(subject: Subject) -> Card:
    """The card.

    Raises:
        NotAsked: some design meets all limits.
    """
    if len(subject.front):
        raise NotAsked("some design meets all limits")
    study, folder = subject.study, subject.folder
    nearest = nearest_table(study, folder)
    rows = tuple((line,) for line in why_none(study, folder))
    lead = (
        "No design of this search has figures, so no limit has been tried."
        if nearest is None
        else "No design of this search meets all limits of the study. What each limit lets through, which ones are at "
        "odds, and the designs that miss least: loosen a limit, or widen the range that ends where they lie."
    )
    tables = [Table("What kept designs out", ("of the designs worked out",), rows)] if rows else []
    tables += [nearest] if nearest is not None else []
    return Card("which-limits", _QUESTION, lead, tables=tuple(tables))
