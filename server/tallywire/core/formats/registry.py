"""The formats there are, by the name used in the competition file. To add one, write its package and name it here.

The registry names the module that holds a `FORMAT`, and imports it when it is first asked for. So the core knows
formats by name alone, no import runs upward, and importing has no side effect.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module

from tallywire.core.formats.format import Format
from tallywire.core.model.workout import Workout

_MODULES = {
    "for_time": "tallywire.formats.for_time",
    "for_time_with_penalty": "tallywire.formats.for_time_with_penalty",
    "amrap": "tallywire.formats.amrap",
    "max_load": "tallywire.formats.max_load",
    "ladder": "tallywire.formats.ladder",
    "intervals": "tallywire.formats.intervals",
}
_loaded: dict[str, Format] = {}


def format_names() -> tuple[str, ...]:
    """Name every format, in the order in which they are listed to people."""
    return tuple(_MODULES)


def format_named(name: str) -> Format:
    """Give a format. Raises KeyError for a name that is none."""
    found = _loaded.get(name)
    if found is None:
        found = _loaded[name] = _load(name)
    return found


def format_of(workout: Workout) -> Format:
    """Give the format of a workout."""
    return format_named(workout.format)


def formats() -> tuple[Format, ...]:
    """Give every format."""
    return tuple(format_named(name) for name in _MODULES)


@contextmanager
def plugged(name: str, module: str) -> Iterator[Format]:
    """Plug in one more format until the block ends, as a test does. Raises ValueError for a name that is taken."""
    if name in _MODULES:
        raise ValueError(f"found the format {name} a second time, expected a name of its own")
    _MODULES[name] = module
    try:
        yield format_named(name)
    finally:
        del _MODULES[name]
        _loaded.pop(name, None)


def _load(name: str) -> Format:
    found = import_module(_MODULES[name]).FORMAT
    if not isinstance(found, Format) or found.name != name:
        raise TypeError(f"found {found!r} in {_MODULES[name]}, expected FORMAT = Format({name!r}, …)")
    return found
