"""Arrays to tables and back without a bit lost, failed designs as null, pieces in a long table."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from numpy.typing import NDArray

from ridefront.evaluate import STATUS, Domain, Pieces
from ridefront.results.batch import (
    Asking,
    Batch,
    batch_of,
    figures,
    from_table,
    pieces_table,
    to_table,
    with_columns,
)
from ridefront.results.columns import evaluation_columns, front_columns, schema_of, stored_columns
from ridefront.results.sampling import sampled_columns
from ridefront.results.tables import read_table, write_table
from ridefront.study import Study
from ridefront.study.space import decode
from small_runs import AUTO, Formula, small_study


def awkward_batch(study: Study, n: int = 40, start: int = 7, domain: Domain = "frequency-domain") -> Batch:
    """Failed designs among others, and figures that a careless way would change."""
    X = decode(study, np.random.default_rng(start).random((n, 3)))
    asking = Asking("evolve", 3, domain, 8 if domain == "time-domain" else None)
    batch = batch_of(start, asking, X, Formula(study).evaluate(X, domain), 0.1 + 0.2)
    ok = np.flatnonzero(batch.status == 0)
    batch.values[ok[0], :3] = (-0.0, 5e-324, np.nextafter(1.0, 2.0))
    assert 0 < len(ok) < n
    return batch


def assert_same_bits(before: NDArray[np.float64], after: NDArray[np.float64]) -> None:
    """Equal to the last bit, NaN in the same places."""
    assert np.array_equal(np.isnan(before), np.isnan(after))
    known = ~np.isnan(before)
    assert before[known].tobytes() == after[known].tobytes()


@pytest.mark.parametrize("domain", ["frequency-domain", "time-domain"])
@pytest.mark.parametrize("auto", [False, True])
def test_no_bit_is_lost_on_the_way_to_disk_and_back(tmp_path: Path, domain: Domain, auto: bool) -> None:
    study = small_study(tmp_path, *(AUTO if auto else ()))
    sampled = sampled_columns(study)
    assert sampled == ((0, 1, 2) if auto else ())
    batch = awkward_batch(study, domain=domain)
    schema = schema_of(stored_columns(study), {})
    write_table(tmp_path / "a.parquet", to_table(batch, schema, sampled))
    back = from_table(read_table(tmp_path / "a.parquet", schema), 3, 4, sampled, batch.seconds)
    for name in ("X", "values", "violation"):
        assert_same_bits(getattr(batch, name), getattr(back, name))
    assert_same_bits(batch.se if auto else np.full_like(batch.se, np.nan), back.se)
    assert back.parts is None
    assert np.isnan(back.se).all() == (not auto or domain == "frequency-domain")
    assert back.status.tolist() == batch.status.tolist()
    assert (back.start, back.asking, back.seconds) == (7, batch.asking, 0.1 + 0.2)
    assert np.array_equal(back.designs, np.arange(7, 47))


@pytest.mark.parametrize("failed", ["some", "all", "none"])
def test_parts_come_back_bit_for_bit(tmp_path: Path, failed: str) -> None:
    study = small_study(tmp_path)
    batch = awkward_batch(study)
    parts = np.random.default_rng(3).normal(size=(len(batch), 5))
    parts[0] = (-0.0, 5e-324, np.nextafter(1.0, 2.0), np.nan, 1e300)
    parts[{"some": batch.status != 0, "all": slice(None), "none": slice(0)}[failed]] = np.nan
    batch = replace(batch, parts=parts)
    schema = schema_of(stored_columns(study), {})
    write_table(tmp_path / "a.parquet", to_table(batch, schema, ()))
    back = from_table(read_table(tmp_path / "a.parquet", schema), 3, 4, (), batch.seconds)
    assert back.parts is not None
    assert back.parts.shape == parts.shape
    assert_same_bits(parts, back.parts)


@pytest.mark.parametrize("domain", ["frequency-domain", "time-domain"])
def test_table_against_a_slow_twin(tmp_path: Path, domain: Domain) -> None:
    study = small_study(tmp_path, *AUTO)
    batch = awkward_batch(study, domain=domain)
    rows = to_table(batch, schema_of(evaluation_columns(study), {}), sampled_columns(study)).to_pylist()
    for i, row in enumerate(rows):
        failed = batch.status[i] != 0
        unsure = domain == "time-domain" and not failed
        expected = {
            "design": 7 + i,
            "stage": "evolve",
            "generation": 3,
            "response": domain,
            "realisations": 8 if domain == "time-domain" else None,
            **{v.path: batch.X[i, j] for j, v in enumerate(study.variables)},
            **{m.label: None if failed else batch.values[i, k] for k, m in enumerate(study.measures)},
            **{f"{m.label}.se": batch.se[i, k] if unsure else None for k, m in enumerate(study.measures[:3])},
            "feasible": not failed and batch.violation[i] == 0,
            "violation": None if failed else batch.violation[i],
            "status": STATUS[batch.status[i]],
        }
        assert row == expected


@pytest.mark.parametrize(
    ("column", "value", "message"),
    [
        ("design", 9, "not numbered in order"),
        ("generation", 4, "several blocks"),
        ("response", "time-domain", "several blocks"),
        ("realisations", 3, "several blocks"),
        ("status", "fine", "not in tuple"),
    ],
)
def test_rows_that_are_not_one_block_are_refused(tmp_path: Path, column: str, value: object, message: str) -> None:
    study = small_study(tmp_path)
    schema = schema_of(evaluation_columns(study), {})
    rows = to_table(awkward_batch(study), schema, ()).to_pylist()
    rows[5][column] = value
    with pytest.raises(ValueError, match=message):
        from_table(pa.Table.from_pylist(rows, schema), 3, 4, (), 0.0)
    with pytest.raises(ValueError, match="not numbered in order"):
        from_table(schema.empty_table(), 3, 4, (), 0.0)


def test_figures_are_read_back_to_the_last_bit(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    batch = awkward_batch(study)
    X, values = figures(to_table(batch, schema_of(evaluation_columns(study), {}), ()), study)
    assert_same_bits(X, batch.X)
    assert_same_bits(values, batch.values)


def test_further_columns_are_null_where_they_are_not_given(tmp_path: Path) -> None:
    study = small_study(tmp_path, *AUTO)
    batch = awkward_batch(study, domain="time-domain")
    table = to_table(batch, schema_of(evaluation_columns(study), {}), sampled_columns(study))
    schema = schema_of(front_columns(study), {})
    numbers = np.concatenate([[-0.0, np.nan, 5e-324], np.random.default_rng(1).random(len(batch) - 3)])
    wider = with_columns(table, schema, {"comfort.held_out": numbers})
    assert wider.schema.equals(schema, check_metadata=True)
    assert wider.select(table.schema.names).equals(table)
    more = wider.drop_columns(table.schema.names).to_pydict()
    assert more.pop("comfort.held_out") == [None if np.isnan(figure) else figure for figure in numbers]
    of_front = {"residual", "held_by", "nondominated", "nondominated_realisations"}
    assert set(more) - of_front == {
        f"{label}.{ending}"
        for label in ("comfort", "dynamic_load_coefficient", "bump_reserve")
        for ending in ("difference", "held_out", "held_out.se")
    } - {"comfort.held_out"}
    assert schema.field("held_by").type == pa.string()
    words = with_columns(table, schema, {"held_by": ("", None, *["a bound"] * (len(batch) - 2))})
    assert words.column("held_by").to_pylist() == ["", None, *["a bound"] * (len(batch) - 2)]
    assert all(column == [None] * len(batch) for column in more.values())


def test_pieces_against_a_slow_twin() -> None:
    values = np.array([[1.0, 2.0, 3.0], [np.nan, np.nan, np.nan], [7.0, 8.0, 9.0]])
    found = Pieces(
        ("comfort", "comfort", "frequency_ratio"),
        ("driver", "body", ""),
        ("lane @ 50 km/h", "lane @ 50 km/h", "at rest"),
        ("m/s^2", "m/s^2", "1"),
        ("time-domain", "frequency-domain", "at rest"),
        values,
        np.array([[0.5, np.nan, np.nan], [np.nan] * 3, [0.25, np.nan, np.nan]]),
        np.array([0, 1, 0], dtype=np.int8),
    )
    rows = pieces_table(np.array([4, 6, 9]), found).to_pylist()
    assert rows == [
        {
            "design": design,
            "criterion": found.criterion[k],
            "place": found.place[k] or "vehicle",
            "condition": found.condition[k],
            "response": found.response[k],
            "value": None if design == 6 else values[i, k],
            "se": {(4, 0): 0.5, (9, 0): 0.25}.get((design, k)),
            "unit": found.unit[k],
        }
        for i, design in enumerate((4, 6, 9))
        for k in range(3)
    ]
