"""What `check` remarks on in a file that has no problems."""

from __future__ import annotations

from pathlib import Path

import pytest

from e2e.processes import PRACTICE
from tallywire.cli.main import main


def test_a_long_name_without_a_short_form_is_remarked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A name of 25 letters is named with its id; one of 24, and one with a short form, are not."""
    file = tmp_path / "practice.toml"
    for name, remarks in (("x" * 25, 1), ("x" * 24, 0), (f'{"y" * 30}"\nshort = "Y', 0)):
        file.write_text(PRACTICE.replace("Asta Norwood", name), encoding="utf-8")
        assert main(["check", str(file)]) == 0
        said = capsys.readouterr().out
        assert "no problems" in said
        assert said.count("remark") == said.count("(a) has no short form") == remarks
