"""Doubts about travel: loads that stand past the end of bump, spring tables that end before the travel does."""

from __future__ import annotations

from pathlib import Path

from ridefront.report.doubts import doubts
from ridefront.study import read_study
from study_texts import ESTATE, changed, read

LOAD = '{ mass = "415 kg", behind_front_axle = "2.75 m" }'


def test_a_load_past_the_end_of_bump_is_named() -> None:
    assert not [line for line in doubts(read(ESTATE)) if "past the end" in line]
    heavy = changed(ESTATE, (LOAD, LOAD.replace("415", "2400")))
    (line,) = [line for line in doubts(read(heavy)) if "past the end" in line]
    assert line.startswith("under load gross rear stands ")
    assert line.endswith("mm past the end of bump (present setup)")


def test_a_table_that_ends_before_the_travel_is_named(tmp_path: Path) -> None:
    """Front travel is 105 mm in bump and 90 mm in rebound at the wheel, the spring's ratio 0.96."""
    text = changed(
        ESTATE,
        ('spring_rate = { low = "16 N/mm", high = "40 N/mm" }', 'spring_table = "front.csv"'),
        ('spring_rate = { times = "front.spring_rate", low = 1.5, high = 3.5 }', 'spring_rate = "68 N/mm"'),
        ('front.spring_rate = "27 N/mm"\n', ""),
        ('rear.spring_rate = "68 N/mm"\n', ""),
    )
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    for lowest, highest, ends in ((-87, 101, []), (-87, 90, ["93.8 mm of bump"]), (-48, 101, ["50.0 mm of rebound"])):
        rows = f"travel [mm],force [N]\n{lowest},{27 * lowest}\n0,0\n{highest},{30 * highest}\n"
        (tmp_path / "front.csv").write_text(rows, encoding="utf-8")
        lines = [line for line in doubts(read_study(tmp_path / "study.toml")) if "spring_table" in line]
        assert len(lines) == len(ends)
        for line, end in zip(lines, ends, strict=True):
            assert line.startswith(f"front.spring_table ends at {end} travel at the wheel")
