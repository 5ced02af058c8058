"""Stand-ins for the wrong parts of a file, so that the checks between its tables can still run.

Without this an organiser would correct a misspelt format only to be told next about a lane given twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from tallywire.core.errors import Problem
from tallywire.core.formats.registry import formats
from tallywire.formats.format_file import FormatFile

M = TypeVar("M", bound=BaseModel)

STAND_IN = "stand-in"
"""Stands for a name that could not be read; a problem that it causes is not reported, nor that a name is none of those
among which it stands."""

_VALUES: dict[str, Any] = {"time_cap": "10:00", "amount": 1, "places": [0.0] * 1000, "rounds": 200}
_ROUNDS = 3


def repaired(model: type[M], data: dict[str, Any]) -> M | None:
    """Give the data with stand-ins for what is wrong, or None when too much is. Changes `data`."""
    for _ in range(_ROUNDS):
        try:
            return model.model_validate(data)
        except ValidationError as exc:
            for error in exc.errors(include_url=False):
                _mend(data, error["loc"], error["type"])
    return None


def knock_on(problem: Problem, damaged: Sequence[str]) -> bool:
    """Tell whether a problem only follows from a stand-in or from a place already named."""
    if STAND_IN in str(problem) or any(problem.path.startswith(path) for path in damaged):
        return True
    workouts = [path.removesuffix("format") for path in damaged if path.endswith(".workout.format")]
    return "the format" in problem.expected and any(problem.path.startswith(path) for path in workouts)


def _mend(data: Any, loc: tuple[int | str, ...], kind: str) -> None:
    # A wrong value in a list is mended with the whole list.
    named = max((at for at, part in enumerate(loc) if isinstance(part, str)), default=0)
    *way, last = loc[: named + 1]
    for part in way:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return
    if not isinstance(data, dict):
        return
    if kind == "extra_forbidden":
        data.pop(last, None)
    elif isinstance(last, str):
        _stand_in(data, last)


def _stand_in(data: dict[str, Any], name: str) -> None:
    if name == "format":
        data[name] = _undemanding_format()
    elif name in _VALUES:
        data[name] = _VALUES[name]
    elif name in data and name not in {"id", "name", "movement", "division", "event"}:
        del data[name]
    else:
        data[name] = STAND_IN


def _undemanding_format() -> str:
    """A format that accepts any mark and needs no field of its own, so that it causes no further problems."""
    files = {each.name: each.facet(FormatFile) for each in formats()}
    return next(name for name, file in files.items() if file.endless and file.field is None)
