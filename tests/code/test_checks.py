"""The code base keeps its own rules: style, types, arrows, layout, public names, documented commands."""

from __future__ import annotations

import ast
import importlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

import ridefront

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "engine" / "ridefront"
BIN = Path(sys.executable).parent


def run_tool(*call: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(call, cwd=ROOT, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    "call",
    [
        ("ruff", "check"),
        ("ruff", "format", "--check"),
        ("mypy",),
        ("lint-imports",),
    ],
    ids=["style", "format", "types", "arrows"],
)
def test_check_passes(call: tuple[str, ...]) -> None:
    done = run_tool(str(BIN / call[0]), *call[1:])
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]


def test_top_level_holds_what_the_layout_names() -> None:
    tracked = run_tool("git", "ls-files").stdout.split("\n")
    top = {name.split("/")[0] for name in tracked if name}
    allowed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "engine", "studies", "tests", "results"}
    assert {name for name in top if not name.startswith(".")} <= allowed


def test_public_names_are_what_was_promised() -> None:
    for name in ridefront.__all__:
        assert getattr(ridefront, name).__doc__, name
    assert ridefront.__all__ == sorted(ridefront.__all__)
    assert len(ridefront.__all__) <= 16
    with pytest.raises(AttributeError, match="no attribute 'springs'"):
        _ = ridefront.springs


def test_importing_the_package_loads_nothing_heavy() -> None:
    code = "import sys, ridefront; print([m for m in ('numpy', 'numba', 'pandas', 'click') if m in sys.modules])"
    assert run_tool(sys.executable, "-c", code).stdout.strip() == "[]"


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_module_is_documented_and_of_a_size_to_read(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    assert ast.get_docstring(tree), "a module starts with what it is for"
    # A kernel's file holds everything compiled that it calls, or numba's cache would answer with old code.
    assert text.count("\n") <= (550 if path.name.startswith("kernel_") else 400)
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef | ast.ClassDef):
            continue
        public = not node.name.startswith("_") and node in tree.body
        if public:
            assert ast.get_docstring(node), f"{node.name} has no docstring"
        if isinstance(node, ast.FunctionDef):
            assert node.end_lineno is not None
            assert node.end_lineno - node.lineno < 75, f"{node.name} does not fit a screen"


def test_documents_name_every_verb_and_command() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    from ridefront.cli import _VERBS

    for verb in _VERBS:
        assert f"ridefront {verb}" in readme, verb
        assert importlib.import_module(f"ridefront.cli.{verb}").command.name == verb


def test_ci_runs_the_readmes_test_command() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    commands = [line.strip() for line in re.findall(r"^    (python3 -m venv .*)$", readme, flags=re.M)]
    assert len(commands) == 2, "README sets everything up in two commands"
    quiet = script.replace("pip install --quiet ", "pip install ")
    assert commands[1] in quiet


def test_nothing_names_paths_outside_the_project() -> None:
    done = run_tool("git", "grep", "-nIiE", r"/(work|root)/|\.\./shared", "--", ".", ":!tests/code")
    assert done.stdout == ""
