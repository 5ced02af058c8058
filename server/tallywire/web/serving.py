"""Starting and stopping the server: journal, live competition, routes, and what happens when the journal fails."""

from __future__ import annotations

import asyncio
import resource
import socket
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import asynccontextmanager, closing, nullcontext, suppress
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from tallywire.core.errors import TallywireError
from tallywire.core.model.competition import Competition
from tallywire.shell.clock import SystemClock
from tallywire.shell.collection import collect_seldom, uncollected
from tallywire.shell.data_folder import CLOCK, FORECASTS, JOURNAL, LINKS, make_data_folder
from tallywire.shell.export import keep_address
from tallywire.shell.forecast_log import ForecastLog
from tallywire.shell.helper.worker import ThreadWorker
from tallywire.shell.journal.opening import Opened, Take, opened_journal, shared
from tallywire.shell.journal.port import Journal
from tallywire.shell.journal.proof import Reader
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.kept_clock import KeptClock
from tallywire.shell.keys import make_keys
from tallywire.shell.lateness import watch_lateness
from tallywire.shell.link_file import LinkKeeper
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.made_up_show import MadeUpShow
from tallywire.shell.outlets import Outlets
from tallywire.shell.public_tape import TOLD_MS
from tallywire.shell.restoring import OldLines
from tallywire.shell.storage import Storage
from tallywire.shell.workbench import Workbench
from tallywire.web.admission import Admission
from tallywire.web.app import create_app
from tallywire.web.listening import address_of, addresses_of, listening_socket
from tallywire.web.public_routes import PublicPage
from tallywire.web.pushing import check_pushes, start_pushes
from tallywire.web.settings import Settings
from tallywire.web.uvicorn_server import UvicornServer, uvicorn_config
from tallywire.wire.fact_lines import build_models

if TYPE_CHECKING:
    from tallywire.shell.playback import Playback, Script
    from tallywire.shell.reel import Reel
    from tallywire.shell.steering import Steering

_DESCRIPTORS_MOST = 65_536
"""What is asked for where there is no hard limit."""


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
    competition: Competition,
    settings: Settings,
    *,
    on_listening: Callable[[Running], None] = lambda _running: None,
    bench: Workbench | None = None,
) -> None:
    """Run a server until SIGINT or SIGTERM, or until the file on the bench is to be served anew.

    Raises JournalFailed when facts can no longer be kept.
    """
    async with running(competition, settings, signals=True, bench=bench) as server:
        on_listening(server)
        await until_renewed(server.finished(), bench)


async def until_renewed(finished: Awaitable[None], bench: Workbench | None) -> None:
    """Wait until a server has finished, or is to start again with the file on the bench."""
    waiting = [asyncio.ensure_future(finished), *([asyncio.ensure_future(bench.renewed.wait())] if bench else [])]
    await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
    for task in waiting[1:]:
        task.cancel()
    if waiting[0].done():
        await waiting[0]
    waiting[0].cancel()


@asynccontextmanager
async def running(  # noqa: PLR0913
    competition: Competition,
    settings: Settings,
    *,
    signals: bool = False,
    open_journal: Callable[[Path], Journal] | None = None,
    script: Script | None = None,
    bench: Workbench | None = None,
) -> AsyncIterator[Running]:
    """Start a server, give it once it listens, and stop it in the end.

    With a `script` it plays that as a rehearsal. On the `bench` is the file that an organiser may change. With
    `signals`, SIGINT and SIGTERM stop it gracefully, a second one at once. Raises JournalFailed, BadFile or another
    TallywireError when it cannot start; JournalFailed at the end when that is why it stopped.
    """
    if settings.tls is not None:
        settings.tls.check()
    make_data_folder(settings.data)
    with listening_socket(settings) as listener:
        storage = Storage()
        reel = None if script is None else _reel(script, settings)
        read = OldLines(until_ms=SystemClock().unix_ms() - TOLD_MS)
        with uncollected():
            opened = Opened.alone(reel, storage) if reel else await _opened(settings, storage, open_journal, read)
        try:
            keeper = _link_keeper(settings, storage)
            live = _live(competition, settings, opened.journal, storage, keeper)
            await opened.begin(live.restore)
            if not settings.is_edge:
                _fill(live.crew.links, keeper, competition, settings)
                storage.at_epoch(lambda: keeper.keep(live.crew.links.all()))
            check_pushes(settings.pushes, live.terms)
            live.replay(read)
            playback = None if reel is None or script is None else _playback(live, reel, script)
            collect_seldom()
            with closing(playback) if playback else nullcontext():
                async with _served(
                    live, settings, listener, keep=opened.keep, signals=signals, playback=playback, bench=bench
                ) as server:
                    yield server
        finally:
            await opened.journal.close()


