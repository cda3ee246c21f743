"""What a run stores and how it is read back: columns, tables, the run's folder.

columns     the columns of every table, with units and descriptions
sampling    which figures depend on roads that were drawn, and on how rides are worked out
batch       the rows of a block: arrays to table and back
tables      files that are whole or not there
names       what the files are called
record      run.json
lock        a lock on a folder
folder      the run's folder: parts, refusals
misses      what designs miss constraints by, and those that miss least
writer      a thread that stores blocks
read        results as pandas frames
stored      a run's folder read back, its study included
designs     designs that are handed in
given       tables of their figures
roughness   how rough measured roads are
dictionary  the data dictionary, results/README.md
"""

from ridefront.results.read import (
    read_closest,
    read_evaluations,
    read_front,
    read_front_pieces,
    read_progress,
    read_sensitivity,
)

__all__ = [
    "read_closest",
    "read_evaluations",
    "read_front",
    "read_front_pieces",
    "read_progress",
    "read_sensitivity",
]
