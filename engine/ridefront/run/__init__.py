"""Running a study: the loop of search, evaluation and storing; workers; what people see meanwhile."""

from ridefront.run.loop import RunResult, run_study
from ridefront.run.progress import Progress, Snapshot, progress_for

__all__ = ["Progress", "RunResult", "Snapshot", "progress_for", "run_study"]
