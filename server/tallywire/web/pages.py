"""The pages as files, and a plain page that lists them."""

from __future__ import annotations

import mimetypes
import re
from html import escape, unescape
from pathlib import Path

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.staticfiles import StaticFiles

_TITLE = re.compile(r"<title>([^<]*)</title>")
# Otherwise the machine's own table decides, and some machines call scripts text/plain, which browsers refuse.
_TYPES = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml", ".woff2": "font/woff2"}


def page_files(folder: Path) -> StaticFiles:
    """Serve the folder's files; a folder's `index.html` stands for the folder."""
    for suffix, kind in _TYPES.items():
        mimetypes.add_type(kind, suffix)
    return StaticFiles(directory=folder, html=True)


class Contents:
    """The endpoint `/`: links to every folder that has an `index.html`, by its title."""

    def __init__(self, folder: Path, *, competition: str) -> None:
        self._folder = folder
        self._competition = competition

    async def show(self, _request: Request) -> Response:
        """Give the list."""
        links = "\n".join(f'<li><a href="{escape(name)}/">{escape(title)}</a></li>' for name, title in self._titles())
        name = escape(self._competition)
        head = f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{name}</title></head>'
        return HTMLResponse(f"{head}\n<body><h1>{name}</h1>\n<ul>\n{links}\n</ul></body></html>\n")

    def _titles(self) -> list[tuple[str, str]]:
        pages = sorted(self._folder.glob("*/index.html"))
        return [(page.parent.name, _title(page)) for page in pages]


def _title(page: Path) -> str:
    found = _TITLE.search(page.read_text(encoding="utf-8"))
    return unescape(found[1]) if found else page.parent.name
