"""Runs in a process of their own, to be killed by tests."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import ridefront

KILLED = """
import sys, time
from pathlib import Path
from ridefront import read_study, run_study

class Slow:
    def update(self, snapshot):
        time.sleep(0.03)
    def close(self):
        pass

run_study(read_study(sys.argv[1]), Path(sys.argv[2]), workers=2, progress=Slow())
"""


def start_killed(study: Path, output: Path) -> subprocess.Popen[bytes]:
    """A run in a process of its own that takes its time after each block."""
    engine = str(Path(ridefront.__file__).parents[1])
    return subprocess.Popen(
        [sys.executable, "-c", KILLED, str(study), str(output)],
        env={**os.environ, "PYTHONPATH": engine},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
