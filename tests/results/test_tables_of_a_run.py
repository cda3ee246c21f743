"""What a real run stores: units and descriptions on every column, null instead of NaN, frames that know their units."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from ridefront.criteria import CRITERIA
from ridefront.errors import ResultError
from ridefront.results import read_evaluations, read_front, read_front_pieces, read_progress
from ridefront.results.columns import AFTER, BEFORE, PIECES, PROGRESS, evaluation_columns
from ridefront.results.dictionary import dictionary
from ridefront.run import run_study
from ridefront.study import read_study
from small_runs import parts_of, small_study

ROOT = Path(__file__).parents[2]
COMPARED_MEASURES = ["comfort", "dynamic_load_coefficient", "bump_reserve"]
TABLES = ["front.parquet", "front_pieces.parquet", "progress.parquet", "evaluations/part-000001.parquet"]


@pytest.fixture(scope="module", name="folder")
def run_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run in which some designs fail: a load behind the rear axle lifts the lighter ones off the road."""
    place = tmp_path_factory.mktemp("run")
    light = ('corner_mass = "400 kg"', 'corner_mass = { low = "60 kg", high = "400 kg" }')
    load = '[[load]]\nname = "overhang"\nmasses = [{ mass = "700 kg", behind_front_axle = "3.5 m" }]\n'
    study = small_study(
        place,
        light,
        ('model = "quarter-car"', 'model = "quarter-car"\nwheelbase = "2.5 m"'),
        ("[[condition]]", load + '[[condition]]\nload = "overhang"'),
        ("[present]", '[present]\nbody.corner_mass = "400 kg"'),
        name="NAME.toml",
    )
    result = run_study(study, place / "results", workers=2)
    assert 0 < result.failed < result.evaluations - result.front
    return result.folder


@pytest.mark.parametrize("name", TABLES)
def test_every_column_has_a_unit_and_a_description(folder: Path, name: str) -> None:
    schema = pq.read_schema(folder / name)
    attrs = json.loads(schema.metadata[b"PANDAS_ATTRS"])
    for field in schema:
        unit, description = field.metadata[b"unit"].decode(), field.metadata[b"description"].decode()
        assert unit
        assert len(description) >= 10, field.name
        assert attrs["units"][field.name] == unit
        assert attrs["descriptions"][field.name] == description
    assert list(attrs["units"]) == schema.names


@pytest.mark.parametrize("name", TABLES)
def test_file_says_what_it_is_of(folder: Path, name: str) -> None:
    metadata = pq.read_schema(folder / name).metadata
    assert metadata[b"study"] == b"Corner for tests"
    assert set(json.loads(metadata[b"digests"])) == {"figures", "plan", "engine"}
    assert json.loads(metadata[b"versions"])["numpy"] == np.__version__


@pytest.mark.parametrize("name", TABLES)
def test_no_nan_anywhere(folder: Path, name: str) -> None:
    table = pq.read_table(folder / name)
    floats = [column for column in table.columns if pa.types.is_floating(column.type)]
    assert floats
    for column in floats:
        assert not pc.any(pc.is_nan(column)).as_py()


def test_failed_designs_have_null_for_figures(folder: Path) -> None:
    rows = [row for part in parts_of(folder) for row in pq.read_table(part).to_pylist()]
    failed = [row for row in rows if row["status"] != "ok"]
    assert failed
    for row in rows:
        missing = [row[name] is None for name in ("comfort", "bump_reserve", "ride_frequency", "violation")]
        assert all(missing) if row["status"] != "ok" else not any(missing)
    assert {row["status"] for row in failed} == {"no-static-equilibrium"}


