"""A real dask scheduler and two worker processes of this machine."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import ridefront
import small_runs

PATHS = os.pathsep.join(str(path) for path in (Path(ridefront.__file__).parents[1], Path(small_runs.__file__).parent))


def free_port() -> int:
    """A port of this machine that nobody has."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def dask(folder: Path, *arguments: str) -> subprocess.Popen[bytes]:
    """A dask process in a folder."""
    return subprocess.Popen(
        [sys.executable, "-m", "dask", *arguments],
        env={**os.environ, "PYTHONPATH": PATHS},
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@contextmanager
def cluster(folder: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Address of a scheduler, and its two workers."""
    address = f"tcp://127.0.0.1:{free_port()}"
    host, port = address.removeprefix("tcp://").split(":")
    begun = [dask(folder, "scheduler", "--host", host, "--port", port, "--no-dashboard", "--no-show")]
    try:
        begun += [
            dask(folder, "worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", ".")
            for _ in range(2)
        ]
        yield address, begun[1:]
    finally:
        for process in begun:
            process.kill()
            process.wait()
