"""The pages in their languages, and the program that they are together: its digest, and the worker that keeps it.

A page as it is served links one style sheet, of all that its file links, and one script, of all its modules.
"""

from __future__ import annotations

import hashlib
import posixpath
import re
from collections.abc import Collection
from pathlib import Path

import orjson
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from tallywire.web.files import File, Files
from tallywire.web.joined import Modules
from tallywire.web.sheets import WHOLE, joined, sheets_of, with_one_sheet
from tallywire.wire.catalogue import LANGUAGES, catalogue, catalogue_texts, filled, script

HEADER = "Tallywire-Pages"
"""Every page and part of one says in this header which program it is of."""
WORKER_PATH, WORDS_PATH = "/worker.js", "/languages/{language}.js"
SCRIPT = "joined.js"
"""The name of the one script, in the page's folder, and with .map that of its source map."""
_KEPT = ("desk", "home", "pad", "practice", "table")
"""The folders of the pages that open without the network."""
_INDEX, _NO_DIGEST = "/index.html", b'PAGES = /** @type {string} */ ("")'
_MODULE = re.compile(r'<script type="module" src="([^"]+)"></script>')
_NAMED = re.compile(r'(?:href|src)="([^"{]+)"|url\("([^"]+)"\)')
_SHEET = '<link rel="stylesheet" href="../shared/fonts.css" />'
_FACE = (
    '<link rel="preload" href="../shared/fonts/asap-latin-wdth-normal.woff2" as="font" type="font/woff2" crossorigin />'
)


def page_files(folder: Path) -> Files:
    """Read the pages and what they are made of, and join the style sheets and the modules of each. Raises BadFile."""
    paths = (path for path in sorted(folder.rglob("*")) if path.is_file())
    bodies = {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}
    # As a browser reads them (Encoding Standard, UTF-8 decode): what is no UTF-8 gets lost, not the page.
    modules = Modules({name: body.decode(errors="replace") for name, body in bodies.items() if name.endswith(".js")})
    for page in [name.removesuffix(_INDEX) for name in bodies if name.endswith(_INDEX)]:
        text = bodies[f"{page}{_INDEX}"].decode()
        sheets = sheets_of(text)
        if sheets:
            bodies[f"{page}/{WHOLE}"] = joined(page, sheets, bodies).encode()
        bodies |= _script_of(page, text, modules)
    return Files({name: File(name, body) for name, body in bodies.items()})


def _script_of(page: str, text: str, modules: Modules) -> dict[str, bytes]:
    """Give a page's one script and its source map by their paths; nothing for a page without modules."""
    scripts = [_beside(page, each) for each in _MODULE.findall(text)]
    if not scripts:
        return {}
    # Those before the last one run before it has come, so they stay.
    found, path = modules.joined(scripts[-1], scripts[:-1]), f"{page}/{SCRIPT}"
    return {
        path: f"{found.text}//# sourceMappingURL={SCRIPT}.map\n".encode(),
        f"{path}.map": found.source_map.encode(),
    }


def digest_of(files: Files) -> str:
    """Give the digest of a program (SHA-256, 16 hex digits): it changes with any byte of any file, and any name."""
    whole = hashlib.sha256()
    for each in files.digests().items():
        whole.update(orjson.dumps(each))
    # The files of the words, not what they say: to read all languages takes as long as the rest of a start.
    whole.update(orjson.dumps([catalogue_texts(language) for language in LANGUAGES]))
    return whole.hexdigest()[:16]


def one_of_each(text: str) -> str:
    """Give a page with one style sheet and one script in the place of those that its file names.

    It names the typeface too, which would otherwise come only when everything has been laid out without it.
    """
    head, mark, last = with_one_sheet(text.replace(_SHEET, f"{_FACE}{_SHEET}")).rpartition('<script type="module"')
    return head + re.sub(r'src="[^"]+"', f'src="./{SCRIPT}"', mark + last, count=1) if mark else last


class WrittenPages:
    """The index.html of each folder, with the words of a language in it; read once, at the start."""

    def __init__(self, files: Files) -> None:
        pages = [name.removesuffix(_INDEX) for name in files.digests() if name.endswith(_INDEX)]
        self._texts = {page: one_of_each(files.text(f"{page}{_INDEX}") or "") for page in pages}

    def page(self, path: str, language: str) -> str | None:
        """Give the page at /folder/ or /folder/index.html; None where there is none."""
        found = self._texts.get(path.removesuffix("index.html").strip("/"))
        return None if found is None or not path.endswith(("/", "/index.html")) else filled(found, catalogue(language))


def _beside(page: str, name: str) -> str:
    return posixpath.normpath(f"{page}/{name}")


class Program:
    """The pages of a folder as one program; read once, at the start. Its `files` say which one, by its `digest`."""

    def __init__(self, files: Files) -> None:
        self.digest = digest_of(files)
        self.files = files.with_text(_NO_DIGEST, f'PAGES = "{self.digest}"'.encode())
        words = [WORDS_PATH.format(language=each) for each in LANGUAGES]
        self._kept = [*(f"/{name}" for name in needed_by(_KEPT, files)), *words]
        self._worker = files.text(WORKER_PATH[1:]) or ""
        self._words: dict[str, File] = {}

    async def worker(self, _request: Request) -> Response:
        """Give the service worker that keeps the program: other pages make another worker, which browsers notice."""
        program = orjson.dumps({"digest": self.digest, "files": self._kept}).decode()
        text = f"globalThis.PAGES = {program};\n{self._worker}"
        return Response(text, media_type="text/javascript", headers={HEADER: self.digest})

    async def words(self, request: Request) -> Response:
        """Give a language's words as the script that pages load first."""
        language = request.path_params["language"]
        if language not in LANGUAGES:
            raise HTTPException(404)
        if language not in self._words:
            self._words[language] = File(request.url.path, script(catalogue(language)).encode())
        return self._words[language].answer(request.headers, {HEADER: self.digest})


def needed_by(pages: Collection[str], files: Files) -> list[str]:
    """Name the files that pages, and their style sheets, name."""
    found, there = dict[str, None](), files.digests()
    for page in pages:
        text = one_of_each(files.text(f"{page}{_INDEX}") or "") + (files.text(f"{page}/{WHOLE}") or "")
        found |= {_beside(page, one or other): None for one, other in _NAMED.findall(text)}
    return [name for name in found if name in there]
