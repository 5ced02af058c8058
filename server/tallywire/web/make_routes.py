"""The routes by which an organiser makes a competition file on a page: read, check, save, rehearse, run."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import Annotated, Any

from pydantic import Field
from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.errors import BadFile, BadMessage, NotAllowed, Problem, TallywireError
from tallywire.core.fold.open_heat import closed_because
from tallywire.core.model.competition import Competition
from tallywire.core.ranking.seeding import SeedRules, seed
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition
from tallywire.shell.made_up_show import MadeUpShow
from tallywire.shell.workbench import DRAFT_LIMIT, OnBench, Workbench
from tallywire.web.answers import json_answer, problem
from tallywire.web.bodies import Body, read_body
from tallywire.web.http_routes import link_manages, role_name, unauthorised
from tallywire.wire.catalogue import LANGUAGES, catalogue, known_language
from tallywire.wire.competition_draft import known_formats
from tallywire.wire.problem_words import problem_said

ENTRIES_MOST = 5000
Handler = Callable[[Workbench, Request], Awaitable[Response]]


class CompetitionDraft(Body):
    """A competition as it stands on the page: what its file would say."""

    data: dict[str, Any]


class SaveDraft(CompetitionDraft):
    """The same, to be written; `version` is that of the file from which it was made."""

    version: Annotated[str, Field(max_length=64)]


class DealLanes(Body):
    """Entries, the best first, who are to be given lanes, and these lanes from side to side."""

    order: Annotated[list[Annotated[str, Field(max_length=64)]], Field(min_length=1, max_length=ENTRIES_MOST)]
    lanes: Annotated[list[Annotated[int, Field(ge=1, le=99)]], Field(min_length=1, max_length=99)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorNow:
    """What the floor allows: `busy` says why nothing can be changed now, `begun` names the heats that have begun."""

    busy: Callable[[], str | None] = lambda: None
    begun: Callable[[], Mapping[str, Competition]] = dict

    @classmethod
    def of(cls, live: LiveCompetition) -> FloorNow:
        """Ask a live competition."""
        return cls(busy=partial(_busy, live), begun=partial(_begun, live))


class SaveRundown(Body):
    """The output whose rundown is to be written into the file."""

    output: Annotated[str, Field(max_length=64)]


class RundownRoute:
    """The endpoint by which the graphics desk makes its rundown the file's."""

    def __init__(self, live: LiveCompetition, bench: Workbench | None) -> None:
        self._live = live
        self._bench = bench

    async def save(self, request: Request) -> Response:
        """Write an output's rundown into the competition file; the earlier file is kept beside it."""
        if role_name(self._live, request) not in ("table", "desk", "owner"):
            return unauthorised("found no key of the table or of the graphics desk")
        busy = _busy(self._live)
        if self._bench is None or busy is not None:
            return _no_file() if self._bench is None else problem("busy", busy or "", status=409)
        try:
            wish = await read_body(request, SaveRundown)
            state = self._live.books.snapshot().outputs.get(wish.output)
            if state is None:
                raise BadMessage(f'found no output "{wish.output}", expected one of the show', path="output")
            await asyncio.to_thread(self._bench.save_rundown, wish.output, state.output.rundown)
        except BadMessage as exc:
            return json_answer(exc.as_data(), status=400)
        except TallywireError as exc:
            return json_answer(exc.as_data(), status=409)
        return json_answer({"name": self._bench.path.name})


