"""How far the figures of a front spread over vehicles built within the study's tolerances, when a run ends."""

from __future__ import annotations

import numpy as np

from ridefront.evaluate import Domain
from ridefront.results.columns import SPREAD_ENDS
from ridefront.results.sampling import spreading
from ridefront.run.workers import LANE, Workers
from ridefront.study.model import Array, Study


def spread_columns(study: Study, response: Domain, X: Array, pool: Workers) -> dict[str, Array]:
    """Columns of a front, (n,) each, by name; none where the study has no tolerances.

    Args:
        study: as read and checked.
        response: the front's domain.
        X: (n, d), n at least 1, in the variables' units.
        pool: workers of the study.
    """
    measures = spreading(study)
    if not measures:
        return {}
    size = LANE * pool.count  # each is many vehicles: an interrupt is to be answered soon
    found = np.concatenate(
        [pool.spread(X[start : start + size], measures, response) for start in range(0, len(X), size)]
    )
    return {
        f"{item.label}{ending}": np.ascontiguousarray(found[:, k, end])
        for k, item in enumerate(measures)
        for end, ending in enumerate(SPREAD_ENDS)
    }
