"""pydantic's findings as our own problems: the path inside the file or message, what was found, what was expected."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, time
from typing import Any

from pydantic import ValidationError

from tallywire.core.errors import Problem
from tallywire.formats.table_base import COLOUR_SHAPE, FLOOR_SHAPE, ID_SHAPE, LANE_SHAPE

REQUIRED = "a value: this field is required"
_SHOWN = 60
_ID = "letters, digits and {marks} alone, a letter or a digit first, {most} at most"
_SHAPES = {
    ID_SHAPE: _ID.format(marks=". _ : -", most=64),
    FLOOR_SHAPE: _ID.format(marks="_ -", most=32),
    LANE_SHAPE: "a lane from 1 to 99",
    COLOUR_SHAPE: 'a colour such as "#1c2a3a"',
}
"""What is asked of a text with one of our own patterns, in words."""
_WORDS = {
    "string_type": "text",
    "string_too_short": "text that is not empty",
    "string_too_long": "at most {max_length} characters",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a number that is not infinite",
    "bool_type": "true or false",
    "list_type": "a list",
    "dict_type": "a table of names and values",
    "model_type": "a table of names and values",
    "greater_than": "more than {gt}",
    "greater_than_equal": "at least {ge}",
    "less_than": "less than {lt}",
    "less_than_equal": "at most {le}",
    "datetime_type": "a time without quotes, such as 2027-06-05T09:00:00+02:00",
    "timezone_aware": "a time with its offset from UTC, such as 2027-06-05T09:00:00+02:00",
    "too_short": "at least {min_length} of them",
    "too_long": "at most {max_length} of them",
}
"""What is expected, by the kind of pydantic's finding: its own words speak of schemas, strings and patterns."""


def problems_of(error: ValidationError, *, prefix: str = "") -> list[Problem]:
    """Give one problem for each thing pydantic found."""
    return [_problem(each, prefix) for each in error.errors(include_url=False)]


def shown(value: object) -> str:
    """Show a value in an error: text in quotes and without control characters, dates as they are written, no more than
    fits in a line."""
    quoted = f'"{"".join(map(_visible, value[:_SHOWN]))}"' if isinstance(value, str) else ""
    text = quoted or (str(value) if isinstance(value, date | time) else repr(value))
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 1]}…"


def _visible(letter: str) -> str:
    return letter if letter.isprintable() else f"\\u{ord(letter):04x}"


def path_text(parts: Iterable[object]) -> str:
    """Write a path as people read it, counting from 1: event.1.station.0 → event[2].station[1]."""
    text = ""
    for part in parts:
        if part == "[key]":
            # The name itself is wrong, which stands before it.
            continue
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else str(part)
    return text or "(the whole)"


def _problem(each: Any, prefix: str) -> Problem:
    kind, loc = each["type"], tuple(each["loc"])
    path = path_text((prefix, *loc) if prefix else loc)
    if kind == "missing":
        return Problem(path, "nothing", REQUIRED)
    if kind == "extra_forbidden":
        return Problem(path, f"an unknown field with {shown(each['input'])}", "only fields that are documented")
    found = shown(each["input"]) if not isinstance(each["input"], dict | list) else type(each["input"]).__name__
    return Problem(path, found, _expected(each))


def _expected(each: Any) -> str:
    # pydantic counts the letters of a text as it counts items, where a check of our own comes before the length.
    kind = "string_" if isinstance(each["input"], str) and each["type"] in ("too_short", "too_long") else ""
    words = _WORDS.get(kind + each["type"])
    if words is not None:
        said = {name: _plain(value) for name, value in each.get("ctx", {}).items()}
        return words.format(**said)
    if each["type"] == "string_pattern_mismatch":
        return _SHAPES.get(each["ctx"]["pattern"], f"text of the shape {each['ctx']['pattern']}")
    message = str(each["msg"])
    for opening in ("Input should be ", "Value error, "):
        message = message.removeprefix(opening)
    return message[:1].lower() + message[1:]


def _plain(value: object) -> object:
    return int(value) if isinstance(value, float) and value.is_integer() else value
