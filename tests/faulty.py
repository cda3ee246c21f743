"""Stand-ins for `Evaluator` that fail over some designs, in whatever process they are."""

from __future__ import annotations

import os
import signal
from pathlib import Path

from ridefront.evaluate import Domain, Evaluation
from small_runs import Array, Formula

STIFF = 38.0
"""N/mm, of springs over which the stand-ins fail."""


class Raising(Formula):
    """Raises over stiff springs."""

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        if (X[:, 1] > STIFF).any():
            raise ZeroDivisionError("a stiff spring")
        return super().evaluate(X, domain)


class RaisingAlways(Formula):
    """Raises over every design."""

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        raise ZeroDivisionError("a bug")


class KillingOnce(Formula):
    """The first process that evaluates more than one design is killed; the study's folder remembers that it was."""

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        mark = Path(self.study.path).parent / "killed"
        if len(X) > 1 and not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return super().evaluate(X, domain)


class Full(Formula):
    """There is no room for compiled kernels."""

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        raise OSError(28, "No space left on device", "kernel.nbi")
