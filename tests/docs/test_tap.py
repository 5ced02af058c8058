"""The figure of a tap's way in DEVELOPERS.md, held against a tap that is traced through a running server."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

import pytest

from web.traced import way_of_a_tap

PAGE = Path(__file__).parents[2] / "DEVELOPERS.md"
PROGRAM = Path(__file__).parents[2] / "server" / "tallywire"
FOLDERS = ("web", "shell", "wire", "core", "formats")
_NAME = re.compile(rf"\b(?:{'|'.join(FOLDERS)})/[a-z_]+(?:/[a-z_]+)*/?")


def figure() -> list[str]:
    """The modules and packages of the figure, each where it comes first."""
    section = PAGE.read_text(encoding="utf-8").split("## One tap, from the pad to the picture")[1].split("\n## ")[0]
    drawn = [line for line in section.splitlines() if line.startswith("    ")]
    return list(dict.fromkeys(name for line in drawn for name in _NAME.findall(line)))


def as_drawn(modules: Sequence[str], names: Sequence[str]) -> list[str]:
    """The modules with those of a package that is drawn as one in its place, each where it comes first."""
    packages = [name for name in names if name.endswith("/")]
    return list(dict.fromkeys(next((each for each in packages if m.startswith(each)), m) for m in modules))


async def test_a_tap_goes_the_way_that_is_drawn(tmp_path: Path) -> None:
    """Every module that a tap enters is in the figure, in the order in which it is entered first, and no other is."""
    names = figure()
    assert as_drawn(await way_of_a_tap(tmp_path), names) == names


def test_what_is_drawn_exists() -> None:
    """Every name of the figure is a module or a package of the program."""
    assert len(figure()) > 40
    for name in figure():
        assert (PROGRAM / name).is_dir() if name.endswith("/") else (PROGRAM / f"{name}.py").is_file(), name


@pytest.mark.parametrize(("one", "other"), [("shell/journal/", "wire/replies"), ("shell/books", "core/views/heat")])
async def test_the_comparison_can_fail(tmp_path: Path, one: str, other: str) -> None:
    """A figure with two names in each other's place is not that of a tap."""
    turn = {one: other, other: one}
    names = [turn.get(name, name) for name in figure()]
    assert as_drawn(await way_of_a_tap(tmp_path), names) != names


def test_the_shell_is_entered_once_on_each_way() -> None:
    """After the message is read, it goes in once; out go the answer and, behind it, the frame, each once."""
    names = figure()
    folders = [name.split("/")[0] for name in names[names.index("shell/journal/") :]]
    sides = [side for side, _ in groupby("out" if folder in ("wire", "web") else "in" for folder in folders)]
    assert sides == ["in", "out", "in", "out"]
