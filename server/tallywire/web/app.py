"""The web application: one route for the wire, a few that answer once, and the pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse
from starlette.routing import Mount, Route, WebSocketRoute

from tallywire.shell.files import assets
from tallywire.shell.live import LiveCompetition
from tallywire.shell.made_up_show import MadeUpShow
from tallywire.shell.outlets import Outlets
from tallywire.shell.workbench import Workbench
from tallywire.web import asyncapi
from tallywire.web.admission import Admission
from tallywire.web.batch_route import BatchRoute
from tallywire.web.forwarded import Forwarded
from tallywire.web.headers import SafeHeaders
from tallywire.web.heads import ShortHeads
from tallywire.web.hosts import OwnHosts, plain_names
from tallywire.web.http_routes import HttpRoutes
from tallywire.web.inside_route import InsideRoute
from tallywire.web.link_routes import LinkRoutes
from tallywire.web.make_routes import FloorNow, MakeRoutes, RundownRoute
from tallywire.web.openapi import PATH, Description
from tallywire.web.outlet_cors import OutletCors
from tallywire.web.outlet_routes import FORMS, OutletRoutes
from tallywire.web.pages import WORDS_PATH, WORKER_PATH, Program, WrittenPages, page_files
from tallywire.web.polls import Polls
from tallywire.web.practice_route import PracticeRoute
from tallywire.web.public_routes import PublicPage, PublicRoutes
from tallywire.web.rehearsal_routes import RehearsalRoutes
from tallywire.web.settings import Settings
from tallywire.web.story_route import StoryRoute
from tallywire.web.theme import ThemeRoutes
from tallywire.web.turnstile import Turnstile
from tallywire.web.typed_errors import typed_error
from tallywire.web.wire_route import WireRoute
from tallywire.web.wrong_address import Pages

if TYPE_CHECKING:
    from tallywire.shell.steering import Steering


def create_app(  # noqa: PLR0913
    live: LiveCompetition,
    settings: Settings,
    *,
    steering: Steering | None = None,
    pages: Path | None = None,
    admission: Admission | None = None,
    addresses: Sequence[str] = (),
    bench: Workbench | None = None,
    show: MadeUpShow | None = None,
) -> Starlette:
    """Give the application for a live. `pages` is the folder of the pages, the shipped ones unless given.

    `steering` steers a rehearsal. `admission` is that of the door by which connections come, one of the application's
    own unless given; `addresses` are those by which other devices reach it, the best one first. On the
    `bench` is the file that an organiser may change, and `show` plays it. Its `state.outlets` are what it hands out,
    its `state.polls` those that connections answer themselves, and its `state.public_page` the
    spectator page.
    """
    admission = admission or Admission(settings.bounds, proxies=settings.trusted_proxies)
    folder = assets("overlay") if pages is None else pages
    program = Program(page_files(folder))
    live.terms = replace(live.terms, pages=program.digest)
    answers, about = HttpRoutes(live), InsideRoute(live, settings.data)
    links = LinkRoutes(live, addresses, fingerprint=settings.fingerprint)
    rehearsal = RehearsalRoutes(live, steering)
    theme = ThemeRoutes(live.competition.theme)
    names = plain_names((settings.host, *settings.allow_hosts))
    outlets = Outlets(live)
    polls = Polls(outlets, names=names)
    public, public_page = PublicRoutes(live.public), PublicPage(program.files, live.competition)
    routes = [
        # The first that are looked through: some are asked hundreds of times a second.
        *_outlet_routes(OutletRoutes(live, outlets, polls)),
        WebSocketRoute("/wire", _wire(live, settings, admission).serve),
        Route("/health", answers.health),
        Route("/ready", about.ready),
        Route("/figures", about.figures),
        Route("/metrics", about.metrics),
        Route("/snapshot/{view}", answers.snapshot),
        Route("/recording", answers.recording),
        Route("/story", StoryRoute(live).told),
        Route("/rehearsal", rehearsal.told, methods=["GET"]),
        Route("/rehearsal", rehearsal.steer, methods=["POST"]),
        Route("/practice", PracticeRoute(live).lane),
        Route("/facts", BatchRoute(live).take, methods=["POST"]),
        Route("/links", links.listed, methods=["GET"]),
        Route("/links", links.make, methods=["POST"]),
        Route("/links/code", links.code, methods=["POST"]),
        Route("/links/{link}/revoke", links.revoke, methods=["POST"]),
        Route("/links/{link}/renew", links.renew, methods=["POST"]),
        *make_routes(MakeRoutes(live.crew.links, bench, show, floor=FloorNow.of(live))),
        Route("/rundown/save", RundownRoute(live, bench).save, methods=["POST"]),
        Route("/theme/sheet.css", theme.sheet),
        Route("/theme/face", theme.face),
        Route("/theme/logo", theme.logo),
        Route("/public/", public_page.page),
        Route("/public/{language}/", public_page.page_in),
        Route("/public/newest", public.newest),
        Route("/public/newest/{floor}", public.newest_of),
        Route("/public/segments/{name}", public.segment),
        Mount("/public/at/{digest}", routes=[Route("/{name:path}", public_page.file)]),
        Route("/", _home),
        Route(WORKER_PATH, program.worker),
        Route(WORDS_PATH, program.words),
        Mount("/", Pages(program.files, WrittenPages(program.files), live.competition, digest=program.digest)),
    ]
    routes.insert(0, Route(PATH, Description(routes).show))
    cors = Middleware(OutletCors, origins=settings.allow_origins)
    proxied = Middleware(Forwarded, admission=admission)
    own = Middleware(OwnHosts, names=names)
    app = Starlette(
        routes=routes,
        middleware=[Middleware(ShortHeads), proxied, Middleware(Turnstile), Middleware(SafeHeaders), own, cors],
        exception_handlers={HTTPException: typed_error},
    )
    app.state.outlets, app.state.polls, app.state.public_page = outlets, polls, public_page
    return app


def make_routes(make: MakeRoutes) -> list[Route]:
    """Give the routes by which a competition file is made."""
    posts = {"check": make.check, "save": make.save, "deal": make.deal, "rehearse": make.rehearse, "run": make.run}
    routes = [Route(f"/make/{name}", endpoint, methods=["POST"]) for name, endpoint in posts.items()]
    return [Route("/make/file", make.told), *routes]


def _outlet_routes(outlets: OutletRoutes) -> list[Route]:
    endpoints = (outlets.frame, outlets.rows, outlets.csv, outlets.frame_events, outlets.row_events)
    of_forms = zip(FORMS, endpoints, strict=True)
    return [
        *(Route(f"/v1/heats/{{heat}}/{{view}}/{form}", endpoint) for form, endpoint in of_forms),
        Route("/v1/", outlets.index),
        Route(asyncapi.PATH, asyncapi.show),
    ]


def _wire(live: LiveCompetition, settings: Settings, admission: Admission) -> WireRoute:
    if settings.redis is None or not settings.redis.follows:
        return WireRoute(live, settings, admission)
    # Only an edge needs a websocket client.
    from tallywire.web.edge_route import EdgeRoute

    return EdgeRoute(live, settings, admission, redis=settings.redis)


async def _home(_request: Request) -> RedirectResponse:
    """A browser takes the fragment along (RFC 9110 §10.2.2), and with it the key."""
    return RedirectResponse("/home/")
