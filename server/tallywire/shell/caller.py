"""The caller: keeps the call of every heat up to date, off the way of a tap.

What is quick (looking at the book) happens here and now; what takes longer (forecast, what is needed, cues) happens in
one worker thread, and its answer comes back to be published. Cues are listened for once a second while a heat runs,
whether or not anybody watches, so that a late joiner gets those still alive; the rest only for who watches.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeVar

from tallywire.core.call.steps import (
    Sight,
    listen,
    look_ahead,
    make_call,
    make_quick_call,
    see,
    wants_outlook,
)
from tallywire.core.cues import CueDesk, Wording
from tallywire.core.facts import HeatStarted
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.clock import Clock, Timer

Frame = dict[str, Any]
T = TypeVar("T")

LEAST_S = 0.2
"""A call is refreshed at most five times a second."""
STEP_S = 1.0
"""While a heat runs it is looked at this often at least: forecasts move with silence."""
AFTER_MS = 60_000
"""How long after the end of a heat the desk still speaks: what had to wait for room."""
_log = logging.getLogger(__name__)


class Worker(Protocol):
    """Runs work elsewhere and gives its answer to `done` on the event loop; None when the work failed."""

    def run(self, work: Callable[[], T], done: Callable[[T | None], None]) -> None:
        """Take one piece of work."""
        ...

    def close(self) -> None:
        """Take no more."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The desk after it has listened, and the frame if one was wanted."""

    desk: CueDesk
    frame: Frame | None


