"""Whatever is done to a study's text, it is read or refused with a key: no traceback, no silence."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from ridefront.errors import StudyError
from ridefront.study import Study
from ridefront.study.digest import figures_digest, plan_digest
from ridefront.study.space import decode, parameters
from spoilt_texts import SCRAPS, mutate, mutations
from study_texts import CORNER, ESTATE, read

LINES = ESTATE.splitlines()


def read_or_refuse(text: str | bytes) -> Study | None:
    """The study, or None where it is refused as it should be."""
    try:
        return read(text)
    except StudyError as error:
        lines = [mistake.line("study.toml") for mistake in error.mistakes]
    assert lines
    assert not any(len(line.splitlines()) > 1 for line in lines), lines
    return None


@settings(derandomize=True, max_examples=120, deadline=None)
@given(mutations(len(LINES)))
def test_spoilt_studies_are_read_or_refused(mutations: list[tuple[str, int, str]]) -> None:
    lines = list(LINES)
    for kind, k, scrap in mutations:
        mutate(lines, kind, k, scrap)
    study = read_or_refuse("\n".join(lines).encode("utf-8", "replace"))
    if study is not None:
        X = decode(study, np.full((2, len(study.variables)), 0.5))
        assert all(np.all(np.isfinite(value)) for value in parameters(study, X).values())
        assert figures_digest(study) != plan_digest(study)


@settings(derandomize=True, max_examples=100, deadline=None)
@given(st.sampled_from(CORNER.splitlines()), SCRAPS)
def test_spoilt_corner_is_read_or_refused(line: str, scrap: str) -> None:
    head, equals, _ = line.partition(" = ")
    assert read_or_refuse(CORNER.replace(line, f"{head} = {scrap}" if equals else scrap).encode()) is None or equals


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.binary(max_size=60))
def test_bytes_are_refused(content: bytes) -> None:
    assert read_or_refuse(content) is None
