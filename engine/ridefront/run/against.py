"""A run against the finished one that it goes on with, or writes over: both hypervolumes in one box."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridefront.errors import ResultError
from ridefront.results.names import RECORD
from ridefront.results.record import Record, digests, read_record
from ridefront.search import Box
from ridefront.search.volume import Volume
from ridefront.study.digest import figures_meaning
from ridefront.study.model import Array, Study


@dataclass(frozen=True)
class Earlier:
    """A finished run.

    Attributes:
        F: (n, m), objectives of its front in the study's units, to be minimised.
        response: the front's domain.
        alike: whether a design's figures are still the same.
    """

    F: Array
    response: str
    alike: bool


def earlier_front(study: Study, folder: Path) -> Earlier | None:
    """The front of a finished run with a study's objectives; None where a folder holds none, or cannot be read.

    Args:
        study: about to run in that folder.
        folder: of the run.
    """
    from ridefront.results.read import read_front

    try:
        record = read_record(folder / RECORD)
        if record["state"] != "done" or not _same_objectives(study, record):
            return None
        frame = read_front(folder)
        F = np.stack([item.sign * frame[item.measure.label].to_numpy(np.float64) for item in study.objectives], axis=1)
    except (ResultError, KeyError):
        return None  # the run itself says what is wrong with its folder
    alike = record["digests"].get("figures") == digests(study)["figures"]
    return Earlier(F, str(record.get("front_response")), alike)


def hypervolume_before(study: Study, earlier: Earlier, folder: Path) -> float | None:
    """Hypervolume of the earlier front in the box of the run that is now in a folder.

    Returns:
        None where that has no box, or is of another domain.
    """
    record = read_record(folder / RECORD)
    box = record.get("hypervolume_box")
    if box is None or record.get("front_response") != earlier.response:
        return None
    ideal, reference = (
        np.array([item.sign * box[corner][item.measure.label] for item in study.objectives])
        for corner in ("ideal", "reference")
    )
    if not len(earlier.F):
        return 0.0
    volume = Volume(Box(ideal, reference))
    volume.update(earlier.F, earlier.F)
    return volume.value()


def _same_objectives(study: Study, record: Record) -> bool:
    """Whether a record is of a run with the same objectives: name, direction, unit and how conditions are combined."""
    before, now = record["meaning"], figures_meaning(study)["measures"]
    labels = [[item.measure.label, item.sign] for item in study.objectives]
    if before.get("plan", {}).get("objectives") != labels:
        return False
    measures = before.get("figures", {}).get("measures", {})
    return all(
        measures.get(label, {}).get(key) == now[label][key] for label, _ in labels for key in ("criterion", "unit")
    )
