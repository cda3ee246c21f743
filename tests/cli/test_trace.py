"""``ridefront trace`` as a person calls it."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from commands import Call, caller
from traced_studies import CAR, CORNER

FULL, LANE = "hump @ 40 km/h, full", "lane @ 60 km/h, full"


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Calls the command in this process: exit status, stdout, stderr."""
    return caller(capsys, monkeypatch, "trace")


@pytest.fixture(scope="module")
def car(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("studies") / "car.toml"
    file.write_text(CAR, encoding="utf-8")
    return file


def test_without_output_a_table_for_each_condition(call: Call, car: Path) -> None:
    status, out, err = call(car, "--condition", FULL, "--condition", LANE, "--set", "front.spring_rate=30 N/mm")
    assert status == 0
    assert not err
    assert out.count("front.spring_rate=30 N/mm") == 2
    assert out.index(FULL) < out.index(LANE)
    for words in ("present", "front travel, largest in bump", "rear contact force, least", "rear wheel off the ground"):
        assert words in out
    assert "--output FILE writes the histories" in out


def test_output_writes_histories_or_a_picture(call: Call, car: Path, tmp_path: Path) -> None:
    designs = tmp_path / "designs.csv"
    designs.write_text(
        "design,front.spring_rate,front.damping,rear.spring_rate,rear.damping\n17,20,1500,20,1600\n", encoding="utf-8"
    )
    asked = (car, "--condition", FULL, "--set", "rear.damping=2600", "--designs", designs)
    status, out, err = call(*asked, "--output", tmp_path / "ride.parquet")
    assert (status, out) == (0, "")
    assert "3 setups in 1 condition: " in err
    frame = pd.read_parquet(tmp_path / "ride.parquet")
    assert frame["setup"].unique().tolist() == ["present", "rear.damping=2600 N*s/m", "design 17"]
    for name, start in (("ride.png", b"\x89PNG"), ("ride.svg", b"<?xml")):
        status, _, err = call(*asked, "--from", "0.5", "--to", "6", "--output", tmp_path / name)
        assert status == 0, err
        assert (tmp_path / name).read_bytes().startswith(start)
    left = {file.name for file in tmp_path.iterdir()}
    assert left == {"designs.csv", "ride.parquet", "ride.png", "ride.svg"}


def test_wrong_calls_say_what_is_allowed(call: Call, car: Path, tmp_path: Path) -> None:
    """Exit status 2, a line with what was found and what is allowed, and nothing written."""
    picture, data = tmp_path / "out.png", tmp_path / "out.parquet"
    for words, message in (
        ((), 'no --condition; allowed: "hump @ 40 km/h, driver alone"'),
        (("--condition", "hump @ 40 km/h"), '"hump @ 40 km/h": the study has none so called; allowed: "hump'),
        (("--condition", "lame @ 60 km/h, full"), f'nearest: "{LANE}"'),
        (("--condition", "x", "--condition", "y"), '"x", "y"'),
        (("--condition", LANE, "--condition", LANE), "given twice"),
        (("--condition", LANE, "--output", tmp_path / "out.csv"), "ends in .parquet, .png or .svg"),
        (("--condition", LANE, "--from", "3"), "--from and --to say what a picture shows"),
        (("--condition", LANE, "--from", "3", "--output", data), "--from and --to say what a picture shows"),
        (("--condition", LANE, "--to", "300", "--output", picture), "is driven from 0 to 200 m"),
        (("--condition", LANE, "--set", "front.spring_rate=99", "--output", data), "allowed: 16 to 40"),
        (("--condition", LANE, "--set", "front.spring=30"), 'nearest: "front.spring_rate"'),
    ):
        status, out, err = call(car, *words)
        assert (status, out) == (2, ""), words
        assert message in err, (words, err)
    assert not list(tmp_path.iterdir())
    bare = tmp_path / "corner.toml"
    bare.write_text(CORNER, encoding="utf-8")
    status, _, err = call(bare, "--condition", "hole @ 30 km/h")
    assert status == 2
    assert "no setup to trace" in err


def test_too_many_setups_for_a_picture_are_refused_before_they_are_driven(
    call: Call, car: Path, tmp_path: Path
) -> None:
    designs = tmp_path / "designs.csv"
    rows = "".join(f"{k},20,1500,20,1600\n" for k in range(6))
    designs.write_text(
        "design,front.spring_rate,front.damping,rear.spring_rate,rear.damping\n" + rows, encoding="utf-8"
    )
    status, _, err = call(car, "--condition", FULL, "--designs", designs, "--output", tmp_path / "ride.png")
    assert status == 2
    assert "7 setups in a picture; allowed: 6 at most" in err
    assert ".parquet takes any number" in err


def test_a_folder_that_is_not_there_is_named(call: Call, car: Path, tmp_path: Path) -> None:
    for name in ("ride.png", "ride.parquet"):
        status, _, err = call(car, "--condition", FULL, "--output", tmp_path / "nowhere" / name)
        assert status == 1
        assert f"{name}: cannot be written" in err


def test_a_setup_that_cannot_stand_is_not_drawn(call: Call, tmp_path: Path) -> None:
    """Two tonnes far behind the rear axle lift the front wheels."""
    start = CAR.index('[[load]]\nname = "full"')
    end = CAR.index("[[", start + 2)
    heavy = '[[load]]\nname = "full"\nmasses = [{ mass = "2000 kg", behind_front_axle = "5 m" }]\n'
    file = tmp_path / "car.toml"
    file.write_text(CAR[:start] + heavy + CAR[end:], encoding="utf-8")
    status, _, err = call(file, "--condition", FULL, "--output", tmp_path / "ride.png")
    assert status == 2
    assert f"present, {FULL}: no histories: no static equilibrium" in err
    assert "no setup has histories to draw" in err
    assert not (tmp_path / "ride.png").exists()
