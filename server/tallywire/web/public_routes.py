"""The routes below /public/: the public feed and the spectator page, made so that any HTTP cache can give them.

Nothing here depends on who asks: no key, no cookie, no query. Caching is said as RFC 9111 has it, with the extensions
of RFC 5861 (stale-while-revalidate, stale-if-error) and RFC 8246 (immutable).
"""

from __future__ import annotations

import mimetypes
import re
from collections.abc import Mapping
from gzip import compress
from hashlib import sha256
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.model.competition import Competition
from tallywire.core.model.theme import Theme
from tallywire.shell.public_feed import Piece, PublicFeed
from tallywire.web.answers import problem
from tallywire.web.modules import imported, preloads
from tallywire.web.theme import style_sheet
from tallywire.wire.catalogue import LANGUAGES, catalogue, filled, format_sections, script

NEWEST_CACHE = "public, max-age=0, s-maxage=1, stale-while-revalidate=1, stale-if-error=60"
"""For a shared cache the list is good for a second; one that cannot reach its server keeps the last for a minute.
A browser, which asks once a second, must not show the answer before."""
SEGMENT_CACHE = "public, max-age=86400, immutable"
PAGE_CACHE = "public, max-age=30, stale-while-revalidate=600, stale-if-error=86400"
FILE_CACHE = "public, max-age=31536000, immutable"
_NEVER = {"Cache-Control": "no-store"}
_WAIT = {"Retry-After": "2", **_NEVER}
_PAGE, _FOLDERS = "public", ("public", "shared", "formats")
_SECTIONS = ("shared", "result", "plain", "public")
"""The tables of the catalogues that the page needs, beside those of the formats."""
_PACKED_TYPES = (".js", ".css", ".svg")
_INDENT = re.compile(rb"^[ \t]+|^\n", re.MULTILINE)
_CSS_COMMENT = re.compile(rb"/\*.*?\*/", re.DOTALL)
_COMMENT_LINE = re.compile(rb"^\s*(?:/\*\*.*\*/|/\*\*.*|\*(?:[ /].*)?|//.*)$\n", re.MULTILINE)
"""Lines of a module that hold nothing but a comment: a third of what a phone would load."""


class PublicRoutes:
    """The endpoints of the feeds, one for each floor, in the order of the competition file."""

    def __init__(self, feeds: Mapping[str, PublicFeed]) -> None:
        self._feeds = feeds

    async def newest(self, request: Request) -> Response:
        """Give the name of the newest segment of the first floor, and what changed since."""
        return self._newest(request, next(iter(self._feeds.values())))

    async def newest_of(self, request: Request) -> Response:
        """Give the name of the newest segment of one of several floors, and what changed since."""
        feed = self._feeds.get(request.path_params["floor"])
        if feed is None:
            text = "found no such floor, expected one of the competition file"
            return problem("not_found", text, status=404, headers=_NEVER)
        return self._newest(request, feed)

    @staticmethod
    def _newest(request: Request, feed: PublicFeed) -> Response:
        piece = feed.newest()
        if piece is None:
            text = "found nothing that the public may see yet, expected the broadcast to begin: ask again"
            return problem("not_yet", text, status=503, headers=_WAIT)
        return _given(piece, request, NEWEST_CACHE, "application/json")

    async def segment(self, request: Request) -> Response:
        """Give a closed segment: a whole picture that never changes."""
        found = (feed.segment(request.path_params["name"]) for feed in self._feeds.values())
        piece = next((each for each in found if each is not None), None)
        if piece is None:
            text = "found no such segment, expected one that the newest list names"
            return problem("not_found", text, status=404, headers=_NEVER)
        return _given(piece, request, SEGMENT_CACHE, "application/json")


