"""Small faults put into a module's source, one at a time."""

from __future__ import annotations

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.MatMult: ast.Mult,
}
COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
SWAPPED = {
    "minimum": "maximum",
    "maximum": "minimum",
    "min": "max",
    "max": "min",
    "sin": "cos",
    "cos": "sin",
    "any": "all",
    "all": "any",
    "zeros": "ones",
    "ones": "zeros",
    "zeros_like": "ones_like",
}
PASSED_THROUGH = {"abs", "fabs", "sqrt", "square", "log", "exp", "sorted", "conj"}
"""Calls of one argument that a fault leaves out."""


Step = tuple[str, int | None]


@dataclass(frozen=True)
class Mutant:
    """A module with one fault in it.

    `function` is the qualified name of the function or method that has it, or `=NAME` for a constant of the module;
    `line` is where, `what` says the change.
    """

    function: str
    line: int
    what: str
    source: str
    path: tuple[Step, ...]
    change: Callable[[ast.AST], ast.AST]

    def tree(self) -> ast.Module:
        """The whole module with the fault."""
        module = ast.parse(self.source)
        _put(module, self.path, self.change)
        return ast.fix_missing_locations(module)

    def values(self) -> Iterator[tuple[str, ast.Expression]]:
        """The constant with the fault, and the plain names further down that are made of it: name and expression."""
        changed = {self.function[1:]}
        for node in self.tree().body[self.path[0][1] :]:
            if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
                continue
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            used = {each.id for each in ast.walk(node.value) if isinstance(each, ast.Name)}
            if isinstance(target, ast.Name) and (target.id in changed or used & changed):
                changed.add(target.id)
                yield target.id, ast.Expression(node.value)

    @property
    def constant(self) -> bool:
        """Whether it is a module's constant that differs, not a function."""
        return self.function.startswith("=")


def mutants(source: str) -> Iterator[Mutant]:
    """Every fault of the kinds below, in order of the source: operators, comparisons, numbers, signs, conditions,
    minimum and maximum, left out calls and left out statements. Docstrings, annotations, decorators, defaults and
    messages stay as they are.
    """
    module = ast.parse(source)
    for name, path in _places(module):
        node = _at(module, path)
        for steps, change, what, line in _changes(node):
            yield Mutant(name, line, what, source, path + steps, change)


def _places(module: ast.Module) -> Iterator[tuple[str, tuple[Step, ...]]]:
    """Functions, methods and constants, with the way to each from the module's root."""
    for k, node in enumerate(module.body):
        if isinstance(node, ast.FunctionDef):
            yield node.name, (("body", k),)
        elif isinstance(node, ast.ClassDef):
            for j, each in enumerate(node.body):
                if isinstance(each, ast.FunctionDef):
                    yield f"{node.name}.{each.name}", (("body", k), ("body", j))
        elif isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            if isinstance(target, ast.Name) and not isinstance(node.value, ast.Call):
                yield f"={target.id}", (("body", k),)


def _at(root: ast.AST, path: tuple[Step, ...]) -> ast.AST:
    node: ast.AST = root
    for field, index in path:
        child = getattr(node, field)
        node = child if index is None else child[index]
    return node


def _put(root: ast.AST, path: tuple[Step, ...], change: Callable[[ast.AST], ast.AST]) -> None:
    parent = _at(root, path[:-1])
    field, index = path[-1]
    if index is None:
        setattr(parent, field, ast.copy_location(change(getattr(parent, field)), getattr(parent, field)))
    else:
        child = getattr(parent, field)
        child[index] = ast.copy_location(change(child[index]), child[index])


def _children(node: ast.AST) -> Iterator[tuple[Step, ast.AST]]:
    skipped = {"annotation", "returns", "decorator_list", "args", "type_comment"} if _defines(node) else {"annotation"}
    for field, value in ast.iter_fields(node):
        if field in skipped:
            continue
        if isinstance(value, ast.AST):
            yield (field, None), value
        elif isinstance(value, list):
            for k, each in enumerate(value):
                if isinstance(each, ast.AST):
                    yield (field, k), each


def _defines(node: ast.AST) -> bool:
    return isinstance(node, ast.FunctionDef | ast.Lambda | ast.ClassDef)


Change = tuple[tuple[Step, ...], Callable[[ast.AST], ast.AST], str, int]


def _changes(node: ast.AST, path: tuple[Step, ...] = ()) -> Iterator[Change]:
    """Changes below a node, each with the way to it; nothing of a message that is raised."""
    for step, child in _children(node):
        if isinstance(child, ast.Raise | ast.JoinedStr | ast.Assert):
            continue
        if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            continue
        way = (*path, step)
        for change, what in _of(child, step[0]):
            yield way, change, what, getattr(child, "lineno", 0)
        yield from _changes(child, way)


def _of(node: ast.AST, field: str) -> Iterator[tuple[Callable[[ast.AST], ast.AST], str]]:
    was = _short(node)
    for made in _instead(node, field):
        yield partial(_copied, made), f"{was}  ->  {_short(made)}"


def _copied(made: ast.AST, _: ast.AST) -> ast.AST:
    return copy.deepcopy(made)


def _instead(node: ast.AST, field: str) -> Iterator[ast.AST]:
    match node:
        case ast.BinOp(left, op, right) if type(op) in ARITHMETIC:
            yield ast.BinOp(left, ARITHMETIC[type(op)](), right)
        case ast.AugAssign(target, op, value):
            yield ast.AugAssign(target, ARITHMETIC.get(type(op), ast.Sub)(), value)
            yield ast.Pass()
        case ast.Compare(left, [op], [right]):
            for other in COMPARED[type(op)]:
                yield ast.Compare(left, [other()], [right])
        case ast.UnaryOp(ast.USub() | ast.Not() | ast.Invert(), operand):
            yield operand
        case ast.BoolOp(op, values):
            yield ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
        case ast.Constant(value) if isinstance(value, bool):
            yield ast.Constant(not value)
        case ast.Constant(value) if isinstance(value, int):
            yield ast.Constant(value + 1)
            if value > 1:
                yield ast.Constant(value - 1)
        case ast.Constant(value) if isinstance(value, float):
            yield ast.Constant(1.1 * value if value else 1.0)
        case ast.Call(func, [only], []) if _called(func) in PASSED_THROUGH:
            yield only
        case ast.Call(func, args, keywords) if _called(func) in SWAPPED:
            yield ast.Call(_renamed(func, SWAPPED[_called(func)]), args, keywords)
        case ast.Call(func, [first, second, *rest], keywords) if _called(func) == "where" and rest:
            yield ast.Call(func, [first, rest[0], second], keywords)
        case ast.IfExp(test, body, orelse):
            yield ast.IfExp(ast.UnaryOp(ast.Not(), test), body, orelse)
        case ast.If(test, body, orelse):
            yield ast.If(ast.Constant(False), body, orelse)
            yield ast.If(ast.Constant(True), body, orelse)
        case ast.While(test, body, orelse):
            yield ast.While(ast.Constant(False), body, orelse)
        case ast.Assign([ast.Subscript() | ast.Attribute()], _) | ast.Expr(ast.Call()):
            yield ast.Pass()
        case ast.Break() | ast.Continue():
            yield ast.Pass()


def _called(func: ast.expr) -> str:
    return func.attr if isinstance(func, ast.Attribute) else func.id if isinstance(func, ast.Name) else ""


def _renamed(func: ast.expr, name: str) -> ast.expr:
    return (
        ast.Attribute(func.value, name, ast.Load()) if isinstance(func, ast.Attribute) else ast.Name(name, ast.Load())
    )


def _short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 90 else text[:87] + "..."
