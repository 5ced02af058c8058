"""Addresses that cannot be right: a lane that does not exist, an unknown heat or output, a missing page.

Somebody who opens one gets a page that says what is wrong and what to do. The key is in the fragment, which never comes
to the server: the page itself says whether it fits.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from hashlib import sha256
from html import escape

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse
from starlette.types import Message, Receive, Scope, Send

from tallywire.core.fold.floor import FLOOR, floor_of
from tallywire.core.model.competition import Competition
from tallywire.core.show.catalogue import CATALOGUE
from tallywire.web.answers import kept_answer
from tallywire.web.files import Files
from tallywire.web.pages import HEADER, WrittenPages
from tallywire.wire.catalogue import LANGUAGES, Catalogue, catalogue, known_language
from tallywire.wire.problems import shown

_PAGE = """<!doctype html>
<html lang="{language}" dir="{direction}">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title><link rel="stylesheet" href="/shared/wrong.css"></head>
<body><main><h1>{head}</h1>
<p>{wrong}</p><p>{remedy}</p><p><a href="/home/">{home}</a></p></main></body></html>
"""
_VIEW = re.compile("[a-z][a-z-]*")


class Pages:
    """The pages, for addresses that can be right."""

    def __init__(self, files: Files, written: WrittenPages, competition: Competition, *, digest: str) -> None:
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
        language = language_of(path, query, self._competition)
        words = catalogue(language)
        wrong = self._wrong(path, query, words) if path.endswith("/") else None
        if wrong is not None:
            await wrong_page(*wrong, words)(scope, receive, send)
            return
        page = self._written.page(path, language)
        if page is not None:
            body, asked = page.encode(), Headers(scope=scope)
            answer = kept_answer(sha256(body).hexdigest()[:16], body, asked=asked, media="text/html")
            await answer(scope, receive, send)
            return
        try:
            await self._files(scope, receive, send)
        except HTTPException as exc:
            if exc.status_code != 404 or "." in path.rpartition("/")[2]:
                raise
            none = words.say("wrong.page", page=shown(path))
            await wrong_page(none, words.say("wrong.slip"), words)(scope, receive, send)

    def _wrong(self, path: str, query: Mapping[str, str], words: Catalogue) -> tuple[str, str] | None:
        """Say what is wrong with the address of a page; an on-air view is right when there is a file of its name."""
        view = query.get("view")
        if path == "/air/" and view is not None:
            there = _VIEW.fullmatch(view) and self._files.text(f"air/views/{view}.js")
            if not there:
                return words.say("wrong.view", found=shown(view)), _known("views", CATALOGUE, words)
        return fault(path, query, self._competition, words)


def language_of(path: str, query: Mapping[str, str], competition: Competition) -> str:
    """Give the language of a page: what its address says, else its output's, else the competition's."""
    output = competition.outputs.get(query.get("output", "")) if path.startswith("/air/") else None
    return known_language(query.get("lang"), (output and output.language) or competition.language)


def fault(path: str, query: Mapping[str, str], competition: Competition, words: Catalogue) -> tuple[str, str] | None:
    """Say what is wrong with the address of a page, and what to do; None when nothing is wrong."""
    lang, floor = query.get("lang"), query.get("floor")
    if lang is not None and lang not in LANGUAGES:
        return words.say("wrong.language", found=shown(lang)), _known("languages", LANGUAGES, words)
    if floor is not None and floor not in competition.floors:
        return words.say("wrong.floor", found=shown(floor)), _floors(competition, words)
    if path == "/pad/":
        wrong = _pad_fault(query.get("lane"), floor, competition, words)
        if wrong is not None:
            return wrong, words.say("wrong.slip")
    heat, output = query.get("heat", FLOOR), query.get("output")
    if floor_of(heat, competition) is None:
        return words.say("wrong.heat", found=shown(heat)), _known("heats", competition.heats, words)
    if path in ("/air/", "/desk/") and output is not None and output not in competition.outputs:
        return words.say("wrong.output", found=shown(output)), _known("outputs", competition.outputs, words)
    return None


def _pad_fault(lane: str | None, floor: str | None, competition: Competition, words: Catalogue) -> str | None:
    if competition.floors and floor is None:
        return words.say("wrong.no_floor")
    lanes = [str(each) for each in competition.lanes_of(floor or "")]
    if lane in lanes:
        return None
    where = words.say("wrong.competition") if floor is None else competition.floors[floor].name
    there = {"where": where, "lanes": ", ".join(lanes)}
    return words.say("wrong.no_lane", **there) if lane is None else words.say("wrong.lane", found=shown(lane), **there)


def _floors(competition: Competition, words: Catalogue) -> str:
    return _known("floors", competition.floors, words) if competition.floors else words.say("wrong.one_floor")


def wrong_page(wrong: str, remedy: str, words: Catalogue) -> HTMLResponse:
    """Give the page, in the language of its words."""
    said = {
        "title": words.say("wrong.title"),
        "head": words.say("wrong.head"),
        "home": words.say("page.home"),
        "wrong": wrong,
        "remedy": remedy,
        "language": words.language,
        "direction": words.direction,
    }
    return HTMLResponse(_PAGE.format_map({name: escape(text) for name, text in said.items()}), status_code=404)


def _known(what: str, names: Iterable[str], words: Catalogue) -> str:
    every = list(names)
    some = every[:40]
    return words.say(f"wrong.{what}", known=f"{', '.join(some)}{' …' if len(every) > len(some) else ''}")
