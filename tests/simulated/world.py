"""A competition in a world of its own: the server's core, its senders and pages, and what goes wrong, from a seed.

Real are session, recorder, books, read model, fan-out and the journal's file with its chain, seal and examination; the
clock, the network, the disk and the devices are simulated. Nothing waits and nothing is left to chance but by the seed.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from shell.journal_damage import folder
from shell.stage import call_all, sample_links
from simulated.checks import LOST, SILENT, WORDING, Checks
from simulated.devices import Around
from simulated.disk import Contents, Disk
from simulated.network import Connection, Device, Network
from simulated.plot import Plot, practice
from simulated.storage import WorldJournal, flipped, put
from simulated.time import WorldClock
from simulated.vfs import Layer
from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.live import LiveCompetition, RunOptions

REST_S = 200.0
"""So long after the last fault everything must be at rest: timers look again after a minute at most."""


class Asleep:
    """A worker that never answers: calls and standings are made beside the taps, which must not wait for them."""

    def run(self, work: Callable[[], Any], done: Callable[[Any], None]) -> None:
        """Take work, for ever."""

    def close(self) -> None:
        """Take no more."""


@dataclass(slots=True)
class Server:
    """A server while it runs."""

    journal: WorldJournal
    live: LiveCompetition
    recording: asyncio.Task[None]
    connections: list[Connection] = field(default_factory=list)

    @property
    def is_settled(self) -> bool:
        """True when nothing moves before the clock does."""
        return self.recording.done() or self.journal.in_flight or not self.live.recorder.is_busy


@dataclass(frozen=True, slots=True)
class Mutant:
    """What is put in the place of the real thing; as it stands, nothing."""

    factory: type[sqlite3.Connection] = sqlite3.Connection
    change: Callable[[Server], None] = lambda _server: None


class World:
    """One world. `run` lets it happen; then `checks.broken` says what did not hold."""

    def __init__(self, seed: int, folder: Path, mutant: Mutant | None = None) -> None:
        self.dice = Random(seed)
        self.clock = WorldClock()
        self.disk = Disk()
        self.layer = Layer(self.disk, dice=Random(seed))
        self.network = Network(self.clock, self.dice)
        self.competition = practice()
        self.checks = Checks(self.competition, self.clock)
        self._mutant = mutant or Mutant()
        self.server: Server | None = None
        self._path = folder / "journal.sqlite"
        self._links = sample_links()

    async def run(self) -> None:
        """Let everything happen, then come to rest."""
        with self.layer.in_use(), Errors(self.checks):
            self.boot()
            around = Around(clock=self.clock, dice=self.dice, connect=self.connect)
            plot = Plot(self, around)
            await self._until(plot.end_s)
            self.network.is_calm = True
            self.layer.fault = lambda _kind, _path: 0
            if self.server is None:
                self.boot()
            await self._until(plot.end_s + REST_S)
            plot.look_at_rest()
            self.kill()

    async def _until(self, end_s: float) -> None:
        while self.clock.next(until=end_s):
            await self._settle()
            self._look()
            if self.checks.broken:
                return

    async def _settle(self) -> None:
        """Let the recorder do what it can without the clock."""
        for _ in range(200):
            await asyncio.sleep(0)
            if self.server is None or self.server.is_settled:
                return
        self.checks.broke(SILENT, "the recorder is busy and waits for nothing")

    def _look(self) -> None:
        server = self.server
        if server is not None:
            self._read_on(server)
            if server.recording.done():
                self.checks.count("died")
                self.power_cut() if self.dice.random() < 0.5 else self.kill()

    def _read_on(self, server: Server) -> None:
        if server.journal.file.last == len(self.checks.lines):
            self.checks.answered = server.journal.answered
            return
        with suppress(sqlite3.Error):
            self.checks.committed(list(server.journal.read(after=len(self.checks.lines))))
        self.checks.answered = server.journal.answered

    def boot(self) -> None:
        """Start the server on what is on the disk."""
        if self.server is not None:
            return
        try:
            journal = self._opened()
            lines = list(journal.read())
            self.checks.restarted(lines)
            options = RunOptions(make_worker=Asleep, wording=WORDING)
            live = LiveCompetition(
                self.competition, journal=journal, clock=self.clock, links=self._links, options=options
            )
            live.replay()
            call_all(live.books)
        except JournalFailed as exc:
            invariant = LOST if isinstance(exc, JournalDamaged) else SILENT
            self.checks.broke(invariant, f"a start on a sound disk was refused: {exc}")
            return
        self.server = Server(journal, live, asyncio.get_running_loop().create_task(live.recorder.run()))
        self.checks.answered = journal.answered
        self._mutant.change(self.server)

    def _opened(self) -> WorldJournal:
        return WorldJournal(self._path, self._mutant.factory, clock=self.clock, dice=self.dice)

    def connect(self, device: Device, keeps_order: bool) -> Connection | None:
        """Let a device in, if there is a server."""
        if self.server is None:
            return None
        connection = Connection(self.server.live, device, self.network, keeps_order=keeps_order)
        connection.heard_by = self._heard
        self.server.connections.append(connection)
        return connection

    def _heard(self, connection: Connection, payload: bytes) -> None:
        if self.server is not None:
            self._read_on(self.server)
        self.checks.said(connection, payload)

    def kill(self) -> None:
        """End the server's process: what it wrote stays as it is."""
        if self.server is not None:
            self.checks.count("killed")
            self._end(self.disk.now())

    def power_cut(self) -> None:
        """End the machine: what was not synced is dropped or torn."""
        if self.server is not None:
            self.checks.count("power cut")
            self._end(self.disk.after_power_cut(self.dice))

    def stop(self) -> None:
        """End the server in order, unless it has something to do."""
        server = self.server
        if server is not None and not server.live.recorder.is_busy:
            self.checks.count("stopped")
            server.journal.close_in_order()
            self._end(self.disk.now())

    def flip(self) -> None:
        """Kill the server, flip a bit, and start: harmless to every line, or the start says so. Then put it right."""
        if self.server is None:
            return
        self.kill()
        whole = self.disk.now()
        changed, which = flipped(whole, self.dice)
        put(changed, self.disk)
        try:
            journal = self._opened()
        except JournalFailed:
            self.checks.count("flip named")
        else:
            self.checks.count("flip harmless")
            before = len(self.checks.broken)
            self.checks.restarted(list(journal.read()))
            self.checks.broken[before:] = [f"{each} ({which} flipped)" for each in self.checks.broken[before:]]
            self.disk.is_on = False
            journal.unplug()
        put(whole, self.disk)

    def _end(self, contents: Contents) -> None:
        server, self.server = self.server, None
        assert server is not None
        self.disk.is_on = False
        if not server.journal.is_gone:
            server.journal.unplug()
        server.live.close()
        server.recording.cancel()
        for connection in server.connections:
            connection.close()
        put(contents, self.disk)


class Errors(logging.Handler):
    """Hears every error that the program logs: what it survives must not happen here at all."""

    def __init__(self, checks: Checks) -> None:
        super().__init__(logging.ERROR)
        self._checks = checks

    def __enter__(self) -> None:
        logging.getLogger("tallywire").addHandler(self)

    def __exit__(self, *_exc: object) -> None:
        logging.getLogger("tallywire").removeHandler(self)

    def emit(self, record: logging.LogRecord) -> None:
        """Note an error."""
        self._checks.broke(SILENT, f"logged: {record.getMessage()} {record.exc_info and record.exc_info[1]!r}")


def played(seed: int, mutant: Mutant | None = None) -> World:
    """Let the world of a seed happen and give it as it ended."""
    with folder() as place:
        world = World(seed, place, mutant)
        asyncio.run(world.run())
    # A server that starts puts what it has out of the collector's sight for good; here thousands start.
    gc.unfreeze()
    return world
