"""``ridefront road`` as a person calls it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from commands import Call, caller
from ridefront.road import CLASSES, Road
from ridefront.road.realisation import realisation

ROAD = Road("lane", CLASSES["C"], length=400.0, band=(0.005, 4.9))
LEFT, RIGHT = (realisation(ROAD, 0.0, None, 4000, seed=1, index=k)[0] for k in range(2))


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Calls the command in this process: exit status, stdout, stderr."""
    return caller(capsys, monkeypatch, "road")


def written(file: Path, rows: slice = slice(None), **columns: np.ndarray) -> Path:
    """A profile every 100 mm."""
    frame = pd.DataFrame({"distance [m]": 0.1 * np.arange(4000)} | {k: 1e3 * z for k, z in columns.items()})
    frame[rows].to_csv(file, index=False, float_format="%.9g")
    return file


@pytest.fixture(scope="module")
def lane(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("roads") / "lane.csv"
    return written(file, **{"left [mm]": LEFT, "right [mm]": RIGHT})


def cells(out: str, head: str) -> list[str]:
    """The row of a table that begins with some words, less these."""
    (line,) = (line for line in out.splitlines() if line.startswith(head))
    return line.removeprefix(head).split()


def test_table_of_two_tracks(call: Call, lane: Path) -> None:
    status, out, err = call(lane)
    assert (status, err) == (0, "")
    assert cells(out, "length") == ["m", "399.9", "399.9", "399.9"]
    assert cells(out, "step") == ["mm", "100", "100", "100"]
    assert cells(out, "class, ISO 8608") == ["C", "C", "C"]
    left, right, both = map(float, cells(out, "IRI, whole")[1:])
    assert both == pytest.approx(0.5 * (left + right), abs=0.011)
    assert left == pytest.approx(0.5431 * 16, rel=0.1), "0.5431 √(G/10⁻⁶) for waviness 2; one stretch of it"
    assert [float(item) for item in cells(out, "waviness, as fitted")] == pytest.approx([2, 2, 2], abs=0.1)
    assert "no gaps and no spikes" in out
    assert len(cells(out, "0 to 100")) == len(cells(out, "300 to 399.9")) == 3
    assert "--output FILE draws a picture" in out


def test_output_is_a_picture_or_a_table(call: Call, lane: Path, tmp_path: Path) -> None:
    for name, start in (("lane.png", b"\x89PNG"), ("lane.svg", b"<?xml")):
        status, _, err = call(lane, "--output", tmp_path / name)
        assert (status, err) == (0, f"picture: {tmp_path / name}\n")
        assert (tmp_path / name).read_bytes().startswith(start)
    for name in ("iri.csv", "iri.parquet"):
        status, out, _ = call(lane, "--segment", "50", "--output", tmp_path / name)
        assert status == 0
        read = pd.read_csv if name.endswith("csv") else pd.read_parquet
        table = read(tmp_path / name)
        assert list(table) == ["start", "end", "iri.left", "iri.right", "iri.both"]
        assert table["start"].tolist() == pytest.approx([50 * k for k in range(8)])
        assert cells(out, "50 to 100") == [f"{table[f'iri.{side}'][1]:.2f}" for side in ("left", "right", "both")]


def test_one_short_track_has_an_index_and_says_why_no_spectrum(call: Call, tmp_path: Path) -> None:
    file = written(tmp_path / "short.csv", slice(0, 150), **{"height [mm]": LEFT})
    status, out, _ = call(file, "--output", tmp_path / "short.png")
    assert status == 0
    assert "class, ISO" not in out
    assert "no spectrum and no class: 15 m of profile are too short" in out
    assert (tmp_path / "short.png").exists()
    status, _, err = call(written(tmp_path / "too.csv", slice(0, 100), **{"height [mm]": LEFT}))
    assert status == 2
    assert "too short for a road; allowed: 11 m or more" in err


def test_level_road(call: Call, tmp_path: Path) -> None:
    status, out, _ = call(written(tmp_path / "level.csv", **{"height [mm]": 0 * LEFT}), "--output", tmp_path / "l.png")
    assert status == 0
    assert cells(out, "IRI, whole") == ["m/km", "0.00"]
    assert "no spectrum and no class: the profile is level" in out


def test_mistakes_name_file_and_row(call: Call, tmp_path: Path) -> None:
    z = LEFT.copy()
    z[500] += 1.0
    file = written(tmp_path / "bad.csv", **{"height [mm]": z})
    kept = file.read_text().splitlines()
    file.write_text("\n".join(kept[:1000] + kept[1010:]), encoding="utf-8")
    status, out, err = call(file)
    assert (status, out) == (2, "")
    gap, spike = err.splitlines()
    assert gap.startswith(f"{file}: row 1001: a gap: 1.1 m")
    assert "--gaps interpolate" in gap
    assert spike.startswith(f"{file}: row 502: a spike: height")
    assert "--spikes remove" in spike
    status, out, _ = call(file, "--gaps", "interpolate", "--spikes", "remove")
    assert status == 0
    assert "1 spike of height removed (row 502)" in out
    assert "1 gap bridged (1.1 m before row 1001)" in out


def test_columns_by_name(call: Call, lane: Path) -> None:
    status, out, _ = call(lane, "--columns", "distance, right")
    assert status == 0
    _, both, _ = call(lane)
    assert cells(out, "IRI, whole")[1] == cells(both, "IRI, whole")[2]
    status, _, err = call(lane, "--columns", "distance,middle")
    assert status == 2
    assert f'{lane}: row 1: no column called "middle"' in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--segment", "0"), "--segment 0: allowed: 1 to 1000000 metres"),
        (("--segment", "nan"), "--segment nan: allowed"),
        (("--output", "lane.pdf"), "allowed: a file that ends in .png, .svg, .csv or .parquet"),
        (("--columns", "left"), "--columns left: allowed: two or three different names"),
    ],
)
def test_wrong_calls(call: Call, lane: Path, words: tuple[str, ...], said: str) -> None:
    status, out, err = call(lane, *words)
    assert (status, out) == (2, "")
    assert said in err


def test_the_profile_is_not_written_over(call: Call, lane: Path) -> None:
    status, _, err = call(lane, "--output", lane)
    assert status == 2
    assert "that is the profile itself" in err
