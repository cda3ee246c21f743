"""A run on a measured road: what it stores, that it goes on, and what starting anew deletes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import ridefront
from ridefront.errors import ResultError
from ridefront.results.sampling import sampled_columns
from small_runs import TEXT

RANDOM = 'kind = "iso8608"\nclass = "C"'


def lane(seed: int) -> str:
    """30 m of an invented road, every 100 mm."""
    z = np.random.default_rng(seed).normal(size=300).cumsum()
    return "distance [m],height [mm]\n" + "".join(f"{0.1 * k:.1f},{height:.4f}\n" for k, height in enumerate(z))


def study_on(folder: Path, road: str, response: str) -> ridefront.Study:
    file = folder / "corner.toml"
    assert RANDOM in TEXT
    file.write_text(f'response = "{response}"\n' + TEXT.replace(RANDOM, road), encoding="utf-8")
    return ridefront.read_study(file)


@pytest.mark.parametrize("response", ["frequency-domain", "time-domain"])
def test_a_run_on_a_measured_road(tmp_path: Path, response: str) -> None:
    (tmp_path / "lane.csv").write_text(lane(1), encoding="utf-8")
    study = study_on(tmp_path, 'kind = "measured"\nfile = "lane.csv"', response)
    done = ridefront.run_study(study, output=tmp_path / "out", workers=1)
    kept = done.folder / "tables" / "road-1.csv"
    assert kept.read_bytes() == (tmp_path / "lane.csv").read_bytes()
    front = ridefront.read_front(done.folder)
    assert len(front)
    assert not sampled_columns(study), "a road that is there once has no sampling error"
    figures = ridefront.Evaluator(study).evaluate(
        front[[variable.path for variable in study.variables]].to_numpy(dtype=np.float64)
    )
    stored = front[[item.label for item in study.measures]].to_numpy(dtype=np.float64)
    assert np.array_equal(figures.values, stored)
    # A byte of the road more and it is another study; its comments do not count.
    (tmp_path / "lane.csv").write_text("# May\n" + lane(1), encoding="utf-8")
    ridefront.run_study(ridefront.read_study(study.path), output=tmp_path / "out", workers=1)
    (tmp_path / "lane.csv").write_text(lane(2), encoding="utf-8")
    with pytest.raises(ResultError, match="roads"):
        ridefront.run_study(ridefront.read_study(study.path), output=tmp_path / "out", workers=1)
    ridefront.run_study(
        study_on(tmp_path, RANDOM, "frequency-domain"), output=tmp_path / "out", workers=1, overwrite=True
    )
    assert not kept.exists()
