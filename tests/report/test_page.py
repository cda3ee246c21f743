"""The report page as text: what it holds, that nothing in a study can become markup, and what both ways of drawing
share.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.collections import PathCollection
from matplotlib.image import imread
from matplotlib.patches import Rectangle

from commands import caller
from pages import OWN, lines
from ridefront.report.card import Card, DoesNotApply
from ridefront.report.cards import CARDS, dealt
from ridefront.report.drawn import draw
from ridefront.report.extent import extents
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.page import page
from ridefront.report.page.page import as_json
from ridefront.report.plotted import plotted, rounded, text
from ridefront.report.subject import Subject
from ridefront.results import read_front
from ridefront.run import run_study
from small_runs import AllFail, small_study

HOSTILE = '</script><script>alert(1)</script><img src=x onerror="alert(2)">&amp;"\u2028\u2029<b>bold</b>'


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    return run_study(small_study(folder), folder / "results").folder


@pytest.fixture
def subject(run: Path) -> Subject:
    return Subject(run)


class Elements(HTMLParser):
    """Scripts and what else a page has."""

    def __init__(self) -> None:
        super().__init__()
        self.inside = ""
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag
        self.tags.append((tag, dict(attrs)))
        if tag == "script":
            self.scripts.append((dict(attrs), ""))

    def handle_endtag(self, tag: str) -> None:
        self.inside = ""

    def handle_data(self, data: str) -> None:
        if self.inside == "script":
            attrs, before = self.scripts[-1]
            self.scripts[-1] = (attrs, before + data)


def elements(html: str) -> Elements:
    found = Elements()
    found.feed(html)
    return found


def data_of(html: str) -> Any:
    return json.loads(next(text for attrs, text in elements(html).scripts if attrs.get("id") == "data"))


def test_a_page_holds_the_front_its_cards_and_plotly_and_asks_for_nothing_else(subject: Subject) -> None:
    html = page([subject], [dealt(subject, OWN)])
    data = data_of(html)
    front = read_front(subject.folder)
    (result,) = data["results"]
    assert result["designs"] == front["design"].tolist()
    names = [column["name"] for column in result["columns"]]
    for name, column in zip(names, result["values"], strict=True):
        exact = name.startswith("front.")
        np.testing.assert_allclose(column, front[name], rtol=0.0 if exact else 5e-6)
    assert [card["name"] for card in data["sections"][0]["cards"]] == ["trade-off", "search", "cautions"]
    found = elements(html)
    for tag, attrs in found.tags:
        assert not {"src", "href", "srcset", "data"} & attrs.keys(), tag
    assert len(found.scripts) == 3


def test_the_policy_allows_these_scripts_and_nothing_from_a_network(subject: Subject) -> None:
    html = page([subject], [dealt(subject, OWN)])
    found = elements(html)
    policy = next(attrs["content"] for tag, attrs in found.tags if attrs.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert "http" not in policy
    own = [script for attrs, script in found.scripts if "type" not in attrs]
    hashes = {f"'sha256-{base64.b64encode(hashlib.sha256(one.encode()).digest()).decode()}'" for one in own}
    assert set(rules["script-src"].split()) == hashes


def test_hostile_names_stay_in_the_data_and_come_back_whole(run: Path) -> None:
    subject = Subject(run)
    subject.study = replace(subject.study, title=HOSTILE)
    html = page([subject], [dealt(subject, OWN)])
    assert data_of(html)["title"] == HOSTILE
    assert "alert(1)</script>" not in html
    assert html.count("<script") == 3 + html_in_plotly("<script")
    assert "<img src=x" not in html


def html_in_plotly(piece: str) -> int:
    from importlib.resources import files

    return files("plotly").joinpath("package_data", "plotly.min.js").read_text(encoding="utf-8").count(piece)


def test_json_cannot_end_its_element() -> None:
    plain = as_json({"a": HOSTILE})
    assert not re.search("[<>&\u2028\u2029]", plain)
    assert json.loads(plain) == {"a": HOSTILE}


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("<b>bold</b> & $x$", "&lt;b&gt;bold&lt;/b&gt; &amp; $x$"),
        ("two\n lines\t", "two lines"),
        ("x" * 200, "x" * 89 + "…"),
        ("\u202eright", "\u2068\u202eright\u2069"),
        ("דרך", "\u2068דרך\u2069"),
    ],
)
def test_plotly_is_given_text_not_markup(words: str, shown: str) -> None:
    assert text(words) == shown


def test_figures_are_rounded_and_gaps_are_null() -> None:
    assert rounded(np.array([1234567.8, 0.1 + 0.2, np.nan, np.inf, -3.0])) == [1234570, 0.3, None, None, -3]


def cards_that_fail() -> tuple[Any, ...]:
    def broken(subject: Subject) -> Card:
        raise ValueError(f"no such thing: {HOSTILE}")

    def silent(subject: Subject) -> Card:
        raise DoesNotApply("there is nothing to see")

    def undrawable(subject: Subject) -> Card:
        wrong = Series("a", "points", "other", np.zeros(2), np.zeros(2), colour=["x"])  # type: ignore[arg-type]
        return Card("undrawable", "?", "", (Figure("f", "f", (Panel("", Axis("x"), Axis("y"), (wrong,)),), ""),))

    return broken, silent, undrawable


def test_a_card_that_fails_takes_nothing_with_it(subject: Subject) -> None:
    broken, silent, undrawable = cards_that_fail()
    cards = data_of(page([subject], [dealt(subject, (broken, silent, undrawable, *OWN))]))["sections"][0]["cards"]
    assert [card["state"] for card in cards] == ["failed", "apart", "failed", "card", "card", "card"]
    assert cards[0]["reason"] == f"ValueError: no such thing: {HOSTILE}"
    assert cards[1]["reason"] == "there is nothing to see"


def test_every_card_of_a_small_run_is_made(subject: Subject) -> None:
    for one in dealt(subject, CARDS):
        assert not one.failed, f"{one.name}: {one.reason}"


def test_both_ways_of_drawing_show_the_same(subject: Subject) -> None:
    card = lines(subject)
    figures = (*card.figures, *dealt(subject, OWN)[0].card.figures)  # type: ignore[union-attr]
    for figure in figures:
        plain, drawing = plotted(figure), draw(figure)
        panels = [axes for axes in drawing.axes if axes.get_label() != "<colorbar>"]
        for panel, shown, axes in zip(figure.panels, plain["panels"], panels, strict=True):
            assert shown["layout"]["xaxis"]["range"] == pytest.approx(axes.get_xlim(), rel=1e-5)
            assert shown["layout"]["yaxis"]["range"] == pytest.approx(axes.get_ylim(), rel=1e-5)
            dots = [one for one in axes.collections if isinstance(one, PathCollection)]
            for series, drawn in zip([one for one in panel.series if one.kind == "points"], dots, strict=True):
                trace = shown["data"][panel.series.index(series)]
                np.testing.assert_allclose(
                    np.column_stack([trace["x"], trace["y"]]), np.asarray(drawn.get_offsets(), float), rtol=5e-6
                )
            bars = [patch for patch in axes.patches if isinstance(patch, Rectangle)]
            given = [trace for trace in shown["data"] if trace["type"] == "bar"]
            left = [x + trace["offset"] for trace in given for x in trace["x"]]
            np.testing.assert_allclose(left, [bar.get_x() for bar in bars], atol=1e-9)
            np.testing.assert_allclose([y for one in given for y in one["y"]], [bar.get_height() for bar in bars])


def test_axes_reach_over_everything_that_is_drawn() -> None:
    x = np.array([1.0, 10.0, 1000.0])
    error = Series("e", "points", "other", x, np.array([2.0, 3.0, np.nan]), error=np.array([5.0, 0.5, 1.0]))
    level = Series("l", "level", "limit", np.zeros(1), np.array([20.0]))
    bars = Series("b", "bars", "pick", np.array([0.0, 1.0]), np.array([3.0, 4.0]))
    figure = Figure(
        "f",
        "f",
        (
            Panel("", Axis("x", log=True), Axis("y"), (error, level)),
            Panel("", Axis("x", names=("one", "two")), Axis("y"), (bars,)),
            Panel("", Axis("x"), Axis("y", from_zero=True), (replace(error, error=None),)),
            Panel("", Axis("x"), Axis("y"), ()),
        ),
        "",
    )
    (x1, y1), (x2, y2), (_, y3), empty = extents(figure)
    assert x1[0] < 0 < 3 < x1[1]
    assert y1[0] < -3 < 20 < y1[1]
    assert x2 == (-0.5, 1.5)
    assert y2[0] == 0 < 4 < y2[1]
    assert y3[0] == 0
    assert all(low < high for low, high in empty)


def test_command_writes_the_page_and_the_pictures(
    run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ridefront.report.cards.dealt.__defaults__", (OWN,))
    report = caller(capsys, monkeypatch, "report")
    status, out, err = report(run, "--output", tmp_path / "p.html", "--plots", tmp_path / "plots", "--format", "png")
    assert (status, out) == (0, "")
    assert str(tmp_path / "p.html") in err
    assert data_of((tmp_path / "p.html").read_text(encoding="utf-8"))["results"][0]["called"] == "corner"
    pictures = sorted(path.name for path in (tmp_path / "plots").iterdir())
    assert pictures == ["search.png", "trade-off.png"]
    assert all(np.std(imread(tmp_path / "plots" / name)) > 0.05 for name in pictures)
    assert report(run, "--plots", tmp_path / "svg")[0] == 0
    assert (run / "report.html").is_file()
    assert (tmp_path / "svg" / "search.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_command_refuses_what_it_cannot_do(
    run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    report = caller(capsys, monkeypatch, "report")
    status, _, err = report(run, "--output", tmp_path / "p.pdf")
    assert status == 2
    assert "p.pdf: allowed: a file that ends in .html" in err
    status, _, err = report(run, run / "front.parquet")
    assert status == 2
    assert "given twice" in err
    status, _, err = report(tmp_path)
    assert status == 1
    assert "not a run's folder" in err
    status, _, err = report(run, "--output", tmp_path / "no" / "p.html")
    assert status == 1
    assert "cannot be written" in err


def test_a_card_that_fails_is_said_and_counts(
    run: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ridefront.report.cards.dealt.__defaults__", ((cards_that_fail()[0], *OWN),))
    status, _, err = caller(capsys, monkeypatch, "report")(run, "--output", tmp_path / "p.html")
    assert status == 1
    assert "card broken could not be made: ValueError" in err
    assert len(data_of((tmp_path / "p.html").read_text(encoding="utf-8"))["sections"][0]["cards"]) == 4


def test_starting_anew_removes_the_page(tmp_path: Path) -> None:
    study = small_study(tmp_path)
    folder = run_study(study, tmp_path / "results").folder
    (folder / "report.html").write_text("of before", encoding="utf-8")
    run_study(study, tmp_path / "results", overwrite=True)
    assert not (folder / "report.html").exists()


def test_a_run_without_a_front_has_a_page_that_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ridefront.run.workers.Evaluator", AllFail)
    folder = run_study(small_study(tmp_path), tmp_path / "results").folder
    subject = Subject(folder)
    cards = data_of(page([subject], [dealt(subject)]))["sections"][0]["cards"]
    assert "failed" not in [card["state"] for card in cards], [card.get("reason") for card in cards]
    assert cards[0]["name"] == "which-limits"
    assert cards[0]["lead"].startswith("No design of this search has figures")
    (apart,) = (card for card in cards if card["name"] == "not-answered")
    assert "“What does a softer ride cost?”" in apart["reason"]
