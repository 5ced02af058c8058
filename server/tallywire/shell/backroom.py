"""The back room: keeps the standings of every heat up to date, off the way of a tap.

Reading the book is quick and happens here and now; the standing is worked out in the callers' worker thread, and only
for who watches, at most five times a second.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.standings.change import StandingSight, sight_of
from tallywire.core.views.standings import quick_standings_frame, standings_frame
from tallywire.shell.caller import LEAST_S, Worker
from tallywire.shell.clock import Clock, Timer

Frame = dict[str, Any]
_log = logging.getLogger(__name__)


@dataclass(slots=True)
class _Line:
    """One heat's standings."""

    heat: HeatBook
    frame: Frame | None = None
    begun_s: float = float("-inf")
    busy: bool = False
    dirty: bool = True
    asked: bool = False
    timer: Timer | None = None
    waiting: list[asyncio.Future[None]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackroomPorts:
    """What the back room asks of its surroundings.

    `watched` says whether somebody watches a heat's standings, and `publish` is told that there are newer ones.
    """

    clock: Clock
    worker: Worker
    snapshot: Callable[[], Snapshot]
    watched: Callable[[str], bool]
    publish: Callable[[str], None]
    stamp: Frame


class Backroom:
    """The standings of all heats."""

    def __init__(self, book: CompetitionBook, ports: BackroomPorts) -> None:
        self._book = book
        self._ports = ports
        self._lines = {name: _Line(heat) for name, heat in book.heats.items()}
        events = list(book.competition.events)
        self._turn = {name: events.index(heat.event.id) for name, heat in book.heats.items()}
        self._closed = False

    def frame(self, heat: str) -> Frame:
        """Give the newest standings of a heat; if they are not kept up to date, none yet, and full ones soon after."""
        line = self._lines[heat]
        if line.frame is not None and (not line.dirty or self._ports.watched(heat)):
            return line.frame
        line.asked = True
        self._arm(line)
        return quick_standings_frame(self._book.competition, self._see(line)) | self._ports.stamp

    async def full(self, heat: str) -> None:
        """Wait until the standings of a heat are as new as they may be."""
        line = self._lines[heat]
        done: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        line.waiting.append(done)
        line.asked = True
        self._arm(line)
        await done

    def changed(self, heats: Iterable[str]) -> None:
        """Say that these heats have facts that are not in the standings yet."""
        turns = [self._turn[heat] for heat in heats]
        for name, line in self._lines.items():
            if any(turn <= self._turn[name] for turn in turns):
                line.dirty = True
                self._arm(line)

    def close(self) -> None:
        """Work out no more."""
        self._closed = True
        for line in self._lines.values():
            if line.timer is not None:
                line.timer.cancel()
                line.timer = None

    def _arm(self, line: _Line) -> None:
        wanted = line.asked or (line.dirty and self._ports.watched(line.heat.heat.id))
        if self._closed or line.busy or line.timer is not None or not wanted:
            return
        due_s = max(line.begun_s + LEAST_S, self._ports.clock.now())
        line.timer = self._ports.clock.call_at(due_s, lambda: self._look(line))

    def _look(self, line: _Line) -> None:
        line.timer, line.begun_s = None, self._ports.clock.now()
        line.busy, line.dirty, line.asked = True, False, False
        try:
            sight = self._see(line)
        except Exception:
            # One heat without standings must not take the others' with it.
            _log.exception("the standings of heat %s could not be begun", line.heat.heat.id)
            self._take(line, None)
            return
        competition = self._book.competition
        self._ports.worker.run(lambda: standings_frame(competition, sight), lambda made: self._take(line, made))

    def _see(self, line: _Line) -> StandingSight:
        snapshot = self._ports.snapshot()
        return sight_of(snapshot, snapshot.heats[line.heat.heat.id])

    def _take(self, line: _Line, made: Frame | None) -> None:
        line.busy = False
        if made is not None:
            line.frame = made | self._ports.stamp
            self._ports.publish(line.heat.heat.id)
        waiting, line.waiting = line.waiting, []
        for each in waiting:
            if not each.done():
                each.set_result(None)
        self._arm(line)
