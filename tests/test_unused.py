"""Nothing in the server is written for nobody: vulture finds no code that only tests use, or nothing uses."""

from __future__ import annotations

from pathlib import Path

import pytest
from vulture import Vulture  # type: ignore[import-untyped]

SERVER = Path(__file__).parents[1] / "server"

ALLOWED = {
    "plugged": "tests plug formats of their own into the registry",
    "is_busy": "tests wait until the recorder has written all it was given",
    "__lt__": "the order a sort key must have, in a protocol",
    "__call__": "what a function must take, in a protocol",
    "format_field": "string.Formatter calls it",
    "force_exit": "uvicorn reads it",
    "servers": "uvicorn reads it",
    "wait_closed": "uvicorn calls it",
    "capture_signals": "uvicorn calls it",
    "main_loop": "uvicorn calls it",
    "__class__": "the interpreter reads it",
    "formatter_class": "argparse reads it",
    "model_config": "pydantic reads it",
    "_lane_fits": "pydantic calls it",
    "copied": "tests wait until the mirror has copied so many lines",
}
"""Names that are used by something vulture does not see, each with what that is."""
ENUMS = {"PROPOSE", "TAKE", "FEWEST", "LARGE", "MIDDLE"}
"""Members of enumerations that come from a file or a message by their value."""
THEME = Path("wire/theme_schema.py")
"""Its fields are roles of colour, read from a file by name."""


def unused(root: Path) -> dict[str, str]:
    """Give every unused name below a folder, and where it stands."""
    finder = Vulture()
    finder.scavenge([str(root)])
    found = finder.get_unused_code(min_confidence=60)
    return {each.name: f"{each.filename}:{each.first_lineno}" for each in found if not _is_colour(Path(each.filename))}


def _is_colour(path: Path) -> bool:
    return path.match(str(THEME))


@pytest.fixture(scope="module")
def found() -> dict[str, str]:
    """Give the unused names of the server."""
    return unused(SERVER)


def test_nothing_in_the_server_is_unused(found: dict[str, str]) -> None:
    """Every name is used by the program itself, or stands in the list with a reason."""
    assert {name: where for name, where in found.items() if name not in ALLOWED and name not in ENUMS} == {}


def test_the_list_allows_no_more_than_is_there(found: dict[str, str]) -> None:
    """What came into use, or went, leaves the list."""
    assert (ALLOWED.keys() | ENUMS) - found.keys() == set()


def test_the_check_can_fail(tmp_path: Path) -> None:
    """A function that nothing calls is found."""
    (tmp_path / "planted.py").write_text(
        "def used() -> int:\n    return 1\n\n\ndef nobody() -> int:\n    return used()\n"
    )
    assert set(unused(tmp_path)) == {"nobody"}
