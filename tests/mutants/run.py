"""Runs the tests against faults put into the ride model, one at a time, and lists those that no test notices.

By hand, since it takes an hour or two:

    python tests/mutants/run.py vehicle criteria --share 0.25
    python tests/mutants/run.py response/kernel_full.py --share 0.25

Faults in kernels are looked for in plain Python (NUMBA_DISABLE_JIT), because compiled code, and numba's cache of it, is
from before the fault. First each test runs once, in a child process of its own, to learn how long it takes and which
functions it calls; those that take too long are left out. What a test file has to do once for all is its
`before_faults`; kernels should be compiled by then, as by an earlier run of the tests. Then, for each fault, a child
puts the faulty code into the loaded functions and runs tests that call the function until one fails: first those that
caught most, then the quickest, those of the same room ten times as soon. What no test noticed goes to the terminal; all
verdicts go to `build/mutants.csv`.
"""

from __future__ import annotations

import argparse
import csv
import gc
import importlib
import json
import os
import random
import signal
import sys
import threading
import time
import warnings
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import Any

ROOT = Path(__file__).parents[2]
ENGINE = ROOT / "engine"
sys.path[:0] = [str(ENGINE), str(ROOT / "tests")]

import pytest  # noqa: E402

from mutants.mutate import Mutant, mutants  # noqa: E402

Answer = dict[str, Any]
TESTS = ("vehicle", "response", "criteria", "twins", "published", "trade", "evaluate")
NOTICED, SURVIVED, UNREACHED = "noticed", "SURVIVED", "no test calls it"


class Children:
    """Runs tasks in forked processes, a few at a time; each answers with a line of JSON, or none if it takes more than
    `limit` seconds of processor time, or 20 times that by the clock.
    """

    def __init__(self, at_once: int) -> None:
        self.at_once = at_once
        self.running: dict[int, tuple[int, float, Callable[[Answer | None], None]]] = {}

    def start(self, task: Callable[[], Answer], limit: float, done: Callable[[Answer | None], None]) -> None:
        while len(self.running) >= self.at_once:
            self.look()
        read, write = os.pipe()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # of threads, which sleep here
            child = os.fork()
        if child == 0:
            os.close(read)
            quiet()
            signal.signal(signal.SIGPROF, signal.SIG_DFL)
            signal.setitimer(signal.ITIMER_PROF, limit)
            try:
                os.write(write, json.dumps(task()).encode())
            finally:
                os._exit(0)
        os.close(write)
        self.running[child] = (read, time.monotonic() + 60 + 20 * limit, done)

    def look(self) -> None:
        child, _ = os.waitpid(-1, os.WNOHANG)
        if child == 0:
            for pid, (_, until, _) in self.running.items():
                if time.monotonic() > until:
                    os.kill(pid, signal.SIGKILL)
            time.sleep(0.01)
            return
        read, _, done = self.running.pop(child)
        with os.fdopen(read, "rb") as pipe:
            said = pipe.read()
        done(json.loads(said) if said else None)

    def finish(self) -> None:
        while self.running:
            self.look()


def smaller() -> None:
    """Few frequencies, and designs side by side: in plain Python each costs time. Tests that want more fail, and are
    left out.
    """
    from ridefront.response import grid, simulate, spectrum

    grid.POINTS, simulate.LANES = 65, 2
    spectrum.mean_squares.__kwdefaults__ = {"lanes": 2}


def quiet() -> None:
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)


def passed(item: pytest.Item, following: pytest.Item | None) -> bool:
    from _pytest.runner import runtestprotocol

    return not any(report.failed for report in runtestprotocol(item, log=False, nextitem=following))


def seen_in(item: pytest.Item) -> Answer:
    """Which of the engine's functions a test calls, and how long it takes."""
    called: set[tuple[str, str]] = set()
    codes: set[CodeType] = set()

    def look(frame: FrameType, event: str, _: object) -> None:
        if event == "call":
            codes.add(frame.f_code)

    threading.setprofile(look)
    sys.setprofile(look)
    began = time.process_time()
    good = passed(item, None)
    seconds = time.process_time() - began
    sys.setprofile(None)
    for code in codes:
        if code.co_filename.startswith(str(ENGINE)):
            called.add((str(Path(code.co_filename).relative_to(ENGINE)), code.co_qualname.split(".<locals>")[0]))
    return {"good": good, "seconds": seconds, "called": sorted(called)}


