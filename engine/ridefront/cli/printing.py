"""Tables and notes on the terminal: stdout for what was asked, stderr for the rest."""

from __future__ import annotations

import sys
import textwrap

from rich import box
from rich.console import Console
from rich.table import Table as RichTable
from rich.text import Text

from ridefront.report.words import Table

_PLAIN_WIDTH = 160  # where there is no terminal: wide enough that no table is cut


def console(*, error: bool = False) -> Console:
    """A console for stdout, or for stderr."""
    stream = sys.stderr if error else sys.stdout
    width = None if stream.isatty() else _PLAIN_WIDTH
    return Console(file=stream, width=width, highlight=False, soft_wrap=False)


def show(table: Table, to: Console) -> None:
    """Print a table with its title above and its notes below."""
    grid = RichTable(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold", show_edge=False)
    for k, head in enumerate(table.columns):
        grid.add_column(Text(head), justify="left" if table.is_text(k) else "right", overflow="fold")
    for row in table.rows:
        grid.add_row(*(Text(cell) for cell in row))
    to.print(Text(table.title, style="bold"))
    to.print(grid)
    notes(table.notes, to)


def notes(lines: tuple[str, ...], to: Console) -> None:
    """Print lines, indented where they wrap."""
    for line in lines:
        wrapped = textwrap.wrap(line, max(to.width - 2, 20), initial_indent="  ", subsequent_indent="    ")
        to.print(Text("\n".join(wrapped)))
    to.print()
