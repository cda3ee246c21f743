"""The columns of every table: name, type, unit, description. Schemas and the data dictionary come from here.

To add a column: its row here, and its values in `batch` (for evaluations), in what closes a run (for the front's own)
or where its table is put together.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pyarrow as pa

from ridefront.results.sampling import compared, drawn, sampled
from ridefront.study.keys import QUANTITIES
from ridefront.study.model import Measure, Study

NO_UNIT = "none"
"""Unit of columns that hold words or flags; plain numbers have the unit 1."""

PANDAS_ATTRS = b"PANDAS_ATTRS"
"""Key of the file's metadata from which pandas fills a frame's attrs."""

WORDS = pa.dictionary(pa.int32(), pa.string())
"""Type of columns with few different words."""


@dataclass(frozen=True)
class Column:
    """One column of a stored table.

    Attributes:
        name: as stored.
        type: Arrow type.
        unit: of the numbers; `NO_UNIT` for words and flags.
        description: in a line, for people.
    """

    name: str
    type: pa.DataType
    unit: str
    description: str

    @property
    def field(self) -> pa.Field:
        """The Arrow field, unit and description in its metadata."""
        return pa.field(self.name, self.type, metadata={"unit": self.unit, "description": self.description})


BEFORE = (
    Column("design", pa.int64(), "1", "row number in the order in which designs were asked; the design's own number"),
    Column(
        "stage", WORDS, NO_UNIT,
        "who asked: present (today's setup), sample, evolve; with response auto then repeat (the last population anew) "
        "and continue",
    ),
    Column("generation", pa.int32(), "1", "generation of the stages evolve and continue, from 1; 0 in the others"),
    Column(
        "response", WORDS, NO_UNIT,
        "how rides on random roads were worked out: frequency-domain or time-domain; obstacles are always driven in "
        "the time domain",
    ),
    Column(
        "realisations", pa.int32(), "1",
        "realisations driven of each random road, the fewest where roads differ; null in the frequency domain",
    ),
)  # fmt: skip
"""Columns of evaluations and front before the variables."""

AFTER = (
    Column("feasible", pa.bool_(), NO_UNIT, "whether all constraints hold; false where the design failed"),
    Column(
        "violation", pa.float64(), "1",
        "sum over constraints of what is missing, each over the larger of its limit and the criterion's typical size; "
        "0 where all hold, null where the design failed",
    ),
    Column("status", WORDS, NO_UNIT, "ok, or why the design has no figures (then they are null)"),
)  # fmt: skip
"""Columns of evaluations and front after the measures."""

PROGRESS = (
    Column("stage", WORDS, NO_UNIT, "sample, evolve; with response auto then repeat and continue, in the time domain"),
    Column("generation", pa.int32(), "1", "generation of the stages evolve and continue; 0 in the others"),
    Column("evaluations", pa.int64(), "1", "rows of evaluations by the end of the generation, present setup included"),
    Column(
        "front", pa.int64(), "1",
        "designs on the front by then; with response auto from repeat on of designs worked out in the time domain only",
    ),
    Column(
        "hypervolume", pa.float64(), "1",
        "what the front dominates of a box that is fixed after the sample, over the box; null while there is no box; "
        "from repeat on in a box of the time domain, so that figures before and after do not compare",
    ),
    Column("feasible_share", pa.float64(), "1", "of the generation's designs, how many meet all constraints"),
    Column("seconds", pa.float64(), "s", "spent on the generation, search and storing included, pauses not"),
    Column("designs_per_second", pa.float64(), "1/s", "the generation's designs over its seconds"),
)  # fmt: skip
"""Columns of progress.parquet."""

PIECES = (
    Column("design", pa.int64(), "1", "the design's number in evaluations"),
    Column("criterion", WORDS, NO_UNIT, "name of the criterion"),
    Column("place", WORDS, NO_UNIT, "axle, seat or body; vehicle where the criterion has no place"),
    Column("condition", WORDS, NO_UNIT, "road @ speed, load; at rest and the load where no road is needed"),
    Column(
        "response", WORDS, NO_UNIT,
        "how the ride was worked out: frequency-domain or time-domain; at rest where no road is needed",
    ),
    Column("value", pa.float64(), "see the column unit", "the criterion's figure, in SI; null where the design failed"),
    Column("se", pa.float64(), "see the column unit", "standard error of value; null where there is no sampling error"),
    Column("unit", WORDS, NO_UNIT, "SI unit of value and se"),
)  # fmt: skip
"""Columns of front_pieces.parquet and of every table of pieces."""


COMPARED = 1
"""Realisations of each random road behind the differences between the domains in studies of the frequency
domain: a whole front driven over all of them would take longer than the search that found it.
"""


def evaluation_columns(study: Study) -> tuple[Column, ...]:
    """Columns of evaluations: one per variable and per measure, in the study's units, and standard errors."""
    variables = [Column(v.path, pa.float64(), v.unit, variable_description(v.path)) for v in study.variables]
    measures = [Column(m.label, pa.float64(), m.unit, measure_description(study, m)) for m in study.measures]
    unless = "; null in the frequency domain" if study.response == "auto" else ""
    errors = [_of(m, ".se", f"{_ERROR}{unless}") for m in sampled(study)]
    return (*BEFORE, *variables, *measures, *errors, *AFTER)


