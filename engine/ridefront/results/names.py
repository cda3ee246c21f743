"""What the files of a run are called."""

from __future__ import annotations

import re

from ridefront.study.keys import CURVES
from ridefront.study.start import FRONT as FRONT

EVALUATIONS = "evaluations"
FRONT_PIECES = "front_pieces.parquet"
FRONT_GRADIENTS = "front_gradients.parquet"
PROGRESS_FILE = "progress.parquet"
SENSITIVITY_FILE = "sensitivity.parquet"
CLOSEST = "closest.parquet"
STUDY_FILE = "study.toml"
RECORD = "run.json"
BATCH = "batch.json"
PICTURE = "front.png"
REPORT = "report.html"
LOCK = ".lock"
TABLES = "tables"
START = "start.parquet"

WRITTEN = (FRONT, FRONT_PIECES, FRONT_GRADIENTS, PROGRESS_FILE, SENSITIVITY_FILE, CLOSEST, STUDY_FILE, RECORD)
"""Files that a run writes into its folder, besides the parts and the lock."""

CLEARED = (PICTURE, REPORT, *WRITTEN)
"""Files that starting anew deletes, with the parts; run.json last. The picture is drawn by the command after a run, the
page by ``ridefront report``."""

TABLE_FILES = tuple(f"{path}.csv" for path in CURVES)
"""Files of springs and dampers in the folder of tables: those that the study names, as read, by their keys."""

_ROAD = re.compile(r"road-[1-9]\d*\.(csv|parquet)")
_PART = re.compile(r"part-(\d{6,})(?:-(\d{6,}))?\.parquet")
_TEMPORARY = re.compile(r"\.(.+)\.tmp")


def part_name(first: int, last: int | None = None) -> str:
    """The file of a block's rows: ``part-000000.parquet`` is the first; with `last` of all blocks up to that one."""
    return f"part-{first:06d}{'' if last is None else f'-{last:06d}'}.parquet"


def part_blocks(name: str) -> tuple[int, int] | None:
    """The first and the last block in a part; None for other files."""
    found = _PART.fullmatch(name)
    if found is None:
        return None
    blocks = int(found[1]), int(found[2] or found[1])
    return blocks if blocks[0] <= blocks[1] else None


def road_name(index: int, suffix: str) -> str:
    """The file of a measured road in the folder of tables: ``road-1.csv`` is of the study's first road."""
    return f"road-{index + 1}{suffix}"


def is_table(name: str) -> bool:
    """Whether a name is one that a file in the folder of tables may have."""
    return name == START or name in TABLE_FILES or _ROAD.fullmatch(name) is not None


def is_temporary(name: str) -> bool:
    """Whether a name is one under which a run writes a file before it is whole."""
    found = _TEMPORARY.fullmatch(name)
    return found is not None and (found[1] in WRITTEN or is_table(found[1]) or part_blocks(found[1]) is not None)
