"""No function is a maze: radon's count of ways through it, comprehensions and conditions included, stays low."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path
from typing import Any

from radon.complexity import cc_visit  # type: ignore[import-untyped]

SERVER = Path(__file__).parents[1] / "server"
MOST = 12
"""Ruff's C901 at 8 holds the rest: it passes over comprehensions and conditions within an expression."""


def mazes(root: Path) -> dict[str, int]:
    """Give every function or method below a folder that counts over the most, with its count."""
    return {
        f"{path.relative_to(root)}:{block.fullname}": block.complexity
        for path in sorted(root.rglob("*.py"))
        for block in _functions(path)
        if block.complexity > MOST
    }


def _functions(path: Path) -> list[Any]:
    return [each for each in cc_visit(path.read_text(encoding="utf-8")) if each.letter != "C"]


def test_no_function_of_the_server_is_a_maze() -> None:
    """All are at most twelve by radon's count."""
    assert mazes(SERVER) == {}


def test_the_check_can_fail(tmp_path: Path) -> None:
    """A function with thirteen ways through it is named with its count, one with twelve is not."""
    conditions = "\n".join(f"    if x == {n}:\n        return {n}" for n in range(12))
    (tmp_path / "planted.py").write_text(
        f"def maze(x):\n{conditions}\n\n\ndef fine(x):\n" + "\n".join(conditions.splitlines()[:22]) + "\n"
    )
    assert mazes(tmp_path) == {"planted.py:maze": MOST + 1}


def test_one_type_has_one_name() -> None:
    """No two classes of the server share a name: a reader who has met one of them knows which is meant."""
    homes = defaultdict(list)
    for path in sorted(SERVER.rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef):
                homes[node.name].append(str(path.relative_to(SERVER)))
    assert {name: where for name, where in homes.items() if len(where) > 1} == {}
