"""Background views: views that take longer than a tap may, kept up to date in the background for those who watch them.

They are asked of the helper, at most five times a second; its answer comes back, is kept, and is marked for the
fan-out. An answer that keeps those who watch waiting leaves the last frame where it is, and the frame says how old it
is.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field

from tallywire.core.cues.desk import AFTER_MS
from tallywire.core.facts import HeatStarted
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.shell.books import Books
from tallywire.shell.clock import Clock, Timer
from tallywire.shell.fan_out import FanOut
from tallywire.shell.helper.port import Answer, Asked, Helper
from tallywire.shell.helper.scopes import Scope
from tallywire.shell.meters import Meters
from tallywire.shell.worked_out import WorkedOut

LEAST_S = 0.2
"""A view is refreshed at most five times a second."""
STEP_S = 1.0
"""A heat that runs is looked at this often at least, because a forecast changes even while no fact comes."""
OLD_S = 3.0
"""A view that is behind what is known for longer says how old it is, anew each second."""
_TOLD_EACH_S = 1.0


@dataclass(slots=True)
class _Line:
    """The view of one heat: what is known of it, and what is still to be done for it."""

    heat: str
    known: WorkedOut
    begun_s: float = float("-inf")
    started: HeatStarted | None = None
    """The start that is being looked at."""
    shown_s: float = 0.0
    """When the look began that made the frame that is shown."""
    unseen_s: float | None = None
    """Since when there is something that no look has seen: while there is, another look is due."""
    unshown_s: float | None = None
    """Since when there was what the look that is being worked out has seen."""
    asked_s: float | None = None
    """Since when the helper owes an answer."""
    busy: bool = False
    asked: bool = False
    timer: Timer | None = None
    due_s: float = 0.0
    waiting: list[asyncio.Future[None]] = field(default_factory=list)

    @property
    def since_s(self) -> float | None:
        """Since when it has lacked something: a view changes with silence too, so an answer that is owed counts."""
        return min((each for each in (self.unseen_s, self.unshown_s, self.asked_s) if each is not None), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """The stages on both sides of the background views: the books they read, the store they fill, and the fan-out."""

    books: Books
    worked: Mapping[str, WorkedOut]
    fan_out: FanOut
    clock: Clock
    helper: Helper
    meters: Meters = field(default_factory=Meters)


class BackgroundViews:
    """One view of all heats."""

    def __init__(self, scope: Scope, stages: Stages) -> None:
        self._scope = scope
        self._stages = stages
        self._clock = stages.clock
        self._lines = self._fresh_lines()
        self._closed = False
        self._tells: Timer | None = None

    def _fresh_lines(self) -> dict[str, _Line]:
        return {name: _Line(name, known) for name, known in self._stages.worked.items()}

    @property
    def view(self) -> str:
        """The name of the view."""
        return self._scope.view

    def watch(self, heat: str) -> None:
        """Say that somebody has begun to watch a heat: a view that is not kept up to date is worked out soon."""
        line = self._lines[heat]
        if line.known.newest(self.view) is None:
            self._ask(line)

    async def full(self, heat: str) -> None:
        """Wait until the view of a heat is there and as new as possible."""
        line = self._lines[heat]
        done: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        line.waiting.append(done)
        self._ask(line)
        await done

    def changed(self, heats: set[str], snapshot: Snapshot) -> None:
        """Say that these heats have facts, or have passed moments, that are not in their views yet."""
        unwatched = not self._scope.listens and not self._stages.fan_out.is_watched(self.view)
        for name in self._scope.concerned(snapshot, heats):
            line = self._lines[name]
            self._soil(line)
            if unwatched and not line.asked and self.view not in line.known.current:
                continue
            self._let_go(line)
            self._arm(line, snapshot.heats[name])

    def behind_s(self) -> float:
        """Say how old the oldest thing is that somebody who watches cannot see yet."""
        return max((self._behind_s(line) for line in self._lines.values() if self._watched(line)), default=0.0)

    def _behind_s(self, line: _Line) -> float:
        since = line.since_s
        return 0.0 if since is None else self._clock.now() - since

    def wake(self, snapshot: Snapshot) -> None:
        """Begin to listen to every heat that runs: after a start."""
        for name, line in self._lines.items():
            self._arm(line, snapshot.heats[name])

    def begin_anew(self, snapshot: Snapshot) -> None:
        """Forget what is being worked out, and begin again with what is known now: a rehearsal has jumped."""
        was, self._lines = self._lines, self._fresh_lines()
        for name, line in self._lines.items():
            self._disarm(was[name])
            line.waiting = was[name].waiting
            line.asked = bool(line.waiting)
            self._soil(line)
            self._arm(line, snapshot.heats[name])

    def close(self) -> None:
        """Stop looking at heats."""
        self._closed = True
        for line in self._lines.values():
            self._disarm(line)
        if self._tells is not None:
            self._tells.cancel()

    def _ask(self, line: _Line) -> None:
        line.asked = True
        self._soil(line)
        self._arm(line, self._stages.books.heat_now(line.heat))

    def _soil(self, line: _Line) -> None:
        if line.unseen_s is None:
            line.unseen_s = self._clock.now()
            self._watch_age()

    def _arm(self, line: _Line, heat: HeatSnapshot) -> None:
        """Plan the next look: soon if somebody watches and something changed, within a second while the heat runs."""
        soon = line.unseen_s is not None and self._wanted(line)
        if self._closed or line.busy or not (soon or self._speaks(heat)):
            return
        due_s = max(line.begun_s + (LEAST_S if soon else STEP_S), self._clock.now())
        if line.timer is not None and line.due_s <= due_s:
            return
        self._disarm(line)
        line.due_s = due_s
        line.timer = self._clock.call_at(due_s, lambda: self._look(line))

    @staticmethod
    def _disarm(line: _Line) -> None:
        if line.timer is not None:
            line.timer.cancel()
            line.timer = None

    def _watched(self, line: _Line) -> bool:
        fan_out = self._stages.fan_out
        return any(fan_out.watched(self.view, name) for name in self._stages.books.names([line.heat]))

    def _wanted(self, line: _Line) -> bool:
        return line.asked or self._watched(line)

    def _speaks(self, heat: HeatSnapshot) -> bool:
        """Whether the cue desk listens to the heat, which runs or ended a moment ago."""
        return self._scope.listens and heat.started is not None and heat.clock_ms < heat.until_ms + AFTER_MS

    def _let_go(self, line: _Line) -> None:
        """Drop an old frame once it is out of date and nobody watches."""
        if self.view in line.known.current and not self._watched(line):
            line.known.let_go(self.view)
            self._mark(line)

    def _mark(self, line: _Line) -> None:
        self._stages.fan_out.mark(self._stages.books.names([line.heat]), views=(self.view,))

    def _look(self, line: _Line) -> None:
        line.timer, line.begun_s, line.busy = None, self._clock.now(), True
        if not self._wanted(line):
            self._let_go(line)
        line.asked_s = line.begun_s
        self._watch_age()
        self._stages.helper.ask(lambda: self._asked(line), lambda answer: self._take(line, answer))

    def _asked(self, line: _Line) -> Asked | None:
        """Ask about the heat as it is when the question's turn has come."""
        if self._closed or self._lines[line.heat] is not line:
            return None
        wanted = self._wanted(line)
        line.begun_s, line.asked = self._clock.now(), False
        if line.unseen_s is not None:
            line.unshown_s = line.unseen_s if line.unshown_s is None else line.unshown_s
            line.unseen_s = None
        line.started = self._stages.books.start_of(line.heat)
        return Asked(what=self.view, heat=line.heat, desk=line.known.desk_of(line.started), wanted=wanted)

    def _take(self, line: _Line, answer: Answer | None) -> None:
        if self._lines[line.heat] is not line:
            # It is about a moment from which the rehearsal has jumped away.
            return
        now = self._clock.now()
        self._stages.meters.background[self.view].add(now - line.begun_s, now=now)
        line.busy, line.unshown_s, line.asked_s = False, None, None
        if answer is not None and self._scope.listens:
            line.known.keep_desk(answer.desk, line.started)
        if answer is not None and answer.frame is not None:
            line.shown_s = line.begun_s
            line.known.keep(self.view, answer.frame)
            self._mark(line)
        if not line.asked:
            self._wake_waiting(line)
        self._arm(line, self._stages.books.heat_now(line.heat))

    @staticmethod
    def _wake_waiting(line: _Line) -> None:
        waiting, line.waiting = line.waiting, []
        for each in waiting:
            if not each.done():
                each.set_result(None)

    def _watch_age(self) -> None:
        if self._tells is None and not self._closed:
            self._tells = self._clock.call_at(self._clock.now() + _TOLD_EACH_S, self._tell_age)

    def _tell_age(self) -> None:
        """Let what is watched and stays behind say how old it is."""
        self._tells = None
        behind = [line for line in self._lines.values() if line.since_s is not None and self._watched(line)]
        for line in behind:
            if self._behind_s(line) > OLD_S and self.view in line.known.current:
                line.known.old_ms[self.view] = round(1000 * (self._clock.now() - line.shown_s))
                self._mark(line)
        if behind:
            self._watch_age()
