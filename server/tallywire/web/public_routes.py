"""The routes below /public/: the public feed and the spectator page, made so that any HTTP cache can give them.

Nothing here depends on who asks: no key, no cookie, no query. Caching is said as RFC 9111 has it, with the extensions
of RFC 5861 (stale-while-revalidate, stale-if-error) and RFC 8246 (immutable).
"""

from __future__ import annotations

import asyncio
import mimetypes
from collections.abc import Mapping
from functools import partial
from threading import Lock

from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.model.competition import Competition
from tallywire.shell.public_feed import Piece, PublicFeed
from tallywire.web.answers import kept_answer, problem
from tallywire.web.files import Files
from tallywire.web.spectator_files import SpectatorFiles
from tallywire.wire.catalogue import LANGUAGES

NEWEST_CACHE = "public, max-age=0, s-maxage=1, stale-while-revalidate=1, stale-if-error=60"
"""For a shared cache the list is good for a second; one that cannot reach its server keeps the last for a minute.
A browser, which asks once a second, must not show the answer before."""
SEGMENT_CACHE = "public, max-age=86400, immutable"
PAGE_CACHE = "public, max-age=30, stale-while-revalidate=600, stale-if-error=86400"
FILE_CACHE = "public, max-age=31536000, immutable"
_NEVER = {"Cache-Control": "no-store"}
_WAIT = {"Retry-After": "2", **_NEVER}
_PACKED_TYPES = (".js", ".css", ".svg")


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
    """The spectator page in each language, and its files. At the bare address it is in the competition's language.

    They are made on a thread of their own when somebody first asks for them: all languages are read and everything is
    packed, which would take a start half as long again.
    """

    def __init__(self, files: Files, competition: Competition) -> None:
        self._make = partial(SpectatorFiles, files, competition)
        self._one = Lock()
        self._made: SpectatorFiles | None = None

    async def made(self) -> SpectatorFiles:
        """Give the pages and files."""
        if self._made is None:
            return await asyncio.to_thread(self.make)
        return self._made

    def make(self) -> SpectatorFiles:
        """Make them, unless they are made, and give them. Blocks."""
        with self._one:
            if self._made is None:
                self._made = self._make()
            return self._made

    async def page(self, request: Request) -> Response:
        """Give the spectator page, in the competition's language."""
        return _given((await self.made()).pages[""], request, PAGE_CACHE, "text/html")

    async def page_in(self, request: Request) -> Response:
        """Give the spectator page in a language."""
        found = (await self.made()).pages.get(request.path_params["language"])
        if found is None:
            text = f"found no such page, expected one of {', '.join(LANGUAGES)}"
            return problem("not_found", text, status=404, headers=_NEVER)
        return _given(found, request, PAGE_CACHE, "text/html")

    async def file(self, request: Request) -> Response:
        """Give a file of the spectator page, by the digest of all of them."""
        name = request.path_params["name"]
        piece = (await self.made()).file(request.path_params["digest"], name)
        if piece is None:
            text = "found no such file of this program, expected one that the page names: load it again"
            return problem("not_found", text, status=404, headers=_NEVER)
        kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
        return _given(piece, request, FILE_CACHE, kind, packs=name.endswith(_PACKED_TYPES))


def _given(piece: Piece, request: Request, cache: str, media: str, *, packs: bool = True) -> Response:
    packed = piece.packed if packs else None
    said = {"Cache-Control": cache}
    return kept_answer(piece.name, piece.body, packed, asked=request.headers, media=media, headers=said)
