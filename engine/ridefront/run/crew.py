"""Where workers are: threads of this process, processes of this machine, or a dask cluster.

Processes are loky's, as joblib brings it, without joblib's `Parallel`: that looks for finished work every 10 ms only,
which is 50 µs a design for a generation of 200, and where one worker is lost it forgets what others had finished.
"""

from __future__ import annotations

import os
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

from ridefront.errors import CallError, ResultError
from ridefront.run.tasks import (
    Answer,
    Lacking,
    Lost,
    Work,
    answered,
    answered_elsewhere,
    packed,
    settle_in,
    sources,
)

if TYPE_CHECKING:
    from joblib.externals.loky.process_executor import ProcessPoolExecutor

    from ridefront.study.model import Study

CONNECT = 10
"""Seconds within which a scheduler must answer."""

ARRIVE = 60
"""Seconds within which a cluster must have a worker."""

IDLE = 300
"""Seconds after which a process without work leaves; it starts anew when there is some."""

ONE_THREAD = {f"{name}_NUM_THREADS": "1" for name in ("OMP", "OPENBLAS", "MKL", "NUMBA")}
"""Processes share the cores among them."""

GOES_ON = "The same call goes on from here once it is there again."


class Job:
    """A study to be worked on, for workers here and elsewhere.

    Args:
        make: makes its evaluator; can be pickled.
        evaluator: the one of this process.

    Attributes:
        key, data: what workers elsewhere know it by, and make their evaluator from.
    """

    def __init__(self, make: Callable[[], Any], evaluator: Any) -> None:
        self.evaluator = evaluator
        self._make = make
        self._packed: tuple[str, bytes] | None = None

    @property
    def packed(self) -> tuple[str, bytes]:
        """Key and bytes, made when workers elsewhere first ask."""
        if self._packed is None:
            self._packed = packed(self._make)
        return self._packed


class Crew(ABC):
    """Workers, whatever they are.

    Attributes:
        kind: a word for people.
        count: how many there are.
        elsewhere: whether they are in other processes.
    """

    kind: str
    count: int
    elsewhere = True

    @abstractmethod
    def answers(self, job: Job, works: Sequence[Work]) -> list[Answer]:
        """What becomes of each piece of work, in their order."""

    @abstractmethod
    def close(self) -> None:
        """Lets go of the workers; closing twice does no harm."""


class Threads(Crew):
    """Threads of this process; one works in the caller's own."""

    kind = "threads"
    elsewhere = False

    def __init__(self, count: int) -> None:
        self.count = count
        self._threads = ThreadPoolExecutor(count, thread_name_prefix="worker") if count > 1 else None

    def answers(self, job: Job, works: Sequence[Work]) -> list[Answer]:
        if self._threads is None or len(works) < 2:
            return [answered(job.evaluator, work) for work in works]
        return list(self._threads.map(lambda work: answered(job.evaluator, work), works))

    def close(self) -> None:
        if self._threads is not None:
            self._threads.shutdown(wait=True, cancel_futures=True)


class _Elsewhere(Crew):
    """Workers in other processes."""

    def answers(self, job: Job, works: Sequence[Work]) -> list[Answer]:
        found = self._round(job, works, given=False)
        lacking = [k for k, answer in enumerate(found) if isinstance(answer, Lacking)]
        again = iter(self._round(job, [works[k] for k in lacking], given=True))
        settled: list[Answer] = []
        for answer in found:
            if isinstance(answer, Lacking):
                _check(answer)
                answer = next(again)
            assert not isinstance(answer, Lacking)
            settled.append(answer)
        return settled

    def _round(self, job: Job, works: Sequence[Work], *, given: bool) -> list[Answer | Lacking]:
        """Answers of workers that are handed the study, or may know it."""
        key, data = job.packed
        futures = []
        try:
            for work in works:
                futures.append(self._submit(key, data if given else None, work))
            return [self._result(future) for future in futures]
        except BaseException:
            for future in futures:
                future.cancel()
            raise

    @abstractmethod
    def _submit(self, *arguments: Any) -> Any:
        """A future of `answered_elsewhere`."""

    @abstractmethod
    def _result(self, future: Any) -> Answer | Lacking:
        """Its result, `Lost` where the worker died."""


