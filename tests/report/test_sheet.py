"""Setup sheets: figures against statics by hand, every line there, names that mean harm, studies of every kind."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from markdown_it import MarkdownIt
from scipy.stats import norm

from ridefront.evaluate import Evaluator
from ridefront.report.sheet import Sheet
from ridefront.report.sheet.markdown import text
from ridefront.report.sheet.speeds import BANDS, counted, gaussian
from ridefront.study import Study
from sheets import CHANGED, STUDIES, UNKNOWN, block, cells, figure, sheet_of, sheets, shipped
from small_runs import small_study

G = 9.80665  # m/s²
SPEEDS = (0.05236, 0.1309, 0.2618, 0.5236, 1.0472)
"""m/s: π × 100 mm × 10, 25, 50, 100, 200 turns a minute."""


@pytest.fixture
def corner_sheet() -> Sheet:
    """The corner's."""
    return shipped("corner-hatchback")[1]


@pytest.fixture
def estate() -> tuple[Study, Sheet]:
    """The estate and its sheet."""
    return shipped("estate")


def sprung() -> float:
    """Sprung mass of the hatchback's front corner, two up, kg: lever rule by hand."""
    return 0.5 * (930.0 * 0.631 + 150.0 * (1 - 1.20 / 2.50))


def test_spring_by_statics(corner_sheet: Sheet) -> None:
    found = cells(block(corner_sheet, 1)[0])
    load = sprung() * G / 0.97
    assert figure(found["load of one spring at design height"]["front"]) == pytest.approx(load, rel=5e-4)
    assert figure(found["rate at the wheel, spring alone"]["front"]) == pytest.approx(30 * 0.97**2, rel=5e-3)
    compressed = found["compressed by, from free length to design height"]
    assert figure(compressed["front"]) == pytest.approx(load / 30.0, abs=0.05)
    assert figure(compressed["present"]) == pytest.approx(load / 23.5, abs=0.05)
    shorter = load / 23.5 - load / 30.0
    assert f"Free length, front: {shorter:.1f} mm shorter than the present spring" in corner_sheet.markdown


def test_dampers_by_their_law(corner_sheet: Sheet) -> None:
    rows = block(corner_sheet, 2)[0].rows
    for row, speed, turns in zip(rows, SPEEDS, (10, 25, 50, 100, 200), strict=True):
        assert row[0] == str(turns)
        assert float(row[1]) == pytest.approx(speed, abs=5e-4)
        travelled = min(speed, 0.13) + 0.38 * max(speed - 0.13, 0.0)  # past the knee 0.38 of the slope
        bump, rebound = 2 * 1800 * 0.333 * travelled, 2 * 1800 * (1 - 0.333) * travelled
        assert float(row[2]) == pytest.approx(bump, rel=6e-3)
        assert float(row[4]) == pytest.approx(rebound, rel=6e-3)
        assert float(row[6]) == pytest.approx((1 - 0.333) / 0.333, rel=6e-3)
        assert row[3] == row[5] == "-20.0 %"  # of 2250 N·s/m


def test_axle_by_hand(corner_sheet: Sheet) -> None:
    found = {row[0]: row[2] for row in block(corner_sheet, 6)[0].rows}
    wheel, mass = 30e3 * 0.97**2, sprung()
    series = wheel * 185e3 / (wheel + 185e3)
    assert figure(found["sprung mass on the wheel"]) == pytest.approx(mass, rel=5e-3)
    assert figure(found["ride frequency"]) == pytest.approx(np.sqrt(series / mass) / (2 * np.pi), rel=5e-3)
    assert figure(found["static deflection, were the rates constant"]) == pytest.approx(
        1e3 * mass * G / series, rel=5e-3
    )
    damping = 1800 * 0.97**2
    assert figure(found["damping ratio at rest, mean"]) == pytest.approx(
        damping / (2 * np.sqrt(wheel * mass)), rel=5e-3
    )
    past = (0.13 + 0.38 * (0.5 - 0.13)) / 0.5
    assert figure(found["damping ratio at 0.5 m/s, mean"]) == pytest.approx(
        past * damping / (2 * np.sqrt(wheel * mass)), rel=6e-3
    )
    assert figure(found["wheel hop frequency"]) == pytest.approx(np.sqrt((wheel + 185e3) / 30) / (2 * np.pi), rel=5e-3)


def test_heights_by_statics(corner_sheet: Sheet) -> None:
    rows = {row[0]: row for row in block(corner_sheet, 5)[0].rows}
    more = 0.5 * (225 * (1 - 2.02 / 2.5) + 75 * (1 - 2.85 / 2.5)) * G
    sink = more / (30e3 * 0.97**2) + more / 185e3
    assert figure(rows["full"][2]) == pytest.approx(-1e3 * sink, abs=0.06)
    lighter = (34 - 30) * G / 185e3  # the lighter wheel lets the tyre up
    assert figure(rows["driver and passenger (design)"][3]) == pytest.approx(1e3 * lighter, abs=0.06)
    assert figure(rows["full"][4]) == pytest.approx(2 * (sprung() + more / G + 30), rel=5e-4)


