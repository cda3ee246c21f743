"""What can go wrong, in one tree. The command catches these and nothing else: a bug keeps its traceback,
in a file where further studies are to run.

RidefrontError          message, hint
 ├── StudyError         a study file (or a designs file) is wrong: every mistake in it, a line each
 ├── CallError          the call itself is wrong: an argument, a name that the study does not have
 └── ResultError        a result folder is foreign, damaged, in use, or belongs to another study
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class RidefrontError(Exception):
    """Base of everything that Ridefront raises on purpose.

    Args:
        message: what is wrong, in one line.
        hint: the way on, or an empty string.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message if not hint else f"{message}\n  {hint}")
        self.message = message
        self.hint = hint


@dataclass(frozen=True)
class Mistake:
    """One mistake in a file that a person wrote.

    Attributes:
        key: path of the key, such as ``vehicle.front.spring_rate`` or ``objective[2].criterion``; empty for the file.
        found: what stands there.
        allowed: what may stand there.
        hint: the nearest known name, or another way on; may be empty.
    """

    key: str
    found: str
    allowed: str
    hint: str = ""

    def line(self, file: str) -> str:
        """The mistake in one line: file, key, what was found, what is allowed."""
        where = f"{file}: {self.key}" if self.key else file
        text = f"{where}: {self.found}; allowed: {self.allowed}" if self.allowed else f"{where}: {self.found}"
        return f"{text} ({self.hint})" if self.hint else text


class StudyError(RidefrontError):
    """Every mistake of a file at once.

    Args:
        file: the file's name as the caller gave it.
        mistakes: at least one.
    """

    def __init__(self, file: str, mistakes: Sequence[Mistake]) -> None:
        self.file = file
        self.mistakes = tuple(mistakes)
        super().__init__("\n".join(mistake.line(file) for mistake in self.mistakes))


class CallError(RidefrontError):
    """The call is wrong: an argument's value, or a name that the study does not know."""


class ResultError(RidefrontError):
    """A result folder cannot be used: foreign, damaged, locked by another run, or of another study."""


class Terminated(KeyboardInterrupt):
    """SIGTERM, handled like Ctrl-C but for the exit status."""