class PublicPage:
    """The spectator page. Its files stand under an address that changes with any byte of them, so they never go stale.

    The theme's sheet of the competition is one of them; a competition's own typeface is left out, for its size. So are
    the words, those of this page alone. The page stands in each language below its own address; at the bare one it is
    in the competition's, and its first script goes on to that of the browser where the competition lets it.
    """

    def __init__(self, folder: Path, competition: Competition) -> None:
        files = {path.relative_to(folder).as_posix(): path for path in _files_of(folder)}
        self._kept = {name: _piece(_short(name, path.read_bytes())) for name, path in files.items()}
        self._kept["theme/sheet.css"] = _piece(style_sheet(Theme(colours=competition.theme.colours)).encode())
        words = {each: script(catalogue(each), (*_SECTIONS, *format_sections())) for each in LANGUAGES}
        self._kept |= {f"languages/{each}.js": _piece(text.encode()) for each, text in words.items()}
        names = "".join(f"{name} {piece.name}\n" for name, piece in self._kept.items())
        self._digest = sha256(names.encode()).hexdigest()[:16]
        page = self._kept.pop(f"{_PAGE}/index.html", _piece(b"")).body.decode()
        choice = LANGUAGES if competition.spectators_choose else ()
        self._pages = {each: self._written(page, each, choice, base="../") for each in LANGUAGES}
        self._pages[""] = self._written(page, competition.language, choice, base="")

    def _written(self, page: str, language: str, choice: tuple[str, ...], *, base: str) -> Piece:
        """Write the page in a language; its files come from where they never change, which `base` leads to."""
        at = f"{base}at/{self._digest}"
        own = filled(page, catalogue(language), offered=choice)
        # As it stands the page works in its own folder too.
        own = own.replace('="../', f'="{at}/').replace('="./', f'="{at}/{_PAGE}/')
        early = preloads([f"{at}/{name}" for name in imported(f"{_PAGE}/{_PAGE}.js", self._text)])
        # Behind the script that asks for the first picture, which comes first of all.
        head, mark, rest = own.rpartition("<script ")
        return _piece(f"{head}{early}{mark}{rest}".encode())

    def _text(self, name: str) -> str | None:
        found = self._kept.get(name)
        return None if found is None else found.body.decode()

    async def page(self, request: Request) -> Response:
        """Give the spectator page, in the competition's language."""
        return _given(self._pages[""], request, PAGE_CACHE, "text/html")

    async def page_in(self, request: Request) -> Response:
        """Give the spectator page in a language."""
        found = self._pages.get(request.path_params["language"])
        if found is None:
            text = f"found no such page, expected one of {', '.join(LANGUAGES)}"
            return problem("not_found", text, status=404, headers=_NEVER)
        return _given(found, request, PAGE_CACHE, "text/html")

    async def file(self, request: Request) -> Response:
        """Give a file of the spectator page, by the digest of all of them."""
        name = request.path_params["name"]
        piece = self._kept.get(name) if request.path_params["digest"] == self._digest else None
        if piece is None:
            text = "found no such file of this program, expected one that the page names: load it again"
            return problem("not_found", text, status=404, headers=_NEVER)
        kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
        return _given(piece, request, FILE_CACHE, kind, packs=name.endswith(_PACKED_TYPES))


def _files_of(folder: Path) -> list[Path]:
    return [path for name in _FOLDERS for path in sorted((folder / name).glob("*.*")) if path.is_file()]


def _short(name: str, data: bytes) -> bytes:
    """Leave out what only those who read the source need: comments, and how far lines are indented."""
    if name.endswith(".js"):
        return _INDENT.sub(b"", _COMMENT_LINE.sub(b"", data))
    return _INDENT.sub(b"", _CSS_COMMENT.sub(b"", data)) if name.endswith(".css") else data


def _piece(data: bytes) -> Piece:
    return Piece(sha256(data).hexdigest()[:16], data, compress(data, 9, mtime=0))


def _given(piece: Piece, request: Request, cache: str, media: str, *, packs: bool = True) -> Response:
    """Answer with a piece, compressed for those who can read that; 304 for those who have it (RFC 9110 §13.1.2)."""
    packed = packs and "gzip" in request.headers.get("accept-encoding", "")
    tag = f'W/"{piece.name}"'
    headers = {"Cache-Control": cache, "ETag": tag} | ({"Vary": "Accept-Encoding"} if packs else {})
    if tag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    headers |= {"Content-Encoding": "gzip"} if packed else {}
    return Response(piece.packed if packed else piece.body, media_type=media, headers=headers)
