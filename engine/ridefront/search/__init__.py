"""Search: which designs to evaluate, and the front of those that were. Arrays in, arrays out.

Designs are points of the unit cube, objectives are to be minimised, a violation of 0 is feasible. What a design stands
for, where its figures come from and where they go is not known here. To add a stage: a generator of blocks like those
in `plan`, its name at the end of `STAGES`, and its line in `plan`.

Throughout, U (n, d) is in shares of the variables' ranges; F (n, m) in whatever unit each objective is handed in, with
its sign changed where it is to be large; V (n,) without unit, each excess over its constraint's scale; P (n, parts)
each in its figure's unit. A span is an objective's range over a front.
"""

from ridefront.search.archive import Archive
from ridefront.search.asked import snap
from ridefront.search.closest import closest
from ridefront.search.front import LARGE, Rows, as_rows, nondominated
from ridefront.search.moves import Indices, indices, moves_sample
from ridefront.search.parts import Anatomy, Limit, Made, branches, excess, figure
from ridefront.search.plan import ALL_DONE, EXHAUSTED, SAMPLE_BLOCK, STAGES, Block, Settings, plan
from ridefront.search.probe import ordered_alike, probes, varies
from ridefront.search.refine import first_block
from ridefront.search.spread import compromise, spread
from ridefront.search.volume import Box

__all__ = [
    "ALL_DONE",
    "EXHAUSTED",
    "LARGE",
    "SAMPLE_BLOCK",
    "STAGES",
    "Anatomy",
    "Archive",
    "Block",
    "Box",
    "Indices",
    "Limit",
    "Made",
    "Rows",
    "Settings",
    "as_rows",
    "branches",
    "closest",
    "compromise",
    "excess",
    "figure",
    "first_block",
    "indices",
    "moves_sample",
    "nondominated",
    "ordered_alike",
    "plan",
    "probes",
    "snap",
    "spread",
    "varies",
]
