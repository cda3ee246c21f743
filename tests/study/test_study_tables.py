"""Tables of springs and dampers in a study: how they are read, every mistake in them, what of them counts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridefront.errors import StudyError
from ridefront.report.at_rest import standing_figures
from ridefront.report.doubts import doubts
from ridefront.study import Study, read_study
from ridefront.study.digest import figures_digest, plan_digest
from ridefront.study.space import parameters
from ridefront.vehicle.static import GRAVITY
from study_texts import CORNER, changed

SPRING = "travel [mm],force [N]\n-80,1400\n0,3000\n60,4500\n90,6000\n"
DAMPER = "speed [m/s],force [N]\n-1,-1500\n-0.1,-300\n0,0\n0.1,100\n1,550\n"
RATE, DAMPING = 'spring_rate = { low = "14 N/mm", high = "36 N/mm" }', 'damping = "2000 N*s/m"'
WITH_SPRING = (RATE, 'spring_table = "front spring.csv"\nspring_scale = { low = 0.8, high = 1.5 }')
WITH_DAMPER = (DAMPING, 'damper_table = "bench/damper.csv"\ndamper_scale = { low = 0.5, high = 2, scale = "log" }')


def write(folder: Path, *changes: tuple[str, str], spring: str | bytes = SPRING, damper: str | bytes = DAMPER) -> Path:
    """A study of a corner with changes, beside its tables."""
    (folder / "bench").mkdir(exist_ok=True)
    for name, content in (("front spring.csv", spring), ("bench/damper.csv", damper)):
        (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    file = folder / "study.toml"
    file.write_text(changed(CORNER, *changes), encoding="utf-8")
    return file


def study_of(folder: Path, *, spring: str | bytes = SPRING, damper: str | bytes = DAMPER) -> Study:
    return read_study(write(folder, WITH_SPRING, WITH_DAMPER, spring=spring, damper=damper))


def lines_of(file: Path) -> list[str]:
    """Every mistake in a line each, less the name of the study file."""
    with pytest.raises(StudyError) as caught:
        read_study(file)
    return [mistake.line("study.toml").removeprefix("study.toml: ") for mistake in caught.value.mistakes]


def test_tables_are_read_in_si_and_kept_as_they_were(tmp_path: Path) -> None:
    study = study_of(tmp_path)
    spring, damper = study.tables["front.spring_table"], study.tables["front.damper_table"]
    assert (spring.path, spring.text) == ("front spring.csv", SPRING.encode())
    assert spring.points.x == (-0.08, 0.0, 0.06, 0.09)
    assert spring.points.force == (1400.0, 3000.0, 4500.0, 6000.0)
    assert (damper.path, damper.text) == ("bench/damper.csv", DAMPER.encode())
    assert damper.points.x == (-1.0, -0.1, 0.0, 0.1, 1.0)
    assert study.points == {"front.spring_table": spring.points, "front.damper_table": damper.points}
    assert [variable.path for variable in study.variables] == ["front.spring_scale", "front.damper_scale"]


@pytest.mark.parametrize(
    "text",
    [
        "travel,force\n-0.08,1400\n0,3000\n0.06,4500\n0.09,6000",
        "travel [m],force [kN]\n-0.08,1.4\n0,3\n0.06,4.5\n0.09,6\n",
        "\ufeff# 3 May\r\n\r\n travel [ cm ] , force [N]\r\n-8,1400\r\n#0,1\r\n0,3e3\r\n+6., 4500.0\r\n9,6000\r\n",
        "travel [mm],force [N]\r-80,1400\r0,3000\r60,4500\r90,6000\r",
    ],
    ids=["plain SI", "other units", "comments, blanks, mark of the encoding", "an old line end"],
)
def test_how_a_table_is_written_does_not_count(tmp_path: Path, text: str) -> None:
    here, other = tmp_path / "here", tmp_path / "other"
    here.mkdir()
    other.mkdir()
    one, same = study_of(here), study_of(other, spring=text)
    assert same.points == one.points
    assert figures_digest(same) == figures_digest(one)


def test_pounds_and_inches_are_as_defined(tmp_path: Path) -> None:
    """1 in = 25.4 mm, 1 lbf = 4.4482216152605 N exactly (NIST SP 811, appendix B.8, from memory)."""
    table = study_of(tmp_path, spring="travel [in],force [lbf]\n-2,300\n0,700\n3,1500\n").points["front.spring_table"]
    assert table.x == (-0.0508, 0.0, 0.0762)
    assert table.force == pytest.approx((300 * 4.4482216152605, 700 * 4.4482216152605, 1500 * 4.4482216152605))


@pytest.mark.parametrize(
    ("spring", "damper"),
    [
        (SPRING.replace("60,4500", "60,4501"), DAMPER),
        (SPRING.replace("90,", "91,"), DAMPER),
        (SPRING, DAMPER.replace("1,550", "1,551")),
        (SPRING, DAMPER.replace("0.1,100", "0.11,100")),
    ],
)
def test_what_a_table_says_counts_for_figures_alone(tmp_path: Path, spring: str, damper: str) -> None:
    before = study_of(tmp_path)
    after = study_of(tmp_path, spring=spring, damper=damper)
    assert figures_digest(before) != figures_digest(after)
    assert plan_digest(before) == plan_digest(after)


def test_name_of_a_table_does_not_count(tmp_path: Path) -> None:
    before = study_of(tmp_path)
    (tmp_path / "front spring.csv").rename(tmp_path / "bench" / "öfter.csv")
    file = tmp_path / "study.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("front spring.csv", "bench/öfter.csv"), encoding="utf-8")
    assert figures_digest(read_study(file)) == figures_digest(before)
    file.write_text(file.read_text(encoding="utf-8").replace("bench/öfter.csv", str(tmp_path / "bench" / "öfter.csv")))
    assert figures_digest(read_study(file)) == figures_digest(before)


FILES = [
    ("header alone", "travel [mm],force [N]\n", "0 rows; allowed: 2 to 50 rows"),
    ("one row", "travel [mm],force [N]\n0,1\n", "1 row; allowed: 2 to 50 rows"),
    ("too many rows", "travel,force\n" + "".join(f"{k},{k}\n" for k in range(51)), "51 rows; allowed: 50 at most"),
    ("empty", "# nothing\n\n", 'the file is empty; allowed: a header, such as "travel [mm],force [N]", and rows'),
    ("no text", b"travel,force\n0,\xff\n1,2\n", "row 2: not a text; allowed: CSV in UTF-8"),
    ("too large", "#" * 2**20 + "\n", "too large for a table; allowed: 1 MiB at most"),
    ("other columns", "speed [m/s],force [N]\n0,1\n1,2\n",
     'row 1: "speed [m/s],force [N]" is no header; allowed: two columns, such as "travel [mm],force [N]"'),
    ("a third column", "#\ntravel,force,note\n0,1,a\n",
     'row 2: "travel,force,note" is no header; allowed: two columns, such as "travel [mm],force [N]"'),
    ("no header", "0,1\n1,2\n", 'row 1: "0,1" is no header; allowed: two columns, such as "travel [mm],force [N]"'),
    ("semicolons", "travel;force\n0,5;1\n",
     'row 1: "travel;force" is no header; allowed: two columns, such as "travel [mm],force [N]" '
     "(columns are parted by commas, decimals by points)"),
    ("other way round", "force [N],travel [mm]\n0,1\n",
     'row 1: "force [N],travel [mm]" is no header; allowed: two columns, such as "travel [mm],force [N]"'),
    ("wrong unit", "travel [N],force [N]\n0,1\n1,2\n", 'row 1: travel in "N"; allowed: a unit of travel such as m'),
    ("no unit", "travel [],force [N]\n0,1\n1,2\n", 'row 1: travel in ""; allowed: a unit of travel such as m'),
    ("unknown unit", "travel [mm],force [newt]\n0,1\n1,2\n",
     'row 1: force in "newt"; allowed: a unit of force such as N (nearest: "newton")'),
    ("not rising", SPRING.replace("60,", "-90,"),
     "row 4: travel -90 mm after 0 mm; allowed: travel that rises from row to row"),
    ("travel twice", SPRING.replace("60,", "0.0,"),
     "row 4: travel 0.0 mm after 0 mm; allowed: travel that rises from row to row"),
    ("force the same", SPRING.replace("4500", "3000"),
     "row 4: force 3000 N after 3000 N; allowed: force that rises from row to row"),
    ("force falls", SPRING.replace("4500", "2999.5"),
     "row 4: force 2999.5 N after 3000 N; allowed: force that rises from row to row"),
    ("beyond 0", "travel [mm],force [N]\n5,1\n9,2\n",
     "travel from 5 mm to 9 mm; allowed: travel that includes 0, the reference position"),
    ("before 0", "travel [mm],force [N]\n-9,1\n-0.1,2\n",
     "travel from -9 mm to -0.1 mm; allowed: travel that includes 0, the reference position"),
    ("three cells", SPRING.replace("60,4500", "60,4500,"), "row 4: 3 cells; allowed: two, travel and force"),
    ("one cell", SPRING.replace("60,4500", "60"), "row 4: 1 cell; allowed: two, travel and force"),
]  # fmt: skip


@pytest.mark.parametrize(("spring", "line"), [case[1:] for case in FILES], ids=[case[0] for case in FILES])
def test_mistake_in_a_spring_is_named_with_its_row(tmp_path: Path, spring: str | bytes, line: str) -> None:
    where = 'vehicle.front.spring_table: "front spring.csv"'
    separator = " " if line.startswith("row") else ": "
    assert lines_of(write(tmp_path, WITH_SPRING, spring=spring)) == [f"{where}{separator}{line}"]


@pytest.mark.parametrize("cell", ["", "much", "nan", "inf", "1e999", "1_000", "12 N", '"12"', "0x10", "--1"])
def test_cell_that_is_no_finite_number(tmp_path: Path, cell: str) -> None:
    lines = lines_of(write(tmp_path, WITH_SPRING, spring=SPRING.replace("4500", cell)))
    assert len(lines) == 1
    assert lines[0].startswith('vehicle.front.spring_table: "front spring.csv" row 4: force "')
    assert lines[0].endswith("; allowed: a finite number, in N")


@pytest.mark.parametrize(
    ("damper", "line"),
    [
        (
            DAMPER.replace("1,550", "1,99.9"),
            " row 6: force 99.9 N after 100 N; allowed: force that does not fall",
        ),
        (DAMPER.replace("0,0\n", "0,12.5\n"), ": force 12.5 N at speed 0; allowed: none there (the gas's force is no"),
        ("speed,force\n-1,-10\n1,30\n", ": force 10 N at speed 0; allowed: none there (a line through the rows on"),
        ("speed,force\n-130,-900\n0,0\n130,700\n", " row 2: speed -130 m/s; allowed: speed within 20 m/s (a header"),
        ("speed,force\n0,0\n1,30\n", ": speed from 0 m/s to 1 m/s; allowed: at least one speed below 0 and one above"),
        (
            "speed,force\n-1,-3\n0,0\n",
            ": speed from -1 m/s to 0 m/s; allowed: at least one speed below 0 and one above",
        ),
        ("travel [mm],force [N]\n-1,-3\n1,3\n", ' row 1: "travel [mm],force [N]" is no header; allowed: two columns'),
        ("speed [mm],force [N]\n-1,-3\n1,3\n", ' row 1: speed in "mm"; allowed: a unit of speed such as m/s'),
    ],
)
def test_mistake_in_a_damper_is_named_with_its_row(tmp_path: Path, damper: str, line: str) -> None:
    lines = lines_of(write(tmp_path, WITH_DAMPER, (RATE, 'spring_rate = "20 N/mm"'), damper=damper))
    assert len(lines) == 1
    assert lines[0].startswith(f'vehicle.front.damper_table: "bench/damper.csv"{line}')


def test_flat_stretches_of_a_damper_and_rest_between_rows_are_right(tmp_path: Path) -> None:
    table = study_of(tmp_path, damper="speed,force\n-2,-30\n-1,-30\n3,90\n4,90\n").points["front.damper_table"]
    assert table.force == (-30.0, -30.0, 90.0, 90.0)


def test_all_mistakes_of_all_tables_come_at_once(tmp_path: Path) -> None:
    spring = SPRING.replace("0,3000", "o,3000").replace("90,6000", "60,70")
    damper = DAMPER.replace("-0.1,", "-2,").replace("1,550", "1,5")
    lines = lines_of(
        write(tmp_path, WITH_SPRING, WITH_DAMPER, ('tyre_rate = "185 N/mm"', ""), spring=spring, damper=damper)
    )
    assert [line.split(";")[0] for line in lines if "table" in line] == [
        'vehicle.front.spring_table: "front spring.csv" row 3: travel "o"',
        'vehicle.front.spring_table: "front spring.csv" row 5: travel 60 mm after 60 mm',
        'vehicle.front.damper_table: "bench/damper.csv" row 3: speed -2 m/s after -1 m/s',
        'vehicle.front.damper_table: "bench/damper.csv" row 6: force 5 N after 100 N',
    ]
    assert any(line.startswith("vehicle.front.tyre_rate: missing") for line in lines)


@pytest.mark.parametrize(
    ("value", "found"),
    [
        ('"none.csv"', '"none.csv": no such file'),
        ('"bench"', '"bench": not a file'),
        (f'"{"x" * 300}.csv"', f'"{"x" * 57}...": cannot be read: File name too long'),
        (r'"a\u0000b"', r'"a\x00b": no such file'),
        ("12", "12 stands here"),
        ('" "', '" " stands here'),
        ("{ low = 1, high = 2 }", "a table stands here"),
    ],
)
def test_path_that_leads_nowhere(tmp_path: Path, value: str, found: str) -> None:
    file = write(tmp_path, (RATE, f"spring_table = {value}\nspring_scale = {{ low = 1, high = 2 }}"))
    allowed = "the path of a CSV file, from the study file's folder"
    assert lines_of(file) == [f"vehicle.front.spring_table: {found}; allowed: {allowed}"]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        (
            [(RATE, f'{RATE}\nspring_table = "front spring.csv"')],
            [
                "vehicle.front.spring_rate: given beside spring_table; "
                "allowed: spring_table with or without spring_scale, or spring_rate"
            ],
        ),
        (
            [(DAMPING, 'damping_bump = 900\nknee_speed = "0.1 m/s"\ndamper_table = "bench/damper.csv"')],
            [
                f"vehicle.front.{name}: given beside damper_table; allowed: damper_table with or without damper_scale, "
                "or damping, or damping_bump and damping_rebound, with or without knees"
                for name in ("damping_bump", "knee_speed")
            ],
        ),
        (
            [(DAMPING, f"{DAMPING}\nspring_scale = 1.1\ndamper_scale = {{ low = 1, high = 2 }}")],
            [
                f"vehicle.front.{name}_scale: given without {name}_table; allowed: {name}_table with it"
                for name in ("spring", "damper")
            ],
        ),
        (
            [(RATE, f"{RATE}\ngas_force = {{ low = 0, high = 100 }}")],
            [
                "vehicle.front.gas_force: a range on a quantity that changes nothing in how a design rides; "
                "allowed: one value"
            ],
        ),
    ],
    ids=["rate and table", "damping and table", "scale alone", "range of the gas"],
)
def test_what_does_not_go_together(tmp_path: Path, changes: list[tuple[str, str]], expected: list[str]) -> None:
    assert lines_of(write(tmp_path, *changes)) == expected


def test_missing_spring_and_damper_name_tables_as_a_way(tmp_path: Path) -> None:
    lines = lines_of(write(tmp_path, (RATE, "unsprung_mass_ = 1"), (DAMPING, "")))
    assert any(line.startswith("vehicle.front.spring_rate: missing") and "or spring_table" in line for line in lines)
    assert any(line.startswith("vehicle.front.damping: missing") and "or damper_table" in line for line in lines)


def test_table_of_an_axle_that_the_model_has_not_is_checked_and_left(tmp_path: Path) -> None:
    rear = ("[[road]]", '[vehicle.rear]\nspring_table = "front spring.csv"\n[[road]]')
    study = read_study(write(tmp_path, rear))
    assert study.tables == {}
    assert study.notes == ("given but not used by the front quarter car: rear.spring_table",)
    assert len(lines_of(write(tmp_path, rear, spring="travel\n"))) == 1


def test_scales_are_quantities_with_a_default(tmp_path: Path) -> None:
    study = read_study(write(tmp_path, WITH_DAMPER, (RATE, 'spring_table = "front spring.csv"')))
    values = parameters(study, np.array([[0.5], [2.0]]))
    assert list(values["front.spring_scale"]) == [1.0, 1.0]
    assert list(values["front.damper_scale"]) == [0.5, 2.0]
    assert "front.spring_rate" not in values
    assert "front.bump_share" not in values
    plain = read_study(write(tmp_path))
    assert "front.spring_scale" not in plain.fixed


def shown(study: Study, label: str) -> str:
    return next(row[2] for row in standing_figures(study).rows if row[0] == label)


def test_check_shows_the_spring_load_that_the_gas_leaves(tmp_path: Path) -> None:
    """By hand: 300 kg are 2942 N at the wheel; 400 N of gas at a damper of ratio 0.9 carry 360 N of them, and the
    spring, of ratio 0.8, the rest.
    """
    label = "spring load at the reference position"
    ratios = (RATE, f'{RATE}\nspring_ratio = 0.8\ndamper_ratio = 0.9\ngas_force = "400 N"')
    study = read_study(write(tmp_path, ratios))
    assert float(shown(study, label)) == pytest.approx((300 * GRAVITY - 360) / 0.8, rel=5e-3)
    assert float(shown(read_study(write(tmp_path)), label)) == pytest.approx(300 * GRAVITY, rel=5e-3)
    assert not any("gas_force" in line for line in doubts(study))
    lifted = read_study(write(tmp_path, (ratios[0], ratios[1].replace("400 N", "3300 N"))))
    assert sum("front.gas_force alone carries more" in line for line in doubts(lifted)) == 1


def test_gas_changes_no_figure(tmp_path: Path) -> None:
    plain = read_study(write(tmp_path))
    with_gas = read_study(write(tmp_path, (RATE, f"{RATE}\ngas_force = 150")))
    assert figures_digest(plain) == figures_digest(with_gas)
    assert lines_of(write(tmp_path, (RATE, f"{RATE}\ngas_force = -1")))[0].startswith("vehicle.front.gas_force: -1 is")


def test_check_shows_a_table_as_rates_at_the_reference_position(tmp_path: Path) -> None:
    """20 N/mm in rebound and 25 N/mm in bump meet at the reference position; scale 1.15 is the middle of its range."""
    study = study_of(tmp_path)
    assert float(shown(study, "wheel rate, stops that touch included")) == pytest.approx(1.15 * 22.5, rel=5e-3)
    critical = 2 * np.sqrt(1.15 * 22.5e3 * 300)
    assert float(shown(study, "damping ratio at rest, bump")) == pytest.approx(1000 / critical, rel=5e-3)
    assert float(shown(study, "damping ratio at rest, rebound")) == pytest.approx(3000 / critical, rel=5e-3)
