"""The routes by which the table manages links, and the route that turns the six letters of a slip into a link."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import asdict
from typing import Annotated, Literal

from pydantic import Field, model_validator
from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.errors import BadMessage, NotAllowed, TallywireError, UnknownLink
from tallywire.core.model.competition import Competition
from tallywire.shell.links import DAYS, DAYS_MOST, STARTED, Issued, Link, Wish
from tallywire.shell.live import LiveCompetition
from tallywire.web.answers import json_answer, problem
from tallywire.web.bodies import Body, read_body
from tallywire.web.code_limit import CodeLimit
from tallywire.web.http_routes import manages, unauthorised
from tallywire.web.slips import slip_of
from tallywire.wire.roles import ROLES

WISHES_MOST = 200
Handler = Callable[[Request], Awaitable[Response]]


class LinkWish(Body):
    """One link that is asked for."""

    role: Literal["lane", "backup", "table", "head", "desk", "commentator", "spotter", "display", "machine"]
    lane: Annotated[int, Field(ge=1, le=99)] | None = None
    floor: Annotated[str, Field(max_length=64)] = ""
    label: Annotated[str, Field(max_length=80)] = ""
    days: Annotated[int | float, Field(gt=0, le=DAYS_MOST)] = DAYS

    @model_validator(mode="after")
    def _lane_fits(self) -> LinkWish:
        role = ROLES[self.role]
        if not role.takes(self.lane):
            raise ValueError(f"found lane {self.lane or 'missing'}, expected {role.lane} one for role {self.role}")
        return self

    @property
    def wish(self) -> Wish:
        """What the shell is asked for."""
        return Wish(role=self.role, lane=self.lane, floor=self.floor, label=self.label, days=self.days)


class MakeLinks(Body):
    """Links that are asked for; `address` is the one that their addresses begin with."""

    links: Annotated[list[LinkWish], Field(min_length=1, max_length=WISHES_MOST)]
    address: Annotated[str, Field(max_length=200)] = ""


class RenewLink(Body):
    """Another link for one that is taken back."""

    address: Annotated[str, Field(max_length=200)] = ""


class TypedCode(Body):
    """The six letters of a slip."""

    code: Annotated[str, Field(max_length=40, repr=False)]


class LinkRoutes:
    """The HTTP endpoints below /links. `addresses` are those that other devices can open, the best first."""

    def __init__(self, live: LiveCompetition, addresses: Sequence[str], *, fingerprint: str | None) -> None:
        self._live = live
        self._addresses = list(addresses)
        self._fingerprint = fingerprint
        self._limit = CodeLimit()

    async def listed(self, request: Request) -> Response:
        """List the links and the devices connected with each. Their keys are not known here."""
        return await self._managed(request, self._listed)

    async def make(self, request: Request) -> Response:
        """Make links and give their slips. Only now are their keys known."""
        return await self._managed(request, self._make)

    async def revoke(self, request: Request) -> Response:
        """Take a link back: every device connected with it is told so and cut off."""
        return await self._managed(request, self._revoke)

    async def renew(self, request: Request) -> Response:
        """Take a link back, and give the slip of another link for the same."""
        return await self._managed(request, self._renew)

    async def code(self, request: Request) -> Response:
        """Give the person who types the six letters of a slip a separate link."""
        address, now = request.client.host if request.client else "", self._live.clock.now()
        if not self._limit.may_try(address, now):
            message = "found too many wrong codes, expected fewer: wait a minute"
            return problem("too_fast", message, status=429, headers={"Retry-After": "60"})
        try:
            asked = await read_body(request, TypedCode)
        except BadMessage as exc:
            return json_answer(exc.as_data(), status=400)
        issued = self._live.crew.links.redeem(asked.code)
        if issued is None:
            self._limit.was_wrong(address, now)
            error = UnknownLink("found a code that is none, or was typed before: ask the table for a new slip")
            return json_answer(error.as_data(), status=404)
        title = issued.link.title(self._live.competition.floors)
        return json_answer({"path": issued.link.path, "title": title, "key": issued.key})

    async def _managed(self, request: Request, act: Handler) -> Response:
        if not manages(self._live, request):
            return unauthorised("found no key of the table")
        try:
            return await act(request)
        except UnknownLink as exc:
            return json_answer(exc.as_data(), status=404)
        except NotAllowed as exc:
            return json_answer(exc.as_data(), status=409)
        except TallywireError as exc:
            return json_answer(exc.as_data(), status=400)

    async def _listed(self, _request: Request) -> Response:
        crew = self._live.crew
        links = [self._row(link) for link in crew.links.all()]
        competition = self._live.competition
        return json_answer(
            {
                "links": links,
                "lanes": competition.lane_numbers,
                **_floors(competition),
                "outputs": list(competition.outputs),
                "language": competition.language,
                "addresses": self._addresses,
                "fingerprint": self._fingerprint,
            }
        )

    def _row(self, link: Link) -> dict[str, object]:
        crew = self._live.crew
        floors = self._live.competition.floors
        devices = [{"sender": each.sender, "since_ms": each.since_ms} for each in crew.devices(link.id)]
        return {
            "id": link.id,
            "role": link.role,
            "lane": link.lane,
            **({"floor": link.floor, "floor_name": link.floor_name(floors)} if link.floor else {}),
            "title": link.title(floors),
            "label": link.label,
            **({"at_start": True} if link.label == STARTED else {}),
            "made_ms": link.made_ms,
            "expires_ms": link.expires_ms,
            "ended": crew.links.fault(link.id) is not None,
            "has_code": link.code_hash is not None,
            "parent": link.parent,
            "devices": devices,
        }

    async def _make(self, request: Request) -> Response:
        asked = await read_body(request, MakeLinks)
        wishes = [each.wish for each in asked.links]
        floors = self._live.competition.floors
        faults = (ROLES[each.role].floor_fault(each.lane, each.floor, floors) for each in wishes)
        fault = next((each for each in faults if each is not None), None)
        if fault is not None:
            raise BadMessage(fault, path="links")
        issued = self._live.crew.links.issue(wishes)
        return self._slips(issued, request, asked.address)

    async def _revoke(self, request: Request) -> Response:
        self._live.crew.revoke(request.path_params["link"])
        return json_answer({})

    async def _renew(self, request: Request) -> Response:
        asked = await read_body(request, RenewLink)
        issued = self._live.crew.renew(request.path_params["link"])
        return self._slips([issued], request, asked.address)

    def _slips(self, issued: Sequence[Issued], request: Request, wanted: str) -> Response:
        own = f"{request.url.scheme}://{request.url.netloc}"
        address = wanted if wanted in self._addresses else own
        slips = [asdict(slip_of(each, address, floors=self._live.competition.floors)) for each in issued]
        return json_answer({"slips": slips, "address": address, "fingerprint": self._fingerprint})


def _floors(competition: Competition) -> dict[str, object]:
    """The floors that have names, each with its lanes."""
    floors = competition.floors.values()
    rows = [{"id": each.id, "name": each.name, "lanes": competition.lanes_of(each.id)} for each in floors]
    return {"floors": rows} if rows else {}
