"""What a page must tell about its results: how a run stands, which program worked it out, which of two results is
meant, what stands in the way where nothing is feasible, and what a limit is on.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from commands import caller
from pages import OWN
from ridefront.errors import CallError
from ridefront.report.cards import CARDS, dealt
from ridefront.report.cards.histories import over_an_obstacle
from ridefront.report.cards.road_by_road import road_by_road
from ridefront.report.cards.search import search
from ridefront.report.cards.travel_budget import travel_budget
from ridefront.report.optimality import optimality_notes
from ridefront.report.page import page, write_page
from ridefront.report.plotted import plotted
from ridefront.report.subject import Subject
from ridefront.results.read import read_closest
from ridefront.run import run_study
from small_runs import Collector, small_study

OF_ANOTHER = "worked out by this version of the program, the run's own figures by another one"


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    stops = 'bump_clearance = { low = "30 mm", high = "50 mm" }\nbump_stop_rate = "40 N/mm"'
    study = small_study(
        folder,
        ('bump_travel = "90 mm"', f'bump_travel = "90 mm"\n{stops}'),
        ('class = "C"', 'class = "C"\n[[road]]\nname = "street"\nkind = "iso8608"\nclass = "B"'),
        ('[[objective]]\ncriterion = "comfort"', '[[condition]]\nroad = "street"\nspeed = "50 km/h"\n'
         '[[objective]]\ncriterion = "comfort"'),
        ("[search]", 'front.bump_clearance = "40 mm"\n[search]'),
        ('criterion = "ride_frequency"', 'criterion = "bump_reserve"\nat_least = "-80 mm"\nroad = "lane"\n'
         '[[constraint]]\ncriterion = "bump_reserve"\nat_least = "-70 mm"\n'
         '[[constraint]]\ncriterion = "ride_frequency"'),
    )  # fmt: skip
    return run_study(study, folder / "results", workers=1).folder


def data_of(html: str) -> Any:
    start = html.index('id="data">') + len('id="data">')
    return json.loads(html[start : html.index("</script>", start)])


def page_of(subject: Subject) -> Any:
    return data_of(page([subject], [dealt(subject)]))


def test_figures_of_another_program_are_told_where_things_are_worked_out_anew(run: Path) -> None:
    subject = Subject(run)
    told = {card["name"] for card in page_of(subject)["sections"][0]["cards"] if OF_ANOTHER in card.get("lead", "")}
    assert told == set()
    other = Subject(run)
    other.result = replace(other.result, same_engine=False)
    data = page_of(other)
    cards = {card["name"]: card for card in data["sections"][0]["cards"]}
    told = {name for name, card in cards.items() if OF_ANOTHER in card.get("lead", "")}
    assert told == {"travel-budget", "road-by-road", "over-an-obstacle", "where-it-shakes", "what-dampers-do", "holds"}
    assert dict(data["results"][0]["facts"])["figures"].startswith("of another version of the program")
    assert "another version of the program" in cards["cautions"]["notes"][0]


def test_an_interrupted_run_does_not_look_finished(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        run_study(small_study(tmp_path), tmp_path / "out", workers=1, progress=Collector(interrupt_after=4))
    subject = Subject(tmp_path / "out" / "corner")
    data = data_of(page([subject], [dealt(subject, OWN)]))
    facts = dict(data["results"][0]["facts"])
    assert "ended" not in facts
    when = subject.record["timings"]["ended"].replace("T", " ")
    assert facts["state"] == f"not finished: interrupted at {when}"
    cautions = next(card for card in data["sections"][0]["cards"] if card["name"] == "cautions")
    assert cautions["notes"][0].startswith("the run is not finished: interrupted at")


def test_a_page_is_written_over_and_other_files_are_not(
    run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ridefront.report.cards.dealt.__defaults__", (OWN,))
    report = caller(capsys, monkeypatch, "report")
    letter = tmp_path / "letter.html"
    for text in ("<!DOCTYPE html>\n<p>Dear all</p>", ""):
        letter.write_text(text, encoding="utf-8")
        status, _, err = report(run, "--output", letter)
        assert status == 2
        assert f"{letter}: found: a file that is no page of ridefront report" in err
        with pytest.raises(CallError):
            write_page(letter, "mine")
        assert letter.read_text(encoding="utf-8") == text
    file = tmp_path / "page.html"
    assert report(run, "--output", file)[0] == 0
    file.write_text(file.read_text(encoding="utf-8").replace("Corner for tests", "Corner of before"), encoding="utf-8")
    assert report(run, "--output", file)[0] == 0
    assert "Corner of before" not in file.read_text(encoding="utf-8")


def test_where_nothing_is_feasible_the_page_says_what_stands_in_the_way(tmp_path: Path) -> None:
    impossible = small_study(tmp_path, ("at_least = 1.0", "at_least = 4.0"), ("at_most = 1.6", "at_most = 5.0"))
    subject = Subject(run_study(impossible, tmp_path / "out", workers=1).folder)
    first, *others = page_of(subject)["sections"][0]["cards"]
    assert first["title"] == "Which limits stand in the way?"
    why, nearest = first["tables"]
    lines = [row[0] for row in why["rows"]]
    assert any(line.startswith("ride frequency at least 4.00 Hz: 0.0 % of designs; nearest ") for line in lines)
    assert any(line.startswith("ride frequency at most 5.00 Hz: 100.0 % of designs") for line in lines)
    closest = read_closest(subject.folder)
    rows = {row[0].strip(): row[2:] for row in nearest["rows"]}
    assert rows["design"][0] == str(closest["design"].iloc[0])
    # The stiffest spring on the lightest wheel misses 4 Hz least, by hand: sprung on spring and tyre in series.
    assert float(rows["front spring rate"][0]) == pytest.approx(40, rel=0.01)
    spring, tyre = 1e3 * float(rows["front spring rate"][0]), 2e5
    rough = np.sqrt(spring * tyre / (spring + tyre) / 400) / (2 * np.pi)
    assert 4 - float(rows["ride frequency missed by"][0]) == pytest.approx(rough, rel=0.02)
    apart = [card for card in others if card["state"] == "apart"]
    assert [card["name"] for card in apart] == ["scatter", "not-answered"]
    assert apart[0]["title"] == "What do tolerances of parts do?"
    for question in ("What does a softer ride cost?", "What do the dampers do?", "What holds a setup"):
        assert question in apart[1]["reason"]
    figures = search(subject).figures[0].panels
    assert [panel.y.label for panel in figures] == ["setups on the front", "meet all constraints, of a generation"]


def test_a_front_asks_nothing_about_what_stands_in_the_way(run: Path) -> None:
    names = [one.name for one in dealt(Subject(run), CARDS)]
    assert "which-limits" not in names
    assert "not-answered" not in names


def test_results_of_one_name_are_told_apart(run: Path, tmp_path: Path) -> None:
    study = small_study(tmp_path)
    subjects = [Subject(run_study(study, tmp_path / name, workers=1).folder) for name in ("march", "april")]
    data = data_of(page(subjects, [dealt(one, OWN) for one in subjects]))
    assert [one["called"] for one in data["results"]] == ["march/corner", "april/corner"]
    assert [one["title"] for one in data["sections"]] == [
        f"{one}/corner: Corner for tests" for one in ("march", "april")
    ]
    assert data["title"] == "march/corner and april/corner side by side"


def test_a_limit_on_less_than_a_panel_shows_is_called_so(run: Path) -> None:
    figure = next(one for one in travel_budget(Subject(run)).figures if one.name == "travel-left")
    part = "limit of the study, lane @ 50 km/h and lane @ 80 km/h only"
    levels = {one.name: one.y.tolist() for one in figure.panels[0].series if one.kind == "level"}
    assert levels.keys() == {"end of travel", "limit of the study", part}
    assert levels["limit of the study"] == pytest.approx([-70])
    assert levels[part] == pytest.approx([-80])


def test_stops_of_setups_that_differ_are_told_apart(run: Path) -> None:
    subject = Subject(run)
    panel = over_an_obstacle(subject).figures[0].panels[0]
    met = {one.name: one for one in panel.series if one.kind == "level" and one.name.endswith("stop is met")}
    j = [variable.path for variable in subject.study.variables].index("front.bump_clearance")
    setups = {setup.name: setup for setup in subject.looked_at.setups}
    assert len(met) > 1
    for name, series in met.items():
        own = [setups[one] for one in name.partition(":")[0].split(", ")]
        for setup in own:
            assert series.y == pytest.approx([setup.x[j]], abs=1e-6)
        assert series.role == own[0].role
    (end,) = (one for one in panel.series if one.name == "end of travel")
    assert end.y == pytest.approx([90])


def test_rows_of_roads_with_endless_names_keep_speed_and_load(tmp_path: Path) -> None:
    road = "the long way round by the old quarry and back over the hill"
    study = small_study(
        tmp_path, ('name = "lane"', f'name = "{road}"'), ('road = "lane"', f'road = "{road}"')
    )  # fmt: skip
    subject = Subject(run_study(study, tmp_path / "out", workers=1).folder)
    for panel in plotted(road_by_road(subject).figures[0])["panels"]:
        rows = panel["layout"]["yaxis"]["ticktext"]
        assert len(set(rows)) == len(rows) == 2
        assert {row.partition("@")[2] for row in rows} == {"\u00a050\u00a0km/h", "\u00a080\u00a0km/h"}
        assert panel["lines"] == sum(row.count("<br>") + 1 for row in rows)


def test_names_in_the_legend_of_the_search_are_told_apart(run: Path) -> None:
    legend = plotted(search(Subject(run)).figures[0])["legend"]
    looks = [(one["colour"], tuple(one["dash"]), one["marker"], one["width"]) for one in legend]
    assert len(set(looks)) == len(looks)


def test_residuals_below_what_is_told_apart() -> None:
    (line,) = optimality_notes(pd.DataFrame({"residual": [0.0, 1e-6], "held_by": ["", ""]}))
    assert "(median; 95 % of setups: below 0.0001)" in line
