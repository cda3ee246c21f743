"""Tables of designs that were handed in, as printed."""

from __future__ import annotations

from typing import Any

import pyarrow as pa

from ridefront.evaluate import Evaluator
from ridefront.report.domains import too_long
from ridefront.report.words import Table, number, unit

_COLUMNS = 6  # designs side by side on a terminal


def doubts_about_step(evaluator: Evaluator) -> tuple[str, ...]:
    """What to say of the time domain's step, where something was driven and it does not hold."""
    if not evaluator.drives or evaluator.step.held:
        return ()
    choice = evaluator.step
    return (too_long(choice.step, choice.rms, choice.peak),)


def printed(table: pa.Table) -> Table:
    """A table of `ridefront.results.given` for the terminal: words first, figures with four digits and their units."""
    names = table.column_names
    if "criterion" in names:
        return Table(
            f"{len(table):,} pieces, SI",
            ("design", "criterion", "place", "condition", "response", "value", "standard error", "unit"),
            tuple(
                (
                    str(row["design"]),
                    row["criterion"],
                    row["place"],
                    row["condition"],
                    row["response"],
                    number(row["value"], 4),
                    number(row["se"], 2),
                    unit(row["unit"]),
                )
                for row in table.to_pylist()
            ),
            text_columns=5,
        )
    whole, table = len(table), table.slice(0, _COLUMNS)
    # Few designs with many figures each: a row a figure, a column a design.
    fields = [table.schema.field(name) for name in names if name != "design"]
    columns = [table[field.name].to_pylist() for field in fields]
    rows = tuple(
        (field.name, _unit(field), *(_cell(value) for value in column))
        for field, column in zip(fields, columns, strict=True)
    )
    heads = ("", "unit", *(f"design {number}" for number in table["design"].to_pylist()))
    title = "one design" if whole == 1 else f"{whole:,} designs"
    more = (f"{whole - _COLUMNS:,} more: --output FILE writes all of them",) if whole > _COLUMNS else ()
    return Table(title, heads, rows, text_columns=2, notes=more)


def _unit(field: pa.Field) -> str:
    shown = (field.metadata or {}).get(b"unit", b"").decode()
    return "" if shown == "none" else unit(shown)


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value) if isinstance(value, str | int) else number(value, 4)
