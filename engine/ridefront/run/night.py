"""A batch of studies, one after another: what fails does not keep the others waiting, and what became of each is on
disk after each of them.
"""

from __future__ import annotations

import os
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from ridefront.errors import CallError, ResultError, RidefrontError, StudyError, Terminated
from ridefront.results.lock import locked
from ridefront.results.names import BATCH, LOCK, RECORD
from ridefront.results.record import now, read_record, versions
from ridefront.results.tables import file_errors, write_bytes, write_json
from ridefront.run.against import Earlier, earlier_front, hypervolume_before
from ridefront.run.loop import RunResult
from ridefront.study.model import Study

Outcome = Literal[
    "not begun", "running", "done", "finished before", "infeasible", "refused", "failed", "interrupted"
]  # fmt: skip


@dataclass
class Entry:
    """What became of one study; None for what is not known.

    Attributes:
        study: its file; title: of it; folder: of its run.
        state: "refused" is a study or folder with which no run could begin, or go on; "infeasible" a run without a
            feasible design; "running" of a process that is gone: it was killed.
        status: exit status that the study would have had by itself.
        stopped: why the search ended, in words.
        evaluations, feasible, failed, front: counts of the run, see run.json.
        added: designs worked out by this call.
        hypervolume: of the front; before: of the front of the finished run that was here, in the same box.
        same_figures: whether a design's figures are what they were in that run.
        started, ended: local time; seconds: between the two.
        error: in words; log: file with the traceback of an error that nobody foresaw.
    """

    study: str
    title: str
    folder: str
    state: Outcome = "not begun"
    status: int | None = None
    stopped: str | None = None
    evaluations: int | None = None
    feasible: int | None = None
    failed: int | None = None
    front: int | None = None
    added: int | None = None
    hypervolume: float | None = None
    before: float | None = None
    same_figures: bool | None = None
    started: str | None = None
    ended: str | None = None
    seconds: float | None = None
    error: str | None = None
    log: str | None = None


class Night:
    """The studies of a call, and what became of them so far; also in ``OUTPUT/batch.json``.

    Args:
        studies: as read and checked, no two of which have the same stem.
        output: folder that holds the runs' folders.

    Attributes:
        entries: one a study, in the order of the call.
        begun: whether the folder could be used, so that the first study was begun.
    """

    def __init__(self, studies: Sequence[Study], output: Path) -> None:
        self.studies, self.output = tuple(studies), output
        self.entries = [Entry(study.path, study.title, str(output / study.stem)) for study in studies]
        self._started = now()
        self.begun = False

    @property
    def status(self) -> int:
        """Exit status of the whole: 1 where a study failed or was refused, else 3 where one is infeasible, else 0."""
        found = {entry.status for entry in self.entries}
        return 1 if found & {1, 2} else 3 if 3 in found else 0

    def run(self, one: Callable[[Study], RunResult], say: Callable[[str], None]) -> None:
        """Runs every study.

        Args:
            one: runs one study and shows what it came to.
            say: is told errors, and which study is next.

        Raises:
            ResultError: before the first study: the folder cannot be written, or another batch is on in it.
            KeyboardInterrupt: on an interrupt, once the study that was running has saved itself.
        """
        with file_errors(self.output, "used as the folder of a batch"):
            self.output.mkdir(parents=True, exist_ok=True)
        lock = locked(self.output / LOCK)
        try:
            self._write()
            self.begun = True
            for k, (study, entry) in enumerate(zip(self.studies, self.entries, strict=True), 1):
                say(f"study {k} of {len(self.studies)}: {study.path}")
                self._one(study, entry, one, say)
                self._save(say)
        except KeyboardInterrupt as stop:
            self._interrupted(stop)
            self._save(say)
            raise
        finally:
            os.close(lock)

    def _one(self, study: Study, entry: Entry, one: Callable[[Study], RunResult], say: Callable[[str], None]) -> None:
        entry.state, entry.started = "running", now()
        self._save(say)
        folder = self.output / study.stem
        earlier = earlier_front(study, folder)
        begun = time.perf_counter()
        try:
            result = one(study)
            _came_to(entry, result, study, earlier)
        except Exception as error:
            entry.state, entry.status, entry.error = ended_by(error, study)
            if not _foreseen(error):
                self._keep_traceback(entry, study, error)
            say(entry.error if entry.log is None else f"{entry.error}; traceback: {entry.log}")
            _counts(entry, folder)
        finally:
            entry.ended, entry.seconds = now(), round(time.perf_counter() - begun, 3)

    def _keep_traceback(self, entry: Entry, study: Study, error: Exception) -> None:
        log = self.output / f"{study.stem}.traceback.txt"
        text = "".join(traceback.format_exception(error))
        try:
            write_bytes(log, text.encode(errors="replace"))
            entry.log = str(log)
        except ResultError as unwritten:
            entry.error = f"{entry.error}; {unwritten.message}; {text}"

    def _interrupted(self, stop: KeyboardInterrupt) -> None:
        for entry in self.entries:
            if entry.state == "running":
                entry.state, entry.status = "interrupted", 143 if isinstance(stop, Terminated) else 130
                _counts(entry, Path(entry.folder))

    def _save(self, say: Callable[[str], None]) -> None:
        """Writes the summary; where it cannot be, the studies are still worth running."""
        try:
            self._write()
        except ResultError as error:
            say(f"{error}; the next studies are run all the same")

    def _write(self) -> None:
        ended = not any(entry.state in ("not begun", "running") for entry in self.entries)
        record = {
            "started": self._started,
            "written": now(),
            "ended": ended or any(entry.state == "interrupted" for entry in self.entries),
            "status": self.status if ended else None,
            "versions": versions(),
            "studies": [asdict(entry) for entry in self.entries],
        }
        write_json(self.output / BATCH, record)


