"""Who works a block out: chunks of designs, spread over workers.

Bits do not depend on the number of workers or on what they are, because a design's figures do not depend on the designs
beside it. What goes wrong over one design is that design's alone: a chunk over which a worker raises or dies is halved
until it is one design, which then has a status and no figures.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import fields, replace
from functools import partial
from itertools import pairwise
from types import TracebackType
from typing import Any, Self

import numpy as np

from ridefront.errors import ResultError
from ridefront.evaluate import (
    STATUS,
    Domain,
    Evaluation,
    Evaluator,
    LeftOut,
    Pieces,
    joined,
    joined_left_out,
    joined_pieces,
)
from ridefront.evaluate.stepping import StepChoice
from ridefront.run.crew import Crew, Job, Threads
from ridefront.run.tasks import Answer, Done, Lost, Raised, Refused, Work
from ridefront.study.model import Array, Measure, Study

LANE = 16
"""Chunks are whole multiples of this, so that no worker pads more than the last of them."""

PART = 4 * LANE
"""Designs a worker is handed at a time where they are driven: that takes long, and an interrupt is to be answered
soon.
"""

TRIES = 2
"""How often a design is tried alone before it counts as what kills workers."""


def chunks(n: int, workers: int) -> list[slice]:
    """Cuts n designs into at most `workers` runs of nearly equal length.

    Returns:
        Slices that follow each other; each but the last is a multiple of `LANE` long, none is empty.
    """
    groups = -(-n // LANE)
    count = min(workers, groups)
    cuts = [min(LANE * (groups * i // count), n) for i in range(count)] + [n] if count else [0]
    return [slice(low, high) for low, high in pairwise(cuts)]


class Workers:
    """Evaluates designs of one study. Use it as a context manager.

    Args:
        study: as read and checked.
        crew: who works; or a number of threads.
        held_out: drive on realisations of roads that no search sees.
        ensemble: which set of as many realisations of each road as the study says.
        step: of the time domain, where it is known.

    Attributes:
        faults: how many designs have no figures because of what, in words.
    """

    def __init__(
        self,
        study: Study,
        crew: Crew | int,
        *,
        held_out: bool = False,
        ensemble: int = 0,
        step: StepChoice | None = None,
    ) -> None:
        self._lent = False
        self.crew = Threads(crew) if isinstance(crew, int) else crew
        self.faults: Counter[str] = Counter()
        self._study = study
        self._make = partial(Evaluator, study, held_out=held_out, ensemble=ensemble)
        self._evaluator = self._make(step=step)
        self._step = step
        self._jobs: dict[bool, Job] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if not self._lent:
            self.crew.close()

    def beside(
        self, study: Study, *, held_out: bool = False, ensemble: int = 0, step: StepChoice | None = None
    ) -> Workers:
        """The same crew at work on another study, or on other roads; leaving its context leaves the crew at work."""
        other = Workers(study, self.crew, held_out=held_out, ensemble=ensemble, step=step or self._step)
        other._lent, other.faults = True, self.faults
        return other

    @property
    def count(self) -> int:
        """How many workers there are."""
        return self.crew.count

    @property
    def step(self) -> StepChoice:
        """The step of the time domain; it is looked for, in this process, if nothing has been driven yet."""
        self._step = self._evaluator.step
        return self._step

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        """Objectives and constraints of designs X (n, d), in the units of the study's variables.

        Args:
            X: the designs.
            domain: of rides on random roads; the one of the study's front if None.
        """
        return joined(self._map("evaluate", X, domain))

    def pieces(self, X: Array, domain: Domain | None = None) -> Pieces:
        """Every criterion that applies, of designs X (n, d), at every place in every condition; `domain` likewise."""
        return joined_pieces(self._map("pieces", X, domain))

    def evaluate_and_pieces(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, Pieces]:
        """Both, every ride worked out once."""
        found = self._map("evaluate_and_pieces", X, domain)
        return joined([each for each, _ in found]), joined_pieces([each for _, each in found])

    def evaluate_with_parts(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, Array]:
        """Objectives, constraints and the parts P (n, parts) that they are made of, every ride worked out once."""
        found = self._map("evaluate_with_parts", X, domain)
        return joined([each for each, _ in found]), np.concatenate([P for _, P in found])

    def evaluate_left_out(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, LeftOut]:
        """Objectives and constraints, and what they are without each realisation of a road that was driven."""
        found = self._map("evaluate_left_out", X, domain)
        return joined([each for each, _ in found]), joined_left_out([each for _, each in found])

    def spread(self, X: Array, measures: Sequence[Measure], domain: Domain) -> Array:
        """Between which figures most vehicles built within tolerances lie, (n, measures, 2); see `Evaluator.spread`."""
        return np.concatenate(self._map("spread", X, domain, measures=tuple(measures)))

    def forget(self) -> None:
        """Let go of the roads in time of this process, which may be large."""
        self._evaluator.forget()

    def _map(self, method: str, X: Array, domain: Domain | None, **options: Any) -> list[Any]:
        """What a method of the evaluator returns for designs, chunk by chunk.

        Raises:
            ResultError: workers are lost over every one of several designs.
            Exception: what the method raises for every one of several designs; what no design is at fault for.
        """
        work = Work(method, X, {**options, "domain": domain})
        job = self._job(domain)
        found: list[Any] = []
        cut = chunks(len(X), self.count) or [slice(0, 0)]
        for part, answer in zip(cut, self.crew.answers(job, [_of(work, part) for part in cut]), strict=True):
            found += self._settled(job, work, part, answer)
        failed = [each for each in found if isinstance(each, (Raised, Lost))]
        if not failed:
            return found
        if len(failed) == len(found) and len(X) > 1:
            _give_up(failed)
        return self._filled(job, work, found)

    def _job(self, domain: Domain | None) -> Job:
        """The study as workers take it; where they drive, with the step, which is looked for once."""
        drives = bool(self._study.driven) or (domain or self._evaluator.domain) == "time-domain"
        known = self._step
        if self.crew.elsewhere and drives:
            known = self.step
        if (known is not None) not in self._jobs:
            self._jobs[known is not None] = Job(partial(self._make, step=known), self._evaluator)
        return self._jobs[known is not None]

    def _settled(self, job: Job, work: Work, part: slice, answer: Answer) -> list[Any]:
        """Records of a chunk: what a method returned, or `Raised` or `Lost` for a single design."""
        if isinstance(answer, Done):
            return [answer.found]
        if isinstance(answer, Refused):
            _refuse(answer.error)
        if isinstance(answer, Lost):
            return self._alone(job, work, part)
        assert isinstance(answer, Raised)
        if part.stop - part.start <= 1:
            return [answer]
        both = _halves(part)
        answers = self.crew.answers(job, [_of(work, half) for half in both])
        return [each for half, one in zip(both, answers, strict=True) for each in self._settled(job, work, half, one)]

    def _alone(self, job: Job, work: Work, part: slice) -> list[Any]:
        """Records of a chunk over which a worker was lost, or beside another over which it was: nothing else is being
        worked on meanwhile.
        """
        single = part.stop - part.start <= 1
        for _ in range(TRIES if single else 1):
            (answer,) = self.crew.answers(job, [_of(work, part)])
            if not isinstance(answer, Lost):
                return self._settled(job, work, part, answer)
        if single:
            return [Lost()]
        return [each for half in _halves(part) for each in self._alone(job, work, half)]

    def _filled(self, job: Job, work: Work, found: list[Any]) -> list[Any]:
        """The records with those of failed designs in the form of the others."""
        like = next((each for each in found if not isinstance(each, (Raised, Lost))), None)
        if like is None:
            like = getattr(job.evaluator, work.method)(work.X[:0], **work.options)
        for k, each in enumerate(found):
            if isinstance(each, (Raised, Lost)):
                self.faults[_words(each)] += 1
                found[k] = _failed_like(like, STATUS.index("raised" if isinstance(each, Raised) else "worker-lost"))
        return found


def _of(work: Work, part: slice) -> Work:
    return replace(work, X=work.X[part])


def _halves(part: slice) -> tuple[slice, slice]:
    middle = (part.start + part.stop) // 2
    return slice(part.start, middle), slice(middle, part.stop)


def _words(failure: Raised | Lost) -> str:
    if isinstance(failure, Lost):
        return "worker-lost"
    return f"raised: {type(failure.error).__name__}: {failure.error}".splitlines()[0]


def _give_up(failed: Sequence[Raised | Lost]) -> None:
    """Raise what keeps every design of a block from having figures: it is not the designs."""
    for each in failed:
        if isinstance(each, Raised):
            raise each.error
    raise ResultError(
        f"workers were lost, killed or out of memory, over each of {len(failed)} designs",
        "Fewer workers, shorter roads or fewer realisations take less memory; the same call goes on from here.",
    )


def _refuse(error: Exception) -> None:
    """Raise what no design is at fault for; the only files that working designs out writes are compiled kernels."""
    if isinstance(error, OSError):
        where = error.filename or "compiled kernels"
        hint = "NUMBA_CACHE_DIR may name a folder with room for compiled kernels."
        raise ResultError(f"{where}: cannot be written or read: {error.strerror or error}", hint) from error
    raise error


def _failed_like(like: Any, status: int) -> Any:
    """The record of one failed design in the form of another record: NaN for figures, its status, the same names."""
    if isinstance(like, tuple):
        return tuple(_failed_like(each, status) for each in like)
    if isinstance(like, np.ndarray):
        return np.full((1, *like.shape[1:]), np.nan)
    arrays = {field.name: value for field in fields(like) if isinstance(value := getattr(like, field.name), np.ndarray)}
    return replace(
        like,
        **{
            name: np.array([status], dtype=value.dtype) if name == "status" else _failed_like(value, status)
            for name, value in arrays.items()
        },
    )
