"""The pages in their languages, and the program that they are together: its digest, and the worker that keeps it."""

from __future__ import annotations

import hashlib
import mimetypes
from pathlib import Path

import orjson
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

from tallywire.web.modules import imported, preloads
from tallywire.wire.catalogue import LANGUAGES, catalogue, catalogue_texts, filled, script

HEADER = "Tallywire-Pages"
"""Every page and part of one says in this header which program it is of."""
VERSION_PATH, WORKER_PATH, WORDS_PATH = "/shared/version.js", "/worker.js", "/languages/{language}.js"
_KEPT = ("booth", "desk", "formats", "home", "pad", "practice", "shared", "spotter", "table")
"""The folders of the pages that open without the network, and of what they are made of."""
_MODULE = '<script type="module"'
_SCRIPT = "text/javascript"
# Otherwise the machine's own table decides, and some machines call scripts text/plain, which browsers refuse.
_TYPES = {".js": _SCRIPT, ".css": "text/css", ".svg": "image/svg+xml", ".woff2": "font/woff2"}


def page_files(folder: Path) -> StaticFiles:
    """Serve the folder's files; a folder's `index.html` stands for the folder."""
    for suffix, kind in _TYPES.items():
        mimetypes.add_type(kind, suffix)
    return StaticFiles(directory=folder, html=True)


class WrittenPages:
    """The index.html of each folder, with the words of a language in it; read once, at the start."""

    def __init__(self, folder: Path) -> None:
        self._texts = {path.parent.name: _preloading(path, folder) for path in folder.glob("*/index.html")}

    def page(self, path: str, language: str) -> str | None:
        """Give the page at /folder/ or /folder/index.html; None where there is none."""
        found = self._texts.get(path.removesuffix("index.html").strip("/"))
        return None if found is None or not path.endswith(("/", "/index.html")) else filled(found, catalogue(language))


def _preloading(page: Path, folder: Path) -> str:
    """Give a page that names all its modules, before the first of them has come and says what it imports."""
    text, name = page.read_text(encoding="utf-8"), page.parent.name

    def text_of(path: str) -> str | None:
        file = folder / path
        return file.read_text(encoding="utf-8") if file.is_file() else None

    head, mark, rest = text.partition(_MODULE)
    return head + preloads([f"../{each}" for each in imported(f"{name}/{name}.js", text_of)]) + mark + rest


class Program:
    """The pages of a folder as one program; read once, at the start.

    `digest` (SHA-256, 16 hex digits) changes with any byte of any file, those of the words too, and with any name.
    """

    def __init__(self, folder: Path) -> None:
        files = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*")) if path.is_file()}
        whole = hashlib.sha256()
        for name, path in files.items():
            whole.update(orjson.dumps([name, hashlib.sha256(path.read_bytes()).hexdigest()]))
        # The files of the words, not what they say: to read all languages takes as long as the rest of a start.
        whole.update(orjson.dumps([catalogue_texts(language) for language in LANGUAGES]))
        self.digest = whole.hexdigest()[:16]
        kept = [f"/{name}" for name in files if name.startswith(tuple(f"{each}/" for each in _KEPT))]
        words = [WORDS_PATH.format(language=each) for each in LANGUAGES]
        self._kept = [*(name for name in kept if not name.endswith((".html", ".txt"))), *words]
        worker = folder / WORKER_PATH[1:]
        self._worker = worker.read_text(encoding="utf-8") if worker.is_file() else ""

    async def version(self, _request: Request) -> Response:
        """Give the module that says which program the pages are."""
        return self._script(f'export const PAGES = "{self.digest}";\n')

    async def worker(self, _request: Request) -> Response:
        """Give the service worker that keeps the program: other pages make another worker, which browsers notice."""
        program = orjson.dumps({"digest": self.digest, "files": self._kept}).decode()
        return self._script(f"globalThis.PAGES = {program};\n{self._worker}")

    async def words(self, request: Request) -> Response:
        """Give a language's words as the script that pages load first."""
        language = request.path_params["language"]
        if language not in LANGUAGES:
            raise HTTPException(404)
        return self._script(script(catalogue(language)))

    def _script(self, text: str) -> Response:
        return Response(text, media_type=_SCRIPT, headers={HEADER: self.digest})
