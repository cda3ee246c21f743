"""What a run leaves for people: a table of compromises on the terminal and a picture in the folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from ridefront.report.compromises import Setups, compromises
from ridefront.report.domains import domain_notes
from ridefront.report.moves import moves_notes
from ridefront.report.optimality import held_by, optimality_notes
from ridefront.report.pictures import front_figure, save
from ridefront.report.scattered import spread_notes
from ridefront.report.words import Table
from ridefront.results.names import FRONT, FRONT_PIECES, RECORD
from ridefront.results.read import read_front, read_front_pieces, read_present
from ridefront.results.record import read_record
from ridefront.results.tables import file_errors
from ridefront.road import Road
from ridefront.study.model import Study
from ridefront.vehicle.laws import Array

PICTURE = "front.png"
_CONDITIONS_DRAWN = 4


def setups(study: Study, frame: pd.DataFrame) -> Setups:
    """Setups of a frame that has the columns of evaluations."""
    return Setups(
        frame["design"].to_numpy(dtype=np.int64),
        frame[[item.path for item in study.variables]].to_numpy(dtype=np.float64),
        frame[[item.label for item in study.measures]].to_numpy(dtype=np.float64),
    )


def present_setup(study: Study, folder: Path, response: str) -> Setups | None:
    """The present setup's row of a run in a domain, or None where the study has none."""
    if study.present is None:
        return None
    return setups(study, read_present(folder, response))


def table_after_run(study: Study, folder: Path) -> Table | None:
    """The table of compromises of a finished run, and how far they are to be believed; None where the front is
    empty.
    """
    frame = read_front(folder)
    if not len(frame):
        return None
    table = compromises(study, setups(study, frame), present_setup(study, folder, response_of(frame)), held_by(frame))
    return replace(
        table,
        notes=(
            *table.notes,
            *_thinned(folder),
            *optimality_notes(frame),
            *domain_notes(study, folder, frame),
            *spread_notes(study, frame),
            *moves_notes(study, folder),
        ),
    )


def _thinned(folder: Path) -> tuple[str, ...]:
    """What to say of a front that was too large to keep whole."""
    spacing = read_record(folder / RECORD).get("front_spacing")
    if spacing is None:
        return ()
    within = f"{100 * spacing:.2g} % of its range"
    return (f"the front was thinned: every setup tried is bettered or matched by one on it, to within {within}",)


def response_of(front: pd.DataFrame) -> str:
    """The domain of a front of at least one design; a front is of one only."""
    return str(front["response"].iloc[0])


def picture_after_run(study: Study, folder: Path) -> Path | None:
    """Draw the front into the folder, unless a newer picture is there; its path, None for nothing to trade."""
    path = folder / PICTURE
    if path.is_file() and path.stat().st_mtime_ns >= (folder / FRONT).stat().st_mtime_ns:
        return path
    frame = read_front(folder)
    if not len(frame) or len(study.objectives) < 2:
        return None  # nothing to trade
    front, response = setups(study, frame), response_of(frame)
    ratio, pitch, load = _pitch(study, folder, front, response)
    with file_errors(path, "written"):
        save(front_figure(study, front, present_setup(study, folder, response), ratio, pitch, load), path)
    return path


def _pitch(study: Study, folder: Path, front: Setups, response: str) -> tuple[Array | None, dict[str, Array], str]:
    """Frequency ratio under the reference load, and rms pitch angle on random roads under that load, of each front
    setup.
    """
    load = study.loads[study.reference].name
    wanted = [
        item.name
        for item in study.conditions
        if item.load == study.reference and isinstance(study.roads[item.road], Road)
    ][:_CONDITIONS_DRAWN]
    pieces = read_front_pieces(folder / FRONT_PIECES)
    at_rest = f"at rest, {load}" if load else "at rest"
    ratio = pieces[(pieces["criterion"] == "frequency_ratio") & (pieces["condition"] == at_rest)]
    angles = pieces[(pieces["criterion"] == "pitch_angle") & (pieces["response"] == response)]
    if not len(ratio) or not wanted:
        return None, {}, load
    pitch = {name: angles[angles["condition"] == name]["value"].to_numpy(dtype=np.float64) for name in wanted}
    assert np.array_equal(ratio["design"].to_numpy(), front.design), "pieces stand in the order of the front"
    return ratio["value"].to_numpy(dtype=np.float64), pitch, load