def test_schema_is_the_same_in_every_part_and_the_front(folder: Path) -> None:
    study = read_study(folder / "study.toml")
    names = [column.name for column in evaluation_columns(study)]
    expected = [*(c.name for c in BEFORE), *(v.path for v in study.variables), *(m.label for m in study.measures)]
    assert names[: len(expected)] == expected
    assert names[-len(AFTER) :] == [c.name for c in AFTER]
    first = pq.read_schema(parts_of(folder)[0])
    assert first.names == [*names, "parts"]
    for file in parts_of(folder):
        assert pq.read_schema(file).equals(first)
    front = pq.read_schema(folder / "front.parquet")
    assert [front.field(k) for k in range(len(names))] == [first.field(k) for k in range(len(names))]
    of_front = ["residual", "held_by", "nondominated", "nondominated_realisations"]
    assert front.names[len(names) :] == [*(f"{name}.difference" for name in COMPARED_MEASURES), *of_front]


def test_figures_are_in_the_studys_units(folder: Path) -> None:
    front = read_front(folder)
    units = front.attrs["units"]
    assert (units["front.spring_rate"], units["front.damping"], units["bump_reserve"]) == ("N/mm", "N*s/m", "mm")
    assert front["front.spring_rate"].between(12, 40).all()
    assert "of the spring itself" in front.attrs["descriptions"]["front.spring_rate"]
    said = front.attrs["descriptions"]["ride_frequency"]
    assert said.startswith(CRITERIA["ride_frequency"].description)
    assert "constraint, at most 1.6 Hz" in said
    assert "objective, large is better" in front.attrs["descriptions"]["bump_reserve"]


def test_frames_come_from_folder_or_file(folder: Path) -> None:
    for read, name in ((read_front, TABLES[0]), (read_front_pieces, TABLES[1]), (read_progress, TABLES[2])):
        from_folder, from_file = read(folder), read(str(folder / name))
        assert from_folder.equals(from_file)
        assert from_folder.attrs == from_file.attrs != {}
    whole, inner = read_evaluations(folder), read_evaluations(folder / "evaluations")
    assert whole.equals(inner)
    assert whole["design"].tolist() == list(range(129))
    assert isinstance(whole["stage"].dtype, pd.CategoricalDtype)


def test_pandas_alone_finds_the_units(folder: Path) -> None:
    frame = pd.read_parquet(folder / "front.parquet")
    assert frame.attrs["units"] == read_front(folder).attrs["units"]


def test_folder_without_results_is_named(tmp_path: Path, folder: Path) -> None:
    with pytest.raises(ResultError, match=r"no front\.parquet\n.*the same call as before goes on"):
        read_front(tmp_path)
    with pytest.raises(ResultError, match="no evaluations; allowed: a run's folder"):
        read_evaluations(tmp_path)
    with pytest.raises(ResultError, match=r"nowhere: no such f"):
        read_evaluations(tmp_path / "nowhere")
    with pytest.raises(ResultError, match=r"nowhere: no such f"):
        read_front(tmp_path / "nowhere")
    shutil.copytree(folder, tmp_path / "mixed")
    shutil.copy(folder / "progress.parquet", parts_of(tmp_path / "mixed")[2])
    with pytest.raises(ResultError, match=r"part-000002\.parquet: foreign"):
        read_evaluations(tmp_path / "mixed")


def test_page_is_what_the_descriptions_say() -> None:
    page = dictionary()
    for column in (*BEFORE, *AFTER, *PROGRESS, *PIECES):
        assert f"| `{column.name}` |" in page
        assert column.description in page
    for name, row in CRITERIA.items():
        assert f"| `{name}` | {row.display_unit} |" in page
    written = (ROOT / "results" / "README.md").read_text(encoding="utf-8")
    assert written == page, "write it anew: python -m ridefront.results.dictionary > results/README.md"


def test_the_pages_examples_run(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(folder.parents[1])
    examples = re.findall(r"```python\n(.*?)```", dictionary(), flags=re.S)
    assert len(examples) == 2
    for example in examples:
        exec(compile(example, "example", "exec"), {})
    shown = capsys.readouterr().out
    assert "N/mm" in shown
    assert '"numpy"' in shown