def _check(answer: Lacking) -> None:
    """Refuse a worker that would compute something else."""
    ours = sources()
    unlike = [
        f"{name} {answer.sources.get(name)}, not {ours[name]}"
        for name in ours
        if answer.sources.get(name) != ours[name]
    ]
    if unlike:
        raise CallError(
            f"a worker does not compute as this process would: it has {'; '.join(unlike)}",
            "Install the same versions where workers are.",
        )


class Processes(_Elsewhere):
    """Processes of this machine. They start when there is work, and anew where one was lost."""

    kind = "processes"

    def __init__(self, count: int) -> None:
        self.count = count
        self._pool: ProcessPoolExecutor | None = None

    def _submit(self, *arguments: Any) -> Any:
        from joblib.externals.loky.process_executor import BrokenProcessPool, ProcessPoolExecutor

        while True:
            if self._pool is None:
                self._pool = ProcessPoolExecutor(
                    self.count, timeout=IDLE, initializer=settle_in, initargs=(os.getpid(),), env=ONE_THREAD
                )
            try:
                return self._pool.submit(answered_elsewhere, *arguments)
            except BrokenProcessPool:
                self.close()

    def _result(self, future: Any) -> Answer | Lacking:
        from joblib.externals.loky.process_executor import BrokenProcessPool

        try:
            found: Answer | Lacking = future.result()
            return found
        except BrokenProcessPool:
            return Lost()

    def close(self) -> None:
        if self._pool is not None:
            pool, self._pool = self._pool, None
            pool.shutdown(wait=True, kill_workers=True)


class Cluster(_Elsewhere):
    """Workers of a dask cluster. Some may come and go.

    Args:
        address: of its scheduler, such as ``tcp://host:8786``.

    Raises:
        CallError: dask is not installed, there is no such scheduler, or it has no workers that can load Ridefront.
    """

    kind = "cluster"

    def __init__(self, address: str) -> None:
        self._address = address
        try:
            from distributed import Client
        except ImportError as error:
            raise CallError(
                f"cluster {address}: the package distributed is not installed",
                "pip install 'ridefront[cluster]', here and where workers are",
            ) from error
        try:
            self._client = Client(address, timeout=CONNECT, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            raise CallError(
                f"cluster {address}: no scheduler answers there within {CONNECT} s",
                "Start one with: dask scheduler --port 8786",
            ) from error
        try:
            self._client.wait_for_workers(1, timeout=ARRIVE)
            self._client.run(sources)
            self.count = sum(self._client.ncores().values())
        except TimeoutError as error:
            self.close()
            raise CallError(
                f"cluster {address}: no worker within {ARRIVE} s", f"Start some with: dask worker {address}"
            ) from error
        except ImportError as error:
            self.close()
            raise CallError(f"cluster {address}: a worker cannot load Ridefront: {error}") from error

    def _submit(self, *arguments: Any) -> Any:
        # pure=False: dask would otherwise answer from its memory, where a worker that lacked the study knows it by now.
        return self._client.submit(answered_elsewhere, *arguments, pure=False)

    def _result(self, future: Any) -> Answer | Lacking:
        from distributed.client import FutureCancelledError
        from distributed.scheduler import KilledWorker

        while True:
            try:
                found: Answer | Lacking = future.result(timeout=ARRIVE)
                return found
            except KilledWorker:
                return Lost()
            except TimeoutError:
                if not self._client.ncores():
                    raise ResultError(f"cluster {self._address}: without workers for {ARRIVE} s", GOES_ON) from None
            except (FutureCancelledError, OSError) as error:
                raise ResultError(f"cluster {self._address}: its scheduler is gone", GOES_ON) from error

    def close(self) -> None:
        self._client.close()


def crew_of(study: Study, count: int, cluster: str | None) -> Crew:
    """The workers that a call or a study asks for.

    Args:
        study: whose ``[compute]`` counts where the call says nothing.
        count: of threads or processes.
        cluster: address of a scheduler, from the call; None if it names none.
    """
    address = cluster or study.cluster
    if address is not None:
        return Cluster(address)
    return Processes(count) if study.kind == "processes" else Threads(count)
