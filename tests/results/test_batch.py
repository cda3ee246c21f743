"""Arrays to tables and back without a bit lost, failed designs as null, pieces in a long table."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from ridefront.evaluate import STATUS, Pieces
from ridefront.results.batch import Batch, batch_of, from_table, pieces_table, selected_table, to_table
from ridefront.results.columns import evaluation_columns, schema_of
from ridefront.results.tables import read_table, write_table
from ridefront.study import Study
from ridefront.study.space import decode
from small_runs import Formula, small_study


def awkward_batch(study: Study, n: int = 40, start: int = 7) -> Batch:
    """Failed designs among others, and figures that a careless way would change."""
    X = decode(study, np.random.default_rng(start).random((n, 3)))
    batch = batch_of(start, "evolve", 3, X, Formula(study).evaluate(X), 0.1 + 0.2)
    ok = np.flatnonzero(batch.status == 0)
    batch.values[ok[0], :3] = (-0.0, 5e-324, np.nextafter(1.0, 2.0))
    assert 0 < len(ok) < n
    return batch


def test_no_bit_is_lost_on_the_way_to_disk_and_back(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    batch = awkward_batch(study)
    schema = schema_of(evaluation_columns(study), {})
    write_table(tmp_path / "a.parquet", to_table(batch, schema, "frequency-domain"))
    back = from_table(read_table(tmp_path / "a.parquet", schema), 3, 4, batch.seconds)
    for name in ("X", "values", "violation"):
        before, after = getattr(batch, name), getattr(back, name)
        assert np.array_equal(np.isnan(before), np.isnan(after))
        known = ~np.isnan(before)
        assert before[known].tobytes() == after[known].tobytes(), name
    assert back.status.tolist() == batch.status.tolist()
    assert (back.start, back.stage, back.generation, back.seconds) == (7, "evolve", 3, 0.1 + 0.2)
    assert np.array_equal(back.designs, np.arange(7, 47))


def test_table_against_a_slow_twin(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    batch = awkward_batch(study)
    rows = to_table(batch, schema_of(evaluation_columns(study), {}), study.response).to_pylist()
    for i, row in enumerate(rows):
        failed = batch.status[i] != 0
        expected = {
            "design": 7 + i,
            "stage": "evolve",
            "generation": 3,
            "response": "frequency-domain",
            "realisations": None,
            **{v.path: batch.X[i, j] for j, v in enumerate(study.variables)},
            **{m.label: None if failed else batch.values[i, k] for k, m in enumerate(study.measures)},
            "feasible": not failed and batch.violation[i] == 0,
            "violation": None if failed else batch.violation[i],
            "status": STATUS[batch.status[i]],
        }
        assert row == expected


@pytest.mark.parametrize(
    ("column", "value", "message"),
    [("design", 9, "not numbered in order"), ("generation", 4, "several blocks"), ("status", "fine", "not in tuple")],
)
def test_rows_that_are_not_one_block_are_refused(tmp_path: Path, column: str, value: object, message: str) -> None:
    study = small_study(tmp_path)
    schema = schema_of(evaluation_columns(study), {})
    rows = to_table(awkward_batch(study), schema, study.response).to_pylist()
    rows[5][column] = value
    with pytest.raises(ValueError, match=message):
        from_table(pa.Table.from_pylist(rows, schema), 3, 4, 0.0)
    with pytest.raises(ValueError, match="not numbered in order"):
        from_table(schema.empty_table(), 3, 4, 0.0)


def test_selected_rows_are_those_asked_for(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    schema = schema_of(evaluation_columns(study), {})
    batches = [awkward_batch(study, 10, start) for start in (0, 10, 20)]
    every = [row for batch in batches for row in to_table(batch, schema, study.response).to_pylist()]
    for wanted in ([], [3], [0, 9, 10, 29], [11, 12]):
        table = selected_table(batches, np.array(wanted, dtype=np.int64), schema, study.response)
        assert table.to_pylist() == [every[k] for k in wanted]
        assert table.schema.equals(schema, check_metadata=True)


def test_pieces_against_a_slow_twin() -> None:
    values = np.array([[1.0, 2.0, 3.0], [np.nan, np.nan, np.nan], [7.0, 8.0, 9.0]])
    found = Pieces(
        ("comfort", "comfort", "frequency_ratio"),
        ("driver", "body", ""),
        ("lane @ 50 km/h", "lane @ 50 km/h", "at rest"),
        ("m/s^2", "m/s^2", "1"),
        values,
        np.array([0, 1, 0], dtype=np.int8),
    )
    rows = pieces_table(np.array([4, 6, 9]), found, "frequency-domain").to_pylist()
    assert rows == [
        {
            "design": design,
            "criterion": found.criterion[k],
            "place": found.place[k] or "vehicle",
            "condition": found.condition[k],
            "response": "frequency-domain",
            "value": None if design == 6 else values[i, k],
            "se": None,
            "unit": found.unit[k],
        }
        for i, design in enumerate((4, 6, 9))
        for k in range(3)
    ]
