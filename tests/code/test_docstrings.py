"""Docstrings say what a reader has to know before a call: shapes, units, what arguments are, formulas, sources."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import ridefront
from ridefront.criteria import CRITERIA

PACKAGE = Path(__file__).parents[2] / "engine" / "ridefront"
ROOMS = ("criteria", "evaluate", "response", "road", "search", "vehicle")
UNPUBLISHED = ("closest.py", "front.py", "gradients.py", "parts.py", "slopes.py")  # in search

SHAPE = re.compile(r"\((?:[A-Za-z_]+|\d+),(?: ?[\w +*/-]+,?)*\)")  # (n,), (n, m), (n_freq,), (2, levels)
ARRAY = re.compile(r"(?<!\w)(?:(?:ND)?Array|Flags|Ids|Keys|Places|Ranks|Rows)(?!\w)")
FLOATS = re.compile(r"(?<!\w)Array(?!\w)")
UNIT = re.compile(
    r"(?<![\w'])(?:m|mm|s|N|kg|Hz|rad|m²|m³|m/s|m/s²|N/m|N·s/m|N·m/rad|kg·m²|rad/s|cycles/m|1/m|SI|%|shares?|units?|spans?"
    r"|(?<=, )1|(?<=\): )1)(?!\w)"
)  # a span is an objective's range over a front
HEAD = re.compile(r"^ *[\w, ]+: ", re.M)  # of an argument or a field, which may be called like a unit
CITED = re.compile(r"[A-Z][\w'-]+.*\b(?:19|20)\d\d\b", re.S)
SIGN = re.compile(r"[√∫ΦΔ/|]| - |max |\bm_?u?\b")
PROVENANCE = re.compile(r"Source: .*(?:from memory|seen|derived|definition|common practice, no source)", re.S)


@cache
def public() -> list[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    """Public functions, classes and methods of the rooms, with a name to find them by."""
    return [
        (f"{path.relative_to(PACKAGE)}: {name}", node)
        for room in ROOMS
        for path in sorted((PACKAGE / room).rglob("*.py"))
        if not path.name.startswith("kernel_")
        for name, node in within(ast.parse(path.read_text(encoding="utf-8")).body)
    ]


def within(body: list[ast.stmt], prefix: str = "") -> Iterator[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield prefix + node.name, node
            if isinstance(node, ast.ClassDef):
                yield from within(node.body, f"{node.name}.")


def arguments(node: ast.FunctionDef) -> list[ast.arg]:
    given = node.args.posonlyargs + node.args.args + node.args.kwonlyargs
    return [arg for arg in given if arg.arg not in ("self", "cls")]


def typed(node: ast.FunctionDef | ast.ClassDef) -> dict[str, str]:
    """By name of an argument, or of a field; what is returned has no name."""
    if isinstance(node, ast.FunctionDef):
        found = {arg.arg: arg.annotation for arg in arguments(node)} | {"": node.returns}
    else:
        fields = [each for each in node.body if isinstance(each, ast.AnnAssign)]
        found = {ast.unparse(each.target): each.annotation for each in fields}
    return {name: ast.unparse(each) for name, each in found.items() if each is not None}


def unnamed(names: list[str], doc: str) -> list[str]:
    return [name for name in names if not re.search(rf"(?<!\w){re.escape(name)}(?!\w)", doc)]


def faults(node: ast.FunctionDef | ast.ClassDef) -> list[str]:
    """What a docstring leaves out."""
    doc, kinds = ast.get_docstring(node) or "", typed(node)
    found = []
    arrays = [name for name, kind in kinds.items() if ARRAY.search(kind)]
    if arrays and not SHAPE.search(doc):
        found.append("no shape of an array")
    if any(FLOATS.search(kind) for kind in kinds.values()) and not UNIT.search(SHAPE.sub("", HEAD.sub("", doc))):
        found.append("no unit")
    if isinstance(node, ast.ClassDef):
        wanted = list(kinds) if arrays else []
    else:
        wanted = [arg.arg for arg in arguments(node) if "Args:" in doc or arg.arg in arrays]
    return found + [f"{name} is not named" for name in unnamed(wanted, doc)]


def test_what_takes_or_returns_arrays_says_shapes_and_units_and_names_its_arguments() -> None:
    assert len(public()) > 150
    assert [f"{where}: {fault}" for where, node in public() for fault in faults(node)] == []


FAULTY = '''
def one(x: Array, y: float) -> Array:
    """Adds.

    Args:
        x: (n,), m.
    """
def two(x: Array) -> Array:
    """The square of `x`, m²."""
def three(x: Array) -> Array:
    """The square of `x`, (n,)."""
class Four:
    """Two arrays (n,), m: `a`."""
    a: Array
    b: Array
def five(x: Array) -> Flags:
    """Whether another one's `x` (n, m) is 1 or more."""