def test_stops_by_hand() -> None:
    _, sheet = shipped("hatchback-harsh")
    found = cells(block(sheet, 3)[0])
    assert figure(found["gap at design height, at the wheel"]["front"]) == pytest.approx(45 / 0.97, abs=0.05)
    assert figure(found["to metal, at the wheel"]["front"]) == pytest.approx(105 - 45 / 0.97, abs=0.05)
    assert figure(found["to metal, at the stop"]["front"]) == pytest.approx(105 * 0.97 - 45, abs=0.05)
    assert "Front bump stop: a packer 8.0 mm thicker than the present one." in sheet.markdown
    assert "Rear bump stop: packer as it is." in sheet.markdown


def test_force_and_rate_of_a_stop_by_its_law(estate: tuple[Study, Sheet]) -> None:
    found = cells(block(estate[1], 3)[0])
    depth = 105 * 0.96 - 50  # mm to metal, at the stop
    k, p = (
        figure(found[line]["front"]) for line in ("rate of the stop where it touches", "its progression p, see below")
    )
    assert (k, p) == (45, 2.7)
    assert "rate × d × (1 + p × d / 100)" in estate[1].markdown

    def force(d: float) -> float:
        return k * d * (1 + p * d / 100)

    slope = (force(depth + 1e-3) - force(depth - 1e-3)) / 2e-3
    assert figure(found["rate of the stop at metal contact"]["front"]) == pytest.approx(slope, rel=4e-3)
    straight = cells(block(estate[1], 3)[1])
    assert straight["rate of the stop at metal contact"]["front"] == "80.0"


def test_stop_forces_stand_apart_and_say_of_which_stop(estate: tuple[Study, Sheet]) -> None:
    study, sheet = estate
    bump, rebound, forces = block(sheet, 8)
    assert not any("force" in head for table in (bump, rebound) for head in table.columns)
    assert "in time" in forces.title
    assert {row[2] for row in forces.rows} == {"bump or rebound stop, the larger"}
    assert [row[0] for row in forces.rows[::2]] == [condition.name for condition in study.conditions]


def test_only_the_undamped_body_has_centres(estate: tuple[Study, Sheet]) -> None:
    modes, body = block(estate[1], 7)
    assert modes.columns == ("load", "mode", "frequency Hz", "damping ratio")
    assert sum(row[0] == "its centre, behind the front axle" for row in body.rows) == 2


def test_bar_by_the_fourth_root() -> None:
    study, sheet = shipped("sports-car")
    assert study.present is not None
    before = float(study.present[[item.path for item in study.variables].index("front.anti_roll_rate")])
    row = block(sheet, 4)[0].rows[0]
    assert figure(row[2]) == pytest.approx(np.radians(30e3 * 1.54**2), rel=5e-3)
    assert float(row[6]) == pytest.approx((30 / before) ** 0.25, rel=5e-4)


def test_budgets_add_up_and_their_least_is_the_reserve(estate: tuple[Study, Sheet]) -> None:
    _, sheet = estate
    margins: dict[str, list[float]] = {}
    for table in block(sheet, 8)[:2]:
        for row in table.rows:
            available, static, mean, peak, margin = map(float, row[3:8])
            assert available - static - mean - peak == pytest.approx(margin, abs=0.25)
            margins.setdefault(table.title, []).append(margin)
    asked = cells(block(sheet, 9)[0])
    assert min(margins["Bump, mm at the wheel"]) == pytest.approx(figure(asked["bump reserve"]["this setup"]), abs=0.06)
    assert min(margins["Rebound, mm at the wheel"]) == pytest.approx(
        figure(asked["rebound reserve"]["this setup"]), abs=0.06
    )


def test_budgets_of_a_drive_add_up(tmp_path: Path) -> None:
    changes = (("seed = 5", 'seed = 5\nresponse = "time-domain"'), ('class = "C"', 'class = "C"\nrealisations = 2'))
    sheet = sheet_of(small_study(tmp_path, *changes), tmp_path)
    (table,) = block(sheet, 8)
    assert "Stops and their forces: not in the study." in sheet.markdown
    for row in table.rows:
        available, static, peak, margin = (float(row[k]) for k in (3, 4, 6, 7))
        assert row[5] == "in the peak"
        assert available - static - peak == pytest.approx(margin, abs=0.2)
    least = min(float(row[7]) for row in table.rows)
    assert least == pytest.approx(figure(cells(block(sheet, 9)[0])["bump reserve"]["this setup"]), abs=0.06)
    assert "front rebound travel: not in the study" in sheet.markdown


