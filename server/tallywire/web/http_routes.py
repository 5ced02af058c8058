"""The routes that answer once: health, the newest frame of a view, and the journal as a recording."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import orjson
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from tallywire.core.errors import NotAllowed, TallywireError
from tallywire.shell.live import LiveCompetition
from tallywire.wire.recording import recording_line
from tallywire.wire.session import check_view

_LINES_A_PIECE = 500


class HttpRoutes:
    """The HTTP endpoints of a live competition."""

    def __init__(self, live: LiveCompetition) -> None:
        self._live = live

    async def health(self, _request: Request) -> Response:
        """Say that the server runs, and how much it has."""
        live = self._live
        return _json(
            {
                "status": "ok",
                "mode": live.mode,
                "journal": {"lines": live.lines},
                "clients": live.clients,
                "heat": live.books.floor,
            }
        )

    async def snapshot(self, request: Request) -> Response:
        """Give the newest frame of a view once; the table's view to whoever has a key of the table or of a lane."""
        view, heat = request.path_params["view"], request.query_params.get("heat", "floor")
        try:
            check_view(view, heat, terms=self._live.terms, role=self._role_of(request))
        except NotAllowed:
            return _unauthorised("found no key of the table or of a lane")
        except TallywireError as exc:
            return _json(exc.as_data(), status=404)
        await self._live.prepared(view, heat)
        return Response(self._live.fan_out.newest(view, heat).channel.snapshot(), media_type="application/json")

    async def recording(self, request: Request) -> Response:
        """Give the journal as a recording to whoever has the table's key."""
        if self._role_of(request) != "table":
            return _unauthorised("found no key of the table")
        return StreamingResponse(self._lines(), media_type="application/x-ndjson")

    def _role_of(self, request: Request) -> str:
        """Whose key the request carries; a viewer has none."""
        scheme, _, key = request.headers.get("authorization", "").partition(" ")
        keys, given = self._live.keys, key.strip()
        if scheme.lower() != "bearer":
            return "viewer"
        if keys.opens("table", None, given):
            return "table"
        return "lane" if any(keys.opens("lane", lane, given) for lane in keys.lanes) else "viewer"

    def _lines(self) -> Iterator[bytes]:
        # Up to what is acknowledged now; starlette runs this off the event loop, a piece at a time.
        lines = islice(self._live.journal.read(), self._live.lines)
        while piece := list(islice(lines, _LINES_A_PIECE)):
            yield b"".join(recording_line(line.body, line.refusal) for line in piece)


def _unauthorised(found: str) -> Response:
    error = NotAllowed(f"{found}, expected the header Authorization: Bearer KEY")
    # RFC 6750 §3: the challenge names the scheme.
    return _json(error.as_data(), status=401, headers={"WWW-Authenticate": "Bearer"})


def _json(data: object, *, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    return Response(orjson.dumps(data), status_code=status, media_type="application/json", headers=headers)
