"""``ridefront run``: from study files to fronts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ridefront.cli.printing import console, notes, show

if TYPE_CHECKING:
    from rich.console import Console

    from ridefront.run import RunResult
    from ridefront.study.model import Study


@click.command("run")
@click.argument("studies", metavar="STUDY...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--output", type=click.Path(path_type=Path), default=Path("results"), show_default=True, metavar="DIR",
    help="Where results go, each study into DIR/<its file's stem>/.",
)  # fmt: skip
@click.option("--workers", type=click.IntRange(min=1), metavar="N", help="How many; as the study says unless given.")
@click.option("--cluster", metavar="ADDRESS", help="Work on a dask cluster: its scheduler, such as tcp://host:8786.")
@click.option("--overwrite", is_flag=True, help="Start anew where an earlier run has left results.")
def command(studies: tuple[Path, ...], output: Path, workers: int | None, cluster: str | None, overwrite: bool) -> int:
    """Run studies, or go on where an earlier run stopped.

    STUDY is a study's file; or a folder, for all studies (.toml) in it; or the folder that a run has written, to repeat
    it from the copies in it. Every mistake in every study is found before the first one runs. Of several studies one
    that fails does not keep the next one waiting; DIR/batch.json says what has become of each so far.
    """
    from ridefront.run.named import named

    found = named(studies, output)
    for line in found.errors or found.notes:
        click.echo(line, err=True)
    if found.errors:
        return 2

    def one(study: Study) -> RunResult:
        result = _run(study, output, workers, cluster, overwrite)
        if study.stem in found.repeated:
            _say_whether_same(result, found.repeated[study.stem])
        return result

    return _alone(found.studies[0], one) if len(found.studies) == 1 else _night(found.studies, output, one)


def _say_whether_same(result: RunResult, repeated: Path) -> None:
    """How a repeated run compares with the one that it repeats."""
    from ridefront.results.stored import same_designs

    same = "the same designs and figures as" if same_designs(result.folder, repeated) else "not the same as"
    click.echo(f"{result.folder}: {same} {repeated}, to the last bit", err=True)


def _alone(study: Study, one: Callable[[Study], RunResult]) -> int:
    """One study's exit status."""
    from ridefront.run.night import ended_by

    try:
        return 0 if one(study).front else 3
    except MemoryError as error:
        _, status, message = ended_by(error, study)
        click.echo(message, err=True)
        return status


def _night(studies: list[Study], output: Path, one: Callable[[Study], RunResult]) -> int:
    """Exit status of a batch; its table also where it is interrupted."""
    from ridefront.report.night import night_table
    from ridefront.results.names import BATCH
    from ridefront.run.night import Night

    night = Night(studies, output)
    try:
        night.run(one, lambda text: click.echo(text, err=True))
    finally:
        if night.begun:
            out = console()
            show(night_table(night.entries), out)
            out.print(f"summary  {output / BATCH}", markup=False, soft_wrap=True)
    return night.status


def _run(study: Study, output: Path, workers: int | None, cluster: str | None, overwrite: bool) -> RunResult:
    """One study, and what it came to on the terminal."""
    from shlex import quote

    from ridefront.report.after_run import picture_after_run, table_after_run
    from ridefront.report.doubts import caveats, doubts
    from ridefront.run import run_study
    from ridefront.run.progress import progress_for

    result = run_study(study, output, workers=workers, cluster=cluster, overwrite=overwrite, progress=progress_for())
    out = console()
    if result.finished:
        out.print(f"{result.folder}: finished before; nothing to do", markup=False, style="bold")
    else:
        out.print(_in_a_line(result, auto=study.response == "auto"), markup=False)
    table = table_after_run(study, result.folder)
    if table is None:
        _nothing_feasible(study, result, out)
        return result
    out.print()
    show(table, out)
    out.print("Bear in mind", style="bold")
    notes((*study.notes, *doubts(study), *caveats(study)), out)
    picture = picture_after_run(study, result.folder)
    out.print(f"front    {result.folder / 'front.parquet'}", markup=False, soft_wrap=True)
    out.print(f"pieces   {result.folder / 'front_pieces.parquet'}", markup=False, soft_wrap=True)
    if picture is not None:
        out.print(f"picture  {picture}", markup=False, soft_wrap=True)
    out.print(f"a page to look at: ridefront report {quote(str(result.folder))}", markup=False, soft_wrap=True)
    return result


USUAL = ("all generations done", "nothing left to refine", "interrupted")
"""Ends of a search that need no words."""


def _in_a_line(result: RunResult, *, auto: bool) -> str:
    rate = result.evaluations / result.seconds if result.seconds else 0.0
    parts = [
        f"{result.evaluations:,} designs in {result.seconds:.1f} s ({rate:,.0f} a second, {result.workers} workers)",
        f"{result.feasible:,} meet all constraints{' in the time domain' if auto else ''}",
    ]
    if result.failed:
        parts.append(f"{result.failed:,} have no figures")
    if result.stopped not in USUAL:
        parts.append(f"stopped: {result.stopped}")
    return "; ".join(parts)


def _nothing_feasible(study: Study, result: RunResult, out: Console) -> None:
    """Say which constraints kept every design out, and show those that miss least."""
    from ridefront.report.infeasible import nearest_table, why_none
    from ridefront.report.moves import moves_notes

    folder = result.folder
    if not result.feasible and result.evaluations - (study.present is not None) <= 0:
        out.print("\ntime was up before the search had asked for a design", style="bold")
        return
    out.print("\nno design meets all constraints", style="bold")
    notes((*why_none(study, folder), *moves_notes(study, folder)), out)
    table = nearest_table(study, folder)
    if table is not None:
        show(table, out)
        out.print(f"closest  {folder / 'closest.parquet'}", markup=False, soft_wrap=True)