def test_trials_are_what_the_evaluator_says(estate: tuple[Study, Sheet]) -> None:
    study, sheet = estate
    assert study.present is not None
    x = study.present.copy()
    paths = [item.path for item in study.variables]
    x[paths.index("rear.spring_rate")] = 80.0
    more = x.copy()
    more[paths.index("rear.damping")] *= 1.1
    labels = [item.label for item in study.measures]
    values = Evaluator(study).evaluate(np.stack([x, more])).values[:, labels.index("comfort")]
    table = next(item for item in block(sheet, 10) if item.title == "One part a little less or more")
    row = next(row for row in table.rows if row[0] == "rear damping" and row[2] == "+10 %")
    assert figure(row[3]) == pytest.approx(100 * (values[1] / values[0] - 1), abs=0.06)
    near = next(item for item in block(sheet, 10) if item.title == "One part as the catalogue has it")
    assert [row[1] for row in near.rows if row[0] == "rear spring rate"] == ["78 N/mm", "80 N/mm", "82 N/mm"]


def test_tolerances_and_the_leaf_spring() -> None:
    study, sheet = shipped("van")
    bump, within = (block(sheet, 2)[0].rows[0][k] for k in (2, 3))
    low, high = (float(end) for end in within.split(" to "))
    assert [low / float(bump), high / float(bump)] == pytest.approx([0.85, 1.15], rel=6e-3)
    springs = cells(block(sheet, 1)[0])
    assert springs["its tolerance"]["front"] == springs["its tolerance"]["rear"] == "± 5 %"
    # The reference load's share of the rear axle by the lever rule; both leaves carry alike.
    load = 0.5 * (1644 * (1 - 0.678) + 150 * 0.95 / 3.45) * G
    assert figure(springs["load of one spring at design height"]["rear"]) == pytest.approx(load, rel=5e-4)
    points = study.points["rear.spring_table"]
    # Free where the curve, times its scale, has let go of that load: backwards along its points, or its last slope.
    force = 1.2 * np.array(points.force)
    last = (force[1] - force[0]) / (points.x[1] - points.x[0])
    away = points.x[0] - (load + force[0]) / last if -load < force[0] else np.interp(-load, force, points.x)
    assert figure(springs["compressed by, from free length to design height"]["rear"]) == pytest.approx(
        -1e3 * away, abs=0.06
    )


def test_speed_ranges() -> None:
    for rms in (0.03, 0.2):
        edges = 2 * norm.cdf(np.array([0, *BANDS, np.inf]) / rms) - 1
        assert gaussian(rms) == pytest.approx(tuple(np.diff(edges)))
    assert gaussian(0.0) == (1.0, 0.0, 0.0, 0.0)
    phase = (np.arange(20000) + 0.5) / 20000 * 2 * np.pi
    below = [0.0, *(2 / np.pi * np.arcsin(edge / 0.4) for edge in BANDS), 1.0]
    assert counted(0.4 * np.sin(phase)) == pytest.approx(tuple(np.diff(below)), abs=2e-4)


LINES = {
    1: ("rate of the spring at design height", "load of one spring at design height", "compressed by, from free"),
    2: ("| 10 | 0.052 |", "| 25 |", "| 50 |", "| 100 |", "| 200 | 1.047 |", "gas force", "rebound : bump"),
    3: ("gap at design height, at the stop", "to metal, at the wheel", "packer", "rate of the stop where it touches"),
    5: ("above design height mm", "axle load kg", "tyre pressure", "vertical rate of the tyre"),
    6: ("sprung mass on the wheel", "with the tyre in series", "ride frequency", "damping ratio at 0.13 m/s, rebound",
        "wheel hop damping ratio at rest", "damping ratio on the road"),
    7: ("Modes of the damped vehicle", "Dive and squat: not modelled"),
    8: ("available", "static shift", "margin", "largest force N"),
    9: ("What the study asks for", "Speed of the dampers", "above 0.3 %"),
    10: ("Held by", "Limits of the study", "One part a little less or more", "catalogue", "as built"),
    11: ("Not modelled", "closed course", "legal limits"),
}  # fmt: skip


def test_every_study_that_ships_is_tried() -> None:
    assert sorted(CHANGED) == sorted(path.stem for path in STUDIES.glob("*.toml"))


@pytest.mark.parametrize("name", sorted(CHANGED))
def test_every_line_is_there(name: str) -> None:
    study, sheet = shipped(name)
    written = sheet.markdown
    parts = re.split(r"^## (\d+)\. ", written, flags=re.M)
    by_number = dict(zip(map(int, parts[1::2]), (re.sub("[ \u00a0]+", " ", part) for part in parts[2::2]), strict=True))
    assert sorted(by_number) == list(range(1, 12))
    for number, lines in LINES.items():
        for line in lines:
            assert line in by_number[number], (number, line)
    assert "starting point" in parts[0]
    assert not UNKNOWN.search(written)
    for seat in study.seats:
        assert f"| {seat.name}" in by_number[9]
    assert ("roll gradient" in by_number[7]) == (study.model == "full-car")
    for table in re.findall(r"(?:^\|.*\n)+", written, flags=re.M):
        rules = {line.replace(r"\|", "").count("|") for line in table.splitlines()}
        assert len(rules) == 1


