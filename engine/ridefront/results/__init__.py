"""What a run stores and how it is read back: columns, tables, the run's folder.

columns     the columns of every table, with units and descriptions
sampling    which figures depend on roads that were drawn, and on how rides are worked out
batch       the rows of a block: arrays to table and back
tables      files that are whole or not there
names       what the files are called
record      run.json
folder      the run's folder: lock, parts, refusals
writer      a thread that stores blocks
read        results as pandas frames
designs     designs that are handed in
given       tables of their figures
roughness   how rough measured roads are
dictionary  the data dictionary, results/README.md
"""

from ridefront.results.read import read_evaluations, read_front, read_front_pieces, read_progress

__all__ = ["read_evaluations", "read_front", "read_front_pieces", "read_progress"]