class MakeRoutes:
    """The endpoints below /make. There is no `bench` where the server has no file that could be changed."""

    def __init__(self, links: Links, bench: Workbench | None, show: MadeUpShow | None, *, floor: FloorNow) -> None:
        self._links = links
        self._bench = bench
        self._show = show
        self._floor = floor
        self._one = asyncio.Lock()

    async def told(self, request: Request) -> Response:
        """Give the competition file as it is: its text, what it says, and what is wrong with it."""
        return await self._managed(request, self._told)

    async def check(self, request: Request) -> Response:
        """Say everything that is wrong with a draft."""
        return await self._managed(request, self._check, free=True)

    async def save(self, request: Request) -> Response:
        """Write a draft without problems; the earlier file is kept beside it."""
        return await self._managed(request, self._save, free=True)

    async def deal(self, request: Request) -> Response:
        """Give lanes to entries: the best race last, in the middle lanes."""
        return await self._managed(request, self._deal)

    async def rehearse(self, request: Request) -> Response:
        """Play made-up heats of the saved file on a server beside this one."""
        return await self._managed(request, self._rehearse, free=True)

    async def run(self, request: Request) -> Response:
        """Start this server again with the saved file."""
        return await self._managed(request, self._run, free=True)

    async def _managed(self, request: Request, act: Handler, *, free: bool = False) -> Response:
        if not link_manages(self._links, request):
            return unauthorised("found no key of the table")
        busy = self._floor.busy() if free else None
        if self._bench is None or busy is not None:
            return _no_file() if self._bench is None else problem("busy", busy or "", status=409)
        try:
            async with self._one:
                return await act(self._bench, request)
        except BadFile as exc:
            return json_answer({**exc.as_data(), "problems": _rows(exc.problems, request)}, status=409)
        except (BadMessage, ValueError) as exc:
            return problem("bad_message", str(exc), status=400)
        except TallywireError as exc:
            return json_answer(exc.as_data(), status=409)

    async def _told(self, bench: Workbench, request: Request) -> Response:
        return _answer(bench, await asyncio.to_thread(bench.look), request)

    async def _check(self, bench: Workbench, request: Request) -> Response:
        draft = await read_body(request, CompetitionDraft, limit=DRAFT_LIMIT)
        return json_answer({"problems": _rows(await asyncio.to_thread(bench.check, draft.data), request)})

    async def _save(self, bench: Workbench, request: Request) -> Response:
        draft = await read_body(request, SaveDraft, limit=DRAFT_LIMIT)
        save = partial(bench.save, draft.data, version=draft.version, begun=self._floor.begun())
        return _answer(bench, await asyncio.to_thread(save), request)

    async def _deal(self, _bench: Workbench, request: Request) -> Response:
        wish = await read_body(request, DealLanes, limit=DRAFT_LIMIT)
        return json_answer({"heats": [_lanes(each) for each in seed(wish.order, SeedRules(lanes=tuple(wish.lanes)))]})

    async def _rehearse(self, bench: Workbench, _request: Request) -> Response:
        if self._show is None:
            raise NotAllowed("found a server behind TLS or a proxy, expected `tallywire rehearse` on its own machine")
        await asyncio.to_thread(bench.load)
        return json_answer(await self._show.begin())

    async def _run(self, bench: Workbench, _request: Request) -> Response:
        await asyncio.to_thread(bench.load)
        bench.renewed.set()
        return json_answer({})


def _no_file() -> Response:
    return problem("no_file", "found a server without a file of its own, expected tallywire serve FILE", status=404)


def _answer(bench: Workbench, now: OnBench, request: Request) -> Response:
    told = {"name": bench.path.name, "version": now.version, "text": now.text, "data": now.data}
    return json_answer({**told, "problems": _rows(now.problems, request), "formats": list(known_formats())})


def _rows(problems: Sequence[Problem], request: Request) -> list[dict[str, Any]]:
    """Give problems as the check says them, and `said` in the language of the page that asks (`?lang=`)."""
    words = catalogue(known_language(request.query_params.get("lang"), LANGUAGES[0]))
    return [asdict(each) | {"said": problem_said(each, words)} for each in problems]


def _lanes(heat: Mapping[int, str]) -> dict[str, str]:
    return {str(lane): entry for lane, entry in heat.items()}


def _busy(live: LiveCompetition) -> str | None:
    """Nothing is worked out for a page while taps are to be counted."""
    for heat in live.books.snapshot().heats.values():
        if closed_because(heat.facts) is None and not heat.over:
            return f'found heat "{heat.heat.name}" on the floor, expected none: make changes between heats'
    return None


def _begun(live: LiveCompetition) -> Mapping[str, Competition]:
    heats = live.books.snapshot().heats
    return {name: live.competition for name, heat in heats.items() if heat.facts}