async def _opened(
    settings: Settings, storage: Storage, open_journal: Callable[[Path], Journal] | None, reader: Reader
) -> Opened:
    if open_journal is not None:
        return Opened.alone(open_journal(settings.data / JOURNAL), storage)
    return await opened_journal(
        settings.data, mirror=settings.mirror, redis=settings.redis, storage=storage, reader=reader
    )


def _reel(script: Script, settings: Settings) -> Reel:
    # Only a rehearsal waits for this import and the next two.
    from tallywire.shell.reel import Reel

    return Reel(script.placed, kept=SqliteJournal.open(settings.data / JOURNAL))


def _playback(live: LiveCompetition, reel: Reel, script: Script) -> Playback:
    from tallywire.shell.cue_search import CueSearch
    from tallywire.shell.playback import Playback

    return Playback(live, reel, script, cues=CueSearch(live.competition, ThreadWorker()))


def _steering(playback: Playback, live: LiveCompetition) -> Steering:
    from tallywire.shell.steering import Steering

    return Steering(playback, competition=live.competition)


def _live(
    competition: Competition, settings: Settings, journal: Journal, storage: Storage, keeper: LinkKeeper
) -> LiveCompetition:
    clock = SystemClock()
    options = RunOptions(
        mode=settings.mode,
        speed=settings.speed,
        watch_limit=settings.watch_limit,
        helper=settings.helper,
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
    bench: Workbench | None,
) -> AsyncIterator[Running]:
    admission = Admission(settings.bounds.within(raise_file_limit()), proxies=settings.trusted_proxies)
    address, addresses = address_of(listener, settings), addresses_of(listener, settings)
    steering = None if playback is None else _steering(playback, live)
    show = show_of(bench, settings)
    app = create_app(
        live, settings, steering=steering, admission=admission, addresses=addresses, bench=bench, show=show
    )
    outlets: Outlets = app.state.outlets
    config = uvicorn_config(app, settings)
    server = UvicornServer(config, admission, signals=signals, leaving=outlets.close, polls=app.state.polls)
    writing = [asyncio.ensure_future(each) for each in (live.recorder.run(), keep(live.follow))]
    for task in writing:
        task.add_done_callback(lambda _task: server.leave())
    serving = asyncio.create_task(server.serve(sockets=[listener]))
    done = asyncio.create_task(_finish(live, serving, writing))
    beside = [asyncio.create_task(watch_lateness(live.meters))]
    try:
        await _until_listening(server, done)
        beside += start_pushes(settings, outlets)
        beside.append(asyncio.create_task(asyncio.to_thread(_make_ready, app.state.public_page)))
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
        if show is not None:
            await show.end()


def _make_ready(public_page: PublicPage) -> None:
    """Make, on a thread, what a start leaves: what the first tap needs first. Who asks before that waits for it."""
    build_models()
    public_page.make()
    import_module("tallywire.shell.made_up")


def show_of(bench: Workbench | None, settings: Settings) -> MadeUpShow | None:
    """Give what plays the file on the bench; none where other devices could not reach it as they reach this server."""
    if bench is None or settings.tls is not None or settings.public_url is not None:
        return None
    return MadeUpShow(bench.path, host=settings.host)


async def _until_listening(server: UvicornServer, done: asyncio.Task[None]) -> None:
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


def raise_file_limit() -> int:
    """Ask for as many file descriptors as this process may have, and give how many that is."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = _DESCRIPTORS_MOST if hard == resource.RLIM_INFINITY else hard
    with suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, wanted), hard))
    return resource.getrlimit(resource.RLIMIT_NOFILE)[0]
