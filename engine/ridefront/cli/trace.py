"""``ridefront trace``: what setups do on a road, moment by moment."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ridefront.cli.printing import console, show
from ridefront.errors import CallError

if TYPE_CHECKING:
    from ridefront.evaluate import Evaluator
    from ridefront.results.traces import Lineup
    from ridefront.study.model import Study

_PICTURES = (".png", ".svg")


@click.command("trace")
@click.argument("study", metavar="STUDY", type=click.Path(path_type=Path))
@click.option(
    "--condition", "names", multiple=True, metavar="NAME",
    help="Road, speed and load, as check lists them; may be given several times.",
)  # fmt: skip
@click.option(
    "--set", "values", multiple=True, metavar="NAME=VALUE",
    help="A setup by hand: one variable's value; the present setup's for the rest.",
)  # fmt: skip
@click.option(
    "--designs", type=click.Path(path_type=Path), metavar="FILE",
    help="More setups: CSV or Parquet with a column for every variable, in the study's units.",
)  # fmt: skip
@click.option("--from", "start", type=float, metavar="M", help="Where a picture starts, metres along the road.")
@click.option("--to", "end", type=float, metavar="M", help="Where a picture ends.")
@click.option(
    "--output", type=click.Path(path_type=Path), metavar="FILE",
    help="Write histories (.parquet) or strip charts (.png, .svg) instead.",
)  # fmt: skip
def command(
    study: Path, names: tuple[str, ...], values: tuple[str, ...], designs: Path | None,
    start: float | None, end: float | None, output: Path | None,
) -> int:  # fmt: skip
    """Drive setups over the road of a condition: the present setup, that with changes (--set), a file of designs.

    Without --output a table of the largest values; with it every moment, on the first realisation of a random road.
    """
    from ridefront.evaluate import Evaluator
    from ridefront.report.traced import traced
    from ridefront.results.traces import line_up, write_traces
    from ridefront.study import read_study

    _check_output(output, windowed=start is not None or end is not None)
    read = read_study(study)
    conditions = _named(read, names)
    lineup = line_up(read, values, designs)
    evaluator = Evaluator(read, realisations=1)
    if output is None:
        for c in conditions:
            show(traced(evaluator, lineup, c), console())
        console().print("--output FILE writes the histories: .parquet; or strip charts: .png, .svg", markup=False)
        return 0
    if output.suffix == ".parquet":
        write_traces(evaluator, lineup, conditions, output)
    else:
        _draw(evaluator, lineup, conditions, (start, end), output)
    click.echo(f"{_count(len(lineup), 'setup')} in {_count(len(conditions), 'condition')}: {output}", err=True)
    return 0


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def _check_output(output: Path | None, *, windowed: bool) -> None:
    if output is not None and output.suffix not in (".parquet", *_PICTURES):
        raise CallError(f"--output {output}: allowed: a file that ends in .parquet, .png or .svg")
    if windowed and (output is None or output.suffix not in _PICTURES):
        raise CallError("--from and --to say what a picture shows", "give --output FILE.png or FILE.svg")


def _named(study: Study, names: Sequence[str]) -> tuple[int, ...]:
    """Indices of the conditions of those names."""
    from ridefront.study.page import nearest
    from ridefront.units import quote

    known = [condition.name for condition in study.conditions]
    allowed = ", ".join(f'"{name}"' for name in known)  # whole, to be copied
    if not names:
        raise CallError(f"no --condition; allowed: {allowed}")
    wrong = [name for name in dict.fromkeys(names) if name not in known]
    if wrong:
        hints = dict.fromkeys(nearest(name, known) for name in wrong)
        found = ", ".join(quote(name) for name in wrong)
        raise CallError(
            f"--condition {found}: the study has none so called; allowed: {allowed}", "; ".join(filter(None, hints))
        )
    twice = [name for name in dict.fromkeys(names) if names.count(name) > 1]
    if twice:
        raise CallError(f"--condition {', '.join(quote(name) for name in twice)}: given twice; allowed: once")
    return tuple(known.index(name) for name in names)


def _draw(
    evaluator: Evaluator,
    lineup: Lineup,
    conditions: Sequence[int],
    asked: tuple[float | None, float | None],
    path: Path,
) -> None:
    from ridefront.evaluate import STATUS
    from ridefront.evaluate.tracing import trace
    from ridefront.report.pictures import save
    from ridefront.report.strips import check_drawable, strips, windows
    from ridefront.report.traced import trace_notes
    from ridefront.results.tables import file_errors

    check_drawable(len(lineup), len(conditions))
    traces = [trace(evaluator, lineup.X, c) for c in conditions]
    for found in traces:
        for label, code in zip(lineup.labels, found.status, strict=True):
            if code:
                click.echo(f"{label}, {found.condition}: no histories: {STATUS[code].replace('-', ' ')}", err=True)
    if not any(found.ok.any() for found in traces):
        raise CallError("no setup has histories to draw", "ridefront check shows the vehicle at rest under each load")
    drawn = windows(evaluator.study, conditions, traces, *asked)
    lines = [line for found, c in zip(traces, conditions, strict=True) for line in trace_notes(evaluator, found, c)]
    figure = strips(evaluator.study, lineup.labels, traces, drawn, "; ".join(dict.fromkeys(lines)))
    with file_errors(path, "written"):
        save(figure, path)
