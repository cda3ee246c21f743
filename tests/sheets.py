"""Setup sheets of studies that ship and of others, as if a run had found their setups, and what stands in them."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from ridefront.evaluate import Evaluator
from ridefront.report.choices import choose
from ridefront.report.sheet import Sheet, sheets_of
from ridefront.report.words import Table
from ridefront.results.designs import Designs
from ridefront.results.given import figures_of
from ridefront.results.names import RECORD
from ridefront.results.read import to_frame
from ridefront.results.record import new_record
from ridefront.results.stored import Result
from ridefront.results.tables import write_json
from ridefront.road import Road
from ridefront.study import Study, read_study

STUDIES = Path(__file__).parents[1] / "studies"
UNKNOWN = re.compile(r"\b(nan|NaN|None|inf|Infinity)\b")


def result_of(study: Study, folder: Path, X: np.ndarray) -> Result:
    """A result whose front is these designs, in the study's units, as if a run had found them."""
    write_json(folder / RECORD, new_record(study, 1, None))
    evaluator = Evaluator(study)
    front = to_frame(figures_of(evaluator, Designs(np.arange(1, len(X) + 1), X)))
    present = front.iloc[:0]
    if study.present is not None:
        present = to_frame(figures_of(evaluator, Designs(np.array([0]), study.present[None, :])))
    return Result(folder, study, front, evaluator.domain, present, same_engine=True)


def sheets(study: Study, folder: Path, X: np.ndarray) -> tuple[Sheet, ...]:
    """Their sheets."""
    result = result_of(study, folder, X)
    return sheets_of(choose(result), Evaluator(study), None, "today")


def sheet_of(study: Study, folder: Path, **values: float) -> Sheet:
    """The sheet of the present setup with some quantities changed."""
    assert study.present is not None
    x = study.present.copy()
    for path, value in values.items():
        x[[item.path for item in study.variables].index(path)] = value
    return sheets(study, folder, x[None, :])[0]


def block(sheet: Sheet, number: int) -> tuple[Table, ...]:
    found = next(item for item in sheet.blocks if item.title.startswith(f"{number}. "))
    return found.tables


def cells(table: Table) -> dict[str, dict[str, str]]:
    """By the first cell of a row and the head of a column; of heads given twice the first one."""
    found: dict[str, dict[str, str]] = {}
    for row in table.rows:
        of = found.setdefault(row[0], {})
        for head, cell in zip(table.columns, row, strict=True):
            of.setdefault(head, cell)
    return found


def figure(cell: str) -> float:
    found = re.match(r"[+-]?\d+(\.\d+)?", cell)
    assert found is not None, cell
    return float(found[0])


CHANGED = {
    "corner-hatchback": {"front.spring_rate": 30.0, "front.damping": 1800.0, "front.unsprung_mass": 30.0},
    "estate": {"rear.spring_rate": 80.0},
    "hatchback-harsh": {"front.bump_clearance": 45.0},
    "sports-car": {"front.anti_roll_rate": 30.0},
    "van": {"rear.spring_scale": 1.2},
    "van-independent": {"rear.spring_rate": 50.0},
}
"""Studies that ship, and how their present setups are changed to have something to say on the sheet."""


def shortened(study: Study) -> Study:
    """With random roads of 200 m, driven once or twice: quicker, and whatever a sheet says holds there too."""
    return replace(
        study,
        roads=tuple(
            replace(road, length=min(road.length, 200.0), realisations=min(road.realisations, 2))
            if isinstance(road, Road)
            else road
            for road in study.roads
        ),
    )


@cache
def shipped(name: str) -> tuple[Study, Sheet]:
    """A study that ships, and the sheet of its changed setup."""
    study = shortened(read_study(STUDIES / f"{name}.toml"))
    with TemporaryDirectory() as folder:
        return study, sheet_of(study, Path(folder), **CHANGED[name])