def put_in(mutant: Mutant, path: Path) -> None:
    """Gives all loaded copies of a function the faulty code, or all modules the faulty constant, and what its own
    module makes of it.
    """
    made = compile(mutant.tree(), str(path), "exec", dont_inherit=True)
    module = importlib.import_module(".".join(path.relative_to(ENGINE).with_suffix("").parts))
    if mutant.constant:
        folders = (str(ENGINE), str(ROOT / "tests"))
        ours = [m for m in list(sys.modules.values()) if (getattr(m, "__file__", None) or "").startswith(folders)]
        for name, value in mutant.values():
            was = getattr(module, name)
            new = eval(compile(value, str(path), "eval"), vars(module))
            for other in ours:
                if vars(other).get(name) is was:
                    setattr(other, name, new)
        return
    code = next(code for code in codes_in(made) if code.co_qualname == mutant.function)
    found = [
        function
        for function in gc.get_objects()
        if isinstance(function, FunctionType)
        and function.__code__.co_filename == str(path)
        and function.__code__.co_qualname == mutant.function
    ]
    if not found:
        raise LookupError(mutant.function)
    for function in found:
        function.__code__ = code


def codes_in(code: CodeType) -> Iterator[CodeType]:
    for each in code.co_consts:
        if isinstance(each, CodeType):
            yield each
            yield from codes_in(each)


def tried(mutant: Mutant, path: Path, items: list[pytest.Item]) -> Answer:
    """The first test that fails with the fault in place."""
    try:
        put_in(mutant, path)
        for item, following in zip(items, [*items[1:], None], strict=True):
            if not passed(item, following):
                return {"by": item.nodeid}
    except Exception as error:
        return {"by": "", "error": repr(error)}
    return {"by": ""}


