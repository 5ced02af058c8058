"""The import rule: cli, web, shell, wire, core, downward only."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

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


def test_the_check_can_fail(tmp_path: Path) -> None:
    """With the layers turned upside down the same check goes red."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    turned = tmp_path / "pyproject.toml"
    turned.write_text(
        text.replace('["cli", "web", "shell", "wire", "core"]', '["core", "wire", "shell", "web", "cli"]')
    )
    assert lint_imports(turned).returncode == 1
