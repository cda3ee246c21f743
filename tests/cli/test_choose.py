"""``ridefront choose`` as a person calls it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pyarrow.csv
import pyarrow.parquet
import pytest

from commands import Call, caller
from ridefront.run import run_study
from small_runs import small_study

PARTS = '[catalogue]\nfront.spring_rate = { step = "2 N/mm" }\n[search]'


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Calls ``ridefront choose``: exit status, stdout, stderr."""
    return caller(capsys, monkeypatch, "choose")


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a small run with a catalogue."""
    folder = tmp_path_factory.mktemp("runs")
    return run_study(small_study(folder, ("[search]", PARTS)), folder / "out", workers=1).folder


def test_without_options(call: Call, run: Path) -> None:
    status, out, err = call(run)
    assert (status, err) == (0, "")
    for text in ("setups on the front", "present", "best compromise", "best comfort", "best bump reserve",
                 "nearest to the present setup", "In catalogue parts", "a starting point"):  # fmt: skip
        assert text in out, text
    assert call(run / "front.parquet")[1] == out


def test_weights_requirements_and_output(call: Call, run: Path, tmp_path: Path) -> None:
    front = pyarrow.parquet.read_table(run / "front.parquet")
    for name in ("picks.csv", "picks.parquet"):
        status, out, err = call(
            run, "--weight", "comfort=2", "--require", "front.spring_rate<=40 N/mm", "--output", tmp_path / name
        )
        assert status == 0
        assert "1 setup:" in err
        assert "for weights comfort 2" in out
    written = pyarrow.parquet.read_table(tmp_path / "picks.parquet")
    assert written.schema.names == [*front.schema.names, "why"]
    assert written.schema.field("comfort").metadata == front.schema.field("comfort").metadata
    designs = written["design"].to_pylist()
    assert written.drop_columns("why").equals(
        front.filter(pyarrow.compute.is_in(front["design"], pyarrow.array(designs))).cast(
            written.drop_columns("why").schema
        )
    )
    assert pyarrow.csv.read_csv(tmp_path / "picks.csv")["design"].to_pylist() == designs


def test_status_3_where_nothing_is_as_asked(call: Call, run: Path) -> None:
    status, out, _ = call(run, "--require", "comfort<=1 mm/s^2", "--require", "bump_reserve>=-1 m")
    assert status == 3
    assert "comes nearest" in out
    assert "comfort <= 0.001 m/s²" in out
    assert "setups meet all others" in out


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("--require", "comfrt<=1"), 'nearest: "comfort"'),
        (("--weight", "comfrt=1"), 'nearest: "comfort"'),
        (("--output", "picks.txt"), ".csv or .parquet"),
        (("--nothing",), "No such option"),
    ],
)
def test_status_2_for_a_bad_call(call: Call, run: Path, words: tuple[str, ...], found: str) -> None:
    status, _, err = call(run, *words)
    assert status == 2
    assert found in err


def test_status_1_for_what_is_no_result(call: Call, tmp_path: Path) -> None:
    status, _, err = call(tmp_path / "nowhere")
    assert status == 1
    assert "nowhere: no such folder" in err


def test_no_present_setup_to_beat(call: Call, tmp_path: Path) -> None:
    changes = (
        ('[present]\nfront.unsprung_mass = "40 kg"\nfront.spring_rate = "24 N/mm"\nfront.damping = "1900 N*s/m"\n', ""),
        ("sample = 64", "sample = 16"),
        ("generations = 4", "generations = 1"),
    )
    folder = run_study(small_study(tmp_path, *changes), tmp_path / "out", workers=1).folder
    status, out, _ = call(folder)
    assert status == 0
    assert "present" not in out
    status, _, err = call(folder, "--beat-present")
    assert status == 2
    assert "no [present] setup" in err


def test_run_of_another_version_is_not_rounded(call: Call, run: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(run, tmp_path / "older")
    record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    record["digests"]["figures"] = "0" * 64
    (folder / "run.json").write_text(json.dumps(record), encoding="utf-8")
    status, out, _ = call(folder)
    assert status == 0
    assert "In catalogue parts" not in out
    assert "another version of the program" in out


def test_empty_front(call: Call, tmp_path: Path) -> None:
    hopeless = ("at_least = 1.0\nat_most = 1.6", "at_least = 9.0")
    study = small_study(tmp_path, hopeless, ("generations = 4", "generations = 1"))
    folder = run_study(study, tmp_path / "out", workers=1).folder
    status, out, _ = call(folder)
    assert status == 3
    assert "the front is empty" in out