def six(x: Array) -> Array:
    """The square, (n,), m²."""
def seven(m: Array) -> Array:
    """Adds.

    Args:
        m: (n,), any.
    """
def eight() -> Flags:
    """Which."""
'''


def test_faults_are_found() -> None:
    found = [faults(node) for _, node in within(ast.parse(FAULTY).body)]
    assert found == [
        ["y is not named"],
        ["no shape of an array"],
        ["no unit"],
        ["b is not named"],
        ["no unit"],
        ["x is not named"],
        ["no unit"],
        ["no shape of an array"],
    ]


def test_a_search_names_the_published_source_of_its_method() -> None:
    """A module's docstring has an author and a year, unless it is one of those that follow nobody's paper."""
    docs = {
        path.name: ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        for path in sorted((PACKAGE / "search").glob("*.py"))
        if path.name != "__init__.py"
    }
    assert {name for name, doc in docs.items() if not CITED.search(doc)} == set(UNPUBLISHED)


def offered(name: str) -> dict[str, Callable[..., Any]]:
    """A public name, with the methods and properties where it is a class; empty where it is a table."""
    item = getattr(ridefront, name)
    if not inspect.isclass(item):
        return {name: item} if inspect.isfunction(item) else {}
    members: dict[str, Any] = {
        key: each.fget if isinstance(each, property) else each for key, each in vars(item).items()
    }
    own: dict[str, Callable[..., Any]] = {
        f"{name}.{key}": each for key, each in members.items() if inspect.isfunction(each) and key[0] != "_"
    }
    if not issubclass(item, Exception):
        own[name] = item
    return own


@pytest.mark.parametrize("name", ridefront.__all__)
def test_public_names_say_what_their_arguments_are(name: str) -> None:
    """Each is named in the docstring, or in that of another public function that it refers to."""
    for called, item in offered(name).items():
        doc = inspect.getdoc(item) or ""
        assert doc, called
        others = [inspect.getdoc(getattr(ridefront, each)) or "" for each in ridefront.__all__ if f"`{each}`" in doc]
        names = [each for each in inspect.signature(item).parameters if each != "self"]
        assert unnamed(names, "\n".join([doc, *others])) == [], called


@pytest.mark.parametrize("name", CRITERIA)
def test_a_criterion_gives_its_formula_its_unit_and_its_source(name: str) -> None:
    """First the formula, then what it is; at the end of that the shape and the unit, which is that of the table."""
    doc = inspect.getdoc(CRITERIA[name].figure) or ""
    first = " ".join(doc.split("\n\n")[0].split())
    formula, _, rest = first.partition("(n,), ")
    assert SIGN.search(formula), f"{name}: no formula in {first!r}"
    unit = CRITERIA[name].unit.replace("^2", "²")
    assert re.match(rf"{re.escape(unit)}(?![\w^²/])", rest), f"{name}: {rest!r} begins with the unit, {unit}"
    assert PROVENANCE.search(doc), f"{name}: no source, or none that says where it is from"
