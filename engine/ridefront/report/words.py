"""Names and numbers as people read them, and tables of them."""

from __future__ import annotations

from dataclasses import dataclass, field

from ridefront.results.words import measure, measured_in, number, quantity, unit

__all__ = ["Table", "measure", "measured_in", "number", "quantity", "unit"]


@dataclass(frozen=True)
class Table:
    """A table for people: text only, numbers aligned right by whoever prints it.

    Attributes:
        title: in a line.
        columns: heads; rows: texts, each as long as `columns`.
        text_columns: how many columns from the left hold words.
        notes: lines below.
        ends_in_text: whether the last column holds words as well.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    text_columns: int = 1
    notes: tuple[str, ...] = field(default=())
    ends_in_text: bool = False

    def is_text(self, column: int) -> bool:
        """Whether a column holds words."""
        return column < self.text_columns or (self.ends_in_text and column == len(self.columns) - 1)