def test_without_present_catalogue_and_stops(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    start = study.text.decode().index("[present]")
    plain = small_study(tmp_path, (study.text.decode()[start : study.text.decode().index("[search]")], ""))
    written = sheets(plain, tmp_path, np.array([[40.0, 24.0, 1900.0]]))[0].markdown
    assert not re.search(r"[(|] *present", written.split("## 10.")[0])
    assert "no catalogue in the study" in written
    assert written.count("not in the study") >= 15
    assert not UNKNOWN.search(written)


def test_what_a_study_does_not_give_is_said_to_be_assumed(tmp_path: Path) -> None:
    sheet = sheets(small_study(tmp_path), tmp_path, np.array([[40.0, 24.0, 1900.0]]))[0]
    (damper,) = block(sheet, 2)
    assert damper.title == (
        "Front damper, assumed since the study does not say: as much in bump as in rebound, no knee, the damper moves "
        "as far as its wheel"
    )
    assert damper.columns[-1] == "rebound : bump, assumed"
    assert {row[-1] for row in damper.rows} == {"1.00"}
    assert "Assumed, not in the study: the front spring moves as far as its wheel." in sheet.markdown
    for line in ("front has no bump stop", "only one load counts", r"contact\_patch is 0", r"front.bump\_share is 0.5"):
        assert f"- Of the study: {line}" in sheet.markdown, line


def test_what_a_study_gives_is_not(estate: tuple[Study, Sheet]) -> None:
    _, sheet = estate
    assert [table.title for table in block(sheet, 2)] == ["Front damper", "Rear damper"]
    assert "the front spring moves" not in sheet.markdown
    assert "Of the study: given but not used by the half car" in sheet.markdown


def test_of_a_knee_one_way_the_other_is_assumed(tmp_path: Path) -> None:
    friction = 'friction = "40 N"'
    knee = (friction, f'damper_ratio = 1\nknee_speed_bump = "0.1 m/s"\nknee_share_bump = 0.4\n{friction}')
    sheet = sheets(small_study(tmp_path, knee), tmp_path, np.array([[40.0, 24.0, 1900.0]]))[0]
    title = block(sheet, 2)[0].title
    assert title.endswith("as much in bump as in rebound, no knee in rebound")


class Tags(HTMLParser):
    """Collects tags and text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.words = ""

    def handle_starttag(self, tag: str, attrs: list[Any]) -> None:
        """A tag."""
        self.tags.add(tag)

    def handle_data(self, data: str) -> None:
        """Text."""
        self.words += data


def rendered(written: str) -> Tags:
    """As a renderer shows it that lets HTML through and knows tables."""
    found = Tags()
    found.feed(MarkdownIt("commonmark", {"html": True}).enable("table").render(written))
    return found


HOSTILE = (
    "<script>alert(1)</script>", "a | b | c", "[x](javascript:alert(1))", "![x](http://x.invalid/y.png)", "**bold**",
    "`c`", "# head", "<!-- -->", "www.example.invalid", "a@b.invalid", "&lt;b&gt;", "شارع قديم",
)  # fmt: skip


def test_names_come_out_as_text(tmp_path: Path) -> None:
    study = small_study(tmp_path, ('title = "Corner for tests"', f"title = {HOSTILE[0]!r}"))
    for hostile in HOSTILE:
        road = replace(study.roads[0], name=hostile)
        conditions = tuple(replace(item, name=f"{hostile} @ 50 km/h") for item in study.conditions[:1])
        loads = (replace(study.loads[0], name=hostile),)
        measures = tuple(replace(item, measure=replace(item.measure, conditions=(0,))) for item in study.objectives)
        named = replace(study, title=hostile, roads=(road,), conditions=conditions, loads=loads, objectives=measures)
        named = replace(named, constraints=())
        found = rendered(sheets(named, tmp_path, np.array([[40.0, 24.0, 1900.0]]))[0].markdown)
        assert found.tags <= {"h1", "h2", "ul", "li", "p", "strong", "table", "thead", "tbody", "tr", "th", "td"}
        assert f"design 1: {hostile}" in found.words
        assert found.words.count(hostile) >= 10


def test_control_characters_and_length() -> None:
    assert text("a\nb\u202ec") == "a{U+000A}b{U+202E}c"
    assert len(text("x" * 5000)) == 160
    assert text("x" * 5000).endswith("…")
