"""The loop: plan x blocks x folder.

The search asks for a block of designs. Where the folder has it, its rows are sent back as they are stored; else it is
evaluated, stored and sent back. So a run that was killed goes on as if it never had been. When it is done, its front is
worked out once more (`closing`).
"""

from __future__ import annotations

import time
from collections import Counter, deque
from collections.abc import Callable, Generator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pyarrow as pa

from ridefront.errors import CallError, ResultError
from ridefront.results.batch import Asking, batch_of, figures, pieces_table, with_columns
from ridefront.results.columns import PIECES, closest_columns, evaluation_columns, front_columns, schema_of
from ridefront.results.folder import ANEW, RunFolder, recorded
from ridefront.results.misses import closest_table
from ridefront.results.names import CLOSEST, FRONT_GRADIENTS, SENSITIVITY_FILE
from ridefront.results.record import Record, State, growing, now, roads_record, step_record
from ridefront.results.sampling import domains, realisations
from ridefront.results.writer import PartWriter
from ridefront.run.anatomy import anatomy, parts_record
from ridefront.run.certify import gradients_table
from ridefront.run.closing import Closing, close
from ridefront.run.crew import crew_of
from ridefront.run.history import PRESENT, History
from ridefront.run.preflight import preflight
from ridefront.run.progress import CLOSING, Progress, Silent, Snapshot
from ridefront.run.sensitivity import sensitivity_table, whole_space
from ridefront.run.start import refuse_own_folder, start_points
from ridefront.run.workers import Workers
from ridefront.search import Block, Rows, Settings, plan
from ridefront.study.model import Array, Study
from ridefront.study.space import decode, levels

TIME_IS_UP = "time is up"

RECENT = 20
"""Blocks from which speed and time left are estimated; the first ones, which compile kernels, soon drop out."""


@dataclass(frozen=True)
class RunResult:
    """What a run came to.

    Attributes:
        folder: where everything is.
        state: "done"; an interrupted run raises KeyboardInterrupt when its folder is in order.
        stopped: why it stopped, in words.
        evaluations: designs in the folder, of both domains, the present setup included; added: how many this call has
            evaluated; failed: how many have no figures.
        feasible: how many of the front's domain meet all constraints, the present setup not counted.
        front: designs on the front.
        hypervolume: see the data dictionary.
        seconds: spent on all evaluations, earlier calls included.
        workers: of the call that did the work.
        finished: whether an earlier call had finished the run, and this one found nothing to do.
    """

    folder: Path
    state: State
    stopped: str
    evaluations: int
    added: int
    feasible: int
    failed: int
    front: int
    hypervolume: float | None
    seconds: float
    workers: int
    finished: bool = False


def run_study(
    study: Study,
    output: str | Path = "results",
    *,
    workers: int | None = None,
    cluster: str | None = None,
    overwrite: bool = False,
    progress: Progress | None = None,
) -> RunResult:
    """Runs a study into ``output/<stem of its file>/``, or goes on where an earlier run stopped.

    A finished run is left as it is. One that has got more generations since goes on with them; with response "auto"
    those in the time domain, because that begins where the frequency domain ended.

    Args:
        study: as read and checked.
        output: folder that holds the run's folder; made if it is not there.
        workers: how many; as the study says if None. Results depend neither on it nor on what workers are.
        cluster: address of a dask scheduler whose workers are taken, whatever the study says.
        overwrite: start anew in a folder that an earlier run has used.
        progress: is told how the run stands after each block.

    Returns:
        RunResult.

    Raises:
        ResultError: if the folder is in use, foreign, damaged, or of another study.
        StudyError: if the objectives cannot make a front, or the study starts with the result of its own folder,
            before anything is written.
        CallError: if `workers` is less than 1, or the cluster cannot be used.
        KeyboardInterrupt: on an interrupt, once the folder holds the front and progress of what there is.
    """
    count = _worker_count(study, workers, cluster)
    progress = progress or Silent()
    refuse_own_folder(study, Path(output))
    with Workers(study, crew_of(study, count, cluster)) as pool:
        if overwrite or not recorded(study, Path(output)):
            for note in preflight(study, pool):
                progress.note(note)
        with RunFolder(study, Path(output), overwrite=overwrite) as folder:
            if folder.finished:
                assert folder.earlier is not None
                return replace(_result(folder.path, folder.earlier, added=0), finished=True)
            return _Run(study, folder, pool, progress).whole()


