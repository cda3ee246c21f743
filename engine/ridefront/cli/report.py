"""``ridefront report``: results as a page to look at, and its figures as files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from ridefront.errors import CallError

if TYPE_CHECKING:
    from ridefront.report.cards import Dealt
    from ridefront.report.subject import Subject


@click.command("report")
@click.argument("results", metavar="RESULT...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--output", type=click.Path(path_type=Path), metavar="FILE",
    help="Where the page goes: report.html in the result's folder, or of several results in this folder, unless given.",
)  # fmt: skip
@click.option(
    "--plots", type=click.Path(path_type=Path), metavar="DIR", help="Also write each figure into a file there."
)
@click.option(
    "--format", "ending", type=click.Choice(["svg", "png"]), default="svg", show_default=True,
    help="Of the files with --plots.",
)  # fmt: skip
def command(results: tuple[Path, ...], output: Path | None, plots: Path | None, ending: Literal["svg", "png"]) -> int:
    """Make a page from the results of runs (folders, or the front.parquet in them).

    The page is one file that opens in a browser without a network: what a softer ride costs, what each road does, how
    much travel is left, how the search went. What is selected in one figure is selected in all. Several results stand
    side by side.
    """
    from ridefront.report.page import look_before, page, write_page
    from ridefront.report.subject import Subject

    if output is not None and output.suffix not in (".html", ".htm"):
        raise CallError(f"--output {output}: allowed: a file that ends in .html")
    subjects = [Subject(path) for path in results]
    folders = [subject.folder.resolve() for subject in subjects]
    twice = next((folder for k, folder in enumerate(folders) if folder in folders[:k]), None)
    if twice is not None:
        raise CallError(f"{twice}: given twice; allowed: each result once")
    path = output if output is not None else _usual(subjects)
    look_before(path)
    beside, cards = _all_cards(subjects)
    write_page(path, page(subjects, cards, beside))
    click.echo(f"page: {path}", err=True)
    if plots is not None:
        _write_plots(subjects, cards, beside, plots, ending)
    failed = [one for of in (beside, *cards) for one in of if one.failed]
    for one in failed:
        click.echo(f"card {one.name} could not be made: {one.reason}", err=True)
    return 1 if failed else 0


def _all_cards(subjects: Sequence[Subject]) -> tuple[tuple[Dealt, ...], list[tuple[Dealt, ...]]]:
    """Cards that put results side by side, and those of each result."""
    from ridefront.report.cards import dealt, side_by_side

    return side_by_side(subjects), [dealt(subject) for subject in subjects]


def _usual(subjects: Sequence[Subject]) -> Path:
    from ridefront.results.names import REPORT

    return subjects[0].folder / REPORT if len(subjects) == 1 else Path(REPORT)


def _write_plots(
    subjects: Sequence[Subject],
    cards: Sequence[Sequence[Dealt]],
    beside: Sequence[Dealt],
    folder: Path,
    ending: Literal["svg", "png"],
) -> None:
    """Each card's figures; of several results each in a folder called after it."""
    from ridefront.report.drawn import save_figures
    from ridefront.report.side_by_side import called

    inner = [folder / name.lstrip("/") for name in called(subjects)]
    places = [folder, *(inner if len(subjects) > 1 else [folder])]
    count = 0
    for of, place in zip((beside, *cards), places, strict=True):
        figures = [figure for one in of if one.card is not None for figure in one.card.figures]
        count += len(save_figures(figures, place, ending)) if figures else 0
    click.echo(f"{count:,} picture{'s' * (count != 1)}: {folder}", err=True)
