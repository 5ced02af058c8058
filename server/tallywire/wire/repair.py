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
_ROUNDS = 6


def repaired(model: type[M], data: dict[str, Any]) -> M | None:
    """Give the data with stand-ins for what is wrong, or None when too much is. Changes `data`."""
    for _ in range(_ROUNDS):
        try:
            return model.model_validate(data)
        except ValidationError as exc:
            for error in exc.errors(include_url=False):
                # A name that may not be there is taken away, as a field that is unknown is.
                wrong_name = error["loc"][-1:] == ("[key]",)
                loc, kind = (error["loc"][:-1], "extra_forbidden") if wrong_name else (error["loc"], error["type"])
                _mend(data, loc, kind, error.get("ctx", {}))
    return None


def knock_on(problem: Problem, damaged: Sequence[str]) -> bool:
    """Tell whether a problem only follows from a stand-in or from a place already named."""
    if STAND_IN in str(problem) or any(problem.path.startswith(path) for path in damaged):
        return True
    workouts = [path.removesuffix("format") for path in damaged if path.endswith(".workout.format")]
    return "the format" in problem.expected and any(problem.path.startswith(path) for path in workouts)


def _mend(data: Any, loc: tuple[int | str, ...], kind: str, bounds: dict[str, Any]) -> None:
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
    elif data.get(str(last)) == STAND_IN:
        # It is required, and it is no text.
        data[str(last)] = 1
    elif isinstance(last, str):
        bound = bounds.get("ge", bounds.get("le")) if kind.endswith("than_equal") and last not in _VALUES else None
        _stand_in(data, last, bound)


def _stand_in(data: dict[str, Any], name: str, bound: float | None) -> None:
    """Put what is surely right in the place of what is not: the `bound` that a number missed, where there is one."""
    if bound is not None:
        data[name] = bound
    elif name == "format":
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
