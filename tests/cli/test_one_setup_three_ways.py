"""A setup is the same whether it is the study's present one, typed in, or a line of a file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from commands import caller
from ridefront.evaluate import Evaluator
from ridefront.study import read_study
from study_texts import FULL


def test_present_typed_and_filed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The same bits in every figure, whichever way it comes; typed in another unit but for a rounding."""
    call = caller(capsys, monkeypatch, "evaluate")
    file, study_file = tmp_path / "designs.csv", tmp_path / "estate.toml"
    study_file.write_text(FULL, encoding="utf-8")
    study = read_study(study_file)
    assert study.present is not None
    paths = [item.path for item in study.variables]
    pd.DataFrame([study.present], columns=paths).to_csv(file, index=False)
    typed = [f"{item.path}={x!r} {item.unit}" for item, x in zip(study.variables, study.present.tolist(), strict=True)]
    other = [word.replace(" N/mm", "e3 N/m") for word in typed]
    assert other != typed
    found = []
    for k, words in enumerate(([], _options(typed), ["--designs", str(file)], _options(other))):
        output = tmp_path / f"{k}.parquet"
        status, _, err = call(study_file, *words, "--output", output)
        assert status == 0, err
        found.append(pd.read_parquet(output))
    labels = [item.label for item in study.measures]
    want = Evaluator(study).evaluate(study.present[np.newaxis]).values[0]
    for table in found[:3]:
        assert len(table) == 1
        np.testing.assert_array_equal(table[labels].to_numpy()[0], want)
    np.testing.assert_allclose(found[3][labels].to_numpy()[0], want, rtol=1e-13)


def _options(pairs: list[str]) -> list[str]:
    return [word for pair in pairs for word in ("--set", pair)]
