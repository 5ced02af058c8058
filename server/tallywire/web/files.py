"""The files that pages are made of, in memory: none of them waits for a disk."""

from __future__ import annotations

import mimetypes
from collections.abc import Mapping
from functools import cached_property
from gzip import compress
from hashlib import sha256
from pathlib import Path

from starlette.datastructures import URL, Headers
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response
from starlette.types import Receive, Scope, Send
from starlette.websockets import WebSocketClose

from tallywire.web.answers import kept_answer

# Otherwise the machine's own table decides, and some machines call scripts text/plain, which browsers refuse.
_TYPES = {
    ".js": "text/javascript",
    ".map": "application/json",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".woff2": "font/woff2",
}
_PACKED_TYPES = (".js", ".map", ".css", ".svg", ".html", ".txt")
_METHODS = ("GET", "HEAD")


class File:
    """One file: its bytes, plain and compressed when somebody first asks for it, and their SHA-256 in hex digits."""

    def __init__(self, name: str, body: bytes) -> None:
        self.body = body
        self.digest = sha256(body).hexdigest()
        self._name = name

    @cached_property
    def _packed(self) -> bytes | None:
        return compress(self.body, 6, mtime=0) if self._name.endswith(_PACKED_TYPES) else None

    @cached_property
    def _media(self) -> str:
        suffix = Path(self._name).suffix
        return _TYPES.get(suffix) or mimetypes.types_map.get(suffix, "application/octet-stream")

    def answer(self, asked: Headers, headers: Mapping[str, str] | None = None) -> Response:
        """Answer a request with these headers with the file."""
        return kept_answer(self.digest[:16], self.body, self._packed, asked=asked, media=self._media, headers=headers)


class Files:
    """Files by their paths; as an application it gives them."""

    def __init__(self, files: Mapping[str, File]) -> None:
        self._files = files

    def digests(self) -> dict[str, str]:
        """Give the digest of each file by its path."""
        return {name: file.digest for name, file in self._files.items()}

    def body(self, name: str) -> bytes | None:
        """Give a file as it is; None where there is none."""
        found = self._files.get(name)
        return None if found is None else found.body

    def text(self, name: str) -> str | None:
        """Give the text of a file; None where there is none."""
        found = self.body(name)
        return None if found is None else found.decode()

    def with_text(self, old: bytes, new: bytes) -> Files:
        """Give the files with `new` wherever `old` stands in a script."""
        having = [name for name, file in self._files.items() if name.endswith(".js") and old in file.body]
        written = {name: File(name, self._files[name].body.replace(old, new)) for name in having}
        return Files({**self._files, **written})

    def below(self, folder: str) -> Files:
        """Give the files of a folder by their paths in it."""
        start = f"{folder}/"
        return Files({name.removeprefix(start): file for name, file in self._files.items() if name.startswith(start)})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Give the file of the address, of which a folder's own leads to the page in it. Raises HTTPException."""
        answer = WebSocketClose() if scope["type"] == "websocket" else self._answer(scope)
        await answer(scope, receive, send)

    def _answer(self, scope: Scope) -> Response:
        if scope["method"] not in _METHODS:
            raise HTTPException(405, headers={"Allow": ", ".join(_METHODS)})
        name = scope["path"].removeprefix(scope.get("root_path", "")).removeprefix("/")
        found = self._files.get(name)
        if found is not None:
            return found.answer(Headers(scope=scope))
        if f"{name}/index.html" in self._files:
            url = URL(scope=scope)
            return RedirectResponse(url.replace(path=f"{url.path}/"))
        raise HTTPException(404)
