"""``ridefront check``: every mistake; else what the study says, in figures that an engineer recognises."""

from __future__ import annotations

from pathlib import Path

import click

from ridefront.cli.printing import console, notes, show
from ridefront.errors import StudyError


@click.command("check")
@click.argument("studies", metavar="STUDY...", nargs=-1, required=True, type=click.Path(path_type=Path))
def command(studies: tuple[Path, ...]) -> int:
    """Find every mistake in study files.

    Without mistakes: the design space, conditions, the present setup at rest, what an engineer would ask about, and
    what a run will cost.
    """
    from ridefront.report.at_rest import conditions, cost, design_space, standing_figures
    from ridefront.report.doubts import doubts
    from ridefront.report.scattered import tolerances
    from ridefront.run.preflight import preflight
    from ridefront.study import read_study

    out, failed = console(), False
    for path in studies:
        try:
            study = read_study(path)
            found = preflight(study)
        except StudyError as error:
            failed = True
            click.echo(str(error), err=True)
            continue
        out.print(f"{path}: {study.title}\n", markup=False)
        for table in (design_space(study), conditions(study), standing_figures(study)):
            show(table, out)
        built = tolerances(study)
        lines = (*study.notes, *found, *doubts(study), *([built] if built else []))
        if lines:
            out.print("Bear in mind", style="bold")
            notes(lines, out)
        out.print(cost(study), markup=False)
    return 2 if failed else 0
