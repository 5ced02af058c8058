"""The routes below /v1/: views for other systems, at addresses that stay."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.errors import BadMessage, NotAllowed, TallywireError
from tallywire.core.fold.floor import FLOOR, floor_name
from tallywire.core.model.competition import Competition
from tallywire.core.outlets.columns import ROW_KINDS
from tallywire.shell.live import LiveCompetition
from tallywire.shell.outlets import FOR_KEYS, Form, Outlets
from tallywire.web.answers import json_answer, problem
from tallywire.web.event_answer import LATER, EventAnswer
from tallywire.web.http_routes import key_of, role_name, seen_by, unauthorised
from tallywire.web.outlet_answer import given
from tallywire.web.polls import Polls
from tallywire.wire.problems import shown

FRAME_JSON: Form = "frame.json"
ROWS_JSON: Form = "rows.json"
ROWS_CSV: Form = "rows.csv"
FRAME_EVENTS: Form = "frame.events"
ROW_EVENTS: Form = "rows.events"
FORMS: tuple[Form, ...] = (FRAME_JSON, ROWS_JSON, ROWS_CSV, FRAME_EVENTS, ROW_EVENTS)


class OutletRoutes:
    """The endpoints of the outlets of a live competition."""

    def __init__(self, live: LiveCompetition, outlets: Outlets, polls: Polls) -> None:
        self._live = live
        self._outlets = outlets
        self._polls = polls
        self._for_all: set[tuple[str, str]] = set()

    async def index(self, _request: Request) -> Response:
        """Say which heats, views and forms there are, and how their addresses are made."""
        return json_answer(index_data(self._live.competition, self._live.mode))

    async def frame(self, request: Request) -> Response:
        """Give the newest frame of a view, as docs/frames.md has it."""
        return await self._answer(request, FRAME_JSON)

    async def rows(self, request: Request) -> Response:
        """Give the newest frame as flat rows: a list of objects that all have the same fields."""
        return await self._answer(request, ROWS_JSON)

    async def csv(self, request: Request) -> Response:
        """Give the newest frame as CSV: a header line, then the same rows."""
        return await self._answer(request, ROWS_CSV)

    async def frame_events(self, request: Request) -> Response:
        """Send the newest frame, and every change of it, as server-sent events."""
        return await self._answer(request, FRAME_EVENTS)

    async def row_events(self, request: Request) -> Response:
        """Send the newest rows, and every change of them, as server-sent events."""
        return await self._answer(request, ROW_EVENTS)

    async def _answer(self, request: Request, form: Form) -> Response:
        heat = request.path_params["heat"]
        try:
            view = self._seen(request, heat)
        except NotAllowed:
            return unauthorised("found no key of a role that may see this view")
        except TallywireError as exc:
            return json_answer(exc.as_data(), status=404)
        try:
            outlet = await self._outlets.outlet(view, heat)
        except NotAllowed as exc:
            return problem("too_many", str(exc), status=503, headers=LATER)
        if form in (FRAME_EVENTS, ROW_EVENTS):
            return EventAnswer(self._outlets, outlet, form, had=request.headers.get("last-event-id", ""))
        if (view, heat) in self._for_all:
            self._polls.know(request.scope["raw_path"], view, heat, form)
        return given(outlet.newest(form), form, request.headers.get("if-none-match", ""))

    def _seen(self, request: Request, heat: str) -> str:
        view: str = request.path_params["view"]
        key = key_of(request)
        if not key and not request.query_params and (view, heat) in self._for_all:
            # What anybody may see of a heat stays so, and is asked for most.
            return view
        if view not in ROW_KINDS:
            # The booth is no outlet: what is told to commentators leaves the house by no way, whoever asks.
            raise BadMessage(f"found {shown(view)}, expected one of {', '.join(ROW_KINDS)}", path="view")
        seen, role = seen_by(self._live, request, view, heat), role_name(self._live, request)
        if role not in FOR_KEYS.get(view, {role}):
            raise NotAllowed(f"found view {view} asked for as {role}, expected one of {', '.join(FOR_KEYS[view])}")
        if not key:
            self._for_all.add((view, heat))
        return seen


def index_data(competition: Competition, mode: str) -> dict[str, object]:
    """Give what an integrator needs to make an address: the heats, the floors, the views, and the forms."""
    return {
        "version": "v1",
        "competition": competition.name,
        "mode": mode,
        "addresses": [f"/v1/heats/{{heat}}/{{view}}/{form}" for form in FORMS],
        "views": {view: {"row": kind.about, "key": view in {"table", *FOR_KEYS}} for view, kind in ROW_KINDS.items()},
        "floors": [FLOOR, *map(floor_name, competition.floors)],
        "heats": [
            {"id": heat.id, "name": heat.name, "event": heat.event, "title": competition.title_of(heat)}
            for heat in competition.heats.values()
        ],
    }
