"""What a worker does, in whatever process it is: a piece of work in, an answer out, and no exception.

A worker in another process is handed the study once. It keeps what it made of it under a key; who asks with a key that
is not known here, because the worker is new, is told so and asks again with the study.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import signal
import threading
import time
import traceback
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ridefront.errors import RidefrontError
from ridefront.results.record import versions
from ridefront.study.digest import engine_digest
from ridefront.study.model import Array

KEPT = 2
"""Studies that a process keeps ready: each may hold gigabytes of roads."""

_WATCH = 0.5  # s


@dataclass(frozen=True)
class Work:
    """Designs for one of an evaluator's methods.

    Attributes:
        method: its name; options: further arguments by name.
        X: (n, d), in the variables' units.
    """

    method: str
    X: Array
    options: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Done:
    """What the method returned."""

    found: Any


@dataclass(frozen=True)
class Raised:
    """The method raised; its designs may be at fault, or one of them."""

    error: Exception


@dataclass(frozen=True)
class Refused:
    """The method raised what no design is at fault for: a wrong call, no memory, no room for compiled kernels."""

    error: Exception


@dataclass(frozen=True)
class Lost:
    """The worker died over it, or beside another that did."""


@dataclass(frozen=True)
class Lacking:
    """The worker does not know the study; `sources` says what it would compute with."""

    sources: Mapping[str, str]


Answer = Done | Raised | Refused | Lost
"""What becomes of a piece of work, once workers know the study."""


def answered(evaluator: Any, work: Work) -> Done | Raised | Refused:
    """Does a piece of work; never raises but on an interrupt."""
    try:
        return Done(getattr(evaluator, work.method)(work.X, **work.options))
    except (RidefrontError, MemoryError, OSError) as error:
        return Refused(error)
    except Exception as error:
        return Raised(error)


def packed(make: Callable[[], Any]) -> tuple[str, bytes]:
    """A key, and the bytes from which a worker makes an evaluator."""
    data = pickle.dumps(make)
    return hashlib.sha256(data).hexdigest(), data


def answered_elsewhere(key: str, data: bytes | None, work: Work) -> Answer | Lacking:
    """Does a piece of work in a process that may not know the study.

    Args:
        key: of the study.
        data: from which its evaluator is made; None where the worker may know it.
        work: to be done.
    """
    evaluator = _known(key, data)
    if evaluator is None:
        return Lacking(sources())
    found = answered(evaluator, work)
    return found if isinstance(found, Done) else type(found)(_portable(found.error))


def sources() -> dict[str, str]:
    """What figures depend on beside the study: versions, and the sources that compute."""
    return {**versions(), "sources": engine_digest()}


def settle_in(parent: int) -> None:
    """Begins a worker's process: an interrupt is the parent's to answer, and where that is gone there is no more to do.

    Args:
        parent: number of the process that has begun this one.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_leave_with, args=(parent,), daemon=True).start()


def _leave_with(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(_WATCH)
    os._exit(1)


_kept: OrderedDict[str, Any] = OrderedDict()
_lock = threading.Lock()


def _known(key: str, data: bytes | None) -> Any:
    """The evaluator of a key; None where it is not known and cannot be made."""
    with _lock:
        if key not in _kept:
            if data is None:
                return None
            while len(_kept) >= KEPT:
                _kept.popitem(last=False)
            _kept[key] = pickle.loads(data)()
        _kept.move_to_end(key)
        return _kept[key]


def _portable(error: Exception) -> Exception:
    """The error with its history in words, in a form that another process can read."""
    error.add_note("".join(traceback.format_exception(error)))
    try:
        pickle.loads(pickle.dumps(error))
    except Exception:
        return RuntimeError("".join(traceback.format_exception(error)))
    return error
