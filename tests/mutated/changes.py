"""The changes that are made to the server's source, one at a time."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from mutated.blocks import block_of

SWAPS: dict[type[ast.AST], Any] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.And: ast.Or,
    ast.Or: ast.And,
}


@dataclass(frozen=True, slots=True)
class Mutant:
    """A module with one change; `text` is its line, `block` the first line of the block of statements it stands in."""

    module: str
    line: int
    block: int
    change: str
    text: str
    source: str

    @property
    def name(self) -> str:
        """How it is printed."""
        return f"{self.module}:{self.line}: {self.change}"

    @property
    def key(self) -> tuple[str, str, str]:
        """How it is named among the equivalent ones: without its line's number, which moves."""
        return self.module, self.change, self.text


def count(path: Path) -> int:
    """Give how many mutants a module has."""
    return sum(1 for _ in _places(ast.parse(path.read_text(encoding="utf-8"))))


def mutant(path: Path, package: Path, number: int) -> Mutant:
    """Give one mutant of a module: a comparison, an operator, a number or a condition that is another one."""
    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    node, change = next(islice(_places(tree), number, None))
    before = _shown(node)
    block = block_of(tree, node)
    change(node)
    return Mutant(
        module=str(path.relative_to(package)),
        line=getattr(node, "lineno", 0),
        block=block,
        change=f"{before} -> {_shown(node)}",
        text=source.splitlines()[getattr(node, "lineno", 1) - 1].strip(),
        source=ast.unparse(ast.fix_missing_locations(tree)),
    )


def _shown(node: ast.AST) -> str:
    """Of a statement its condition: the rest stays as it is, and takes many lines."""
    return ast.unparse(node.test if isinstance(node, ast.If) else node)


def _places(tree: ast.AST) -> Iterator[tuple[ast.AST, Callable[[Any], None]]]:
    return ((node, change) for node in ast.walk(tree) for change in _changes(node))


def _changes(node: ast.AST) -> Iterator[Callable[[Any], None]]:
    if isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS:
        yield _swap_comparison
    if isinstance(node, ast.BinOp) and type(node.op) in SWAPS and not _is_type(node):
        yield _swap_operator
    if isinstance(node, ast.BoolOp):
        yield _swap_operator
    if isinstance(node, ast.Constant) and type(node.value) is int:
        yield _next_number
    if isinstance(node, ast.If | ast.IfExp):
        yield _negate


def _is_type(node: ast.BinOp) -> bool:
    return isinstance(node.left, ast.Constant) and isinstance(node.left.value, str)


def _swap_comparison(node: ast.Compare) -> None:
    node.ops[0] = SWAPS[type(node.ops[0])]()


def _swap_operator(node: Any) -> None:
    node.op = SWAPS[type(node.op)]()


def _next_number(node: ast.Constant) -> None:
    node.value = int(str(node.value)) + 1


def _negate(node: ast.If | ast.IfExp) -> None:
    node.test = ast.UnaryOp(op=ast.Not(), operand=node.test)
