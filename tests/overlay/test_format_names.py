"""No page knows a format by name: what differs between formats is in overlay/formats, one module a format."""

from __future__ import annotations

import re
from pathlib import Path

from tallywire.core.formats.registry import format_names

OVERLAY = Path(__file__).parents[2] / "overlay"
FORMATS = OVERLAY / "formats"
OWN_FIELDS = {"attempts_most", "lifting", "piece_count", "piece_list", "plates_milli", "total_ms", "window_ms"}
"""Fields of a frame that one format has and that are not called as the format is (docs/frames.md)."""


def _names() -> set[str]:
    """The formats of the registry, by the name that a frame gives."""
    registry = (FORMATS / "registry.js").read_text(encoding="utf-8")
    return set(re.findall(r'^  \["(\w+)", \w+\],$', registry, re.MULTILINE))


def _mentions(folder: Path, words: set[str]) -> list[str]:
    """Where one of the words stands in a page's file outside the folder of the formats."""
    pattern = re.compile(rf"\b(?:{'|'.join(sorted(words))})\b", re.IGNORECASE)
    files = [path for path in sorted(folder.rglob("*")) if path.suffix in {".js", ".html", ".css"}]
    return [
        f"{path.relative_to(folder)}:{number}: {line.strip()}"
        for path in files
        if path.parent.name != "formats"
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if pattern.search(line)
    ]


def test_no_page_names_a_format() -> None:
    """No name of a format, and no field that only one has, stands in a page outside overlay/formats."""
    assert _mentions(OVERLAY, _names() | OWN_FIELDS) == []


def test_the_search_finds_a_name(tmp_path: Path) -> None:
    """A planted name is found, in code and in a comment, but not in the folder of the formats."""
    for place in ("pad/view.js", "formats/ladder.js"):
        path = tmp_path / place
        path.parent.mkdir()
        path.write_text(
            '// of a ladder\nif (event.format === "max_load") lock();\nsetInterval(tick);\n', encoding="utf-8"
        )
    found = _mentions(tmp_path, _names())
    assert [line.split(":")[:2] for line in found] == [["pad/view.js", "1"], ["pad/view.js", "2"]]


def test_every_format_has_a_module() -> None:
    """Each format of the registry has a module of its name."""
    assert {path.stem for path in FORMATS.glob("*.js")} >= _names() != set()


def test_pages_know_the_formats_of_the_server() -> None:
    """The pages' registry has the same names as the server's: a frame's `event.format` finds its module."""
    assert _names() == set(format_names())
