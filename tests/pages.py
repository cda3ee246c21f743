"""Pages for tests: results of small runs, fronts as large as wanted, cards made by hand, a browser to open them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest

from ridefront.report.card import Card
from ridefront.report.cards import Dealer, dealt
from ridefront.report.cards.cautions import cautions
from ridefront.report.cards.search import search
from ridefront.report.cards.trade_off import trade_off
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.page import page, write_page
from ridefront.report.subject import Subject

if TYPE_CHECKING:
    from playwright.sync_api import Browser

OWN: tuple[Dealer, ...] = (trade_off, search, cautions)
"""Cards that need no more of a run than its front and how it went."""


def larger(subject: Subject, designs: int) -> Subject:
    """A result with as many designs on its front as wanted: invented ones of which none is better in everything."""
    rng = np.random.default_rng(7)
    front = subject.result.front
    of = front.iloc[rng.integers(0, len(front), designs)].reset_index(drop=True)
    attrs = front.attrs
    columns = [item.measure.label for item in subject.study.objectives]
    on_sphere = np.abs(rng.normal(size=(designs, len(columns))))
    on_sphere /= np.linalg.norm(on_sphere, axis=1)[:, np.newaxis]
    for k, (item, column) in enumerate(zip(subject.study.objectives, columns, strict=True)):
        of[column] = 2.0 - item.sign * on_sphere[:, k]
    of["design"] = np.arange(1, designs + 1, dtype=np.int64)
    of.attrs = attrs
    found = Subject(subject.folder)
    found.result = replace(found.result, front=pd.DataFrame(of))
    return found


def lines(subject: Subject) -> Card:
    """A line for each pick, and bars, as cards of rides have them."""
    x = np.linspace(0.0, 2.0, 40)
    several = tuple(
        Series(one.letter, "line", "pick", x, np.sin(x * (k + 1)), np.array([one.design]))
        for k, one in enumerate(subject.picked)
    )
    bars = tuple(
        Series(one.letter, "bars", "pick", np.arange(3.0), np.arange(3.0) + k, np.full(3, one.design))
        for k, one in enumerate(subject.picked)
    )
    panels = (
        Panel("over time", Axis("time", "s"), Axis("travel", "mm"), several),
        Panel("by road", Axis("road", names=("lane", "street", "track")), Axis("load", "kN"), bars),
    )
    return Card("lines", "What does it do?", "Lines.", (Figure("lines", "Lines of the picks", panels, "by hand"),))


def written(subject: Subject, path: Path, *dealers: Dealer) -> Path:
    """A page of a result with some cards, in a file."""
    write_page(path, page([subject], [dealt(subject, dealers or (*OWN, lines))]))
    return path


def chromium() -> str | None:
    """Where Chromium or Chrome is on this machine; None for nowhere."""
    names = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    return next(filter(None, map(shutil.which, names)), None)


@contextmanager
def browser() -> Iterator[Browser]:
    """A browser; the test is skipped where there is none."""
    sync_api = pytest.importorskip(
        "playwright.sync_api", reason="playwright is not installed: pip install -e '.[test]'"
    )
    path = chromium()
    if path is None:
        pytest.skip("no Chromium on this machine (apt-get install chromium): the report page is not tried in a browser")
    with sync_api.sync_playwright() as playwright:
        flags = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        opened = playwright.chromium.launch(executable_path=path, args=flags)
        try:
            yield opened
        finally:
            opened.close()
