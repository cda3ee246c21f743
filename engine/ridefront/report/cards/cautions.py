"""What is to be borne in mind: what the study leaves out, what is not modelled, what figures do not show."""

from __future__ import annotations

from ridefront.report.card import Card, asks
from ridefront.report.domains import domain_notes
from ridefront.report.doubts import caveats, doubts
from ridefront.report.optimality import optimality_notes
from ridefront.report.scattered import spread_notes
from ridefront.report.standing import ANOTHER_PROGRAM, unfinished
from ridefront.report.subject import Subject

_QUESTION = "How far are these figures to be believed?"


@asks(_QUESTION)
def cautions(subject: Subject) -> Card:
    """How far are these figures to be believed?"""
    study, front = subject.study, subject.result.front
    about: tuple[str, ...] = ()
    if len(front):
        about = (*optimality_notes(front), *domain_notes(study, subject.folder, front), *spread_notes(study, front))
    run = [line for line in (unfinished(subject.record),) if line]
    run += [] if subject.result.same_engine else [ANOTHER_PROGRAM]
    return Card(
        "cautions",
        _QUESTION,
        "Suspension work can hurt people. What stands here is computed: a starting point, not a release.",
        notes=(*run, *study.notes, *doubts(study), *about, *caveats(study)),
    )
