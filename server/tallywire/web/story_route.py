"""The route that tells the story of a heat to the table, the head judge and the server's own machine."""

from __future__ import annotations

import asyncio
from itertools import islice
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.errors import JournalFailed
from tallywire.core.fold.floor import FLOOR
from tallywire.shell.live import LiveCompetition
from tallywire.shell.told import crew_links, story_data, told_lines
from tallywire.web.answers import json_answer, problem
from tallywire.web.http_routes import role_name, unauthorised
from tallywire.wire.catalogue import Catalogue, catalogue, known_language
from tallywire.wire.problems import shown

_MAY = ("table", "head", "owner")


class StoryRoute:
    """The endpoint of the audit page."""

    def __init__(self, live: LiveCompetition) -> None:
        self._live = live

    async def told(self, request: Request) -> Response:
        """Tell the story of a heat: who did what, when and with which link."""
        if role_name(self._live, request) not in _MAY:
            return unauthorised("found no key of the table or of the head judge")
        heat = self._live.books.heat_of(request.query_params.get("heat", FLOOR))
        if heat not in self._live.competition.heats:
            return problem("unknown_heat", f"found heat {shown(heat)}, expected one of the competition", status=404)
        asked, own = request.query_params.get("lang"), self._live.competition.language
        words = catalogue(known_language(asked, own))
        links, upto = crew_links(self._live.crew.links.all(), self._live.competition, words), self._live.lines
        try:
            story = await asyncio.to_thread(self._story, heat, words, links, upto)
            return json_answer({"mode": self._live.mode, **story})
        except JournalFailed as exc:
            return json_answer(exc.as_data(), status=503)

    def _story(self, heat: str, words: Catalogue, links: Any, upto: int) -> dict[str, Any]:
        # Up to what is acknowledged now.
        lines = told_lines(islice(self._live.journal.read(), upto), heat)
        return story_data(self._live.competition, heat, lines, words, links)
