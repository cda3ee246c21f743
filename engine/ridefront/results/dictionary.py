"""The data dictionary, results/README.md, from the descriptions that the files themselves carry.

``python -m ridefront.results.dictionary > results/README.md`` writes it anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ridefront.criteria import CRITERIA
from ridefront.evaluate import STATUS
from ridefront.results.columns import (
    AFTER,
    BEFORE,
    GRADIENTS,
    HELD_BY,
    NONDOMINATED,
    NONDOMINATED_REALISATIONS,
    PIECES,
    PROGRESS,
    RESIDUAL,
    SENSITIVITY,
    Column,
)

_HEAD = """\
# Results

Runs write here unless told otherwise: `ridefront run studies/NAME.toml` into `results/NAME/`. This page is made from
the descriptions that the files themselves carry (`python -m ridefront.results.dictionary`).

| in `results/NAME/` | holds |
| --- | --- |
| `front.parquet` | the front: the feasible designs that no other beats in every objective, of all that were evaluated |
| `front_pieces.parquet` | every criterion of the front's designs, a row for each place, condition and response |
| `evaluations/part-*.parquet` | every design that was evaluated, in the order asked |
| `progress.parquet` | how the run went, a row a generation |
| `front_gradients.parquet` | what moves what along the front, a row a front design, measure and variable |
| `sensitivity.parquet` | what moves what over the whole design space, a row a measure, variable and kind of index |
| `closest.parquet` | where no design meets all constraints, those that miss least; else no rows |
| `front.png` | a picture of the front, drawn by the command |
| `report.html` | the page of the result: `ridefront report` writes it |
| `setup_A_12.md` | sheets of picks, here A, design 12: `ridefront choose --sheets` writes them |
| `study.toml` | the study file as it was read |
| `tables/*.csv` | the tables of springs and dampers that it names, as they were read, called after their keys |
| `tables/road-*` | the measured roads that it names, as they were read: `road-1.csv` or `.parquet` is its first road |
| `tables/start.parquet` | the front that the search started with, as it was read |
| `run.json` | state, counts, hypervolume and its box, order of `parts`, start, times, seed, versions, machine |

- Every column has its unit and a description in its Parquet field; a variable or figure is in the unit of the study
  file.
- A row keeps its number (`design`) in all tables. Number 0 is the present setup where the study has one: the
  search does not know it, and it is never on the front.
- `response` is how rides on random roads were worked out; obstacles and measured roads are always driven in the time
  domain, unless a measured road's spectrum is asked for. A front is
  made of one kind only: with `response = "auto"` of the time domain, once its search has got there. There the last
  population and the present setup are worked out anew, as rows with numbers of their own, and the hypervolume has a
  box of its own.
- A standard error says how much another set of realisations of the same roads would move a figure. Columns of the
  front that end in `.difference`, `.held_out`, `.scatter_low` or `.scatter_high` are worked out when a run is done, and
  null before that.
- `counts` in `run.json`: `evaluations` and `failed` are of all rows, `front` and `feasible` of the front's kind
  (`front_response`), the present setup not counted. `realisations` has those of each road behind the front's figures
  and behind the differences; `step` is the time domain's step in seconds and by how much halving it changes figures,
  null where nothing was driven.
- A file of `evaluations` holds a block of designs that were asked together; blocks of every 65,536 rows are packed into
  one, named after its first block and its last.
- A front of more than 16,384 designs is thinned. `front_spacing` in `run.json`, null where it is whole, says how far:
  each design evaluated is bettered or matched by one on the front to within this share of its range in every objective.
- A figure that does not exist is null, never NaN. A design without figures has a `status` other than `ok`.
- `state` in `run.json`: `running` (or killed: the lock goes with its process), `interrupted`, `done`. The same call
  goes on with what is not done. A folder of another study is refused; `--overwrite` starts anew, and deletes only the
  files above, sheets excepted.
- A run's folder is all that it takes to repeat the run, on another machine too: `ridefront run FOLDER --output OTHER`
  reads the study and the copies of its tables there, and says whether the same came out, to the last bit. `versions`
  and `host` in `run.json` are what that may depend on; `called` is the name of the folder.
- Where a call runs several studies, `results/batch.json` is written anew after each of them: `status`, the exit
  status, once all have ended; and in `studies`, one for each in their order, `state` (`not begun`, `running`, `done`,
  `finished before`, `infeasible`, `refused`, `failed` or `interrupted`; `running` of a process that is gone says that
  it was killed), its own exit `status`, counts as in `run.json`, how many designs this call has `added`, `hypervolume`,
  `before` (of the front of the finished run that was in the folder, in the same box; `same_figures` says whether
  figures still mean the same), local time and `seconds` of the call, `error`, and in `log` the file with a program's
  error.
- Files appear whole or not at all; a kill loses the block in hand and the one being stored, nothing else. The
  tables at the end are written when a run ends or is interrupted.
