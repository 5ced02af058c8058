"""The pages as files, and the program that they are together: its digest, and the worker that keeps it on a device."""

from __future__ import annotations

import hashlib
import mimetypes
from pathlib import Path

import orjson
from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

HEADER = "Tallywire-Pages"
"""Every page and part of one says in this header which program it is of."""
VERSION_PATH, WORKER_PATH = "/shared/version.js", "/worker.js"
_KEPT = ("booth", "desk", "formats", "home", "pad", "shared", "spotter", "table")
"""The folders of the pages that open without the network, and of what they are made of."""
_SCRIPT = "text/javascript"
# Otherwise the machine's own table decides, and some machines call scripts text/plain, which browsers refuse.
_TYPES = {".js": _SCRIPT, ".css": "text/css", ".svg": "image/svg+xml", ".woff2": "font/woff2"}


def page_files(folder: Path) -> StaticFiles:
    """Serve the folder's files; a folder's `index.html` stands for the folder."""
    for suffix, kind in _TYPES.items():
        mimetypes.add_type(kind, suffix)
    return StaticFiles(directory=folder, html=True)


class Program:
    """The pages of a folder as one program; read once, at the start.

    `digest` (SHA-256, 16 hex digits) changes with any byte of any file and with any name.
    """

    def __init__(self, folder: Path) -> None:
        files = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*")) if path.is_file()}
        whole = hashlib.sha256()
        for name, path in files.items():
            whole.update(orjson.dumps([name, hashlib.sha256(path.read_bytes()).hexdigest()]))
        self.digest = whole.hexdigest()[:16]
        kept = [f"/{name}" for name in files if name.startswith(tuple(f"{each}/" for each in _KEPT))]
        self._kept = [name for name in kept if not name.endswith((".html", ".txt"))]
        worker = folder / WORKER_PATH[1:]
        self._worker = worker.read_text(encoding="utf-8") if worker.is_file() else ""

    async def version(self, _request: Request) -> Response:
        """Give the module that says which program the pages are."""
        return self._script(f'export const PAGES = "{self.digest}";\n')

    async def worker(self, _request: Request) -> Response:
        """Give the service worker that keeps the program: other pages make another worker, which browsers notice."""
        program = orjson.dumps({"digest": self.digest, "files": self._kept}).decode()
        return self._script(f"globalThis.PAGES = {program};\n{self._worker}")

    def _script(self, text: str) -> Response:
        return Response(text, media_type=_SCRIPT, headers={HEADER: self.digest})
