"""The report page in Chromium: it draws, selects everywhere, exports, prints, and lets nothing in or out."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pages import OWN, browser, larger, lines, written
from ridefront.report.card import Card, DoesNotApply
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.subject import Subject
from ridefront.report.words import Table
from ridefront.results import read_front
from ridefront.results.designs import read_designs
from ridefront.run import run_study
from small_runs import small_study

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Dialog, Page

HOSTILE = '</script><script>alert(1)</script><img src=x onerror="alert(2)"><b>bold</b>'
ENDLESS = "a road without end " * 40
ARABIC = "طريق وعر"


INSIDE = """([left, top, right, bottom]) => {
  const place = document.querySelector(".plot"), box = place.getBoundingClientRect();
  const { xaxis, yaxis } = place._fullLayout, { x, y } = place.data[0];
  const within = x.map((_, k) => {
    const px = box.x + xaxis._offset + xaxis.d2p(x[k]), py = box.y + yaxis._offset + yaxis.d2p(y[k]);
    return px > left && px < right && py > top && py < bottom;
  });
  return place.plot.panel.series[0].designs.filter((_, k) => within[k]);
}"""


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    return run_study(small_study(folder), folder / "results").folder


class Watched:
    """A page, and what must not happen on it."""

    def __init__(self, opened: Browser, file: Path, **context: Any) -> None:
        self.wrong: list[str] = []
        self.context = opened.new_context(**({"viewport": {"width": 1200, "height": 900}} | context))
        self.page: Page = self.context.new_page()
        self.page.on("console", lambda message: self.wrong.append(f"{message.type}: {message.text}"))
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("dialog", self._dialog)
        self.page.on("request", lambda request: None if request.url == file.as_uri() else self._asked(request.url))
        self.page.goto(file.as_uri())
        self.page.locator(".plot").first.scroll_into_view_if_needed()
        self.page.wait_for_selector(".plot .main-svg")

    def _dialog(self, dialog: Dialog) -> None:
        self.wrong.append(f"dialog: {dialog.message}")
        dialog.dismiss()

    def _asked(self, url: str) -> None:
        if not url.startswith(("data:", "blob:")):
            self.wrong.append(f"asked for {url}")

    def draw_all(self) -> None:
        """Bring every figure near the window."""
        for place in self.page.locator(".plot").all():
            place.scroll_into_view_if_needed()
            place.locator(".main-svg").first.wait_for()

    def widest(self) -> float:
        """The width of the widest drawing."""
        drawings = self.page.locator(".plot .main-svg")
        return float(max(drawings.evaluate_all("(all) => all.map((one) => one.getBoundingClientRect().width)")))

    def count(self) -> str:
        return self.page.locator(".bar .count").inner_text()

    def on_screen(self, plot: int, series: int, point: int) -> tuple[float, float]:
        """Where a point of a figure is in the window."""
        self.page.locator(".plot").nth(plot).scroll_into_view_if_needed()
        x, y = self.page.evaluate(
            """([plot, series, point]) => {
                const place = document.querySelectorAll(".plot")[plot];
                const { xaxis, yaxis } = place._fullLayout, box = place.getBoundingClientRect();
                const { x, y } = place.data[series];
                return [box.x + xaxis._offset + xaxis.d2p(x[point]), box.y + yaxis._offset + yaxis.d2p(y[point])];
            }""",
            [plot, series, point],
        )
        return float(x), float(y)

    def until(self, expression: str) -> None:
        """Waits for something to be true; the page's policy lets playwright's own way of waiting evaluate nothing."""
        for _ in range(200):
            if self.page.evaluate(expression):
                return
            self.page.wait_for_timeout(50)
        raise AssertionError(f"never: {expression}")

    def downloaded(self) -> str:
        with self.page.expect_download() as found:
            self.page.get_by_role("button", name="download CSV").click()
        return Path(found.value.path()).read_text(encoding="utf-8")


def many(subject: Subject) -> Subject:
    return larger(subject, 300)


@pytest.fixture(scope="module")
def usual(run: Path) -> Path:
    return written(many(Subject(run)), run / "page.html")


@pytest.fixture
def watched(chrome: Browser, usual: Path) -> Iterator[Watched]:
    found = Watched(chrome, usual, accept_downloads=True)
    yield found
    found.context.close()
    assert found.wrong == []


def test_every_figure_is_drawn_without_a_network(watched: Watched) -> None:
    watched.draw_all()
    names = watched.page.locator("figure").evaluate_all("(all) => all.map((one) => one.dataset.name)")
    assert names == ["trade-off", "search", "lines"]
    for place in watched.page.locator(".plot").all():
        assert place.locator(".xtick").count() > 1
    assert watched.page.locator(".cloud path").count() > 3
    assert watched.page.get_by_role("heading", level=1).inner_text() == "Corner for tests"
    levels = watched.page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4')].map((one) => Number(one.tagName[1]))")
    assert all(after - before <= 1 for before, after in pairwise(levels))
    unnamed = watched.page.locator(
        "figure:not([aria-label]), table.setups:not([aria-label]), section:not([aria-labelledby])"
    )
    assert unnamed.count() == 0
    for landmark in ("banner", "navigation", "main"):
        assert watched.page.get_by_role(landmark).count() == 1


def test_a_click_in_a_figure_selects_everywhere_and_another_lets_go(watched: Watched) -> None:
    page = watched.page
    watched.draw_all()
    design = page.evaluate("document.querySelector('.plot').plot.panel.series[0].designs[17]")
    at = watched.on_screen(0, 0, 17)
    page.mouse.move(at[0] + 1, at[1])
    page.mouse.click(*at)
    assert watched.count() == "1 selected"
    panels = page.locator("figure[data-name=trade-off] .cloud g:last-child")
    assert panels.evaluate_all("(all) => all.map((one) => one.childElementCount)") == [1, 1, 1]
    page.get_by_label("selected", exact=True).check()
    rows = page.locator(".setups tbody tr")
    assert rows.evaluate_all("(all) => all.map((row) => Number(row.dataset.design))") == [design]
    assert rows.first.get_attribute("aria-selected") == "true"
    at = watched.on_screen(0, 0, 17)
    page.mouse.move(at[0] + 1, at[1])
    page.wait_for_timeout(400)  # two clicks at once are a double click
    page.mouse.click(*at)
    assert watched.count() == "0 selected"


def test_a_box_selects_what_lies_in_it_and_the_file_holds_just_that(
    watched: Watched, run: Path, tmp_path: Path
) -> None:
    page = watched.page
    box = page.locator(".plot").first.bounding_box()
    assert box is not None
    left, top, right, bottom = box["x"] + 120, box["y"] + 60, box["x"] + 300, box["y"] + 220
    page.mouse.move(left, top)
    page.mouse.down()
    page.mouse.move(right, bottom, steps=4)
    page.mouse.up()
    watched.until("document.querySelector('.bar .count').textContent !== '0 selected'")
    surely, perhaps = (
        set(page.evaluate(INSIDE, [left + edge, top + edge, right - edge, bottom - edge])) for edge in (2, -2)
    )
    assert 5 < len(surely) < len(perhaps) < 300
    text = watched.downloaded()
    rows = list(csv.DictReader(io.StringIO(text)))
    inside = [int(row["design"]) for row in rows]
    assert inside == sorted(inside)
    assert surely <= set(inside) <= perhaps
    assert watched.count() == f"{len(inside)} selected"
    front = many(Subject(run)).result.front.set_index("design")
    for row in rows:
        for name in ("front.spring_rate", "front.damping"):
            assert float(row[name]) == front.loc[int(row["design"]), name]
        assert float(row["comfort"]) == pytest.approx(front.loc[int(row["design"]), "comfort"], rel=5e-6)
    file = tmp_path / "selected.csv"
    file.write_text(text, encoding="utf-8")
    given = read_designs(Subject(run).study, file)
    np.testing.assert_array_equal(
        given.X, front.loc[sorted(inside), [item.path for item in Subject(run).study.variables]]
    )


def test_lines_and_bars_of_a_selected_setup_stand_out(watched: Watched) -> None:
    page = watched.page
    watched.draw_all()
    design = page.evaluate("document.querySelectorAll('.plot')[7].plot.panel.series[1].designs[0]")
    page.get_by_label("picked", exact=True).check()
    page.locator(f'.setups tr[data-design="{design}"]').click()
    page.locator(".plot").nth(7).scroll_into_view_if_needed()
    watched.until("document.querySelectorAll('.plot')[7]._fullData[1].line.width > 3")
    opacity = page.evaluate("document.querySelectorAll('.plot')[7]._fullData.map((one) => one.opacity)")
    assert opacity[1] == 1
    assert set(opacity[:1] + opacity[2:]) == {0.3}
    watched.until("(document.querySelectorAll('.plot')[8]._fullData[1].selectedpoints || []).length === 3")
    assert page.evaluate("document.querySelectorAll('.plot')[8]._fullData[0].selectedpoints") == []


def test_keyboard_alone_sorts_moves_selects_and_clears(watched: Watched, run: Path) -> None:
    page = watched.page
    front = many(Subject(run)).result.front
    page.get_by_role("button", name="bump reserve [mm]").press("Enter")
    assert page.locator(".setups th[aria-sort=descending]").inner_text().startswith("bump reserve")
    best = front.sort_values("bump_reserve", ascending=False)["design"].tolist()
    page.locator(".setups tbody tr").first.focus()
    for key in ("Space", "ArrowDown", "ArrowDown", "Enter", "End", "ArrowDown", "Space", "ArrowUp", "Home", "PageDown"):
        page.keyboard.press(key)
    chosen = page.evaluate("[...document.querySelectorAll('.setups tr[aria-selected=true]')].length")
    assert watched.count() == "3 selected"
    assert chosen == 1
    page.get_by_label("selected", exact=True).check()
    shown = page.locator(".setups tbody tr").evaluate_all("(all) => all.map((row) => Number(row.dataset.design))")
    assert shown == [best[0], best[2], best[25]]
    page.get_by_role("button", name="clear").press("Enter")
    assert watched.count() == "0 selected"


def test_what_is_copied_has_heads_with_units_and_the_selected_rows(watched: Watched) -> None:
    page = watched.page
    watched.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.locator(".setups tbody tr").nth(3).click()
    page.get_by_role("button", name="copy table").click()
    watched.until("document.querySelector('.said').textContent === 'copied'")
    head, row = (line.split("\t") for line in page.evaluate("navigator.clipboard.readText()").split("\n"))
    assert head[:4] == ["setup", "pick", "front unsprung mass [kg]", "front spring rate [N/mm]"]
    assert row[0] == page.locator(".setups tbody tr").nth(3).get_attribute("data-design")
    assert len(row) == len(head)


def test_a_hint_gives_the_setup_and_its_change_against_the_present_one(watched: Watched) -> None:
    page = watched.page
    x, y = watched.on_screen(0, 0, 5)
    page.mouse.move(x - 3, y)
    page.mouse.move(x, y)
    page.wait_for_selector(".hint:not([hidden])")
    text = page.locator(".hint").inner_text()
    assert "setup" in text
    assert "against the present setup" in text
    assert "spring rate" in text
    assert "N/mm" in text


def test_numbers_of_a_figure_can_be_read(watched: Watched) -> None:
    figure = watched.page.locator("figure").nth(2)
    figure.locator("summary").click()
    first = figure.locator("details table").first
    first.wait_for()
    assert first.locator("tbody tr").count() == 40
    assert first.locator("thead th").all_inner_texts() == ["setup", "time [s]", "travel [mm]"]


def test_on_paper_it_is_light_without_bars_and_shows_what_was_picked(watched: Watched, run: Path) -> None:
    page = watched.page
    page.emulate_media(media="print", color_scheme="dark")
    watched.until("[...document.querySelectorAll('.plot')].every((one) => one.querySelector('.main-svg'))")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    for hidden in (".bar", "nav", ".pager", ".theme"):
        assert not page.locator(hidden).first.is_visible()
    picked = [f"{one.letter} ({one.design})" for one in many(Subject(run)).picked]
    heads = page.locator(".across thead th").all_inner_texts()
    assert [head for head in heads if head not in ("", "unit", "present")] == picked
    assert not page.locator(".setups").is_visible()
    assert watched.widest() <= 700
    assert page.pdf(format="A4")[:5] == b"%PDF-"
    page.emulate_media(media="screen", color_scheme="light")
    watched.until("document.querySelectorAll('.across').length === 0")
    assert page.locator(".setups").is_visible()
    page.locator(".setups tbody tr").first.click()
    page.emulate_media(media="print")
    watched.until("document.querySelectorAll('.across').length === 1")
    assert page.locator(".across thead th").count() == 4


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_phone_nothing_runs_out_of_the_window(chrome: Browser, run: Path, tmp_path: Path, scheme: str) -> None:
    subject = Subject(run)
    subject.study = replace(subject.study, title=ENDLESS.replace(" ", ""))
    context = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "color_scheme": scheme}
    watched = Watched(chrome, written(subject, tmp_path / "page.html"), **context)
    watched.draw_all()
    assert watched.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert watched.widest() <= 390
    light = watched.page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(244, 246, 247)"
    assert light == (scheme == "light")
    tick = watched.page.locator(".plot .xtick text").first.evaluate("(one) => getComputedStyle(one).fill")
    ink = watched.page.evaluate("getComputedStyle(document.body).color")
    assert tick == ink
    watched.context.close()
    assert watched.wrong == []


def test_the_button_changes_the_paper(watched: Watched) -> None:
    page = watched.page
    before = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.locator(".theme").click()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != before
    assert page.locator(".plot .cloud path").count() > 3


def test_hostile_names_come_out_as_text(chrome: Browser, run: Path, tmp_path: Path) -> None:
    def nasty(subject: Subject) -> Card:
        x = np.array([0.0, 1.0])
        line = Series(HOSTILE, "line", "other", x, x, hover=(HOSTILE, HOSTILE))
        bars = Series(ENDLESS, "bars", "other", x, x)
        names = Axis(HOSTILE, HOSTILE, names=(HOSTILE, ARABIC))
        figure = Figure("nasty", HOSTILE, (Panel(HOSTILE, names, Axis(ARABIC), (line, bars)),), HOSTILE)
        table = Table(HOSTILE, (HOSTILE, ARABIC), ((HOSTILE, ENDLESS),), 2, (HOSTILE,))
        return Card("nasty", HOSTILE, ENDLESS, (figure,), (table,), (HOSTILE, "\u202etxet"))

    def broken(subject: Subject) -> Card:
        raise ValueError(HOSTILE)

    def apart(subject: Subject) -> Card:
        raise DoesNotApply(HOSTILE)

    subject = Subject(run)
    subject.study = replace(subject.study, title=HOSTILE)
    watched = Watched(chrome, written(subject, tmp_path / "page.html", *OWN, nasty, broken, apart))
    page = watched.page
    watched.draw_all()
    x, y = page.locator(".plot").last.evaluate(
        "(one) => { const box = one.getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2]; }"
    )
    page.mouse.move(x, y)
    page.wait_for_timeout(200)
    for summary in page.locator("summary").all():
        summary.click()
    assert page.get_by_role("heading", level=1).inner_text() == HOSTILE
    assert page.title() == HOSTILE
    assert page.locator("body img, body b, body iframe").count() == 0
    assert page.locator("script").count() == 3
    legend = page.locator("figure[data-name=nasty] .legend button").first
    assert legend.inner_text() == HOSTILE
    ticks = page.locator("figure[data-name=nasty] .xtick text").first.text_content()
    assert ticks is not None
    assert ticks.startswith("</script><script")
    assert HOSTILE in page.locator("#broken").inner_text()
    assert HOSTILE in page.locator("#apart").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= 1200
    watched.context.close()
    assert watched.wrong == []


def test_a_failed_card_is_shown_as_such(chrome: Browser, run: Path, tmp_path: Path) -> None:
    def broken(subject: Subject) -> Card:
        raise ZeroDivisionError("division by zero")

    watched = Watched(chrome, written(Subject(run), tmp_path / "page.html", broken, *OWN))
    card = watched.page.locator("section.failed")
    assert "ZeroDivisionError: division by zero" in card.inner_text()
    watched.draw_all()
    assert watched.page.locator("section.card").count() == 5
    watched.context.close()
    assert watched.wrong == []


def test_all_cards_of_a_run_are_drawn(chrome: Browser, run: Path, tmp_path: Path) -> None:
    from ridefront.report.cards import CARDS

    watched = Watched(chrome, written(Subject(run), tmp_path / "page.html", *CARDS, lines))
    watched.draw_all()
    assert watched.page.locator("section.failed").count() == 0
    assert len(read_front(run)) > 0
    watched.context.close()
    assert watched.wrong == []


def test_of_two_results_each_keeps_its_own_selection(chrome: Browser, run: Path, tmp_path: Path) -> None:
    from ridefront.report.cards import dealt, side_by_side
    from ridefront.report.page import page as page_of
    from ridefront.report.page import write_page

    subjects = [larger(Subject(run), 80), larger(Subject(run), 90)]
    file = tmp_path / "page.html"
    write_page(file, page_of(subjects, [dealt(one, OWN) for one in subjects], side_by_side(subjects)))
    watched = Watched(chrome, file, accept_downloads=True)
    watched.page.locator(".setups").nth(1).locator("tbody tr").nth(4).click()
    watched.page.locator(".setups").nth(0).locator("tbody tr").nth(2).click()
    watched.page.locator(".setups").nth(0).locator("tbody tr").nth(3).click()
    assert watched.count() == "3 selected"
    watched.page.locator("#beside-compared-fronts .plot").first.scroll_into_view_if_needed()
    place = "document.querySelector('#beside-compared-fronts .plot')"
    counted = "(one) => (one.innerHTML.match(/M/g) || []).length"
    points = f"JSON.stringify([...{place}.querySelectorAll('.cloud > :last-child')].map({counted}))"
    watched.until(f"{points} === '[2,1]'")
    files: list[str] = []
    watched.page.on("download", lambda found: files.append(found.suggested_filename))
    watched.page.get_by_role("button", name="download CSV").click()
    for _ in range(100):
        watched.page.wait_for_timeout(50)
        if len(files) == 2:
            break
    assert sorted(files) == ["corner_1_-selected.csv", "corner_2_-selected.csv"]
    watched.context.close()
    assert watched.wrong == []