class Hunt:
    """In the place of pytest's own loop."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.seconds: dict[str, float] = {}
        self.callers: dict[tuple[str, str], list[str]] = defaultdict(list)
        self.slow: list[str] = []

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        from hypothesis import Phase, settings

        settings.register_profile("mutants", phases=[Phase.explicit, Phase.generate], database=None, deadline=None)
        settings.load_profile("mutants")
        items = {item.nodeid: item for item in session.items}
        began = time.monotonic()
        if os.environ.get("NUMBA_DISABLE_JIT"):
            smaller()
        for module in {item.module for item in session.items if isinstance(item, pytest.Function)}:
            getattr(module, "before_faults", lambda: None)()
        self.learn(items)
        took = time.monotonic() - began
        print(f"{len(self.seconds)} of {len(items)} tests are quick enough ({took:.0f} s to learn)", flush=True)
        rows = self.hunt(items)
        folder = ROOT / "build"
        folder.mkdir(exist_ok=True)
        with (folder / f"{self.options.output}.csv").open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows([["module", "function", "line", "fault", "verdict", "by"], *rows])
        counted = Counter(row[4] for row in rows)
        print(f"{len(rows)} faults: " + ", ".join(f"{number} {verdict}" for verdict, number in counted.items()))
        print(f"{time.monotonic() - began:.0f} s")
        sys.stdout.flush()
        os._exit(0)

    def learn(self, items: dict[str, pytest.Item]) -> None:
        children = Children(self.options.at_once)
        kept = ROOT / "build" / f"{self.options.output}-learnt.json"
        if self.options.again and kept.is_file():
            learnt = json.loads(kept.read_text())
        else:
            learnt = {}
            for name, item in items.items():

                def done(said: Answer | None, name: str = name) -> None:
                    learnt[name] = said

                children.start(partial(seen_in, item), self.options.longest, done)
            children.finish()
            kept.parent.mkdir(exist_ok=True)
            kept.write_text(json.dumps(learnt))
        for name, said in learnt.items():
            if said is None or not said["good"]:
                self.slow.append(name + ("" if said is None else " (fails)"))
            elif name in items:
                self.seconds[name] = said["seconds"]
                for file, function in said["called"]:
                    self.callers[file, function].append(name)
        for name in self.slow:
            print(f"left out: {name}")

    def chosen(self) -> Iterator[tuple[Path, Mutant]]:
        chance, wanted = random.Random(self.options.seed), None
        if self.options.survivors:
            with self.options.survivors.open(newline="", encoding="utf-8") as file:
                wanted = {tuple(row[:4]) for row in csv.reader(file) if row[4] != NOTICED}
        for path in self.options.modules:
            for mutant in mutants(path.read_text(encoding="utf-8")):
                name = (str(path.relative_to(ENGINE)), mutant.function, str(mutant.line), mutant.what)
                if chance.random() < self.options.share if wanted is None else name in wanted:
                    yield path, mutant

    def hunt(self, items: dict[str, pytest.Item]) -> list[list[str]]:
        children, rows = Children(self.options.at_once), []
        caught: Counter[tuple[str, str, str]] = Counter()
        for path, mutant in self.chosen():
            file = str(path.relative_to(ENGINE))
            row = [file, mutant.function, str(mutant.line), mutant.what]
            if mutant.constant:
                names = sorted({name for key, all_ in self.callers.items() if key[0] == file for name in all_})
            else:
                names = self.callers.get((file, mutant.function), [])
            key = (file, mutant.function)
            own = f"tests/{file.split('/')[1]}/"
            names = sorted(
                names, key=lambda n: (-caught[(*key, n)], self.seconds[n] * (0.1 if n.startswith(own) else 1.0))
            )
            picked: list[pytest.Item] = []
            spent = 0.0
            for name in names:
                if spent + self.seconds[name] <= self.options.budget or not picked:
                    picked.append(items[name])
                    spent += self.seconds[name]
            if not picked:
                rows.append(told([*row, UNREACHED, ""]))
                continue

            def done(said: Answer | None, row: list[str] = row, key: tuple[str, str] = key) -> None:
                if said is not None and "error" in said:
                    raise RuntimeError(f"{row}: {said['error']}")
                by = "out of time, or a crash" if said is None else said["by"]
                if said is not None and by:
                    caught[(*key, by)] += 1
                rows.append(told([*row, NOTICED if by else SURVIVED, by]))

            children.start(partial(tried, mutant, path, picked), 10 + 5 * spent, done)
        children.finish()
        return rows


def told(row: list[str]) -> list[str]:
    """The row; on the terminal too where nothing noticed the fault."""
    file, function, line, fault, verdict, _ = row
    if verdict != NOTICED:
        print(f"{file}:{line} {function}: {fault}   [{verdict}]", flush=True)
    return row


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("what", nargs="+", help="rooms or modules, as vehicle or response/grid.py")
    parser.add_argument("--share", type=float, default=1.0, help="of the faults, drawn at random")
    parser.add_argument("--survivors", type=Path, metavar="CSV", help="try those again that nothing noticed then")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--longest", type=float, default=6.0, help="processor seconds: slower tests are left out")
    parser.add_argument("--budget", type=float, default=15.0, help="processor seconds of tests for one fault")
    parser.add_argument("--at-once", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--again", action="store_true", help="take what was learnt of the tests last time")
    parser.add_argument("--output", default="mutants", help="of build/NAME.csv")
    parser.add_argument("--tests", nargs="*", default=list(TESTS))
    options = parser.parse_args()
    places = [ENGINE / "ridefront" / name for name in options.what]
    options.modules = [path for each in places for path in ([each] if each.suffix else sorted(each.rglob("*.py")))]
    kernels = [path.name.startswith("kernel_") for path in options.modules]
    if any(kernels) and not all(kernels):
        parser.error("kernels are looked at alone, as response/kernel_full.py; name the other modules one by one")
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    if any(kernels):
        os.environ["NUMBA_DISABLE_JIT"] = "1"
    os.chdir(ROOT)
    args = ["-n", "0", "-s", *(f"tests/{name}" for name in options.tests)]
    pytest.main(args, plugins=[Hunt(options)])


if __name__ == "__main__":
    main()
