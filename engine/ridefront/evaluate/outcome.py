"""What comes out of an evaluation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ridefront.vehicle.laws import Array

Domain = Literal["frequency-domain", "time-domain"]
"""How rides on random roads are worked out; obstacles are always driven in the time domain."""

STATUS = (
    "ok",
    "no-static-equilibrium",
    "not-finite",
    "not-settled",
    "diverged",
    "still-moving",
    "raised",
    "worker-lost",
)
"""What became of a design: figures; it cannot stand under some load (a mass or contact force not above zero, the centre
of mass outside the wheelbase); a figure overflowed or is undefined; the linearisation did not arrive
on some road that counts, because the design lives on hard stops there (see `SETTLED`); it left all bounds when it was
driven in the time domain; it still moved where an obstacle's road ends, so that its settling time is not known; working
it out raised an exception; workers died over it, killed or out of memory.
"""

WHY = {
    "ok": "figures are there",
    "no-static-equilibrium": "they cannot stand under some load",
    "not-finite": "a figure overflows or is undefined",
    "not-settled": "they live on hard stops, where there is no linear vehicle that rides alike",
    "diverged": "they left all bounds when they were driven",
    "still-moving": "the body still moves where an obstacle's road ends, so the settling time is not known",
    "raised": "working them out raised an exception: see faults in run.json",
    "worker-lost": "workers died over them, killed or out of memory",
}
"""`STATUS` in words for people."""

SETTLED = 0.02
"""Largest share by which a corner's linearised rate or damping may miss the one that its own motion calls for."""

AT_REST = "at rest"
"""Condition of pieces that need no road."""


@dataclass(frozen=True)
class Evaluation:
    """Figures of n designs.

    Attributes:
        values: of the study's measures in their order and units, (n, k); NaN where a design failed.
        violation: sum over constraints of the excess over each limit, scaled; 0 where all hold, NaN where failed; (n,).
        status: index into `STATUS`, (n,).
        se: standard errors of `values`, in their units, (n, k): how much another set of realisations of the same
            random roads would move them; NaN where there is no sampling error. For rms figures of a linear vehicle
            on one track it is 0 but for rounding, since every realisation has the road's spectrum exactly. Of two
            tracks that holds for their mean and their half difference; single wheels and seats to one side scatter.
    """

    values: Array
    violation: Array
    status: NDArray[np.int8]
    se: Array


@dataclass(frozen=True)
class Pieces:
    """Criteria of n designs at every place in every condition.

    Attributes:
        criterion, place, condition, unit: of each of the p pieces; place is empty for the whole vehicle, condition is
            ``at rest, <load>`` or ``at rest`` for figures that need no road; units are SI.
        response: how each was worked out; `AT_REST` for figures that need no road.
        values: (n, p), NaN where a design failed.
        se: standard errors, (n, p), NaN where there is no sampling error.
        status: as in `Evaluation`.
    """

    criterion: tuple[str, ...]
    place: tuple[str, ...]
    condition: tuple[str, ...]
    unit: tuple[str, ...]
    response: tuple[str, ...]
    values: Array
    se: Array
    status: NDArray[np.int8]


def joined(parts: Sequence[Evaluation]) -> Evaluation:
    """Evaluations of one study, their designs one after another."""
    if len(parts) == 1:
        return parts[0]
    return Evaluation(
        np.concatenate([part.values for part in parts]),
        np.concatenate([part.violation for part in parts]),
        np.concatenate([part.status for part in parts]),
        np.concatenate([part.se for part in parts]),
    )


def joined_pieces(parts: Sequence[Pieces]) -> Pieces:
    """The same pieces of one study, their designs one after another."""
    return replace(
        parts[0],
        values=np.concatenate([part.values for part in parts]),
        se=np.concatenate([part.se for part in parts]),
        status=np.concatenate([part.status for part in parts]),
    )