def ended_by(error: Exception, study: Study) -> tuple[Outcome, int, str]:
    """What an error makes of a study: its state, its exit status, and a message."""
    if isinstance(error, StudyError | CallError):
        return "refused", 2, str(error)
    if isinstance(error, RidefrontError):
        return "failed", 1, str(error)
    if isinstance(error, MemoryError):
        return "failed", 1, f"{study.path}: out of memory: {error}; shorter roads or fewer realisations take less"
    if isinstance(error, OSError):
        return "failed", 1, f"{study.path}: {error.filename or 'the system'}: {error.strerror or error}"
    return "failed", 1, f"{study.path}: an error of the program: {type(error).__name__}: {error}"


def _foreseen(error: Exception) -> bool:
    return isinstance(error, RidefrontError | MemoryError)


def _came_to(entry: Entry, result: RunResult, study: Study, earlier: Earlier | None) -> None:
    entry.stopped, entry.added = result.stopped, result.added
    entry.evaluations, entry.feasible = result.evaluations, result.feasible
    entry.failed, entry.front, entry.hypervolume = result.failed, result.front, result.hypervolume
    entry.status = 0 if result.front else 3
    if result.finished:
        entry.state = "finished before"
        return
    entry.state = "done" if result.front else "infeasible"
    if earlier is not None:
        entry.before = hypervolume_before(study, earlier, result.folder)
        entry.same_figures = earlier.alike


def _counts(entry: Entry, folder: Path) -> None:
    """What a run that did not end well has left: from its record, where this call wrote that and it is whole."""
    try:
        record = read_record(folder / RECORD)
    except ResultError:
        return
    counts = record.get("counts")
    if record["timings"].get("started", "") >= (entry.started or "") and isinstance(counts, dict):
        entry.stopped, entry.hypervolume = record.get("stopped"), record.get("hypervolume")
        entry.evaluations, entry.feasible = counts.get("evaluations"), counts.get("feasible")
        entry.failed, entry.front = counts.get("failed"), counts.get("front")
