"""The style sheets of a page as one: each would be a request more, and nothing is drawn before the last of them."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Mapping

WHOLE = "whole.css"
"""The name of the one sheet, in the page's folder."""
_LINK = r'<link rel="stylesheet" href="(?!\.\./theme/)([^"]+)" />'
_ONE, _ROW = re.compile(_LINK), re.compile(rf"{_LINK}(?:\s*{_LINK})+")
_URL = re.compile(r'url\("([^"]+)"\)')


def sheets_of(page: str) -> list[str]:
    """Name the sheets that a page links one after the other, as it names them; none where it links one alone."""
    row = _ROW.search(page)
    return [] if row is None else _ONE.findall(row[0])


def with_one_sheet(page: str) -> str:
    """Give the page with one link in the place of those."""
    return _ROW.sub(f'<link rel="stylesheet" href="./{WHOLE}" />', page, count=1)


def joined(folder: str, names: Iterable[str], files: Mapping[str, bytes]) -> str:
    """Give the sheets in their order as one for a page in `folder`; what they name themselves is found from there."""
    return "".join(_found_from(folder, posixpath.normpath(f"{folder}/{name}"), files) for name in names)


def _found_from(folder: str, sheet: str, files: Mapping[str, bytes]) -> str:
    at = posixpath.relpath(posixpath.dirname(sheet), folder)
    return _URL.sub(lambda found: f'url("{posixpath.normpath(f"{at}/{found[1]}")}")', files[sheet].decode())
