"""The report page put together: data as JSON, the page's own script and style, plotly, all in one file.

Whatever comes from a study goes into the page as JSON and from there into text nodes. The page's policy forbids
everything but these very scripts, so that nothing is fetched and no markup in a name could run.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from ridefront import __version__
from ridefront.errors import CallError
from ridefront.report.card import Card
from ridefront.report.cards import Dealt
from ridefront.report.page.setups import setups_of
from ridefront.report.plotted import plotted
from ridefront.report.roles import DARK, LIGHT, SCALE_DARK, SCALE_LIGHT
from ridefront.report.side_by_side import called
from ridefront.report.subject import Subject
from ridefront.report.words import Table
from ridefront.results.tables import file_errors, write_bytes

_SCRIPTS = (
    "base.js",
    "selection.js",
    "hint.js",
    "cloud.js",
    "plots.js",
    "legend.js",
    "table.js",
    "cards.js",
    "page.js",
)
"""In this order; each uses only what stands before it."""

_MARK = '<meta name="generator" content="ridefront report'
"""Near the beginning of every page, so that a page may be written over and other files are not."""

_LOOKED_AT = 2000  # bytes of a file that may be in the way
_NAMED = 3  # results in the title of a page

_PALETTE = {"light": LIGHT | {"scale": SCALE_LIGHT}, "dark": DARK | {"scale": SCALE_DARK}}


def page(subjects: Sequence[Subject], dealt: Sequence[Sequence[Dealt]], compared: Sequence[Dealt] = ()) -> str:
    """The page.

    Args:
        subjects: results, at least one.
        dealt: the cards of each.
        compared: cards that put them side by side.
    """
    names = called(subjects) if len(subjects) > 1 else (subjects[0].study.stem,)
    title = subjects[0].study.title if len(subjects) == 1 else f"{_listed(names)} side by side"
    results = [setups_of(subject, name) for subject, name in zip(subjects, names, strict=True)]
    sections = [
        {"title": f"{name}: {one.study.title}", "result": k}
        for k, (name, one) in enumerate(zip(names, subjects, strict=True))
    ]
    for section, cards in zip(sections, dealt, strict=True):
        section["cards"] = [_dealt(one) for one in cards]
    if compared:
        sections.insert(0, {"title": "Side by side", "result": None, "cards": [_dealt(one) for one in compared]})
    data = {"title": title, "results": results, "sections": sections, "palette": _PALETTE}
    return _assembled(title, data)


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) <= _NAMED else f"{len(names)} results"


def write_page(path: Path, text: str) -> None:
    """Write the page, whole or not at all.

    Raises:
        CallError: something else than a page of this program is there.
        ResultError: it cannot be written.
    """
    look_before(path)
    write_bytes(path, text.encode("utf-8"))


def look_before(path: Path) -> None:
    """See whether a page may be written: where there is nothing, or an earlier page.

    Raises:
        CallError: something else is there.
        ResultError: it cannot be read.
    """
    if not path.is_file():
        return
    with file_errors(path, "read"), path.open("rb") as file:
        start = file.read(_LOOKED_AT)
    if _MARK.encode() not in start:
        raise CallError(
            f"{path}: found: a file that is no page of ridefront report; allowed: a new file, or an earlier page",
            "give another one with --output, or remove it",
        )


def as_json(data: Any) -> str:
    """JSON that may stand in a script element: no sign in it can end the element or a line."""
    plain = json.dumps(data, allow_nan=False, separators=(",", ":"))
    return plain.replace("<", r"\u003c").replace(">", r"\u003e").replace("&", r"\u0026")


def _assembled(title: str, data: dict[str, Any]) -> str:
    own = "\n".join(_file(name) for name in _SCRIPTS)
    scripts = [_plotly(), f'(function () {{\n"use strict";\n{own}\n}})();\n']
    allowed = " ".join(_hash(script) for script in scripts)
    policy = (
        f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; img-src data: blob:; base-uri 'none'"
    )
    head = (
        '<meta charset="utf-8">'
        f'{_MARK} {__version__}">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>{html.escape(title)}</title>"
        f"<style>\n{_file('page.css')}</style>"
    )
    body = (
        '<noscript><p class="noscript">This page draws itself with JavaScript, which is off. '
        "<code>ridefront report RESULT --plots DIR</code> writes its figures as pictures.</p></noscript>"
        f'<script type="application/json" id="data">{as_json(data)}</script>'
        + "".join(f"<script>{script}</script>" for script in scripts)
    )
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head>\n<body>{body}</body></html>\n'


def _dealt(one: Dealt) -> dict[str, Any]:
    """A card as plain values; one whose figures cannot be drawn is a card that has failed."""
    found: dict[str, Any] = {"name": one.name, "title": one.title}
    if one.card is None:
        return found | {"state": "failed" if one.failed else "apart", "reason": one.reason}
    try:
        return found | {"state": "card"} | _card(one.card)
    except Exception as error:  # as of a card that fails: the others stand
        return found | {"state": "failed", "reason": f"{type(error).__name__}: {error}"}


def _card(card: Card) -> dict[str, Any]:
    return {
        "lead": card.lead,
        "figures": [plotted(figure) for figure in card.figures],
        "tables": [_table(table) for table in card.tables],
        "notes": list(card.notes),
    }


def _table(table: Table) -> dict[str, Any]:
    return {
        "title": table.title,
        "columns": list(table.columns),
        "rows": [list(row) for row in table.rows],
        "words": [table.is_text(k) for k in range(len(table.columns))],
        "notes": list(table.notes),
    }


def _file(name: str) -> str:
    return files("ridefront.report.page").joinpath(name).read_text(encoding="utf-8")


def _plotly() -> str:
    return files("plotly").joinpath("package_data", "plotly.min.js").read_text(encoding="utf-8")


def _hash(script: str) -> str:
    digest = hashlib.sha256(script.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"
