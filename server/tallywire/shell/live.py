"""The server's one place for facts: durable in the journal, then acknowledged, then shown."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from tallywire.core.cues import Wording
from tallywire.core.errors import JournalFailed
from tallywire.core.facts import Fact
from tallywire.core.fold.floor import FLOOR
from tallywire.core.model.competition import Competition
from tallywire.shell.backroom import Backroom, BackroomPorts
from tallywire.shell.caller import Caller, CallerPorts, ThreadWorker, Worker
from tallywire.shell.clock import Clock, Timer
from tallywire.shell.collection import uncollected
from tallywire.shell.fan_out import FanOut
from tallywire.shell.journal.port import Journal, Line
from tallywire.shell.keys import Keys
from tallywire.shell.read_model import CALL, FOR_SENDERS, STANDINGS, VIEW_NAMES, ReadModel
from tallywire.shell.recorder import Job, Recorder
from tallywire.wire.cue_wording import default_wording
from tallywire.wire.senders import Entry, Senders
from tallywire.wire.session import Terms
from tallywire.wire.trusted_lines import trusted_fact

_LOOK_AGAIN_S = 60.0
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOptions:
    """How the competition is run: live or in rehearsal, how fast the heat clock goes, how many watches there may be.

    `make_worker` makes what works calls and standings out; `wording` is what their cues say.
    """

    mode: str = "live"
    speed: float = 1
    watch_limit: int = 20_000
    make_worker: Callable[[], Worker] = ThreadWorker
    wording: Wording = field(default_factory=default_wording)


class LiveCompetition:
    """The competition as it runs: the facts' senders, the books, the views. Must be made inside an event loop."""

    def __init__(
        self, competition: Competition, *, journal: Journal, clock: Clock, keys: Keys, options: RunOptions
    ) -> None:
        self.competition = competition
        self.journal = journal
        self.clock = clock
        self.keys = keys
        self.lines = 0
        self.clients = 0
        self.senders = Senders()
        self.read_model = ReadModel(competition, clock=clock, mode=options.mode, speed=options.speed)
        self.fan_out = FanOut(
            clock=clock,
            frame_of=self._frame,
            make_epoch=partial(secrets.token_hex, 6),
            watch_limit=options.watch_limit,
        )
        worker = options.make_worker()
        self.caller = Caller(self.read_model.book, self._caller_ports(worker, options.wording))
        self.read_model.exact = self.caller.exact
        self.backroom = Backroom(self.read_model.book, self._backroom_ports(worker))
        self.recorder = Recorder(journal, clock=clock, durable=self._durable)
        self.terms = Terms(
            competition=competition,
            senders=self.senders,
            views=VIEW_NAMES,
            for_senders=FOR_SENDERS,
            mode=options.mode,
            speed=options.speed,
            authorise=keys.opens,
            lacking=self.read_model.lacking,
        )
        self._timers: dict[str, Timer] = {}

    def replay(self) -> None:
        """Take what the journal holds through the same door as live facts. Blocks.

        Raises JournalFailed when the journal is of another mode or competition, or a fact is of a heat that is gone.
        """
        self.journal.set_note("mode", self.read_model.mode)
        self.journal.set_note("competition", self.competition.name)
        with uncollected():
            for line in self.journal.read():
                self._restore(_entry_of(line))
        self._arm(self.competition.heats)
        self.caller.wake()

    def _restore(self, entry: Entry) -> None:
        if entry.fact is not None and entry.fact.heat not in self.competition.heats:
            raise JournalFailed(
                f'found facts of heat "{entry.fact.heat}" in the journal, expected heats of the competition file: '
                "use the file it was started with"
            )
        self.senders.restore(entry)
        self._take(entry)

    def _durable(self, jobs: Sequence[Job]) -> None:
        changed: set[str] = set()
        floor = self.read_model.floor
        for job in jobs:
            for entry in job.entries:
                self.senders.settle(entry.sender, entry.sequence)
                changed |= self._take(entry)
        for job in jobs:
            self._finish(job)
        self._arm(changed - {FLOOR})
        self._work_out(changed - {FLOOR})
        self.fan_out.mark(changed | self.read_model.shown_in(changed - {FLOOR}))
        if floor != self.read_model.floor:
            self.fan_out.mark(self.competition.heats, view="table")

    def _take(self, entry: Entry) -> set[str]:
        self.lines += 1
        if entry.fact is None:
            return set()
        try:
            return self.read_model.add(entry.fact)
        except Exception:
            # It is on disk; one fact that cannot be counted must not stop the rest, now or at the next start.
            _log.exception("fact %s was not counted", entry.fact.id)
            return set()

    @staticmethod
    def _finish(job: Job) -> None:
        try:
            job.done()
        except Exception:
            # One client's answer must not cost the others theirs: the facts are on disk.
            _log.exception("an answer was not sent")

    def _arm(self, heats: Iterable[str]) -> None:
        """Wait for the next moment at which each heat changes without a fact."""
        for heat in heats:
            timer = self._timers.pop(heat, None)
            if timer is not None:
                timer.cancel()
            moment_ms = self.read_model.heat_now(heat).next_moment
            if moment_ms is not None:
                left_ms = self.read_model.wall_ms_until(heat, moment_ms)
                # Not further ahead than a minute: the wall clock may be set meanwhile, and deadlines do not follow it.
                wait_s = min(max(left_ms / 1000, 0) + 0.001, _LOOK_AGAIN_S)
                again = partial(self._look, heat, moment_ms)
                self._timers[heat] = self.clock.call_at(self.clock.now() + wait_s, again)

    def _look(self, heat: str, moment_ms: int) -> None:
        """Lanes turn capped, a window closes, a mark in time is reached: without a fact."""
        self._arm({heat})
        if self.read_model.heat_now(heat).clock_ms >= moment_ms:
            self._work_out({heat})
            self.fan_out.mark(self.read_model.shown_in({heat}))

    def _work_out(self, heats: set[str]) -> None:
        """Calls look across the event only when one of its heats is over or was corrected after its end."""
        over = {heat for heat in heats if self.read_model.heat_now(heat).over}
        self.caller.changed(heats | (self.read_model.shown_in(over) - {FLOOR}))
        self.backroom.changed(heats)

    def close(self) -> None:
        """Call off what is still to come."""
        self.backroom.close()
        self.caller.close()
        for timer in self._timers.values():
            timer.cancel()

    def _caller_ports(self, worker: Worker, wording: Wording) -> CallerPorts:
        return CallerPorts(
            clock=self.clock,
            worker=worker,
            wording=wording,
            snapshot=self.read_model.snapshot,
            watched=partial(self._watched, CALL),
            publish=lambda heat: self.fan_out.mark(self._names(heat), view=CALL),
            stamp=self.read_model.stamp,
        )

    def _backroom_ports(self, worker: Worker) -> BackroomPorts:
        return BackroomPorts(
            clock=self.clock,
            worker=worker,
            snapshot=self.read_model.snapshot,
            watched=partial(self._watched, STANDINGS),
            publish=lambda heat: self.fan_out.mark(self._names(heat), view=STANDINGS),
            stamp=self.read_model.stamp,
        )

    def _watched(self, view: str, heat: str) -> bool:
        return any(self.fan_out.watched(view, each) for each in self._names(heat))

    def _frame(self, view: str, heat: str) -> dict[str, Any]:
        if view == CALL:
            return self.caller.frame(self.read_model.floor if heat == FLOOR else heat)
        if view == STANDINGS:
            return self.backroom.frame(self.read_model.floor if heat == FLOOR else heat)
        return self.read_model.frame(view, heat)

    def _names(self, heat: str) -> set[str]:
        """What a heat is watched as."""
        return {heat, FLOOR} if heat == self.read_model.floor else {heat}

    async def prepared(self, view: str, heat: str) -> None:
        """Wait until the frame of a view that takes a while is there."""
        named = self.read_model.floor if heat == FLOOR else heat
        if view == CALL:
            await self.caller.full(named)
        elif view == STANDINGS:
            await self.backroom.full(named)


def _entry_of(line: Line) -> Entry:
    fact: Fact | None = None
    if line.refusal is None:
        fact = trusted_fact(line.body)
    return Entry(sender=line.sender, sequence=line.sequence, body=line.body, fact=fact, refusal=line.refusal)
