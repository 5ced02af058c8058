"""Change the server in one place at a time, and see whether the tests that belong there notice.

    python tests/mutate.py --count 250 --seed 7 [--only core/formats]

Every mutant is made in a copy of `server/`, so the checkout stays as it is. First the test files that import the module
run, then, if they passed, the quick tests of its layer; a mutant that runs into the time limit is noticed. A mutant
that changes nothing anybody can see stands in `EQUIVALENT`, with the reason, and does not count.
"""

from __future__ import annotations

import argparse
import ast
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "server" / "tallywire"
LAYERS = {"core": "core formats", "formats": "core formats", "wire": "wire", "shell": "shell", "web": "web shell"}
"""The folders of tests that belong to a layer."""
LIMIT_S = 240
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
EQUIVALENT: dict[tuple[str, str], str] = {}
"""Mutants that nobody can notice, by module and the words of the change, and why."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """A module with one change."""

    module: str
    line: int
    change: str
    source: str


def mutants(path: Path) -> Iterator[Mutant]:
    """Give every mutant of a module: a comparison, an operator, a number or a condition that is another one."""
    text = path.read_text(encoding="utf-8")
    count = sum(1 for node in ast.walk(ast.parse(text)) for _ in _changes(node))
    for number in range(count):
        tree = ast.parse(text)
        node, change = [(node, change) for node in ast.walk(tree) for change in _changes(node)][number]
        before = ast.unparse(node)
        change(node)
        yield Mutant(
            module=str(path.relative_to(PACKAGE)),
            line=getattr(node, "lineno", 0),
            change=f"{before} -> {ast.unparse(node)}",
            source=ast.unparse(ast.fix_missing_locations(tree)),
        )


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


def importers(module: str) -> list[str]:
    """Give the test files that import a module."""
    name = "tallywire." + module.removesuffix(".py").replace("/", ".").removesuffix(".__init__")
    parent, _, last = name.rpartition(".")
    wanted = re.compile(rf"from {re.escape(name)} import|from {re.escape(parent)} import .*\b{last}\b")
    files = [path for path in sorted((ROOT / "tests").rglob("test_*.py")) if "e2e" not in path.parts]
    return [str(path) for path in files if wanted.search(path.read_text(encoding="utf-8"))]


def failing(layer: str, copy: Path) -> list[str]:
    """Give the tests of a layer that fail without any change: they would notice every mutant."""
    done = _run(_of_layer(layer), copy, ["-rf"], limit_s=5 * LIMIT_S)
    return re.findall(r"^FAILED (\S+)", done.stdout.decode(), re.MULTILINE)


def is_noticed(mutant: Mutant, copy: Path, left_out: Collection[str]) -> bool:
    """Tell whether the tests of a mutant's module, or else those of its layer, fail or hang."""
    target = copy / "tallywire" / mutant.module
    kept = target.read_text(encoding="utf-8")
    target.write_text(mutant.source, encoding="utf-8")
    layer = _of_layer(mutant.module.split("/")[0])
    try:
        return any(_fails(files, copy, left_out) for files in (importers(mutant.module), layer) if files)
    finally:
        target.write_text(kept, encoding="utf-8")


def _of_layer(layer: str) -> list[str]:
    return [str(ROOT / "tests" / each) for each in LAYERS[layer].split()]


def _fails(files: list[str], copy: Path, left_out: Collection[str]) -> bool:
    try:
        done = _run(files, copy, ["-x", *(f"--deselect={test}" for test in left_out)], limit_s=LIMIT_S)
    except subprocess.TimeoutExpired:
        return True
    return done.returncode != 0


def _run(files: list[str], copy: Path, options: list[str], *, limit_s: int) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-m", "not slow and not alone"]
    environment = os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(
        [*command, *options, *files], cwd=ROOT, env=environment, capture_output=True, timeout=limit_s, check=False
    )


def drawn(count: int, seed: int, only: str) -> list[Mutant]:
    """Draw mutants at random, of the layers that are tested or of one part of them."""
    paths = [path for layer in LAYERS for path in sorted((PACKAGE / layer).rglob("*.py"))]
    everything = [
        each
        for path in paths
        if str(path.relative_to(PACKAGE)).startswith(only)
        for each in mutants(path)
        if (each.module, each.change) not in EQUIVALENT
    ]
    return Random(seed).sample(everything, min(count, len(everything)))


def main() -> None:
    """Draw, try and report."""
    options = argparse.ArgumentParser(description="change the server in one place at a time, and run its tests")
    options.add_argument("--count", type=int, default=250)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", default="", help="the modules whose path in the package begins so")
    asked = options.parse_args()
    chosen, survivors = drawn(asked.count, asked.seed, asked.only), []
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        copy = Path(shutil.copytree(ROOT / "server", Path(folder) / "server"))
        for name in ("overlay", "scenarios"):
            (Path(folder) / name).symlink_to(ROOT / name)
        left_out = {test for layer in {each.module.split("/")[0] for each in chosen} for test in failing(layer, copy)}
        print("\n".join(f"left out, it fails without a change: {test}" for test in sorted(left_out)))
        for number, mutant in enumerate(chosen, start=1):
            if not is_noticed(mutant, copy, left_out):
                survivors.append(mutant)
                print(f"survived: {mutant.module}:{mutant.line}: {mutant.change}", flush=True)
            print(f"{number} tried, {number - len(survivors)} noticed", end="\r", file=sys.stderr, flush=True)
    share = 100 * (1 - len(survivors) / max(1, len(chosen)))
    print(f"{len(chosen)} mutants with seed {asked.seed}: {share:.1f} % noticed")


if __name__ == "__main__":
    main()
