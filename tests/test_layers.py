"""The import rule: cli, measure, web, shell, wire, formats, core, downward only."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def lint_imports(config: Path) -> subprocess.CompletedProcess[str]:
    """Run import-linter with a configuration file."""
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"]
    return subprocess.run(
        [*command, "--config", str(config), "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )


def test_imports_run_one_way() -> None:
    """No module imports upward, every top module has a layer, and the core imports nothing that touches the world."""
    checked = lint_imports(ROOT / "pyproject.toml")
    assert checked.returncode == 0, checked.stdout


@pytest.mark.parametrize(("lower", "upper"), [("core", "wire"), ("fold", "standings"), ("cues", "views")], ids=str)
def test_the_check_can_fail(tmp_path: Path, lower: str, upper: str) -> None:
    """With two layers in each other's place the same check goes red, outside the core and inside."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    swapped = {f'"{lower}"': f'"{upper}"', f'"{upper}"': f'"{lower}"'}
    turned = tmp_path / "pyproject.toml"
    turned.write_text(re.sub(f'"({lower}|{upper})"', lambda found: swapped[found[0]], text))
    assert lint_imports(turned).returncode == 1


@pytest.mark.parametrize("shared", ["format_file", "workout_tables"])
def test_the_check_of_formats_can_fail(tmp_path: Path, shared: str) -> None:
    """Were what formats share not allowed, the check that no format knows another would find it."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    stricter = tmp_path / "pyproject.toml"
    stricter.write_text(re.sub(rf'  "tallywire\.formats\.\*\* -> tallywire\.formats\.{shared}",\n', "", text))
    assert "no format knows another BROKEN" in lint_imports(stricter).stdout
