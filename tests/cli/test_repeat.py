"""A run's folder alone, moved elsewhere, is enough to repeat the run: same designs, same figures, to the last bit."""

from __future__ import annotations

import json
import platform
import shutil
from pathlib import Path

import llvmlite
import numpy as np
import pytest

from commands import Call, caller
from ridefront.results import read_front
from ridefront.results.stored import same_designs
from ridefront.run import run_study
from small_runs import assert_same_results, parts_of, small_study

BRIEF = (("sample = 64", "sample = 16"), ("generations = 4", "generations = 1"))
DAMPER = "speed [m/s],force [N]\n-0.5,-1350\n-0.1,-500\n0,0\n0.1,220\n0.5,500\n"
MEASURED = (
    (
        'damping = { low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }',
        'damper_table = "bench/damper.csv"\ndamper_scale = { low = 0.4, high = 2.5, scale = "log" }',
    ),
    ('front.damping = "1900 N*s/m"', "front.damper_scale = 1.0"),
    (
        "[[condition]]\nroad",
        '[[road]]\nname = "mill"\nkind = "measured"\nfile = "../mill.csv"\nspectrum = "estimated"\n'
        '[[condition]]\nroad = "mill"\nspeed = "30 km/h"\n[[condition]]\nroad',
    ),
)


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Calls ``ridefront run --workers 1``: exit status, stdout, stderr."""
    return caller(capsys, monkeypatch, "run", "--workers", "1")


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a run with a measured damper and road that began with an earlier front; everything that its study
    names is gone.
    """
    home = tmp_path_factory.mktemp("home")
    folder = home / "studies"
    (folder / "bench").mkdir(parents=True)
    (folder / "bench" / "damper.csv").write_text(DAMPER, encoding="utf-8")
    z = np.random.default_rng(2).normal(size=1500).cumsum()
    lines = "".join(f"{0.1 * k:.1f},{height:.4f}\n" for k, height in enumerate(z))
    (home / "mill.csv").write_text("distance [m],height [mm]\n" + lines, encoding="utf-8")
    run_study(small_study(folder, *MEASURED, *BRIEF, name="first.toml"), home / "out", workers=1)
    start = ("generations = 4", 'generations = 1\nstart = "../out/first"')
    run = run_study(small_study(folder, *MEASURED, BRIEF[0], start), home / "out", workers=1).folder
    shutil.rmtree(folder)
    shutil.rmtree(home / "out" / "first")
    (home / "mill.csv").unlink()
    return run


@pytest.fixture
def moved(done: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """That folder in another place, called otherwise; no pictures are drawn, which take long."""
    monkeypatch.setattr("ridefront.report.after_run.picture_after_run", lambda study, folder: None)
    return shutil.copytree(done, tmp_path / "from the other machine")


def test_a_moved_folder_repeats_its_run(call: Call, moved: Path, tmp_path: Path) -> None:
    before = {file: file.read_bytes() for file in moved.rglob("*") if file.is_file()}
    status, out, err = call(moved, "--output", tmp_path / "again")
    again = tmp_path / "again" / "corner"
    assert status == 0
    assert "setups on the front" in out
    assert f"{again}: the same designs and figures as {moved}, to the last bit" in err
    assert_same_results(again, moved)
    assert len(read_front(again))
    left, right = (json.loads((folder / "run.json").read_text()) for folder in (again, moved))
    for key in ("digests", "meaning", "hypervolume", "hypervolume_box", "seed", "search", "versions", "host", "called"):
        assert left[key] == right[key], key
    names = {file.relative_to(moved) for file in before if file.parent.name == "tables" or file.suffix == ".toml"}
    assert len(names) == 4
    assert all((again / name).read_bytes() == before[moved / name] for name in names), "study, damper, road, start"
    assert {file: file.read_bytes() for file in moved.rglob("*") if file.is_file()} == before, "only read"
    assert call(again, "--output", tmp_path / "thrice")[0] == 0
    assert same_designs(tmp_path / "thrice" / "corner", moved)
    assert "nothing to do" in call(moved, "--output", tmp_path / "again")[1]


def test_what_is_not_the_same_is_said(call: Call, moved: Path, tmp_path: Path) -> None:
    part = parts_of(moved)[1]
    part.write_bytes((moved / "evaluations" / "part-000002.parquet").read_bytes())
    record = json.loads((moved / "run.json").read_text())
    record["versions"]["numpy"] = "1.0"
    record["digests"]["figures"] = "0" * 64
    record["called"] = "../corner"
    (moved / "run.json").write_text(json.dumps(record), encoding="utf-8")
    status, _, err = call(moved, "--output", tmp_path / "again")
    again = tmp_path / "again" / moved.name
    assert (status, again.is_dir()) == (0, True), "a name with a folder in it is not taken"
    assert f"was run with numpy 1.0, here {np.__version__}" in err
    assert "another version of this program" in err
    assert f"{again}: not the same as {moved}" in err


def test_a_run_is_not_repeated_into_itself(call: Call, moved: Path) -> None:
    moved = moved.rename(moved.with_name("corner"))
    before = {file: file.stat().st_mtime_ns for file in moved.rglob("*")}
    for words in (["--output", moved.parent], ["--output", moved / "..", "--overwrite"]):
        status, _, err = call(moved, *words)
        assert status == 2
        assert "not into itself" in err
    assert {file: file.stat().st_mtime_ns for file in moved.rglob("*")} == before


def test_a_damaged_record_is_found_before_anything_runs(call: Call, moved: Path, tmp_path: Path) -> None:
    (moved / "run.json").write_text("{", encoding="utf-8")
    status, _, err = call(moved, "--output", tmp_path / "again")
    assert status == 2
    assert "run.json: damaged" in err
    (moved / "run.json").unlink()
    status, _, err = call(moved, "--output", tmp_path / "again")
    assert status == 2
    assert "no such file" in err, "of a study in a folder that is not a run's"
    assert not (tmp_path / "again").exists()


def test_run_json_says_on_what_it_was_worked_out(moved: Path) -> None:
    record = json.loads((moved / "run.json").read_text())
    assert record["versions"]["llvmlite"] == llvmlite.__version__
    assert record["versions"]["python"] == platform.python_version()
    assert record["host"]["machine"] == platform.machine()
    assert record["host"]["compiled_for"]
    assert {"processor", "libc", "cores", "system"} <= set(record["host"])
    assert record["workers"] == 1
