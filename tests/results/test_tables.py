"""Files are whole or not there, and a damaged one is never read as if it were not."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from ridefront.errors import ResultError
from ridefront.results.tables import read_table, write_bytes, write_json, write_table

TABLE = pa.table(
    {
        "figure": np.random.default_rng(3).random(50),
        "count": np.arange(50),
        "word": pa.array(["a", "b"] * 25).dictionary_encode(),
    }
)


@pytest.fixture(name="file")
def written_table(tmp_path: Path) -> Path:
    write_table(tmp_path / "table.parquet", TABLE)
    return tmp_path / "table.parquet"


def test_what_is_written_is_read(file: Path) -> None:
    assert read_table(file).equals(TABLE)
    assert read_table(file, TABLE.schema).equals(TABLE)
    assert [name.name for name in file.parent.iterdir()] == [file.name]


def test_no_truncated_file_is_read(file: Path, tmp_path: Path) -> None:
    data = file.read_bytes()
    for length in range(0, len(data), 41):
        part = tmp_path / "cut.parquet"
        part.write_bytes(data[:length])
        with pytest.raises(ResultError, match=r"cut\.parquet: damaged"):
            read_table(part)


def test_no_flipped_bit_changes_a_figure(file: Path, tmp_path: Path) -> None:
    data = file.read_bytes()
    refused = 0
    for place in range(0, len(data), 7):
        flipped = bytearray(data)
        flipped[place] ^= 1 << (place % 8)
        other = tmp_path / "flipped.parquet"
        other.write_bytes(flipped)
        try:
            table = read_table(other, TABLE.schema)
        except ResultError:
            refused += 1
        else:
            assert table.equals(TABLE), place
    assert refused > 30


def test_missing_and_foreign_files_are_named(tmp_path: Path, file: Path) -> None:
    with pytest.raises(ResultError, match=r"nothing\.parquet: no such file"):
        read_table(tmp_path / "nothing.parquet")
    with pytest.raises(ResultError, match="no such file"):
        read_table(tmp_path)
    other = pa.schema([pa.field("figure", pa.float64()), pa.field("speed", pa.int64())])
    with pytest.raises(ResultError, match=r"foreign: its columns are not those of this study \(count, speed, word\)"):
        read_table(file, other)
    swapped = pa.schema([TABLE.schema.field(1), TABLE.schema.field(0), TABLE.schema.field(2)])
    with pytest.raises(ResultError, match=r"foreign: .*\(their types or order\)"):
        read_table(file, swapped)


def test_failed_write_leaves_the_old_file_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "run.json"
    write_json(file, {"state": "done"})
    before = file.read_bytes()

    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ResultError, match=r"run\.json: cannot be written: No space left on device"):
        write_json(file, {"state": "running"})
    assert file.read_bytes() == before
    assert [name.name for name in tmp_path.iterdir()] == ["run.json"]


def test_file_is_on_disk_before_it_has_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    steps: list[str] = []
    fsync, replace = os.fsync, os.replace

    def noted_fsync(number: int) -> None:
        steps.append("sync")
        fsync(number)

    def noted_replace(source: Path, target: Path) -> None:
        steps.append("name")
        assert source.name == ".a.bin.tmp"
        replace(source, target)

    monkeypatch.setattr(os, "fsync", noted_fsync)
    monkeypatch.setattr(os, "replace", noted_replace)
    write_bytes(tmp_path / "a.bin", b"x" * 100_000)
    assert steps == ["sync", "name", "sync"]
    assert (tmp_path / "a.bin").read_bytes() == b"x" * 100_000


def test_a_record_with_nan_is_a_bug(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_json(tmp_path / "run.json", {"hypervolume": float("nan")})
