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
from simulated.around_journal import Waits, WorldHolding, WorldMirror, WorldRoom
from simulated.checks import LOST, SILENT, Checks
from simulated.devices import Around
from simulated.disk import Contents, Disk
from simulated.network import Connection, Device, Network
from simulated.plot import Plot, practice
from simulated.storage import WorldJournal, flipped, put
from simulated.time import WorldClock
from simulated.vfs import Layer
from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.helper.worker import Worker
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.storage import Storage

REST_S = 70.0
"""So long after the last fault everything must be at rest: timers look again after a minute at most."""


class Asleep:
    """A worker that never answers: calls and standings are made beside the taps, which must not wait for them."""

    def run(self, work: Callable[[], Any], done: Callable[[Any], None]) -> None:
        """Take work, for ever."""

    def close(self) -> None:
        """Take no more."""


class Drowsy(Asleep):
    """A worker that answers after a while."""

    def __init__(self, clock: WorldClock, dice: Random) -> None:
        self._clock, self._dice, self._is_closed = clock, dice, False

    def run(self, work: Callable[[], Any], done: Callable[[Any], None]) -> None:
        """Work, and answer later; not after the end."""
        got = work()
        self._clock.after(self._dice.choice((0.0, 0.03, 0.5)), lambda: None if self._is_closed else done(got))

    def close(self) -> None:
        """Answer no more."""
        self._is_closed = True


@dataclass(slots=True)
class Server:
    """A server while it runs."""

    journal: WorldHolding
    mirror: WorldMirror | None
    live: LiveCompetition
    recording: asyncio.Task[None]
    connections: list[Connection] = field(default_factory=list)

    @property
    def file(self) -> WorldJournal:
        """The journal's file that is open, or was last."""
        return self.journal.inner


@dataclass(frozen=True, slots=True)
class Mutant:
    """What is put in the place of the real thing; as it stands, nothing."""

    factory: type[sqlite3.Connection] = sqlite3.Connection
    change: Callable[[Server], None] = lambda _server: None
    works_out: bool = False
    """Whether its worlds have a worker, which most have not because it takes long."""


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
        self.waits = Waits(self.clock)
        self.disk_fault = ""
        self.has_mirror = self.dice.random() < 0.15
        self.is_worked_out = self.dice.random() < 0.01 or self._mutant.works_out
        if self.has_mirror:
            (folder / "mirror").mkdir()

    async def run(self) -> None:
        """Let everything happen, then come to rest."""
        with self.layer.in_use(), self.waits.in_use(), Errors(self.checks):
            self.boot()
            around = Around(clock=self.clock, dice=self.dice, connect=self.connect)
            plot = Plot(self, around)
            await self._until(plot.end_s)
            self.network.is_calm = True
            self.mend_disk()
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
            if self._is_settled:
                return
        self.checks.broke(SILENT, "the recorder is busy and waits for nothing")

    @property
    def _is_settled(self) -> bool:
        """True when nothing moves before the clock does."""
        server = self.server
        if server is None or server.recording.done() or not server.live.recorder.is_busy:
            return True
        return server.file.in_flight or self.waits.count > 0

    def _look(self) -> None:
        server = self.server
        if server is not None:
            self._read_on(server)
            self._look_at_copy(server)
            if server.recording.done():
                self.checks.count("died")
                self.power_cut() if self.dice.random() < 0.5 else self.kill()

    def _look_at_copy(self, server: Server) -> None:
        if server.mirror is not None and server.mirror.says is not None:
            self.checks.broke(LOST, f"the mirror says: {server.mirror.says}")
        if server.live.storage.now.state != "ok":
            self.checks.count(server.live.storage.now.state)

    def _read_on(self, server: Server) -> None:
        if server.file.file.last == len(self.checks.lines):
            self.checks.answered = server.journal.answered
            return
        with suppress(sqlite3.Error):
            self.checks.committed(list(server.file.read(after=len(self.checks.lines))))
        self.checks.answered = server.journal.answered

    def boot(self) -> None:
        """Start the server on what is on the disk."""
        if self.server is not None:
            return
        try:
            storage = Storage()
            room = WorldRoom(lambda: self.disk_fault == "full", self.dice)
            journal = WorldHolding(self._path, self._opened, storage=storage, room=room)
            copy = self._copied(journal)
            self.checks.restarted(list(journal.read()))
            options = RunOptions(make_worker=self._worker, storage=storage)
            live = LiveCompetition(
                self.competition, journal=copy or journal, clock=self.clock, links=self._links, options=options
            )
            live.replay()
            call_all(live.books)
        except JournalFailed as exc:
            if self.disk_fault and not isinstance(exc, JournalDamaged):
                self.checks.count("start refused")
                self.clock.after(1.0, self.boot)
                return
            invariant = LOST if isinstance(exc, JournalDamaged) else SILENT
            self.checks.broke(invariant, f"a start on a sound disk was refused: {exc}")
            return
        self.server = Server(journal, copy, live, asyncio.get_running_loop().create_task(live.recorder.run()))
        self.checks.answered = journal.answered
        self._mutant.change(self.server)

    def _copied(self, journal: WorldHolding) -> WorldMirror | None:
        if not self.has_mirror:
            return None
        try:
            return WorldMirror(
                journal, self._path.parent / "mirror" / self._path.name, clock=self.clock, dice=self.dice
            )
        except BaseException:
            journal.inner.unplug()
            raise

    def _worker(self) -> Worker:
        return Drowsy(self.clock, self.dice) if self.is_worked_out else Asleep()

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

    def mend_disk(self) -> None:
        """Have the disk take everything again."""
        self.layer.fault, self.disk_fault = lambda _kind, _path: 0, ""

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
            server.file.close_in_order()
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
        if not server.file.is_gone:
            server.file.unplug()
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
