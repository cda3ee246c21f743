"""A whole run of a study whose every quantity stands in another unit."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from rewritten import IMPERIAL, in_other_units
from ridefront import read_front, read_study, run_study
from small_runs import TEXT
from study_texts import changed


def test_the_same_setups_come_out_whatever_they_are_measured_in(tmp_path: Path) -> None:
    """Sample, evolution and refinement ask the same designs and put the same of them on the front. 1e-9: figures differ
    in their last digits, which a refinement's steps hand on.
    """
    text = changed(
        TEXT,
        ('class = "C"', 'class = "C"\nlength = "40 m"\nrealisations = 2'),
        ('speed = ["50 km/h", "80 km/h"]', 'speed = "80 km/h"'),
        ("refine = 0", "refine = 60"),
    )
    fronts = []
    for name, each in (("metric", text), ("imperial", in_other_units(text, IMPERIAL))):
        path = tmp_path / f"{name}.toml"
        path.write_text(each, encoding="utf-8")
        study = read_study(path)
        front = read_front(run_study(study, tmp_path / "results" / name, workers=1).folder)
        factors = {item.path: item.factor for item in study.variables}
        factors |= {item.measure.label: item.measure.factor for item in study.objectives}
        fronts.append((front["design"].to_numpy(), front[list(factors)].to_numpy() * list(factors.values()), front))
    (asked, figures, metric), (also, again, imperial) = fronts
    assert metric.attrs["units"]["front.spring_rate"] == "N/mm"
    assert imperial.attrs["units"]["front.spring_rate"] == "lbf/in"
    assert len(asked) > 20
    np.testing.assert_array_equal(also, asked)
    assert list(imperial["stage"]) == list(metric["stage"])
    assert len(set(metric["stage"])) > 1
    np.testing.assert_allclose(again, figures, rtol=1e-9)
    assert np.max(np.abs(imperial["front.spring_rate"] / metric["front.spring_rate"] - 1)) > 1, "other numbers"
