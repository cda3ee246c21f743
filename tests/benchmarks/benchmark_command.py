"""How long a person waits: --help, check, and the first front from a cold and a warm cache of compiled code.

    python tests/benchmarks/benchmark_command.py [study] [--times 5]

Prints the least of several calls. Cold means an empty folder for numba's compiled code, as after installing.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

STUDIES = Path(__file__).parents[2] / "studies"
CALL = [sys.executable, "-c", "from ridefront.cli import main; main()"]


def seconds(words: list[str], cache: Path | None) -> float:
    """Wall time of one call, which must succeed; compiled code goes to that folder, or to where it always goes."""
    environment = os.environ | ({} if cache is None else {"NUMBA_CACHE_DIR": str(cache)})
    start = time.perf_counter()
    subprocess.run([*CALL, *words], env=environment, check=True, capture_output=True)
    return time.perf_counter() - start


def measure(study: Path, times: int, *, cold: bool = True) -> dict[str, float]:
    """Seconds of each call, by what it is; the cold one is some fifteen seconds of compiling."""
    with tempfile.TemporaryDirectory() as name:
        folder, found = Path(name), {}
        cache = folder / "cache" if cold else None
        run = ["run", str(study), "--output", str(folder / "results"), "--overwrite"]
        if cold:
            found["first front, cold"] = seconds(run, cache)
        calls = {"first front, warm": run, "check": ["check", str(study)], "--help": ["--help"]}
        for what, words in calls.items():
            found[what] = min(seconds(words, cache) for _ in range(times))
    return found


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("study", nargs="?", type=Path, default=STUDIES / "corner-hatchback.toml")
    parser.add_argument("--times", type=int, default=5)
    options = parser.parse_args()
    for what, found in measure(options.study, options.times).items():
        print(f"{what:20s} {found:8.3f} s")


if __name__ == "__main__":
    main()
