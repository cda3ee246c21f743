"""``ridefront evaluate``: objectives and constraints of given designs, or every criterion piece by piece."""

from __future__ import annotations

from pathlib import Path

import click

from ridefront.cli.printing import console, show
from ridefront.errors import CallError


@click.command("evaluate")
@click.argument("study", metavar="STUDY", type=click.Path(path_type=Path))
@click.option(
    "--designs",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="CSV or Parquet with a column for every variable, in the study's units.",
)
@click.option(
    "--set",
    "values",
    multiple=True,
    metavar="NAME=VALUE",
    help="One variable's value; the present setup's for the rest.",
)
@click.option("--pieces", is_flag=True, help="Every criterion at every place in every condition, in SI.")
@click.option("--output", type=click.Path(path_type=Path), metavar="FILE", help="Write .csv or .parquet instead.")
def command(study: Path, designs: Path | None, values: tuple[str, ...], pieces: bool, output: Path | None) -> int:
    """Work out given designs: the present setup, the present setup with changes (--set), or a file of designs."""
    from ridefront.evaluate import Evaluator
    from ridefront.report.given import doubts_about_step, printed
    from ridefront.results.designs import one_by_hand, read_designs
    from ridefront.results.given import figures_of, pieces_of, write_given
    from ridefront.study import read_study

    if designs is not None and values:
        raise CallError("--designs and --set exclude each other", "give one of the two")
    if output is not None and output.suffix not in (".csv", ".parquet"):
        raise CallError(f"--output {output}: allowed: a file that ends in .csv or .parquet")
    read = read_study(study)
    if designs is not None:
        asked = read_designs(read, designs)
    else:
        asked = one_by_hand(read, values)
    evaluator = Evaluator(read)
    table = pieces_of(evaluator, asked) if pieces else figures_of(evaluator, asked)
    for line in doubts_about_step(evaluator):
        click.echo(line, err=True)
    if output is not None:
        write_given(table, output)
        count = len(asked.X)
        click.echo(f"{count:,} design{'s' * (count != 1)}: {output}", err=True)
        return 0
    show(printed(table), console())
    return 0
