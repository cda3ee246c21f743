"""A run's folder read back: the same study with the copies of its files, the front, the present setup."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from ridefront.errors import ResultError
from ridefront.results.stored import read_result
from ridefront.run import run_study
from ridefront.study.digest import figures_digest, plan_digest
from small_runs import small_study

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


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A run whose study names a damper and a road, beside and above it; the study's folder and the run's."""
    folder = tmp_path_factory.mktemp("home") / "studies"
    (folder / "bench").mkdir(parents=True)
    (folder / "bench" / "damper.csv").write_text(DAMPER, encoding="utf-8")
    z = np.random.default_rng(2).normal(size=1500).cumsum()
    lines = "".join(f"{0.1 * k:.1f},{height:.4f}\n" for k, height in enumerate(z))
    (folder.parent / "mill.csv").write_text("distance [m],height [mm]\n" + lines, encoding="utf-8")
    study = small_study(folder, *MEASURED, *BRIEF)
    return folder, run_study(study, folder.parent / "out", workers=1).folder


def test_the_study_is_the_same_without_its_files(done: tuple[Path, Path], tmp_path: Path) -> None:
    folder, run = done
    study = small_study(folder, *MEASURED, *BRIEF)
    moved = shutil.copytree(run, tmp_path / "elsewhere")
    for path in (moved, moved / "front.parquet"):
        result = read_result(path)
        assert result.folder == moved
        assert figures_digest(result.study) == figures_digest(study)
        assert plan_digest(result.study) == plan_digest(study)
        assert result.same_engine
        assert result.response == "frequency-domain"
        assert result.present["design"].tolist() == [0]
        assert len(result.front)


def test_says_where_another_program_made_it(done: tuple[Path, Path], tmp_path: Path) -> None:
    moved = shutil.copytree(done[1], tmp_path / "elsewhere")
    record = json.loads((moved / "run.json").read_text(encoding="utf-8"))
    record["digests"]["figures"] = "0" * 64
    (moved / "run.json").write_text(json.dumps(record), encoding="utf-8")
    assert not read_result(moved).same_engine


def test_refuses_what_is_no_result(done: tuple[Path, Path], tmp_path: Path) -> None:
    moved = shutil.copytree(done[1], tmp_path / "elsewhere")
    with pytest.raises(ResultError, match="no such folder"):
        read_result(tmp_path / "nothing")
    with pytest.raises(ResultError, match=r"allowed: a run's folder"):
        read_result(moved / "study.toml")
    with pytest.raises(ResultError, match=r"no run\.json"):
        read_result(tmp_path)
    (moved / "study.toml").unlink()
    with pytest.raises(ResultError, match=r"no study\.toml"):
        read_result(moved)
