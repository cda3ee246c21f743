"""The table of checks against published figures: what is recorded, how it is printed, and that a stale one fails."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import checks
from checks import Row, check, check_all, check_bound, drain, stale, written

TESTS = Path(__file__).parents[1]
SAID: dict[str, Any] = {"source": "Book", "how": "memory"}


def only() -> Row:
    (row,) = drain()
    return row


@pytest.fixture(autouse=True)
def own_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "_ROWS", [])


@pytest.mark.parametrize(
    ("theirs", "ours", "printed"),
    [
        ("6.90", 6.8991, ("6.90", "6.899")),
        ("1.0", 0.9934, ("1.0", "0.993")),
        (1, 0.9954, ("1", "0.995")),
        (21, 20.87, ("21", "20.9")),
        (6.9, 6.8991, ("6.9", "6.90")),
        (418, 418.31, ("418", "418.3")),
        (418.0, 418.61, ("418", "418.6")),
        (0.7718, 0.77184, ("0.7718", "0.77184")),
        (5.72179e-05, 5.721794e-05, ("0.0000572179", "0.00005721794")),
        ("-0.002083274", -0.0020832742, ("-0.002083274", "-0.0020832742")),
        (2 / 3, 0.6666671, ("0.666667", "0.666667")),
        (123456.789012, 123456.8, ("123457", "123457")),
        ("0.00", -0.0004, ("0.00", "0.000")),
        (1e12, 1.0000001e12, ("1.00000e+12", "1.00000e+12")),
    ],
)
def test_ours_has_one_digit_more_than_the_source(theirs: str | float, ours: float, printed: tuple[str, str]) -> None:
    check(figure="x", theirs=theirs, ours=ours, rel=1e-2, abs=1e-2, **SAID)
    row = only()
    assert (row.theirs, row.ours) == printed


@pytest.mark.parametrize(
    ("ours", "given", "difference", "allowed"),
    [
        (2.0, {"rel": 0.01}, "< 1e-9", "1 %"),
        (2.0 + 1e-15, {"abs": 0.01}, "< 1e-9", "0.01"),
        (2.0031, {"rel": 0.01}, "+0.15 %", "1 %"),
        (1.99690, {"abs": 0.01}, "-0.0031", "0.01"),
        (2.0 + 3.14e-7, {"rel": 1e-6}, "+2e-07", "1e-06"),
        (2.019, {"rel": 0.01, "abs": 0.005}, "+0.95 %", "1 % or 0.005"),
    ],
)
def test_difference_is_before_rounding(ours: float, given: dict[str, Any], difference: str, allowed: str) -> None:
    check(figure="x", theirs="2.0", ours=ours, **given, **SAID)
    row = only()
    assert (row.difference, row.allowed) == (difference, allowed)


def test_the_last_bit_changes_nothing() -> None:
    figures = np.random.default_rng(1).uniform(0.1, 100, 40)
    for x in figures:
        check(figure=f"{x}", theirs=float(round(x, 3)), ours=float(x), abs=1e-3, **SAID)
    one = written(drain())
    for x in figures:
        check(figure=f"{x}", theirs=float(round(x, 3)), ours=float(np.nextafter(x, np.inf)), abs=1e-3, **SAID)
    assert written(drain()) == one


@pytest.mark.parametrize("ours", [2.03, 1.97, np.nan, np.inf])
def test_what_is_off_fails_and_leaves_no_row(ours: float) -> None:
    with pytest.raises(AssertionError, match=r"x \(Book\): ours .*, theirs 2\.0"):
        check(figure="x", theirs="2.0", ours=ours, rel=0.01, **SAID)
    with pytest.raises(AssertionError):
        check_all(figure="x", theirs=[2.0, 2.0], ours=[2.0, ours], abs=0.02, **SAID)
    with pytest.raises(AssertionError):
        check_bound(figure="x", at_least=1.98, at_most=2.02, ours=ours, **SAID)
    assert drain() == []


def test_a_table_is_as_good_as_its_worst_entry() -> None:
    check_all(figure="t", theirs=["1.0", "200"], ours=[1.004, 200.2], at=["low", "high"], rel=0.01, **SAID)
    row = only()
    assert (row.figure, row.theirs, row.ours) == ("t, 2 entries, farthest off low", "1.0", "1.00")
    check_all(figure="t", theirs=np.ones((2, 2)), ours=np.ones((2, 2)), rel=0.01, **SAID)
    assert only().figure == "t, 4 entries, all alike, as no. 3"
    for theirs, ours in (([1.0, 2.0], [1.0]), ([], []), ([1.0], 1.0)):
        with pytest.raises(AssertionError, match="of ours"):
            check_all(figure="t", theirs=theirs, ours=ours, rel=0.01, **SAID)


@pytest.mark.parametrize("scale", [1.0, 1e-2, 1e-4])
def test_the_farthest_entry_is_the_farthest(scale: float) -> None:
    """However small a share of what is allowed it uses."""
    off = scale * np.array([1e-4, 3e-4, 2e-4, -4e-4, 0.0])
    check_all(figure="t", theirs=np.ones(5), ours=1 + off, rel=1.0, **SAID)
    assert only().figure == "t, 5 entries, farthest off no. 4"


def test_the_last_bit_does_not_choose_the_entry() -> None:
    """Of entries that are as far off the middle one is taken; the largest by a millionth still is the largest."""
    off = np.array([1e-4, -1e-4, 1e-4, 1e-5])
    found = set()
    rng = np.random.default_rng(2)
    for _ in range(20):
        bits = 1 + off + 1e-14 * rng.standard_normal(4)
        check_all(figure="t", theirs=np.ones(4), ours=bits, rel=1e-3, **SAID)
        found.add(only().figure)
    assert found == {"t, 4 entries, farthest off no. 2"}
    check_all(figure="t", theirs=np.ones(4), ours=1 + off * np.array([1, 1, 1.0001, 1]), rel=1e-3, **SAID)
    assert only().figure == "t, 4 entries, farthest off no. 3"


def test_a_table_that_depends_on_the_machine_is_a_range() -> None:
    check_all(figure="t", theirs=["3.0", "1.0", "2.0"], ours=[3.01, 1.01, 2.01], rel=0.02, robust=False, **SAID)
    row = only()
    assert (row.figure, row.theirs, row.ours, row.difference) == ("t, 3 entries", "1.0 to 3.0", "within 2 %", "")
    check_all(figure="t", theirs=[1, 1], ours=[1.01, 1.0], rel=0.02, robust=False, **SAID)
    assert only().theirs == "1"


def test_bounds_and_what_depends_on_the_machine() -> None:
    check_bound(figure="a", at_most=0.003, ours=0.0021, **SAID)
    check_bound(figure="b", at_least="4.0", at_most="10.0", ours=5.6234, **SAID)
    check_bound(figure="c", at_most=0.003, ours=0.0021, robust=False, **SAID)
    check(figure="d", theirs=3.0, ours=3.1, abs=0.2, robust=False, **SAID)
    check_bound(figure="e", at_least=0.001, ours=0.0021, robust=False, **SAID)
    check_bound(figure="f", at_least=0.001, at_most=1, ours=0.0021, robust=False, **SAID)
    printed = [(row.theirs, row.ours, row.difference) for row in drain()]
    assert printed == [
        ("at most 0.003", "0.00210", ""),
        ("4.0 to 10.0", "5.62", ""),
        ("at most 0.003", "not above", ""),
        ("3", "within 0.2", ""),
        ("at least 0.001", "not below", ""),
        ("0.001 to 1", "between", ""),
    ]


def test_what_stands_at_the_head() -> None:
    """Sources that somebody published, headings of our own, and how figures were come by."""
    hows = {"Book": "memory", "Page": "seen there", "Paper": "derived (abstract seen)", "Ours": "derived: by parts"}
    rows = [Row(source, "x", "", "1", "1", "", "", how) for source, how in hows.items()]
    rows.append(Row("Ours", "y", "", "1", "1", "", "", "simulated"))
    head = written(rows).split("\n\n")[2]
    assert head.startswith("5 figures from 3 published sources and under 1 headings of our own.\n")
    assert head.endswith("How theirs was come by: seen 1, memory 1, derived 2, simulated 1.")


@pytest.mark.parametrize(
    "wrong",
    [
        {"how": "everybody knows"},
        {"source": ""},
        {"figure": "two\nlines"},
        {"rel": None},
    ],
)
def test_a_check_that_says_too_little_is_refused(wrong: dict[str, Any]) -> None:
    given: dict[str, Any] = {"figure": "x", "theirs": 1.0, "ours": 1.0, "rel": 0.1, **SAID}
    with pytest.raises(ValueError, match=r"begins with|its source|one line|rel or abs"):
        check(**(given | wrong))
    with pytest.raises(ValueError, match="no bound"):
        check_bound(figure="x", ours=1.0, **SAID)


def test_one_row_a_figure() -> None:
    a = Row("Book", "x", "", "1", "1", "", "", "memory", "test_a::test_x")
    assert written([a, a]).count("| x |") == 1
    other = Row("Book", "x", "", "1", "2", "", "", "memory", "test_b::test_x")
    with pytest.raises(ValueError, match="name them apart"):
        written([a, other])


def test_what_a_stale_table_is_told() -> None:
    one, other = written([Row("Book", "x", "", "1", "1", "", "", "memory")]), written([])
    assert stale(one, one) is None
    said = stale(one, other)
    assert said is not None
    assert "+ | x |" in said
    assert "cp build/checks.md tests/published/CHECKS.md" in said
    assert stale(one, None) is not None


PROJECT = """[tool.pytest.ini_options]
testpaths = ["tests"]
addopts = "-q --import-mode=importlib -p no:cacheprovider"
pythonpath = ["tests"]
"""
PAIR = """import pytest
from checks import check
@pytest.mark.parametrize("k", [1, 2])
def test_figure(k):
    check(figure=f"figure {k}", source="Book", theirs=k, ours=1.001 * k, rel=0.01, how="memory")
"""


def test_a_run_of_all_fails_over_a_stale_table_and_one_of_a_part_does_not(tmp_path: Path) -> None:
    """With a worker and without; the first run writes the table."""
    published = tmp_path / "tests" / "published"
    published.mkdir(parents=True)
    for name in ("checks.py", "conftest.py"):
        shutil.copy(TESTS / name, tmp_path / "tests")
    (tmp_path / "pyproject.toml").write_text(PROJECT, encoding="utf-8")
    (published / "test_pair.py").write_text(PAIR, encoding="utf-8")

    def run(*call: str) -> tuple[int, str]:
        environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST")}
        environment["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
        call = (sys.executable, "-m", "pytest", *call)
        done = subprocess.run(call, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
        return done.returncode, done.stdout

    code, said = run("-p", "xdist.plugin", "-n", "1")
    assert code == 1
    assert "2 passed" in said
    assert "not current" in said
    assert "+ | figure 1 |" in said
    shutil.copy(tmp_path / "build" / "checks.md", published / "CHECKS.md")
    assert run("tests/published")[0] == 0
    (published / "CHECKS.md").write_text("# Figures\n", encoding="utf-8")
    assert run("tests/published/test_pair.py")[0] == 0
