"""Change the server in one place at a time, and see whether the tests that reach the place notice.

    python tests/mutate.py --count 250 --seed 7 [--only core/formats] [--map reach.json] [--again LOG]
    python tests/mutate.py --named

The checkout stays as it is. A first run of the tests in an instrumented copy of `server/` tells which tests run which
blocks of statements; `--map` keeps that from one run to the next. Then each mutant has only the tests that reach its
block, those that run least besides first, until one fails; a mutant that hangs is noticed. One that changes nothing
anybody can see stands in `tests/mutated/equivalent.toml`, with the reason, and does not count. `--again` tries only
those that survived an earlier run of the same seed and the same server, by what that run printed. `--named` tries
those of `tests/mutated/named.toml`, each with the one test that stands there with it; `tests/test_mutants.py` runs it.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import tomllib
from collections.abc import Sequence
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

import pytest

from mutated import changes
from mutated.changes import Mutant
from mutated.trial import FOLDERS, OPTIONS, PACKAGE, ROOT, Trials, make_map, read_map

LAYERS = ("core", "formats", "wire", "shell", "web")


def drawn(count: int, seed: int, only: str) -> list[Mutant]:
    """Draw mutants at random, of the layers that are tested or of one part of them."""
    paths = [path for layer in LAYERS for path in sorted((PACKAGE / layer).rglob("*.py"))]
    chosen = [path for path in paths if str(path.relative_to(PACKAGE)).startswith(only)]
    everything = [(path, number) for path in chosen for number in range(changes.count(path))]
    named = tomllib.loads((ROOT / "tests" / "mutated" / "equivalent.toml").read_text(encoding="utf-8"))
    equivalent = {(each["module"], each["change"], each["line"]) for each in named["equivalent"]}
    sample = Random(seed).sample(everything, min(count, len(everything)))
    made = [changes.mutant(path, PACKAGE, number) for path, number in sample]
    return [each for each in made if each.key not in equivalent]


def named() -> tuple[list[Mutant], dict[str, Any]]:
    """Give the mutants that stand in the file, and a map that has for each its own test alone."""
    chosen, reach = [], dict[str, Any]()
    for each in tomllib.loads((ROOT / "tests" / "mutated" / "named.toml").read_text(encoding="utf-8"))["named"]:
        path = PACKAGE / each["module"]
        made = (changes.mutant(path, PACKAGE, number) for number in range(changes.count(path)))
        [mutant] = [one for one in made if (one.change, one.text) == (each["change"], each["line"])]
        chosen.append(mutant)
        reach.setdefault(each["test"], {"blocks": [], "s": 0.0})["blocks"].append((mutant.module, mutant.block))
    return chosen, reach


def fresh_copy(folder: Path) -> Path:
    """Copy the server, with the pages and the recordings beside it where it looks for them."""
    folder.mkdir()
    for name in ("overlay", "scenarios", "pyproject.toml"):
        (folder / name).symlink_to(ROOT / name)
    return Path(shutil.copytree(ROOT / "server", folder / "server"))


class Tally:
    """Counts and tells the mutants that were noticed."""

    def __init__(self) -> None:
        self.tried = self.noticed = 0

    def add(self, mutant: Mutant, noticed: bool) -> None:
        """Take the outcome of one."""
        self.tried, self.noticed = self.tried + 1, self.noticed + noticed
        if not noticed:
            print(f"survived: {mutant.name}\n    {mutant.text}", flush=True)
        print(f"{self.tried} tried, {self.noticed} noticed", end="\r", file=sys.stderr, flush=True)


def main() -> None:
    """Draw, try and report."""
    options = argparse.ArgumentParser(description="change the server in one place at a time, and run its tests")
    options.add_argument("--count", type=int, default=250)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", default="", help="the modules whose path in the package begins so")
    options.add_argument("--map", type=Path, help="a file that keeps which tests reach what; made if it is missing")
    options.add_argument("--again", type=Path, help="what an earlier run printed: only its survivors are tried")
    options.add_argument("--named", action="store_true", help="try the mutants of tests/mutated/named.toml instead")
    asked = options.parse_args()
    if asked.named:
        chosen, reach = named()
        run(chosen, reach, list(reach), "named")
        return
    chosen = drawn(asked.count, asked.seed, asked.only)
    if asked.again:
        lived = asked.again.read_text(encoding="utf-8").replace("survived: ", "\n").splitlines()
        chosen = [each for each in chosen if each.name in lived]
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        kept = asked.map or Path(folder) / "reach.json"
        if not kept.exists():
            make_map(fresh_copy(Path(folder) / "noting"), kept.absolute())
        reach = read_map(kept)
    run(chosen, reach, FOLDERS, f"with seed {asked.seed}")


def run(chosen: Sequence[Mutant], reach: dict[str, Any], tests: Sequence[str], which: str) -> None:
    """Try mutants with tests of these files and folders, and report."""
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        trials = Trials(chosen, reach, fresh_copy(Path(folder) / "changed"), tally.add)
        pytest.main([*OPTIONS, *tests], plugins=[trials])
    if trials.unsound:
        print(f"not asked, because they fail in a fork without any change: {', '.join(sorted(trials.unsound))}")
    share = 100 * tally.noticed / max(1, tally.tried)
    print(f"{tally.tried} mutants {which}: {tally.noticed} noticed, {share:.1f} %")


if __name__ == "__main__":
    main()