- Nothing here can run code: Parquet, JSON, TOML and CSV only.
"""

_FRONT = (
    (
        "`comfort.difference`",
        "the time domain's figure less the frequency domain's; in studies of the frequency domain over one realisation "
        "of each random road",
    ),
    ("`comfort.held_out`", "the figure on as many realisations of the roads that the search never saw"),
    ("`comfort.held_out.se`", "its standard error"),
    (
        "`comfort.scatter_low`, `comfort.scatter_high`",
        "in studies with `[scatter]`: 5 % and 95 % of the vehicles built within tolerances have a smaller figure",
    ),
    (f"`{RESIDUAL.name}`", RESIDUAL.description),
    (f"`{HELD_BY.name}`", HELD_BY.description),
    (f"`{NONDOMINATED.name}`", NONDOMINATED.description),
    (f"`{NONDOMINATED_REALISATIONS.name}`", NONDOMINATED_REALISATIONS.description),
)

_GRADIENTS = """\
From differences between each front design and its neighbours, in the front's domain; these are not in `evaluations`;
how many designs that took is `certified` among the counts in `run.json`. From the same differences comes `residual`:
the length of the shortest convex combination of the objectives' gradients, each over the front's range of the
objective, that active limits and bounds cannot cancel. No rows while a run has not ended, nor for steps and choices.
"""

_SENSITIVITY = """\
Sobol' indices (Math. Comput. Simul. 55 (2001) 271-280) by `scipy.stats.sobol_indices`, over a quasi-random sample that
fills the space as the study gives it: even over each range, or its logarithm, and over choices and steps. They say what
a variable does to a figure from end to end of its range, feasible or not, and depend on how wide the ranges are.
Designs of the sample are not in `evaluations`; how many there were is `sensitivity` among the counts in `run.json`. No
rows while a run has not ended.
"""

_CLOSEST = """\
The columns of evaluations, and for each constraint what it is missed by in the unit of its figure
(`ride_frequency.missed`; 0 where it holds). At most 20 designs of the front's kind, the least `violation` first: of
those that no other undercuts in every single constraint, some that stand for all.
"""

_READING = """\
## Reading

pandas, units in `attrs`:

```python
import ridefront

front = ridefront.read_front("results/NAME")
print(front.attrs["units"]["front.spring_rate"], front.attrs["descriptions"]["comfort"])
evaluations = ridefront.read_evaluations("results/NAME")
evaluations.groupby(["stage", "status"], observed=True).size()
some = ridefront.read_evaluations("results/NAME", ["design", "comfort"])  # of a long run, only what is needed
```

Any SQL engine that reads Parquet, DuckDB for one (names with a dot or a blank in double quotes):

```sql
SELECT design, "front.spring_rate", comfort
FROM 'results/NAME/evaluations/*.parquet'
WHERE feasible AND comfort < 0.6
ORDER BY comfort;

SELECT condition, place, max(value) AS worst, any_value(unit) AS unit
FROM 'results/NAME/front_pieces.parquet'
WHERE criterion = 'dynamic_load_coefficient' AND response = 'frequency-domain'
GROUP BY condition, place;
```

Where a kill came just while blocks were packed, a pattern finds some rows twice until the same call has gone on with
the run; `read_evaluations` takes each once.

pyarrow alone:

```python
import pyarrow.parquet as pq

table = pq.read_table("results/NAME/front.parquet")
for field in table.schema:
    print(field.name, field.metadata[b"unit"].decode(), field.metadata[b"description"].decode())
print(table.schema.metadata[b"versions"].decode())
```
"""


def dictionary() -> str:
    """The whole page."""
    parts = [
        _HEAD,
        "## `evaluations/part-*.parquet` and `front.parquet`\n",
        _table(BEFORE),
        "Then a column per design variable, named by its path (`front.spring_rate`) in the unit of its range; then a\n"
        "column per objective and constraint, named by criterion, place and what else sets it apart\n"
        "(`comfort.driver`, `damping_ratio (smallest)`); then, for each of these that depends on realisations of\n"
        "roads, its standard error (`comfort.driver.se`); then:\n",
        _table(AFTER),
        "`status` is one of " + ", ".join(f"`{name}`" for name in STATUS) + ".\n",
        "The front has more columns behind these, in the unit of the figure:\n",
        _markdown(("column", "what it is"), _FRONT),
        "## `progress.parquet`\n",
        _table(PROGRESS),
        "## `front_pieces.parquet`\n",
        _table(PIECES),
        "## `front_gradients.parquet`\n",
        _table(GRADIENTS),
        _GRADIENTS,
        "## `sensitivity.parquet`\n",
        _table(SENSITIVITY),
        _SENSITIVITY,
        "## `closest.parquet`\n",
        _CLOSEST,
        "## Criteria\n",
        "A column of evaluations is in the criterion's usual unit unless the study names another; pieces are in SI.\n",
        _criteria(),
        _READING,
    ]
    return "\n".join(parts)


def _table(columns: Sequence[Column]) -> str:
    rows = [(f"`{column.name}`", _type(column), column.unit, column.description) for column in columns]
    return _markdown(("column", "type", "unit", "what it is"), rows)


def _type(column: Column) -> str:
    return "words" if str(column.type).startswith("dictionary") else str(column.type)


def _criteria() -> str:
    rows = [(f"`{row.name}`", row.display_unit, row.unit, row.description) for row in CRITERIA.values()]
    return _markdown(("criterion", "usual unit", "SI unit", "what it is"), rows)


def _markdown(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |\n" for line in lines)


if __name__ == "__main__":
    print(dictionary(), end="")
