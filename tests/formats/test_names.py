"""No format's name stands in the server outside its own package and the registry."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

SERVER = Path(__file__).parents[2] / "server" / "tallywire"
NAMES = re.compile(r"ladder|interval|max_?load|amrap|for_?time|lifting|penalised", re.IGNORECASE)
REGISTRY = Path("core/formats/registry.py")
INNOCENT = {
    "setswitchinterval": "of the interpreter",
    "compression=None, ping_interval=None": "of the websocket",
    "ping_interval=_SELDOM_S": "the same",
    "ws_ping_interval": "of the websocket",
    "def intervals(finish_times_ms": "from one finish to the next, as road racing has them",
    "(gap to the first, interval to": "the same",
    "usual interval": "from one repetition to the next",
    "central intervals": "of a forecast: a median with what lies around it",
    "spread.intervals": "the same",
    "self.intervals[80]": "the same",
    "    intervals: Mapping[int, tuple[float, float]]": "the same",
    "intervals={50:": "the same",
    "intervals={80:": "the same",
    "Median and intervals of every row": "the same",
    "ends of the intervals": "the same",
}
"""Words that only look like a format's, by what stands around them, and what they are."""


def named(root: Path) -> Iterator[str]:
    """Give every line outside the packages and the registry that has a format's name in it."""
    for path in sorted(each for each in root.rglob("*") if each.suffix in (".py", ".toml")):
        where = path.relative_to(root)
        if where == REGISTRY or (where.parts[0] == "formats" and len(where.parts) > 2):
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if NAMES.search(line) and not any(word in line for word in INNOCENT):
                yield f"{where}:{number}: {line.strip()}"


def test_no_format_is_named_outside_its_package() -> None:
    """Code that has to know something about a format asks the format."""
    assert list(named(SERVER)) == []


@pytest.mark.parametrize("word", INNOCENT)
def test_every_innocent_word_is_still_there(word: str) -> None:
    """What is no longer written leaves the list."""
    assert any(word in path.read_text(encoding="utf-8") for path in SERVER.rglob("*.py"))


def test_the_check_can_fail(tmp_path: Path) -> None:
    """A planted question of the old kind is found; the same in a format's own package is not."""
    for folder in ("core", "formats/sprint"):
        (tmp_path / folder).mkdir(parents=True)
        (tmp_path / folder / "planted.py").write_text('if workout.format == "ladder":\n    pass\n')
    assert list(named(tmp_path)) == ['core/planted.py:1: if workout.format == "ladder":']
