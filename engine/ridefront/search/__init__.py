"""Search: which designs to evaluate, and the front of those that were. Arrays in, arrays out.

Designs are points of the unit cube, objectives are to be minimised, a violation of 0 is feasible. What a design stands
for, where its figures come from and where they go is not known here. To add a stage: a generator of blocks like those
in `plan`, its name at the end of `STAGES`, and its line in `plan`.
"""

from ridefront.search.archive import Archive
from ridefront.search.asked import snap
from ridefront.search.front import LARGE, Rows, as_rows, nondominated
from ridefront.search.plan import ALL_DONE, EXHAUSTED, SAMPLE_BLOCK, STAGES, Block, Settings, plan
from ridefront.search.spread import compromise, spread
from ridefront.search.volume import Box

__all__ = [
    "ALL_DONE",
    "EXHAUSTED",
    "LARGE",
    "SAMPLE_BLOCK",
    "STAGES",
    "Archive",
    "Block",
    "Box",
    "Rows",
    "Settings",
    "as_rows",
    "compromise",
    "nondominated",
    "plan",
    "snap",
    "spread",
]
