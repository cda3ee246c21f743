"""A run of a measured spring and damper, from CSV to front: what its folder keeps, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from ridefront.errors import ResultError
from ridefront.evaluate import Evaluator
from ridefront.results import read_front
from ridefront.results.folder import RunFolder
from ridefront.run import run_study
from ridefront.study import Study
from small_runs import evaluations_of, small_study

SPRING = "# bench of 3 May\ntravel [mm],force [N]\n-90,2100\n0,3900\n50,5100\n90,7100\n"
DAMPER = "speed [m/s],force [N]\n-0.5,-1350\n-0.1,-500\n0,0\n0.1,220\n0.5,500\n"
MEASURED = (
    ('spring_rate = { low = "12 N/mm", high = "40 N/mm" }', 'spring_table = "bench/spring.csv"\nspring_scale = 1.1'),
    (
        'damping = { low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }',
        'damper_table = "bench/damper.csv"\ndamper_scale = { low = 0.4, high = 2.5, scale = "log" }',
    ),
    ('front.spring_rate = "24 N/mm"\nfront.damping = "1900 N*s/m"', "front.damper_scale = 1.0"),
    ("sample = 64", "sample = 16"),
    ("generations = 4", "generations = 1"),
)


def measured(folder: Path, *changes: tuple[str, str], spring: str = SPRING, damper: str = DAMPER) -> Study:
    bench = folder / "bench"
    bench.mkdir(exist_ok=True)
    (bench / "spring.csv").write_text(spring, encoding="utf-8")
    (bench / "damper.csv").write_text(damper, encoding="utf-8")
    return small_study(folder, *MEASURED, *changes)


def test_run_keeps_its_tables_and_goes_on_only_with_them(tmp_path: Path) -> None:
    study = measured(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    kept = {file.name: file.read_text(encoding="utf-8") for file in (folder / "tables").iterdir()}
    assert kept == {"front.spring_table.csv": SPRING, "front.damper_table.csv": DAMPER}
    front = read_front(folder)
    assert len(front) > 0
    assert front["front.damper_scale"].between(0.4, 2.5).all()
    assert run_study(measured(tmp_path), tmp_path / "out", workers=1).added == 0
    changed = measured(tmp_path, damper=DAMPER.replace("0.5,500", "0.5,510"))
    with pytest.raises(ResultError) as caught:
        run_study(changed, tmp_path / "out", workers=1)
    assert "(tables: front.damper_table)" in caught.value.message
    comment = measured(tmp_path, spring=SPRING.replace("# bench", "# rig"))
    more = measured(tmp_path, ("generations = 1", "generations = 2"), spring=SPRING.replace("# bench", "# rig"))
    assert run_study(comment, tmp_path / "out", workers=1).added == 0
    assert run_study(more, tmp_path / "out", workers=1).added == 16
    assert (folder / "tables" / "front.spring_table.csv").read_text(encoding="utf-8").startswith("# rig")


def test_table_of_plain_elements_gives_their_figures(tmp_path: Path) -> None:
    """A spring of 26 N/mm and a damper of two slopes, as numbers and as tables, scales 1."""
    spring = "travel [mm],force [kN]\n-100,1.3\n-20,3.38\n40,4.94\n90,6.24\n"
    damper = "speed [m/s],force [N]\n-1,-2600\n0,0\n1,1000\n"
    table = measured(tmp_path, ("spring_scale = 1.1", ""), spring=spring, damper=damper)
    plain = small_study(
        tmp_path,
        ('spring_rate = { low = "12 N/mm", high = "40 N/mm" }', 'spring_rate = "26 N/mm"'),
        (
            'damping = { low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }',
            'damping_bump = "1000 N*s/m"\ndamping_rebound = "2600 N*s/m"',
        ),
        ('front.spring_rate = "24 N/mm"\nfront.damping = "1900 N*s/m"', ""),
    )
    one = Evaluator(table).evaluate(np.array([[36.0, 1.0], [40.0, 1.0]])).values
    other = Evaluator(plain).evaluate(np.array([[36.0], [40.0]])).values
    assert one == pytest.approx(other, rel=1e-9)


def test_overwrite_deletes_the_tables_of_the_run_before(tmp_path: Path) -> None:
    folder = tmp_path / "out" / "corner"
    with RunFolder(measured(tmp_path), tmp_path / "out") as opened:
        opened.begin(1)
    assert len(list((folder / "tables").iterdir())) == 2
    (folder / "tables" / "mine.csv").write_text("mine")
    (folder / "tables" / ".front.spring_table.csv.tmp").write_text("half")
    with RunFolder(small_study(tmp_path), tmp_path / "out", overwrite=True) as opened:
        opened.begin(1)
    assert [file.name for file in (folder / "tables").iterdir()] == ["mine.csv"]


def test_refused_run_leaves_the_tables_as_they_were(tmp_path: Path) -> None:
    """A part that is damaged is found after the study has been stored."""
    study = measured(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    before = evaluations_of(folder)
    part = folder / "evaluations" / "part-000001.parquet"
    whole = part.read_bytes()
    part.write_bytes(whole[: len(whole) // 2])
    more = measured(tmp_path, ("generations = 1", "generations = 2"), spring=SPRING.replace("# bench", "# rig"))
    with pytest.raises(ResultError, match="damaged"):
        run_study(more, tmp_path / "out", workers=1)
    assert (folder / "tables" / "front.spring_table.csv").read_text(encoding="utf-8") == SPRING
    assert json.loads((folder / "run.json").read_text(encoding="utf-8"))["state"] == "done"
    part.write_bytes(whole)
    assert evaluations_of(folder).equals(before)


def test_lost_table_is_written_again(tmp_path: Path) -> None:
    study = measured(tmp_path)
    folder = run_study(study, tmp_path / "out", workers=1).folder
    (folder / "tables" / "front.damper_table.csv").unlink()
    assert run_study(study, tmp_path / "out", workers=1).added == 0
    assert (folder / "tables" / "front.damper_table.csv").read_text(encoding="utf-8") == DAMPER
