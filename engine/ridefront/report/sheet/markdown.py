"""Blocks as Markdown that also reads as plain text; whatever a study calls things comes out as text."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

from ridefront.report.sheet.lines import Block
from ridefront.report.words import Table

LONGEST = 160
"""Characters of a name or sentence from a study in one cell; what is longer is cut, and an ellipsis says so."""

_ENTITIES = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}
_MARKS = re.compile(r"([\\`*_\[\]|~$])")
_LINKS = re.compile(r"(?i)\b(https?|ftp|mailto|www)([:.])|(?<=\S)(@)(?=\S)")
_QUANTITY = re.compile(r"(?<=\d) (?=[^\W\d][\w·/²³°]*$|%$)")
_LEADING = re.compile(r"^(\s*\d*)([#+=.)-])(?=\s|$|[#=-])")


def text(words: str, *, longest: int | None = LONGEST) -> str:
    """Words as Markdown shows them, whatever they are.

    Line breaks and other control characters, those that turn the direction of writing included, are spelt out; marks
    of Markdown and HTML lose their meaning; addresses do not become links.
    """
    plain = "".join(_spelt(character) for character in words)
    if longest is not None and len(plain) > longest:
        plain = plain[: longest - 1] + "…"
    safe = _MARKS.sub(r"\\\1", plain)
    safe = "".join(_ENTITIES.get(character, character) for character in safe)
    return _LINKS.sub(_unlinked, safe)


def _spelt(character: str) -> str:
    if unicodedata.category(character) in ("Cc", "Cf", "Zl", "Zp", "Cs", "Co", "Cn"):
        return " " if character == "\t" else f"{{U+{ord(character):04X}}}"
    return character


def _unlinked(found: re.Match[str]) -> str:
    if found[3]:
        return "&#64;"
    return found[1] + ("&#58;" if found[2] == ":" else "&#46;")


def markdown(title: str, blocks: Sequence[Block]) -> str:
    """A sheet: a title and its blocks."""
    parts = [f"# {text(title)}"]
    for block in blocks:
        if block.title:
            parts.append(f"## {text(block.title)}")
        if block.facts:
            parts.append("\n".join(f"- **{text(word)}**: {text(said, longest=None)}" for word, said in block.facts))
        for table in block.tables:
            parts += _table(table)
        if block.notes:
            parts.append(_items(block.notes))
    return "\n\n".join(parts) + "\n"


def _table(table: Table) -> list[str]:
    """A table with its title and notes; columns are padded so that it reads as it stands."""
    found = [f"**{text(table.title)}**"] if table.title else []
    cells = [[_QUANTITY.sub("\u00a0", text(cell)) for cell in row] for row in (table.columns, *table.rows)]
    widths = [max(3, *(len(row[k]) for row in cells)) for k in range(len(table.columns))]
    left = [k < table.text_columns for k in range(len(widths))]
    lines = [_line(cells[0], widths, left)]
    lines.append(
        "| " + " | ".join("-" * w if to else "-" * (w - 1) + ":" for w, to in zip(widths, left, strict=True)) + " |"
    )
    lines += [_line(row, widths, left) for row in cells[1:]]
    found.append("\n".join(lines))
    if table.notes:
        found.append(_items(table.notes))
    return found


def _items(notes: Sequence[str]) -> str:
    """Sentences as a list; none of them begins a list or a heading of its own."""
    return "\n".join(f"- {_LEADING.sub(_unmarked, text(note, longest=None))}" for note in notes)


def _unmarked(found: re.Match[str]) -> str:
    return f"{found[1]}\\{found[2]}"


def _line(cells: Sequence[str], widths: Sequence[int], left: Sequence[bool]) -> str:
    padded = (cell.ljust(w) if to else cell.rjust(w) for cell, w, to in zip(cells, widths, left, strict=True))
    return "| " + " | ".join(padded) + " |"
