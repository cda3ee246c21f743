"""The command as a person calls it: what it prints, writes and returns."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pyarrow.csv
import pyarrow.parquet
import pytest

from commands import Call, caller

STUDIES = Path(__file__).parents[2] / "studies"
CORNER = STUDIES / "corner-hatchback.toml"
ESTATE = STUDIES / "estate.toml"


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Calls the command in this process: exit status, stdout, stderr."""
    return caller(capsys, monkeypatch)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first shipped study with a small budget."""
    text = CORNER.read_text(encoding="utf-8")
    sizes = (
        ("sample = 1024", "sample = 256"),
        ("population = 100", "population = 40"),
        ("refine = 1500", "refine = 0"),
    )
    for old, new in sizes:
        assert old in text
        text = text.replace(old, new)
    file = tmp_path_factory.mktemp("studies") / "small.toml"
    file.write_text(text.replace("generations = 10", "generations = 3"), encoding="utf-8")
    return file


def test_run_prints_compromises_and_leaves_a_folder(call: Call, small: Path, tmp_path: Path) -> None:
    status, out, err = call("run", small, "--output", tmp_path, "--workers", "1")
    assert status == 0
    assert "setups on the front" in out
    assert "present" in out
    assert "N/mm" in out
    assert "at its lower limit" in out
    assert "starting point" in out, "the caution"
    assert "better than the present one in every objective" in out
    assert "377 of 377 designs" in err, "1 present, 256 sampled, 3 generations of 40"
    names = {file.name for file in (tmp_path / "small").iterdir()}
    assert {"front.parquet", "front_pieces.parquet", "progress.parquet", "run.json", "study.toml", "front.png"} <= names
    picture = (tmp_path / "small" / "front.png").read_bytes()
    assert picture.startswith(b"\x89PNG")
    status, out, _ = call("run", small, "--output", tmp_path)
    assert status == 0
    assert "nothing to do" in out
    assert (tmp_path / "small" / "front.png").read_bytes() == picture


def test_run_without_a_feasible_design_returns_3(call: Call, small: Path, tmp_path: Path) -> None:
    text = small.read_text(encoding="utf-8") + '[[constraint]]\ncriterion = "ride_frequency"\nat_least = "9 Hz"\n'
    file = tmp_path / "hopeless.toml"
    file.write_text(text, encoding="utf-8")
    status, out, _ = call("run", file, "--output", tmp_path / "out")
    assert status == 3
    assert "no design meets all constraints" in out
    assert "ride frequency (smallest) at least 9.00 Hz: 0.0 % of designs" in out


def test_nothing_runs_while_one_study_is_wrong(call: Call, small: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(small.read_text(encoding="utf-8").replace("spring_rate", "spring_rat", 1), encoding="utf-8")
    status, _, err = call("run", small, wrong, "--output", tmp_path / "out")
    assert status == 2
    assert "spring_rat" in err
    assert not (tmp_path / "out").exists()
    status, _, err = call("run", small, small, "--output", tmp_path / "out")
    assert status == 2
    assert "same folder: small" in err


def test_a_folder_that_cannot_be_used_does_not_keep_the_next_study_waiting(
    call: Call, small: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.toml"
    other.write_text(small.read_text(encoding="utf-8"), encoding="utf-8")
    foreign = tmp_path / "out" / "small"
    foreign.mkdir(parents=True)
    (foreign / "holiday.jpg").touch()
    status, out, err = call("run", small, other, "--output", tmp_path / "out", "--workers", "1")
    assert status == 1
    assert "holiday.jpg" in err
    assert "setups on the front" in out
    assert (tmp_path / "out" / "other" / "front.parquet").is_file()


def test_a_refused_run_leaves_its_folder_done(call: Call, small: Path, tmp_path: Path) -> None:
    call("run", small, "--output", tmp_path, "--workers", "1")
    before = (tmp_path / "small" / "run.json").read_bytes()
    fewer = tmp_path / "fewer" / "small.toml"
    fewer.parent.mkdir()
    fewer.write_text(small.read_text(encoding="utf-8").replace("generations = 3", "generations = 1"), encoding="utf-8")
    status, _, err = call("run", fewer, "--output", tmp_path)
    assert status == 1
    assert "longer run than search.generations" in err
    assert (tmp_path / "small" / "run.json").read_bytes() == before


def test_check_shows_the_vehicle_at_rest(call: Call) -> None:
    status, out, err = call("check", ESTATE)
    assert (status, err) == (0, "")
    for text in ("rear over front ride frequency 1.13", "dynamic index 0.833", "10,048 designs", "17 to 40"):
        assert text in out


def test_check_names_every_mistake_of_every_study(call: Call, tmp_path: Path) -> None:
    empty = tmp_path / "empty.toml"
    empty.touch()
    status, out, err = call("check", empty, CORNER, tmp_path / "none.toml")
    assert status == 2
    assert "empty.toml: the file is empty" in err
    assert "none.toml: no such file" in err
    assert "Light hatchback" in out


def test_evaluate_the_present_setup_and_a_changed_one(call: Call) -> None:
    status, out, _ = call("evaluate", CORNER)
    assert status == 0
    assert "23.50" in out
    status, changed, _ = call("evaluate", CORNER, "--set", "front.spring_rate=30 N/mm")
    assert status == 0
    assert "30.00" in changed
    assert changed != out


def test_evaluate_a_file_of_designs_and_write_pieces(call: Call, small: Path, tmp_path: Path) -> None:
    call("run", small, "--output", tmp_path, "--workers", "1")
    front = tmp_path / "small" / "front.parquet"
    output = tmp_path / "again.parquet"
    status, _, err = call("evaluate", small, "--designs", front, "--output", output)
    assert status == 0
    assert "designs" in err
    before, after = pyarrow.parquet.read_table(front), pyarrow.parquet.read_table(output)
    for name in ("design", "comfort", "bump_reserve"):
        assert before[name].equals(after[name]), "the same designs have the same figures, bit for bit"
    assert after.schema.field("bump_reserve").metadata[b"unit"] == b"mm"
    pieces = tmp_path / "pieces.csv"
    assert call("evaluate", small, "--pieces", "--output", pieces)[0] == 0
    table = pyarrow.csv.read_csv(pieces)
    assert table.column_names == ["design", "criterion", "place", "condition", "response", "value", "se", "unit"]
    assert "at rest, full" in table["condition"].to_pylist()
    status, out, _ = call("evaluate", small, "--pieces")
    assert status == 0
    assert "wheel_hop_frequency" in out


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["--set", "front.spring=3"], 'nearest: "front.spring_rate"'),
        (["--set", "front.spring_rate=3 m"], "wrong unit"),
        (["--set", "front.spring_rate"], "NAME=VALUE"),
        (["--designs", "DIR/none.csv"], "no such file"),
        (["--designs", "DIR/bad.csv"], "front.damping: no such column"),
        (["--designs", "DIR/bad.csv"], "front.spring_rate: no positive number in row 2"),
        (["--designs", "DIR/bad.txt"], ".csv or .parquet"),
        (["--designs", "DIR/noise.parquet"], "cannot be read"),
        (["--designs", "DIR/bad.csv", "--set", "front.spring_rate=20"], "exclude each other"),
        (["--output", "DIR/x.xlsx"], ".csv or .parquet"),
    ],
)
def test_evaluate_refuses_what_it_cannot_take(call: Call, tmp_path: Path, words: list[str], text: str) -> None:
    (tmp_path / "bad.csv").write_text("front.spring_rate,front.unsprung_mass\n20,30\n-1,34\n", encoding="utf-8")
    (tmp_path / "noise.parquet").write_bytes(b"no such thing")
    status, _, err = call("evaluate", CORNER, *(word.replace("DIR", str(tmp_path)) for word in words))
    assert status == 2
    assert text in err
    assert "Traceback" not in err


def test_a_misspelt_verb_is_answered_with_the_verbs(call: Call) -> None:
    status, _, err = call("rum")
    assert status == 2
    assert "run, check, evaluate" in err


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_leaves_a_folder_that_goes_on(
    small: Path, tmp_path: Path, number: signal.Signals, status: int
) -> None:
    study = tmp_path / "long.toml"
    text = small.read_text(encoding="utf-8").replace("generations = 3", "generations = 400")
    study.write_text(text, encoding="utf-8")
    words = ["run", str(study), "--output", str(tmp_path / "out"), "--workers", "1"]
    process = subprocess.Popen(
        [sys.executable, "-c", "from ridefront.cli import main; main()", *words], stderr=subprocess.PIPE, text=True
    )
    parts = tmp_path / "out" / "long" / "evaluations"
    deadline = time.monotonic() + 60
    while len(list(parts.glob("part-*.parquet"))) < 8 and time.monotonic() < deadline:
        time.sleep(0.02)
    process.send_signal(number)
    _, err = process.communicate(timeout=60)
    assert process.returncode == status, err
    assert "goes on from here" in err
    assert (tmp_path / "out" / "long" / "front.parquet").is_file()
    done = len(list(parts.glob("part-*.parquet")))
    assert 8 <= done < 400


def test_a_title_that_looks_like_mathematics_is_drawn_as_text(call: Call, small: Path, tmp_path: Path) -> None:
    text = small.read_text(encoding="utf-8")
    first = text.index("title = ")
    text = text[:first] + 'title = "a $\\\\foo{$ of b"\n' + text[text.index("\n", first) + 1 :]
    study = tmp_path / "dollar.toml"
    study.write_text(text.replace("country road", "$country$ road"), encoding="utf-8")
    status, _, err = call("run", study, "--output", tmp_path / "out", "--workers", "1")
    assert (status, "Traceback" in err) == (0, False)
    assert (tmp_path / "out" / "dollar" / "front.png").is_file()


def test_many_designs_are_shown_in_part(call: Call, small: Path, tmp_path: Path) -> None:
    call("run", small, "--output", tmp_path, "--workers", "1")
    status, out, _ = call("evaluate", small, "--designs", tmp_path / "small" / "front.parquet")
    assert status == 0
    assert "more: --output FILE writes all of them" in out
    assert "front.spring_rate" in out
