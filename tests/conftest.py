"""Gathers what `checks` recorded, from all workers, and holds the committed table against it when the tests end."""

from __future__ import annotations

from collections.abc import Generator
from pathlib import Path

import pytest

from checks import Row, as_texts, drain, stale, written

PUBLISHED = "tests/published"
KEY = "check"
ROWS = pytest.StashKey[list[Row]]()
FAILED = pytest.StashKey[list[str]]()
SAID = pytest.StashKey[str]()


def pytest_configure(config: pytest.Config) -> None:
    config.stash[ROWS], config.stash[FAILED] = [], []
    config.pluginmanager.register(Gathering(config), "checks-gathering")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None]:
    """Rows travel as properties of a test's report, which is how they come from a worker."""
    drain()
    yield
    name = item.nodeid.split("[")[0].rsplit("/", 1)[-1].replace(".py::", "::")
    item.user_properties += [(KEY, [*as_texts(row)[:-1], name]) for row in drain()]


class Gathering:
    """Listens to reports, in the process that talks to the terminal."""

    def __init__(self, config: pytest.Config) -> None:
        self.config = config

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if not report.nodeid.startswith(PUBLISHED):
            return
        if report.failed:
            self.config.stash[FAILED].append(report.nodeid)
        if report.when == "call":
            texts = [list(map(str, value)) for key, value in report.user_properties if key == KEY]  # type: ignore[call-overload]
            self.config.stash[ROWS] += [Row(*text) for text in texts]

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self, session: pytest.Session, exitstatus: int) -> None:
        if hasattr(self.config, "workerinput") or exitstatus not in (0, 1):
            return
        if self.config.stash[FAILED] or not whole(self.config):
            return
        said = renewed(self.config.rootpath, self.config.stash[ROWS])
        if said is not None:
            self.config.stash[SAID] = said
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    @pytest.hookimpl(trylast=True)
    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        if SAID in self.config.stash:
            terminalreporter.section("the table of checks is not current: this run FAILED", red=True)
            terminalreporter.line(self.config.stash[SAID], red=True)


def whole(config: pytest.Config) -> bool:
    """Whether all of `tests/published` was asked for."""
    chosen = ("keyword", "markexpr", "deselect", "ignore", "ignore_glob", "collectonly")
    if any(config.getoption(name, None) for name in chosen):
        return False
    folder = config.rootpath / PUBLISHED
    named = [config.invocation_params.dir / Path(arg) for arg in config.args]
    return any(path.resolve() in (folder, *folder.parents) for path in named)


def renewed(root: Path, rows: list[Row]) -> str | None:
    """Writes the table into the build folder; what to say where the committed one differs."""
    try:
        page = written(rows)
    except ValueError as error:
        return str(error)
    (root / "build").mkdir(exist_ok=True)
    (root / "build" / "checks.md").write_text(page, encoding="utf-8")
    kept = root / PUBLISHED / "CHECKS.md"
    return stale(page, kept.read_text(encoding="utf-8") if kept.is_file() else None)
