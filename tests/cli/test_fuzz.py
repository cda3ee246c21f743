"""Whatever stands in a study file, the command ends with a status that is documented, and never with a traceback."""

from __future__ import annotations

import contextlib
import io
import os
import signal
import sys
from functools import reduce
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, event, given, settings

from ridefront.cli import main
from small_runs import TEXT
from spoilt_texts import mutate, mutations

SIZES = (("sample = 64", "sample = 16"), ("population = 16", "population = 4"), ("generations = 4", "generations = 1"))
LINES = reduce(lambda text, size: text.replace(*size), SIZES, TEXT).splitlines()

COUNT = int(os.environ.get("SPOILT_STUDIES", "100"))
"""More by hand: SPOILT_STUDIES=300."""


def called(*words: str) -> tuple[int, str]:
    """Exit status of the command, and all it printed."""
    printed, before = io.StringIO(), (sys.argv, signal.getsignal(signal.SIGTERM))
    sys.argv = ["ridefront", *words]
    try:
        with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
            main()
    except SystemExit as end:
        return int(end.code or 0), printed.getvalue()
    finally:
        sys.argv = before[0]
        signal.signal(signal.SIGTERM, before[1])
    raise AssertionError("the command always ends by SystemExit")


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures take most of the time of such a small run."""
    monkeypatch.setattr("ridefront.report.after_run.picture_after_run", lambda study, folder: None)


@settings(
    derandomize=True,
    max_examples=COUNT,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(mutations(len(LINES)))
def test_a_spoilt_study_runs_or_is_refused(undrawn: None, spoilt: list[tuple[str, int, str]]) -> None:
    lines = list(LINES)
    for kind, k, scrap in spoilt:
        mutate(lines, kind, k, scrap)
    with TemporaryDirectory() as name:
        study, output = Path(name) / "study.toml", Path(name) / "out"
        study.write_bytes("\n".join(lines).encode("utf-8", "replace"))
        status, printed = called("run", str(study), "--output", str(output), "--workers", "1")
        event(f"exit status {status}")
        assert "Traceback" not in printed
        assert status in (0, 2, 3), printed
        assert (output / "study" / "front.parquet").is_file() == (status != 2), printed
        if status == 2:
            assert "study.toml: " in printed
            assert called("check", str(study))[0] in (0, 2)
        else:
            assert called("check", str(study))[0] == 0
