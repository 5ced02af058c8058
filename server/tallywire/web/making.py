"""The server before there is a competition: the page on which one is made, and nothing else."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from operator import itemgetter

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Mount, Route

from tallywire.core.errors import TallywireError
from tallywire.shell.clock import SystemClock
from tallywire.shell.data_folder import LINKS, make_data_folder
from tallywire.shell.files import assets
from tallywire.shell.keys import make_keys
from tallywire.shell.link_file import LinkKeeper
from tallywire.shell.links import Links
from tallywire.shell.made_up_show import MadeUpShow
from tallywire.shell.workbench import Workbench
from tallywire.web.admission import Admission
from tallywire.web.answers import json_answer
from tallywire.web.app import make_routes
from tallywire.web.forwarded import Forwarded
from tallywire.web.headers import SafeHeaders
from tallywire.web.heads import ShortHeads
from tallywire.web.hosts import OwnHosts
from tallywire.web.listening import addresses_of, listening_socket
from tallywire.web.make_routes import FloorNow, MakeRoutes
from tallywire.web.pages import WORDS_PATH, WORKER_PATH, Program, WrittenPages, page_files
from tallywire.web.serving import raise_file_limit, show_of, until_renewed
from tallywire.web.settings import Settings
from tallywire.web.turnstile import Turnstile
from tallywire.web.typed_errors import typed_error
from tallywire.web.uvicorn_server import UvicornServer, uvicorn_config
from tallywire.wire.catalogue import LANGUAGES

_WEIGHT = re.compile(r"q=([01](?:\.\d{0,3})?)")


async def make(bench: Workbench, settings: Settings, *, on_listening: Callable[[str, str], None]) -> int | None:
    """Serve the page until its competition is to run: the port on which the page waits for it; None when stopped.

    `on_listening` is told the address and the organiser's key, which goes on to open the table of what then runs.
    """
    if not settings.prints_links:
        raise TallywireError(
            f"found --host {settings.host} alone, expected --print-links with it: the page needs a key"
        )
    make_data_folder(settings.data)
    with listening_socket(settings) as listener:
        port: int = listener.getsockname()[1]
        keeper = LinkKeeper(settings.data / LINKS)
        links = Links(now_ms=SystemClock().unix_ms, keep=keeper.keep)
        links.refill(keeper.load(), salt=keeper.salt)
        links.begin(make_keys([]))
        admission = Admission(settings.bounds.within(raise_file_limit()), proxies=settings.trusted_proxies)
        show = show_of(bench, settings)
        app = maker_app(links, bench, show, settings, admission)
        server = UvicornServer(uvicorn_config(app, settings), admission, signals=True, leaving=lambda: None)
        serving = asyncio.create_task(server.serve(sockets=[listener]))
        try:
            await server.listening.wait()
            on_listening(addresses_of(listener, settings)[0], links.start.table)
            await until_renewed(asyncio.shield(serving), bench)
        finally:
            server.leave()
            await serving
            if show is not None:
                await show.end()
        return port if bench.renewed.is_set() else None


def maker_app(
    links: Links, bench: Workbench, show: MadeUpShow | None, settings: Settings, admission: Admission
) -> Starlette:
    """Give the application that serves the page and its routes."""
    program = Program(page_files(assets("overlay")))
    files = program.files
    routes = [
        Route("/health", _health),
        *make_routes(MakeRoutes(links, bench, show, floor=FloorNow())),
        Route(WORDS_PATH, program.words),
        Route("/", _to_the_page),
        Route("/home/", _to_the_page),
        Route(WORKER_PATH, program.worker),
        Route("/make/", _MakerPage(WrittenPages(files)).give),
        Mount("/make", files.below("make")),
        Mount("/shared", files.below("shared")),
    ]
    own = Middleware(OwnHosts, names=(settings.host, *settings.allow_hosts))
    proxied = Middleware(Forwarded, admission=admission)
    return Starlette(
        routes=routes,
        middleware=[Middleware(ShortHeads), proxied, Middleware(Turnstile), Middleware(SafeHeaders), own],
        exception_handlers={HTTPException: typed_error},
    )


class _MakerPage:
    """The page in the language that its address names, else in the browser's: no competition has one yet."""

    def __init__(self, written: WrittenPages) -> None:
        self._written = written

    async def give(self, request: Request) -> Response:
        """Give the page."""
        wanted = [request.query_params.get("lang", ""), *accepted(request.headers.get("accept-language", ""))]
        language = next((each for each in wanted if each in LANGUAGES), LANGUAGES[0])
        return HTMLResponse(self._written.page("/make/", language) or "", headers={"Vary": "Accept-Language"})


def accepted(header: str) -> list[str]:
    """Give the languages of a header Accept-Language without their regions, the liked ones first (RFC 9110 §12.5.4)."""
    ranges = [each.partition(";") for each in header[:200].split(",")]
    weighed = [(_weight(parameter), name.split("-")[0].strip().lower()) for name, _, parameter in ranges]
    return [name for weight, name in sorted(weighed, key=itemgetter(0), reverse=True) if weight]


def _weight(parameter: str) -> float:
    """Read a weight (RFC 9110 §12.4.2); without one it is the most."""
    found = _WEIGHT.fullmatch(parameter.strip())
    return float(found[1]) if found else 1.0


async def _health(_request: Request) -> Response:
    """Say that the server runs, and that there is no competition yet."""
    return json_answer({"status": "ok", "mode": "making"})


async def _to_the_page(_request: Request) -> RedirectResponse:
    """A browser takes the fragment along (RFC 9110 §10.2.2), and with it the key."""
    return RedirectResponse("/make/")
