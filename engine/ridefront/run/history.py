"""How a run stands: the front of what has been evaluated, and a row of figures for each generation."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass, fields, replace

import numpy as np
import pyarrow as pa

from ridefront.evaluate import Domain
from ridefront.results.batch import Asking, Batch
from ridefront.results.columns import PROGRESS, schema_of
from ridefront.results.sampling import domains
from ridefront.search import Archive, Rows, as_rows
from ridefront.study.model import Study

PRESENT = "present"
"""Stage of today's setup: evaluated first in each domain, not known to the search, never on the front."""

BOXED = ("sample", "repeat")
"""Stages at whose end the hypervolume's box is fixed: the first of each domain."""


@dataclass(frozen=True, slots=True)
class GenerationRow:
    """A row of progress.parquet; fields as in `ridefront.results.columns.PROGRESS`."""

    stage: str
    generation: int
    evaluations: int
    front: int
    hypervolume: float | None
    feasible_share: float
    seconds: float
    designs_per_second: float | None


@dataclass
class _Open:
    """The generation that is on: who asked for it, and figures of its blocks so far."""

    asking: Asking | None = None
    count: int = 0
    feasible: int = 0
    seconds: float = 0.0

    def add(self, batch: Batch) -> None:
        """Takes in a block."""
        self.asking = batch.asking
        self.count += len(batch)
        self.feasible += int(np.count_nonzero(batch.feasible))
        self.seconds += batch.seconds


class History:
    """Takes in blocks in the order asked; a pure function of them.

    A front is made of figures of one kind: where the search passes to the other domain, the front begins anew.

    Args:
        study: whose blocks they are.

    Attributes:
        response: the domain of the front.
        archive: the front, and how many designs of its domain are feasible, the present setup not counted.
        generations: a row each, of those that are closed.
        blocks: how many were taken in.
        evaluations: designs taken in, of both domains, the present setup included; counts: of each domain.
        failed: how many of them have no figures.
    """

    def __init__(self, study: Study) -> None:
        labels = [measure.label for measure in study.measures]
        self._columns = [labels.index(objective.measure.label) for objective in study.objectives]
        self._signs = np.array([float(objective.sign) for objective in study.objectives])
        self._open = _Open()
        self._limit = study.search.stalled
        self._stage = ("", domains(study)[0])
        self._volumes = deque[float | None](maxlen=1 + (self._limit.generations if self._limit else 0))
        self._coarseness: float | None = None
        self.response: Domain = domains(study)[0]
        self.archive = Archive(len(study.objectives))
        self.generations: list[GenerationRow] = []
        self.blocks = 0
        self.evaluations = 0
        self.counts: Counter[Domain] = Counter()
        self.failed = 0
        self.seconds = 0.0

    def add(self, batch: Batch) -> Rows:
        """Takes in a block, and closes the generation before where a new one begins.

        Returns:
            What the search is to be sent.
        """
        if self._open.asking not in (None, batch.asking):
            self.close()
        self.blocks += 1
        self.evaluations += len(batch)
        self.counts[batch.asking.response] += len(batch)
        self.failed += int(np.count_nonzero(~batch.ok))
        self.seconds += batch.seconds
        rows = as_rows(np.ascontiguousarray(batch.values[:, self._columns]), self._signs, batch.violation, batch.ok)
        rows = replace(rows, P=batch.parts)
        if batch.asking.stage != PRESENT:
            if batch.asking.response != self.response:
                self.response, self.archive = batch.asking.response, Archive(len(self._signs))
            self._open.add(batch)
            self.archive.add(rows.F, rows.V, batch.designs)
            rows = replace(rows, enough=self._stalled(batch.asking.stage, batch.asking.response))
        return rows

    def _stalled(self, stage: str, response: Domain) -> bool:
        """Whether the front has grown too little over the last generations of this stage."""
        limit = self._limit
        if (stage, response) != self._stage:
            self._stage = (stage, response)
            self._volumes.clear()
        if limit is None or stage in BOXED:
            return False
        if self.archive.coarseness != self._coarseness:  # a front that is thinned dominates a little less
            self._coarseness = self.archive.coarseness
            self._volumes.clear()
        self._volumes.append(self.archive.hypervolume())
        if len(self._volumes) <= limit.generations:
            return False
        now, before = self._volumes[-1], self._volumes[-1 - limit.generations]
        return now is not None and before is not None and now - before < limit.share * now

    def close(self, *, whole: bool = True) -> None:
        """Ends a generation: its row is written; after the first one of a domain the hypervolume's box is fixed.

        Args:
            whole: False where a stop has cut the generation short, so that no box is made of part of a sample.
        """
        if self._open.asking is None:
            return
        stage, generation = self._open.asking.stage, self._open.asking.generation
        if whole and stage in BOXED:
            self.archive.fix_box()
        count, seconds = self._open.count, self._open.seconds
        self.generations.append(
            GenerationRow(
                stage,
                generation,
                self.evaluations,
                self.archive.size,
                self.archive.hypervolume(),
                self._open.feasible / count,
                seconds,
                count / seconds if seconds > 0 else None,
            )
        )
        self._open = _Open()

    def table(self, metadata: dict[str, str]) -> pa.Table:
        """The closed generations as progress.parquet stores them."""
        schema = schema_of(PROGRESS, metadata)
        columns = [[getattr(row, item.name) for row in self.generations] for item in fields(GenerationRow)]
        return pa.Table.from_arrays(
            [pa.array(column, field.type) for column, field in zip(columns, schema, strict=True)], schema=schema
        )

    def box(self, study: Study) -> dict[str, dict[str, float]] | None:
        """The hypervolume's box, by objective in the study's units; None while there is none."""
        if self.archive.box is None:
            return None
        corners = {"ideal": self.archive.box.ideal, "reference": self.archive.box.reference}
        return {
            name: {
                objective.measure.label: float(objective.sign * figure)
                for objective, figure in zip(study.objectives, corner, strict=True)
            }
            for name, corner in corners.items()
        }
