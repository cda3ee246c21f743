"""What a search starts with: designs of an earlier front, spread where there are more than it takes."""

from __future__ import annotations

from pathlib import Path

from ridefront.errors import Mistake, StudyError
from ridefront.search import spread
from ridefront.study.model import STARTED, Array, Study
from ridefront.study.start import front_file


def start_points(study: Study) -> Array | None:
    """Points of the unit cube to ask before the sample, (n, d); None where the study names no earlier result.

    Of more than `STARTED` those are taken that are farthest from each other over the ranges: figures of another study,
    on other roads perhaps, do not count.
    """
    if study.start is None:
        return None
    U = study.start.U
    return U if len(U) <= STARTED else U[spread(U, STARTED)]


def refuse_own_folder(study: Study, output: Path) -> None:
    """Refuse a study that starts with the result in the folder into which it would write.

    Raises:
        StudyError: it does.
    """
    if study.start is None:
        return
    own = output / study.stem
    theirs = front_file(Path(study.path).parent, study.start.path).parent
    if own.exists() and theirs.exists() and own.samefile(theirs):
        found = f"{study.start.path} is in {own}, into which this run writes"
        hint = "another --output, or another name of the study's file, leaves the earlier result as it is"
        raise StudyError(study.path, [Mistake("search.start", found, "the result of another run", hint)])
