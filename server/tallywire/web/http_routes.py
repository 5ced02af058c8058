"""The routes that answer once: health, the newest frame of a view, and the journal as a recording."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from itertools import chain, islice

from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from tallywire.core.errors import JournalFailed, NotAllowed, TallywireError
from tallywire.core.model.competition import FloorLane
from tallywire.core.views.day import floors_data
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition
from tallywire.web.answers import json_answer
from tallywire.wire.recording import recording_line
from tallywire.wire.roles import Role
from tallywire.wire.session import VIEWER, seen_view, worded_view

_LINES_A_PIECE = 500


class HttpRoutes:
    """The HTTP endpoints of a live competition."""

    def __init__(self, live: LiveCompetition) -> None:
        self._live = live

    async def health(self, _request: Request) -> Response:
        """Say that the server runs, for which competition, and how much it has."""
        live, storage = self._live, self._live.storage
        more = {"epoch": storage.epoch, "behind_ms": storage.behind_ms}
        return json_answer(
            {
                "status": "ok",
                "mode": live.mode,
                "journal": {"lines": live.lines} | {name: value for name, value in more.items() if value is not None},
                "clients": live.clients,
                "heat": live.books.floor,
                **floors_data(live.competition, live.books.floors),
                "competition": live.competition.name,
                "outputs": list(live.competition.outputs),
            }
        )

    async def snapshot(self, request: Request) -> Response:
        """Give the newest frame of a view once; the table's view to whoever has a key of the table or of a lane."""
        view, heat = request.path_params["view"], request.query_params.get("heat", "floor")
        try:
            view = seen_by(self._live, request, view, heat)
        except NotAllowed:
            return unauthorised("found no key of the table or of a lane")
        except TallywireError as exc:
            return json_answer(exc.as_data(), status=404)
        await self._live.prepared(view, heat)
        return Response(self._live.fan_out.newest(view, heat).channel.snapshot(), media_type="application/json")

    async def recording(self, request: Request) -> Response:
        """Give the journal as a recording to whoever has the table's key."""
        if not manages(self._live, request):
            return unauthorised("found no key of the table")
        pieces = self._lines()
        try:
            # Before the answer begins: a journal that cannot be read is an error, not an empty recording.
            first = await asyncio.to_thread(next, pieces, b"")
        except JournalFailed as exc:
            return json_answer(exc.as_data(), status=503)
        return StreamingResponse(chain([first], pieces), media_type="application/x-ndjson")

    def _lines(self) -> Iterator[bytes]:
        # Up to what is acknowledged now; starlette runs this off the event loop, a piece at a time.
        lines = islice(self._live.journal.read(), self._live.lines)
        while piece := list(islice(lines, _LINES_A_PIECE)):
            yield b"".join(recording_line(line.body, line.refusal) for line in piece)


def seen_by(live: LiveCompetition, request: Request, view: str, heat: str) -> str:
    """Name what the request's key opens of a view, in the language that it asks for.

    Raises NotAllowed, or another TallywireError if there is none.
    """
    lane, floor = live.crew.links.lane_and_floor(key_of(request))
    place = None if lane is None else FloorLane(floor=floor, lane=lane)
    seen = seen_view(view, heat, terms=live.terms, role=role_name(live, request), place=place)
    return worded_view(seen, request.query_params.get("lang", ""), terms=live.terms)


def role_name(live: LiveCompetition, request: Request) -> str:
    """Name the role that the request's key opens; a viewer has no key."""
    role = _role_of(live.crew.links, request)
    return VIEWER if role is None else role.name


def manages(live: LiveCompetition, request: Request) -> bool:
    """Tell whether the request comes from the table, or from the server's own machine."""
    return link_manages(live.crew.links, request)


def link_manages(links: Links, request: Request) -> bool:
    """Tell the same by the links alone, before there is a competition."""
    role = _role_of(links, request)
    return role is not None and role.manages


def _role_of(links: Links, request: Request) -> Role | None:
    key = key_of(request)
    return links.role_of(key) if key else None


def key_of(request: Request) -> str:
    """Give the key that the request shows, empty when it shows none."""
    scheme, _, key = request.headers.get("authorization", "").partition(" ")
    return key.strip() if scheme.lower() == "bearer" else ""


def unauthorised(found: str) -> Response:
    """Answer that the request needs another key."""
    error = NotAllowed(f"{found}, expected the header Authorization: Bearer KEY")
    # RFC 6750 §3: the challenge names the scheme.
    return json_answer(error.as_data(), status=401, headers={"WWW-Authenticate": "Bearer"})