class ThreadWorker:
    """One thread for the calls and standings of all heats: two would take a core from the taps."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="call")

    def run(self, work: Callable[[], T], done: Callable[[T | None], None]) -> None:
        """Take one piece of work."""
        asyncio.get_running_loop().run_in_executor(self._pool, work).add_done_callback(
            lambda future: done(_answer_of(future))
        )

    def close(self) -> None:
        """Take no more, and wait for what is being done."""
        self._pool.shutdown(cancel_futures=True)


@dataclass(slots=True)
class _Line:
    """One heat's call."""

    heat: HeatBook
    desk: CueDesk = field(default_factory=CueDesk)
    started: HeatStarted | None = None
    frame: Frame | None = None
    made_s: float = float("-inf")
    begun_s: float = float("-inf")
    busy: bool = False
    dirty: bool = False
    asked: bool = False
    timer: Timer | None = None
    due_s: float = 0.0
    waiting: list[asyncio.Future[None]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class CallerPorts:
    """What the caller asks of its surroundings.

    `snapshot` freezes the competition, `stamp` goes into every frame; `watched` says whether somebody watches a
    heat's call, and `publish` is told that there is a newer one.
    """

    clock: Clock
    worker: Worker
    wording: Wording
    snapshot: Callable[[], Snapshot]
    watched: Callable[[str], bool]
    publish: Callable[[str], None]
    stamp: Frame


class Caller:
    """The calls of all heats."""

    def __init__(self, book: CompetitionBook, ports: CallerPorts) -> None:
        self._book = book
        self._ports = ports
        self._lines = {name: _Line(heat) for name, heat in book.heats.items()}
        self._closed = False

    def frame(self, heat: str) -> Frame:
        """Give the newest call of a heat; if it is not kept up to date, a quick one, and a full one soon after."""
        line = self._lines[heat]
        now = self._ports.clock.now()
        kept = self._ports.watched(heat) and not line.dirty
        if line.frame is None or not (kept or now - line.made_s < STEP_S):
            sight = self._see(line)
            made = make_quick_call(self._book.competition, sight, desk=line.desk, wording=self._ports.wording)
            self._keep(line, made)
            self._ask(line)
        return line.frame or {}

    def exact(self, heat: str) -> bool:
        """Tell whether what is needed overall has an exact answer, by the newest call; True while there is none."""
        overall = (self._lines[heat].frame or {}).get("overall", {})
        return not overall or any("not_worked_out" not in each for each in overall.values())

    async def full(self, heat: str) -> None:
        """Wait until the call of a heat is full and as new as it may be."""
        line = self._lines[heat]
        done: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        line.waiting.append(done)
        self._ask(line)
        await done

    def changed(self, heats: Iterable[str]) -> None:
        """Say that these heats have facts that are not in their calls yet."""
        for name in heats:
            line = self._lines[name]
            line.dirty = True
            self._arm(line)

    def wake(self) -> None:
        """Begin to look at every heat that runs: after a start."""
        for line in self._lines.values():
            self._arm(line)

    def close(self) -> None:
        """Look no more."""
        self._closed = True
        for line in self._lines.values():
            self._disarm(line)
        self._ports.worker.close()

    def _ask(self, line: _Line) -> None:
        line.asked = line.dirty = True
        self._arm(line)

    def _arm(self, line: _Line) -> None:
        """Look again when it is time: soon for who watches a change, within a second while the heat runs."""
        soon = line.dirty and self._wanted(line)
        if self._closed or line.busy or not (soon or self._speaks(line)):
            return
        due_s = max(line.begun_s + (LEAST_S if soon else STEP_S), self._ports.clock.now())
        if line.timer is not None and line.due_s <= due_s:
            return
        self._disarm(line)
        line.due_s = due_s
        line.timer = self._ports.clock.call_at(due_s, lambda: self._look(line))

    def _wanted(self, line: _Line) -> bool:
        return line.asked or self._ports.watched(line.heat.heat.id)

    @staticmethod
    def _disarm(line: _Line) -> None:
        if line.timer is not None:
            line.timer.cancel()
            line.timer = None

    def _speaks(self, line: _Line) -> bool:
        """Whether the heat runs, or has ended a moment ago."""
        heat = line.heat
        return (
            heat.started is not None and self._ports.snapshot().heats[heat.heat.id].clock_ms < heat.until_ms + AFTER_MS
        )

    def _look(self, line: _Line) -> None:
        wanted = self._wanted(line)
        line.timer, line.begun_s = None, self._ports.clock.now()
        line.busy, line.dirty, line.asked = True, False, False
        try:
            sight = self._see(line)
        except Exception:
            # One heat that cannot be called must not take the others' calls with it.
            _log.exception("the call of heat %s could not be begun", line.heat.heat.id)
            self._take(line, None)
            return
        desk = line.desk
        self._ports.worker.run(lambda: self._work_out(sight, desk, wanted=wanted), lambda got: self._take(line, got))

    def _see(self, line: _Line) -> Sight:
        if line.started != line.heat.started:
            line.started, line.desk = line.heat.started, CueDesk()
        snapshot = self._ports.snapshot()
        return see(snapshot, snapshot.heats[line.heat.heat.id])

    def _work_out(self, sight: Sight, desk: CueDesk, *, wanted: bool) -> Answer:
        """Runs in the worker: touches nothing but what it was given."""
        competition = self._book.competition
        outlook = look_ahead(competition, sight) if wanted or wants_outlook(sight) else None
        desk = listen(competition, desk, sight, outlook)
        frame = make_call(competition, sight, outlook, desk=desk, wording=self._ports.wording) if wanted else None
        return Answer(desk=desk, frame=frame)

    def _take(self, line: _Line, answer: Answer | None) -> None:
        line.busy = False
        if answer is not None:
            line.desk = answer.desk
        if answer is not None and answer.frame is not None:
            self._keep(line, answer.frame)
            self._ports.publish(line.heat.heat.id)
        if not line.asked:
            self._wake_waiting(line)
        self._arm(line)

    def _keep(self, line: _Line, frame: Frame) -> None:
        line.frame, line.made_s = frame | self._ports.stamp, self._ports.clock.now()

    @staticmethod
    def _wake_waiting(line: _Line) -> None:
        waiting, line.waiting = line.waiting, []
        for each in waiting:
            if not each.done():
                each.set_result(None)


def _answer_of(future: asyncio.Future[T]) -> T | None:
    if future.cancelled():
        return None
    error = future.exception()
    if error is not None:
        _log.error("a call or standing could not be worked out", exc_info=error)
        return None
    return future.result()
