"""The command as tests call it: in this process, with what it prints and how it ends."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from ridefront.cli import main

Call = Callable[..., tuple[int, str, str]]
"""Words behind the fixed ones to exit status, stdout, stderr."""


def caller(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *fixed: str) -> Call:
    """Calls ``ridefront`` with some words that are always the same, such as a verb."""
    before = signal.getsignal(signal.SIGTERM)

    def run(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["ridefront", *fixed, *map(str, words)])
        with pytest.raises(SystemExit) as end:
            main()
        signal.signal(signal.SIGTERM, before)
        out, err = capsys.readouterr()
        return int(end.value.code or 0), out, err

    return run
