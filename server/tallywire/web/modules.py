"""What a page's module imports, and what that imports in turn: named in the page, all of it is loaded side by side."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable

_IMPORT = re.compile(r'^(?:import|\}) .*from "(\..+)";$', re.MULTILINE)


def imported(first: str, text_of: Callable[[str], str | None]) -> list[str]:
    """Name the modules that `first` needs; `text_of` gives the text of a module by its path, if it is there."""
    found, waiting = list[str](), [first]
    while waiting:
        name = waiting.pop()
        text = None if name in found else text_of(name)
        if text is not None:
            found.append(name)
            folder = posixpath.dirname(name)
            waiting += [posixpath.normpath(posixpath.join(folder, path)) for path in _IMPORT.findall(text)]
    return found[1:]


def preloads(addresses: list[str]) -> str:
    """Name modules at addresses in the head of a page (HTML Living Standard, link type `modulepreload`)."""
    return "".join(f'<link rel="modulepreload" href="{each}" />' for each in addresses)
