"""Starting and stopping the server: journal, live competition, routes, and what happens when the journal fails."""

from __future__ import annotations

import asyncio
import resource
import signal
import socket
import sys
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator, Sequence
from contextlib import asynccontextmanager, closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import cast

import uvicorn
from starlette.applications import Starlette

from tallywire.core.errors import TallywireError
from tallywire.core.model.competition import Competition
from tallywire.shell.backroom.worker import ThreadWorker
from tallywire.shell.clock import SystemClock
from tallywire.shell.collection import collect_seldom
from tallywire.shell.cue_search import CueSearch
from tallywire.shell.data_folder import CLOCK, FORECASTS, JOURNAL, LINKS, make_data_folder
from tallywire.shell.export import keep_address
from tallywire.shell.forecast_log import ForecastLog
from tallywire.shell.journal.opening import Opened, Take, opened_journal, shared
from tallywire.shell.journal.port import Journal
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.kept_clock import KeptClock
from tallywire.shell.keys import make_keys
from tallywire.shell.lateness import watch_lateness
from tallywire.shell.link_file import LinkKeeper
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.outlets import Outlets
from tallywire.shell.playback import Playback, Script
from tallywire.shell.reel import Reel
from tallywire.shell.steering import Steering
from tallywire.shell.storage import Storage
from tallywire.web.admission import VISIT, Admission, Visit
from tallywire.web.app import create_app
from tallywire.web.door import Door
from tallywire.web.http_protocol import BoundedHttp
from tallywire.web.listening import address_of, addresses_of, listening_socket
from tallywire.web.pushing import check_pushes, start_pushes
from tallywire.web.settings import Settings
from tallywire.web.transport import SocketProtocol
from tallywire.wire.messages import MESSAGE_LIMIT

