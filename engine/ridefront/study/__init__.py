"""From a study file to a frozen, checked `Study`, and from designs to parameters.

keys           the one table of keys; `reference` prints it for people
reader         the file, every mistake in it at once
vehicle, ranges, needs, conditions, requirements    its parts
model          what a study is
space          the design space: unit cube, stored numbers, SI
digest         what fixes figures, and what fixes which designs are asked
"""

from ridefront.study.model import Condition, Constraint, Measure, Objective, SearchSettings, Study, Variable
from ridefront.study.reader import read_study

__all__ = [
    "Condition", "Constraint", "Measure", "Objective", "SearchSettings", "Study", "Variable", "read_study",
]  # fmt: skip
