"""A TOML file as blocks: what stands before the first header, then one block for each table, with its comments.

A block is a table's header with all that belongs to it. Comments right above a header are part of its block, so that
they go where the table goes; those below its last value, parted from the next header by an empty line, are its tail.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_HEADER = re.compile(r"\s*(\[{1,2})\s*([A-Za-z0-9_-]+)\s*\]{1,2}\s*(?:#.*)?$")
_QUOTES = ('"""', "'''")


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One block: the name of its table, empty for what stands before the first, and its text to the last line end."""

    name: str
    text: str

    @property
    def tail(self) -> str:
        """The comments after its last value, with the empty lines round them; empty where there are none."""
        lines = self.text.splitlines(keepends=True)
        start = len(lines)
        while start and (not lines[start - 1].strip() or lines[start - 1].lstrip().startswith("#")):
            start -= 1
        tail = "".join(lines[start:])
        return tail if tail.strip() else ""


def blocks_of(text: str) -> list[Block]:
    """Split a file. Joined again, the texts of the blocks are the file."""
    lines = text.splitlines(keepends=True)
    cuts = [(0, "")]
    for number, name in _headers(lines):
        start = number
        while start > cuts[-1][0] and lines[start - 1].lstrip().startswith("#"):
            start -= 1
        cuts.append((start, name))
    ends = [start for start, _ in cuts[1:]] + [len(lines)]
    return [Block(name=name, text="".join(lines[start:end])) for (start, name), end in zip(cuts, ends, strict=True)]


def _headers(lines: Sequence[str]) -> list[tuple[int, str]]:
    """Give the lines that open a table at the top, and its name; not those inside a text of several lines."""
    found, quote = [], ""
    for number, line in enumerate(lines):
        header = None if quote else _HEADER.match(line)
        if header is not None:
            found.append((number, header[2]))
        for each in _QUOTES:
            if quote in ("", each) and line.count(each) % 2:
                quote = "" if quote else each
    return found
