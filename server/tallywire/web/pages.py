"""The pages in their languages, and the program that they are together: its digest, and the worker that keeps it."""

from __future__ import annotations

import hashlib
from pathlib import Path

import orjson
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from tallywire.web.files import File, Files
from tallywire.web.modules import imported, preloads
from tallywire.web.sheets import WHOLE, joined, sheets_of, with_one_sheet
from tallywire.wire.catalogue import LANGUAGES, catalogue, catalogue_texts, filled, script

HEADER = "Tallywire-Pages"
"""Every page and part of one says in this header which program it is of."""
VERSION_PATH, WORKER_PATH, WORDS_PATH = "/shared/version.js", "/worker.js", "/languages/{language}.js"
_KEPT = ("booth", "desk", "formats", "home", "pad", "practice", "shared", "spotter", "table")
"""The folders of the pages that open without the network, and of what they are made of."""
_INDEX, _MODULE = "/index.html", '<script type="module"'
_SHEET = '<link rel="stylesheet" href="../shared/fonts.css" />'
_FACE = (
    '<link rel="preload" href="../shared/fonts/asap-latin-wdth-normal.woff2" as="font" type="font/woff2" crossorigin />'
)


def page_files(folder: Path) -> Files:
    """Read the pages and what they are made of; the style sheets of each page are one of them."""
    paths = (path for path in sorted(folder.rglob("*")) if path.is_file())
    bodies = {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}
    for page in [name.removesuffix(_INDEX) for name in bodies if name.endswith(_INDEX)]:
        sheets = sheets_of(bodies[f"{page}{_INDEX}"].decode())
        if sheets:
            bodies[f"{page}/{WHOLE}"] = joined(page, sheets, bodies).encode()
    return Files({name: File(name, body) for name, body in bodies.items()})


class WrittenPages:
    """The index.html of each folder, with the words of a language in it; read once, at the start."""

    def __init__(self, files: Files) -> None:
        pages = [name.removesuffix(_INDEX) for name in files.digests() if name.endswith(_INDEX)]
        self._texts = {page: _naming_all(page, files) for page in pages}

    def page(self, path: str, language: str) -> str | None:
        """Give the page at /folder/ or /folder/index.html; None where there is none."""
        found = self._texts.get(path.removesuffix("index.html").strip("/"))
        return None if found is None or not path.endswith(("/", "/index.html")) else filled(found, catalogue(language))


def _naming_all(page: str, files: Files) -> str:
    """Give a page that names all its modules, before the first of them has come and says what it imports.

    It names the typeface too, which would otherwise come only when everything has been laid out without it.
    """
    text = (files.text(f"{page}{_INDEX}") or "").replace(_SHEET, f"{_FACE}{_SHEET}")
    head, mark, rest = with_one_sheet(text).partition(_MODULE)
    return head + preloads([f"../{each}" for each in imported(f"{page}/{page}.js", files.text)]) + mark + rest


class Program:
    """The pages of a folder as one program; read once, at the start.

    `digest` (SHA-256, 16 hex digits) changes with any byte of any file, those of the words too, and with any name.
    """

    def __init__(self, files: Files) -> None:
        digests = files.digests()
        whole = hashlib.sha256()
        for each in digests.items():
            whole.update(orjson.dumps(each))
        # The files of the words, not what they say: to read all languages takes as long as the rest of a start.
        whole.update(orjson.dumps([catalogue_texts(language) for language in LANGUAGES]))
        self.digest = whole.hexdigest()[:16]
        kept = [f"/{name}" for name in digests if name.startswith(tuple(f"{each}/" for each in _KEPT))]
        words = [WORDS_PATH.format(language=each) for each in LANGUAGES]
        self._kept = [*(name for name in kept if not name.endswith((".html", ".txt"))), *words]
        self._worker = files.text(WORKER_PATH[1:]) or ""
        self._words: dict[str, File] = {}

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
        if language not in self._words:
            self._words[language] = File(request.url.path, script(catalogue(language)).encode())
        return self._words[language].answer(request.headers, {HEADER: self.digest})

    def _script(self, text: str) -> Response:
        return Response(text, media_type="text/javascript", headers={HEADER: self.digest})
