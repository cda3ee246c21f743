"""The columns of every table: name, type, unit, description. Schemas and the data dictionary come from here.

To add a column: its row here, and its values in `batch` (for evaluations), in what closes a run (for the front's own)
or where its table is put together.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pyarrow as pa

from ridefront.results.sampling import compared, drawn, sampled, spreading
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
        "who asked: present (today's setup), start (an earlier front), sample, evolve, refine; with response auto then "
        "repeat (the best of them anew), continue, refine",
    ),
    Column(
        "generation", pa.int32(), "1",
        "generation of the stages evolve and continue, block of refine, from 1; 0 in the others",
    ),
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

PARTS = Column(
    "parts", pa.list_(pa.float64()), "see the description",
    "what the measures are made of, each at each place in each condition, in the measure's unit, in the order of parts "
    "in run.json, each null where the design failed; in evaluations only, and there only where the search asked for it "
    "(stage refine)",
)  # fmt: skip
"""Last column of the parts of evaluations."""

PROGRESS = (
    Column(
        "stage", WORDS, NO_UNIT,
        "start (where there is an earlier front), sample, evolve, refine; with response auto then repeat, continue and "
        "refine in the time domain",
    ),
    Column(
        "generation", pa.int32(), "1", "generation of the stages evolve and continue, block of refine; 0 in the others"
    ),
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

RESIDUAL = Column(
    "residual", pa.float64(), "1",
    "rate at which all objectives could still gain at once, in shares of the front's range of each, for a whole range "
    "of the variables; 0 where no small step is better in all. Steps and choices are held. Null where there is no "
    "slope: every variable is stepped, a neighbour failed, or an objective or a limit close by jumps",
)  # fmt: skip
HELD_BY = Column(
    "held_by", pa.string(), NO_UNIT,
    "what holds the design where the residual is 0: bounds of variables, limits, places that are worst alike; things "
    "apart by semicolons, empty for nothing, null where there is no residual",
)  # fmt: skip

GRADIENTS = (
    Column("design", pa.int64(), "1", "the design's number in evaluations"),
    Column("measure", WORDS, NO_UNIT, "objective or constraint, as its column in evaluations is called"),
    Column(
        "variable", WORDS, NO_UNIT,
        "continuous design variable by its path; one that is given as so many times another counts as that ratio, and "
        "moves with the other as the ratio stays",
    ),
    Column(
        "value", pa.float64(), "see the column unit",
        "slope of the measure: its change for a hundredth of the variable's range, of its logarithm where the range is "
        "logarithmic; at a kink of the place that is worst; null where a neighbour failed or the measure jumps",
    ),
    Column("unit", WORDS, NO_UNIT, "unit of value, the measure's in the study"),
)  # fmt: skip
"""Columns of front_gradients.parquet."""

SENSITIVITY = (
    Column("measure", WORDS, NO_UNIT, "objective or constraint, as its column in evaluations is called"),
    Column(
        "variable", WORDS, NO_UNIT,
        "design variable by its path; one that is given as so many times another counts as that ratio",
    ),
    Column(
        "kind", WORDS, NO_UNIT,
        "first-order: what the variable does alone; total: with all that it does together with others",
    ),
    Column(
        "response", WORDS, NO_UNIT,
        "how rides on random roads were worked out: in the frequency domain where it has the figure, whatever the "
        "study's response; at rest where no road is needed",
    ),
    Column(
        "value", pa.float64(), "1",
        "Sobol' index over the whole design space: share of the figure's variance, an estimate that may leave 0 to 1; "
        "null where the figure does not vary, or more than a fifth of the sample failed",
    ),
    Column("low", pa.float64(), "1", "lower end of a bootstrap interval of 95 %, which is rather wide; null likewise"),
    Column("high", pa.float64(), "1", "upper end of that interval; null likewise"),
    Column("designs", pa.int64(), "1", "designs behind the value"),
    Column("dropped", pa.float64(), "1", "share of the sample that was left out because a design in it failed"),
)  # fmt: skip
"""Columns of sensitivity.parquet."""


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


NONDOMINATED = Column(
    "nondominated", pa.float64(), "1",
    "probability that the design meets all constraints and no other of the front dominates it, were there no sampling "
    "error: given the figures on the search's realisations and on held-out ones; null where there is no sampling "
    "error, it is not known or not asked for, or the design has no figures on a held-out road",
)  # fmt: skip
NONDOMINATED_REALISATIONS = Column(
    "nondominated_realisations", pa.int32(), "1",
    "held-out realisations of each road behind that probability, beside the search's own, the fewest where roads "
    "differ; more where the place is doubtful",
)  # fmt: skip


OF_PLACE = (RESIDUAL, HELD_BY, NONDOMINATED, NONDOMINATED_REALISATIONS)
"""Columns of the front that say what holds a design there, and how surely."""


def stored_columns(study: Study) -> tuple[Column, ...]:
    """Columns of the stored parts of evaluations."""
    return (*evaluation_columns(study), PARTS)


def front_columns(study: Study) -> tuple[Column, ...]:
    """Columns of the front: those of evaluations, then what is worked out of it when a run ends; null until then."""
    roads = " (one realisation of each random road)" if study.response == "frequency-domain" else ""
    differences = [_of(m, ".difference", _DIFFERENCE.format(roads)) for m in compared(study)]
    held_out = [_of(m, ".held_out", _HELD_OUT) for m in drawn(study)]
    errors = [_of(m, ".held_out.se", f"{_ERROR}; of the figure on held-out roads") for m in sampled(study)]
    spreads = [_of(m, ending, _SPREAD.format(share)) for m in spreading(study) for ending, share in SPREAD_ENDS.items()]
    return (*evaluation_columns(study), *differences, *held_out, *errors, *spreads, *OF_PLACE)


def closest_columns(study: Study) -> tuple[Column, ...]:
    """Columns of closest.parquet: those of evaluations, then what each constraint is missed by."""
    limited = {item.measure.label: item.measure for item in study.constraints}
    return (*evaluation_columns(study), *(_of(m, ".missed", _MISSED) for m in limited.values()))


SPREAD_ENDS = {".scatter_low": "5 %", ".scatter_high": "95 %"}
"""What the names of columns of a front's spread end in, and of how many built vehicles the figure lies above."""

_SPREAD = "{{label}}: {} of the vehicles built within tolerances have a smaller figure; null where one of them has none"
_MISSED = "by how much {label} is beyond its limit; 0 where it holds"
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
    if measure.scatter == "mean":
        parts.append("mean of vehicles built within tolerances")
    elif measure.scatter is not None:
        parts.append(f"what {100 * measure.scatter:.10g} % of vehicles built within tolerances keep to or better")
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
