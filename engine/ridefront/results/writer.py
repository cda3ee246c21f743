"""Storing beside evaluating: a thread writes a block while the next one is being worked out."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType
from typing import Self

from ridefront.results.batch import Batch
from ridefront.results.folder import RunFolder


class PartWriter:
    """Stores blocks in order, at most one at a time and none after one that could not be stored.

    Use it as a context manager; on leaving, everything handed over is on disk, or an error says why not.

    Args:
        folder: to which parts are appended.
    """

    def __init__(self, folder: RunFolder) -> None:
        self._folder = folder
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="storing")
        self._pending: Future[None] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        again: KeyboardInterrupt | None = None
        while True:
            try:
                self._thread.shutdown(wait=True)  # who goes on while the thread still writes would see half of it
                break
            except KeyboardInterrupt as interrupt:
                again = interrupt
        if kind is None:
            self.wait()
        if again is not None and not isinstance(error, KeyboardInterrupt):
            raise again

    def put(self, batch: Batch) -> None:
        """Hands over a block; waits for the one before.

        Raises:
            ResultError: if the block before could not be stored.
        """
        self.wait()
        self._pending = self._thread.submit(self._folder.append, batch)

    def wait(self) -> None:
        """Waits until everything handed over is on disk; raises as `put`."""
        if self._pending is not None:
            self._pending.result()
            self._pending = None