PING_S = 20.0
STOP_S = 3
_SWITCH_S = 0.0005
_DESCRIPTORS_MOST = 65_536
"""What is asked for where there is no hard limit."""
_SIGNALS = (signal.SIGINT, signal.SIGTERM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A server that listens at `address`, such as http://127.0.0.1:8400; others reach it at `addresses`."""

    address: str
    addresses: Sequence[str]
    live: LiveCompetition
    playback: Playback | None = None
    _done: asyncio.Future[None]
    _stop: Callable[[], None]

    def stop(self) -> None:
        """Ask the server to stop; `finished` returns when it has."""
        self._stop()

    async def finished(self) -> None:
        """Wait until it has stopped, by `stop` or a signal. Raises JournalFailed when that is why."""
        await asyncio.shield(self._done)


async def serve(
    competition: Competition, settings: Settings, *, on_listening: Callable[[Running], None] = lambda _running: None
) -> None:
    """Run a server until SIGINT or SIGTERM. Raises JournalFailed when facts can no longer be kept."""
    async with running(competition, settings, signals=True) as server:
        on_listening(server)
        await server.finished()


@asynccontextmanager
async def running(
    competition: Competition,
    settings: Settings,
    *,
    signals: bool = False,
    open_journal: Callable[[Path], Journal] | None = None,
    script: Script | None = None,
) -> AsyncIterator[Running]:
    """Start a server, give it once it listens, and stop it in the end.

    With a `script` it plays that as a rehearsal. With `signals`, SIGINT and SIGTERM stop it gracefully, a second one at
    once. Raises JournalFailed, BadFile or another TallywireError when it cannot start; JournalFailed at the end when
    that is why it stopped.
    """
    if settings.tls is not None:
        settings.tls.check()
    make_data_folder(settings.data)
    with listening_socket(settings) as listener:
        storage = Storage()
        reel = None if script is None else Reel(script.placed, kept=SqliteJournal.open(settings.data / JOURNAL))
        opened = Opened.alone(reel, storage) if reel else await _opened(settings, storage, open_journal)
        try:
            keeper = _link_keeper(settings, storage)
            live = _live(competition, settings, opened.journal, storage, keeper)
            await opened.begin(live.restore)
            if not settings.is_edge:
                _fill(live.crew.links, keeper, competition, settings)
                storage.at_epoch(lambda: keeper.keep(live.crew.links.all()))
            check_pushes(settings.pushes, live.terms)
            live.replay()
            playback = None if reel is None or script is None else _playback(live, reel, script)
            collect_seldom()
            with closing(playback) if playback else nullcontext():
                async with _served(
                    live, settings, listener, keep=opened.keep, signals=signals, playback=playback
                ) as server:
                    yield server
        finally:
            await opened.journal.close()


async def _opened(settings: Settings, storage: Storage, open_journal: Callable[[Path], Journal] | None) -> Opened:
    if open_journal is not None:
        return Opened.alone(open_journal(settings.data / JOURNAL), storage)
    return await opened_journal(settings.data, mirror=settings.mirror, redis=settings.redis, storage=storage)


def _playback(live: LiveCompetition, reel: Reel, script: Script) -> Playback:
    return Playback(live, reel, script, cues=CueSearch(live.competition, ThreadWorker()))


def _live(
    competition: Competition, settings: Settings, journal: Journal, storage: Storage, keeper: LinkKeeper
) -> LiveCompetition:
    clock = SystemClock()
    options = RunOptions(
        mode=settings.mode,
        speed=settings.speed,
        watch_limit=settings.watch_limit,
        backroom=settings.backroom,
        storage=storage,
        settle_clock=KeptClock(settings.data / CLOCK, clock).settle,
        forecasts=ForecastLog(settings.data / FORECASTS),
    )
    links = Links(now_ms=SystemClock().unix_ms, keep=keeper.keep)
    return LiveCompetition(competition, journal=journal, clock=clock, links=links, options=options)


def _link_keeper(settings: Settings, storage: Storage) -> LinkKeeper:
    copies = [settings.mirror / LINKS] if settings.mirror is not None else []
    together = None if settings.redis is None else shared(settings.redis, "links", storage)
    return LinkKeeper(settings.data / LINKS, copies=copies, shared=together)


def _fill(links: Links, keeper: LinkKeeper, competition: Competition, settings: Settings) -> None:
    """Read the links, and make new keys where they can be printed. The open network needs links that somebody holds."""
    links.refill(keeper.load(), salt=keeper.salt)
    if settings.prints_links or settings.mode == "rehearsal":
        links.begin(make_keys(competition.places))
    elif not links.any_good("table"):
        raise TallywireError(
            f"found no links in {settings.data}, expected those of the crew before the server is open to the network: "
            "make them with tallywire links, or start with --print-links"
        )


@asynccontextmanager
async def _served(  # noqa: PLR0913
    live: LiveCompetition,
    settings: Settings,
    listener: socket.socket,
    *,
    keep: Callable[[Take], Awaitable[object]],
    signals: bool,
    playback: Playback | None,
) -> AsyncIterator[Running]:
    admission = Admission(settings.bounds.within(raise_file_limit()), proxies=settings.trusted_proxies)
    address, addresses = address_of(listener, settings), addresses_of(listener, settings)
    steering = None if playback is None else Steering(playback, competition=live.competition)
    app = create_app(live, settings, steering=steering, admission=admission, addresses=addresses)
    outlets: Outlets = app.state.outlets
    config = _config(app, settings)
    server = _Server(config, admission, signals=signals, leaving=outlets.close)
    writing = [asyncio.ensure_future(each) for each in (live.recorder.run(), keep(live.follow))]
    for task in writing:
        task.add_done_callback(lambda _task: server.leave())
    serving = asyncio.create_task(server.serve(sockets=[listener]))
    done = asyncio.create_task(_finish(live, serving, writing))
    beside = [asyncio.create_task(watch_lateness(live.meters))]
    try:
        await _until_listening(server, done)
        beside += start_pushes(settings, outlets)
        if settings.tls is not None and config.ssl is not None:
            beside.append(asyncio.create_task(settings.tls.follow(config.ssl)))
        certificate = settings.tls.certificate if settings.tls else None
        keep_address(settings.data, address, key=live.crew.links.owner_key(), certificate=certificate)
        if playback is not None:
            playback.begin(settings.speed)
        yield Running(
            address=address, addresses=addresses, live=live, playback=playback, _done=done, _stop=server.leave
        )
    finally:
        for task in beside:
            task.cancel()
        server.leave()
        await done


async def _until_listening(server: _Server, done: asyncio.Task[None]) -> None:
    listening = asyncio.create_task(server.listening.wait())
    await asyncio.wait({listening, done}, return_when=asyncio.FIRST_COMPLETED)
    listening.cancel()
    if done.done():
        # The server ended before it began; this raises the reason.
        await done
        raise TallywireError("the server stopped while it was starting: start it again")


async def _finish(
    live: LiveCompetition, serving: asyncio.Task[None], writing: Sequence[asyncio.Future[object]]
) -> None:
    """Stop in order: clients go first, so that no fact comes in after the last one is written."""
    try:
        await serving
    finally:
        live.close()
        live.storage.give_up()
        live.recorder.close()
        await asyncio.wait(writing)
        for task in writing:
            await task


def _config(app: Starlette, settings: Settings) -> uvicorn.Config:
    # A loop that computes would keep the journal's thread waiting for 5 ms at a time (see SqliteJournal).
    sys.setswitchinterval(_SWITCH_S)
    return uvicorn.Config(
        app,
        ws=SocketProtocol,
        ws_max_size=MESSAGE_LIMIT,
        ws_ping_interval=PING_S,
        ws_ping_timeout=PING_S,
        ws_per_message_deflate=False,
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=STOP_S,
        ssl_certfile=settings.tls.certificate if settings.tls else None,
        ssl_keyfile=settings.tls.private_key if settings.tls else None,
    )


class _Server(uvicorn.Server):
    """uvicorn's server, which also tells when it listens, and leaves the exit code to the caller."""

    def __init__(
        self, config: uvicorn.Config, admission: Admission, *, signals: bool, leaving: Callable[[], None]
    ) -> None:
        super().__init__(config)
        self._leaving = leaving
        self._admission = admission
        self.listening = asyncio.Event()
        self._signals = _SIGNALS if signals else ()

    def leave(self) -> None:
        """Stop gracefully; asked twice, at once."""
        self.force_exit = self.should_exit
        self.should_exit = True
        self._leaving()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen, at a door of our own instead of uvicorn's."""
        await self.lifespan.startup()
        [listener] = sockets or []
        door = Door(listener, self._admission, make_protocol=self._protocol, tls=self.config.ssl)
        door.open()
        self.servers = [cast(asyncio.Server, door)]
        self.started = True
        self.listening.set()

    def _protocol(self, visit: Visit) -> asyncio.Protocol:
        return BoundedHttp(self.config, self.server_state, {VISIT: visit})

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop on a signal. Unlike uvicorn's own, it does not raise it again: the journal has to be closed first."""
        loop = asyncio.get_running_loop()
        for each in self._signals:
            loop.add_signal_handler(each, self.leave)
        try:
            yield
        finally:
            for each in self._signals:
                loop.remove_signal_handler(each)


def raise_file_limit() -> int:
    """Ask for as many file descriptors as this process may have, and give how many that is."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = _DESCRIPTORS_MOST if hard == resource.RLIM_INFINITY else hard
    with suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, wanted), hard))
    return resource.getrlimit(resource.RLIMIT_NOFILE)[0]
