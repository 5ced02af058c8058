"""pydantic's findings as our own problems: the path inside the file or message, what was found, what was expected."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pydantic import ValidationError

from tallywire.core.errors import Problem

_SHOWN = 60


def problems_of(error: ValidationError, *, prefix: str = "") -> list[Problem]:
    """Give one problem for each thing pydantic found."""
    return [_problem(each, prefix) for each in error.errors(include_url=False)]


def shown(value: object) -> str:
    """Show a value in an error: quoted if text, cut when long."""
    text = f'"{value}"' if isinstance(value, str) else repr(value)
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 1]}…"


def path_text(parts: Iterable[object]) -> str:
    """Write a path as people read it, counting from 1: event.1.station.0 → event[2].station[1]."""
    text = ""
    for part in parts:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else str(part)
    return text or "(the whole)"


def _problem(each: Any, prefix: str) -> Problem:
    kind, loc = each["type"], tuple(each["loc"])
    path = path_text((prefix, *loc) if prefix else loc)
    if kind == "missing":
        return Problem(path, "nothing", "a value: this field is required")
    if kind == "extra_forbidden":
        return Problem(path, f"an unknown field with {shown(each['input'])}", "only the fields of the schema")
    found = shown(each["input"]) if not isinstance(each["input"], dict | list) else type(each["input"]).__name__
    return Problem(path, found, _expected(each))


def _expected(each: Any) -> str:
    message = str(each["msg"])
    for opening in ("Input should be ", "Value error, "):
        message = message.removeprefix(opening)
    return message[:1].lower() + message[1:]
