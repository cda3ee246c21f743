"""``ridefront run``: from study files to fronts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ridefront.cli.printing import console, notes, show
from ridefront.errors import CallError, ResultError

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
@click.option("--workers", type=click.IntRange(min=1), metavar="N", help="Threads; as the study says unless given.")
@click.option("--overwrite", is_flag=True, help="Start anew where an earlier run has left results.")
def command(studies: tuple[Path, ...], output: Path, workers: int | None, overwrite: bool) -> int:
    """Run studies, or go on where an earlier run stopped.

    Every mistake in every study is found before the first one runs.
    """
    from ridefront.errors import StudyError
    from ridefront.study import read_study

    read, failed = [], False
    for path in studies:
        try:
            read.append(read_study(path))
        except StudyError as error:
            failed = True
            click.echo(str(error), err=True)
    if failed:
        return 2
    _refuse_equal_stems(studies)
    states = [_run_or_say(study, output, workers, overwrite) for study in read]
    return 1 if 1 in states else max(states)


def _refuse_equal_stems(studies: tuple[Path, ...]) -> None:
    stems = [path.stem for path in studies]
    twice = sorted({stem for stem in stems if stems.count(stem) > 1})
    if twice:
        raise CallError(
            f"two studies would write into the same folder: {', '.join(twice)}",
            "Rename one of the files, or call them one by one with another --output.",
        )


def _run_or_say(study: Study, output: Path, workers: int | None, overwrite: bool) -> int:
    """One study's exit status; a folder that cannot be used does not keep the next study from its night."""
    try:
        return _run(study, output, workers, overwrite)
    except ResultError as error:
        click.echo(str(error), err=True)
    except MemoryError as error:
        click.echo(f"{study.path}: out of memory: {error}; shorter roads or fewer realisations take less", err=True)
    return 1


def _run(study: Study, output: Path, workers: int | None, overwrite: bool) -> int:
    """One study, what it came to on the terminal, its exit status."""
    from ridefront.report.after_run import picture_after_run, table_after_run
    from ridefront.report.doubts import caveats, doubts
    from ridefront.run import run_study
    from ridefront.run.progress import progress_for

    result = run_study(study, output, workers=workers, overwrite=overwrite, progress=progress_for())
    out = console()
    if not result.added:
        out.print(f"{result.folder}: finished before; nothing to do", markup=False, style="bold")
    else:
        out.print(_in_a_line(result, auto=study.response == "auto"), markup=False)
    table = table_after_run(study, result.folder)
    if table is None:
        _nothing_feasible(study, result.folder, out)
        return 3
    out.print()
    show(table, out)
    out.print("Bear in mind", style="bold")
    notes((*study.notes, *doubts(study), *caveats(study)), out)
    picture = picture_after_run(study, result.folder)
    out.print(f"front    {result.folder / 'front.parquet'}", markup=False, soft_wrap=True)
    out.print(f"pieces   {result.folder / 'front_pieces.parquet'}", markup=False, soft_wrap=True)
    if picture is not None:
        out.print(f"picture  {picture}", markup=False, soft_wrap=True)
    return 0


def _in_a_line(result: RunResult, *, auto: bool) -> str:
    rate = result.evaluations / result.seconds if result.seconds else 0.0
    parts = [
        f"{result.evaluations:,} designs in {result.seconds:.1f} s ({rate:,.0f} a second, {result.workers} workers)",
        f"{result.feasible:,} meet all constraints{' in the time domain' if auto else ''}",
    ]
    if result.failed:
        parts.append(f"{result.failed:,} have no figures")
    return "; ".join(parts)


def _nothing_feasible(study: Study, folder: Path, out: Console) -> None:
    """Say which constraints kept every design out."""
    from ridefront.report.after_run import closest

    out.print("\nno design meets all constraints", style="bold")
    notes(closest(study, folder), out)
