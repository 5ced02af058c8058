"""In which line of a TOML file a value stands, so that a problem can be found without counting tables."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from tallywire.core.errors import Problem

_STEP = re.compile(r"([A-Za-z_]+)(?:\[([0-9]+)\])?(?:\.|$)")
_HEADER = re.compile(r"\s*\[{1,2}\s*([A-Za-z_.\s]+?)\s*\]{1,2}\s*(?:#.*)?$")


def located(problems: Sequence[Problem], text: str) -> list[Problem]:
    """Give the problems of a file with, behind each path, the id of the table that it is in, and the line."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return list(problems)
    lines = text.split("\n")
    return [replace(each, path=each.path + _where(each.path, data, lines)) for each in problems]


def _where(path: str, data: Mapping[str, Any], lines: Sequence[str]) -> str:
    steps = list(_STEP.finditer(path))
    if not steps or steps[0].start() != 0 or steps[0][1] not in data:
        return ""
    line = line_of([(step[1], int(step[2] or 0)) for step in steps], lines)
    known = [_id_of(data, steps[0]), f"line {line}" if line else ""]
    said = ", ".join(each for each in known if each)
    return f" ({said})" if said else ""


def _id_of(data: Mapping[str, Any], step: re.Match[str]) -> str:
    """Give the id of the table that a path begins with, where it is one of several and has one that can be shown."""
    tables, number = data[step[1]], int(step[2] or 0)
    if not (isinstance(tables, list) and 0 < number <= len(tables) and isinstance(tables[number - 1], dict)):
        return ""
    found = tables[number - 1].get("id")
    return found if isinstance(found, str) and found.isprintable() and len(found) <= 64 else ""


def line_of(steps: Sequence[tuple[str, int]], lines: Sequence[str]) -> int | None:
    """Give the number of the line where a value stands, or else the table that it is in; None for neither.

    A step is a name and, for one of several tables, its number from 1.
    """
    at, end, name, found = 0, len(lines), "", None
    for step, number in steps:
        name = f"{name}.{step}" if name else step
        headers = [n for n in range(at, end) if _header(lines[n]) == name]
        if not headers:
            return _key_line(step, at, end, lines) or found
        if number > len(headers):
            return found
        at = headers[max(number - 1, 0)]
        end = next((n for n in range(at + 1, end) if not _is_below(_header(lines[n]), name)), end)
        found = at + 1
    return found


def _key_line(key: str, at: int, end: int, lines: Sequence[str]) -> int | None:
    """Give the line of a key in the part of a table before its next header."""
    start = at + 1 if _header(lines[at]) else at
    own = next((n for n in range(start, end) if _header(lines[n])), end)
    is_key = re.compile(rf'\s*"?{re.escape(key)}"?\s*[=.]')
    return next((n + 1 for n in range(start, own) if is_key.match(lines[n])), None)


def _header(line: str) -> str:
    found = _HEADER.match(line)
    return re.sub(r"\s", "", found[1]) if found else ""


def _is_below(header: str, name: str) -> bool:
    """Tell whether a line belongs to a table: no header, or that of a table inside it."""
    return not header or header.startswith(f"{name}.")
