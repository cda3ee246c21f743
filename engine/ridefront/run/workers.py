"""Who works a block out: chunks of designs, spread over threads.

Bits do not depend on the number of workers, because a design's figures do not depend on the designs beside it. Threads
are enough: the kernels let go of the interpreter. They come from the standard library, since joblib's `Parallel` looks
for finished work every 10 ms only, which is 50 µs a design for a generation of 200.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from types import TracebackType
from typing import Self, TypeVar

from ridefront.evaluate import Domain, Evaluation, Evaluator, Pieces, joined, joined_pieces
from ridefront.evaluate.stepping import StepChoice
from ridefront.study.model import Array, Study

LANE = 16
"""Chunks are whole multiples of this, so that no worker pads more than the last of them."""

Found = TypeVar("Found")


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


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
    """Evaluates designs of one study in threads. Use it as a context manager.

    Args:
        study: as read and checked.
        count: number of threads; 1 works in the caller's own.
        held_out: drive on realisations of roads that no search sees.
        step: of the time domain, where it is known.
    """

    def __init__(self, study: Study, count: int, *, held_out: bool = False, step: StepChoice | None = None) -> None:
        self.count = count
        self._evaluator = Evaluator(study, held_out=held_out, step=step)
        self._threads = ThreadPoolExecutor(count, thread_name_prefix="worker") if count > 1 else None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._threads is not None:
            self._threads.shutdown(wait=True, cancel_futures=True)

    @property
    def step(self) -> StepChoice:
        """The step of the time domain; it is looked for if nothing has been driven yet."""
        return self._evaluator.step

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        """Objectives and constraints of designs X (n, d), in the units of the study's variables.

        Args:
            X: the designs.
            domain: of rides on random roads; the one of the study's front if None.
        """
        return joined(self._map(lambda part: self._evaluator.evaluate(part, domain=domain), X))

    def pieces(self, X: Array, domain: Domain | None = None) -> Pieces:
        """Every criterion that applies, of designs X (n, d), at every place in every condition; `domain` likewise."""
        return joined_pieces(self._map(lambda part: self._evaluator.pieces(part, domain=domain), X))

    def evaluate_and_pieces(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, Pieces]:
        """Both, every ride worked out once."""
        found = self._map(lambda part: self._evaluator.evaluate_and_pieces(part, domain=domain), X)
        return joined([each for each, _ in found]), joined_pieces([each for _, each in found])

    def forget(self) -> None:
        """Let go of the roads in time, which may be large."""
        self._evaluator.forget()

    def _map(self, work: Callable[[Array], Found], X: Array) -> Sequence[Found]:
        cut = chunks(len(X), self.count)
        if self._threads is None or len(cut) < 2:
            return [work(X)]
        return list(self._threads.map(work, [X[part] for part in cut]))
