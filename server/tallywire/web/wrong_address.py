"""Addresses that cannot be right: a lane that does not exist, an unknown heat or output, a missing page.

Somebody who opens one gets a page that says what is wrong and what to do. The key is in the fragment, which never comes
to the server: the page itself says whether it fits.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from hashlib import sha256
from html import escape

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Message, Receive, Scope, Send

from tallywire.core.fold.floor import FLOOR, floor_of
from tallywire.core.model.competition import Competition
from tallywire.core.show.catalogue import CATALOGUE
from tallywire.web.pages import HEADER, WrittenPages
from tallywire.wire.catalogue import LANGUAGES
from tallywire.wire.problems import shown

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Wrong address</title><link rel="stylesheet" href="/shared/wrong.css"></head>
<body><main><h1>This address is not right</h1>
<p>{wrong}</p><p>{remedy}</p><p><a href="/home/">Home</a></p></main></body></html>
"""
_VIEW = re.compile("[a-z][a-z-]*")
_SLIP = "Scan the QR code of your slip again, or type its six letters on the home page."


class Pages:
    """The pages, for addresses that can be right."""

    def __init__(self, files: StaticFiles, written: WrittenPages, competition: Competition, *, digest: str) -> None:
        self._files = files
        self._written = written
        self._digest = digest
        self._competition = competition

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Give the page, or say what is wrong; and which program the page is of."""

        async def send_with_digest(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message)[HEADER] = self._digest
            await send(message)

        await self._give(scope, receive, send_with_digest)

    async def _give(self, scope: Scope, receive: Receive, send: Send) -> None:
        path, query = scope["path"], QueryParams(scope.get("query_string", b"").decode("latin-1"))
        wrong = self._wrong(path, query) if path.endswith("/") else None
        if wrong is not None:
            await wrong_page(*wrong)(scope, receive, send)
            return
        page = self._written.page(path, language_of(path, query, self._competition))
        if page is not None:
            await _answer(page, Headers(scope=scope))(scope, receive, send)
            return
        try:
            await self._files(scope, receive, send)
        except HTTPException as exc:
            if exc.status_code != 404 or "." in path.rpartition("/")[2]:
                raise
            await wrong_page(f"There is no page {shown(path)} on this server.", _SLIP)(scope, receive, send)

    def _wrong(self, path: str, query: Mapping[str, str]) -> tuple[str, str] | None:
        """Say what is wrong with the address of a page; an on-air view is right when there is a file of its name."""
        view = query.get("view")
        if path == "/air/" and view is not None:
            there = _VIEW.fullmatch(view) and self._files.lookup_path(f"air/views/{view}.js")[1]
            if not there:
                return f"It names view {shown(view)}, which there is not.", _known("views", CATALOGUE)
        return fault(path, query, self._competition)


def language_of(path: str, query: Mapping[str, str], competition: Competition) -> str:
    """Give the language of a page: what its address says, else its output's, else the competition's."""
    output = competition.outputs.get(query.get("output", "")) if path.startswith("/air/") else None
    asked = query.get("lang")
    return asked if asked in LANGUAGES else (output and output.language) or competition.language


def _answer(page: str, headers: Headers) -> Response:
    """Answer with a page; 304 for those who have it (RFC 9110 §13.1.2)."""
    tag = f'W/"{sha256(page.encode()).hexdigest()[:16]}"'
    if tag in headers.get("if-none-match", ""):
        return Response(status_code=304, headers={"ETag": tag})
    return HTMLResponse(page, headers={"ETag": tag})


def fault(path: str, query: Mapping[str, str], competition: Competition) -> tuple[str, str] | None:
    """Say what is wrong with the address of a page, and what to do; None when nothing is wrong."""
    lang, floor = query.get("lang"), query.get("floor")
    if lang is not None and lang not in LANGUAGES:
        return f"It names language {shown(lang)}, which there is not.", _known("languages", dict.fromkeys(LANGUAGES))
    if floor is not None and floor not in competition.floors:
        return f"It names floor {shown(floor)}, which this competition does not have.", _floors(competition)
    if path == "/pad/":
        wrong = _pad_fault(query.get("lane"), floor, competition)
        if wrong is not None:
            return wrong, _SLIP
    heat, output = query.get("heat", FLOOR), query.get("output")
    if floor_of(heat, competition) is None:
        return f"It names heat {shown(heat)}, which this competition does not have.", _known("heats", competition.heats)
    if path in ("/air/", "/desk/") and output is not None and output not in competition.outputs:
        known = _known("outputs", competition.outputs)
        return f"It names output {shown(output)}, which this competition does not have.", known
    return None


def _pad_fault(lane: str | None, floor: str | None, competition: Competition) -> str | None:
    if competition.floors and floor is None:
        return "It names no floor."
    lanes = [str(each) for each in competition.lanes_of(floor or "")]
    if lane in lanes:
        return None
    found = "It names no lane." if lane is None else f"It names lane {shown(lane)}."
    where = "This competition" if floor is None else competition.floors[floor].name
    return f"{found} {where} has lanes {', '.join(lanes)}."


def _floors(competition: Competition) -> str:
    return _known("floors", competition.floors) if competition.floors else "It has one floor: take that part away."


def wrong_page(wrong: str, remedy: str) -> HTMLResponse:
    """Give the page."""
    return HTMLResponse(_PAGE.format(wrong=escape(wrong), remedy=escape(remedy)), status_code=404)


def _known(what: str, names: Mapping[str, object]) -> str:
    some = list(names)[:40]
    return f"The {what} are {', '.join(some)}{' …' if len(names) > len(some) else ''}: change the address."
