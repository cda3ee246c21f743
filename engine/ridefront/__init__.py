"""Ridefront explores suspension setups: comfort against road holding and rattle space.

A study file gives what is known of a vehicle and ranges for what is not; `run_study` works out the front of best
compromises; `read_front` gives it back as a table with units. Names are loaded when they are first used.

    >>> import ridefront
    >>> "comfort" in ridefront.CRITERIA
    True
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ridefront.criteria import CRITERIA
    from ridefront.errors import CallError, ResultError, RidefrontError, StudyError
    from ridefront.evaluate import Evaluation, Evaluator, Pieces
    from ridefront.report.notebook import road_by_road, trade_off
    from ridefront.results import read_evaluations, read_front, read_front_pieces
    from ridefront.run import run_study
    from ridefront.study import Study, read_study

__version__ = "0.1.0"

_HOMES = {
    "CRITERIA": "criteria",
    "CallError": "errors",
    "Evaluation": "evaluate",
    "Evaluator": "evaluate",
    "Pieces": "evaluate",
    "ResultError": "errors",
    "RidefrontError": "errors",
    "Study": "study",
    "StudyError": "errors",
    "read_evaluations": "results",
    "read_front": "results",
    "read_front_pieces": "results",
    "read_study": "study",
    "road_by_road": "report.notebook",
    "run_study": "run",
    "trade_off": "report.notebook",
}

__all__ = [
    "CRITERIA",
    "CallError",
    "Evaluation",
    "Evaluator",
    "Pieces",
    "ResultError",
    "RidefrontError",
    "Study",
    "StudyError",
    "read_evaluations",
    "read_front",
    "read_front_pieces",
    "read_study",
    "road_by_road",
    "run_study",
    "trade_off",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'ridefront' has no attribute {name!r}")
    return getattr(import_module(f"ridefront.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOMES])
