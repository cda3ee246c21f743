"""``ridefront road``: how rough a measured road is."""

from __future__ import annotations

from pathlib import Path

import click

from ridefront.cli.printing import console, show
from ridefront.errors import CallError, StudyError

_PICTURES = (".png", ".svg")
_TABLES = (".csv", ".parquet")
_WAYS = ("--gaps interpolate", "--spikes remove", "--columns distance,height")


@click.command("road")
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "--segment", type=float, default=100.0, metavar="M",
    help="Length for which each roughness index is given, metres; 100 unless given.",
)  # fmt: skip
@click.option(
    "--columns", metavar="NAMES",
    help="Columns to take, with commas: distance first, then one or two heights. Unless given those called distance "
    "and height, or distance, left and right.",
)  # fmt: skip
@click.option(
    "--gaps", type=click.Choice(["refuse", "interpolate"]), default="refuse", help="Spacing over 3 times the median."
)
@click.option(
    "--spikes", type=click.Choice(["refuse", "remove"]), default="refuse", help="Single samples over 50 mm off."
)
@click.option(
    "--output", type=click.Path(path_type=Path), metavar="FILE",
    help="Write a picture (.png, .svg) or the roughness index of each segment (.csv, .parquet) as well.",
)  # fmt: skip
def command(file: Path, segment: float, columns: str | None, gaps: str, spikes: str, output: Path | None) -> int:
    """Show how rough a measured road is: class of ISO 8608, waviness, International Roughness Index.

    FILE is CSV or Parquet with a header such as "distance [m],left [mm],right [mm]".
    """
    from ridefront.report.roughness import figures, index_rows
    from ridefront.results.roughness import roughness, write_index
    from ridefront.road.roughness import SHORTEST_INDEX
    from ridefront.study.profiles import Asked, read_profile

    if not 1 <= segment <= 1e6:
        raise CallError(f"--segment {segment:g}: allowed: 1 to 1000000 metres")
    if output is not None and output.suffix.lower() not in (*_PICTURES, *_TABLES):
        raise CallError(f"--output {output}: allowed: a file that ends in .png, .svg, .csv or .parquet")
    if output is not None and output.resolve() == file.resolve():
        raise CallError(f"--output {output}: that is the profile itself; allowed: another file")
    asked = Asked(_names(columns), gaps == "interpolate", spikes == "remove", False, SHORTEST_INDEX, _WAYS)
    read = read_profile(file, file.name, asked)
    if read.profile is None:
        raise StudyError(str(file), read.mistakes)
    found = roughness(read.profile, segment)
    out = console()
    show(figures(read.profile, found), out)
    show(index_rows(found), out)
    if output is None:
        out.print("--output FILE draws a picture: .png, .svg; or writes the table: .csv, .parquet", markup=False)
    elif output.suffix.lower() in _PICTURES:
        from ridefront.report.pictures import save
        from ridefront.report.roughness import roughness_figure
        from ridefront.results.tables import file_errors

        with file_errors(output, "written"):
            save(roughness_figure(read.profile, found), output)
        click.echo(f"picture: {output}", err=True)
    else:
        write_index(found, output)
        click.echo(f"roughness index of each segment: {output}", err=True)
    return 0


def _names(columns: str | None) -> tuple[str, ...]:
    if columns is None:
        return ()
    names = tuple(name.strip() for name in columns.split(","))
    if len(names) not in (2, 3) or len(set(names)) < len(names) or not all(names):
        raise CallError(f"--columns {columns}: allowed: two or three different names, distance first")
    return names
