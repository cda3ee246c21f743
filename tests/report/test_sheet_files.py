"""``ridefront choose --sheets``: files written, what they take the place of, and what they leave alone."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from commands import Call, caller
from ridefront.errors import CallError, ResultError
from ridefront.evaluate import Evaluator
from ridefront.report.choices import choose
from ridefront.report.sheet import Sheet, sheets_of, write_sheets
from ridefront.run import run_study
from ridefront.study import read_study
from sheets import UNKNOWN, result_of
from small_runs import AUTO, Collector, small_study


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    return caller(capsys, monkeypatch, "choose")


def test_command_writes_sheets(call: Call, tmp_path: Path) -> None:
    parts = ("[search]", '[catalogue]\nfront.spring_rate = { step = "2 N/mm" }\n[search]')
    folder = run_study(small_study(tmp_path, *AUTO, parts), tmp_path / "out", workers=1).folder
    status, out, err = call(folder, "--sheets", tmp_path / "sheets")
    assert status == 0
    written = sorted((tmp_path / "sheets").iterdir())
    assert [str(path) for path in written] == sorted(re.findall(r"^setup sheet: (.*)$", err, flags=re.M))
    letters = re.findall(r"^  (\w) \(design (\d+)\)", out, flags=re.M)
    assert [path.name for path in written] == [f"setup_{letter}_{design}.md" for letter, design in letters]
    for path in written:
        sheet = path.read_text(encoding="utf-8")
        assert "All parts from the catalogue" in sheet
        assert "digest of the figures" in sheet
        assert not UNKNOWN.search(sheet)
    status, _, err = call(folder, "--weight", "comfort=2", "--sheets")
    assert status == 0
    assert [path.name for path in folder.glob("setup_*.md")] == [Path(err.strip()).name]


def test_refused_where_the_run_is_of_another_version(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    result = replace(result_of(study, tmp_path, np.array([[40.0, 24.0, 1900.0]])), same_engine=False)
    with pytest.raises(ResultError, match="another version of the program"):
        sheets_of(choose(result), Evaluator(study), None, "today")


def sheet(letter: str, design: int, run: str = "0123456789abcdef", title: str = "A setup") -> Sheet:
    """A short one."""
    return Sheet(letter, design, title, (), run)


def names(folder: Path) -> list[str]:
    """Files of a folder."""
    return sorted(path.name for path in folder.iterdir())


def test_a_later_choice_takes_the_place_of_an_earlier_one(tmp_path: Path) -> None:
    write_sheets((sheet("A", 3), sheet("B", 5)), tmp_path, tmp_path / "home")
    again = write_sheets((sheet("A", 3, title="Other words"), sheet("B", 8)), tmp_path, tmp_path / "home")
    assert names(tmp_path) == ["setup_A_3.md", "setup_B_8.md"]
    assert again.removed == (tmp_path / "setup_B_5.md",)
    assert "Other words" in (tmp_path / "setup_A_3.md").read_text(encoding="utf-8")


def test_sheets_of_another_run_are_left_alone(tmp_path: Path) -> None:
    write_sheets((sheet("A", 3), sheet("B", 5)), tmp_path, tmp_path / "home")
    before = (tmp_path / "setup_A_3.md").read_bytes()
    other = "f" * 16
    assert write_sheets((sheet("A", 4, other),), tmp_path, tmp_path / "home").removed == ()
    with pytest.raises(CallError, match=r"setup_A_3\.md: is there, a setup sheet of another run"):
        write_sheets((sheet("B", 6, other), sheet("A", 3, other)), tmp_path, tmp_path / "home")
    assert names(tmp_path) == ["setup_A_3.md", "setup_A_4.md", "setup_B_5.md"]
    assert (tmp_path / "setup_A_3.md").read_bytes() == before


def test_in_its_own_folder_a_run_has_the_only_sheets(tmp_path: Path) -> None:
    write_sheets((sheet("A", 3), sheet("B", 5)), tmp_path, tmp_path)
    write_sheets((sheet("A", 3, "f" * 16),), tmp_path, tmp_path)
    assert names(tmp_path) == ["setup_A_3.md"]


@pytest.mark.parametrize("text", ["my own words", "", "# Setup A, design 3\n"])
def test_a_file_of_somebody_else_is_not_written_over(tmp_path: Path, text: str) -> None:
    mine = tmp_path / "setup_A_3.md"
    mine.write_text(text, encoding="utf-8")
    with pytest.raises(CallError, match="no setup sheet that this program wrote") as error:
        write_sheets((sheet("B", 1), sheet("A", 3)), tmp_path, tmp_path)
    assert "--sheets DIR" in error.value.hint
    assert str(mine) in error.value.message
    assert names(tmp_path) == ["setup_A_3.md"]
    assert mine.read_text(encoding="utf-8") == text
    assert write_sheets((sheet("A", 4),), tmp_path, tmp_path).removed == ()
    assert mine.read_text(encoding="utf-8") == text


@pytest.mark.parametrize("change", [("A setup", "A setup, 2 mm more in front"), ("-->\n", "-->\n\nfitted on Monday\n")])
def test_notes_by_hand_on_a_sheet_are_not_lost(tmp_path: Path, change: tuple[str, str]) -> None:
    (path,) = write_sheets((sheet("A", 3),), tmp_path, tmp_path).paths
    noted = path.read_text(encoding="utf-8").replace(*change)
    path.write_text(noted, encoding="utf-8")
    with pytest.raises(CallError, match="somebody has changed since it was written"):
        write_sheets((sheet("A", 3),), tmp_path, tmp_path)
    later = write_sheets((sheet("A", 4),), tmp_path, tmp_path)
    assert (later.removed, later.kept) == ((), (path,))
    assert path.read_text(encoding="utf-8") == noted


def test_the_command_says_what_became_of_earlier_sheets(call: Call, tmp_path: Path) -> None:
    folder = run_study(small_study(tmp_path), tmp_path / "out", workers=1).folder
    assert call(folder, "--sheets")[0] == 0
    earlier = sorted(folder.glob("setup_*.md"))
    status, _, err = call(folder, "--weight", "comfort=2", "--sheets")
    left = sorted(folder.glob("setup_*.md"))
    assert (status, len(left)) == (0, 1)
    gone = [str(path) for path in earlier if path not in left]
    assert re.findall(r"^earlier setup sheet removed: (.*)$", err, flags=re.M) == gone
    left[0].write_text("mine", encoding="utf-8")
    status, _, err = call(folder, "--weight", "comfort=2", "--sheets")
    assert status == 2
    assert f"{left[0]}: is there" in err
    assert left[0].read_text(encoding="utf-8") == "mine"


def test_a_run_that_was_interrupted_is_said_to_be(call: Call, tmp_path: Path) -> None:
    study = small_study(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        run_study(study, tmp_path / "out", workers=1, progress=Collector(interrupt_after=3))
    folder = tmp_path / "out" / study.stem
    status, out, _ = call(folder, "--sheets")
    assert status == 0
    assert "not finished: interrupted" in " ".join(out.split())
    for path in folder.glob("setup_*.md"):
        written = path.read_text(encoding="utf-8")
        head, bear = written.split("## 1. ")[0], written.split("## 11. ")[1]
        assert re.search(r"- \*\*run\*\*: not finished: interrupted at \d{4}-\d\d-\d\d \d\d:\d\d", head)
        assert "- The run is not finished: interrupted at" in bear
    run_study(read_study(tmp_path / "corner.toml"), tmp_path / "out", workers=1)
    assert call(folder, "--sheets")[0] == 0
    for path in folder.glob("setup_*.md"):
        written = path.read_text(encoding="utf-8")
        assert "- **run**: ended " in written
        assert "interrupted" not in written


def test_a_result_taken_for_the_folder_is_said_to_be(call: Call) -> None:
    status, _, err = call("--sheets", "results/estate")
    assert status == 2
    assert "--sheets has taken results/estate as the folder" in err
    assert "ridefront choose RESULT --sheets" in err
    for words in ((), ("--sheets",), ("--beat-present",)):
        status, _, err = call(*words)
        assert status == 2
        assert "Missing argument 'RESULT'" in err
