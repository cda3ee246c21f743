"""A lock on a folder: a file in it, which the system lets go of with its process."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from ridefront.errors import ResultError
from ridefront.results.tables import file_errors


def locked(path: Path) -> int:
    """The number of a file that is locked until it is closed, or its process ends in whatever way.

    Raises:
        ResultError: another process, or this one, holds the lock.
    """
    with file_errors(path, "written"):
        number = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.pread(number, 200, 0).decode(errors="replace").strip()
            os.close(number)
            raise ResultError(
                f"{path.parent}: in use by another run ({holder or 'of which nothing is known'})",
                "Wait for it, or choose another --output.",
            ) from None
        os.ftruncate(number, 0)
        os.pwrite(number, f"process {os.getpid()} on {os.uname().nodename}\n".encode(), 0)
    return number
