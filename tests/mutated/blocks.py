"""Blocks of statements: the parts of a module that run as a whole, and a copy of the server that notes which were run.

A block is named by its first line. The statements of a module or a class, which run when it is imported, are block 0.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

PARTS = ("body", "orelse", "finalbody")
NOTED = "_noted_blocks"
"""The name under which an instrumented module reaches the set of the blocks that were run."""


def note_blocks(package: Path) -> None:
    """Change every module of a copy of the package, so that each block says when it is run."""
    for path in sorted(package.rglob("*.py")):
        module = str(path.relative_to(package))
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for line, block in list(_blocks(tree)):
            at = 1 if _has_docstring(block) and len(block) > 1 else 0
            block.insert(at, ast.parse(f"{NOTED}.add(({module!r}, {line}))").body[0])
        first = next((n for n, each in enumerate(tree.body) if not _comes_first(each)), len(tree.body))
        tree.body.insert(first, ast.parse(f"from mutated.reach import RUN as {NOTED}").body[0])
        path.write_text(ast.unparse(ast.fix_missing_locations(tree)), encoding="utf-8")


def block_of(tree: ast.AST, wanted: ast.AST) -> int:
    """Give the first line of the innermost block that a node stands in; 0 for what runs at the import."""
    inside = [line for line, block in _blocks(tree) if any(wanted is node for top in block for node in ast.walk(top))]
    return max(inside, default=0)


def _blocks(tree: ast.AST) -> Iterator[tuple[int, list[ast.stmt]]]:
    """Every block inside a function, with its first line."""
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    seen = set()
    for node in (inner for function in functions for inner in ast.walk(function)):
        for part in PARTS:
            block = getattr(node, part, None)
            if isinstance(block, list) and block and id(block) not in seen and not isinstance(node, ast.ClassDef):
                seen.add(id(block))
                yield block[0].lineno, block


def _has_docstring(block: list[ast.stmt]) -> bool:
    return isinstance(block[0], ast.Expr) and isinstance(block[0].value, ast.Constant)


def _comes_first(statement: ast.stmt) -> bool:
    future = isinstance(statement, ast.ImportFrom) and statement.module == "__future__"
    return future or _has_docstring([statement])
