"""Sheets of chosen setups, put together."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.errors import ResultError
from ridefront.evaluate import Domain, Evaluator
from ridefront.report.choices import Choices
from ridefront.report.chosen import letters
from ridefront.report.rounding import Rounded
from ridefront.report.sheet.axles import axles
from ridefront.report.sheet.dampers import dampers
from ridefront.report.sheet.head import closing, head
from ridefront.report.sheet.heights import heights
from ridefront.report.sheet.lines import Block
from ridefront.report.sheet.markdown import markdown
from ridefront.report.sheet.modes import coupled
from ridefront.report.sheet.moves import buys
from ridefront.report.sheet.rides import asked_for, rides
from ridefront.report.sheet.setup import Setup, work_out
from ridefront.report.sheet.speeds import speeds_of
from ridefront.report.sheet.springs import springs
from ridefront.report.sheet.stops import bars, stops
from ridefront.report.sheet.travel import budgets
from ridefront.report.sheet.trials import trials_of
from ridefront.results.names import RECORD
from ridefront.results.record import Record, read_record
from ridefront.vehicle.static import AtRest


@dataclass(frozen=True)
class Sheet:
    """A setup sheet.

    Attributes:
        letter: A, B ... as in the table of choices; design: its number.
        title: in a line; blocks: from the head to what to bear in mind.
        run: digest of the run that found it.
    """

    letter: str
    design: int
    title: str
    blocks: tuple[Block, ...]
    run: str

    @property
    def name(self) -> str:
        """What its file is called."""
        return f"setup_{self.letter}_{self.design}.md"

    @property
    def markdown(self) -> str:
        """All of it."""
        return markdown(self.title, self.blocks)


def sheets_of(choices: Choices, evaluator: Evaluator, parts: Sequence[Rounded] | None, made: str) -> tuple[Sheet, ...]:
    """A sheet for each chosen setup.

    Args:
        choices: from a front, at least one setup.
        evaluator: of its study.
        parts: the same setups in catalogue parts; None where the study has no catalogue.
        made: date and time, as printed.

    Raises:
        ResultError: this program does not work designs out as the run did.
    """
    result, study = choices.result, choices.result.study
    if not result.same_engine:
        raise ResultError(
            f"{result.folder}: a setup sheet is worked out anew, and the run is of another version of the program",
            "run it anew",
        )
    record = read_record(result.folder / RECORD)
    rows = [choice.row for choice in choices.found]
    X = choices.front.X[rows]
    if study.present is not None:
        X = np.concatenate([X, study.present[np.newaxis, :]])
    domain: Domain = "frequency-domain" if result.response == "frequency-domain" else "time-domain"
    worked = work_out(evaluator, X, domain)
    now = None if study.present is None or not _stands(worked.rests[-1].states) else len(X) - 1
    speeds, tried = speeds_of(worked), trials_of(evaluator, X[: len(rows)], domain)
    sheets = []
    for k, (choice, letter) in enumerate(zip(choices.found, letters(len(rows)), strict=True)):
        setup = Setup(worked, k, now, letter, choice.design, choice.reasons)
        figures = choices.front.values[choice.row]
        present = choices.present.values[0] if choices.present is not None else None
        asked = asked_for(study, figures, present, worked.domain)
        blocks = (
            head(setup, record, made),
            springs(setup, tried[k]),
            dampers(setup),
            stops(setup),
            bars(setup),
            heights(setup),
            axles(setup),
            coupled(setup),
            budgets(setup),
            rides(setup, asked, speeds),
            buys(choices, choice.row, tried[k], None if parts is None else parts[k]),
            closing(setup, record),
        )
        title = f"Setup {letter}, design {choice.design}: {study.title}"
        sheets.append(Sheet(letter, choice.design, title, blocks, _run(record)))
    return tuple(sheets)


def _stands(states: Sequence[AtRest]) -> bool:
    return all(bool(state.possible.all()) for state in states)


def _run(record: Record) -> str:
    """What tells a run from others: its figures and what was asked."""
    digests = record["digests"]
    return hashlib.sha256(f"{digests.get('figures')} {digests.get('plan')}".encode()).hexdigest()[:16]
