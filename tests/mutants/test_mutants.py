"""The faults are those that were meant, each alone, and a child process finds one out."""

from __future__ import annotations

import ast
from pathlib import Path

from mutants.mutate import mutants
from mutants.run import Answer, Children, put_in
from ridefront.criteria import CRITERIA, table
from ridefront.vehicle import static

SOURCE = '''
"""Three words."""
LIMIT = 2.0
class One:
    """Not touched: 1."""
    def half(self, x: float, most: int = 3) -> float:
        """No more than 1."""
        if x > LIMIT:
            raise ValueError(f"more than {LIMIT + 1}")
        return -min(x / 2, most)
def filled(y):
    y[0] = 1
    y[1] += abs(y[0])
'''
FAULTS = [
    ("=LIMIT", "2.0", "2.2"),
    ("One.half", "x > LIMIT", "x >= LIMIT"),
    ("One.half", "x > LIMIT", "x <= LIMIT"),
    ("One.half", "if x > LIMIT:", "if False:"),
    ("One.half", "if x > LIMIT:", "if True:"),
    ("One.half", "-min(x / 2, most)", "min(x / 2, most)"),
    ("One.half", "min(x / 2, most)", "max(x / 2, most)"),
    ("One.half", "x / 2", "x * 2"),
    ("One.half", "x / 2", "x / 3"),
    ("One.half", "x / 2", "x / 1"),
    ("filled", "y[0] = 1", "pass"),
    ("filled", "y[0] = 1", "y[1] = 1"),
    ("filled", "y[0] = 1", "y[0] = 2"),
    ("filled", "y[1] += abs(y[0])", "y[1] -= abs(y[0])"),
    ("filled", "y[1] += abs(y[0])", "pass"),
    ("filled", "y[1] += abs(y[0])", "y[2] += abs(y[0])"),
    ("filled", "y[1] += abs(y[0])", "y[1] += y[0]"),
    ("filled", "y[1] += abs(y[0])", "y[1] += abs(y[1])"),
]


def test_every_fault_is_one_change_of_code_that_runs() -> None:
    """Not of docstrings, defaults, annotations or messages."""
    plain = ast.unparse(ast.parse(SOURCE))
    expected = [(name, plain.replace(old, new, 1)) for name, old, new in FAULTS]
    found = [(each.function, ast.unparse(each.tree())) for each in mutants(SOURCE)]
    assert sorted(found) == sorted(expected)


def test_a_fault_acts_in_a_child_alone() -> None:
    """In the loaded function itself, wherever it was imported to; a child that does not answer is None."""
    path = Path(static.__file__)
    faults = {each.what: each for each in mutants(path.read_text(encoding="utf-8")) if each.function == "=GRAVITY"}
    ((_, heavier),) = faults.items()

    def changed() -> Answer:
        put_in(heavier, path)
        return {"gravity": static.GRAVITY}

    def breaks() -> Answer:
        raise OSError

    said: list[Answer | None] = []
    children = Children(at_once=1)
    for task in (changed, breaks):
        children.start(task, 30.0, said.append)
    children.finish()
    assert said == [{"gravity": 1.1 * 9.80665}, None]
    assert static.GRAVITY == 9.80665


def test_what_a_constant_is_made_of_has_its_fault() -> None:
    """A criterion's row, and the rows by name: in their own module, and here."""
    path = Path(table.__file__)
    fault = next(each for each in mutants(path.read_text(encoding="utf-8")) if each.function == "=_ROWS")
    assert fault.what == "0.5  ->  0.55"
    said: list[Answer | None] = []

    def changed() -> Answer:
        put_in(fault, path)
        return {"typical": [table.CRITERIA["comfort"].typical, CRITERIA["comfort"].typical]}

    children = Children(at_once=1)
    children.start(changed, 30.0, said.append)
    children.finish()
    assert said == [{"typical": [0.55, 0.55]}]
    assert CRITERIA["comfort"].typical == 0.5
