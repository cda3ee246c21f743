"""The benchmark of the command runs, so that it does not rot; it asserts no times, and compiles nothing anew."""

from __future__ import annotations

from pathlib import Path

from benchmarks.benchmark_command import STUDIES, measure


def test_it_measures_every_call(tmp_path: Path) -> None:
    text = (STUDIES / "corner-hatchback.toml").read_text(encoding="utf-8")
    for old, new in (
        ("sample = 1024", "sample = 64"),
        ("population = 100", "population = 8"),
        ("generations = 10\nrefine = 1500", "generations = 1\nrefine = 0"),
    ):
        assert old in text
        text = text.replace(old, new)
    study = tmp_path / "tiny.toml"
    study.write_text(text, encoding="utf-8")
    found = measure(study, times=1, cold=False)
    assert list(found) == ["first front, warm", "check", "--help"]
    assert all(value > 0 for value in found.values())