class _Run:
    """One call: what has been asked and answered so far."""

    def __init__(self, study: Study, folder: RunFolder, pool: Workers, progress: Progress) -> None:
        self.study, self.folder, self.pool, self.progress = study, folder, pool, progress
        self.record = folder.begin(pool.count)
        self.earlier_faults = Counter[str](self.record["faults"])
        self.on_disk = folder.blocks
        self.stored = folder.batches()
        self.history = History(study)
        self.settled = True
        self.added = 0
        self.domains = domains(study)
        self.fidelity = 0
        self.recent: deque[tuple[int, float]] = deque(maxlen=RECENT)
        self.mark = time.perf_counter()

    def whole(self) -> RunResult:
        """The run to its end, or to an interrupt."""
        try:
            with PartWriter(self.folder) as writer:
                stopped = self._ask_and_answer(writer)
            self.folder.pack()
            # Time may be up in the midst of the sample, of which no box is made.
            self.history.close(whole=stopped != TIME_IS_UP)
            return self._save("done", stopped)
        except KeyboardInterrupt:
            self._retreat()
            self._save("interrupted", "interrupted")
            raise
        except ResultError:
            if not self.added:
                self.folder.undo()
            raise
        finally:
            self.progress.close()

    def _ask_and_answer(self, writer: PartWriter) -> str:
        study, sizes = self.study, self.study.search
        self._answer_present(writer)
        auto = study.response == "auto"
        settings = Settings(
            study.seed,
            sizes.sample,
            sizes.population,
            sizes.generations,
            sizes.simulated_generations if auto else None,
            sizes.refine,
            sizes.simulated_refine if auto else 0,
            sizes.evaluations,
        )
        search = plan(levels(study), len(study.objectives), settings, anatomy(study), start_points(study))
        stopped = _drive(search, lambda block: self._answer_block(writer, block), self._late)
        if self.history.blocks < self.on_disk:
            key = growing(study)
            raise ResultError(
                f"{self.folder.path}: holds a longer run than {key} and search.until allow",
                f"Raise {key} to go on with it. {ANEW}",
            )
        return stopped

    def _late(self) -> bool:
        """Whether the time that the study allows is spent; what is on disk is taken in first."""
        limit = self.study.search.seconds
        return limit is not None and self.history.blocks >= self.on_disk and self.history.seconds >= limit

    def _answer_present(self, writer: PartWriter) -> None:
        """Today's setup, where the study has one, in the domain in which the search is."""
        if self.study.present is not None:
            self._answer(writer, PRESENT, 0, np.array(self.study.present, dtype=np.float64).reshape(1, -1))

    def _answer_block(self, writer: PartWriter, block: Block) -> Rows:
        """The rows of a block; where the search passes to the other domain, today's setup goes before it."""
        if block.fidelity != self.fidelity:
            self.fidelity = block.fidelity
            self.recent.clear()
            self._answer_present(writer)
        return self._answer(writer, block.stage, block.generation, decode(self.study, block.U), parts=block.parts)

    def _answer(self, writer: PartWriter, stage: str, generation: int, X: Array, *, parts: bool = False) -> Rows:
        """The rows of some designs, from disk or from the vehicle."""
        domain = self.domains[self.fidelity]
        asking = Asking(stage, generation, domain, realisations(self.study, domain))
        if self.history.blocks < self.on_disk:
            batch = next(self.stored)
            if batch.asking != asking or not _same_bits(batch.X, X):
                raise ResultError(
                    f"{self.folder.part_path(self.history.blocks)}: damaged or foreign: its designs are not those that "
                    "the search asks for here",
                    f"Other versions of Ridefront, numpy or pymoo may search differently: see run.json. {ANEW}",
                )
            self.mark = time.perf_counter()
        else:
            found, P = self.pool.evaluate_with_parts(X, domain) if parts else (self.pool.evaluate(X, domain), None)
            moment = time.perf_counter()
            batch = batch_of(self.history.evaluations, asking, X, found, moment - self.mark, P)
            self.mark = moment
            self.added += len(batch)
            if stage != PRESENT:  # one design, and kernels being compiled
                self.recent.append((len(batch), batch.seconds))
        if self.history.blocks >= self.on_disk:
            writer.put(batch)
        self.settled = False
        rows = self.history.add(batch)
        self.settled = True
        self._show(stage, generation)
        return rows

    def _show(self, stage: str, generation: int) -> None:
        history = self.history
        present = int(self.study.present is not None)
        linear, driven = self.study.planned
        planned = present * (1 + (driven > 0)) + linear + driven
        seconds = sum(each for _, each in self.recent)
        rate = sum(count for count, _ in self.recent) / seconds if seconds > 0 else None
        # The other domain's rate is not known before it has begun.
        known = rate is not None and self.fidelity == len(self.domains) - 1
        self.progress.update(
            Snapshot(
                self.study.title,
                stage,
                generation,
                self._of_stage(stage),
                history.evaluations,
                planned,
                history.evaluations - self.added,
                history.archive.size,
                history.archive.hypervolume(),
                rate,
                (planned - history.evaluations) / rate if rate is not None and known else None,
            )
        )

    def _of_stage(self, stage: str) -> int | None:
        """How many generations a stage has; None where that is not known."""
        sizes = self.study.search
        return {"evolve": sizes.generations, "continue": sizes.simulated_generations}.get(stage)

    def _retreat(self) -> None:
        """After an interrupt, which may have come anywhere: back to what the folder holds."""
        self.folder.look_again()
        if not self.settled or self.history.blocks != self.folder.blocks:
            self.history = History(self.study)
            for batch in self.folder.batches():
                self.history.add(batch)
        self.history.close(whole=False)

    def _save(self, state: State, stopped: str) -> RunResult:
        """Writes front, pieces, progress and record."""
        study, folder, history = self.study, self.folder, self.history
        front = history.archive.ids
        metadata = {**folder.metadata, "state": state, "stopped": stopped, "evaluations": str(history.evaluations)}
        schema = schema_of(evaluation_columns(study), metadata)
        rows = folder.rows(front, schema)
        found = self._close(rows, whole=state == "done")
        pieces = schema_of(PIECES, metadata).empty_table()
        if found is not None:
            pieces = pieces_table(front, found.pieces, metadata)
        certified = None if found is None else found.certified
        more = {**({} if found is None else found.columns), **({} if certified is None else certified.columns)}
        rows = with_columns(rows, schema_of(front_columns(study), metadata), more)
        moved = whole_space(study, self.pool) if state == "done" else ()
        folder.write_results(rows, pieces, history.table(metadata))
        none = not history.archive.feasible
        nearest = closest_table(study, folder, history.response, metadata) if none else None
        folder.write_more(
            {
                FRONT_GRADIENTS: gradients_table(study, front, certified, metadata),
                SENSITIVITY_FILE: sensitivity_table(study, moved, metadata),
                CLOSEST: nearest or schema_of(closest_columns(study), metadata).empty_table(),
            }
        )
        self.record["state"], self.record["stopped"] = state, stopped
        self.record["front_response"] = history.response
        self.record["front_spacing"] = history.archive.spacing
        self.record["realisations"] = roads_record(study, history.response)
        self.record["parts"] = parts_record(study)
        self.record["step"] = None if found is None or found.step is None else step_record(found.step)
        self.record["counts"] = {
            "evaluations": history.evaluations,
            "feasible": history.archive.feasible,
            "failed": history.failed,
            "front": history.archive.size,
            "certified": 0 if certified is None else certified.evaluations,
            "sensitivity": sum(each.designs for each in moved),
        }
        self.record["faults"] = dict(self.earlier_faults + self.pool.faults)
        self.record["hypervolume"] = history.archive.hypervolume()
        self.record["hypervolume_box"] = history.box(study)
        self.record["timings"] |= {"ended": now(), "busy_seconds": history.seconds}
        folder.write_record(self.record)
        return _result(folder.path, self.record, self.added)

    def _close(self, rows: pa.Table, *, whole: bool) -> Closing | None:
        """What a front has beside its rows; None where it is empty.

        Args:
            rows: of the front.
            whole: False after an interrupt, which is to end soon: pieces only.
        """
        if not len(rows):
            return None
        if whole:
            self._show(CLOSING, 0)
        X, values = figures(rows, self.study)
        response = self.history.response
        evaluations = self.history.counts[response]
        return close(self.study, response, X, values, self.pool, whole=whole, evaluations=evaluations)


