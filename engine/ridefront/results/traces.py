"""Histories of setups as a Parquet table: a row a moment, setup after setup, condition after condition; SI."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa

from ridefront.errors import CallError
from ridefront.evaluate import STATUS, Evaluator
from ridefront.evaluate.tracing import Trace, samples, traced_places, traces
from ridefront.results.batch import numbers
from ridefront.results.columns import NO_UNIT, WORDS, Column, schema_of
from ridefront.results.designs import read_designs
from ridefront.results.tables import write_table
from ridefront.study.model import Array, Study
from ridefront.study.space import check_within, set_values

MOST_ROWS = 2_000_000
"""Of a table of histories, which is put together in memory."""

PRESENT = "present"
"""What the present setup is called."""


@dataclass(frozen=True)
class Lineup:
    """Setups whose histories are wanted.

    Attributes:
        labels: what each is called, all different.
        designs: numbers of those that come from a table of designs; None for the others.
        X: (n, d), in the units of the study's variables.
    """

    labels: tuple[str, ...]
    designs: tuple[int | None, ...]
    X: Array

    def __len__(self) -> int:
        return len(self.labels)

    def head(self, count: int) -> Lineup:
        """The first few."""
        return Lineup(self.labels[:count], self.designs[:count], self.X[:count])


def line_up(study: Study, pairs: Sequence[str] = (), designs: Path | None = None) -> Lineup:
    """The present setup, where the study has one; one set by hand, if anything is; the designs of a file.

    Args:
        study: whose variables they are.
        pairs: each ``NAME=VALUE``, changes of the present setup; see `ridefront.study.space.set_values`.
        designs: CSV or Parquet; see `ridefront.results.designs.read_designs`.

    Raises:
        StudyError: the file is wrong.
        CallError: there is no setup at all, a pair is wrong, or a design lies outside the bounds.
    """
    labels: list[str] = []
    numbered: list[int | None] = []
    rows: list[Array] = []
    if study.present is not None:
        labels.append(PRESENT)
        rows.append(study.present[np.newaxis])
    if pairs:
        by_hand = set_values(study, pairs)
        check_within(study, by_hand)
        labels.append(_in_words(study, pairs, by_hand))
        rows.append(by_hand)
    numbered += [None] * len(labels)
    if designs is not None:
        read = read_designs(study, designs)
        try:
            check_within(study, read.X)
        except CallError as error:
            raise CallError(f"{designs}: {error.message}", error.hint) from None
        listed = read.numbers.tolist()
        repeated = len(set(listed)) < len(listed)
        labels += [f"design {k}{f', row {row + 1}' if repeated else ''}" for row, k in enumerate(listed)]
        numbered += listed
        rows.append(read.X)
    if not rows:
        hint = "set every variable with --set NAME=VALUE, or give a file of designs with --designs"
        raise CallError("no setup to trace: the study has no [present] setup", hint)
    return Lineup(tuple(labels), tuple(numbered), np.concatenate(rows))


def _in_words(study: Study, pairs: Sequence[str], X: Array) -> str:
    """The setup by hand: what was set, and to what, in the study's units."""
    names = [pair.partition("=")[0].strip() for pair in pairs]
    return ", ".join(
        f"{variable.path}={X[0, j]:.6g} {variable.unit}".removesuffix(" 1")
        for j, variable in enumerate(study.variables)
        if variable.path in names
    )


_CORNER: tuple[tuple[str, str, str, Callable[[Trace], Array]], ...] = (
    (
        "road", "m", "height of the road under the tyre, averaged over the contact patch",
        lambda trace: np.broadcast_to(trace.road, trace.wheel.shape),
    ),
    ("wheel", "m", "height of the wheel above where it rests on a level road", lambda trace: trace.wheel),
    ("body", "m", "height of the body above the axle, from where it rests on a level road", lambda trace: trace.body),
    (
        "travel", "m", "travel from the reference position, bump positive; of a beam axle at its springs",
        lambda trace: trace.travel,
    ),
    (
        "travel_speed", "m/s", "speed of travel at the wheel, bump positive; of a beam axle where its dampers are",
        lambda trace: trace.travel_speed,
    ),
    ("damper_speed", "m/s", "speed of the damper itself, bump positive", lambda trace: trace.damper_speed),
    (
        "damper_force", "N", "force of the damper itself, positive where it resists bump, less what its gas does",
        lambda trace: trace.damper_force,
    ),
    (
        "stop_force", "N", "force of the stops at the wheel: of the bump stop positive, of the rebound stop negative",
        lambda trace: trace.stop_force,
    ),
    ("contact_force", "N", "force between tyre and road", lambda trace: trace.contact_force),
)  # fmt: skip
"""Histories of each corner: name before the dot, unit, description, values (n, corners, t)."""

_POINT: tuple[tuple[str, str, str, Callable[[Trace], Array]], ...] = (
    ("height", "m", "height of this point of the body, from where it rests on a level road", lambda t: t.height),
    ("acceleration", "m/s^2", "vertical acceleration", lambda t: t.acceleration),
    ("weighted", "m/s^2", "vertical acceleration, weighted by Wk of ISO 2631-1", lambda t: t.weighted),
    ("smooth", "m/s^2", "vertical acceleration below 30 Hz, as largest ones are taken", lambda t: t.smooth),
)
"""Histories of each seat and of the body's centre of mass, likewise, (n, points, t)."""