def front_columns(study: Study) -> tuple[Column, ...]:
    """Columns of the front: those of evaluations, then what is worked out of it when a run ends; null until then."""
    roads = " (one realisation of each random road)" if study.response == "frequency-domain" else ""
    differences = [_of(m, ".difference", _DIFFERENCE.format(roads)) for m in compared(study)]
    held_out = [_of(m, ".held_out", _HELD_OUT) for m in drawn(study)]
    errors = [_of(m, ".held_out.se", f"{_ERROR}; of the figure on held-out roads") for m in sampled(study)]
    return (*evaluation_columns(study), *differences, *held_out, *errors)


_ERROR = "standard error of {label}: how much another set of realisations of the same roads would move it"
_DIFFERENCE = "{{label}}: the figure of the time domain{} less that of the frequency domain; null where one has none"
_HELD_OUT = "{label} on as many realisations of the roads that the search never saw"


def _of(measure: Measure, ending: str, description: str) -> Column:
    """A further column of a measure."""
    return Column(measure.label + ending, pa.float64(), measure.unit, description.format(label=measure.label))


def variable_description(path: str) -> str:
    """What a design variable is: the quantity in words, and what the table of keys says of it."""
    words = path.replace(".", " ").replace("_", " ")
    return f"design variable {words}: {QUANTITIES[path].description}"


def measure_description(study: Study, measure: Measure) -> str:
    """What a measure is, how its pieces are combined, and what the study wants of it."""
    from ridefront.criteria import CRITERIA  # the kernels behind it take their time to load

    row = CRITERIA[measure.criterion]
    parts = [row.description]
    if measure.place is not None:
        parts.append(f"at {measure.place}")
    elif row.places != "vehicle":
        parts.append(f"{measure.worst} over places")
    if row.kind == "condition":
        how = measure.worst if measure.over == "worst" else measure.over
        parts.append(f"{how} over {', '.join(study.conditions[c].name for c in measure.conditions)}")
    elif row.kind == "load":
        names = [study.loads[load].name or "the vehicle as given" for load in measure.loads]
        parts.append(f"{measure.worst} over {', '.join(names)}")
    for objective in study.objectives:
        if objective.measure.label == measure.label:
            parts.append("objective, small is better" if objective.sign > 0 else "objective, large is better")
    for constraint in study.constraints:
        if constraint.measure.label == measure.label:
            parts.append(f"constraint, {constraint.kind.replace('_', ' ')} {constraint.limit:g} {measure.unit}")
    return "; ".join(parts)


def schema_of(columns: Sequence[Column], metadata: Mapping[str, str]) -> pa.Schema:
    """The explicit schema of a table.

    Args:
        columns: of the table.
        metadata: of the file; the units and descriptions are added to it once more, where pandas looks for them.
    """
    attrs = {
        "units": {column.name: column.unit for column in columns},
        "descriptions": {column.name: column.description for column in columns},
    }
    whole = {**metadata, PANDAS_ATTRS.decode(): json.dumps(attrs, ensure_ascii=False)}
    return pa.schema([column.field for column in columns], metadata=whole)


def words_of(schema: pa.Schema) -> list[str]:
    """Names of the columns with few different words, which Parquet stores by number."""
    return [field.name for field in schema if pa.types.is_dictionary(field.type)]
