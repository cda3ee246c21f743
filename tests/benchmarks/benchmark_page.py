"""How long a person waits for the report page: to open it, to draw every figure, to select a setup everywhere.

    python tests/benchmarks/benchmark_page.py [--designs 5000] [--times 5]

Prints milliseconds on an invented front, in Chromium without a graphics card; the least of several selections.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # where this file is run by hand

from pages import browser, larger, written
from ridefront.report.subject import Subject
from ridefront.run import run_study
from small_runs import small_study

_ALL_DRAWN = "[...document.querySelectorAll('.plot')].every((place) => place.querySelector('.main-svg'))"
_SELECT = """(k) => new Promise((done) => {
  document.querySelector(".card").scrollIntoView();
  const row = document.querySelectorAll(".setups tbody tr")[k];
  setTimeout(() => {
    const start = performance.now();
    row.click();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - start), 0));
  }, 300);
})"""


def measure(folder: Path, designs: int, times: int) -> dict[str, float]:
    """Milliseconds to make, open, draw and select; the size of the page in MB; by what they are."""
    result = run_study(small_study(folder), folder / "results")
    subject = larger(Subject(result.folder), designs)
    start = time.perf_counter()
    path = written(subject, folder / "page.html")
    found = {"make the page": 1e3 * (time.perf_counter() - start), "size [MB]": path.stat().st_size / 1e6}
    with browser() as opened:
        page = opened.new_page(viewport={"width": 1280, "height": 900})
        start = time.perf_counter()
        page.goto(path.as_uri())
        page.wait_for_selector(".plot .main-svg")
        found["open, first figure drawn"] = 1e3 * (time.perf_counter() - start)
        start = time.perf_counter()
        while not page.evaluate(_ALL_DRAWN):
            page.evaluate("scrollBy(0, 500)")
            page.wait_for_timeout(10)
        found["draw all the others"] = 1e3 * (time.perf_counter() - start)
        found["select a setup"] = min(float(page.evaluate(_SELECT, k)) for k in range(times))
    return found


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--designs", type=int, default=5000)
    parser.add_argument("--times", type=int, default=5)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        for what, value in measure(Path(name), options.designs, options.times).items():
            print(f"{what:28s} {value:9.1f}")


if __name__ == "__main__":
    main()