_LIMIT: tuple[tuple[str, str, Callable[[Trace], Array]], ...] = (
    ("static_travel", "travel at which the load rests", lambda t: t.static_travel),
    ("bump_stop", "travel at which the bump stop is met; null without one", lambda t: t.bump_stop),
    ("rebound_stop", "travel at which the rebound stop is met; null without one", lambda t: t.rebound_stop),
    ("bump_end", "travel at the end of bump; null where it is not given", lambda t: t.bump_end),
    ("rebound_end", "travel at the end of rebound; null where it is not given", lambda t: t.rebound_end),
)
"""What travel is seen against at each corner, (n, corners); the same in all rows of a setup in a condition."""


def trace_columns(corners: Sequence[str], points: Sequence[str]) -> tuple[Column, ...]:
    """Columns of the table: histories and limits of each corner, then of each point, ``travel.front`` and the like."""
    columns = [
        Column("setup", WORDS, NO_UNIT, "present, what was set by hand, or the design's number in its file"),
        Column("design", pa.int64(), "1", "number of a design that came from a file; null for the other setups"),
        Column("condition", WORDS, NO_UNIT, "road @ speed, load"),
        Column("status", WORDS, NO_UNIT, "ok, or why the setup has no histories (then they are null)"),
        Column("time", pa.float64(), "s", "from where the trace starts"),
        Column("distance", pa.float64(), "m", "of the front axle along the road (of the only one in a quarter car)"),
    ]
    if len(corners) > 1:
        columns.append(Column("pitch", pa.float64(), "rad", "pitch angle of the body, nose down"))
    if len(corners) > 2:
        columns.append(Column("roll", pa.float64(), "rad", "roll angle of the body, left side up"))
    for corner in corners:
        columns += [Column(f"{name}.{corner}", pa.float64(), unit, text) for name, unit, text, _ in _CORNER]
        columns.append(Column(f"lift_off.{corner}", pa.bool_(), NO_UNIT, "whether the wheel is off the ground"))
        columns += [Column(f"{name}.{corner}", pa.float64(), "m", text) for name, text, _ in _LIMIT]
    for point in points:
        columns += [Column(f"{name}.{point}", pa.float64(), unit, text) for name, unit, text, _ in _POINT]
    return tuple(columns)


def traces_table(evaluator: Evaluator, lineup: Lineup, conditions: Sequence[int]) -> pa.Table:
    """Histories of setups in conditions, whole; the setups' values stand in the metadata as JSON.

    Args:
        evaluator: of the study.
        lineup: setups.
        conditions: indices.

    Raises:
        CallError: they do not fit one table.
    """
    study = evaluator.study
    rows = len(lineup) * sum(samples(evaluator, c) for c in conditions)
    if rows > MOST_ROWS:
        raise CallError(
            f"{rows:,} rows of histories (setups × conditions: {len(lineup):,} × {len(conditions)}); "
            f"allowed: {MOST_ROWS:,}",
            "trace fewer designs or conditions at a time",
        )
    points = [place.name for place in traced_places(evaluator)]
    values = {
        label: {variable.path: float(x) for variable, x in zip(study.variables, row, strict=True)}
        for label, row in zip(lineup.labels, lineup.X, strict=True)
    }
    units = {variable.path: variable.unit for variable in study.variables}
    metadata = {
        "study": study.title,
        "setups": json.dumps(values, ensure_ascii=False),
        "setup_units": json.dumps(units, ensure_ascii=False),
    }
    schema = schema_of(trace_columns(evaluator.model.corners, points), metadata)
    parts = []
    for c in conditions:
        for chunk, trace in traces(evaluator, lineup.X, c):
            parts += [_rows(lineup, chunk.start + k, trace, k, schema) for k in range(len(trace.status))]
    return pa.concat_tables(parts).unify_dictionaries()


def _rows(lineup: Lineup, row: int, trace: Trace, k: int, schema: pa.Schema) -> pa.Table:
    """The rows of one setup in one condition: the k-th of a trace."""
    t = len(trace.time)
    number = lineup.designs[row]
    columns = [
        _word(lineup.labels[row], t),
        pa.nulls(t, pa.int64()) if number is None else pa.array(np.full(t, number)),
        _word(trace.condition, t),
        _word(STATUS[trace.status[k]], t),
        numbers(trace.time),
        numbers(trace.distance),
    ]
    if len(trace.corners) > 1:
        columns.append(numbers(trace.pitch[k]))
    if len(trace.corners) > 2:
        columns.append(numbers(trace.roll[k]))
    for c in range(len(trace.corners)):
        columns += [numbers(of(trace)[k, c]) for *_, of in _CORNER]
        columns.append(pa.array(trace.lift_off[k, c]) if trace.ok[k] else pa.nulls(t, pa.bool_()))
        columns += [numbers(np.full(t, of(trace)[k, c])) for *_, of in _LIMIT]
    for p in range(len(trace.points)):
        columns += [numbers(of(trace)[k, p]) for *_, of in _POINT]
    return pa.Table.from_arrays(columns, schema=schema)


def _word(word: str, n: int) -> pa.Array:
    return pa.DictionaryArray.from_arrays(pa.array(np.zeros(n, dtype=np.int32)), pa.array([word], pa.string()))


def write_traces(evaluator: Evaluator, lineup: Lineup, conditions: Sequence[int], path: Path) -> None:
    """Write histories as Parquet, whole or not at all; raises as `traces_table`, and ResultError if it cannot."""
    write_table(path, traces_table(evaluator, lineup, conditions))
