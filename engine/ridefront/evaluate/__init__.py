"""A study and designs in, figures out: the one place where vehicle, roads, response and criteria meet.

    outcome     what comes out: figures, what became of each design, pieces
    bench       one batch of designs: rides worked out when a criterion first asks for one
    left_out    figures without each realisation of a road
    parts       what each figure is made of, smooth in the design
    evaluator   a study's roads prepared once; designs in batches

What is stored is primary: figures are converted to the study's units once, here, and violations are taken from the
converted figures, so that a search that is sent stored rows sees what it saw the first time. What a failed design is,
is decided here too: a status other than "ok", and no figures at all.
"""

from ridefront.evaluate.evaluator import CHUNK, Evaluator, evaluate, pieces
from ridefront.evaluate.left_out import LeftOut, joined_left_out
from ridefront.evaluate.outcome import (
    AT_REST,
    SETTLED,
    STATUS,
    WHY,
    Domain,
    Evaluation,
    Pieces,
    joined,
    joined_pieces,
)
from ridefront.evaluate.parts import Part, parts_of

__all__ = [
    "AT_REST",
    "CHUNK",
    "SETTLED",
    "STATUS",
    "WHY",
    "Domain",
    "Evaluation",
    "Evaluator",
    "LeftOut",
    "Part",
    "Pieces",
    "evaluate",
    "joined",
    "joined_left_out",
    "joined_pieces",
    "parts_of",
    "pieces",
]