def _drive(search: Generator[Block, Rows, str], answer: Callable[[Block], Rows], late: Callable[[], bool]) -> str:
    """Answers every block that a search asks for until it is late; returns why it stopped."""
    try:
        block = next(search)
    except StopIteration as end:
        return str(end.value)
    while True:
        if late():
            return TIME_IS_UP
        rows = answer(block)
        try:
            block = search.send(rows)
        except StopIteration as end:
            return str(end.value)


def _same_bits(A: Array, B: Array) -> bool:
    return A.shape == B.shape and A.tobytes() == B.tobytes()


def _worker_count(study: Study, workers: int | None, cluster: str | None) -> int:
    if workers is not None and workers < 1:
        raise CallError(f"workers: {workers}; allowed: 1 or more")
    if workers is not None and (cluster or study.cluster):
        raise CallError(f"workers: {workers}; a cluster has workers of its own", "Leave one of the two out.")
    return workers or study.workers


def _result(folder: Path, record: Record, added: int) -> RunResult:
    counts = record["counts"]
    return RunResult(
        folder,
        record["state"],
        record["stopped"],
        counts["evaluations"],
        added,
        counts["feasible"],
        counts["failed"],
        counts["front"],
        record["hypervolume"],
        record["timings"]["busy_seconds"],
        record["workers"],
    )
