"""A run's result as the cards of the report page see it: what several of them need is worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import pandas as pd

from ridefront.evaluate import Domain, Evaluator
from ridefront.report.after_run import setups
from ridefront.report.choices import Choices, choose
from ridefront.report.chosen import letters
from ridefront.report.compromises import Setups
from ridefront.report.looked_at import LookedAt, look_at
from ridefront.results.names import RECORD
from ridefront.results.read import read_front_pieces, read_progress
from ridefront.results.record import Record, read_record, recorded_step
from ridefront.results.stored import Result, read_result
from ridefront.study.model import Study


@dataclass(frozen=True)
class Picked:
    """A setup that the page looks at closely.

    Attributes:
        row: of the front; design: its number.
        letter: A, B ...; why: it was picked, in words.
    """

    row: int
    design: int
    letter: str
    why: str


class Subject:
    """A result.

    Args:
        path: a run's folder, or the front in it.

    Raises:
        ResultError, StudyError: as `read_result`.
    """

    def __init__(self, path: Path) -> None:
        self.result: Result = read_result(path)
        self.study: Study = self.result.study
        self.folder: Path = self.result.folder

    @cached_property
    def record(self) -> Record:
        """run.json."""
        return read_record(self.folder / RECORD)

    @property
    def domain(self) -> Domain:
        """Of the front."""
        return "frequency-domain" if self.result.response == "frequency-domain" else "time-domain"

    @cached_property
    def front(self) -> Setups:
        """The front; may be empty."""
        return setups(self.study, self.result.front)

    @cached_property
    def present(self) -> Setups | None:
        """The present setup; None where there is none, or it has no figures."""
        return self._choices.present

    @cached_property
    def picked(self) -> tuple[Picked, ...]:
        """Setups picked from the front as ``ridefront choose`` picks them; none where the front is empty."""
        found = self._choices.found
        names = letters(len(found))
        return tuple(
            Picked(one.row, one.design, name, "; ".join(one.reasons)) for one, name in zip(found, names, strict=True)
        )

    @cached_property
    def pieces(self) -> pd.DataFrame:
        """The front's pieces, long, in SI."""
        return read_front_pieces(self.folder)

    @cached_property
    def looked_at(self) -> LookedAt:
        """The present setup and the picks with all their pieces.

        Raises:
            NoFront: there is none.
        """
        return look_at(self)

    @cached_property
    def progress(self) -> pd.DataFrame:
        """How the search went."""
        return read_progress(self.folder)

    @cached_property
    def evaluator(self) -> Evaluator:
        """To work out more of a few setups; see `Result.same_engine` for whether the run's figures are to be met."""
        return Evaluator(self.study, step=recorded_step(self.record))

    @cached_property
    def _choices(self) -> Choices:
        return choose(self.result)

    def row(self, design: int) -> Any:
        """The front's row of a design."""
        frame = self.result.front
        return frame[frame["design"] == design].iloc[0]
