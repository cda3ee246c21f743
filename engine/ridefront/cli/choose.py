"""``ridefront choose``: setups picked from a front, with reasons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ridefront.cli.printing import console, notes, show
from ridefront.errors import CallError

if TYPE_CHECKING:
    from rich.console import Console

    from ridefront.report.choices import Choices
    from ridefront.report.rounding import Rounded


@click.command("choose")
@click.argument("result", metavar="RESULT", required=False, type=click.Path(path_type=Path))
@click.option(
    "--weight", "weights", multiple=True, metavar="NAME=W",
    help="How much an objective counts; 1 for those not named. Picks the one setup that suits the weights.",
)  # fmt: skip
@click.option(
    "--require", "requirements", multiple=True, metavar='"NAME<=VALUE"',
    help="Only setups with at most (<=) or at least (>=) that in a column of the front; may be given several times.",
)  # fmt: skip
@click.option("--beat-present", is_flag=True, help="Only setups better than the present one in every objective.")
@click.option("--output", type=click.Path(path_type=Path), metavar="FILE", help="Write the picks, .csv or .parquet.")
@click.option(
    "--sheets", is_flag=False, flag_value="", metavar="[DIR]",
    help="Write a setup sheet of each pick, for workshop and chassis engineer, in place of earlier ones of the run; "
    "into the run's folder if no DIR.",
)  # fmt: skip
def command(
    result: Path | None,
    weights: tuple[str, ...],
    requirements: tuple[str, ...],
    beat_present: bool,
    output: Path | None,
    sheets: str | None,
) -> int:
    """Pick setups from the front of a run (its folder, or the front.parquet in it) and say why.

    Without --weight: the knee, the best compromise, the best in each objective, the nearest to the present setup, and
    the one that betters it most evenly. Where the study has a [catalogue], each in the parts that come nearest.
    """
    from ridefront.report.asked import read_requirements, read_weights
    from ridefront.report.choices import choose
    from ridefront.report.chosen import chosen, unbettered, unmet
    from ridefront.report.doubts import caveats
    from ridefront.report.standing import unfinished
    from ridefront.results.names import RECORD
    from ridefront.results.record import read_record
    from ridefront.results.stored import read_result

    if result is None:
        raise _no_result(sheets)
    if output is not None and output.suffix not in (".csv", ".parquet"):
        raise CallError(f"--output {output}: allowed: a file that ends in .csv or .parquet")
    read = read_result(result)
    wanted = read_weights(read.study, weights)
    limits = read_requirements(read.front, requirements)
    if beat_present and read.study.present is None:
        raise CallError("--beat-present: the study has no [present] setup", "give it one, or leave the option out")
    found = choose(read, wanted, limits, beat_present=beat_present)
    if beat_present and found.present is None and found.shape is not None:
        raise CallError("--beat-present: the present setup has no figures", "its status in evaluations says why")
    out = console()
    if not found.found:
        if found.shape is None:
            out.print("the front is empty: no design meets all constraints", style="bold", markup=False)
        elif found.missed is not None:
            out.print("no setup on the front meets all requirements", style="bold")
            notes(unmet(found), out)
        else:
            out.print("no setup that is asked for betters the present one in every objective", style="bold")
            notes(unbettered(found), out)
        return 3
    show(chosen(found), out)
    parts = _in_parts(found, out)
    out.print("Bear in mind", style="bold")
    stands = unfinished(read_record(read.folder / RECORD))
    notes((*((stands,) if stands else ()), *caveats(read.study)), out)
    if output is not None:
        _write(found, output)
        click.echo(f"{len(found.found):,} setup{'s' * (len(found.found) != 1)}: {output}", err=True)
    if sheets is not None:
        _sheets(found, parts, Path(sheets) if sheets else read.folder)
    return 0


def _no_result(sheets: str | None) -> Exception:
    """What is wrong where no RESULT is given: an option that may have a value has perhaps taken it."""
    if sheets:
        return CallError(
            f"no RESULT: --sheets has taken {sheets} as the folder for the sheets",
            "name the result first: ridefront choose RESULT --sheets [DIR]",
        )
    context = click.get_current_context()
    return click.MissingParameter(ctx=context, param=context.command.params[0])


def _in_parts(found: Choices, out: Console) -> tuple[Rounded, ...] | None:
    """The picks in catalogue parts, where the study has a catalogue; None where it has none, or they are unknown."""
    from ridefront.evaluate import Evaluator
    from ridefront.report.chosen import in_parts
    from ridefront.report.rounding import rounded

    read = found.result
    if not read.study.catalogue:
        return None
    if not read.same_engine:
        line = "in catalogue parts: not worked out, because the run is of another version of the program; run it anew"
        notes((line,), out)
        return None
    parts = rounded(found, Evaluator(read.study))
    show(in_parts(found, parts), out)
    return parts


def _sheets(found: Choices, parts: tuple[Rounded, ...] | None, folder: Path) -> None:
    """A setup sheet of each pick, written into a folder."""
    from ridefront.evaluate import Evaluator
    from ridefront.report.sheet import sheets_of, write_sheets
    from ridefront.results.names import RECORD
    from ridefront.results.record import now, read_record, recorded_step

    read = found.result
    evaluator = Evaluator(read.study, step=recorded_step(read_record(read.folder / RECORD)))
    written = write_sheets(sheets_of(found, evaluator, parts, now()), folder, read.folder)
    for words, paths in (
        ("setup sheet", written.paths),
        ("earlier setup sheet removed", written.removed),
        ("earlier setup sheet left, since somebody has changed it", written.kept),
    ):
        for path in paths:
            click.echo(f"{words}: {path}", err=True)


def _write(found: Choices, path: Path) -> None:
    """The picks' rows of the front, and why each was picked."""
    import pyarrow as pa

    from ridefront.results.given import write_given
    from ridefront.results.names import FRONT
    from ridefront.results.tables import read_table

    front = read_table(found.result.folder / FRONT)
    why = pa.array(["; ".join(choice.reasons) for choice in found.found], pa.string())
    field = pa.field("why", pa.string(), metadata={"unit": "none", "description": "why the setup was picked"})
    write_given(front.take([choice.row for choice in found.found]).append_column(field, why), path)
