"""The written reference is the tables', and the tables agree with themselves and with the engine."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from ridefront.criteria import CRITERIA
from ridefront.study import read_study
from ridefront.study.keys import EXAMPLES, KEYS, QUANTITIES, SECTIONS
from ridefront.study.reference import reference
from ridefront.units import parse, same_dimension
from study_texts import ESTATE

ROOT = Path(__file__).parents[2]


def test_written_reference_is_up_to_date() -> None:
    written = (ROOT / "studies" / "README.md").read_text(encoding="utf-8")
    assert written == reference(), "write it anew: python -m ridefront.study.reference > studies/README.md"


def test_reference_names_every_key_and_criterion() -> None:
    page = reference()
    for name in [key.name for key in KEYS] + list(CRITERIA):
        assert f"| `{name}` |" in page, name


@pytest.mark.parametrize("study", sorted((ROOT / "studies").glob("*.toml")), ids=lambda path: path.name)
def test_studies_that_ship_are_right(study: Path) -> None:
    read = read_study(study)
    assert read.present is not None
    # What a larger model needs may be given beforehand, and is said not to be used.
    assert all(note.startswith("given but not used") for note in read.notes)


def test_keys_have_a_description_and_one_row_each() -> None:
    assert all(key.description for key in KEYS)
    assert len({(key.section, key.name) for key in KEYS}) == len(KEYS)
    assert sum(len(section) for section in SECTIONS.values()) == len(KEYS)


def test_units_of_keys_and_criteria_have_examples() -> None:
    for unit in {key.unit for key in KEYS} | {row.unit for row in CRITERIA.values()}:
        number, example = parse(EXAMPLES[unit])
        assert number > 0
        assert same_dimension(example, unit)


def test_criteria_are_shown_in_units_of_their_own() -> None:
    for row in CRITERIA.values():
        assert same_dimension(row.display_unit, row.unit), row.name
        for need in (way for needed in row.needs for way in needed.split(" or ")):
            known = need == "seat.height" or need in QUANTITIES or f"front.{need}" in QUANTITIES
            assert known, f"{row.name} needs {need}"


def test_reading_loads_nothing_slow(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_text(ESTATE, encoding="utf-8")
    slow = ("numba", "pandas", "pyarrow", "matplotlib", "pymoo", "moocore", "click", "rich")
    code = (
        "import sys\n"
        "from ridefront.study import read_study\n"
        f"read_study({str(path)!r})\n"
        f"print([name for name in {slow!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT / "engine")
    assert done.stdout.strip() == "[]"
