"""docs/security.md names tests that are there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")


def test_every_proof_is_a_test() -> None:
    """Each test named on the page is a function of the file named with it."""
    named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", TEXT)
    assert len(named) == TEXT.count("::")
    for file, name in named:
        tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
        assert name in {each.name for each in tree.body if isinstance(each, ast.FunctionDef | ast.AsyncFunctionDef)}


def test_what_has_no_proof_says_so() -> None:
    """A row of the two check lists without a test is open, has nothing to prove, or does not apply."""
    rows = [line for line in TEXT.partition("## OWASP")[2].splitlines() if line.startswith("| ")]
    unproved = [row for row in rows if "::" not in row and "proved by" not in row and "---" not in row]
    assert [row for row in unproved if not re.search(r"\*\*open\*\*|\| none \||does not apply", row)] == []
