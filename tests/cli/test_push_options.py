"""`--push` on the command line: what cannot be pushed is refused before the server listens."""

from __future__ import annotations

from pathlib import Path

import pytest

from e2e.processes import practice
from tallywire.cli.main import main

WRONG = {
    "another scheme": (("--push", "floor/heat/rows.json", "ftp://a.example/"), "begins with http://"),
    "no outlet": (("--push", "heat/rows.json", "https://a.example/"), "expected HEAT/VIEW/FORM"),
    "a view of the crew": (("--push", "floor/table/rows.json", "https://a.example/"), "found view table"),
    "no address": (("--push", "floor/heat/rows.json"), "expected 2 arguments"),
    "too many": (("--push", "floor/heat/rows.json", "https://a.example/") * 17, "expected 16 at most"),
    "no key": (("--push", "floor/heat/rows.json", "https://a.example/", "--push-key", "nowhere"), "see --push-key"),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_push_is_refused(case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The program ends with what was found and what was expected, and the documented code for wrong arguments."""
    arguments, expected = WRONG[case]
    command = ["serve", str(practice(tmp_path)), "--data", str(tmp_path / "data"), "--port", "0", *arguments]
    try:
        code = main(command)
    except SystemExit as exc:
        code = int(str(exc.code))
    assert code == 2
    assert expected in capsys.readouterr().err
